//! How many repeats tell two states apart, and quantiles that go with few of them.

use statrs::distribution::{ContinuousCDF, Normal, StudentsT};
use statrs::function::gamma::ln_gamma;

/// Most repeats per side that are looked at: beyond, a test isn't a plan any more.
pub const MOST_REPEATS: u32 = 200;
/// Pieces of the integral over the sample's own scatter.
const PIECES: usize = 2000;

/// Quantile of Student's t [-] at probability `p` with `freedom` degrees of freedom; the normal one for very many.
#[must_use]
pub fn student_quantile(p: f64, freedom: f64) -> f64 {
    StudentsT::new(0.0, 1.0, freedom.clamp(0.5, 1e7)).map_or(f64::NAN, |t| t.inverse_cdf(p))
}

/// Half the width of a two-sided interval in standard errors.
#[must_use]
pub fn student_factor(level: f64, freedom: f64) -> f64 {
    student_quantile(0.5 + 0.5 * level, freedom)
}

/// Chance that a two-sided t test on the means of two samples of `repeats` each finds a difference.
///
/// `effect` is the true difference over the scatter (standard deviation) of one repeat [-]; `alpha` the accepted chance of
/// a false alarm. The non-central t by integrating the normal over the sample's own scatter
/// (Johnson, Kotz & Balakrishnan, Continuous Univariate Distributions 2, ch. 31; from memory).
#[must_use]
pub fn power(effect: f64, repeats: u32, alpha: f64) -> f64 {
    let Ok(normal) = Normal::new(0.0, 1.0) else {
        return f64::NAN;
    };
    if repeats < 2 {
        return 0.0;
    }
    let n = f64::from(repeats);
    let freedom = 2.0 * n - 2.0;
    let shift = effect * (0.5 * n).sqrt();
    let critical = student_quantile(1.0 - 0.5 * alpha, freedom);
    // density of s, the sample's scatter over the true one
    let log_scale =
        std::f64::consts::LN_2 + 0.5 * freedom * (0.5 * freedom).ln() - ln_gamma(0.5 * freedom);
    let top = 1.0 + 9.0 / freedom.sqrt();
    let step = top / PIECES as f64;
    let value = |i: usize| {
        let s = step * i as f64;
        if s <= 0.0 {
            return 0.0;
        }
        let density = (log_scale + (freedom - 1.0) * s.ln() - 0.5 * freedom * s * s).exp();
        let found = 1.0 - normal.cdf(critical * s - shift) + normal.cdf(-critical * s - shift);
        density * found
    };
    // Simpson
    let inner: f64 = (1..PIECES)
        .map(|i| if i % 2 == 1 { 4.0 } else { 2.0 } * value(i))
        .sum();
    ((value(0) + inner + value(PIECES)) * step / 3.0).min(1.0)
}

/// Fewest repeats per side that find the effect with this power; `None` beyond [`MOST_REPEATS`].
#[must_use]
pub fn repeats(effect: f64, alpha: f64, wanted_power: f64) -> Option<u32> {
    (2..=MOST_REPEATS).find(|&n| power(effect, n, alpha) >= wanted_power)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// statsmodels 0.15, `TTestIndPower.solve_power`, fractional n rounded up.
    #[test]
    fn val_statsmodels_sample_sizes() {
        for (effect, alpha, wanted, n) in [
            (0.5, 0.05, 0.9, 85.0312841157341),
            (0.5, 0.10, 0.8, 50.148223399898114),
            (0.8, 0.05, 0.9, 33.825542344160304),
            (1.0, 0.05, 0.9, 22.021088441446192),
            (1.0, 0.10, 0.8, 13.097134450098716_f64),
            (1.5, 0.05, 0.9, 10.401466159235628),
            (2.0, 0.05, 0.9, 6.386755099409564),
            (3.0, 0.05, 0.9, 3.624815017352),
            (3.0, 0.10, 0.8, 2.462433501690416),
        ] {
            let got = repeats(effect, alpha, wanted).unwrap();
            assert_eq!(f64::from(got), n.ceil(), "{effect} {alpha} {wanted}");
        }
    }

    /// statsmodels 0.15, `TTestIndPower.power`.
    #[test]
    fn val_statsmodels_powers() {
        for (effect, n, want) in [(1.0, 10, 0.5620066465861491), (2.0, 3, 0.46264081189130635)] {
            let got = power(effect, n, 0.05);
            assert!((got - want).abs() < 1e-6, "{effect} {n}: {got}");
        }
    }

    /// scipy 1.17, `t.ppf`.
    #[test]
    fn val_scipy_student_quantiles() {
        for (freedom, want) in [
            (1.0, 6.313751514675037),
            (3.0, 2.3533634348018233),
            (8.0, 1.8595480375308973),
            (120.0, 1.6576508993552352),
        ] {
            let got = student_factor(0.9, freedom);
            assert!((got / want - 1.0).abs() < 1e-8, "{freedom}: {got}");
        }
    }

    #[test]
    fn no_effect_is_found_as_often_as_false_alarms_are_accepted() {
        assert!((power(0.0, 8, 0.1) - 0.1).abs() < 1e-6);
        assert_eq!(repeats(0.01, 0.05, 0.9), None);
        assert_eq!(power(5.0, 1, 0.05), 0.0);
    }
}
