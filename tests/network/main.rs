//! The whole network: what must always hold, closed forms, and directions in plain words.

mod accuracy;
mod directions;
mod export;
mod invariants;
mod kinds;
mod lanes;
mod layout;
mod refinement;
mod registers;
mod ticks;
mod treatments;
mod ventilation;
mod verify;
mod work;

use baysoak::cycle::{Cycle, Demand, EngineState, Interval, Load, Phase, PhaseKind, Point, Start};
use baysoak::network::assemble::{Detail, assemble};
use baysoak::network::conditions::Conditions;
use baysoak::network::control::{Beginning, Controller};
use baysoak::network::plant::Plant;
use baysoak::network::rates::Network;
use baysoak::sheet::build::Build;
use baysoak::sheet::{Chooser, Settled, Sheet, builtins};
use baysoak::solve::{Integrator, Method, SteadyOptions, Tolerance, steady};
use baysoak::study::findings::RunResult;
use baysoak::study::run::{RunOptions, run_settled};

/// Text of a built-in sheet.
fn text(name: &str) -> &'static str {
    builtins().iter().find(|b| b.name == name).unwrap().text
}

/// A sheet that must be good.
fn parse(text: &str) -> Sheet {
    Sheet::parse(text, "test.toml").unwrap_or_else(|e| panic!("{e}"))
}

/// All built-in cars.
fn cars() -> Vec<(&'static str, Sheet)> {
    let cars: Vec<_> = builtins().iter().map(|b| (b.name, parse(b.text))).collect();
    assert!(!cars.is_empty());
    cars
}

/// The demo sheet with pieces of its text replaced; each piece must occur.
fn edited(changes: &[(&str, &str)]) -> Sheet {
    let mut text = text("demo").to_owned();
    for (from, to) in changes {
        assert!(text.contains(from), "no {from:?} in the sheet");
        text = text.replace(from, to);
    }
    parse(&text)
}

fn settled(sheet: &Sheet) -> Settled {
    sheet.settle(&mut Chooser::Likely).unwrap()
}

fn demo() -> Build {
    settled(&edited(&[])).build
}

/// A figure that must be there.
fn figure(result: &RunResult, id: &str, place: &str) -> f64 {
    let found = result
        .findings
        .figures
        .iter()
        .find(|f| f.id == id && f.place == place);
    found.unwrap_or_else(|| panic!("no {id} at {place}")).value
}

/// Phases given as (kind, length [s], speed [m/s], bonnet open), straight after each other.
fn cycle(start: Start, parts: &[(PhaseKind, f64, f64, bool)]) -> Cycle {
    let mut time_s = 0.0;
    let phases = parts
        .iter()
        .enumerate()
        .map(|(i, &(kind, length_s, speed_m_s, open))| {
            let engine = if kind == PhaseKind::KeyOff {
                EngineState::Off
            } else {
                EngineState::Running
            };
            let points = [time_s, time_s + length_s].map(|t| Point::road(t, speed_m_s));
            time_s += length_s;
            Phase::new(&format!("part {i}"), kind, engine, open, points.to_vec()).unwrap()
        })
        .collect();
    Cycle::new("test", "Test", "made up", start, phases).unwrap()
}

/// Every kind of phase, and the bonnet open, in few minutes.
fn every_kind() -> Cycle {
    cycle(
        Start::Warm,
        &[
            (PhaseKind::Drive, 90.0, 25.0, false),
            (PhaseKind::Stand, 60.0, 0.0, false),
            (PhaseKind::KeyOff, 60.0, 0.0, false),
            (PhaseKind::KeyOff, 60.0, 0.0, true),
            (PhaseKind::Restart, 60.0, 10.0, false),
        ],
    )
}

/// Runs a build that need not be its sheet's own.
fn run_build(build: &Build, cycle: &Cycle, options: &RunOptions) -> RunResult {
    let sheet = edited(&[]);
    let mut settled = settled(&sheet);
    settled.build = build.clone();
    run_settled(&sheet, &settled, cycle, options, &mut |_| {}).unwrap_or_else(|e| panic!("{e}"))
}

fn network(build: &Build) -> Network {
    assemble(build, Detail::default()).unwrap()
}

fn node(network: &Network, name: &str) -> usize {
    let found = network.nodes.iter().position(|n| n.name == name);
    found.unwrap_or_else(|| panic!("no node {name}"))
}

/// Marches from temperatures `y`; `each` may change the conditions at both ends of an interval.
fn march(
    build: &Build,
    network: &Network,
    intervals: &[Interval],
    y: &mut [f64],
    (method, absolute): (Method, f64),
    mut each: impl FnMut(&mut Conditions, &[f64]),
) {
    let mut plant = Plant::new(network);
    let mut controller = Controller::new(build);
    let tolerance = Tolerance {
        relative: 0.0,
        absolute,
    };
    let mut integrator = Integrator::new(method, tolerance);
    for interval in intervals {
        plant.span_s = (interval.start_s, interval.end_s);
        let (tick, ends) = (
            (interval, Beginning::Continued),
            (&mut plant.from, &mut plant.to),
        );
        controller.settle(network, tick, y, ends);
        each(&mut plant.from, y);
        each(&mut plant.to, y);
        integrator
            .advance(&mut plant, interval.start_s, interval.end_s, y)
            .unwrap();
    }
}

/// A steady demand on the flat.
fn demand(speed_m_s: f64, load: Load) -> Demand {
    Demand {
        speed_m_s,
        acceleration_m_s2: 0.0,
        grade: 0.0,
        rpm: None,
        load,
        engine: EngineState::Running,
        bonnet_open: false,
        coolant_k: None,
        ambient_k: None,
        wind_m_s: None,
        manifold_pa: None,
        filter_burning: false,
    }
}

/// An interval of one second with the same demand at both ends.
fn held(demand: &Demand) -> Interval {
    Interval {
        start_s: 0.0,
        end_s: 1.0,
        phase: 0,
        from: *demand,
        to: *demand,
    }
}

/// All nodes at ambient, the engine at working temperature, ledger empty.
fn warm_start(build: &Build, network: &Network) -> Vec<f64> {
    let mut y = vec![build.day.ambient_k; network.states()];
    y[network.nodes.len()..].fill(0.0);
    for i in [
        network.circuit.roles.block,
        network.circuit.roles.coolant,
        network.circuit.roles.oil,
    ] {
        y[i] = build.engine.thermostat_full_k;
    }
    y
}

/// A plant at rest at a constant demand: control and steady state in turn.
fn at_rest<'a>(build: &Build, network: &'a Network, demand: &Demand) -> (Plant<'a>, Vec<f64>) {
    let mut plant = Plant::new(network);
    let mut controller = Controller::new(build);
    let mut y = warm_start(build, network);
    plant.span_s = (0.0, 1.0);
    for _ in 0..4 {
        let interval = held(demand);
        let (held, ends) = (
            (&interval, Beginning::Afresh),
            (&mut plant.from, &mut plant.to),
        );
        controller.settle(network, held, &y, ends);
        plant.to = plant.from.clone();
        let options = SteadyOptions {
            active: network.nodes.len(),
            ..SteadyOptions::default()
        };
        steady(&mut plant, &mut y, options).unwrap();
    }
    (plant, y)
}

/// Numbers that look random and are the same each time (splitmix64, Steele et al. 2014).
struct Draws(u64);

impl Draws {
    fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        let unit = ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64;
        low + unit * (high - low)
    }
}
