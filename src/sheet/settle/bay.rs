//! Openings, radiator, fan and panels.

use crate::sheet::build::{Bay, Engine, Fan, Opening, OpeningRole, Radiator, Zone};
use crate::sheet::raw::{BaySheet, FanSheet, OpeningSheet, RadiatorSheet, RoleName};
use crate::sheet::resolve::{Guess, Taker, about, fixed, guess};

use super::layout::Size;
use super::panels;
use super::{OUTSIDE, zone_index, zone_or_outside};

/// Settles `[bay]` on zones that are settled already.
pub(super) fn bay(
    s: Option<&BaySheet>,
    engine: &Engine,
    size: Size,
    zones: Vec<Zone>,
    t: &mut Taker<'_, '_>,
) -> Bay {
    let blank = BaySheet::default();
    let s = s.unwrap_or(&blank);
    let radiator = radiator(s.radiator.as_ref(), engine, t);
    let fan = fan(s.fan.as_ref(), &radiator, t);
    let openings = openings(s, size, &radiator, &zones, t);
    let panels = panels::panels(&s.panel, size, &zones, t);
    let block_share = block_share(s, &zones, t);
    Bay {
        openings,
        radiator,
        fan,
        panels,
        block_share,
        mixing_share: t.take(
            "bay.mixing_share",
            s.mixing_share.as_ref(),
            guess(0.1, 0.3, 0.6, "turbulence behind fan and engine; estimate"),
        ),
        mixing_still_m_s: t.si(
            "bay.mixing_still_m_s",
            s.mixing_still_m_s.as_ref(),
            guess(0.02, 0.05, 0.12, "buoyant exchange; estimate"),
        ),
        standing_recirculation: t.take(
            "bay.standing_recirculation",
            s.standing_recirculation.as_ref(),
            guess(
                0.05,
                0.15,
                0.35,
                "fan air that returns to the grille; estimate",
            ),
        ),
        recirculation_fade_m_s: t.si(
            "bay.recirculation_fade_m_s",
            s.recirculation_fade_m_s.as_ref(),
            guess(2.0, 3.0, 5.0, "estimate"),
        ),
        recirculation_lag_s: t.si(
            "bay.recirculation_lag_s",
            s.recirculation_lag_s.as_ref(),
            fixed(0.0, "left out"),
        ),
        zones,
    }
}

fn block_share(s: &BaySheet, zones: &[Zone], t: &mut Taker<'_, '_>) -> Vec<f64> {
    let mut shares = vec![0.0; zones.len()];
    for (name, input) in &s.block_share {
        let key = format!("bay.block_share.{name}");
        let zone = zone_index(zones, name, &key, t);
        shares[zone] += t.given(&key, input);
    }
    if s.block_share.is_empty() {
        for (name, likely) in [("front", 0.2), ("upper", 0.35), ("hot", 0.25), ("low", 0.2)] {
            let key = format!("bay.block_share.{name}");
            let default = about(likely, 0.6, 1.4, "relative to the other zones; estimate");
            let zone = zone_index(zones, name, &key, t);
            shares[zone] += t.take(&key, None, default);
        }
    } else {
        let sum: f64 = s.block_share.values().map(|i| i.likely).sum();
        if !(0.95..=1.05).contains(&sum) && t.sound(&["bay.block_share"]) {
            let hint = "the block's whole area must be somewhere: let them add up to 1".to_owned();
            let message = format!("shares add up to {sum:.2}");
            t.problem("bay.block_share", &message, "1", hint);
        }
    }
    // Drawn shares need not add up: what counts is their proportion.
    let sum: f64 = shares.iter().sum();
    if sum > 0.0 {
        shares.iter_mut().for_each(|v| *v /= sum);
    }
    shares
}

