//! Indices against a function whose indices are published, and on a build.

use std::f64::consts::PI;

use baysoak::study::draws::{Case, DrawSettings, Drive};
use baysoak::study::latin_hypercube::LatinHypercube;
use baysoak::study::run::RunOptions;
use baysoak::study::sensitivity::{first_order, indices, leads, measure_first, shares};

use super::{demo, drawn, short_cycle};

/// Ishigami and Homma 1990, Proc. ISUMA, 398: sin x1 + 7 sin^2 x2 + 0.1 x3^4 sin x1 with each x
/// uniform on -pi..pi.
fn ishigami(quantiles: &[f64]) -> f64 {
    let x: Vec<f64> = quantiles.iter().map(|q| PI * (2.0 * q - 1.0)).collect();
    x[0].sin() + 7.0 * x[1].sin().powi(2) + 0.1 * x[2].powi(4) * x[0].sin()
}

/// First-order indices of that function: Saltelli et al. 2008, Global Sensitivity Analysis, 4.
const FIRST: [f64; 3] = [0.3139, 0.4424, 0.0];
/// Total indices, the same place.
const TOTAL: [f64; 3] = [0.5576, 0.4424, 0.2437];

#[test]
fn val_ishigami_first_and_total_indices() {
    let found = indices(ishigami, 3, 8000, 1).unwrap();
    assert_eq!(found.calls, 40_000);
    for i in 0..3 {
        assert!((found.first[i] - FIRST[i]).abs() < 0.02, "{found:?}");
        assert!((found.total[i] - TOTAL[i]).abs() < 0.02, "{found:?}");
    }
}

/// The closed form behind the published values.
#[test]
fn verify_published_indices_follow_from_their_formula() {
    let (a, b) = (7.0, 0.1);
    let v1 = 0.5 * (1.0 + b * PI.powi(4) / 5.0).powi(2);
    let v2 = a * a / 8.0;
    let v13 = b * b * PI.powi(8) * (1.0 / 18.0 - 1.0 / 50.0);
    let v = v1 + v2 + v13;
    for (got, want) in [v1 / v, v2 / v].into_iter().zip(FIRST) {
        assert!((got - want).abs() < 5e-5, "{got} {want}");
    }
    let totals = [(v1 + v13) / v, v2 / v, v13 / v];
    for (got, want) in totals.into_iter().zip(TOTAL) {
        assert!((got - want).abs() < 5e-5, "{got} {want}");
    }
}

#[test]
fn val_ishigami_first_order_from_given_draws() {
    let n = 4000;
    let cube = LatinHypercube::new(n, 9, []);
    let names = ["x1", "x2", "x3", "no effect"];
    let columns: Vec<Vec<f64>> = names
        .iter()
        .map(|key| (0..n).map(|d| cube.quantile(key, d)).collect())
        .collect();
    let values: Vec<f64> = (0..n)
        .map(|d| ishigami(&[columns[0][d], columns[1][d], columns[2][d]]))
        .collect();
    for (column, want) in columns.iter().zip([FIRST[0], FIRST[1], FIRST[2], 0.0]) {
        let found = first_order(column, &values).unwrap();
        // twenty bins smear x2, which swings twice over its range
        assert!((found.share - want).abs() < 0.03, "{found:?} {want}");
        assert_eq!(found.is_real(), want > 0.0, "{found:?}");
    }
}

/// Shares of inputs without effect scatter as much as the formula says, around nothing.
#[test]
fn verify_scatter_of_shares_by_chance() {
    let n = 100;
    let cube = LatinHypercube::new(n, 21, []);
    let column = |key: &str| -> Vec<f64> { (0..n).map(|d| cube.quantile(key, d)).collect() };
    let values = column("values");
    let found: Vec<_> = (0..500)
        .map(|i| first_order(&column(&format!("k{i}")), &values).unwrap())
        .collect();
    let mean = found.iter().map(|f| f.share).sum::<f64>() / 500.0;
    let sd = (found.iter().map(|f| f.share.powi(2)).sum::<f64>() / 500.0).sqrt();
    assert!(mean.abs() < 0.005, "{mean}");
    assert!(
        (0.85..1.15).contains(&(sd / found[0].chance)),
        "{sd} {}",
        found[0].chance
    );
    let false_alarms = found.iter().filter(|f| f.is_real()).count();
    assert!(false_alarms <= 3, "{false_alarms} of 500");
}

#[test]
fn few_draws_or_a_figure_that_stands_still_have_no_shares() {
    assert_eq!(first_order(&[0.5; 5], &[1.0; 5]), None);
    let q: Vec<f64> = (0..40).map(|i| f64::from(i) / 40.0).collect();
    assert_eq!(first_order(&q, &[3.0; 40]), None);
    assert!(indices(|_| f64::NAN, 2, 10, 1).is_err());
}

#[test]
fn the_key_that_moves_a_figure_is_named_and_knowing_it_narrows_the_band() {
    let sheet = demo();
    let sampled = drawn(&[("demo", &sheet)], 40, 3);
    let settings = DrawSettings { draws: 40, seed: 3 };
    let cycle = short_cycle();
    let drive = Drive {
        cycle: &cycle,
        options: &RunOptions::default(),
    };
    let lead = leads(&sampled[0]).remove(1);
    assert_eq!(lead.id, "heat_to_bay_mean_w");
    let shares = shares(&sampled[0], settings, &lead);
    assert!(shares.windows(2).all(|w| w[0].1.share >= w[1].1.share));
    assert!(shares[0].1.is_real(), "{:?}", shares[0]);
    let case = Case {
        name: "demo",
        sheet: &sheet,
    };
    let first = measure_first(case, &sampled[0], drive, settings, &|_| true).unwrap();
    let of_heat = first.iter().find(|m| m.id == "heat_to_bay_mean_w").unwrap();
    assert_eq!(of_heat.key, shares[0].0.key);
    let (now, then) = (
        of_heat.high - of_heat.low,
        of_heat.high_when_measured - of_heat.low_when_measured,
    );
    assert!(then < now, "{of_heat:?}");
}
