//! Exhaust parts.

use std::f64::consts::PI;

use crate::materials::{Finish, Metal};
use crate::sheet::build::{Engine, ExhaustPart, Layer, Treatment, Zone};
use crate::sheet::check::entry;
use crate::sheet::cost::Fitted;
use crate::sheet::raw::{ExhaustSheet, FinishName, PartKind};
use crate::sheet::resolve::{Guess, Taker, about, fixed, guess};

use super::treatments::{Fitting, Treatments};
use super::{find_metal, sees, zone_or_outside};

/// Settles `[[exhaust]]`.
pub(super) fn exhaust(
    sheets: &[ExhaustSheet],
    engine: &Engine,
    turbo: bool,
    zones: &[Zone],
    treatments: &mut Treatments<'_>,
    t: &mut Taker<'_, '_>,
) -> (Vec<ExhaustPart>, Vec<Fitted>) {
    let (mut parts, mut all_fitted) = (Vec::new(), Vec::new());
    for (i, s) in sheets.iter().enumerate() {
        let path = entry("exhaust", Some(&s.name), i);
        let fitting = treatments.of_part(s, &path, t);
        let Some(mut part) = part(s, &path, engine, zones, t) else {
            continue;
        };
        if let Some(fitting) = fitting {
            all_fitted.push(fitted(s, &part, &fitting));
            part.treatment = fitting.treatment;
        }
        parts.push(part);
    }
    order(sheets, turbo, t);
    (parts, all_fitted)
}

/// Area, mass and price of a treatment on a part; the bare share is neither weighed nor paid for.
fn fitted(s: &ExhaustSheet, part: &ExhaustPart, fitting: &Fitting) -> Fitted {
    let length_m = part.length_m * f64::from(part.count);
    let inner_m = 0.5 * part.bore_m;
    let area_m2 = 2.0 * PI * (inner_m + part.wall_m) * length_m;
    let coverage = fitting.treatment.as_ref().map_or(1.0, |t| t.coverage);
    let outside = fitting.treatment.iter().flat_map(Treatment::shells);
    let outside =
        outside.map(|(layer, r_m)| layer.mass_per_length_kg_m(inner_m + part.wall_m + r_m));
    let inside = fitting.treatment.iter().flat_map(|t| &t.inside);
    let inside = inside.map(|l: &Layer| l.density_kg_m3 * l.thickness_m * 2.0 * PI * inner_m);
    Fitted {
        part: s.name.clone(),
        treatment: s.treatment.clone().unwrap_or_default(),
        name: fitting.name.clone(),
        family: fitting.family,
        wear: fitting.note.clone(),
        area_m2,
        coverage,
        mass_kg: length_m * (coverage * outside.sum::<f64>() + inside.sum::<f64>()),
        price: fitting.price_m2.times(area_m2).plus(fitting.price_part),
        hazards: fitting.hazards.clone(),
    }
}

