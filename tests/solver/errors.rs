//! Every way a march can fail, and what it says then.

use super::{counting, dormand_prince, fixed, tolerance};
use baysoak::solve::{Integrator, Method, SolveError, Tolerance};

#[test]
fn a_rate_that_is_not_a_number_names_state_and_time() {
    for mut integrator in [dormand_prince(1e-6), fixed(0.1)] {
        let mut system = counting(3, |t, y: &[f64], dy: &mut [f64]| {
            dy.iter_mut().zip(y).for_each(|(dy, y)| *dy = 300.0 - y);
            if t >= 5.0 {
                dy[1] = f64::NAN;
            }
        });
        let mut y = [400.0, 500.0, 600.0];
        integrator.advance(&mut system, 0.0, 4.0, &mut y).unwrap();
        let before = y;
        let error = integrator
            .advance(&mut system, 4.0, 6.0, &mut y)
            .unwrap_err();
        let SolveError::NotFinite {
            time_s,
            state,
            value,
            rate,
        } = &error
        else {
            panic!("{error}")
        };
        assert_eq!(state, "part 1");
        assert!((5.0..5.3).contains(time_s), "found at {time_s} s");
        assert!(value.is_finite() && rate.is_nan());
        assert!(error.to_string().starts_with("part 1 = 30"), "{error}");
        assert_eq!(y, before, "states are left as they were");
        assert_eq!(integrator.work().rhs_calls, system.calls);
        assert!(
            system.calls < 1000,
            "not looped over: {} calls",
            system.calls
        );
    }
}

#[test]
fn a_rate_that_is_not_a_number_from_the_start_costs_one_call() {
    for mut integrator in [dormand_prince(1e-6), fixed(0.1)] {
        let mut system = counting(2, |_, _: &[f64], dy: &mut [f64]| {
            dy.copy_from_slice(&[1.0, f64::INFINITY])
        });
        let error = integrator
            .advance(&mut system, 7.0, 8.0, &mut [400.0, 500.0])
            .unwrap_err();
        let expected = SolveError::NotFinite {
            time_s: 7.0,
            state: "part 1".into(),
            value: 500.0,
            rate: f64::INFINITY,
        };
        assert_eq!(error, expected);
        assert_eq!(system.calls, 1);
    }
}

/// sqrt(y)' is constant, so y = (20 - t/2 k)^2; a step carried over from a slow interval overshoots into y < 0.
#[test]
fn a_trial_step_out_of_range_is_retried_shorter() {
    let mut integrator = dormand_prince(1e-8);
    let mut y = [400.0];
    for (from, to, k) in [(0.0, 1000.0, 1e-9), (1000.0, 1000.9, 40.0)] {
        let mut system = counting(1, move |_, y: &[f64], dy: &mut [f64]| {
            dy[0] = -k * y[0].sqrt()
        });
        integrator.advance(&mut system, from, to, &mut y).unwrap();
    }
    assert!((y[0] - 4.0).abs() < 1e-5, "{}", y[0]);
    assert!(
        integrator.work().rejected >= 1,
        "the example does not overshoot: {:?}",
        integrator.work()
    );
}

/// y' = -sqrt(y) from 4 comes to 0 at t = 4, where the rates end.
#[test]
fn a_wall_beyond_which_there_are_no_rates_is_named() {
    let mut system = counting(2, |_, y: &[f64], dy: &mut [f64]| {
        dy[0] = 3.0;
        dy[1] = -y[1].sqrt() - f64::from(y[1] < 1e-6) * 1e-3;
    });
    let error = dormand_prince(1e-6)
        .advance(&mut system, 0.0, 9.0, &mut [300.0, 4.0])
        .unwrap_err();
    let SolveError::NotFinite {
        time_s,
        state,
        value,
        ..
    } = error
    else {
        panic!("{error}")
    };
    assert_eq!(state, "part 1");
    assert!(
        (3.9..4.1).contains(&time_s) && value < 0.0,
        "{value} at {time_s} s"
    );
    assert!(system.calls < 2000, "{} calls", system.calls);
}

#[test]
fn the_step_limit_says_which_state_is_the_fast_one() {
    let mut system = counting(2, |_, y: &[f64], dy: &mut [f64]| {
        dy[0] = 1e-3 * (300.0 - y[0]);
        dy[1] = 2000.0 * (y[0] - y[1]);
    });
    let mut y = [900.0, 300.0];
    let mut integrator = dormand_prince(1e-4).with_step_limit(700);
    let error = integrator
        .advance(&mut system, 10.0, 1000.0, &mut y)
        .unwrap_err();
    let SolveError::StepLimit {
        time_s,
        ref state,
        steps,
        rejected,
        ..
    } = error
    else {
        panic!("{error}")
    };
    assert_eq!(state, "part 1");
    assert_eq!(steps + rejected, 700);
    assert!(time_s > 10.0 && time_s < 20.0, "{time_s}");
    assert_eq!(y, [900.0, 300.0]);
    assert_eq!(integrator.work().rhs_calls, system.calls);
    let text = error.to_string();
    assert!(
        text.contains("part 1 = ") && text.contains("hint: "),
        "{text}"
    );

    let error = fixed(0.01)
        .with_step_limit(50)
        .advance(&mut system, 0.0, 1e-1, &mut y);
    assert_eq!(error, Ok(()), "ten steps are within the limit");
    let error = fixed(1e-6)
        .with_step_limit(50)
        .advance(&mut system, 0.0, 1.0, &mut [900.0, 300.0])
        .unwrap_err();
    assert!(
        matches!(error, SolveError::StepLimit { steps: 50, .. }),
        "{error}"
    );
}

