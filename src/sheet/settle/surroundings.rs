//! Neighbours, weather, and who sees whom.

use std::collections::BTreeMap;

use crate::materials::limit;
use crate::physics::atmosphere::pressure_at_altitude;
use crate::sheet::build::{Build, Day, Neighbour, Zone};
use crate::sheet::input::Input;
use crate::sheet::problem::mean_or_list;
use crate::sheet::raw::{DaySheet, NeighbourKind, NeighbourSheet, RawSheet};
use crate::sheet::resolve::{Taker, about, fixed, guess};

use super::{sees, zone_index};

/// What a kind of neighbour usually is.
struct Usual {
    mass_kg: f64,
    specific_heat_j_kgk: f64,
    area_cm2: f64,
    size_mm: f64,
    limit_c: f64,
    limit_source: &'static str,
}

/// Sizes are estimates; limits come from their table, by the word of the kind.
fn usual(kind: NeighbourKind) -> Option<Usual> {
    let [mass_kg, specific_heat_j_kgk, area_cm2, size_mm] = match kind {
        NeighbourKind::BrakeFluid => [0.5, 2000.0, 350.0, 80.0],
        NeighbourKind::ClutchFluid => [0.3, 2000.0, 200.0, 40.0],
        NeighbourKind::Loom => [0.2, 1200.0, 250.0, 20.0],
        NeighbourKind::Hose => [0.4, 2200.0, 400.0, 40.0],
        NeighbourKind::Boot => [0.25, 1700.0, 350.0, 80.0],
        NeighbourKind::FuelLine => [0.15, 2000.0, 150.0, 10.0],
        NeighbourKind::FuelRail => [0.6, 700.0, 250.0, 25.0],
        NeighbourKind::Starter => [3.5, 500.0, 500.0, 80.0],
        NeighbourKind::Battery => [15.0, 900.0, 2000.0, 200.0],
        NeighbourKind::Plastic => [0.3, 1600.0, 600.0, 100.0],
        NeighbourKind::Mount => [1.0, 900.0, 250.0, 70.0],
        NeighbourKind::Other => return None,
    };
    let limit = &limit(kind.word())?.limit_c;
    Some(Usual {
        mass_kg,
        specific_heat_j_kgk,
        area_cm2,
        size_mm,
        limit_c: limit.likely,
        limit_source: &limit.source,
    })
}

/// Settles `[[neighbour]]`.
pub(super) fn neighbours(
    sheets: &[NeighbourSheet],
    zones: &[Zone],
    t: &mut Taker<'_, '_>,
) -> Vec<Neighbour> {
    sheets
        .iter()
        .filter_map(|s| neighbour(s, zones, t))
        .collect()
}

fn neighbour(s: &NeighbourSheet, zones: &[Zone], t: &mut Taker<'_, '_>) -> Option<Neighbour> {
    let path = format!("neighbour[{}]", s.name);
    let key = |name: &str| format!("{path}.{name}");
    let given = usual(s.kind.unwrap_or(NeighbourKind::Other));
    let must = [
        ("mass_kg", s.mass_kg.is_some()),
        ("area_cm2", s.area_cm2.is_some()),
        ("limit_c", s.limit_c.is_some()),
    ];
    if given.is_none() && must.iter().any(|(_, there)| !there) {
        let absent: Vec<&str> = must
            .iter()
            .filter(|(_, there)| !there)
            .map(|(n, _)| *n)
            .collect();
        let message = format!("needs {}", absent.join(", "));
        let hint = "or a kind such as hose, loom, boot or plastic, which gives them".to_owned();
        t.problem(&path, &message, "", hint);
        return None;
    }
    let likely = |input: Option<Input>| input.map_or(0.0, |i| i.likely);
    let usual = given.unwrap_or(Usual {
        mass_kg: likely(s.mass_kg),
        specific_heat_j_kgk: 1200.0,
        area_cm2: likely(s.area_cm2),
        size_mm: 10.0 * likely(s.area_cm2).sqrt() / 2.0,
        limit_c: likely(s.limit_c),
        limit_source: "as given in the sheet",
    });
    let basis = "usual for this kind; estimate";
    let zone = t.choice(
        &key("zone"),
        s.zone.clone(),
        ("hot".into(), "hot", "near the exhaust"),
    );
    let source = match (&s.limit_source, s.limit_c) {
        (Some(source), _) => source.clone(),
        (None, Some(_)) => "as given in the sheet".to_owned(),
        (None, None) => usual.limit_source.to_owned(),
    };
    Some(Neighbour {
        name: s.name.clone(),
        is_metal: s.kind.is_some_and(NeighbourKind::is_metal),
        mass_kg: t.si(
            &key("mass_kg"),
            s.mass_kg.as_ref(),
            about(usual.mass_kg, 0.6, 1.6, basis),
        ),
        specific_heat_j_kgk: t.si(
            &key("specific_heat_j_kgk"),
            s.specific_heat_j_kgk.as_ref(),
            about(usual.specific_heat_j_kgk, 0.8, 1.2, basis),
        ),
        area_m2: t.si(
            &key("area_cm2"),
            s.area_cm2.as_ref(),
            about(usual.area_cm2, 0.6, 1.5, basis),
        ),
        size_m: t.si(
            &key("size_mm"),
            s.size_mm.as_ref(),
            about(usual.size_mm, 0.7, 1.4, basis),
        ),
        emissivity: t.take(
            &key("emissivity"),
            s.emissivity.as_ref(),
            guess(0.8, 0.9, 0.95, "plastic, rubber or paint; estimate"),
        ),
        zone: zone_index(zones, &zone, &key("zone"), t),
        limit_k: t.si(
            &key("limit_c"),
            s.limit_c.as_ref(),
            fixed(usual.limit_c, usual.limit_source),
        ),
        limit_source: source,
        sees: sees(&s.sees, &path, t),
    })
}

