//! Turbocharger.

use std::f64::consts::PI;

use crate::materials::limit;
use crate::sheet::build::{Day, Engine, Turbo, Zone};
use crate::sheet::raw::TurboSheet;
use crate::sheet::resolve::{Guess, Taker, about, fixed, guess};
use crate::sheet::units::short;

use super::zone_index;

/// Settles `[turbocharger]`.
pub(super) fn turbo(
    s: &TurboSheet,
    engine: &Engine,
    zones: &[Zone],
    day: &Day,
    t: &mut Taker<'_, '_>,
) -> Turbo {
    // Mean effective pressure of an engine breathing at 100 kPa, charge cooled: about 11.5 bar
    // petrol, 9 bar diesel at its smoke limit. Estimate.
    let bmep_pa = 4.0 * PI * engine.torque_nm / engine.displacement_m3;
    let at_one_bar = if engine.diesel { 9e5 } else { 11.5e5 };
    let needed_kpa = 100.0 * bmep_pa / at_one_bar;
    let boost_kpa = (needed_kpa - 100.0).max(20.0);
    let boost_pa = t.si(
        "turbocharger.boost_kpa",
        s.boost_kpa.as_ref(),
        about(
            boost_kpa,
            0.75,
            1.3,
            "from peak torque and displacement; estimate",
        )
        .within(5.0, 400.0),
    );
    let manifold_kpa = (day.pressure_pa + boost_pa) / 1e3;
    let sound = t.sound(&[
        "turbocharger.boost_kpa",
        "engine.torque_nm",
        "engine.displacement_l",
        "day.pressure_kpa",
    ]);
    if sound && s.boost_kpa.is_some() && !(0.6..=1.9).contains(&(manifold_kpa / needed_kpa)) {
        let limit = format!("about {} kPa", short(boost_kpa));
        let hint = format!(
            "{} Nm from this displacement needs {limit}",
            short(engine.torque_nm)
        );
        t.problem(
            "turbocharger.boost_kpa",
            "doesn't go with the torque",
            &limit,
            hint,
        );
    }
    let water = t.choice(
        "turbocharger.water_cooled",
        s.water_cooled,
        (true, "true", "usual"),
    );
    let water_default = if water {
        guess(15.0, 40.0, 100.0, "water flowing; estimate")
    } else {
        fixed(0.0, "not water cooled")
    };
    if !water && s.bearing_water_w_k.is_some_and(|w| w.likely > 0.0) {
        let hint = "set it to 0 or drop water_cooled = false".to_owned();
        let message = "needs a water cooled bearing housing";
        t.problem("turbocharger.bearing_water_w_k", message, "0", hint);
    }
    let zone = t.choice(
        "turbocharger.zone",
        s.zone.clone(),
        ("hot".into(), "hot", "at the exhaust"),
    );
    // Frame size goes with air flow, so with power: masses and areas scale from 120 kW.
    let size = engine.power_w / 120e3;
    let mass = |kg: f64| {
        about(
            kg * size.powf(0.75),
            0.6,
            1.6,
            "scaled from a 120 kW engine; estimate",
        )
    };
    let area = |low: f64, likely: f64, high: f64| {
        let scale = size.sqrt();
        guess(
            low * scale,
            likely * scale,
            high * scale,
            "scaled from a 120 kW engine; estimate",
        )
    };
    Turbo {
        boost_pa,
        boost_rpm: t.take(
            "turbocharger.boost_rpm",
            s.boost_rpm.as_ref(),
            about(
                engine.torque_rpm,
                0.9,
                1.25,
                "speed of peak torque; estimate",
            ),
        ),
        most_pressure_ratio: t.take(
            "turbocharger.most_pressure_ratio",
            s.most_pressure_ratio.as_ref(),
            about(
                1.2 * (1.0 + boost_pa / 100e3),
                0.93,
                1.2,
                "a fifth over that of the boost at sea level, pressure losses in it; estimate",
            ),
        ),
        compressor_efficiency: t.take(
            "turbocharger.compressor_efficiency",
            s.compressor_efficiency.as_ref(),
            guess(0.60, 0.70, 0.78, "usual in textbooks"),
        ),
        mechanical_efficiency: t.take(
            "turbocharger.mechanical_efficiency",
            s.mechanical_efficiency.as_ref(),
            guess(0.90, 0.95, 0.98, "estimate"),
        ),
        idle_pressure_ratio: t.take(
            "turbocharger.idle_pressure_ratio",
            s.idle_pressure_ratio.as_ref(),
            guess(1.0, 1.02, 1.05, "estimate"),
        ),
        bearing_mass_kg: t.si(
            "turbocharger.bearing_mass_kg",
            s.bearing_mass_kg.as_ref(),
            mass(1.8),
        ),
        compressor_mass_kg: t.si(
            "turbocharger.compressor_mass_kg",
            s.compressor_mass_kg.as_ref(),
            mass(1.5),
        ),
        compressor_area_m2: t.si(
            "turbocharger.compressor_area_cm2",
            s.compressor_area_cm2.as_ref(),
            area(200.0, 400.0, 600.0),
        ),
        bearing_area_m2: t.si(
            "turbocharger.bearing_area_cm2",
            s.bearing_area_cm2.as_ref(),
            area(80.0, 150.0, 250.0),
        ),
        turbine_bearing_w_k: t.si(
            "turbocharger.turbine_bearing_w_k",
            s.turbine_bearing_w_k.as_ref(),
            guess(
                2.0,
                5.0,
                12.0,
                "estimate, order of published test bench models",
            ),
        ),
        bearing_compressor_w_k: t.si(
            "turbocharger.bearing_compressor_w_k",
            s.bearing_compressor_w_k.as_ref(),
            guess(
                3.0,
                8.0,
                20.0,
                "estimate, order of published test bench models",
            ),
        ),
        bearing_oil_w_k: t.si(
            "turbocharger.bearing_oil_w_k",
            s.bearing_oil_w_k.as_ref(),
            guess(10.0, 25.0, 60.0, "oil flowing; estimate"),
        ),
        bearing_water_w_k: t.si(
            "turbocharger.bearing_water_w_k",
            s.bearing_water_w_k.as_ref(),
            water_default,
        ),
        compressor_charge_w_k: t.si(
            "turbocharger.compressor_charge_w_k",
            s.compressor_charge_w_k.as_ref(),
            guess(2.0, 5.0, 10.0, "estimate"),
        ),
        zone: zone_index(zones, &zone, "turbocharger.zone", t),
        oil_coking_k: t.si(
            "turbocharger.oil_coking_c",
            s.oil_coking_c.as_ref(),
            oil_coking(),
        ),
    }
}

fn oil_coking() -> Guess {
    limit("bearing-oil").map_or(fixed(f64::INFINITY, "no limit known"), |l| {
        let c = &l.limit_c;
        guess(c.low, c.likely, c.high, c.source.as_str())
    })
}
