//! Columns of a logger's file: what each is, in which unit, and what in it can't be.

use std::collections::BTreeSet;

use super::error::Problem;
use super::log_drive::{ColumnRead, ImportReport, LogOptions};
use super::log_roles::{Role, Scale};
use super::log_table::{Cell, RawTable};

/// One column on its way in.
pub(super) struct Taken {
    pub(super) role: Role,
    pub(super) header: String,
    pub(super) values: Vec<Option<f64>>,
}

/// Columns that are read, each to SI, and how that was found.
pub(super) fn take_columns(
    table: &RawTable,
    options: &LogOptions,
    report: &mut ImportReport,
) -> Result<Vec<Taken>, Vec<Problem>> {
    let mut problems = Vec::new();
    let mut assigned: Vec<Option<(Role, Option<&'static str>, &'static str)>> =
        vec![None; table.headers.len()];
    let mut roles = BTreeSet::new();
    for (key, header) in &options.columns {
        let Some((role, unit)) = Role::from_key(key) else {
            let hint = "time, speed, rpm, load, map, flow, coolant, ambient, barometer, sensor, oil, engine_on, sensor_valid, skin.NAME, bay.NAME or exhaust_gas.NAME, with a unit such as _f, _mph, _psi, _kg_h";
            problems.push(Problem::new(
                format!("log.columns.{key}"),
                key,
                "no such channel",
                hint,
            ));
            continue;
        };
        match table.headers.iter().position(|h| h == header) {
            Some(i) => {
                roles.insert(role.clone());
                assigned[i] = Some((role, unit, "the sheet says so"));
            }
            None => {
                let near = table.headers.iter().max_by(|a, b| {
                    strsim::jaro_winkler(a, header).total_cmp(&strsim::jaro_winkler(b, header))
                });
                let hint = near.map_or_else(String::new, |n| format!("is \"{n}\" meant?"));
                problems.push(Problem::new(
                    format!("log.columns.{key}"),
                    format!("\"{header}\""),
                    "no such column",
                    hint,
                ));
            }
        }
    }
    for (i, header) in table.headers.iter().enumerate() {
        if assigned[i].is_some() {
            continue;
        }
        match Role::guess(header) {
            Some(role) if roles.insert(role.clone()) => {
                assigned[i] = Some((role, None, "from its name"));
            }
            Some(role) => {
                let note = format!(
                    "\"{header}\" also reads as {}; the first one is used",
                    role.label()
                );
                report.notes.push(note);
                report.ignored.push(header.clone());
            }
            None => report.ignored.push(header.clone()),
        }
    }
    let mut taken = Vec::new();
    for (i, found) in assigned.into_iter().enumerate() {
        let Some((role, unit, how)) = found else {
            continue;
        };
        let header = &table.headers[i];
        let numbers: Vec<f64> = table
            .rows
            .iter()
            .filter_map(|(_, cells)| match cells.get(i) {
                Some(Cell::Number(v)) => Some(*v),
                _ => None,
            })
            .collect();
        if numbers.is_empty() {
            report.notes.push(format!("\"{header}\" has no numbers"));
            continue;
        }
        let beside = table.units.get(i).map(String::as_str).unwrap_or_default();
        let (scale, unit_how) = match scale_for(&role, header, unit, beside, numbers) {
            Some(found) => found,
            None => {
                let hint =
                    format!("say it in the sheet: [log.columns] with a unit, for \"{header}\"");
                problems.push(Problem::new(
                    format!("column \"{header}\""),
                    "no unit",
                    "its numbers fit no usual one",
                    hint,
                ));
                continue;
            }
        };
        report.columns.push(ColumnRead {
            header: header.clone(),
            role: role.label(),
            unit: scale.word.to_owned(),
            how: format!("{how}; unit {unit_how}"),
        });
        let column = table.rows.iter().map(|(_, cells)| cells[i]);
        taken.push(clean(role, header, column, scale, report));
    }
    for needed in [Role::Time, Role::Speed] {
        if !taken.iter().any(|t| t.role == needed) && problems.is_empty() {
            let hint = format!(
                "name it in the sheet: [log.columns] {} = \"...\"; the file has {}",
                if needed == Role::Time {
                    "time"
                } else {
                    "speed"
                },
                table.headers.join(", ")
            );
            problems.push(Problem::new(
                format!("column for {}", needed.label()),
                "missing",
                "needed",
                hint,
            ));
        }
    }
    if problems.is_empty() {
        Ok(taken)
    } else {
        Err(problems)
    }
}

fn scale_for(
    role: &Role,
    header: &str,
    unit: Option<&str>,
    beside: &str,
    mut numbers: Vec<f64>,
) -> Option<(Scale, &'static str)> {
    if let Some(scale) = unit.and_then(|u| role.scale(u)) {
        return Some((scale, "from the sheet"));
    }
    if let Some(scale) = role.unit_in(beside).or_else(|| role.unit_in(header)) {
        return Some((scale, "from its name"));
    }
    numbers.sort_by(f64::total_cmp);
    let last = numbers.len() - 1;
    let quantile = |q: f64| numbers[((q * last as f64) as usize).min(last)];
    let scale = role.unit_by_size(&quantile)?;
    let how = if role.size_settles() {
        "from the size of its numbers"
    } else {
        "guessed; say it in [log.columns] if it is another"
    };
    Some((scale, how))
}

/// To SI; impossible values and words out.
fn clean(
    role: Role,
    header: &str,
    cells: impl Iterator<Item = Cell>,
    scale: Scale,
    report: &mut ImportReport,
) -> Taken {
    let (low, high) = role.plausible();
    let (mut words, mut outside) = (0_usize, 0_usize);
    let values = cells
        .map(|cell| match cell {
            Cell::Number(v) => {
                let si = scale.si(v);
                if (low..=high).contains(&si) {
                    Some(si)
                } else {
                    outside += 1;
                    None
                }
            }
            Cell::Empty => None,
            Cell::Word => {
                words += 1;
                None
            }
        })
        .collect();
    if words > 0 {
        report.notes.push(format!(
            "\"{header}\": {words} cells that aren't numbers dropped"
        ));
    }
    if outside > 0 {
        report
            .notes
            .push(format!("\"{header}\": {outside} impossible values dropped"));
    }
    Taken {
        role,
        header: header.to_owned(),
        values,
    }
}
