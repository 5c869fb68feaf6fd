//! Cars side by side: each lane gets the numbers of its car alone.

use super::*;
use baysoak::network::bay_air::BayAir;
use baysoak::network::control::{Beginning, settle_side_by_side};
use baysoak::network::rates::{Circuit, Scratch};
use baysoak::number::{LANES, Lanes, Number, SideBySide};
use baysoak::solve::System;
use baysoak::study::latin_hypercube::LatinHypercube;

/// Largest difference over the largest number: lanes are in single precision, whose last digit is 6e-8.
const SINGLE: f64 = 1e-5;
/// What a further pass may change of what the gas keeps behind a segment.
const ONE_PASS: f64 = 1e-4;

/// As many draws of a sheet as there are lanes; every other one has start-stop.
fn drawn_builds(sheet: &Sheet) -> Vec<Build> {
    let cube = LatinHypercube::new(LANES, 3, []);
    (0..LANES)
        .map(|draw| {
            let quantile = |key: &str| cube.quantile(key, draw);
            let chooser = &mut Chooser::Draw(Box::new(quantile));
            let mut build = sheet.settle(chooser).unwrap().build;
            build.engine.stop_start = draw % 2 == 1;
            build
        })
        .collect()
}

fn wide(columns: &[Vec<f64>]) -> Vec<Lanes> {
    let each: [&Vec<f64>; LANES] = std::array::from_fn(|lane| &columns[lane]);
    SideBySide::side_by_side(each).unwrap()
}

fn assert_same(what: &str, alone: &[f64], together: &[Lanes], lane: usize) {
    assert_near(what, alone, together, (lane, SINGLE));
}

fn assert_near(what: &str, alone: &[f64], together: &[Lanes], (lane, share): (usize, f64)) {
    assert_eq!(alone.len(), together.len(), "{what}");
    let largest = alone.iter().fold(1e-9, |m: f64, x| m.max(x.abs()));
    for (i, (a, b)) in alone.iter().zip(together).enumerate() {
        let miss = (a - b.lane(lane)).abs();
        assert!(miss < share * largest, "{what} {i}, lane {lane}: {a} {b:?}");
    }
}

fn assert_same_conditions(
    what: &str,
    alone: &Conditions,
    together: &Conditions<Lanes>,
    lane: usize,
) {
    let scalars = together.scalars.lane(lane).values();
    for (name, (a, b)) in baysoak::network::conditions::Scalars::NAMES
        .iter()
        .zip(alone.scalars.values().into_iter().zip(scalars))
    {
        // a rate of pressure is a difference of two large numbers
        let least = if name.ends_with("_rate_pa_s") {
            1e3
        } else {
            1e-6
        };
        let close = (a - b).abs() <= SINGLE * a.abs().max(least);
        assert!(close, "{what}, {name}, lane {lane}: {a} {b}");
    }
    for (name, a, b) in [
        ("openings", &alone.opening_kg_s, &together.opening_kg_s),
        ("zones", &alone.zone_speed_m_s, &together.zone_speed_m_s),
        ("air", &alone.air_through, &together.air_through),
        ("surfaces", &alone.surface_w_k, &together.surface_w_k),
    ] {
        assert_same(&format!("{what}, {name}"), a, b, lane);
    }
    // films are found in turn with the gas until it stays within 1 K: a neighbour may ask for one more time
    let (a, b) = (&alone.gas_through, &together.gas_through);
    assert_near(&format!("{what}, gas"), a, b, (lane, ONE_PASS));
}

