//! `baysoak list`.

use std::process::ExitCode;

use anstyle::Style;
use clap::{Args, ValueEnum};

use baysoak::materials::{Family, Ranged, Side, Treatment};
use baysoak::quantity::celsius;
use baysoak::report::{Align, grid};
use baysoak::sheet::raw::PartKind;
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
    /// Treatments of hot parts, with what they are made of, price and sources
    Treatments,
    /// Measures: other things to do, with the keys that they set
    Measures,
    /// Limits: temperatures that things bear, and of touch
    Limits,
}

impl List {
    /// Prints the list.
    pub fn carry_out(self) -> Result<ExitCode, Failure> {
        let quiet = Style::new().dimmed();
        let mut text = String::new();
        for (n, (rows, columns)) in self.what.tables()?.iter().enumerate() {
            if n > 0 {
                text.push('\n');
            }
            for (i, line) in grid(rows, columns, WIDTH).iter().enumerate() {
                if i == 0 {
                    text.push_str(&format!("{quiet}{line}{quiet:#}\n"));
                } else {
                    text.push_str(&format!("{line}\n"));
                }
            }
        }
        say(&text)?;
        Ok(ExitCode::SUCCESS)
    }
}

impl What {
    fn tables(self) -> Result<Vec<Rows>, Failure> {
        Ok(match self {
            Self::Metals => vec![metals()?],
            Self::Cycles => vec![cycles()?],
            Self::Builds => vec![builds()],
            Self::Days => vec![days()?],
            Self::Treatments => vec![treatments(), layer_materials(), hazards()],
            Self::Measures => vec![measures()],
            Self::Limits => vec![limits()],
        })
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

/// `low to high`, or one number where they agree.
fn span(low: f64, high: f64) -> String {
    if (high - low).abs() < 1e-9 {
        low.to_string()
    } else {
        format!("{low} to {high}")
    }
}

fn span_of(range: Option<&Ranged>) -> String {
    range.map_or("-".to_owned(), |r| span(r.low, r.high))
}

/// Kinds of parts that a treatment is for.
fn suits(t: &Treatment) -> String {
    let missing: Vec<&str> = PartKind::ALL
        .iter()
        .map(|k| k.word())
        .filter(|k| t.suits.iter().all(|s| s != k))
        .collect();
    match missing.as_slice() {
        [] => "all parts".to_owned(),
        few if few.len() <= 2 => format!("all but {}", few.join(", ")),
        _ => t.suits.join(", "),
    }
}

fn treatments() -> Rows {
    let head = [
        "treatment",
        "for",
        "made of",
        "to degC",
        "limit from",
        "EUR/m2",
    ];
    let mut rows = heading(&head);
    for t in materials::treatments() {
        let layers = t.layer.iter().map(|l| {
            let turns = match l.turns {
                1 => String::new(),
                n => format!("{n} x "),
            };
            let gap = l.gap_mm.as_ref();
            let gap = gap.map_or(String::new(), |g| {
                format!("{} mm gap, ", span(g.low, g.high))
            });
            let side = match l.side {
                Side::Inside => " inside",
                Side::Outside => "",
            };
            format!("{gap}{turns}{}{side}", l.material)
        });
        let face = t.emissivity.as_ref();
        let face = face.map(|e| format!("emissivity {}", span(e.low, e.high)));
        let made_of: Vec<String> = layers.chain(face).collect();
        let limit = t.max_service_c.as_ref();
        rows.push(vec![
            t.id.clone(),
            suits(t),
            made_of.join("; "),
            limit.map_or("-".to_owned(), |r| r.likely.to_string()),
            limit.map_or("-".to_owned(), |r| r.source.clone()),
            span_of(t.price_eur_m2.as_ref()),
        ]);
    }
    let columns = vec![
        Align::Name,
        Align::Left,
        Align::Left,
        Align::Right,
        Align::Left,
        Align::Name,
    ];
    (rows, columns)
}

fn layer_materials() -> Rows {
    let head = [
        "layer",
        "mm",
        "W/m/K at 300 K",
        "from",
        "emissivity",
        "from",
    ];
    let mut rows = heading(&head);
    for m in materials::layer_materials() {
        rows.push(vec![
            m.id.clone(),
            span_of(Some(&m.thickness_mm)),
            span_of(Some(&m.conductivity_w_mk)),
            m.conductivity_w_mk.source.clone(),
            span_of(Some(&m.emissivity)),
            m.emissivity.source.clone(),
        ]);
    }
    let columns = vec![
        Align::Name,
        Align::Name,
        Align::Name,
        Align::Left,
        Align::Name,
        Align::Left,
    ];
    (rows, columns)
}

fn hazards() -> Rows {
    let mut rows = heading(&["family", "beware"]);
    for family in Family::ALL {
        for hazard in family.hazards() {
            rows.push(vec![family.name().to_owned(), hazard.clone()]);
        }
    }
    for t in materials::treatments() {
        for hazard in &t.hazards {
            rows.push(vec![t.id.clone(), hazard.clone()]);
        }
    }
    (rows, vec![Align::Name, Align::Left])
}

fn measures() -> Rows {
    let mut rows = heading(&["measure", "what", "EUR", "changes", "beware", "from"]);
    for m in sheet::measures() {
        let mut places: Vec<&str> = m
            .set
            .keys()
            .filter_map(|key| key.rsplit_once('.').map(|(place, _)| place))
            .collect();
        places.dedup();
        rows.push(vec![
            m.id.clone(),
            m.name.clone(),
            span(m.price_eur.low, m.price_eur.high),
            places.join(", "),
            m.hazards.join(" "),
            m.source.clone(),
        ]);
    }
    let mut columns = vec![Align::Name];
    columns.extend([Align::Left; 5]);
    (rows, columns)
}

fn limits() -> Rows {
    let mut rows = heading(&["limit", "of", "what", "degC", "low to high", "from"]);
    for l in materials::limits() {
        let c = &l.limit_c;
        rows.push(vec![
            l.id.clone(),
            l.group.clone(),
            l.what.clone(),
            format!("{:.0}", c.likely),
            span(c.low.round(), c.high.round()),
            c.source.clone(),
        ]);
    }
    let columns = vec![
        Align::Name,
        Align::Name,
        Align::Left,
        Align::Right,
        Align::Left,
        Align::Left,
    ];
    (rows, columns)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_list_has_a_cell_for_each_column() {
        for what in What::value_variants() {
            for (rows, columns) in what.tables().unwrap() {
                assert!(rows.len() > 1, "{what:?}");
                assert!(rows.iter().all(|r| r.len() == columns.len()), "{what:?}");
            }
        }
    }
}
