//! The Rosenbrock W-method: exact to its order with any approximate Jacobian.

use super::common::problems::{self, Problem};
use super::{solve, tolerance};
use baysoak::solve::{Integrator, Method, System, Work};

const METHODS: [Method; 2] = [Method::Rosenbrock, Method::RosenbrockFourCalls];

fn by(method: Method, both: f64) -> Integrator {
    Integrator::new(method, tolerance(both))
}

fn rosenbrock(both: f64) -> Integrator {
    by(Method::Rosenbrock, both)
}

/// A problem that hands out a falsified Jacobian.
struct Falsified<'a> {
    problem: &'a mut Problem,
    /// Applied to (row, column, true derivative).
    lie: fn(usize, usize, f64) -> f64,
}

impl System for Falsified<'_> {
    fn len(&self) -> usize {
        self.problem.len()
    }
    fn rates(&mut self, t: f64, y: &[f64], dy: &mut [f64]) {
        self.problem.rates(t, y, dy);
    }
    fn coupling_rates(&mut self, t: f64, y: &[f64], out: &mut [f64]) {
        self.problem.coupling_rates(t, y, out);
        let n = self.len();
        for (i, rate) in out.iter_mut().enumerate() {
            *rate = (self.lie)(i / n, i % n, *rate);
        }
    }
}

/// Error in tolerances and work with a falsified Jacobian.
fn with_lie(
    method: Method,
    mut problem: Problem,
    both: f64,
    lie: fn(usize, usize, f64) -> f64,
) -> (f64, Work) {
    let mut integrator = by(method, both);
    let mut y = problem.start.clone();
    let stops = problem.stops_s.clone();
    let mut system = Falsified {
        problem: &mut problem,
        lie,
    };
    for pair in stops.windows(2) {
        integrator
            .advance(&mut system, pair[0], pair[1], &mut y)
            .expect("gets there");
    }
    (
        problem.error_in_tolerances(&y, both, both),
        integrator.work(),
    )
}

#[test]
fn verify_rosenbrock_keeps_its_tolerance_on_every_problem() {
    for mut problem in problems::transient() {
        for (method, both) in METHODS
            .into_iter()
            .flat_map(|m| [1e-3, 1e-5, 1e-7].map(|b| (m, b)))
        {
            let y = solve(&mut problem, &mut by(method, both));
            let error = problem.error_in_tolerances(&y, both, both);
            // the error is controlled per step; at tight tolerance many steps add up
            assert!(
                error < 60.0,
                "{} by {method:?} at {both:e}: {error} tolerances",
                problem.name
            );
        }
    }
}

#[test]
fn verify_rosenbrock_on_robertson() {
    for method in METHODS {
        let mut problem = problems::robertson();
        let y = solve(&mut problem, &mut by(method, 1e-7));
        let error = problem.error_in_tolerances(&y, 1e-4, 1e-7);
        assert!(error < 1.0, "{method:?}: {error}");
    }
}

#[test]
fn a_wrong_jacobian_costs_steps_and_never_accuracy() {
    let both = 1e-5;
    let makers = [
        problems::radiating_to_ambient,
        problems::two_nodes_stiff,
        problems::ramp_driven,
    ];
    for (method, make) in METHODS
        .into_iter()
        .flat_map(|m| makers.map(|make| (m, make)))
    {
        let (honest_error, honest) = with_lie(method, make(), both, |_, _, w| w);
        for lie in [
            (|row, column, w| if row == column { w } else { 0.0 }) as fn(usize, usize, f64) -> f64,
            |_, _, w| 0.7 * w,
            |row, column, w| if row == column { 1.5 * w } else { w },
        ] {
            let (error, work) = with_lie(method, make(), both, lie);
            let name = make().name;
            assert!(
                error < 60.0,
                "{name} by {method:?}: {error} tolerances, honest {honest_error}"
            );
            // luck may save a few steps, never many
            assert!(
                10 * work.steps > 7 * honest.steps,
                "{name}: {work:?} against {honest:?}"
            );
        }
    }
}

#[test]
fn without_any_jacobian_a_stiff_pair_costs_many_steps() {
    let of = |lie| with_lie(Method::Rosenbrock, problems::two_nodes_stiff(), 1e-5, lie);
    let (_, honest) = of(|_, _, w| w);
    let (error, work) = of(|_, _, _| 0.0);
    assert!(error < 60.0, "{error} tolerances");
    assert!(work.steps > 3 * honest.steps, "{work:?} against {honest:?}");
}

#[test]
fn steps_grow_with_the_third_root_of_the_tolerance() {
    for method in METHODS {
        let steps = |both: f64| {
            let mut integrator = by(method, both);
            solve(&mut problems::radiating_to_ambient(), &mut integrator);
            integrator.work().steps as f64
        };
        // a thousandth of the tolerance costs about ten times the steps of a method of order 3(2)
        let ratio = steps(1e-8) / steps(1e-5);
        assert!((6.0..16.0).contains(&ratio), "{method:?}: {ratio}");
    }
}

#[test]
fn a_stiff_pair_takes_few_steps() {
    let mut integrator = rosenbrock(1e-5);
    solve(&mut problems::two_nodes_stiff(), &mut integrator);
    let work = integrator.work();
    let mut explicit = Integrator::new(Method::DormandPrince, tolerance(1e-5));
    solve(&mut problems::two_nodes_stiff(), &mut explicit);
    assert!(
        2 * work.steps < explicit.work().steps,
        "{work:?} against {:?}",
        explicit.work()
    );
}

/// A rate that is nothing until a kink and then grows; it may tell of the kink.
struct Kink {
    at_s: f64,
    told: bool,
}

impl System for Kink {
    fn len(&self) -> usize {
        1
    }
    fn rates(&mut self, t: f64, _y: &[f64], dy: &mut [f64]) {
        dy[0] = (t - self.at_s).max(0.0);
    }
    fn next_kink(&self, t: f64, end: f64) -> f64 {
        if self.told && t < self.at_s && self.at_s < end {
            self.at_s
        } else {
            end
        }
    }
}

#[test]
fn verify_a_step_ends_at_a_kink_that_is_told() {
    let march = |told| {
        let mut integrator = rosenbrock(1e-3);
        let mut y = [0.0];
        integrator
            .advance(&mut Kink { at_s: 0.3, told }, 0.0, 1.0, &mut y)
            .unwrap();
        ((y[0] - 0.5 * 0.7f64.powi(2)).abs(), integrator.work().steps)
    };
    let ((told, steps), (untold, _)) = (march(true), march(false));
    // what comes after is a parabola, exact by a method of order 3
    assert!(told < 1e-12, "{told}");
    assert!(steps < 10, "{steps}");
    assert!(untold > 1e-6, "{untold}");
}
