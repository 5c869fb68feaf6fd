//! The search for the steady state.

use super::common::problems;
use super::{counting, dormand_prince};
use baysoak::solve::{SolveError, SteadyOptions, System, steady, steady_at};

#[test]
fn verify_steady_states_with_exact_answers() {
    for mut problem in problems::at_rest() {
        let mut y = problem.start.clone();
        let report = steady(&mut problem, &mut y, SteadyOptions::default())
            .unwrap_or_else(|error| panic!("{}: {error}", problem.name));
        let error_k = problem.error_in_tolerances(&y, 0.0, 1.0);
        assert!(
            error_k <= problem.end_known_to,
            "{}: off by {error_k} K, {report:?}",
            problem.name
        );
        assert!(report.iterations < 40, "{}: {report:?}", problem.name);
        assert!(report.residual_per_s <= 1e-8);
    }
}

#[test]
fn verify_steady_state_from_far_guesses() {
    for guess in [1.0, 77.0, 5000.0] {
        for mut problem in problems::at_rest() {
            let mut y = vec![guess; problem.start.len()];
            let report = steady(&mut problem, &mut y, SteadyOptions::default())
                .unwrap_or_else(|error| panic!("{} from {guess}: {error}", problem.name));
            let error_k = problem.error_in_tolerances(&y, 0.0, 1.0);
            assert!(
                error_k <= problem.end_known_to,
                "{} from {guess}: {error_k} K, {report:?}",
                problem.name
            );
        }
    }
}

/// Two routes to one number: march until nothing moves, or search.
#[test]
fn verify_steady_state_is_the_long_time_limit() {
    for (mut problem, long_s) in [
        (problems::radiator_at_rest(), 2e4),
        (problems::cylinder_at_rest(), 2e4),
        (problems::chain_at_rest(), 1e4),
    ] {
        let mut marched = problem.start.clone();
        dormand_prince(1e-6)
            .advance(&mut problem, 0.0, long_s, &mut marched)
            .unwrap();
        let mut searched = problem.start.clone();
        steady(&mut problem, &mut searched, SteadyOptions::default()).unwrap();
        for (marched, searched) in marched.iter().zip(&searched) {
            assert!(
                (marched - searched).abs() < 5e-3,
                "{}: {marched} K and {searched} K",
                problem.name
            );
        }
    }
}

/// -atan(50 (T - 330)): Newton's method alone is thrown further off by each step.
#[test]
fn verify_steady_state_where_newton_alone_diverges() {
    let mut system = counting(1, |_, y: &[f64], dy: &mut [f64]| {
        dy[0] = -(50.0 * (y[0] - 330.0)).atan()
    });
    let mut y = [300.0];
    steady(&mut system, &mut y, SteadyOptions::default()).unwrap();
    assert!((y[0] - 330.0).abs() < 1e-8, "{}", y[0]);
}

/// A film that is far better above 400 K than below: q = dT below, 100 W + 20 dT' above.
#[test]
fn verify_steady_state_at_a_kink() {
    for (power, exact) in [(90.0, 390.0), (100.0, 400.0), (110.0, 400.5)] {
        let mut system = counting(1, move |_, y: &[f64], dy: &mut [f64]| {
            let lost = if y[0] < 400.0 {
                y[0] - 300.0
            } else {
                100.0 + 20.0 * (y[0] - 400.0)
            };
            dy[0] = (power - lost) / 50.0;
        });
        for guess in [250.0, 300.0, 399.0, 401.0, 900.0] {
            let mut y = [guess];
            let report = steady(&mut system, &mut y, SteadyOptions::default())
                .unwrap_or_else(|error| panic!("{power} W from {guess} K: {error}"));
            assert!(
                (y[0] - exact).abs() < 1e-6,
                "{power} W from {guess} K: {} K, {report:?}",
                y[0]
            );
        }
    }
}

#[test]
fn states_left_out_keep_their_values() {
    let mut system = counting(3, |_, y: &[f64], dy: &mut [f64]| {
        dy[0] = (2000.0 - 8.0 * (y[0] - 300.0)) / 500.0;
        dy[1] = 8.0 * (y[0] - 300.0);
        dy[2] = f64::from(y[0] > 0.0);
    });
    let mut y = [300.0, 123.0, 45.0];
    let options = SteadyOptions {
        active: 1,
        ..SteadyOptions::default()
    };
    let report = steady(&mut system, &mut y, options).unwrap();
    assert!((y[0] - 550.0).abs() < 1e-6, "{}", y[0]);
    assert_eq!(y[1..], [123.0, 45.0]);
    assert!(
        report.residual_per_s <= 1e-8,
        "counters still run, and do not count"
    );
}

