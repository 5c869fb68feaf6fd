//! `baysoak list`.

use std::process::ExitCode;

use anstyle::Style;
use clap::{Args, ValueEnum};

use baysoak::materials::{Ranged, Side, Treatment, layer_material};
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
            Self::Treatments => Ok(treatments()),
            Self::Measures => Ok(measures()),
            Self::Limits => Ok(limits()),
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

/// Sources behind a treatment, each once.
fn sources(t: &Treatment) -> String {
    let of_layers = t.layer.iter().filter_map(|l| layer_material(&l.material));
    let of_layers = of_layers.flat_map(|m| [&m.conductivity_w_mk, &m.emissivity]);
    let own = [&t.emissivity, &t.max_service_c].into_iter().flatten();
    let mut all: Vec<&str> = Vec::new();
    for r in of_layers.chain(own) {
        if !all.contains(&r.source.as_str()) {
            all.push(&r.source);
        }
    }
    all.join("; ")
}

fn treatments() -> Rows {
    let head = [
        "id",
        "for",
        "layers: mm, W/m/K at 300 K",
        "emissivity",
        "to degC",
        "EUR/m2",
        "from",
    ];
    let mut rows = heading(&head);
    for t in materials::treatments() {
        let layers = t.layer.iter().map(|l| {
            let material = layer_material(&l.material);
            let thickness = l
                .thickness_mm
                .as_ref()
                .or(material.map(|m| &m.thickness_mm));
            let turns = if l.turns > 1 {
                format!("{} x ", l.turns)
            } else {
                String::new()
            };
            let gap = l.gap_mm.as_ref();
            let gap = gap.map_or(String::new(), |g| {
                format!("gap {} mm, ", span(g.low, g.high))
            });
            let side = match l.side {
                Side::Inside => "inside ",
                Side::Outside => "",
            };
            format!(
                "{gap}{side}{}: {turns}{}, {}",
                l.material,
                span_of(thickness),
                span_of(material.map(|m| &m.conductivity_w_mk))
            )
        });
        let last = t.layer.iter().rfind(|l| l.side == Side::Outside);
        let last = last.and_then(|l| layer_material(&l.material));
        let face = t.emissivity.as_ref().or(last.map(|m| &m.emissivity));
        let limit = t.max_service_c.as_ref();
        rows.push(vec![
            t.id.clone(),
            t.suits.join(" "),
            layers.collect::<Vec<_>>().join("; "),
            span_of(face),
            limit.map_or("-".to_owned(), |r| r.likely.to_string()),
            span_of(t.price_eur_m2.as_ref()),
            sources(t),
        ]);
    }
    let columns = vec![
        Align::Name,
        Align::Left,
        Align::Left,
        Align::Left,
        Align::Right,
        Align::Left,
        Align::Left,
    ];
    (rows, columns)
}

fn measures() -> Rows {
    let mut rows = heading(&["id", "what", "EUR", "sets", "beware", "from"]);
    for m in sheet::measures() {
        let keys: Vec<&str> = m.set.keys().map(String::as_str).collect();
        rows.push(vec![
            m.id.clone(),
            m.name.clone(),
            span(m.price_eur.low, m.price_eur.high),
            keys.join(", "),
            m.hazards.join(" "),
            m.source.clone(),
        ]);
    }
    let mut columns = vec![Align::Name];
    columns.extend([Align::Left; 5]);
    (rows, columns)
}

fn limits() -> Rows {
    let mut rows = heading(&["id", "of", "what", "degC", "low to high", "from"]);
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
            let (rows, columns) = what.rows().unwrap();
            assert!(rows.len() > 1, "{what:?}");
            assert!(rows.iter().all(|r| r.len() == columns.len()), "{what:?}");
        }
    }
}
