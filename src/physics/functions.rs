//! Functions that a compiler can evaluate for several numbers at once: no calls, no branches.

use std::f64::consts::LOG2_E;

use super::polynomial::value;
use crate::number::Number;

/// Cube root of `x` from 0 up, within 1e-12 of its size (1e-6 in lanes).
///
/// First guess from the bits, then two of Halley's steps, each of which triples the digits.
#[inline(always)]
pub fn cube_root<N: Number>(x: N) -> N {
    // far below any number that means something
    let x = x.max(N::of(N::SMALLEST));
    halley(halley(x.about_cube_root(), x), x)
}

/// Cube root of `1 + z` for `z` from 0 to 1, to rounding.
///
/// A Chebyshev fit of degree 4 (1e-5), then one of Halley's steps.
#[inline(always)]
pub fn cube_root_of_one_plus<N: Number>(z: N) -> N {
    let fit = z
        * (z * (z * (z * -0.010_425_274_118_8 + 0.043_323_378_045_9) - 0.105_744_950_116)
            + 0.332_747_392_137)
        + 1.000_010_446_2;
    halley(fit, z + 1.0)
}

/// One step of Halley's method towards the cube root of `x`.
#[inline(always)]
fn halley<N: Number>(root: N, x: N) -> N {
    let cube = root * root * root;
    root * (cube + x * 2.0) / (cube * 2.0 + x)
}

/// The first 32 bits of ln 2, and what is missing then: whole multiples of the first are exact.
const LN_2_HIGH: f64 = 0.693_147_180_369_123_8;
const LN_2_LOW: f64 = 1.908_214_929_270_587_7e-10;

/// Exponential of `x` within 1e-15 of its size (1e-6 in lanes); beyond -700 and 700 (80 in lanes) as there.
///
/// Whole powers of two by the exponent bits, the rest by Taylor's series to the 12th (7th) power, whose remainder is below
/// 2e-16 (6e-9).
#[inline(always)]
pub fn exponential<N: Number>(x: N) -> N {
    let x = x.clamp(-N::LARGEST_EXPONENT, N::LARGEST_EXPONENT);
    let whole = (x * LOG2_E).nearest();
    let r = x - whole * LN_2_HIGH - whole * LN_2_LOW;
    let sum = if N::SINGLE {
        value(&INVERSE_FACTORIALS, r)
    } else {
        value(&INVERSE_FACTORIALS, r) + value(&MORE_INVERSE_FACTORIALS, r) * eighth_power(r)
    };
    sum.times_two_to(whole)
}

#[inline(always)]
fn eighth_power<N: Number>(x: N) -> N {
    let square = x * x;
    let fourth = square * square;
    fourth * fourth
}

/// `1 / n!` for n from 0 to 7.
const INVERSE_FACTORIALS: [f64; 8] = [
    1.0,
    1.0,
    1.0 / 2.0,
    1.0 / 6.0,
    1.0 / 24.0,
    1.0 / 120.0,
    1.0 / 720.0,
    1.0 / 5_040.0,
];

/// The same from 8 to 12.
const MORE_INVERSE_FACTORIALS: [f64; 5] = [
    1.0 / 40_320.0,
    1.0 / 362_880.0,
    1.0 / 3_628_800.0,
    1.0 / 39_916_800.0,
    1.0 / 479_001_600.0,
];

/// `1 / (2 n + 1)` for n from 0 to 4.
const ODD_INVERSES: [f64; 5] = [1.0, 1.0 / 3.0, 1.0 / 5.0, 1.0 / 7.0, 1.0 / 9.0];

/// The same from 5 to 10.
const MORE_ODD_INVERSES: [f64; 6] = [
    1.0 / 11.0,
    1.0 / 13.0,
    1.0 / 15.0,
    1.0 / 17.0,
    1.0 / 19.0,
    1.0 / 21.0,
];

