//! Engine, car and turbocharger.

use std::f64::consts::PI;

use crate::physics::exhaust_gas::Fuel;
use crate::sheet::build::{Car, Engine};
use crate::sheet::input::Input;
use crate::sheet::raw::{CarSheet, EngineSheet, FuelName};
use crate::sheet::resolve::{Taker, about, fixed, guess};
use crate::sheet::units::{short, to_si};

/// Watts from torque and engine speed: P = 2 pi T n / 60.
fn power_w(torque_nm: f64, rpm: f64) -> f64 {
    torque_nm * rpm * PI / 30.0
}

/// Settles `[engine]`.
pub(super) fn engine(s: &EngineSheet, turbo: bool, t: &mut Taker<'_, '_>) -> Engine {
    let (fuel, diesel) = match s.fuel {
        FuelName::Petrol => (Fuel::Petrol, false),
        FuelName::Diesel => (Fuel::Diesel, true),
        FuelName::E85 => (Fuel::E85, false),
    };
    let displacement_m3 = t.given_si("engine.displacement_l", &s.displacement_l);
    let litres = displacement_m3 * 1e3;
    let rated_w = t.given_si("engine.power_kw", &s.power_kw);
    let torque_nm = t.given_si("engine.torque_nm", &s.torque_nm);
    let cylinders = s.cylinders.max(1);

    let least_rpm = rated_w / (torque_nm * PI / 30.0);
    let usual: f64 = if diesel {
        3800.0
    } else if turbo {
        5500.0
    } else {
        6500.0
    };
    let default = guess(
        (0.9 * usual).max(1.02 * least_rpm),
        usual.max(1.08 * least_rpm),
        (1.1 * usual).max(1.2 * least_rpm),
        "usual for this kind of engine, and high enough for the power at this torque; estimate",
    );
    let power_rpm = t.take("engine.power_rpm", s.power_rpm.as_ref(), default);
    let torque_default = if diesel {
        guess(1500.0, 1800.0, 2200.0, "turbo diesel; estimate")
    } else if turbo {
        guess(1500.0, 1900.0, 2800.0, "turbocharged petrol; estimate")
    } else {
        about(
            0.68 * power_rpm,
            0.8,
            1.2,
            "0.68 of the rated speed, no turbo; estimate",
        )
    };
    let torque_rpm = t.take("engine.torque_rpm", s.torque_rpm.as_ref(), torque_default);
    check_power(s, rated_w, power_rpm, torque_nm, t);
    check_torque(s, torque_nm, t);
    t.must_be_below(
        ("engine.torque_rpm", torque_rpm),
        ("engine.power_rpm", power_rpm),
    );

    let idle_rpm = t.take(
        "engine.idle_rpm",
        s.idle_rpm.as_ref(),
        guess(700.0, 800.0, 900.0, "warm idle, common practice, no source"),
    );
    let redline_rpm = t.take(
        "engine.redline_rpm",
        s.redline_rpm.as_ref(),
        about(
            1.12 * power_rpm,
            0.95,
            1.07,
            "1.12 of the rated speed; estimate",
        ),
    );
    if s.redline_rpm.is_some() {
        let limit = ("engine.redline_rpm", redline_rpm * (1.0 + 1e-9) + 1e-6);
        t.must_be_below(("engine.power_rpm", power_rpm), limit);
    }
    t.must_be_below(
        ("engine.idle_rpm", idle_rpm),
        ("engine.torque_rpm", torque_rpm),
    );

    let square_bore_mm = 1e3 * (4.0 * displacement_m3 / (PI * f64::from(cylinders))).cbrt();
    let bore_m = t.si(
        "engine.bore_mm",
        s.bore_mm.as_ref(),
        about(square_bore_mm, 0.93, 1.1, "bore equal to stroke; estimate"),
    );

    let full = if diesel {
        guess(1.2, 1.35, 1.5, "diesel smoke limit; estimate")
    } else if turbo {
        guess(
            0.80,
            0.93,
            1.0,
            "rich at full load to hold the turbine inlet; estimate",
        )
    } else {
        guess(0.86, 0.93, 0.95, "rich for best power; estimate")
    };
    let efficiency = if diesel {
        guess(0.42, 0.45, 0.48, "direct injection diesel; estimate")
    } else {
        guess(0.34, 0.37, 0.40, "spark ignition; estimate")
    };
    let unburnt = if diesel {
        guess(0.002, 0.005, 0.01, "lean; estimate")
    } else {
        guess(0.015, 0.025, 0.04, "warm engine, stoichiometric; estimate")
    };
    let (mass, aluminium) = if diesel {
        (
            about(
                60.0 + 50.0 * litres,
                0.75,
                1.3,
                "60 kg + 50 kg per litre; estimate",
            ),
            0.45,
        )
    } else {
        (
            about(
                45.0 + 35.0 * litres,
                0.75,
                1.3,
                "45 kg + 35 kg per litre; estimate",
            ),
            0.7,
        )
    };
    let (open, full_open) = (
        t.si(
            "engine.thermostat_open_c",
            s.thermostat_open_c.as_ref(),
            guess(
                85.0,
                88.0,
                91.0,
                "usual wax thermostat, common practice, no source",
            ),
        ),
        t.si(
            "engine.thermostat_full_c",
            s.thermostat_full_c.as_ref(),
            guess(
                97.0,
                100.0,
                103.0,
                "12 K above opening, common practice, no source",
            ),
        ),
    );
    t.must_be_below(
        ("engine.thermostat_open_c", open - 273.15),
        ("engine.thermostat_full_c", full_open - 273.15),
    );
    let oil_cooler = if turbo || diesel {
        guess(
            50.0,
            150.0,
            300.0,
            "oil cooler in the coolant, usual with a turbo; estimate",
        )
    } else {
        fixed(0.0, "no oil cooler")
    };
    let lambda_part = if diesel {
        fixed(1.0, "unused: a diesel's lambda follows from its load")
    } else {
        guess(0.99, 1.0, 1.01, "closed loop on a three-way catalyst")
    };
    let block_area = 0.65 * litres.powf(2.0 / 3.0);
    let size = (litres / 1.6).powf(2.0 / 3.0);
    Engine {
        fuel,
        diesel,
        displacement_m3,
        cylinders,
        bore_m,
        power_w: rated_w,
        power_rpm,
        torque_nm,
        torque_rpm,
        idle_rpm,
        redline_rpm: redline_rpm.max(power_rpm),
        lambda_part_load: t.take(
            "engine.lambda_part_load",
            s.lambda_part_load.as_ref(),
            lambda_part,
        ),
        lambda_full_load: t.take("engine.lambda_full_load", s.lambda_full_load.as_ref(), full),
        indicated_efficiency: t.take(
            "engine.indicated_efficiency",
            s.indicated_efficiency.as_ref(),
            efficiency,
        ),
        volumetric_efficiency: t.take(
            "engine.volumetric_efficiency",
            s.volumetric_efficiency.as_ref(),
            guess(0.8, 0.9, 1.0, "on manifold density; estimate"),
        ),
        cylinder_heat_factor: t.take(
            "engine.cylinder_heat_factor",
            s.cylinder_heat_factor.as_ref(),
            guess(
                0.8,
                1.0,
                1.2,
                "spread between engines of the heat loss correlation; estimate",
            ),
        ),
        unburnt_share: t.take("engine.unburnt_share", s.unburnt_share.as_ref(), unburnt),
        block_mass_kg: t.si("engine.block_mass_kg", s.block_mass_kg.as_ref(), mass),
        block_aluminium_share: t.take(
            "engine.block_aluminium_share",
            s.block_aluminium_share.as_ref(),
            guess(aluminium - 0.25, aluminium, aluminium + 0.2, "estimate"),
        ),
        block_area_m2: t.si(
            "engine.block_area_m2",
            s.block_area_m2.as_ref(),
            about(
                block_area,
                0.7,
                1.5,
                "0.65 m2 at one litre, with its power 2/3; estimate",
            ),
        ),
        block_emissivity: t.take(
            "engine.block_emissivity",
            s.block_emissivity.as_ref(),
            guess(
                0.3,
                0.6,
                0.85,
                "cast aluminium, oily and partly covered; estimate",
            ),
        ),
        coolant_m3: t.si(
            "engine.coolant_l",
            s.coolant_l.as_ref(),
            about(
                4.0 + 1.5 * litres,
                0.8,
                1.3,
                "4 l + 1.5 l per litre; estimate",
            ),
        ),
        oil_m3: t.si(
            "engine.oil_l",
            s.oil_l.as_ref(),
            about(
                2.0 + 1.6 * litres,
                0.85,
                1.2,
                "2 l + 1.6 l per litre; estimate",
            ),
        ),
        thermostat_open_k: open,
        thermostat_full_k: full_open,
        coolant_block_w_k: t.si(
            "engine.coolant_block_w_k",
            s.coolant_block_w_k.as_ref(),
            about(2000.0 * size, 0.6, 1.75, "2000 W/K at 1.6 l; estimate"),
        ),
        oil_block_w_k: t.si(
            "engine.oil_block_w_k",
            s.oil_block_w_k.as_ref(),
            about(100.0 * size, 0.6, 1.5, "100 W/K at 1.6 l; estimate"),
        ),
        oil_coolant_w_k: t.si(
            "engine.oil_coolant_w_k",
            s.oil_coolant_w_k.as_ref(),
            oil_cooler,
        ),
        cabin_heater_w_k: t.si(
            "engine.cabin_heater_w_k",
            s.cabin_heater_w_k.as_ref(),
            guess(
                0.0,
                70.0,
                120.0,
                "walls, glass and fresh air of a cabin: 2 kW at -10 degC; estimate",
            ),
        ),
        retard_share_per_k: 0.01
            * t.take(
                "engine.retard_percent_per_k",
                s.retard_percent_per_k.as_ref(),
                fixed(
                    0.0,
                    "off; 0.1 to 0.2 is common practice on boosted petrol engines, no source",
                ),
            ),
        retard_above_k: t.si(
            "engine.retard_above_c",
            s.retard_above_c.as_ref(),
            guess(40.0, 45.0, 55.0, "common practice, no source"),
        ),
        stop_start: t.choice(
            "engine.stop_start",
            s.stop_start,
            (false, "false", "none named"),
        ),
    }
}

