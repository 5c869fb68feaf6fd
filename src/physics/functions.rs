//! Functions that a compiler can evaluate for several numbers at once: no calls, no branches.

use std::f64::consts::{LOG2_E, SQRT_2};

use crate::number::Number;

/// Cube root of `x` from 0 up, within 1e-12 of its size.
///
/// First guess from a third of the exponent bits (as in FreeBSD's `cbrt`, 5 bits right), then two
/// of Halley's steps, each of which triples the digits.
#[inline(always)]
pub fn cube_root<N: Number>(x: N) -> N {
    // far below any number that means something, and its cubes are not lost
    let x = x.max(N::of(1e-200));
    let guess = x.each(
        #[inline(always)]
        |x| {
            let third = ((x.to_bits() >> 32) * 0x5555_5556) >> 32;
            f64::from_bits((third + 715_094_163) << 32)
        },
    );
    halley(halley(guess, x), x)
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

/// 2^52 + 2^51: a number added to it has its whole part in the last bits.
const WHOLE: f64 = 6_755_399_441_055_744.0;
/// The first 32 bits of ln 2, and what is missing then: whole multiples of the first are exact.
const LN_2_HIGH: f64 = 0.693_147_180_369_123_8;
const LN_2_LOW: f64 = 1.908_214_929_270_587_7e-10;

/// Exponential of `x` within 1e-15 of its size; below -700 as at -700, above 700 as at 700.
///
/// Whole powers of two by the exponent bits, the rest by Taylor's series to the 12th power, whose remainder is below 2e-16.
#[inline(always)]
pub fn exponential<N: Number>(x: N) -> N {
    x.clamp(-700.0, 700.0).each(
        #[inline(always)]
        |x| {
            let shifted = x * LOG2_E + WHOLE;
            let whole = shifted - WHOLE;
            let r = x - whole * LN_2_HIGH - whole * LN_2_LOW;
            let mut sum = 1.0;
            for inverse in INVERSES.iter().rev() {
                sum = sum * r * inverse + 1.0;
            }
            sum * f64::from_bits((shifted.to_bits().wrapping_add(1023)) << 52)
        },
    )
}

/// `1 / n` for n from 1 to 12: a product is far cheaper than a quotient.
pub(super) const INVERSES: [f64; 12] = [
    1.0,
    1.0 / 2.0,
    1.0 / 3.0,
    1.0 / 4.0,
    1.0 / 5.0,
    1.0 / 6.0,
    1.0 / 7.0,
    1.0 / 8.0,
    1.0 / 9.0,
    1.0 / 10.0,
    1.0 / 11.0,
    1.0 / 12.0,
];

/// `1 / (2 n + 1)` for n from 0 to 10.
const ODD_INVERSES: [f64; 11] = [
    1.0,
    1.0 / 3.0,
    1.0 / 5.0,
    1.0 / 7.0,
    1.0 / 9.0,
    1.0 / 11.0,
    1.0 / 13.0,
    1.0 / 15.0,
    1.0 / 17.0,
    1.0 / 19.0,
    1.0 / 21.0,
];

/// Natural logarithm of a normal `x` above 0, within 1e-15 of 1 or of its own size.
///
/// Whole powers of two from the exponent bits; the rest m, from sqrt(1/2) to sqrt(2), by the series in (m - 1) / (m + 1)
/// to the 21st power, whose remainder is below 1e-17.
#[inline(always)]
pub fn logarithm<N: Number>(x: N) -> N {
    const FRACTION: u64 = (1 << 52) - 1;
    x.each(
        #[inline(always)]
        |x| {
            let bits = x.to_bits();
            // one power of two more from sqrt(2) on
            let carry = ((bits & FRACTION) + ((1 << 52) - (SQRT_2.to_bits() & FRACTION))) >> 52;
            let exponent = (bits >> 52).wrapping_add(carry).wrapping_sub(1023);
            let m = f64::from_bits(bits.wrapping_sub(exponent << 52));
            let whole = f64::from_bits(WHOLE.to_bits().wrapping_add(exponent)) - WHOLE;
            let s = (m - 1.0) / (m + 1.0);
            let square = s * s;
            let mut sum = 0.0;
            for inverse in ODD_INVERSES.iter().rev() {
                sum = sum * square + inverse;
            }
            whole * LN_2_HIGH + (whole * LN_2_LOW + 2.0 * s * sum)
        },
    )
}

/// `x` to a power, for `x` from 0 up.
#[inline(always)]
pub fn power<N: Number>(x: N, exponent: f64) -> N {
    exponential(logarithm(x.max(N::of(f64::MIN_POSITIVE))) * exponent)
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
        assert!(power(0.0, 0.8) < 1e-200);
    }

    #[test]
    fn lanes_get_the_numbers_of_one_at_a_time() {
        let x = Lanes::from_lanes(std::array::from_fn(|i| 0.3 + 7.7 * i as f64));
        for lane in 0..Lanes::LANES {
            let own = x.lane(lane);
            assert_eq!(cube_root(x).lane(lane), cube_root(own));
            assert_eq!(exponential(x).lane(lane), exponential(own));
            assert_eq!(logarithm(x).lane(lane), logarithm(own));
        }
    }
}
