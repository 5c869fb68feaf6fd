//! How far a run stands from the exact solution of its own network.

use baysoak::cycle::Builtin;
use baysoak::solve::{Integrator, System, Tolerance};
use baysoak::study::recording::{Recording, record};
use rayon::prelude::*;

use super::*;

/// What a run may be off at any node and time [K].
const ALLOWED_K: f64 = 0.1;
/// The reference is this much tighter; ode_solvers agrees with it within 1e-3 K (bench `runs`).
const TIGHTER: f64 = 1e-2;

/// Largest difference of any temperature at the end of any interval [K], and where.
fn worst(recording: &Recording, options: &RunOptions) -> (f64, String) {
    let mut tight = Integrator::new(
        options.method,
        Tolerance {
            relative: options.tolerance.relative * TIGHTER,
            absolute: options.tolerance.absolute * TIGHTER,
        },
    );
    let (mut most, mut place, mut i) = (0.0, String::new(), 0);
    recording
        .replay(&mut tight, |exact| {
            i += 1;
            let run = &recording.states[i];
            for (n, node) in recording.network.nodes.iter().enumerate() {
                let off = (run[n] - exact[n]).abs();
                if off > most || off.is_nan() {
                    most = off;
                    place = format!("{} at {:.0} s", node.name, recording.drives[i - 1].span_s.1);
                }
            }
        })
        .unwrap();
    (most, place)
}

/// On every built-in build and cycle, drivers as the run settled them.
#[test]
fn verify_a_run_is_within_a_tenth_of_a_kelvin_of_a_tight_reference() {
    let options = RunOptions::default();
    let pairs: Vec<_> = cars()
        .into_iter()
        .flat_map(|car| Builtin::ALL.map(|cycle| (car.clone(), cycle)))
        .collect();
    let all: Vec<(f64, String)> = pairs
        .par_iter()
        .map(|((name, sheet), builtin)| {
            let recording =
                record(&settled(sheet).build, &builtin.cycle().unwrap(), &options).unwrap();
            let (most, place) = worst(&recording, &options);
            (
                most,
                format!("{name}, {}: {most:.4} K, {place}", builtin.name()),
            )
        })
        .collect();
    let list = all.iter().map(|a| a.1.as_str()).collect::<Vec<_>>();
    assert_eq!(list.len(), 27);
    assert!(all.iter().all(|a| a.0 <= ALLOWED_K), "{}", list.join("\n"));
}

/// A flow that turns round has a kink in what it carries.
#[test]
fn a_step_ends_where_a_flow_turns_round() {
    let network = network(&demo());
    let mut plant = Plant::new(&network);
    plant.span_s = (10.0, 20.0);
    let flows = |changed: &[(usize, f64)]| {
        let mut all = vec![0.1; network.openings.len()];
        for &(opening, flow) in changed {
            all[opening] = flow;
        }
        all
    };
    plant.from.zone_speed_m_s = vec![0.0; network.circuit.roles.zones];
    plant.to.zone_speed_m_s = plant.from.zone_speed_m_s.clone();
    (plant.from.scalars.ambient_k, plant.to.scalars.ambient_k) = (300.0, 300.0);
    plant.from.opening_kg_s = flows(&[(1, -0.01), (2, 0.03)]);
    // one turns after a quarter, one when the interval is nearly over
    plant.to.opening_kg_s = flows(&[(1, 0.03), (2, -0.0001)]);
    assert_eq!(plant.next_kink(10.0, 20.0), 12.5);
    assert_eq!(plant.next_kink(12.5, 20.0), 20.0);
}