fn radiator(s: Option<&RadiatorSheet>, engine: &Engine, t: &mut Taker<'_, '_>) -> Radiator {
    let blank = RadiatorSheet::default();
    let s = s.unwrap_or(&blank);
    let power_kw = engine.power_w / 1e3;
    Radiator {
        conductance_w_k: t.si(
            "bay.radiator.conductance_w_k",
            s.conductance_w_k.as_ref(),
            about(
                22.0 * power_kw,
                0.6,
                1.4,
                "22 W/K per kW of rated power; estimate",
            )
            .within(500.0, 20e3),
        ),
        face_m2: t.si(
            "bay.radiator.face_cm2",
            s.face_cm2.as_ref(),
            about(
                1200.0 + 9.0 * power_kw,
                0.8,
                1.25,
                "1200 cm2 + 9 cm2 per kW; estimate",
            ),
        ),
        loss_coefficient: t.take(
            "bay.radiator.loss_coefficient",
            s.loss_coefficient.as_ref(),
            guess(6.0, 10.0, 18.0, "core, condenser and grille mesh; estimate"),
        ),
    }
}

fn fan(s: Option<&FanSheet>, radiator: &Radiator, t: &mut Taker<'_, '_>) -> Fan {
    let blank = FanSheet::default();
    let s = s.unwrap_or(&blank);
    let flow = 0.45 * radiator.face_m2 / 0.24;
    let on = t.si(
        "bay.fan.on_c",
        s.on_c.as_ref(),
        guess(96.0, 98.0, 100.0, "common practice, no source"),
    );
    let off = t.si(
        "bay.fan.off_c",
        s.off_c.as_ref(),
        guess(91.0, 93.0, 95.0, "5 K below on"),
    );
    t.must_be_below(
        ("bay.fan.off_c", off - 273.15),
        ("bay.fan.on_c", on - 273.15),
    );
    Fan {
        free_flow_m3_s: t.si(
            "bay.fan.free_flow_m3_s",
            s.free_flow_m3_s.as_ref(),
            about(
                flow,
                0.65,
                1.5,
                "0.45 m3/s on 2400 cm2, scaled by face; estimate",
            ),
        ),
        stall_pressure_pa: t.si(
            "bay.fan.stall_pressure_pa",
            s.stall_pressure_pa.as_ref(),
            guess(120.0, 200.0, 320.0, "single electric fan; estimate"),
        ),
        on_k: on,
        off_k: off,
        run_on_s: t.si(
            "bay.fan.run_on_s",
            s.run_on_s.as_ref(),
            guess(
                0.0,
                120.0,
                300.0,
                "run-on after key-off; common practice, no source",
            ),
        ),
    }
}

/// A usual opening. Areas are for a bay 1.3 m wide and scale with its width; all estimates.
struct Usual {
    name: &'static str,
    from: &'static str,
    to: &'static str,
    area_cm2: (f64, f64, f64),
    discharge: f64,
    /// Height over the bay's height.
    height_share: f64,
    pressure: (f64, f64, f64),
    role: OpeningRole,
}

const fn gap(
    name: &'static str,
    from: &'static str,
    to: &'static str,
    area_cm2: (f64, f64, f64),
    height_share: f64,
) -> Usual {
    let pressure = (0.0, 0.0, 0.0);
    Usual {
        name,
        from,
        to,
        area_cm2,
        discharge: 0.6,
        height_share,
        pressure,
        role: OpeningRole::Gap,
    }
}

const fn outer(usual: Usual, pressure: (f64, f64, f64)) -> Usual {
    Usual { pressure, ..usual }
}

const fn with_role(usual: Usual, role: OpeningRole) -> Usual {
    Usual { role, ..usual }
}

const UNDER: (f64, f64, f64) = (-0.3, -0.15, -0.05);

