//! Horner evaluation of the property fits; the argument is always T / 1000 K.

use std::ops::{Add, Mul};

use crate::constants::REFERENCE_TEMPERATURE_K;
use crate::number::{Choice, Number};

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
#[inline(always)]
pub(super) fn guess_from_enthalpy<N: Number>(h: N) -> N {
    h / 1100.0 + REFERENCE_TEMPERATURE_K
}

/// Value of `sum c_i x^i`; coefficients plain, or one in each lane as `x`.
///
/// Several numbers at once by Horner's scheme, which has the fewest operations. There each waits for the one before; one
/// number alone is sooner found by Estrin's, in pairs of terms, then pairs of pairs.
#[inline(always)]
pub(super) fn value<
    N: Number + Add<C, Output = N> + Mul<C, Output = N>,
    C: Copy,
    const K: usize,
>(
    c: &[C; K],
    x: N,
) -> N {
    if N::LANES > 1 {
        let mut sum = N::of(0.0) + c[K - 1];
        for &a in c[..K - 1].iter().rev() {
            sum = sum * x + a;
        }
        return sum;
    }
    const { assert!(K <= 8) };
    let square = x * x;
    let low = pair(c, x, 0) + pair(c, x, 2) * square;
    let high = pair(c, x, 4) + pair(c, x, 6) * square;
    low + high * (square * square)
}

/// Two terms of a sum over powers of x, or what there is of them, over the power of the first.
#[inline(always)]
fn pair<N: Number + Add<C, Output = N> + Mul<C, Output = N>, C: Copy, const K: usize>(
    c: &[C; K],
    x: N,
    first: usize,
) -> N {
    match K.saturating_sub(first) {
        0 => N::default(),
        1 => N::default() + c[first],
        _ => x * c[first + 1] + c[first],
    }
}

/// Coefficients a of the antiderivative of `sum c_i x^i` with zero at x = 0, over temperature in kelvin: it is
/// `x sum a_i x^i`.
#[inline(always)]
pub(super) fn antiderivative<C: Copy + Mul<f64, Output = C>, const K: usize>(c: &[C; K]) -> [C; K] {
    // a product is far cheaper than a quotient
    std::array::from_fn(|i| c[i] * (1000.0 * INVERSES[i]))
}

/// `1 / n` for n from 1 to 8.
const INVERSES: [f64; 8] = [
    1.0,
    1.0 / 2.0,
    1.0 / 3.0,
    1.0 / 4.0,
    1.0 / 5.0,
    1.0 / 6.0,
    1.0 / 7.0,
    1.0 / 8.0,
];

/// Temperature [K] whose enthalpy is `h` [J/kg], for a specific heat that is positive everywhere;
/// the search starts from `guess_k`.
///
/// Newton's method inside a bracket, falling back to bisection, so it always ends.
#[inline(always)]
pub(super) fn invert_enthalpy<N: Number>(
    h: N,
    guess_k: N,
    enthalpy: impl Fn(N) -> N,
    specific_heat: impl Fn(N) -> N,
) -> N {
    const MIN_K: f64 = 1.0;
    const MAX_K: f64 = 1.0e4;
    // Newton's method squares its miss: what is left after a step d is d^2 cp' / (2 cp), and cp' / cp is below 1e-3 1/K
    const LAST_STEP_K: f64 = 1.0e-2;
    let zero = N::of(0.0);
    let (mut low, mut high) = (N::of(MIN_K), N::of(MAX_K));
    let guess_k = if guess_k.is_finite() {
        guess_k
    } else {
        guess_from_enthalpy(h)
    };
    let mut t = guess_k.clamp(MIN_K, MAX_K);
    for _ in 0..80 {
        let miss = enthalpy(t) - h;
        let above = zero.below(miss);
        high = above.choose(t, high);
        low = above.choose(low, t);
        let next = t - miss / specific_heat(t);
        let outside = next.below(low).or(high.below(next));
        let next = outside.choose((low + high) * 0.5, next);
        // a bracket of the last digits can't be halved
        let last_digits = (high - low).not_above(t * (8.0 * N::EPSILON));
        let halved = last_digits.choose(zero, N::of(f64::INFINITY));
        let step = outside.choose(halved, (next - t).abs());
        t = next;
        // NaN in gives NaN out at once instead of running all passes.
        let largest = step.largest();
        if largest <= LAST_STEP_K || largest.is_nan() {
            break;
        }
    }
    t
}