/// Rated power can't need more torque than the peak.
fn check_power(s: &EngineSheet, rated_w: f64, rpm: f64, torque: f64, t: &mut Taker<'_, '_>) {
    let most_kw = power_w(torque, rpm) / 1e3;
    let (power_kw, limit) = (rated_w / 1e3, short(most_kw));
    if !t.sound(&["engine.power_kw", "engine.torque_nm", "engine.power_rpm"]) {
        return;
    }
    if power_kw > 1.03 * most_kw {
        let needed = rated_w / (torque * PI / 30.0);
        let hint = format!(
            "{} Nm at {} rpm is {limit} kW; this power at this torque needs {} rpm or more",
            short(torque),
            short(rpm),
            short(needed)
        );
        t.problem(
            "engine.power_kw",
            "more than the torque allows",
            &limit,
            hint,
        );
    } else if s.power_rpm.is_none() && rpm > 10_000.0 {
        let hint = format!("it needs {} rpm; check both, or give power_rpm", short(rpm));
        t.problem(
            "engine.torque_nm",
            "too little for the power",
            "10000 rpm",
            hint,
        );
    } else if power_kw < 0.3 * most_kw {
        let hint = format!("{} Nm at {} rpm is {limit} kW", short(torque), short(rpm));
        t.problem(
            "engine.power_kw",
            "far less than the torque gives",
            &limit,
            hint,
        );
    }
}