#[test]
fn a_state_nothing_touches_does_no_harm() {
    let mut system = counting(2, |_, y: &[f64], dy: &mut [f64]| {
        dy[0] = (2000.0 - 8.0 * (y[0] - 300.0)) / 500.0;
        dy[1] = 0.0;
    });
    let mut y = [300.0, 77.0];
    steady(&mut system, &mut y, SteadyOptions::default()).unwrap();
    assert!((y[0] - 550.0).abs() < 1e-6 && y[1] == 77.0, "{y:?}");
}

#[test]
fn what_depends_on_time_is_held_at_the_time_given() {
    let mut system = counting(1, |t, y: &[f64], dy: &mut [f64]| dy[0] = 300.0 + t - y[0]);
    let mut y = [250.0];
    steady_at(&mut system, 40.0, &mut y, SteadyOptions::default()).unwrap();
    assert!((y[0] - 340.0).abs() < 1e-8);
    steady(&mut system, &mut y, SteadyOptions::default()).unwrap();
    assert!((y[0] - 300.0).abs() < 1e-8);
}

/// The system brings its own Jacobian, so every call of its rates is one that the report must know of.
#[test]
fn work_of_the_search_is_counted_exactly() {
    struct Radiator {
        calls: u64,
        jacobians: u64,
    }
    impl System for Radiator {
        fn len(&self) -> usize {
            1
        }
        fn rates(&mut self, _t: f64, y: &[f64], dy: &mut [f64]) {
            self.calls += 1;
            dy[0] = 5.0 - 1e-10 * y[0].powi(4);
        }
        fn jacobian(&mut self, _t: f64, y: &[f64], out: &mut nalgebra::DMatrix<f64>) {
            self.jacobians += 1;
            out[(0, 0)] = -4e-10 * y[0].powi(3);
        }
    }
    let mut system = Radiator {
        calls: 0,
        jacobians: 0,
    };
    let mut y = [300.0];
    let report = steady(&mut system, &mut y, SteadyOptions::default()).unwrap();
    assert!((y[0] - (5e10f64).powf(0.25)).abs() < 1e-9);
    assert_eq!(report.work.rhs_calls, system.calls);
    assert_eq!(report.work.jacobians, system.jacobians);
    // Each iteration and the closing Newton step solve one system.
    assert_eq!(report.work.factorisations, report.iterations as u64 + 1);
}

#[test]
fn fails_when_there_is_no_steady_state() {
    let mut system = counting(2, |_, y: &[f64], dy: &mut [f64]| {
        dy[0] = 300.0 - y[0];
        dy[1] = 2.5;
    });
    let mut y = [400.0, 10.0];
    let options = SteadyOptions {
        max_iterations: 30,
        ..SteadyOptions::default()
    };
    let error = steady(&mut system, &mut y, options).unwrap_err();
    let SolveError::NoSteadyState {
        residual_per_s,
        ref state,
        iterations,
        ..
    } = error
    else {
        panic!("{error}")
    };
    assert_eq!((residual_per_s, state.as_str()), (2.5, "part 1"));
    assert!(iterations <= 30);
    assert!(error.to_string().contains("part 1 = "), "{error}");
    assert_eq!(y, [400.0, 10.0], "states are left as they were");
}

#[test]
fn fails_for_bad_input() {
    let mut system = counting(2, |_, _: &[f64], dy: &mut [f64]| {
        dy.copy_from_slice(&[0.0, f64::NAN])
    });
    let fine = SteadyOptions::default();
    let error = steady(&mut system, &mut [300.0, 310.0], fine).unwrap_err();
    assert!(error.to_string().starts_with("part 1 = 310"), "{error}");
    let error = steady(&mut system, &mut [300.0], fine).unwrap_err();
    assert_eq!(
        error,
        SolveError::WrongLength {
            given: 1,
            expected: 2
        }
    );
    for tolerance_per_s in [0.0, -1.0, f64::NAN] {
        let options = SteadyOptions {
            tolerance_per_s,
            ..fine
        };
        let error = steady(&mut system, &mut [300.0, 310.0], options).unwrap_err();
        assert!(matches!(error, SolveError::BadSetting { .. }), "{error}");
    }
}
