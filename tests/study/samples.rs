//! Latin hypercube, percentiles, and draws of a build.

use baysoak::cycle::Builtin;
use baysoak::solve::Tolerance;
use baysoak::study::bands::{Band, SampleError, share_of_sign};
use baysoak::study::draws::{DrawSettings, StudyError, values_of};
use baysoak::study::latin_hypercube::LatinHypercube;
use baysoak::study::run::RunOptions;

use super::{demo, drawn, drawn_on};

fn column(cube: &LatinHypercube, key: &str) -> Vec<f64> {
    (0..cube.draws()).map(|d| cube.quantile(key, d)).collect()
}

#[test]
fn each_stratum_of_each_key_holds_one_point() {
    for draws in [1, 2, 10, 97, 1000] {
        let cube = LatinHypercube::new(draws, 7, ["a", "b"]);
        for key in ["a", "b", "made later"] {
            let mut strata: Vec<usize> = column(&cube, key)
                .iter()
                .map(|q| (q * draws as f64) as usize)
                .collect();
            strata.sort_unstable();
            assert_eq!(strata, (0..draws).collect::<Vec<_>>(), "{key}");
        }
    }
}

/// Moments of the uniform distribution: mean 1/2, variance 1/12 (textbook). Within strata the
/// mean of n points has a standard deviation of n^-3/2 / sqrt(12): for 400 points 3.6e-5.
#[test]
fn val_moments_of_a_column_are_those_of_the_uniform_distribution() {
    let n = 400;
    let cube = LatinHypercube::new(n, 3, []);
    for key in ["bay.height_mm", "engine.bore_mm", "x"] {
        let c = column(&cube, key);
        let mean = c.iter().sum::<f64>() / n as f64;
        let variance = c.iter().map(|q| (q - mean).powi(2)).sum::<f64>() / n as f64;
        assert!((mean - 0.5).abs() < 2e-4, "{mean}");
        assert!((variance - 1.0 / 12.0).abs() < 2e-4, "{variance}");
    }
}

/// Columns of different keys are in different orders: their correlation stays within what chance
/// gives, 1/sqrt(n - 1), nearly always below four times that.
#[test]
fn keys_are_not_correlated() {
    let n = 400;
    let cube = LatinHypercube::new(n, 11, []);
    let keys: Vec<String> = (0..30).map(|i| format!("key[{i}].k")).collect();
    let columns: Vec<Vec<f64>> = keys.iter().map(|k| column(&cube, k)).collect();
    let mut sum_of_squares = 0.0;
    let mut pairs = 0.0;
    for i in 0..columns.len() {
        for j in 0..i {
            let products = columns[i].iter().zip(&columns[j]);
            let covariance = products.map(|(a, b)| (a - 0.5) * (b - 0.5)).sum::<f64>() / n as f64;
            let r = 12.0 * covariance;
            assert!(r.abs() < 4.5 / (n as f64 - 1.0).sqrt(), "{i} {j} {r}");
            sum_of_squares += r * r;
            pairs += 1.0;
        }
    }
    let typical = (sum_of_squares / pairs * (n as f64 - 1.0)).sqrt();
    assert!((0.8..1.2).contains(&typical), "{typical}");
}

#[test]
fn a_column_depends_on_key_and_seed_and_on_nothing_else() {
    let few = LatinHypercube::new(50, 1, ["b"]);
    let many = LatinHypercube::new(50, 1, ["a", "b", "c"]);
    assert_eq!(column(&few, "b"), column(&many, "b"));
    assert_eq!(column(&few, "c"), column(&many, "c"));
    assert_ne!(column(&few, "b"), column(&few, "c"));
    let other = LatinHypercube::new(50, 2, ["b"]);
    assert_ne!(column(&few, "b"), column(&other, "b"));
}

/// numpy 2 `percentile(x, [10, 50, 90])`, default (linear) method.
#[test]
fn val_percentiles_agree_with_numpy() {
    let x = [9.1, -3.0, 4.4, 0.2, 7.7, 12.5, 3.3, 3.3, -1.25, 6.0, 5.5];
    let band = Band::of(&x).unwrap();
    assert!((band.low - -1.25).abs() < 1e-12, "{band:?}");
    assert!((band.median - 4.4).abs() < 1e-12, "{band:?}");
    assert!((band.high - 9.1).abs() < 1e-12, "{band:?}");
    let band = Band::of(&x[..4]).unwrap();
    assert!((band.low - -2.04).abs() < 1e-12, "{band:?}");
    assert!((band.median - 2.3).abs() < 1e-12, "{band:?}");
    assert!((band.high - 7.69).abs() < 1e-12, "{band:?}");
}

#[test]
fn nothing_that_is_no_number_becomes_a_percentile() {
    assert_eq!(Band::of(&[]), Err(SampleError::Empty));
    for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        let error = Band::of(&[1.0, bad, 2.0]).unwrap_err();
        assert!(matches!(error, SampleError::NotFinite { index: 1, .. }));
    }
}

#[test]
fn a_figure_that_a_draw_does_not_have_gets_no_band() {
    let outcomes = [
        Ok(vec![Some(1.0), None]),
        Err("solver".to_owned()),
        Ok(vec![Some(2.0), Some(5.0)]),
    ];
    assert_eq!(values_of(&outcomes, 0), Some(vec![1.0, 2.0]));
    assert_eq!(values_of(&outcomes, 1), None);
    assert_eq!(values_of(&outcomes, 2), None);
    assert_eq!(values_of(&outcomes[1..2], 0), None);
}