/// Peak torque must be one that the displacement can give.
fn check_torque(s: &EngineSheet, torque: f64, t: &mut Taker<'_, '_>) {
    if !t.sound(&["engine.torque_nm", "engine.displacement_l"]) {
        return;
    }
    // Brake mean effective pressure of a four-stroke: 4 pi T / V.
    let bmep_kpa =
        4.0 * PI * torque / (to_si("engine.displacement_l", s.displacement_l.likely) * 1e3);
    if bmep_kpa > 4500.0 {
        let hint = format!(
            "mean pressure would be {} kPa; is it in cc or Nm?",
            short(bmep_kpa)
        );
        t.problem(
            "engine.torque_nm",
            "too much for the displacement",
            "4500 kPa mean",
            hint,
        );
    } else if bmep_kpa < 350.0 {
        let hint = format!("mean pressure would be only {} kPa", short(bmep_kpa));
        t.problem(
            "engine.torque_nm",
            "too little for the displacement",
            "350 kPa mean",
            hint,
        );
    }
}

/// Settles `[car]`.
pub(super) fn car(s: Option<&CarSheet>, engine: &Engine, t: &mut Taker<'_, '_>) -> Car {
    let blank = CarSheet::default();
    let s = s.unwrap_or(&blank);
    let power_kw = engine.power_w / 1e3;
    let mass_kg = t.si(
        "car.mass_kg",
        s.mass_kg.as_ref(),
        about(
            1100.0 + 3.0 * power_kw,
            0.8,
            1.25,
            "1100 kg + 3 kg per kW, laden; estimate",
        ),
    );
    let drag_area_m2 = t.si(
        "car.drag_area_m2",
        s.drag_area_m2.as_ref(),
        guess(0.56, 0.66, 0.8, "drag coefficient 0.30 on 2.2 m2; estimate"),
    );
    let rolling_resistance = t.take(
        "car.rolling_resistance",
        s.rolling_resistance.as_ref(),
        guess(0.008, 0.011, 0.014, "car tyres on asphalt; estimate"),
    );
    let driveline_efficiency = t.take(
        "car.driveline_efficiency",
        s.driveline_efficiency.as_ref(),
        guess(0.88, 0.92, 0.95, "manual gearbox and final drive; estimate"),
    );
    let top_m_s = top_speed_m_s(
        driveline_efficiency * engine.power_w,
        mass_kg,
        drag_area_m2,
        rolling_resistance,
    );
    let gears = gears(s.kmh_per_1000_rpm.as_deref(), top_m_s, engine, t);
    Car {
        mass_kg,
        drag_area_m2,
        rolling_resistance,
        gear_m_s_per_rpm: gears,
        driveline_efficiency,
        accessory_w: t.si(
            "car.accessory_w",
            s.accessory_w.as_ref(),
            guess(
                200.0,
                350.0,
                800.0,
                "electrical load, no air conditioning; estimate",
            ),
        ),
    }
}