/// Engine running, idling (where every other car stops its engine), and switched off.
fn situations() -> [(&'static str, Interval); 3] {
    let at = |speed_m_s: f64, load, engine, end_s| {
        let from = Demand {
            engine,
            ..demand(speed_m_s, load)
        };
        let to = Demand {
            speed_m_s: 0.8 * speed_m_s,
            ..from
        };
        Interval {
            end_s,
            from,
            to,
            ..held(&from)
        }
    };
    [
        (
            "driving",
            at(18.0, Load::FullLoadShare(0.6), EngineState::Running, 3.0),
        ),
        ("idling", at(0.0, Load::Road, EngineState::Running, 5.0)),
        ("parked", at(0.0, Load::Road, EngineState::Off, 20.0)),
    ]
}

#[test]
fn cars_side_by_side_settle_and_heat_as_each_of_them_alone() {
    let mut random = Draws(11);
    for (name, sheet) in cars() {
        let builds = drawn_builds(&sheet);
        let networks: Vec<Network> = builds.iter().map(network).collect();
        let each: [&Network; LANES] = std::array::from_fn(|lane| &networks[lane]);
        let circuit = Circuit::side_by_side(each.map(|n| &n.circuit)).expect("of one structure");
        let mut together = Plant::side_by_side(&circuit, each);
        for (situation, interval) in situations() {
            let what = format!("{name}, {situation}");
            let states: Vec<Vec<f64>> = each
                .iter()
                .map(|n| {
                    let mut y = vec![0.0; n.states()];
                    for t in &mut y[..n.nodes.len()] {
                        *t = random.between(290.0, 900.0);
                    }
                    let roles = &n.circuit.roles;
                    for t in &mut y[roles.first_zone..roles.first_zone + roles.zones] {
                        *t = random.between(290.0, 380.0);
                    }
                    // warm enough for start-stop
                    y[roles.coolant] = random.between(368.0, 372.0);
                    y
                })
                .collect();
            let y = wide(&states);
            let mut controllers: Vec<Controller> = builds.iter().map(Controller::new).collect();
            let airs: [&BayAir; LANES] = std::array::from_fn(|lane| controllers[lane].air());
            let mut air = SideBySide::side_by_side(airs).expect("of one structure");
            let mut units: Vec<_> = controllers.iter_mut().map(Controller::unit).collect();
            let (mut from, mut to) = (Conditions::default(), Conditions::default());
            let ends = (&mut from, &mut to);
            settle_side_by_side(
                &mut units,
                &circuit,
                (&interval, Beginning::Afresh),
                &y,
                ends,
                (&mut air, &mut Scratch::default()),
            );
            (together.from, together.to) = (from.clone(), to.clone());
            together.span_s = (interval.start_s, interval.end_s);
            let mut dy = vec![Lanes::default(); y.len()];
            let middle_s = 0.4 * interval.end_s;
            together.rates(middle_s, &y, &mut dy);
            let mut running = 0;
            for (lane, (build, network)) in builds.iter().zip(each).enumerate() {
                let mut plant = Plant::new(network);
                plant.span_s = together.span_s;
                let mut controller = Controller::new(build);
                let ends = (&mut plant.from, &mut plant.to);
                let afresh = (&interval, Beginning::Afresh);
                let (point, _) = controller.settle(network, afresh, &states[lane], ends);
                running += usize::from(point.running);
                let beside = controllers[lane].points().0;
                assert_eq!(point.running, beside.running, "{what}, lane {lane}");
                let (a, b) = (point.air_flow_kg_s, beside.air_flow_kg_s);
                assert!((a - b).abs() <= SINGLE * a, "{what}, lane {lane}: {a} {b}");
                assert_same_conditions(&what, &plant.from, &from, lane);
                assert_same_conditions(&what, &plant.to, &to, lane);
                let mut alone = vec![0.0; y.len()];
                plant.rates(middle_s, &states[lane], &mut alone);
                assert_same(&format!("{what}, rates"), &alone, &dy, lane);
            }
            let expected = match situation {
                "driving" => LANES,
                "idling" => LANES / 2,
                _ => 0,
            };
            assert_eq!(running, expected, "{what}");
        }
    }
}

#[test]
fn cars_of_another_structure_do_not_stand_side_by_side() {
    let nets: Vec<Network> = cars()
        .iter()
        .map(|(_, sheet)| network(&settled(sheet).build))
        .collect();
    let each: [&Network; LANES] = std::array::from_fn(|lane| &nets[lane % 2]);
    assert!(Circuit::side_by_side(each.map(|n| &n.circuit)).is_none());
    let each: [&Network; LANES] = std::array::from_fn(|_| &nets[0]);
    assert!(Circuit::side_by_side(each.map(|n| &n.circuit)).is_some());
}
