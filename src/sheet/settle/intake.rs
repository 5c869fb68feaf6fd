//! Intake route.

use std::f64::consts::PI;

use crate::materials::Finish;
use crate::sheet::build::{Duct, Engine, Intake, IntakePlace, Sensor, Zone};
use crate::sheet::input::Input;
use crate::sheet::problem::mean_or_list;
use crate::sheet::raw::{DuctSheet, FinishName, IntakeSheet, PlaceName, SensorSheet};
use crate::sheet::resolve::{Taker, about, fixed, guess};

use super::{ALUMINIUM, OUTSIDE, PLASTIC, RUBBER, find_metal, zone_index};

/// Settles `[intake]`.
pub(super) fn intake(
    s: Option<&IntakeSheet>,
    engine: &Engine,
    turbo: bool,
    zones: &[Zone],
    t: &mut Taker<'_, '_>,
) -> Intake {
    let blank = IntakeSheet::default();
    let s = s.unwrap_or(&blank);
    let (pickup_outside, pickup_zones) = pickup(s, zones, t);
    let cooler = super::cooler::cooler(s.cooler.as_ref(), engine, turbo, zones, t);
    let ducts = ducts(&s.duct, engine, turbo, cooler.is_some(), zones, t);
    let sensor = sensor(s.sensor.as_ref(), &s.duct, &ducts, cooler.is_some(), t);
    let basis = "hot air collects under the bonnet";
    let standing = t.choice(
        "intake.standing_zone",
        s.standing_zone.clone(),
        ("upper".into(), "upper", basis),
    );
    let loss = if turbo {
        guess(1.5, 3.0, 5.0, "filter and ducts; estimate")
    } else {
        guess(1.0, 2.0, 3.5, "filter and ducts; estimate")
    };
    Intake {
        pickup_outside,
        pickup_zones,
        pickup_standing_share: t.take(
            "intake.pickup_standing_share",
            s.pickup_standing_share.as_ref(),
            guess(
                0.03,
                0.15,
                0.4,
                "air that leaks back to the pickup when standing; estimate",
            ),
        ),
        standing_zone: zone_index(zones, &standing, "intake.standing_zone", t),
        ducts,
        cooler,
        port_w_k: t.si(
            "intake.port_w_k",
            s.port_w_k.as_ref(),
            guess(
                1.5,
                3.0,
                6.0,
                "runner and port in the head, at 0.05 kg/s; estimate",
            ),
        ),
        sensor,
        pressure_loss_pa: t.si(
            "intake.pressure_loss_kpa",
            s.pressure_loss_kpa.as_ref(),
            loss,
        ),
    }
}

/// Shares by zone; what they leave is outside air, so drawn shares always add up to 1.
fn pickup(s: &IntakeSheet, zones: &[Zone], t: &mut Taker<'_, '_>) -> (f64, Vec<(usize, f64)>) {
    let sum: f64 = s.pickup.values().map(|i| i.likely).sum();
    if sum > 1.0 + 1e-9 && t.sound(&["intake.pickup"]) {
        let hint = "shares of one whole: make them add up to 1 or less; the rest is outside air";
        let message = format!("shares add up to {sum:.2}");
        t.problem("intake.pickup", &message, "1", hint.to_owned());
    }
    let mut shares = Vec::new();
    for (name, input) in s.pickup.iter().filter(|(name, _)| name.as_str() != OUTSIDE) {
        let key = format!("intake.pickup.{name}");
        if !zones.iter().any(|z| &z.name == name) {
            let names = zones.iter().map(|z| z.name.as_str()).chain([OUTSIDE]);
            t.problem(&key, "no zone of this name", "", mean_or_list(name, names));
            continue;
        }
        shares.push((zone_index(zones, name, &key, t), t.given(&key, input)));
    }
    if s.pickup.is_empty() {
        let default = guess(
            0.05,
            0.25,
            0.6,
            "pickup behind the grille; rest from outside; estimate",
        );
        let key = "intake.pickup.nose";
        shares.push((
            zone_index(zones, "nose", key, t),
            t.take(key, None, default),
        ));
    }
    let total: f64 = shares.iter().map(|(_, share)| share).sum();
    if total > 1.0 {
        shares.iter_mut().for_each(|(_, share)| *share /= total);
    }
    ((1.0 - total).max(0.0), shares)
}

