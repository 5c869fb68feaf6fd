//! The energy split closes and stays physical, whatever is asked.

use baysoak::cycle::{Demand, EngineState, Load};
use baysoak::engine::operating::{OperatingPoint, operating_point};
use baysoak::sheet::build::Build;
use proptest::prelude::*;

use crate::fixture::{all, demand, port_gas_k};

/// Everything that must hold at any point; says what does not.
fn flaw(build: &Build, p: &OperatingPoint, charge_k: f64) -> Option<String> {
    let numbers = [
        p.rpm,
        p.brake_power_w,
        p.accessories_w,
        p.motoring_w,
        p.torque_share,
        p.air_flow_kg_s,
        p.fuel_flow_kg_s,
        p.exhaust_flow_kg_s,
        p.lambda,
        p.manifold_pressure_pa,
        p.compressor_pressure_ratio,
        p.fuel_power_w,
        p.friction_w,
        p.cylinder_heat_w,
        p.unburnt_w,
        p.gas_heat_w,
    ];
    if numbers.iter().any(|x| !x.is_finite()) {
        return Some("not finite".into());
    }
    if p.balance_residual_w().abs() > 1e-6 * p.fuel_power_w.max(1.0) {
        return Some(format!("balance open by {} W", p.balance_residual_w()));
    }
    let mass = p.air_flow_kg_s + p.fuel_flow_kg_s - p.exhaust_flow_kg_s;
    if mass.abs() > 1e-12 {
        return Some(format!("mass open by {mass} kg/s"));
    }
    let least = p
        .air_flow_kg_s
        .min(p.fuel_flow_kg_s)
        .min(p.exhaust_flow_kg_s);
    let least_w = p
        .brake_power_w
        .min(p.motoring_w)
        .min(p.friction_w)
        .min(p.unburnt_w);
    if least < 0.0 || least_w < 0.0 || p.gas_heat_w < 0.0 || p.manifold_pressure_pa < 0.0 {
        return Some("below zero".into());
    }
    if p.air_flow_kg_s <= 0.0 {
        return Some("a turning engine without air".into());
    }
    let gas_k = port_gas_k(build, p, charge_k);
    // fresh air and exhaust air come from two property fits that differ by a few mK
    if !(charge_k - 0.02..=1400.0 + 0.02).contains(&gas_k) {
        return Some(format!("port gas {gas_k} K"));
    }
    None
}

fn check(build: &Build, d: &Demand, charge_k: f64, coolant_k: f64) -> Result<(), String> {
    let p = operating_point(build, d, charge_k, coolant_k);
    flaw(build, &p, charge_k).map_or(Ok(()), |f| {
        Err(format!(
            "{}: {f}\n{d:?}\ncharge {charge_k}, coolant {coolant_k}\n{p:?}",
            build.title
        ))
    })
}

#[test]
fn verify_energy_closes_over_a_grid() {
    for build in all() {
        let full_w = build.engine.power_w;
        let mut loads = vec![Load::Road];
        loads.extend((-4..=12).map(|i| Load::Power(0.1 * f64::from(i) * full_w)));
        loads.extend((0..=10).map(|i| Load::FullLoadShare(0.1 * f64::from(i))));
        loads.extend((1..=12).map(|i| Load::ManifoldPressure(2e4 * f64::from(i))));
        loads.extend((1..=10).map(|i| Load::AirFlow(0.02 * f64::from(i) * full_w / 1e5)));
        for load in loads {
            for kmh in [0.0, 20.0, 60.0, 110.0, 180.0] {
                for rpm in [None, Some(500.0), Some(1500.0), Some(3500.0), Some(9000.0)] {
                    for (charge_k, coolant_k) in [(250.0, 250.0), (308.0, 363.0), (420.0, 400.0)] {
                        for acceleration_m_s2 in [-3.0, 0.0, 2.0] {
                            let d = Demand {
                                rpm,
                                acceleration_m_s2,
                                ..demand(kmh, load)
                            };
                            check(&build, &d, charge_k, coolant_k).unwrap();
                        }
                    }
                }
            }
        }
    }
}

fn any_load() -> impl Strategy<Value = Load> {
    prop_oneof![
        Just(Load::Road),
        (-5e4..4e5).prop_map(Load::Power),
        (1e4..3e5).prop_map(Load::ManifoldPressure),
        (1e-4..0.4).prop_map(Load::AirFlow),
        (0.0..=1.0).prop_map(Load::FullLoadShare),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 3000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn verify_energy_closes_for_any_demand(
        load in any_load(),
        kmh in 0.0..250.0,
        acceleration_m_s2 in -8.0..6.0,
        grade in -0.3..0.3,
        rpm in proptest::option::of(300.0..9000.0),
        charge_k in 250.0..420.0,
        coolant_k in 250.0..400.0,
    ) {
        for build in all_once() {
            let d = Demand { acceleration_m_s2, grade, rpm, ..demand(kmh, load) };
            let checked = check(build, &d, charge_k, coolant_k);
            prop_assert!(checked.is_ok(), "{}", checked.unwrap_err());
        }
    }
}

fn all_once() -> &'static [Build] {
    static BUILDS: std::sync::OnceLock<Vec<Build>> = std::sync::OnceLock::new();
    BUILDS.get_or_init(all)
}

#[test]
fn an_engine_that_is_off_neither_breathes_nor_heats() {
    for build in all() {
        for load in [Load::Road, Load::Power(5e4), Load::AirFlow(0.1)] {
            let d = Demand {
                engine: EngineState::Off,
                ..demand(90.0, load)
            };
            let p = operating_point(&build, &d, 330.0, 360.0);
            let expected = OperatingPoint {
                lambda: 1.0,
                compressor_pressure_ratio: 1.0,
                manifold_pressure_pa: build.day.pressure_pa,
                ..OperatingPoint::default()
            };
            assert_eq!(p, expected, "{}", build.title);
        }
    }
}
