//! Air through the bay.

use super::*;
use baysoak::network::ventilation::{Airflow, Drive, Ventilation};
use baysoak::sheet::build::OpeningRole;

/// Standing, cold and closed.
fn still<'a>(build: &Build, zone_k: &'a [f64], taken_kg_s: &'a [f64]) -> Drive<'a> {
    Drive {
        speed_m_s: 0.0,
        wind_m_s: 0.0,
        ambient_k: build.day.ambient_k,
        pressure_pa: build.day.pressure_pa,
        fan: 0.0,
        bonnet_open: false,
        zone_k,
        taken_kg_s,
    }
}

/// Mass that comes out of nowhere, per zone [kg/s].
fn imbalance(build: &Build, flow: &Airflow, taken_kg_s: &[f64]) -> f64 {
    let mut net: Vec<f64> = taken_kg_s.iter().map(|t| -t).collect();
    for (opening, &m) in build.bay.openings.iter().zip(&flow.flow_kg_s) {
        if let Some(z) = opening.from {
            net[z] -= m;
        }
        if let Some(z) = opening.to {
            net[z] += m;
        }
    }
    net.into_iter()
        .fold(0.0, |worst: f64, m| worst.max(m.abs()))
}

#[test]
fn mass_balances_whatever_drives_it() {
    let mut draws = Draws(11);
    for (car, sheet) in cars() {
        let build = settled(&sheet).build;
        let zones = build.bay.zones.len();
        let mut solver = Ventilation::new(&build.bay);
        let mut flow = Airflow::default();
        for case in 0..400 {
            let zone_k: Vec<f64> = (0..zones).map(|_| draws.between(270.0, 450.0)).collect();
            let taken: Vec<f64> = (0..zones).map(|_| draws.between(0.0, 0.05)).collect();
            let drive = Drive {
                speed_m_s: draws.between(-20.0, 60.0).max(0.0),
                wind_m_s: draws.between(0.0, 5.0),
                fan: draws.between(-1.0, 1.0).max(0.0),
                bonnet_open: case % 3 == 0,
                ..still(&build, &zone_k, &taken)
            };
            solver.solve(&drive, &mut flow);
            let left = imbalance(&build, &flow, &taken);
            assert!(left < 1e-6, "{}, {drive:?}: {left} kg/s", car);
        }
    }
}

#[test]
fn nothing_moves_at_rest_with_equal_temperatures() {
    let build = demo();
    let zone_k = vec![build.day.ambient_k; build.bay.zones.len()];
    let taken = vec![0.0; zone_k.len()];
    let mut solver = Ventilation::new(&build.bay);
    let mut flow = Airflow::default();
    for bonnet_open in [false, true] {
        let drive = Drive {
            bonnet_open,
            ..still(&build, &zone_k, &taken)
        };
        solver.solve(&drive, &mut flow);
        for (opening, m) in build.bay.openings.iter().zip(&flow.flow_kg_s) {
            assert!(m.abs() < 1e-6, "{}: {m} kg/s", opening.name);
        }
    }
}

fn radiator_flow(build: &Build, speed_m_s: f64, fan: f64) -> f64 {
    let zone_k = vec![320.0; build.bay.zones.len()];
    let taken = vec![0.0; zone_k.len()];
    let mut solver = Ventilation::new(&build.bay);
    let mut flow = Airflow::default();
    let drive = Drive {
        speed_m_s,
        fan,
        ..still(build, &zone_k, &taken)
    };
    solver.solve(&drive, &mut flow);
    let radiator = build
        .bay
        .openings
        .iter()
        .position(|o| o.role == OpeningRole::Radiator)
        .unwrap();
    flow.flow_kg_s[radiator]
}

#[test]
fn ram_air_grows_with_road_speed() {
    for (car, sheet) in cars() {
        let build = settled(&sheet).build;
        let flows = [5.0, 10.0, 20.0, 40.0].map(|v| radiator_flow(&build, v, 0.0));
        assert!(flows[0] > 0.0, "{flows:?}");
        for pair in flows.windows(2) {
            // turbulent losses throughout: flow about doubles with speed
            let ratio = pair[1] / pair[0];
            assert!((1.7..2.6).contains(&ratio), "{}: {flows:?}", car);
        }
    }
}

#[test]
fn the_fan_draws_air_when_standing() {
    let build = demo();
    let (off, half, full) = (
        radiator_flow(&build, 0.0, 0.0),
        radiator_flow(&build, 0.0, 0.5),
        radiator_flow(&build, 0.0, 1.0),
    );
    assert!(full > half && half > off, "{off}, {half}, {full}");
    assert!(full > 0.2, "{full} kg/s is no fan");
}

#[test]
fn a_warm_bay_draws_in_low_and_lets_out_high() {
    for (car, sheet) in cars() {
        let build = settled(&sheet).build;
        let zone_k = vec![build.day.ambient_k + 60.0; build.bay.zones.len()];
        let taken = vec![0.0; zone_k.len()];
        let mut solver = Ventilation::new(&build.bay);
        let mut flow = Airflow::default();
        solver.solve(&still(&build, &zone_k, &taken), &mut flow);
        let (mut into, mut out) = ((0.0, 0.0), (0.0, 0.0));
        for (opening, &m) in build.bay.openings.iter().zip(&flow.flow_kg_s) {
            let inward = match (opening.from, opening.to) {
                (None, Some(_)) => m,
                (Some(_), None) => -m,
                _ => continue,
            };
            let side = if inward > 0.0 { &mut into } else { &mut out };
            side.0 += inward.abs();
            side.1 += inward.abs() * opening.height_m;
        }
        let (low, high) = (into.1 / into.0, out.1 / out.0);
        assert!(into.0 > 1e-3, "{}: draught {} kg/s", car, into.0);
        assert!(high > low, "{}: in at {low} m, out at {high} m", car);
    }
}
