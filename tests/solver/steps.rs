//! What a march costs, and what it remembers.

use super::common::problems;
use super::{Counting, counting, dormand_prince, fixed, solve, steps_of};
use baysoak::solve::{Integrator, Method, System, Tolerance, Work};

fn decay(rate: f64) -> Counting<impl FnMut(f64, &[f64], &mut [f64])> {
    counting(1, move |_, y: &[f64], dy: &mut [f64]| {
        dy[0] = -rate * (y[0] - 300.0)
    })
}

#[test]
fn right_hand_side_calls_are_counted_exactly() {
    for mut integrator in [dormand_prince(1e-6), fixed(0.03)] {
        let mut system = decay(4.0);
        let mut y = [800.0];
        for second in 0..20 {
            integrator
                .advance(
                    &mut system,
                    f64::from(second),
                    f64::from(second + 1),
                    &mut y,
                )
                .unwrap();
        }
        assert_eq!(integrator.work().rhs_calls, system.calls);
        assert!(integrator.work().steps >= 20);
    }
}

/// Over 500 steps the crate is restarted, each time at one more call; the count must still agree.
#[test]
fn calls_are_counted_over_a_long_march_too() {
    let mut system = decay(50.0);
    let mut integrator = dormand_prince(1e-6);
    integrator
        .advance(&mut system, 0.0, 200.0, &mut [800.0])
        .unwrap();
    let work = integrator.work();
    assert!(work.steps > 1500, "{work:?}");
    assert_eq!(work.rhs_calls, system.calls);
    // Two calls to find a first step, one at each start, six a step tried.
    let starts = work.rhs_calls - 2 - 6 * steps_of(work);
    assert!((4..20).contains(&starts), "{starts} starts in {work:?}");
}

#[test]
fn work_of_fixed_steps_is_known_beforehand() {
    let mut integrator = fixed(0.1);
    integrator
        .advance(&mut decay(1.0), 0.0, 1.0, &mut [800.0])
        .unwrap();
    integrator
        .advance(&mut decay(1.0), 1.0, 1.25, &mut [800.0])
        .unwrap();
    assert_eq!(
        integrator.work(),
        Work {
            steps: 13,
            rhs_calls: 52,
            ..Work::default()
        }
    );
}

#[test]
fn work_adds_up() {
    let mut sum = Work {
        steps: 1,
        rejected: 2,
        rhs_calls: 3,
        jacobians: 4,
        factorisations: 5,
    };
    sum += sum;
    assert_eq!(
        sum,
        Work {
            steps: 2,
            rejected: 4,
            rhs_calls: 6,
            jacobians: 8,
            factorisations: 10
        }
    );
}

/// Pinned costs: an accidental slowdown fails here without a clock. Steps may differ by a few between platforms.
#[test]
fn regress_steps_of_the_problem_library() {
    let pinned = [6, 318, 10, 14, 11, 36, 72];
    for (mut problem, steps) in problems::transient().into_iter().zip(pinned) {
        let mut integrator = dormand_prince(1e-5);
        solve(&mut problem, &mut integrator);
        let got = steps_of(integrator.work());
        assert!(
            got.abs_diff(steps) <= 2 + steps / 50,
            "{}: {got} steps, {steps} before",
            problem.name
        );
    }
}

#[test]
fn the_step_is_remembered_from_one_interval_to_the_next() {
    let mut system = decay(5.0);
    let mut integrator = dormand_prince(1e-6);
    let mut y = [800.0];
    integrator.advance(&mut system, 0.0, 1.0, &mut y).unwrap();
    let calls = system.calls;
    integrator.advance(&mut system, 1.0, 2.0, &mut y).unwrap();
    assert_eq!(
        (system.calls - calls) % 6,
        1,
        "no calls spent on looking for a first step"
    );
}

