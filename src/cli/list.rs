//! `baysoak list`.

use std::process::ExitCode;

use anstyle::Style;
use clap::{Args, ValueEnum};

use baysoak::quantity::celsius;
use baysoak::report::{Align, grid};
use baysoak::sheet::{self, DaySheet};
use baysoak::{cycle, materials};

use super::output::{Failure, say};

/// Width of what is printed.
const WIDTH: usize = 100;

/// Arguments of `list`.
#[derive(Debug, Args)]
#[command(after_help = "Example: baysoak list metals")]
pub struct List {
    /// What to list
    #[arg(value_enum, value_name = "WHAT")]
    what: What,
}

/// What can be listed.
#[derive(Debug, Clone, Copy, ValueEnum)]
enum What {
    /// Metals, with their properties and sources
    Metals,
    /// Drive cycles
    Cycles,
    /// Builds to start from
    Builds,
    /// Days (weather)
    Days,
}

impl List {
    /// Prints the list.
    pub fn carry_out(self) -> Result<ExitCode, Failure> {
        let (rows, columns) = self.what.rows()?;
        let quiet = Style::new().dimmed();
        let mut text = String::new();
        for (i, line) in grid(&rows, &columns, WIDTH).iter().enumerate() {
            if i == 0 {
                text.push_str(&format!("{quiet}{line}{quiet:#}\n"));
            } else {
                text.push_str(&format!("{line}\n"));
            }
        }
        say(&text)?;
        Ok(ExitCode::SUCCESS)
    }
}

impl What {
    fn rows(self) -> Result<Rows, Failure> {
        match self {
            Self::Metals => metals(),
            Self::Cycles => cycles(),
            Self::Builds => Ok(builds()),
            Self::Days => days(),
        }
    }
}

type Rows = (Vec<Vec<String>>, Vec<Align>);

fn heading(cells: &[&str]) -> Vec<Vec<String>> {
    vec![cells.iter().map(|c| (*c).to_owned()).collect()]
}

/// Temperature at which the properties of metals are listed, K.
const LISTED_AT_K: f64 = 300.0;

fn metals() -> Result<Rows, Failure> {
    let head = [
        "id",
        "name",
        "kg/m3",
        "W/m/K",
        "J/kg/K",
        "to degC",
        "limit from",
    ];
    let mut rows = heading(&head);
    for m in materials::metals() {
        rows.push(vec![
            m.id.clone(),
            m.name.clone(),
            format!("{:.0}", m.density_kg_m3.value),
            format!("{:.1}", m.conductivity(LISTED_AT_K)),
            format!("{:.0}", m.specific_heat(LISTED_AT_K)),
            format!("{:.0}", celsius(m.max_service_k.value)),
            m.max_service_k.source.clone(),
        ]);
    }
    let mut columns = vec![Align::Name, Align::Left];
    columns.extend([Align::Right; 4]);
    columns.push(Align::Left);
    Ok((rows, columns))
}

fn cycles() -> Result<Rows, Failure> {
    let mut rows = heading(&["name", "min", "title", "source"]);
    for c in cycle::builtins().map_err(|e| Failure::input(e.to_string()))? {
        let minutes = format!("{:.1}", c.duration_s / 60.0);
        rows.push(vec![c.name.to_owned(), minutes, c.title, c.source]);
    }
    let columns = vec![Align::Name, Align::Right, Align::Left, Align::Left];
    Ok((rows, columns))
}

fn builds() -> Rows {
    let mut rows = heading(&["name", "what it is"]);
    for b in sheet::builtins() {
        rows.push(vec![b.name.to_owned(), b.about.to_owned()]);
    }
    (rows, vec![Align::Name, Align::Left])
}

fn days() -> Result<Rows, Failure> {
    let mut rows = heading(&["name", "degC", "humidity %", "kPa", "sun W/m2", "wind m/s"]);
    for name in sheet::days() {
        let d = DaySheet::builtin(name).map_err(|e| Failure::input(e.to_string()))?;
        let mut row = vec![name.to_owned()];
        let values = [
            d.ambient_c,
            d.humidity_percent,
            d.pressure_kpa,
            d.sun_w_m2,
            d.wind_m_s,
        ];
        row.extend(values.map(|v| v.map_or("-".into(), |v| v.likely.to_string())));
        rows.push(row);
    }
    let mut columns = vec![Align::Name];
    columns.extend([Align::Right; 5]);
    Ok((rows, columns))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_list_has_a_cell_for_each_column() {
        for what in What::value_variants() {
            let (rows, columns) = what.rows().unwrap();
            assert!(rows.len() > 1, "{what:?}");
            assert!(rows.iter().all(|r| r.len() == columns.len()), "{what:?}");
        }
    }
}
