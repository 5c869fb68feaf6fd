//! Polynomials in kilokelvin, for properties against temperature.

use crate::constants::REFERENCE_TEMPERATURE_K;

/// Value of `sum c_i x^i` at `x = t_k / 1000`.
#[inline]
pub fn value(coefficients: &[f64], t_k: f64) -> f64 {
    let x = t_k * 1e-3;
    coefficients.iter().rev().fold(0.0, |sum, c| sum * x + c)
}

/// Integral of the polynomial from 298.15 K to `t_k`, over temperature in kelvin.
#[inline]
pub fn integral(coefficients: &[f64], t_k: f64) -> f64 {
    antiderivative(coefficients, t_k) - antiderivative(coefficients, REFERENCE_TEMPERATURE_K)
}

#[inline]
fn antiderivative(coefficients: &[f64], t_k: f64) -> f64 {
    let x = t_k * 1e-3;
    let mut sum = 0.0;
    for (i, c) in coefficients.iter().enumerate().rev() {
        sum = sum * x + c / (i + 1) as f64;
    }
    sum * x * 1e3
}

/// Temperature [K] at which the integral from 298.15 K is `target`, for a positive polynomial.
///
/// Newton steps kept between 100 and 4000 K; ends after at most 40 of them.
pub fn invert_integral(coefficients: &[f64], target: f64, guess_k: f64) -> f64 {
    let mut t = guess_k.clamp(100.0, 4000.0);
    for _ in 0..40 {
        let step = (integral(coefficients, t) - target) / value(coefficients, t);
        t = (t - step).clamp(100.0, 4000.0);
        if step.abs() < 1e-9 * t {
            break;
        }
    }
    t
}