const USUAL: [Usual; 14] = [
    outer(
        gap("grille", OUTSIDE, "nose", (600.0, 900.0, 1300.0), 0.45),
        (0.55, 0.7, 0.85),
    ),
    // Area follows the radiator's face; its loss coefficient does the throttling.
    with_role(
        gap("radiator", "nose", "front", (0.0, 0.0, 0.0), 0.5),
        OpeningRole::Radiator,
    ),
    gap("radiator bypass", "nose", "front", (20.0, 60.0, 200.0), 0.5),
    gap("slam panel", "nose", "upper", (8.0, 25.0, 80.0), 0.9),
    gap(
        "front to upper",
        "front",
        "upper",
        (500.0, 900.0, 1500.0),
        0.75,
    ),
    gap("front to hot", "front", "hot", (250.0, 600.0, 1100.0), 0.5),
    gap("front to low", "front", "low", (350.0, 700.0, 1200.0), 0.25),
    gap("upper to hot", "upper", "hot", (500.0, 900.0, 1500.0), 0.75),
    gap("hot to low", "hot", "low", (350.0, 700.0, 1200.0), 0.25),
    outer(
        gap("underbody", "low", OUTSIDE, (600.0, 1500.0, 2800.0), 0.0),
        UNDER,
    ),
    outer(
        gap("tunnel", "hot", OUTSIDE, (200.0, 400.0, 700.0), 0.15),
        UNDER,
    ),
    outer(
        gap("wheel arches", "low", OUTSIDE, (120.0, 300.0, 600.0), 0.3),
        (-0.4, -0.2, 0.0),
    ),
    outer(
        gap("bonnet edges", "upper", OUTSIDE, (60.0, 150.0, 300.0), 1.0),
        (-0.1, 0.1, 0.35),
    ),
    with_role(
        gap(
            "bonnet open",
            "upper",
            OUTSIDE,
            (5000.0, 8000.0, 11000.0),
            1.0,
        ),
        OpeningRole::BonnetOpen,
    ),
];

fn role(name: RoleName) -> OpeningRole {
    match name {
        RoleName::Gap => OpeningRole::Gap,
        RoleName::Radiator => OpeningRole::Radiator,
        RoleName::BonnetOpen => OpeningRole::BonnetOpen,
    }
}

fn openings(
    s: &BaySheet,
    size: Size,
    radiator: &Radiator,
    zones: &[Zone],
    t: &mut Taker<'_, '_>,
) -> Vec<Opening> {
    let mut openings = Vec::new();
    for usual in &USUAL {
        let given = s.opening.iter().find(|o| o.name == usual.name);
        openings.push(usual_opening(usual, given, size, radiator, zones, t));
    }
    for given in s
        .opening
        .iter()
        .filter(|o| USUAL.iter().all(|u| u.name != o.name))
    {
        openings.extend(new_opening(given, size, zones, t));
    }
    let cores = openings
        .iter()
        .filter(|o| o.role == OpeningRole::Radiator && o.area_m2 > 0.0);
    let cores = cores.count();
    if cores != 1 {
        let hint = "keep the default one, or close it with area_cm2 = 0 and add yours".to_owned();
        let message = format!("{cores} openings with role radiator");
        t.problem("bay.opening", &message, "1", hint);
    }
    openings.retain(|o| o.area_m2 > 0.0);
    openings
}

