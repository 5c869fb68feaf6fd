//! The solvers against problems whose answers are known.

#[path = "../common/mod.rs"]
mod common;

mod accuracy;
mod errors;
mod lockstep;
mod rest;
mod steps;
mod wmethod;

use baysoak::solve::{Integrator, Method, System, Tolerance, Work};
use common::problems::Problem;

/// Relative and absolute tolerance alike.
fn tolerance(both: f64) -> Tolerance {
    Tolerance {
        relative: both,
        absolute: both,
    }
}

fn dormand_prince(both: f64) -> Integrator {
    Integrator::new(Method::DormandPrince, tolerance(both))
}

fn fixed(step_s: f64) -> Integrator {
    Integrator::new(Method::FixedRk4 { step_s }, tolerance(1e-6))
}

/// Marches a problem over the stops given, restarting at each.
fn march(problem: &mut Problem, integrator: &mut Integrator, stops_s: &[f64]) -> Vec<f64> {
    let mut y = problem.start.clone();
    for pair in stops_s.windows(2) {
        if let Err(error) = integrator.advance(problem, pair[0], pair[1], &mut y) {
            panic!("{}: {error}", problem.name);
        }
    }
    y
}

/// Marches a problem over its own stops.
fn solve(problem: &mut Problem, integrator: &mut Integrator) -> Vec<f64> {
    let stops_s = problem.stops_s.clone();
    march(problem, integrator, &stops_s)
}

/// A system made of a closure, which counts its calls.
struct Counting<F> {
    states: usize,
    rates: F,
    calls: u64,
    latest_s: f64,
}

fn counting<F: FnMut(f64, &[f64], &mut [f64])>(states: usize, rates: F) -> Counting<F> {
    Counting {
        states,
        rates,
        calls: 0,
        latest_s: f64::NEG_INFINITY,
    }
}

impl<F: FnMut(f64, &[f64], &mut [f64])> System for Counting<F> {
    fn len(&self) -> usize {
        self.states
    }
    fn rates(&mut self, t: f64, y: &[f64], dy: &mut [f64]) {
        self.calls += 1;
        self.latest_s = self.latest_s.max(t);
        (self.rates)(t, y, dy);
    }
    fn state_name(&self, i: usize) -> String {
        format!("part {i}")
    }
}

fn steps_of(work: Work) -> u64 {
    work.steps + work.rejected
}