/// Rules about the row of parts as a whole.
fn order(sheets: &[ExhaustSheet], turbo: bool, t: &mut Taker<'_, '_>) {
    let key = |i: usize, name: &str| {
        let path = entry("exhaust", sheets.get(i).map(|s| s.name.as_str()), i);
        if name.is_empty() {
            path
        } else {
            format!("{path}.{name}")
        }
    };
    if sheets.is_empty() {
        let hint = "write at least one [[exhaust]] part, such as the manifold".to_owned();
        t.problem("exhaust", "no exhaust part", "1 or more", hint);
        return;
    }
    let turbines: Vec<usize> = (0..sheets.len())
        .filter(|i| sheets[*i].kind == PartKind::Turbine)
        .collect();
    match (turbines.as_slice(), turbo) {
        ([], true) => {
            let hint = "add an [[exhaust]] part with kind = \"turbine\" in its place".to_owned();
            t.problem("turbocharger", "the exhaust has no turbine", "", hint);
        }
        ([i, ..], false) => {
            let hint = "add a [turbocharger] section; it may be empty".to_owned();
            t.problem(
                &key(*i, "kind"),
                "a turbine without [turbocharger]",
                "",
                hint,
            );
        }
        _ => {}
    }
    for i in turbines.iter().skip(1) {
        let hint = "two small turbochargers: give one turbine with both masses".to_owned();
        t.problem(&key(*i, "kind"), "a second turbine", "1", hint);
    }
    let branch = |i: usize| sheets[i].branch.unwrap_or(0);
    let halves = |b: u32| (0..sheets.len()).find(|i| branch(*i) == b);
    match (halves(1), halves(2)) {
        (Some(i), None) | (None, Some(i)) => {
            let other = 3 - branch(i);
            let hint = format!("add the parts of branch {other}, or drop branch here");
            let message = format!("branch {other} has no part");
            t.problem(&key(i, "branch"), &message, "both halves", hint);
        }
        (Some(_), Some(_)) if (0..sheets.len()).all(|i| branch(i) != 0) => {
            let last = sheets.len() - 1;
            let hint = "add the part where they join, with branch = 0".to_owned();
            t.problem(
                &key(last, "branch"),
                "the two branches never join",
                "",
                hint,
            );
        }
        _ => {}
    }
    for i in 1..sheets.len() {
        if branch(i) != 0 && branch(i - 1) == 0 {
            let hint = "parts go in flow order: both branches first, then the joined flow";
            let message = "a branch after a joined part";
            t.problem(&key(i, "branch"), message, "", hint.to_owned());
        }
    }
    for (i, s) in sheets.iter().enumerate() {
        // the other bank's parts are beside this one, not ahead of it
        let ahead = |e: usize| branch(e) == 0 || branch(i) == 0 || branch(e) == branch(i);
        let late = s.kind == PartKind::Runner
            && (0..i).filter(|e| ahead(*e)).any(|e| {
                matches!(
                    sheets[e].kind,
                    PartKind::Turbine | PartKind::Catalyst | PartKind::Downpipe
                )
            });
        if late {
            let hint = "parts go in flow order, engine first".to_owned();
            t.problem(
                &key(i, "kind"),
                "a runner behind turbine, catalyst or downpipe",
                "",
                hint,
            );
        }
        if s.kind == PartKind::Turbine && branch(i) != 0 {
            let hint = "give it branch = 0: the scrolls join in the housing".to_owned();
            t.problem(&key(i, "branch"), "a turbine in one branch", "0", hint);
        }
    }
}

fn is_cast(metal: &Metal) -> bool {
    ["iron", "cast", "resist"]
        .iter()
        .any(|word| metal.id.contains(word))
}

fn wall_guess(s: &ExhaustSheet, metal: &Metal) -> Guess {
    match s.kind {
        PartKind::Turbine => guess(4.0, 6.0, 9.0, "cast turbine housing; estimate"),
        _ if is_cast(metal) => guess(3.5, 4.5, 6.0, "cast part; estimate"),
        PartKind::Catalyst => guess(1.2, 1.5, 2.0, "catalyst shell; estimate"),
        _ => guess(1.2, 1.5, 2.0, "tube; common practice, no source"),
    }
}

