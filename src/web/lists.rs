//! What there is to choose from, and what a sheet holds, for the page's controls.

use serde::Serialize;

use super::asked::{Asked, Refusal};
use super::router::Opened;
use crate::cycle;
use crate::materials;
use crate::report::html::temperature_scale;
use crate::report::terminal::CARE;
use crate::sheet::raw::Age;
use crate::sheet::{self, DaySheet};
use crate::study::compare::SIGN_KNOWN_PERCENT;
use crate::study::draws::LEAST_DRAWS;
use crate::study::hot_day::Grid;
use crate::study::hot_day::question::USUAL_SWING_K;

/// Draws of the bands when they have settled.
const FULL_DRAWS: usize = 50;

/// Everything that doesn't depend on the sheet.
#[derive(Serialize)]
pub(super) struct Lists<'a> {
    program: String,
    opened: &'a Opened,
    builds: Vec<Build>,
    cycles: Vec<Named>,
    days: Vec<Day>,
    treatments: Vec<Treatment>,
    measures: Vec<Treatment>,
    /// Temperature in degC, fill and ink.
    scale: Vec<(f64, String, &'static str)>,
    hot_day: HotDay,
    care: &'static str,
    rough_draws: usize,
    full_draws: usize,
    sign_known_percent: f64,
}

/// What the hot-day form starts with.
#[derive(Serialize)]
struct HotDay {
    ambients_c: Vec<f64>,
    humidities_percent: Vec<f64>,
    altitudes_m: Vec<f64>,
    swing_k: f64,
}

#[derive(Serialize)]
struct Build {
    name: &'static str,
    about: &'static str,
    text: &'static str,
}

#[derive(Serialize)]
struct Named {
    name: &'static str,
    title: String,
    minutes: f64,
}

/// A built-in day: keys of `[day]` with their likely values.
#[derive(Serialize)]
struct Day {
    name: &'static str,
    values: Vec<(&'static str, f64)>,
}

#[derive(Serialize)]
struct Treatment {
    id: String,
    name: String,
    family: &'static str,
    /// Kinds of parts; empty for measures.
    suits: Vec<String>,
    hazards: Vec<String>,
}

fn values(day: &DaySheet) -> Vec<(&'static str, f64)> {
    let all = [
        ("ambient_c", day.ambient_c),
        ("humidity_percent", day.humidity_percent),
        ("pressure_kpa", day.pressure_kpa),
        ("sun_w_m2", day.sun_w_m2),
        ("wind_m_s", day.wind_m_s),
        ("road_over_ambient_k", day.road_over_ambient_k),
    ];
    let given = all.into_iter();
    given
        .filter_map(|(key, value)| Some((key, value?.likely)))
        .collect()
}

fn hot_day() -> HotDay {
    let usual = Grid::default();
    HotDay {
        ambients_c: usual.ambients_c,
        humidities_percent: usual.humidities_percent,
        altitudes_m: usual.altitudes_m,
        swing_k: USUAL_SWING_K,
    }
}

/// The lists.
pub(super) fn lists(opened: &Opened) -> Result<Lists<'_>, Refusal> {
    let cycles = cycle::builtins().map_err(Refusal::input)?;
    let days: Result<Vec<Day>, Refusal> = sheet::days()
        .map(|name| {
            let day = DaySheet::builtin(name).map_err(Refusal::input)?;
            Ok(Day {
                name,
                values: values(&day),
            })
        })
        .collect();
    let treatments = materials::treatments().iter().map(|t| Treatment {
        id: t.id.clone(),
        name: t.name.clone(),
        family: t.family.name(),
        suits: t.suits.clone(),
        hazards: t.all_hazards().cloned().collect(),
    });
    let measures = sheet::measures().iter().map(|m| Treatment {
        id: m.id.clone(),
        name: m.name.clone(),
        family: "measure",
        suits: Vec::new(),
        hazards: m.hazards.clone(),
    });
    Ok(Lists {
        program: format!("{} {}", env!("CARGO_PKG_NAME"), env!("CARGO_PKG_VERSION")),
        opened,
        builds: sheet::builtins()
            .iter()
            .map(|b| Build {
                name: b.name,
                about: b.about,
                text: b.text,
            })
            .collect(),
        cycles: cycles
            .into_iter()
            .map(|c| Named {
                name: c.name,
                title: c.title,
                minutes: c.duration_s / 60.0,
            })
            .collect(),
        days: days?,
        treatments: treatments.collect(),
        measures: measures.collect(),
        scale: temperature_scale(),
        hot_day: hot_day(),
        care: CARE,
        rough_draws: LEAST_DRAWS,
        full_draws: FULL_DRAWS,
        sign_known_percent: SIGN_KNOWN_PERCENT,
    })
}

/// What a sheet holds.
#[derive(Serialize)]
pub(super) struct About {
    title: String,
    hash: String,
    parts: Vec<Part>,
    own_treatments: Vec<String>,
    zones: Vec<String>,
    neighbours: Vec<String>,
    options: Vec<Choice>,
    day: Vec<(&'static str, f64)>,
    cycle: String,
    minutes: f64,
    warnings: Vec<String>,
}

#[derive(Serialize)]
struct Part {
    name: String,
    kind: &'static str,
    metal: String,
    treatment: Option<String>,
}

/// An option of the sheet that the page can take over.
#[derive(Serialize)]
struct Choice {
    name: String,
    treat: Vec<(String, String)>,
    treatment_age: Option<&'static str>,
    measures: Vec<String>,
    /// Keys of the sheet and their new values.
    set: Vec<(String, toml::Value)>,
}

/// What the sheet of a request holds.
pub(super) fn about(asked: &Asked) -> Result<About, Refusal> {
    let car = asked.read()?;
    let raw = car.sheet.raw();
    let settled = car.sheet.settle(&mut sheet::Chooser::Likely)?;
    let build = &settled.build;
    Ok(About {
        title: car.sheet.title().to_owned(),
        hash: car.sheet.hash(),
        parts: raw
            .exhaust
            .iter()
            .map(|p| Part {
                name: p.name.clone(),
                kind: p.kind.word(),
                metal: p.metal.clone(),
                treatment: p.treatment.clone(),
            })
            .collect(),
        own_treatments: raw.treatment.keys().cloned().collect(),
        zones: build.bay.zones.iter().map(|z| z.name.clone()).collect(),
        neighbours: build.neighbours.iter().map(|n| n.name.clone()).collect(),
        options: raw
            .option
            .iter()
            .filter(|o| !o.changes_nothing())
            .map(|o| Choice {
                name: o.name.clone(),
                treat: o.treat.clone().into_iter().collect(),
                measures: o.measures.clone(),
                set: o.set.clone().into_iter().collect(),
                treatment_age: o.treatment_age.map(Age::word),
            })
            .collect(),
        day: raw.day.as_ref().map(values).unwrap_or_default(),
        cycle: car.cycle.title.clone(),
        minutes: car.cycle.duration_s() / 60.0,
        warnings: car.warnings,
    })
}
