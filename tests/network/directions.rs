//! What a change must do, in plain words. All at rest at a constant speed unless said.

use super::verify::layer;
use super::*;
use baysoak::sheet::build::Treatment;

/// Temperatures by node name, and the engine's air.
struct Rest {
    names: Vec<String>,
    y: Vec<f64>,
    air_flow_kg_s: f64,
}

impl Rest {
    fn of(build: &Build, speed_m_s: f64) -> Self {
        let network = network(build);
        let (plant, y) = at_rest(build, &network, &demand(speed_m_s, Load::Road));
        Self {
            names: network.nodes.iter().map(|n| n.name.clone()).collect(),
            air_flow_kg_s: plant.from.scalars.air_kg_s,
            y,
        }
    }

    fn k(&self, name: &str) -> f64 {
        self.y[self.names.iter().position(|n| n == name).unwrap()]
    }

    /// Mean of the bay's zones behind the radiator [K].
    fn bay_k(&self) -> f64 {
        let zones: Vec<f64> = self
            .names
            .iter()
            .zip(&self.y)
            .filter(|(n, _)| n.starts_with("air:") && *n != "air:nose")
            .map(|(_, &t)| t)
            .collect();
        zones.iter().sum::<f64>() / zones.len() as f64
    }
}

fn drive() -> Cycle {
    cycle(Start::Warm, &[(PhaseKind::Drive, 120.0, 25.0, false)])
}

#[test]
fn more_air_through_the_bay_makes_it_cooler() {
    let usual = demo();
    let mut open = usual.clone();
    for opening in &mut open.bay.openings {
        if opening.from.is_none() != opening.to.is_none() {
            opening.area_m2 *= 1.5;
        }
    }
    open.bay.radiator.loss_coefficient *= 0.5;
    let (a, b) = (Rest::of(&usual, 25.0), Rest::of(&open, 25.0));
    assert!(b.bay_k() < a.bay_k() - 0.5, "{} {}", a.bay_k(), b.bay_k());
}

#[test]
fn a_hotter_day_makes_a_hotter_charge() {
    let (a, b) = (
        demo(),
        settled(&edited(&[("ambient_c = 28", "ambient_c = 38")])).build,
    );
    let rise = Rest::of(&b, 25.0).k("sensor") - Rest::of(&a, 25.0).k("sensor");
    assert!((7.0..13.0).contains(&rise), "{rise} K for 10 K");
}

#[test]
fn a_shinier_skin_gives_less_heat_and_gets_hotter() {
    let dull = demo();
    let mut shiny = dull.clone();
    for part in shiny.exhaust.iter_mut().filter(|p| p.name == "downpipe") {
        part.emissivity = 0.1;
    }
    let skin = |b: &Build| Rest::of(b, 10.0).k("metal:downpipe/1");
    assert!(skin(&shiny) > skin(&dull) + 5.0);
    let heat = |b: &Build| {
        figure(
            &run_build(b, &drive(), &RunOptions::default()),
            "heat_to_bay_mean_w",
            "downpipe",
        )
    };
    assert!(heat(&shiny) < 0.9 * heat(&dull));
}

#[test]
fn a_layer_on_the_manifold_makes_hotter_metal_and_less_heat_to_the_bay() {
    let bare = demo();
    let mut wrapped = bare.clone();
    for part in &mut wrapped.exhaust {
        if ["runners", "collector"].contains(&&part.name[..]) {
            part.treatment = Some(Treatment::of_layers("layer", vec![layer(0.008)]));
        }
    }
    let metal = |b: &Build| Rest::of(b, 25.0).k("metal:collector/1");
    assert!(metal(&wrapped) > metal(&bare) + 10.0);
    let heat = |b: &Build| {
        let result = run_build(b, &drive(), &RunOptions::default());
        ["runners", "collector"].map(|p| figure(&result, "heat_to_bay_mean_w", p))
    };
    let (before, after) = (heat(&bare), heat(&wrapped));
    assert!(
        after[0] < 0.7 * before[0] && after[1] < 0.7 * before[1],
        "{before:?}, {after:?}"
    );
}