/// Natural logarithm of a normal `x` above 0, within 1e-15 (1e-6 in lanes) of 1 or of its own size.
///
/// Whole powers of two from the exponent bits; the rest m, from sqrt(1/2) to sqrt(2), by the series in (m - 1) / (m + 1)
/// to the 21st (9th) power, whose remainder is below 1e-17 (1e-9).
#[inline(always)]
pub fn logarithm<N: Number>(x: N) -> N {
    let (whole, m) = x.split();
    let s = (m - 1.0) / (m + 1.0);
    let square = s * s;
    let sum = if N::SINGLE {
        value(&ODD_INVERSES, square)
    } else {
        let fourth = square * square;
        let more = value(&MORE_ODD_INVERSES, square) * (fourth * fourth * square);
        value(&ODD_INVERSES, square) + more
    };
    whole * LN_2_HIGH + (whole * LN_2_LOW + s * sum * 2.0)
}

/// `x` to a power, for `x` from 0 up.
#[inline(always)]
pub fn power<N: Number>(x: N, exponent: f64) -> N {
    exponential(logarithm(x.max(N::of(N::SMALLEST))) * exponent)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::number::Lanes;

    #[test]
    fn verify_cube_roots_over_the_whole_scale() {
        let mut x = 1e-30;
        while x < 1e30 {
            assert!((cube_root(x) / f64::cbrt(x) - 1.0).abs() < 1e-12, "{x}");
            x *= 1.37;
        }
        assert!(cube_root(0.0) < 1e-60);
        for i in 0..=1000 {
            let z = f64::from(i) * 1e-3;
            let miss = cube_root_of_one_plus(z) / (1.0 + z).cbrt() - 1.0;
            assert!(miss.abs() < 4e-16 * 4.0, "{z}: {miss}");
        }
    }

    #[test]
    fn verify_exponentials_against_the_standard_library() {
        for i in -70_000..=70_000 {
            let x = f64::from(i) * 0.01 + 1e-3 * f64::from(i % 7);
            if x.abs() <= 700.0 {
                let miss = exponential(x) / x.exp() - 1.0;
                assert!(miss.abs() < 1e-15, "{x}: {miss}");
            }
        }
        assert_eq!(exponential(0.0), 1.0);
        assert!(exponential(f64::NEG_INFINITY) < 1e-300);
        assert!(exponential(f64::NAN).is_nan());
    }

    #[test]
    fn verify_logarithms_against_the_standard_library() {
        let mut x = 1e-300;
        while x < 1e300 {
            let (got, want) = (logarithm(x), x.ln());
            assert!(
                (got - want).abs() < 1e-15 * want.abs().max(1.0),
                "{x}: {got} {want}"
            );
            x *= 1.0137;
        }
        assert_eq!(logarithm(1.0), 0.0);
        assert!((power(2.5, 0.8) - 2.5_f64.powf(0.8)).abs() < 1e-15);
        assert!(power(0.0, 0.8) < 1e-150);
    }

    #[test]
    fn lanes_get_the_numbers_of_one_at_a_time_in_single_precision() {
        for start in (0..400).map(|i| f64::from(i) * 0.173) {
            let x = Lanes::from_lanes(std::array::from_fn(|i| start + 1e-4 + 0.011 * i as f64));
            for lane in 0..Lanes::LANES {
                let own = x.lane(lane);
                let close = |lanes: Lanes, one: f64, allowed: f64| {
                    let got = lanes.lane(lane);
                    assert!(
                        (got - one).abs() <= allowed * one.abs(),
                        "{own}: {got} {one}"
                    );
                };
                close(cube_root(x), cube_root(own), 5e-7);
                close(cube_root(x * 1e-20), cube_root(own * 1e-20), 5e-7);
                // the argument itself stands within 6e-8 of its size
                close(exponential(-x), exponential(-own), 2e-7 * own.max(1.0));
                close(exponential(x), exponential(own), 2e-7 * own.max(1.0));
                close(logarithm(x) + 20.0, logarithm(own) + 20.0, 2e-7);
                close(power(x, 0.8), power(own, 0.8), 1e-6);
            }
        }
        let low = exponential(Lanes::of(-1e4)).lane(0);
        assert!(low > 0.0 && low < 1e-30, "{low}");
        assert!(exponential(Lanes::of(1e4)).lane(0).is_finite());
        assert!(exponential(Lanes::of(f64::NAN)).lane(0).is_nan());
        assert!(power(Lanes::of(0.0), 0.8).lane(0) < 1e-20);
    }
}