fn part(
    s: &ExhaustSheet,
    path: &str,
    engine: &Engine,
    zones: &[Zone],
    t: &mut Taker<'_, '_>,
) -> Option<ExhaustPart> {
    let key = |name: &str| format!("{path}.{name}");
    let metal = find_metal(&s.metal, &key("metal"), t);
    let bore_m = t.given_si(&key("bore_mm"), &s.bore_mm);
    let length_m = t.given_si(&key("length_mm"), &s.length_mm);
    let fallback = match s.kind {
        PartKind::Downpipe => "low",
        PartKind::Pipe => super::OUTSIDE,
        _ => "hot",
    };
    let basis = "where this kind of part usually is";
    let zone = t.choice(
        &key("zone"),
        s.zone.clone(),
        (fallback.into(), fallback, basis),
    );
    let zone = zone_or_outside(zones, &zone, &key("zone"), t);
    let metal = metal?;
    let count = s.count.unwrap_or(1);
    let wall_m = t.si(&key("wall_mm"), s.wall_mm.as_ref(), wall_guess(s, metal));
    // Ring section times length; flanges, bends and bosses come on top.
    let tube_kg =
        f64::from(count) * metal.density_kg_m3.value * PI * (bore_m + wall_m) * wall_m * length_m;
    let mass = match s.kind {
        PartKind::Turbine => {
            let size = (engine.power_w / 120e3).powf(0.75);
            about(3.5 * size, 0.6, 1.7, "3.5 kg at 120 kW, scaled; estimate")
        }
        PartKind::Runner | PartKind::Collector if is_cast(metal) => about(
            1.35 * tube_kg,
            0.8,
            1.3,
            "from bore, wall, length and metal, 35 % for flanges",
        ),
        PartKind::Pipe => about(
            1.05 * tube_kg,
            0.95,
            1.1,
            "from bore, wall, length and metal",
        ),
        _ => about(
            1.15 * tube_kg,
            0.9,
            1.2,
            "from bore, wall, length and metal, 15 % for flanges",
        ),
    };
    let mass_kg = t.si(&key("mass_kg"), s.mass_kg.as_ref(), mass);
    let emissivity = emissivity(s, metal, path, t);
    let gas = if s.kind == PartKind::Catalyst {
        fixed(1.0, "unused in a catalyst")
    } else {
        guess(
            0.75,
            1.0,
            1.35,
            "spread of published fits for pulsating exhaust pipes",
        )
    };
    let flange = if s.kind == PartKind::Runner {
        about(
            1.0 * f64::from(count),
            0.3,
            3.0,
            "1 W/K per runner through flange and gasket; estimate",
        )
    } else {
        fixed(0.0, "not bolted to the engine")
    };
    let (brick_mass_kg, brick_shell_w_k, conversion) = brick(s, path, bore_m, length_m, engine, t);
    Some(ExhaustPart {
        name: s.name.clone(),
        kind: s.kind.into(),
        branch: u8::try_from(s.branch.unwrap_or(0)).unwrap_or(0),
        count,
        bore_m,
        wall_m,
        length_m,
        mass_kg,
        metal,
        emissivity,
        gas_factor: t.take(&key("gas_factor"), s.gas_factor.as_ref(), gas),
        treatment: None,
        zone,
        air_speed_factor: t.take(
            &key("air_speed_factor"),
            s.air_speed_factor.as_ref(),
            guess(0.6, 1.0, 1.7, "the zone's mean speed; estimate"),
        ),
        sees: sees(&s.sees, path, t),
        brick_mass_kg,
        brick_shell_w_k,
        conversion,
        flange_w_k: t.si(&key("flange_w_k"), s.flange_w_k.as_ref(), flange),
    })
}

fn brick(
    s: &ExhaustSheet,
    path: &str,
    bore_m: f64,
    length_m: f64,
    engine: &Engine,
    t: &mut Taker<'_, '_>,
) -> (f64, f64, f64) {
    let key = |name: &str| format!("{path}.{name}");
    if s.kind != PartKind::Catalyst {
        for (name, given) in [
            ("brick_mass_kg", s.brick_mass_kg),
            ("brick_shell_w_k", s.brick_shell_w_k),
            ("conversion", s.conversion),
        ] {
            if given.is_some() {
                let hint = "drop it, or write kind = \"catalyst\"".to_owned();
                t.problem(&key(name), "only a catalyst has this", "", hint);
            }
        }
        return (0.0, 0.0, 0.0);
    }
    let litres = 1e3 * 0.25 * PI * bore_m * bore_m * length_m;
    let shell_m2 = PI * bore_m * length_m;
    let conversion = if engine.diesel {
        guess(0.6, 0.8, 0.95, "warm oxidation catalyst; estimate")
    } else {
        guess(0.8, 0.92, 0.99, "warm three-way catalyst; estimate")
    };
    (
        t.si(
            &key("brick_mass_kg"),
            s.brick_mass_kg.as_ref(),
            about(
                0.65 * litres,
                0.65,
                1.5,
                "0.65 kg per litre of ceramic brick; estimate",
            ),
        ),
        t.si(
            &key("brick_shell_w_k"),
            s.brick_shell_w_k.as_ref(),
            about(
                25.0 * shell_m2,
                0.5,
                2.0,
                "25 W/m2/K through the mat; estimate",
            ),
        ),
        t.take(&key("conversion"), s.conversion.as_ref(), conversion),
    )
}

fn emissivity(s: &ExhaustSheet, metal: &Metal, path: &str, t: &mut Taker<'_, '_>) -> f64 {
    let key = format!("{path}.emissivity");
    let finish = match (s.finish, s.emissivity.is_some()) {
        (None, false) => t.choice(
            &format!("{path}.finish"),
            None,
            (
                FinishName::default(),
                FinishName::default().word(),
                "as found after some use",
            ),
        ),
        (given, _) => given.unwrap_or_default(),
    };
    let range = super::emissivity(metal, Finish::from(finish));
    let basis = format!("{} {}, table of metals", metal.id, finish.word());
    t.take(
        &key,
        s.emissivity.as_ref(),
        guess(range.low, range.likely, range.high, basis),
    )
}
