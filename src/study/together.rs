//! Runs of networks of one structure side by side: the solver takes a number of each in every instruction.
//!
//! Each run has its own controller and observer, who decide and watch between the steps.

use super::findings::RunResult;
use super::run::{Moment, RunError, Underway};
use crate::cycle::Cycle;
use crate::network::control::settle_side_by_side;
use crate::network::plant::Plant;
use crate::network::rates::{Circuit, Network, Scratch};
use crate::number::{LANES, Lanes, Number, SideBySide};
use crate::solve::{Lockstep, Tolerance};

/// One of each lane: those that are there, the last again in lanes that are left.
fn in_lanes<T>(of: &[T]) -> [&T; LANES] {
    std::array::from_fn(|lane| &of[lane.min(of.len() - 1)])
}

/// Carries runs over a cycle side by side, at most [`LANES`] of them; `probe` gets the place of each and what it sees at
/// the end of each interval.
///
/// `None` when they can't be: none, too many, one that watches ranges, networks that differ in more than numbers, or
/// one for which the solver gives up. Alone, each of them may still have a result, or says why not.
pub(super) fn run_together(
    mut runs: Vec<Underway>,
    cycle: &Cycle,
    tolerance: Tolerance,
    probe: &mut dyn FnMut(usize, &Moment),
) -> Option<Vec<Result<RunResult, RunError>>> {
    if runs.is_empty() || runs.len() > LANES || runs.iter().any(Underway::watches_ranges) {
        return None;
    }
    let networks: Vec<&Network> = runs.iter().map(Underway::network).collect();
    let networks = in_lanes(&networks).map(|n| *n);
    let circuit = Circuit::side_by_side(networks.map(|n| &n.circuit))?;
    let mut plant = Plant::side_by_side(&circuit, networks);
    let mut lockstep = Lockstep::new(&plant, tolerance);
    let mut y: Vec<Lanes> = SideBySide::side_by_side(in_lanes(&runs).map(|run| &run.y))?;
    let mut scratch = Scratch::default();
    for interval in &cycle.ticks() {
        let (start_s, end_s) = (interval.start_s, interval.end_s);
        plant.span_s = (start_s, end_s);
        let mut cars: Vec<_> = runs.iter_mut().map(Underway::car).collect();
        let ends = (&mut plant.from, &mut plant.to);
        settle_side_by_side(&mut cars, &circuit, interval, &y, ends, &mut scratch);
        plant.streams(start_s, &y);
        for (lane, run) in runs.iter_mut().enumerate() {
            run.plant.take_streams(&plant, lane);
            run.note_start(interval);
        }
        lockstep.advance(&mut plant, start_s, end_s, &mut y).ok()?;
        plant.streams(end_s, &y);
        for (lane, run) in runs.iter_mut().enumerate() {
            for (own, all) in run.y.iter_mut().zip(&y) {
                *own = all.lane(lane);
            }
            run.plant.take_streams(&plant, lane);
            run.note_end(interval);
            probe(lane, &run.moment(interval));
        }
    }
    let work = lockstep.work();
    Some(runs.into_iter().map(|run| run.finish(work)).collect())
}