/// A usual piece of ducting. Bores are for 130 kW and scale with the root of power, so that the
/// air speed stays; all estimates.
struct Usual {
    name: &'static str,
    place: PlaceName,
    bore_mm: f64,
    length_mm: f64,
    /// Inner wall over that of a plain pipe: filter boxes and plenums have more.
    area_factor: f64,
    zone: &'static str,
}

const fn usual(
    name: &'static str,
    place: PlaceName,
    bore_mm: f64,
    length_mm: f64,
    area_factor: f64,
    zone: &'static str,
) -> Usual {
    Usual {
        name,
        place,
        bore_mm,
        length_mm,
        area_factor,
        zone,
    }
}

const SNORKEL: Usual = usual(
    "snorkel",
    PlaceName::BeforeCompressor,
    65.0,
    400.0,
    1.0,
    "front",
);
const FILTER_BOX: Usual = usual(
    "filter box",
    PlaceName::BeforeCompressor,
    120.0,
    250.0,
    2.5,
    "upper",
);
const ATMOSPHERIC: [Usual; 4] = [
    SNORKEL,
    FILTER_BOX,
    usual(
        "intake hose",
        PlaceName::BeforeCompressor,
        65.0,
        450.0,
        1.0,
        "upper",
    ),
    usual("plenum", PlaceName::Plenum, 70.0, 500.0, 2.0, "upper"),
];

const CHARGED: [Usual; 6] = [
    SNORKEL,
    FILTER_BOX,
    usual(
        "intake hose",
        PlaceName::BeforeCompressor,
        60.0,
        500.0,
        1.0,
        "upper",
    ),
    usual("hot pipe", PlaceName::HotSide, 50.0, 700.0, 1.0, "low"),
    usual("cold pipe", PlaceName::ColdSide, 55.0, 700.0, 1.0, "front"),
    usual("plenum", PlaceName::Plenum, 60.0, 400.0, 2.0, "upper"),
];

fn ducts(
    given: &[DuctSheet],
    engine: &Engine,
    turbo: bool,
    cooler: bool,
    zones: &[Zone],
    t: &mut Taker<'_, '_>,
) -> Vec<Duct> {
    if given.is_empty() {
        let list: &[Usual] = if turbo { &CHARGED } else { &ATMOSPHERIC };
        let names: Vec<&str> = list.iter().map(|u| u.name).collect();
        t.choice(
            "intake.duct",
            None,
            ((), names.join(", ").as_str(), "a usual set"),
        );
        let scale = (engine.power_w / 130e3).sqrt();
        return list
            .iter()
            .filter_map(|u| usual_duct(u, scale, zones, t))
            .collect();
    }
    for (i, s) in given.iter().enumerate() {
        let path = format!("intake.duct[{}]", s.name);
        if !turbo && matches!(s.place, PlaceName::HotSide | PlaceName::ColdSide) {
            let hint = "without a turbocharger use before_compressor or plenum".to_owned();
            t.problem(&format!("{path}.place"), "needs a [turbocharger]", "", hint);
        } else if !cooler && s.place == PlaceName::ColdSide {
            let hint = "without a charge cooler all of it is hot_side".to_owned();
            t.problem(&format!("{path}.place"), "needs a charge cooler", "", hint);
        }
        if i > 0 && rank(given[i - 1].place) > rank(s.place) {
            let hint = "order: before_compressor, hot_side, cold_side, plenum".to_owned();
            t.problem(
                &format!("{path}.place"),
                "ducts are out of flow order",
                "",
                hint,
            );
        }
    }
    given
        .iter()
        .filter_map(|s| duct(s, 1.0, 0.6, zones, t))
        .collect()
}