#[test]
fn a_limit_of_steps_that_just_suffices_is_not_an_error() {
    let solve = |limit: u64| {
        let mut system = counting(1, |_, y: &[f64], dy: &mut [f64]| dy[0] = 300.0 - y[0]);
        let mut integrator = dormand_prince(1e-6).with_step_limit(limit);
        integrator
            .advance(&mut system, 0.0, 10.0, &mut [900.0])
            .map(|()| super::steps_of(integrator.work()))
    };
    let needed = solve(1000).unwrap();
    assert_eq!(solve(needed), Ok(needed));
    assert!(matches!(
        solve(needed - 1),
        Err(SolveError::StepLimit { .. })
    ));
    assert!(matches!(
        solve(0),
        Err(SolveError::StepLimit { steps: 0, .. })
    ));
}

/// y' = y^2 from 1 is 1 / (1 - t): no step gets past t = 1.
#[test]
fn running_away_to_infinity_is_an_error() {
    for mut integrator in [dormand_prince(1e-6), fixed(1e-3)] {
        let mut system = counting(1, |_, y: &[f64], dy: &mut [f64]| dy[0] = y[0] * y[0]);
        let error = integrator
            .advance(&mut system, 0.0, 2.0, &mut [1.0])
            .unwrap_err();
        let (SolveError::StepTooSmall { time_s, state, .. }
        | SolveError::NotFinite { time_s, state, .. }) = error
        else {
            panic!("{error}")
        };
        assert_eq!(state, "part 0");
        assert!((0.9..1.1).contains(&time_s), "{time_s}");
        assert!(system.calls < 100_000, "{} calls", system.calls);
    }
}

#[test]
fn an_interval_of_no_length_does_nothing() {
    for mut integrator in [dormand_prince(1e-6), fixed(0.1)] {
        let mut system = counting(1, |_, _: &[f64], dy: &mut [f64]| dy[0] = f64::NAN);
        let mut y = [400.0];
        assert_eq!(integrator.advance(&mut system, 3.0, 3.0, &mut y), Ok(()));
        assert_eq!((y[0], system.calls), (400.0, 0));
        assert_eq!(integrator.remembered_step_s(), None);
    }
}

#[test]
fn fails_when_the_interval_goes_backwards_or_is_not_finite() {
    for mut integrator in [dormand_prince(1e-6), fixed(0.1)] {
        for (from, to) in [
            (1.0, 0.0),
            (f64::NAN, 1.0),
            (0.0, f64::NAN),
            (0.0, f64::INFINITY),
            (-1e308, 1e308),
        ] {
            let mut system = counting(1, |_, _: &[f64], dy: &mut [f64]| dy[0] = 0.0);
            let error = integrator
                .advance(&mut system, from, to, &mut [400.0])
                .unwrap_err();
            assert!(matches!(error, SolveError::BadInterval { .. }), "{error}");
            assert_eq!(system.calls, 0);
        }
    }
}

#[test]
fn fails_for_states_that_do_not_fit() {
    let mut system = counting(2, |_, _: &[f64], dy: &mut [f64]| dy.fill(0.0));
    let error = dormand_prince(1e-6)
        .advance(&mut system, 0.0, 1.0, &mut [400.0])
        .unwrap_err();
    assert_eq!(
        error,
        SolveError::WrongLength {
            given: 1,
            expected: 2
        }
    );
    let error = dormand_prince(1e-6)
        .advance(&mut system, 0.0, 1.0, &mut [400.0, f64::NAN])
        .unwrap_err();
    assert!(error.to_string().starts_with("part 1 = NaN"), "{error}");
}

#[test]
fn fails_for_settings_out_of_range() {
    let fine = tolerance(1e-6);
    for (method, tolerance) in [
        (
            Method::DormandPrince,
            Tolerance {
                relative: -1e-6,
                ..fine
            },
        ),
        (
            Method::DormandPrince,
            Tolerance {
                relative: f64::NAN,
                ..fine
            },
        ),
        (
            Method::DormandPrince,
            Tolerance {
                absolute: 0.0,
                ..fine
            },
        ),
        (
            Method::DormandPrince,
            Tolerance {
                absolute: f64::INFINITY,
                ..fine
            },
        ),
        (Method::FixedRk4 { step_s: 0.0 }, fine),
        (Method::FixedRk4 { step_s: f64::NAN }, fine),
    ] {
        let mut system = counting(1, |_, _: &[f64], dy: &mut [f64]| dy.fill(0.0));
        let error = Integrator::new(method, tolerance)
            .advance(&mut system, 0.0, 1.0, &mut [400.0])
            .unwrap_err();
        assert!(matches!(error, SolveError::BadSetting { .. }), "{error}");
        assert_eq!(system.calls, 0);
    }
}