/// Pressure at the day's altitude [Pa].
fn pressure_of_altitude(altitude: &Input, s: &DaySheet, t: &mut Taker<'_, '_>) -> f64 {
    if s.pressure_kpa.is_some() {
        let hint = "keep one of them".to_owned();
        t.problem(
            "day.altitude_m",
            "altitude and pressure both given",
            "",
            hint,
        );
    }
    pressure_at_altitude(t.given_si("day.altitude_m", altitude))
}

/// Settles `[day]`; what it leaves out is the standard day.
pub(super) fn day(s: Option<&DaySheet>, t: &mut Taker<'_, '_>) -> Day {
    let blank = DaySheet::default();
    let named = s.and_then(|s| s.name.clone());
    let name = named.unwrap_or_else(|| if s.is_some() { "sheet" } else { "standard" }.to_owned());
    let s = s.unwrap_or(&blank);
    let basis = "standard day: reference air of ISO 1585 (from memory), no sun, no wind";
    let altitude = s.altitude_m.as_ref().map(|a| pressure_of_altitude(a, s, t));
    let mut take = |key: &str, input: Option<&Input>, value: f64| {
        t.si(&format!("day.{key}"), input, fixed(value, basis))
    };
    Day {
        name,
        ambient_k: take("ambient_c", s.ambient_c.as_ref(), 25.0),
        humidity: take("humidity_percent", s.humidity_percent.as_ref(), 30.0),
        pressure_pa: altitude
            .unwrap_or_else(|| take("pressure_kpa", s.pressure_kpa.as_ref(), 100.0)),
        sun_w_m2: take("sun_w_m2", s.sun_w_m2.as_ref(), 0.0),
        wind_m_s: take("wind_m_s", s.wind_m_s.as_ref(), 0.0),
        road_over_ambient_k: take("road_over_ambient_k", s.road_over_ambient_k.as_ref(), 0.0),
    }
}

/// Checks names and sums of the view factors.
pub(super) fn views(raw: &RawSheet, build: &Build, t: &mut Taker<'_, '_>) {
    let mut names: Vec<&str> = vec!["block"];
    names.extend(raw.exhaust.iter().map(|s| s.name.as_str()));
    names.extend(build.bay.panels.iter().map(|p| p.name.as_str()));
    names.extend(build.intake.ducts.iter().map(|d| d.name.as_str()));
    // Those with an unknown material aren't in the build, which is said elsewhere.
    names.extend(
        raw.bay
            .iter()
            .flat_map(|b| &b.panel)
            .map(|p| p.name.as_str()),
    );
    names.extend(
        raw.intake
            .iter()
            .flat_map(|i| &i.duct)
            .map(|d| d.name.as_str()),
    );
    names.extend(raw.neighbour.iter().map(|s| s.name.as_str()));
    let exhaust = raw
        .exhaust
        .iter()
        .map(|s| (format!("exhaust[{}]", s.name), &s.name, &s.sees));
    let others = raw
        .neighbour
        .iter()
        .map(|s| (format!("neighbour[{}]", s.name), &s.name, &s.sees));
    for (path, own, sees) in exhaust.chain(others) {
        one_view(&path, own, sees, &names, t);
    }
}

fn one_view(
    path: &str,
    own: &str,
    sees: &BTreeMap<String, Input>,
    names: &[&str],
    t: &mut Taker<'_, '_>,
) {
    for name in sees.keys() {
        let key = format!("{path}.sees.{name}");
        if name == own {
            let hint = "leave out what it sees of itself".to_owned();
            t.problem(&key, "sees itself", "", hint);
        } else if !names.contains(&name.as_str()) {
            let hint = mean_or_list(name, names.iter().copied());
            t.problem(&key, "no surface of this name", "", hint);
        }
    }
    let sum: f64 = sees.values().map(|i| i.likely).sum();
    if sum > 1.0 + 1e-9 && t.sound(&[&format!("{path}.sees")]) {
        let hint = "shares of the whole view: 1 or less; the rest sees the panels of its zone";
        let message = format!("view factors add up to {sum:.2}");
        t.problem(&format!("{path}.sees"), &message, "1", hint.to_owned());
    }
}