fn rank(place: PlaceName) -> u8 {
    match place {
        PlaceName::BeforeCompressor => 0,
        PlaceName::HotSide => 1,
        PlaceName::ColdSide => 2,
        PlaceName::Plenum => 3,
    }
}

fn usual_duct(u: &Usual, scale: f64, zones: &[Zone], t: &mut Taker<'_, '_>) -> Option<Duct> {
    let path = format!("intake.duct[{}]", u.name);
    let basis = "usual size, bore scaled from 130 kW; estimate";
    let mut number = |name: &str, likely: f64| {
        let value = t.take(
            &format!("{path}.{name}"),
            None,
            about(likely, 0.8, 1.25, basis),
        );
        Input::point(value)
    };
    let s = DuctSheet {
        name: u.name.to_owned(),
        place: u.place,
        bore_mm: number("bore_mm", u.bore_mm * scale),
        length_mm: number("length_mm", u.length_mm),
        wall_mm: None,
        metal: None,
        mass_kg: None,
        inner_area_cm2: None,
        outer_area_cm2: None,
        emissivity: None,
        inner_factor: None,
        zone: Some(u.zone.to_owned()),
        block_w_k: None,
    };
    duct(&s, u.area_factor, 0.8, zones, t)
}

fn duct(
    s: &DuctSheet,
    area_factor: f64,
    spread: f64,
    zones: &[Zone],
    t: &mut Taker<'_, '_>,
) -> Option<Duct> {
    let path = format!("intake.duct[{}]", s.name);
    let key = |name: &str| format!("{path}.{name}");
    let bore_m = t.given_si(&key("bore_mm"), &s.bore_mm);
    let length_m = t.given_si(&key("length_mm"), &s.length_mm);
    let (usual_metal, wall, place, zone) = match s.place {
        PlaceName::BeforeCompressor => (PLASTIC, 2.5, IntakePlace::BeforeCompressor, "upper"),
        PlaceName::HotSide => (RUBBER, 4.0, IntakePlace::HotSide, "low"),
        PlaceName::ColdSide => (RUBBER, 4.0, IntakePlace::ColdSide, "front"),
        PlaceName::Plenum => (ALUMINIUM, 3.5, IntakePlace::Plenum, "upper"),
    };
    let basis = "usual at this place";
    let id = t.choice(
        &key("metal"),
        s.metal.clone(),
        (usual_metal.into(), usual_metal, basis),
    );
    let metal = find_metal(&id, &key("metal"), t);
    let zone = t.choice(&key("zone"), s.zone.clone(), (zone.into(), zone, basis));
    let zone = zone_index(zones, &zone, &key("zone"), t);
    let metal = metal?;
    let wall_m = t.si(
        &key("wall_mm"),
        s.wall_mm.as_ref(),
        about(wall, 0.7, 1.4, "common practice, no source"),
    );
    let inner = 1e4 * PI * bore_m * length_m * area_factor;
    let inner_area_m2 = t.si(
        &key("inner_area_cm2"),
        s.inner_area_cm2.as_ref(),
        if (area_factor - 1.0).abs() < 1e-9 {
            about(inner, 0.95, 1.2, "from bore and length")
        } else {
            about(
                inner,
                spread,
                1.4,
                "from bore and length, more for boxes and runners; estimate",
            )
        },
    );
    let outer = 1e4 * inner_area_m2 * (bore_m + 2.0 * wall_m) / bore_m;
    let emissivity = super::emissivity(metal, Finish::from(FinishName::default()));
    let block = if s.place == PlaceName::Plenum {
        guess(1.0, 4.0, 10.0, "plenum flange with gasket; estimate")
    } else {
        fixed(0.0, "not bolted to the engine")
    };
    Some(Duct {
        name: s.name.clone(),
        place,
        bore_m,
        length_m,
        inner_area_m2,
        outer_area_m2: t.si(
            &key("outer_area_cm2"),
            s.outer_area_cm2.as_ref(),
            about(outer, 0.9, 1.15, "inner area and wall"),
        ),
        wall_m,
        mass_kg: t.si(
            &key("mass_kg"),
            s.mass_kg.as_ref(),
            about(
                1.15 * metal.density_kg_m3.value * inner_area_m2 * wall_m,
                0.85,
                1.3,
                "from area, wall and material",
            ),
        ),
        metal,
        emissivity: t.take(
            &key("emissivity"),
            s.emissivity.as_ref(),
            guess(
                emissivity.low,
                emissivity.likely,
                emissivity.high,
                "table of metals",
            ),
        ),
        inner_factor: t.take(
            &key("inner_factor"),
            s.inner_factor.as_ref(),
            guess(1.0, 1.3, 2.0, "bends, ribs and entry length; estimate"),
        ),
        zone,
        block_w_k: t.si(&key("block_w_k"), s.block_w_k.as_ref(), block),
    })
}

