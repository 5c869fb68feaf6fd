//! Marching in time: errors against exact solutions, in units of the tolerance asked for.

use super::common::problems::{self, Problem};
use super::{dormand_prince, fixed, march, solve};
use baysoak::solve::{Integrator, Method, Tolerance};
use nalgebra::{DMatrix, DVector};

/// The exact ends are the printed values of rows 70, 72 and 74 of the reference checks (scipy).
#[test]
fn verify_problem_library_agrees_with_printed_values() {
    let near = |problem: Problem, i: usize, printed: f64, half_digit: f64| {
        assert!(
            (problem.end[i] - printed).abs() <= half_digit,
            "{}: {}",
            problem.name,
            problem.end[i]
        );
    };
    near(problems::one_node(), 0, 273.15 + 174.277, 5e-4);
    near(problems::radiating_to_nothing(), 0, 581.615_592_2, 5e-8);
    near(problems::two_nodes_stiff(), 0, 300.424_783_16, 5e-9);
    near(problems::two_nodes_stiff(), 1, 300.424_570_98, 5e-9);
}

#[test]
fn verify_dormand_prince_keeps_its_tolerance_on_every_problem() {
    for mut problem in problems::transient() {
        let mut errors = Vec::new();
        for both in [1e-3, 1e-5, 1e-7] {
            assert!(
                problem.end_known_to < 0.1 * both * problem.end[0],
                "{} is not known that well",
                problem.name
            );
            let y = solve(&mut problem, &mut dormand_prince(both));
            let error = problem.error_in_tolerances(&y, both, both);
            assert!(
                error < 5.0,
                "{} at {both:e}: {error} tolerances",
                problem.name
            );
            errors.push(error * both);
        }
        assert!(
            errors[2] < 1e-2 * errors[0],
            "{}: a tighter tolerance must pay, {errors:?}",
            problem.name
        );
    }
}

#[test]
fn verify_fixed_rk4_on_every_problem() {
    for mut problem in problems::transient() {
        let y = solve(&mut problem, &mut fixed(0.04));
        let error_k = problem.error_in_tolerances(&y, 0.0, 1.0);
        assert!(error_k < 2e-8, "{}: off by {error_k} K", problem.name);
    }
}

#[test]
fn verify_rk4_is_of_order_four() {
    for (mut problem, step_s) in [
        (problems::one_node(), 10.0),
        (problems::ramp_driven(), 2.0),
        // Small enough that the fifth-order term, large for the fourth power, no longer hides the fourth.
        (problems::radiating_to_nothing(), 2.0),
    ] {
        let mut error = |step_s: f64| {
            let y = solve(&mut problem, &mut fixed(step_s));
            problem.error_in_tolerances(&y, 0.0, 1.0)
        };
        let order = (error(step_s) / error(step_s / 2.0)).log2();
        assert!(
            (3.7..4.6).contains(&order),
            "{}: order {order}",
            problem.name
        );
    }
}

/// Rates of up to 3,000 per second: an explicit method needs tens of thousands of steps, but gets there.
#[test]
fn verify_dormand_prince_survives_robertson() {
    let mut problem = problems::robertson();
    // The middle state never exceeds 4e-5: an absolute tolerance near that would leave it to chance.
    let mut integrator = Integrator::new(
        Method::DormandPrince,
        Tolerance {
            relative: 1e-6,
            absolute: 1e-10,
        },
    );
    let y = solve(&mut problem, &mut integrator);
    let error = problem.error_in_tolerances(&y, 1e-6, 1e-10);
    assert!(error < 10.0, "{error} tolerances");
    assert!(
        integrator.work().steps > 10_000,
        "not stiff after all: {:?}",
        integrator.work()
    );
    assert!(
        (y.iter().sum::<f64>() - 1.0).abs() < 1e-12,
        "nothing is made or lost"
    );
}

#[test]
fn any_split_of_the_interval_gives_the_same_end() {
    let mut random = problems::Random(77);
    for mut problem in problems::transient() {
        for parts in [2, 7, 60] {
            let mut stops_s = problem.stops_s.clone();
            let end_s = problem.end_s();
            stops_s.extend((1..parts).map(|_| random.between(0.0, end_s)));
            stops_s.sort_by(f64::total_cmp);
            for (name, mut integrator) in [
                ("dormand-prince", dormand_prince(1e-6)),
                ("rk4", fixed(0.05)),
            ] {
                let y = march(&mut problem, &mut integrator, &stops_s);
                let error = problem.error_in_tolerances(&y, 1e-6, 1e-6);
                assert!(
                    error < 5.0,
                    "{name} on {} in {parts} parts: {error} tolerances",
                    problem.name
                );
            }
        }
    }
}