#[test]
fn a_bigger_charge_cooler_makes_a_cooler_sensor() {
    let usual = demo();
    let mut big = usual.clone();
    let cooler = big.intake.cooler.as_mut().unwrap();
    cooler.charge_w_k *= 2.0;
    cooler.air_w_k *= 2.0;
    cooler.face_m2 *= 1.5;
    let sensor = |b: &Build| {
        let network = network(b);
        let full = Load::FullLoadShare(0.8);
        let (_, y) = at_rest(b, &network, &demand(30.0, full));
        y[network.circuit.roles.sensor]
    };
    let (a, b) = (sensor(&usual), sensor(&big));
    assert!(b < a - 1.0, "{a} and {b} K");
}

#[test]
fn a_fan_that_runs_on_cools_the_bay_after_key_off() {
    let mut with = demo();
    // hot enough at key-off to ask for the fan
    with.bay.fan.on_k = 350.0;
    with.bay.fan.off_k = 345.0;
    with.bay.fan.run_on_s = 300.0;
    let mut without = with.clone();
    without.bay.fan.run_on_s = 0.0;
    let hot_zone = |b: &Build| {
        let network = network(b);
        let (_, mut y) = at_rest(b, &network, &demand(25.0, Load::Road));
        // a tick with the engine on, as before any key-off
        let parts = [
            (PhaseKind::Drive, 5.0, 25.0, false),
            (PhaseKind::KeyOff, 240.0, 0.0, false),
        ];
        let cycle = cycle(Start::Cold, &parts);
        let method = (Method::Rosenbrock, 0.02);
        march(
            b,
            &network,
            &cycle.intervals(5.0),
            &mut y,
            method,
            |_, _| {},
        );
        y[node(&network, "air:hot")]
    };
    let (a, b) = (hot_zone(&with), hot_zone(&without));
    assert!(a < b - 3.0, "{a} K with, {b} K without");
}

#[test]
fn more_air_from_the_hot_zone_makes_a_hotter_pickup() {
    let nose = "pickup = { nose = { low = 0.1, likely = 0.3, high = 0.6 } }";
    let hot = edited(&[(nose, "pickup = { hot = 0.5 }")]);
    let wall = |b: &Build| Rest::of(b, 25.0).k("duct:snorkel");
    let (a, b) = (wall(&demo()), wall(&settled(&hot).build));
    assert!(b > a + 2.0, "{a} and {b} K");
    let rise = |b: &Build| {
        figure(
            &run_build(b, &drive(), &RunOptions::default()),
            "intake_rise_mean_k",
            "pickup",
        )
    };
    assert!(rise(&settled(&hot).build) > rise(&demo()) + 3.0);
}

#[test]
fn less_air_goes_in_at_altitude() {
    let high = edited(&[("pressure_kpa = 100", "pressure_kpa = 80")]);
    let mut flows = Vec::new();
    for build in [demo(), settled(&high).build] {
        let network = network(&build);
        let (plant, _) = at_rest(&build, &network, &demand(30.0, Load::FullLoadShare(1.0)));
        flows.push(plant.from.scalars.air_kg_s);
    }
    let ratio = flows[1] / flows[0];
    assert!((0.7..0.97).contains(&ratio), "{flows:?}");
    assert!(Rest::of(&demo(), 25.0).air_flow_kg_s < flows[0]);
}

#[test]
fn a_heated_cabin_cools_the_engine_by_its_walls_loss_on_a_cold_day_and_not_on_a_warm_one() {
    let coolant_and_heat = |ambient_k: f64, heater_w_k: f64| {
        let mut build = demo();
        build.day.ambient_k = ambient_k;
        build.engine.cabin_heater_w_k = heater_w_k;
        let network = network(&build);
        let (plant, y) = at_rest(&build, &network, &demand(8.0, Load::Road));
        let coolant_k = y[network.circuit.roles.coolant];
        let heat_w = plant.from.scalars.cabin_heater_w_k * (coolant_k - ambient_k);
        (coolant_k, y[network.circuit.roles.radiator], heat_w)
    };
    let (shut, heated) = (
        coolant_and_heat(263.15, 0.0),
        coolant_and_heat(263.15, 70.0),
    );
    // 30 K colder than inside, 70 W per kelvin
    assert!((heated.2 / 2100.0 - 1.0).abs() < 0.1, "{heated:?}");
    assert!(
        heated.0 < shut.0 && heated.1 < shut.1,
        "{heated:?} {shut:?}"
    );
    let (shut, heated) = (
        coolant_and_heat(298.15, 0.0),
        coolant_and_heat(298.15, 70.0),
    );
    assert_eq!(heated, shut);
    assert_eq!(heated.2, 0.0);
}