/// `given` are the ducts as written: one with an unknown material isn't among the settled ones.
fn sensor(
    s: Option<&SensorSheet>,
    given: &[DuctSheet],
    ducts: &[Duct],
    cooler: bool,
    t: &mut Taker<'_, '_>,
) -> Sensor {
    const COOLER: &str = "cooler";
    let blank = SensorSheet::default();
    let s = s.unwrap_or(&blank);
    let last = |place| ducts.iter().rposition(|d| d.place == place);
    let usual = last(IntakePlace::ColdSide).or_else(|| last(IntakePlace::BeforeCompressor));
    let after_duct = match s.after.as_deref() {
        Some(COOLER) if cooler => None,
        Some(COOLER) => {
            let hint = "name a duct: the charge cooler isn't there".to_owned();
            t.problem("intake.sensor.after", "no charge cooler", "", hint);
            None
        }
        Some(name) => ducts.iter().position(|d| d.name == name).or_else(|| {
            if given.iter().all(|d| d.name != name) {
                let names = ducts.iter().map(|d| d.name.as_str());
                let names = names.chain(cooler.then_some(COOLER));
                let hint = mean_or_list(name, names);
                t.problem("intake.sensor.after", "no duct of this name", "", hint);
            }
            None
        }),
        None => {
            let index = usual.or(ducts.len().checked_sub(1));
            let name = index
                .and_then(|i| ducts.get(i))
                .map_or(COOLER, |d| d.name.as_str());
            t.choice(
                "intake.sensor.after",
                None,
                ((), name, "last piece before throttle or plenum"),
            );
            index
        }
    };
    Sensor {
        after_duct,
        time_constant_s: t.si(
            "intake.sensor.time_constant_s",
            s.time_constant_s.as_ref(),
            guess(
                3.0,
                10.0,
                20.0,
                "bare bead to plastic body at 10 m/s; estimate",
            ),
        ),
        mount_share: t.take(
            "intake.sensor.mount_share",
            s.mount_share.as_ref(),
            guess(0.02, 0.06, 0.15, "conduction from its boss; estimate"),
        ),
        body_time_constant_s: t.si(
            "intake.sensor.body_time_constant_s",
            s.body_time_constant_s.as_ref(),
            guess(40.0, 120.0, 300.0, "plastic body in its boss; estimate"),
        ),
        body_bay_share: t.take(
            "intake.sensor.body_bay_share",
            s.body_bay_share.as_ref(),
            guess(0.1, 0.3, 0.6, "its plug stands in the bay; estimate"),
        ),
        film_k: t.take(
            "intake.sensor.film_k",
            s.film_k.as_ref(),
            fixed(0.0, "not in a heated air flow meter"),
        ),
        log_delay_s: t.si(
            "intake.sensor.log_delay_s",
            s.log_delay_s.as_ref(),
            fixed(0.0, "no log"),
        ),
        log_offset_k: t.take(
            "intake.sensor.log_offset_k",
            s.log_offset_k.as_ref(),
            fixed(0.0, "no log"),
        ),
    }
}
