//! Exhaust parts.

use std::f64::consts::PI;

use crate::materials::{Finish, Metal};
use crate::sheet::build::{Engine, ExhaustKind, ExhaustPart, Layer, Zone};
use crate::sheet::check::entry;
use crate::sheet::raw::{ExhaustSheet, FinishName, LayerSheet, PartKind};
use crate::sheet::resolve::{Guess, Taker, about, fixed, guess};

use super::{find_metal, sees, zone_or_outside};

/// Settles `[[exhaust]]`.
pub(super) fn exhaust(
    sheets: &[ExhaustSheet],
    engine: &Engine,
    turbo: bool,
    zones: &[Zone],
    t: &mut Taker<'_, '_>,
) -> Vec<ExhaustPart> {
    let mut parts = Vec::new();
    for (i, s) in sheets.iter().enumerate() {
        let path = entry("exhaust", Some(&s.name), i);
        parts.extend(part(s, &path, engine, zones, t));
    }
    order(sheets, turbo, t);
    parts
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

fn kind(kind: PartKind) -> ExhaustKind {
    match kind {
        PartKind::Runner => ExhaustKind::Runner,
        PartKind::Collector => ExhaustKind::Collector,
        PartKind::Link => ExhaustKind::Link,
        PartKind::Turbine => ExhaustKind::Turbine,
        PartKind::Catalyst => ExhaustKind::Catalyst,
        PartKind::Downpipe => ExhaustKind::Downpipe,
        PartKind::Pipe => ExhaustKind::Pipe,
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
        kind: kind(s.kind),
        branch: u8::try_from(s.branch.unwrap_or(0)).unwrap_or(0),
        count,
        bore_m,
        wall_m,
        length_m,
        mass_kg,
        metal,
        emissivity,
        gas_factor: t.take(&key("gas_factor"), s.gas_factor.as_ref(), gas),
        layer: s.layer.as_ref().map(|l| layer(l, &key("layer"), t)),
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

fn layer(s: &LayerSheet, path: &str, t: &mut Taker<'_, '_>) -> Layer {
    let key = |name: &str| format!("{path}.{name}");
    Layer {
        name: s.name.clone().unwrap_or_else(|| "layer".to_owned()),
        thickness_m: t.given_si(&key("thickness_mm"), &s.thickness_mm),
        conductivity_w_mk: t.given(&key("conductivity_w_mk"), &s.conductivity_w_mk),
        conductivity_slope: t.take(
            &key("conductivity_slope_w_mk2"),
            s.conductivity_slope_w_mk2.as_ref(),
            fixed(0.0, "taken as constant"),
        ),
        density_kg_m3: t.si(
            &key("density_kg_m3"),
            s.density_kg_m3.as_ref(),
            guess(150.0, 400.0, 1000.0, "fibre wrap as fitted; estimate"),
        ),
        specific_heat_j_kgk: t.si(
            &key("specific_heat_j_kgk"),
            s.specific_heat_j_kgk.as_ref(),
            guess(
                750.0,
                900.0,
                1100.0,
                "glass, basalt or ceramic fibre; estimate",
            ),
        ),
        emissivity: t.take(
            &key("emissivity"),
            s.emissivity.as_ref(),
            guess(
                0.7,
                0.85,
                0.95,
                "glass, basalt or silica cloth; emissivity tables",
            ),
        ),
        max_service_k: s
            .max_service_c
            .as_ref()
            .map(|v| t.given_si(&key("max_service_c"), v)),
    }
}
