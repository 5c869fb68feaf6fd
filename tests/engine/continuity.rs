//! A little more demand gives a little more of everything.

use baysoak::cycle::{Demand, Load};
use baysoak::engine::operating::OperatingPoint;

use crate::fixture::{all, at_rpm, demand, warm};

/// The first quantity that moves by more than a twentieth.
fn jump(before: &OperatingPoint, now: &OperatingPoint) -> Option<&'static str> {
    // against all the work inside the engine: near the fuel cut, fuel alone is close to nothing
    let work = |p: &OperatingPoint| p.fuel_power_w.max(p.motoring_w).max(p.friction_w / 0.4);
    let scale = work(before).max(work(now));
    let far = |a: f64, b: f64, of: f64| (a - b).abs() > 0.05 * of;
    let air = before.air_flow_kg_s.max(now.air_flow_kg_s);
    [
        ("air", far(before.air_flow_kg_s, now.air_flow_kg_s, air)),
        ("fuel", far(before.fuel_power_w, now.fuel_power_w, scale)),
        ("brake", far(before.brake_power_w, now.brake_power_w, scale)),
        ("friction", far(before.friction_w, now.friction_w, scale)),
        (
            "coolant",
            far(before.cylinder_heat_w, now.cylinder_heat_w, scale),
        ),
        ("gas", far(before.gas_heat_w, now.gas_heat_w, scale)),
        ("unburnt", far(before.unburnt_w, now.unburnt_w, scale)),
    ]
    .into_iter()
    .find_map(|(what, is)| is.then_some(what))
}

#[test]
fn nothing_jumps_with_full_load_share_at_a_given_engine_speed() {
    for build in all() {
        for rpm in [1000.0, 2000.0, 3500.0] {
            let at = |x: f64| warm(&build, &at_rpm(rpm, Load::FullLoadShare(x)));
            let mut share = 0.02;
            let mut before = at(share);
            while share < 1.0 {
                share *= 1.005;
                let now = at(share);
                assert_eq!(
                    jump(&before, &now),
                    None,
                    "{}, {rpm} rpm, {share}",
                    build.title
                );
                before = now;
            }
        }
    }
}

#[test]
fn nothing_jumps_with_speed_but_where_gear_or_fuel_cut_changes() {
    for build in all() {
        for acceleration_m_s2 in [-0.4, 0.0, 0.5] {
            let at = |kmh: f64| {
                warm(
                    &build,
                    &Demand {
                        acceleration_m_s2,
                        ..demand(kmh, Load::Road)
                    },
                )
            };
            let (mut kmh, mut compared) = (10.0, 0);
            let mut before = at(kmh);
            while kmh < 150.0 {
                kmh *= 1.005;
                let now = at(kmh);
                let same_gear = (now.rpm / before.rpm - 1.0).abs() < 0.01;
                if same_gear && now.fuel_cut == before.fuel_cut {
                    compared += 1;
                    let what = format!("{} at {kmh} km/h, {acceleration_m_s2}", build.title);
                    assert_eq!(jump(&before, &now), None, "{what}\n{before:?}\n{now:?}");
                }
                before = now;
            }
            assert!(
                compared > 450,
                "{}: only {compared} steps compared",
                build.title
            );
        }
    }
}

#[test]
fn nothing_jumps_with_measured_air_or_manifold_pressure() {
    for build in all() {
        let rpm = 2500.0;
        for as_load in [Load::ManifoldPressure as fn(f64) -> Load, Load::AirFlow] {
            let most = warm(&build, &at_rpm(rpm, Load::FullLoadShare(1.0)));
            let top = match as_load(1.0) {
                Load::AirFlow(_) => most.air_flow_kg_s,
                _ => most.manifold_pressure_pa,
            };
            let at = |x: f64| warm(&build, &at_rpm(rpm, as_load(x * top)));
            let mut x = 0.3;
            let mut before = at(x);
            while x < 1.2 {
                x *= 1.005;
                let now = at(x);
                if now.fuel_cut == before.fuel_cut {
                    assert_eq!(jump(&before, &now), None, "{} at {x} of {top}", build.title);
                }
                before = now;
            }
        }
    }
}
