//! Horner evaluation of the property fits; the argument is always T / 1000 K.

use crate::constants::REFERENCE_TEMPERATURE_K;

/// The fits of a gas, for those who evaluate them elsewhere: `sum c_i x^i` with x = T / 1000 K, T held in the range.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct PropertyFits {
    /// Lowest and highest temperature [K]; beyond them the end values hold.
    pub range_k: [f64; 2],
    /// Specific heat [J/kg/K].
    pub specific_heat_j_kg_k: Vec<f64>,
    /// Thermal conductivity [W/m/K].
    pub conductivity_w_m_k: Vec<f64>,
    /// Dynamic viscosity [Pa s].
    pub viscosity_pa_s: Vec<f64>,
}

/// First guess at a temperature [K] from enthalpy `h` [J/kg].
pub(super) fn guess_from_enthalpy(h: f64) -> f64 {
    REFERENCE_TEMPERATURE_K + h / 1100.0
}

/// Value of `sum c_i x^i`.
#[inline(always)]
pub(super) fn value<const N: usize>(c: &[f64; N], x: f64) -> f64 {
    let mut sum = 0.0;
    for &a in c.iter().rev() {
        sum = sum * x + a;
    }
    sum
}

/// `1 / (i + 1)`: a product is far cheaper than a quotient.
const INVERSE: [f64; 8] = [
    1.0,
    1.0 / 2.0,
    1.0 / 3.0,
    1.0 / 4.0,
    1.0 / 5.0,
    1.0 / 6.0,
    1.0 / 7.0,
    1.0 / 8.0,
];

/// Antiderivative of `sum c_i x^i` with zero at x = 0, over temperature in kelvin.
#[inline(always)]
pub(super) fn integral<const N: usize>(c: &[f64; N], x: f64) -> f64 {
    let mut sum = 0.0;
    for (&a, inverse) in c.iter().zip(&INVERSE[..N]).rev() {
        sum = sum * x + a * inverse;
    }
    sum * x * 1000.0
}

/// Temperature [K] whose enthalpy is `h` [J/kg], for a specific heat that is positive everywhere;
/// the search starts from `guess_k`.
///
/// Newton's method inside a bracket, falling back to bisection, so it always ends.
#[inline]
pub(super) fn invert_enthalpy(
    h: f64,
    guess_k: f64,
    enthalpy: impl Fn(f64) -> f64,
    specific_heat: impl Fn(f64) -> f64,
) -> f64 {
    const MIN_K: f64 = 1.0;
    const MAX_K: f64 = 1.0e4;
    // Newton's method squares its miss: what is left after a step d is d^2 cp' / (2 cp), and cp' / cp is below 1e-3 1/K
    const LAST_STEP_K: f64 = 1.0e-3;
    let (mut low, mut high) = (MIN_K, MAX_K);
    let guess_k = if guess_k.is_finite() {
        guess_k
    } else {
        guess_from_enthalpy(h)
    };
    let mut t = guess_k.clamp(low, high);
    for _ in 0..80 {
        let miss = enthalpy(t) - h;
        if miss > 0.0 {
            high = t;
        } else {
            low = t;
        }
        let mut next = t - miss / specific_heat(t);
        let outside = next <= low || next >= high;
        if outside {
            next = 0.5 * (low + high);
        }
        let step = (next - t).abs();
        t = next;
        // NaN in gives NaN out at once instead of running all passes.
        if (step <= LAST_STEP_K && !outside) || step.is_nan() {
            break;
        }
    }
    t
}