/// Why each kink must be an end of an interval: stepped across, a method of order 4 falls back to a low order.
#[test]
fn a_kink_crossed_unstopped_spoils_the_order() {
    let mut problem = problems::kinked_ambient();
    let end_s = problem.end_s();
    let stopped = solve(&mut problem, &mut fixed(0.08));
    let crossed = march(&mut problem, &mut fixed(0.08), &[0.0, end_s]);
    let (stopped, crossed) = (
        problem.error_in_tolerances(&stopped, 0.0, 1.0),
        problem.error_in_tolerances(&crossed, 0.0, 1.0),
    );
    assert!(
        crossed > 100.0 * stopped,
        "stopped {stopped} K, crossed {crossed} K"
    );
}

/// Worse still: at rest the step grows, and a short pulse of heat inside the interval is never seen.
#[test]
fn a_pulse_inside_one_interval_is_missed_and_between_stops_is_not() {
    let pulse = |on: bool| {
        super::counting(1, move |t, y, dy| {
            let heated = on && (100.0..=101.0).contains(&t);
            dy[0] = (if heated { 2000.0 } else { 0.0 } - 8.0 * (y[0] - 300.0)) / 500.0;
        })
    };
    let mut unstopped = [300.0];
    dormand_prince(1e-6)
        .advance(&mut pulse(true), 0.0, 200.0, &mut unstopped)
        .unwrap();
    assert_eq!(
        unstopped[0], 300.0,
        "the pulse was seen by luck; the danger needs another example"
    );

    let mut stopped = [300.0];
    let mut integrator = dormand_prince(1e-6);
    for (from, to, on) in [
        (0.0, 100.0, false),
        (100.0, 101.0, true),
        (101.0, 200.0, false),
    ] {
        integrator
            .advance(&mut pulse(on), from, to, &mut stopped)
            .unwrap();
    }
    let exact = 300.0 + 250.0 * (1.0 - f64::exp(-8.0 / 500.0)) * f64::exp(-8.0 * 99.0 / 500.0);
    assert!(
        (stopped[0] - exact).abs() < 1e-3,
        "{} instead of {exact}",
        stopped[0]
    );
}

/// With a stiffness check in the integrator, many of these stop before the end.
#[test]
fn none_of_400_random_networks_is_refused() {
    for seed in 0..400 {
        let (mut matrix, _) = problems::random_links(3, seed);
        // A thin skin on the first node: its rate is drawn up to 50 per second.
        let fast = problems::Random(seed).log_between(1.0, 50.0) / -matrix[(0, 0)];
        matrix.row_mut(0).scale_mut(fast);
        let end_s = 400.0;
        let start = DVector::from_vec(vec![900.0, 500.0, 300.0]);
        let exact = (&matrix * end_s).exp() * start.add_scalar(-300.0);
        let mut system = super::counting(3, |_, y, dy| {
            let rates: DVector<f64> = &matrix * DVector::from_column_slice(y).add_scalar(-300.0);
            dy.copy_from_slice(rates.as_slice());
        });
        let mut y = [900.0, 500.0, 300.0];
        if let Err(error) = dormand_prince(1e-4).advance(&mut system, 0.0, end_s, &mut y) {
            panic!("seed {seed}: {error}");
        }
        for i in 0..3 {
            let error = (y[i] - 300.0 - exact[i]).abs() / (1e-4 + 1e-4 * y[i]);
            assert!(error < 10.0, "seed {seed} node {i}: {error} tolerances");
        }
    }
}

/// The default Jacobian against the matrix of a linear network, whose rates have no curvature.
#[test]
fn verify_difference_jacobian_of_a_linear_network() {
    use baysoak::solve::System;
    let (matrix, _) = problems::random_links(12, 3);
    let mut system = super::counting(12, |_, y, dy| {
        let rates = &matrix * DVector::from_column_slice(y);
        dy.copy_from_slice(rates.as_slice());
    });
    let mut jacobian = DMatrix::zeros(12, 12);
    let y: Vec<f64> = (0..12).map(|i| 300.0 + 40.0 * f64::from(i)).collect();
    system.jacobian(0.0, &y, &mut jacobian);
    let error = (&jacobian - &matrix).amax();
    assert!(
        error < 1e-6 * matrix.amax(),
        "off by {error} of {}",
        matrix.amax()
    );
    assert_eq!(system.calls, 13);
}

/// d/dT of T^4 is 4 T^3; forward differences see half the digits.
#[test]
fn verify_difference_jacobian_of_radiation() {
    use baysoak::solve::System;
    let mut system = super::counting(1, |_, y: &[f64], dy: &mut [f64]| {
        dy[0] = -1e-10 * y[0].powi(4)
    });
    let mut jacobian = DMatrix::zeros(1, 1);
    system.jacobian(0.0, &[900.0], &mut jacobian);
    let exact = -4e-10 * 900f64.powi(3);
    assert!(
        (jacobian[(0, 0)] / exact - 1.0).abs() < 1e-6,
        "{} instead of {exact}",
        jacobian[(0, 0)]
    );
}
