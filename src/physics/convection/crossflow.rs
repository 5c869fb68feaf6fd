//! Forced flow across a cylinder. Reynolds number on the outer diameter, film properties.

use crate::number::Number;
use crate::physics::range::Range;

/// Range of [`nusselt_churchill_bernstein`], in Re Pr.
pub const CHURCHILL_BERNSTEIN_RANGE: Range = Range {
    name: "Churchill-Bernstein cylinder in crossflow",
    quantity: "Peclet number Re Pr [-]",
    min: 0.2,
    max: 1e7,
    source: "Churchill & Bernstein 1977; limit Re Pr > 0.2 from Incropera & DeWitt, upper limit from memory",
};

/// Range of [`nusselt_gas`]: where it agrees with the full form within 0.15 %.
pub const CROSSFLOW_GAS_RANGE: Range = Range {
    name: "cylinder in crossflow, gases",
    quantity: "Reynolds number [-]",
    min: 0.3,
    max: 5.9e5,
    source: "fit to Churchill & Bernstein 1977 for Pr 0.65-0.80",
};

/// Range of [`nusselt_zukauskas`].
pub const ZUKAUSKAS_RANGE: Range = Range {
    name: "Zukauskas cylinder in crossflow",
    quantity: "Reynolds number [-]",
    min: 1.0,
    max: 1e6,
    source: "Zukauskas 1972",
};

/// Average Nusselt number. Source: Churchill & Bernstein 1977, eq. 9; Incropera & DeWitt, eq. 7.54 (from memory).
#[inline]
pub fn nusselt_churchill_bernstein(re: f64, pr: f64) -> f64 {
    let lead = 0.62 * re.sqrt() * pr.cbrt() / (1.0 + (0.4 / pr).powf(2.0 / 3.0)).powf(0.25);
    0.3 + lead * (1.0 + (re / 282_000.0).powf(0.625)).powf(0.8)
}

/// Average Nusselt number for gases by the same correlation without powers: square roots and two fits.
///
/// The Prandtl factor is a straight line (0.10 % over Pr 0.65-0.80) and (1 + x)^0.8 a cubic (0.03 % over x 0-1.6).
#[inline(always)]
pub fn nusselt_gas<N: Number>(re: N, pr: N) -> N {
    let lead = re.sqrt() * (pr * 0.270_778_37 + 0.293_207_99);
    let r = re / 282_000.0;
    let root = r.sqrt();
    let x = root * root.sqrt().sqrt();
    lead * (x * (x * (x * 0.010_029_69 - 0.065_172_69) + 0.795_993_16) + 1.000_244_56) + 0.3
}

/// Average Nusselt number, bulk properties, `pr_wall` at the wall temperature.
///
/// Source: Zukauskas 1972; table 7.4 of Incropera & DeWitt: C, m by range of Re; n = 0.37 for Pr up to 10, else 0.36.
#[inline]
pub fn nusselt_zukauskas(re: f64, pr: f64, pr_wall: f64) -> f64 {
    let (c, m) = if re <= 40.0 {
        (0.75, 0.4)
    } else if re < 1e3 {
        (0.51, 0.5)
    } else if re < 2e5 {
        (0.26, 0.6)
    } else {
        (0.076, 0.7)
    };
    let n = if pr <= 10.0 { 0.37 } else { 0.36 };
    c * re.powf(m) * pr.powf(n) * (pr / pr_wall).powf(0.25)
}
