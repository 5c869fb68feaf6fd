//! Flow across a single cylinder.

use crate::physics::range::Range;

/// Where [`nusselt_cylinder`] holds, as Re Pr.
pub const CROSSFLOW_RANGE: Range = Range {
    name: "Churchill-Bernstein crossflow",
    quantity: "Re Pr",
    min: 0.2,
    max: 1e7,
    source: "Churchill and Bernstein 1977",
};

/// Mean Nusselt number of a cylinder in crossflow.
///
/// `0.3 + 0.62 Re^(1/2) Pr^(1/3) / [1 + (0.4/Pr)^(2/3)]^(1/4) [1 + (Re/282000)^(5/8)]^(4/5)`
///
/// # Source
/// Churchill and Bernstein 1977, J. Heat Transfer 99, 300; Incropera 6th ed., eq. 7.54.
///
/// # Arguments
/// `re`: Reynolds number on the outer diameter, film properties; `pr`: Prandtl number at film.
///
/// # Valid for
/// [`CROSSFLOW_RANGE`].
///
/// # Example
/// ```
/// let nu = baysoak::physics::convection::crossflow::nusselt_cylinder(1e4, 0.71);
/// assert!((nu - 53.6304).abs() < 1e-4); // ht 1.2.0
/// ```
#[inline]
pub fn nusselt_cylinder(re: f64, pr: f64) -> f64 {
    let low = 0.62 * re.sqrt() * pr.cbrt() / (1.0 + (0.4 / pr).powf(2.0 / 3.0)).sqrt().sqrt();
    0.3 + low * (1.0 + (re / 282_000.0).powf(0.625)).powf(0.8)
}