fn usual_opening(
    usual: &Usual,
    given: Option<&OpeningSheet>,
    size: Size,
    radiator: &Radiator,
    zones: &[Zone],
    t: &mut Taker<'_, '_>,
) -> Opening {
    let path = format!("bay.opening[{}]", usual.name);
    let key = |name: &str| format!("{path}.{name}");
    let (low, likely, high) = usual.area_cm2;
    let area = if usual.role == OpeningRole::Radiator {
        fixed(radiator.face_m2 * 1e4, "the radiator's face")
    } else {
        let scale = size.width_m / 1.3;
        guess(
            low * scale,
            likely * scale,
            high * scale,
            "usual car, scaled by width; estimate",
        )
    };
    let from = given.and_then(|o| o.from.as_deref()).unwrap_or(usual.from);
    let to = given.and_then(|o| o.to.as_deref()).unwrap_or(usual.to);
    let (from, to) = ends(from, to, &path, zones, t);
    let (low, likely, high) = usual.pressure;
    let pressure = guess(low, likely, high, "order of published car bodies; estimate");
    let height = 1e3 * (super::layout::CLEARANCE_M + usual.height_share * size.height_m);
    let discharge = match usual.role {
        OpeningRole::Radiator => fixed(1.0, "the loss coefficient of the core throttles"),
        _ => guess(
            usual.discharge - 0.05,
            usual.discharge,
            usual.discharge + 0.15,
            "sharp-edged gap",
        ),
    };
    Opening {
        name: usual.name.to_owned(),
        from,
        to,
        area_m2: t.si(
            &key("area_cm2"),
            given.and_then(|o| o.area_cm2.as_ref()),
            area,
        ),
        discharge: t.take(
            &key("discharge"),
            given.and_then(|o| o.discharge.as_ref()),
            discharge,
        ),
        height_m: t.si(
            &key("height_mm"),
            given.and_then(|o| o.height_mm.as_ref()),
            fixed(height, "share of the bay's height"),
        ),
        pressure_coefficient: t.take(
            &key("pressure_coefficient"),
            given.and_then(|o| o.pressure_coefficient.as_ref()),
            pressure,
        ),
        role: given.and_then(|o| o.role).map_or(usual.role, role),
    }
}

fn ends(
    from: &str,
    to: &str,
    path: &str,
    zones: &[Zone],
    t: &mut Taker<'_, '_>,
) -> (Option<usize>, Option<usize>) {
    if from == to {
        let hint = "name two different zones, or a zone and `outside`".to_owned();
        t.problem(
            &format!("{path}.to"),
            "leads to where it comes from",
            "",
            hint,
        );
    }
    (
        zone_or_outside(zones, from, &format!("{path}.from"), t),
        zone_or_outside(zones, to, &format!("{path}.to"), t),
    )
}

fn new_opening(
    s: &OpeningSheet,
    size: Size,
    zones: &[Zone],
    t: &mut Taker<'_, '_>,
) -> Option<Opening> {
    let path = format!("bay.opening[{}]", s.name);
    let key = |name: &str| format!("{path}.{name}");
    let names: Vec<&str> = USUAL.iter().map(|u| u.name).collect();
    let (Some(from), Some(to), Some(area)) = (&s.from, &s.to, &s.area_cm2) else {
        let hint = format!("or adjust a default one: {}", names.join(", "));
        t.problem(&path, "a new opening needs from, to and area_cm2", "", hint);
        return None;
    };
    let (from, to) = ends(from, to, &path, zones, t);
    let outside = from.is_none() || to.is_none();
    let mid = |i: Option<usize>| i.map(|i| zones[i].height_m);
    let height = match (mid(from), mid(to)) {
        (Some(a), Some(b)) => 0.5 * (a + b),
        (Some(a), None) | (None, Some(a)) => a,
        (None, None) => super::layout::CLEARANCE_M + 0.5 * size.height_m,
    };
    let pressure: Guess = if outside {
        guess(-0.3, 0.0, 0.3, "place on the body not known; estimate")
    } else {
        fixed(0.0, "inside the bay")
    };
    Some(Opening {
        name: s.name.clone(),
        from,
        to,
        area_m2: t.given_si(&key("area_cm2"), area),
        discharge: t.take(
            &key("discharge"),
            s.discharge.as_ref(),
            guess(0.55, 0.6, 0.75, "sharp-edged gap"),
        ),
        height_m: t.si(
            &key("height_mm"),
            s.height_mm.as_ref(),
            fixed(1e3 * height, "middle of the zones"),
        ),
        pressure_coefficient: t.take(
            &key("pressure_coefficient"),
            s.pressure_coefficient.as_ref(),
            pressure,
        ),
        role: s.role.map_or(OpeningRole::Gap, role),
    })
}