/// Speed where wheel power meets road load, by bisection [m/s]. Air at 1.2 kg/m3.
fn top_speed_m_s(wheel_w: f64, mass_kg: f64, drag_area_m2: f64, rolling: f64) -> f64 {
    let road_w = |v: f64| (mass_kg * 9.81 * rolling + 0.6 * drag_area_m2 * v * v) * v;
    let (mut low, mut high) = (1.0, 150.0);
    for _ in 0..50 {
        let mid = 0.5 * (low + high);
        if road_w(mid) < wheel_w {
            low = mid
        } else {
            high = mid
        }
    }
    0.5 * (low + high)
}

/// Gears in m/s per rpm, lowest first.
fn gears(
    given: Option<&[Input]>,
    top_m_s: f64,
    engine: &Engine,
    t: &mut Taker<'_, '_>,
) -> Vec<f64> {
    const KEY: &str = "car.kmh_per_1000_rpm";
    if let Some(given) = given {
        if given.is_empty() || given.len() > 12 {
            let hint = "speed at 1000 rpm in each gear, lowest first".to_owned();
            t.problem(KEY, "must have 1 to 12 gears", "1 to 12", hint);
        }
        if given
            .windows(2)
            .any(|pair| pair[0].likely >= pair[1].likely)
        {
            let hint = "speed at 1000 rpm in each gear, lowest first".to_owned();
            t.problem(KEY, "gears don't rise", "rising", hint);
        }
        let key = |i: usize| format!("{KEY}[{}]", i + 1);
        return given
            .iter()
            .enumerate()
            .map(|(i, g)| t.given_si(&key(i), g))
            .collect();
    }
    // Longest gear: top speed just below rated engine speed, so that it is reached in it.
    let top_kmh = top_m_s * 3.6 / (0.97 * engine.power_rpm / 1e3);
    let basis = "top gear: top speed just below rated engine speed; spread 4.4 over 5 gears, \
                 5.4 over 6; estimate";
    let top = to_si(KEY, t.take(KEY, None, about(top_kmh, 0.92, 1.15, basis)));
    let (count, spread) = if engine.power_w > 80e3 {
        (6u32, 5.4f64)
    } else {
        (5, 4.4)
    };
    (0..count)
        .map(|i| {
            let up = f64::from(i) / f64::from(count - 1);
            // Steps get smaller upwards, as in common gearboxes: exponent below 1.
            top * spread.powf(up.powf(0.8) - 1.0)
        })
        .collect()
}