#[test]
fn verify_share_of_sign() {
    assert_eq!(share_of_sign(&[-1.0, -2.0, 3.0, 0.0], -5.0), Some(0.625));
    assert_eq!(share_of_sign(&[], 1.0), None);
}

#[test]
fn the_same_seed_gives_the_same_bands_on_one_and_on_two_threads() {
    let sheet = demo();
    let bands = |threads: usize, seed: u64| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads);
        let pool = pool.build().unwrap();
        let sampled = pool.install(|| drawn(&[("demo", &sheet)], 10, seed));
        let findings = sampled[0].banded(seed).unwrap().findings;
        assert!(findings.draws.as_ref().is_some_and(|d| d.failed == 0));
        serde_json::to_string(&findings).unwrap()
    };
    let one = bands(1, 5);
    assert_eq!(one, bands(2, 5));
    assert_ne!(one, bands(2, 6));
}

/// Two builds that differ in one certain number: with common draws nearly all spread cancels.
#[test]
fn common_draws_are_narrower_than_independent_ones() {
    let sheet = demo();
    let option = baysoak::sheet::OptionSpec::treating("wrap", [("downpipe", "glass-wrap-2-turns")]);
    let wrapped = sheet.with_option(&option).unwrap();
    let both = drawn(&[("as it is", &sheet), ("wrap", &wrapped)], 24, 1);
    let other = drawn(&[("wrap", &wrapped)], 24, 2);
    let index = both[0].figure_index("heat_to_bay_mean_w", "all").unwrap();
    let width = |a: &[f64], b: &[f64]| {
        let difference: Vec<f64> = b.iter().zip(a).map(|(b, a)| b - a).collect();
        Band::of(&difference).unwrap().width()
    };
    let bare = both[0].values(index).unwrap();
    let common = width(&bare, &both[1].values(index).unwrap());
    let independent = width(&bare, &other[0].values(index).unwrap());
    assert!(common < 0.6 * independent, "{common} {independent}");
}

#[test]
fn too_few_draws_are_refused() {
    for draws in [0, 9, 10_001] {
        let error = DrawSettings { draws, seed: 1 }.check().unwrap_err();
        assert!(matches!(error, StudyError::Setting { .. }));
        assert_eq!(error.exit_code(), 2);
    }
    assert!(DrawSettings { draws: 10, seed: 1 }.check().is_ok());
}

#[test]
fn failed_draws_are_counted_named_and_left_out_and_too_many_are_no_result() {
    let mut sampled = drawn(&[("demo", &demo())], 10, 1).remove(0);
    let index = sampled.figure_index("skin_peak_c", "downpipe").unwrap();
    let all = sampled.values(index).unwrap();
    sampled.outcomes[3] = Err("the solver gave up".into());
    sampled.outcomes[7] = Err("the solver gave up".into());
    sampled.check_enough("demo").unwrap();
    let kept: Vec<f64> = (0..10)
        .filter(|i| ![3, 7].contains(i))
        .map(|i| all[i])
        .collect();
    let findings = sampled.banded(1).unwrap().findings;
    let figure = &findings.figures[index];
    let band = Band::of(&kept).unwrap();
    assert_eq!((figure.low, figure.high), (Some(band.low), Some(band.high)));
    let done = findings.draws.unwrap();
    assert_eq!((done.wanted, done.failed), (10, 2));
    assert_eq!(done.reasons, ["the solver gave up"]);
    assert!(
        findings
            .warnings
            .iter()
            .any(|w| w.contains("2 of 10 draws failed"))
    );

    sampled.outcomes[8] = Err("a sheet".into());
    let error = sampled.check_enough("demo").unwrap_err();
    assert_eq!(error.exit_code(), 3);
    assert!(error.to_string().contains("3 of 10") && error.to_string().contains("gave up"));
}

/// Draws are solved more coarsely than runs: against a hundredth of that, fan and all.
#[test]
fn verify_figures_of_draws_stand_within_a_tenth_of_a_kelvin_of_exact_ones() {
    let sheet = demo();
    let cycle = Builtin::Queue.cycle().unwrap();
    let at = |factor: f64| {
        let usual = RunOptions::default();
        let options = RunOptions {
            tolerance: Tolerance {
                absolute: usual.tolerance.absolute * factor,
                ..usual.tolerance
            },
            ..usual
        };
        drawn_on(&cycle, &options, &[("demo", &sheet)], 10, 3).remove(0)
    };
    let (drawn, exact) = (at(1.0), at(0.01));
    let figures = &exact.likely.findings.figures;
    let mut worst = (0.0, String::new());
    for (i, figure) in figures.iter().enumerate() {
        if !matches!(figure.unit.as_str(), "K" | "degC") {
            continue;
        }
        let (drawn, exact) = (drawn.values(i).unwrap(), exact.values(i).unwrap());
        for (d, e) in drawn.iter().zip(&exact) {
            if (d - e).abs() > worst.0 {
                worst = (
                    (d - e).abs(),
                    format!("{} {}: {d} {e}", figure.id, figure.place),
                );
            }
        }
    }
    assert!(worst.0 < 0.1, "{worst:?}");
}
