//! From a sheet as written to a [`Build`]: one file per section.

mod bay;
mod cooler;
mod engine;
mod exhaust;
mod intake;
mod layout;
mod panels;
mod surroundings;
mod treatments;
mod turbo;

use std::collections::BTreeMap;

use crate::cycle::{Builtin, PhaseSpec};
use crate::materials::{Finish, Metal, UnknownName, metal};

use super::build::{Build, Zone};
use super::check::{Places, entry};
use super::cost::{Cost, Fitted};
use super::input::Input;
use super::problem::{Problem, mean_or_list};
use super::raw::{FinishName, RawSheet};
use super::resolve::{AssumedChoice, AssumedValue, Chooser, Taker, Uncertain};

/// Word for the air around the car, where a zone name could stand.
pub(crate) const OUTSIDE: &str = "outside";

/// Material of panels.
const SHEET_STEEL: &str = "mild-steel";
/// Material of undertray and cold intake parts.
const PLASTIC: &str = "polyamide-gf30";
/// Material of hoses.
const RUBBER: &str = "silicone-rubber";
/// Material of plenums.
const ALUMINIUM: &str = "aluminium-cast";
/// Finish of panels.
const PAINTED: FinishName = FinishName::Painted;

/// A build with the books on how it was settled.
#[derive(Debug, Clone)]
pub struct Settled {
    /// The build, SI.
    pub build: Build,
    /// Numbers that the sheet left out.
    pub assumed: Vec<AssumedValue>,
    /// Choices that the sheet left out.
    pub assumed_choices: Vec<AssumedChoice>,
    /// Numbers with a range, from the sheet or assumed.
    pub uncertain: Vec<Uncertain>,
    /// Phases of the sheet's own cycle.
    pub phases: Option<Vec<PhaseSpec>>,
    /// Name of the built-in cycle that the sheet asks for.
    pub builtin_cycle: Option<String>,
    /// What the sheet's option adds; nothing without one.
    pub cost: Cost,
    /// Treatments on parts.
    pub fitted: Vec<Fitted>,
    /// What to beware of with what is fitted, each danger once.
    pub cautions: Vec<String>,
}

/// Settles a sheet. The build is there even when there are problems, so that all of them show;
/// the caller must drop it then. `None` only where a part has no material to stand in.
/// `known` are problems of single keys: what only follows from them isn't said again.
pub(crate) fn settle(
    raw: &RawSheet,
    places: &Places,
    known: &[Problem],
    chooser: &mut Chooser<'_>,
) -> (Option<Settled>, Vec<Problem>) {
    let mut taker = Taker::new(chooser, places, known);
    let t = &mut taker;
    let day = surroundings::day(raw.day.as_ref(), t);
    let size = layout::size(raw.bay.as_ref(), t);
    let zones = layout::zones(raw.bay.as_ref(), size, t);
    let engine = engine::engine(&raw.engine, raw.turbocharger.is_some(), t);
    let car = engine::car(raw.car.as_ref(), &engine, t);
    let turbo = raw
        .turbocharger
        .as_ref()
        .map(|s| turbo::turbo(s, &engine, &zones, &day, t));
    let mut treatments = treatments::Treatments::new(&raw.treatment, t);
    let (exhaust, fitted) = exhaust::exhaust(
        &raw.exhaust,
        &engine,
        turbo.is_some(),
        &zones,
        &mut treatments,
        t,
    );
    let bay = bay::bay(raw.bay.as_ref(), &engine, size, zones, t);
    let intake = intake::intake(raw.intake.as_ref(), &engine, turbo.is_some(), &bay.zones, t);
    let neighbours = surroundings::neighbours(&raw.neighbour, &bay.zones, t);
    let title = raw.title.clone();
    let build = Build {
        title,
        car,
        engine,
        exhaust,
        turbo,
        bay,
        intake,
        neighbours,
        day,
    };
    surroundings::views(raw, &build, t);
    let (phases, builtin_cycle) = cycle(raw, t);
    let problems = std::mem::take(&mut taker.problems);
    let Taker {
        assumed,
        choices,
        uncertain,
        ..
    } = taker;
    let settled = Settled {
        build,
        assumed,
        assumed_choices: choices,
        uncertain,
        phases,
        builtin_cycle,
        cost: Cost::default(),
        cautions: Vec::new(),
        fitted,
    };
    (problems.is_empty().then_some(settled), problems)
}