#[test]
fn a_tiny_interval_does_not_spoil_the_remembered_step() {
    let mut system = decay(0.05);
    let mut integrator = dormand_prince(1e-6);
    let mut y = [800.0];
    integrator.advance(&mut system, 0.0, 10.0, &mut y).unwrap();
    let before = integrator.remembered_step_s().unwrap();
    integrator
        .advance(&mut system, 10.0, 10.0 + 1e-9, &mut y)
        .unwrap();
    assert!(integrator.remembered_step_s().unwrap() >= before);
    let steps = integrator.work().steps;
    integrator
        .advance(&mut system, 10.0 + 1e-9, 20.0, &mut y)
        .unwrap();
    assert!(
        integrator.work().steps - steps < 10,
        "{:?}",
        integrator.work()
    );
}

/// The last step is cut to what is left; here to a millionth of the one before.
#[test]
fn a_cut_last_step_does_not_spoil_the_remembered_step() {
    let mut integrator = dormand_prince(1e-6);
    let mut y = [800.0];
    integrator
        .advance(&mut decay(5.0), 0.0, 4.0, &mut y)
        .unwrap();
    let step_s = integrator.remembered_step_s().unwrap();
    for extra in [1.02, 1.1, 1.5, 2.02] {
        let mut again = integrator.clone();
        again
            .advance(&mut decay(5.0), 4.0, 4.0 + extra * step_s, &mut y.clone())
            .unwrap();
        let kept = again.remembered_step_s().unwrap();
        assert!(
            kept > 0.4 * step_s,
            "{kept} s after {step_s} s, interval {extra} steps"
        );
    }
}

#[test]
fn rates_are_never_asked_for_past_the_end() {
    let end_s = 1000.0 + 1.0 / 3.0;
    for mut integrator in [dormand_prince(1e-7), fixed(0.07)] {
        let mut system = decay(2.0);
        let mut y = [800.0];
        for (from, to) in [(1000.0, 1000.1), (1000.1, end_s)] {
            integrator.advance(&mut system, from, to, &mut y).unwrap();
            assert_eq!(system.latest_s, to, "the end itself is asked for");
        }
    }
}

/// Ten years on the clock leave 60 ns to the smallest step; the interval counts from its own start.
#[test]
fn a_late_clock_changes_nothing() {
    let late_s = 3e8;
    let (mut early, mut late) = ([800.0], [800.0]);
    dormand_prince(1e-8)
        .advance(&mut decay(50.0), 0.0, 1.0, &mut early)
        .unwrap();
    dormand_prince(1e-8)
        .advance(&mut decay(50.0), late_s, late_s + 1.0, &mut late)
        .unwrap();
    assert_eq!(early, late);
}

/// A node and the energy that has left it [J].
struct WithCounter {
    scale: f64,
}

impl System for WithCounter {
    fn len(&self) -> usize {
        2
    }
    fn rates(&mut self, _t: f64, y: &[f64], dy: &mut [f64]) {
        dy[0] = -8.0 * (y[0] - 300.0) / 500.0;
        dy[1] = 8.0 * (y[0] - 300.0);
    }
    fn tolerance_scale(&self, i: usize) -> f64 {
        if i == 1 { self.scale } else { 1.0 }
    }
}

#[test]
fn a_counter_of_energy_need_not_set_the_step() {
    let run = |scale: f64| {
        let mut y = [800.0, 0.0];
        let mut integrator = Integrator::new(
            Method::DormandPrince,
            Tolerance {
                relative: 1e-12,
                absolute: 1e-3,
            },
        );
        integrator
            .advance(&mut WithCounter { scale }, 0.0, 60.0, &mut y)
            .unwrap();
        let left = 500.0 * (800.0 - y[0]);
        assert!(
            (left - y[1]).abs() < 1e-6 * left,
            "{} J counted, {left} J left",
            y[1]
        );
        let exact = 300.0 + 500.0 * f64::exp(-8.0 * 60.0 / 500.0);
        assert!((y[0] - exact).abs() < 5e-3);
        steps_of(integrator.work())
    };
    let (joules, scaled) = (run(1.0), run(500.0));
    assert!(
        scaled + 4 < joules,
        "{joules} steps unscaled, {scaled} scaled"
    );
}