fn cycle(raw: &RawSheet, t: &mut Taker<'_, '_>) -> (Option<Vec<PhaseSpec>>, Option<String>) {
    let Some(cycle) = &raw.cycle else {
        return (None, None);
    };
    let phases = (!cycle.phase.is_empty()).then(|| cycle.phase.clone());
    if phases.is_some() && cycle.builtin.is_some() {
        let hint = "keep `builtin` or the [[cycle.phase]] entries".to_owned();
        t.problem(
            "cycle.builtin",
            "a built-in cycle and own phases exclude each other",
            "",
            hint,
        );
    }
    if phases.is_none() && cycle.builtin.is_none() {
        let hint = "write builtin = \"day\", or [[cycle.phase]], or drop the section".to_owned();
        t.problem("cycle", "names no cycle", "", hint);
    }
    if let Some(name) = &cycle.builtin
        && Builtin::ALL.iter().all(|b| b.name() != name)
    {
        let hint = mean_or_list(name, Builtin::ALL.iter().map(|b| b.name()));
        t.problem("cycle.builtin", "no cycle of this name", "", hint);
    }
    for (i, phase) in cycle.phase.iter().enumerate() {
        let place = entry("cycle.phase", Some(&phase.name), i);
        for p in phase.problems(&place) {
            t.problem(&p.place, &p.limit, "", p.hint);
        }
    }
    (phases, cycle.builtin.clone())
}

/// Index of a zone by name; an unknown name is a problem and gives 0.
fn zone_index(zones: &[Zone], name: &str, key: &str, t: &mut Taker<'_, '_>) -> usize {
    zones
        .iter()
        .position(|z| z.name == name)
        .unwrap_or_else(|| {
            let hint = mean_or_list(name, zones.iter().map(|z| z.name.as_str()));
            t.problem(key, "no zone of this name", "", hint);
            0
        })
}

/// Like [`zone_index`], with `outside` as `None`.
fn zone_or_outside(zones: &[Zone], name: &str, key: &str, t: &mut Taker<'_, '_>) -> Option<usize> {
    if name == OUTSIDE {
        return None;
    }
    zones.iter().position(|z| z.name == name).or_else(|| {
        let names = zones.iter().map(|z| z.name.as_str()).chain([OUTSIDE]);
        t.problem(key, "no zone of this name", "", mean_or_list(name, names));
        None
    })
}

/// The metal of an id, with a problem when there is none.
fn find_metal(id: &str, key: &str, t: &mut Taker<'_, '_>) -> Option<&'static Metal> {
    match metal(id) {
        Ok(metal) => Some(metal),
        Err(unknown) => {
            t.problem(key, "unknown material", "", near_materials(&unknown));
            None
        }
    }
}

/// Settled view factors of one surface.
fn sees(map: &BTreeMap<String, Input>, path: &str, t: &mut Taker<'_, '_>) -> Vec<(String, f64)> {
    map.iter()
        .map(|(name, share)| (name.clone(), t.given(&format!("{path}.sees.{name}"), share)))
        .collect()
}

/// Emissivity of a surface: low, likely, high.
pub(super) struct EmissivityRange {
    /// Low end.
    pub low: f64,
    /// Most likely.
    pub likely: f64,
    /// High end.
    pub high: f64,
}

/// Emissivity of a material with a finish; where its table has no such finish, that of the finish it
/// has (plastics), else anything a used surface may have.
pub(super) fn emissivity(metal: &Metal, finish: Finish) -> EmissivityRange {
    let own = metal
        .emissivity(finish)
        .or_else(|| metal.emissivity(Finish::Plastic));
    own.map_or(
        EmissivityRange {
            low: 0.3,
            likely: 0.6,
            high: 0.9,
        },
        |e| EmissivityRange {
            low: e.low,
            likely: e.likely,
            high: e.high,
        },
    )
}

fn near_materials(unknown: &UnknownName) -> String {
    match unknown.near.as_slice() {
        [] => "`baysoak list metals` shows all".to_owned(),
        near => format!(
            "did you mean {}? `baysoak list metals` shows all",
            near.join(" or ")
        ),
    }
}
