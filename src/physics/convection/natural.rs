//! Natural convection on outer surfaces.

use crate::physics::range::Range;

/// Where [`nusselt_horizontal_cylinder`] holds, as Ra.
pub const CYLINDER_RANGE: Range = Range {
    name: "Churchill-Chu horizontal cylinder",
    quantity: "Ra",
    min: 0.0,
    max: 1e12,
    source: "Churchill and Chu 1975",
};
/// Where [`nusselt_vertical_plate`] holds, as Ra.
pub const PLATE_RANGE: Range = Range {
    name: "Churchill-Chu vertical plate",
    quantity: "Ra",
    min: 0.0,
    max: 1e12,
    source: "Churchill and Chu 1975",
};

#[inline]
fn sixth_root(x: f64) -> f64 {
    x.max(0.0).sqrt().cbrt()
}

/// Mean Nusselt number of a horizontal cylinder.
///
/// `{0.60 + 0.387 Ra^(1/6) / [1 + (0.559/Pr)^(9/16)]^(8/27)}^2`
///
/// # Source
/// Churchill and Chu 1975, Int. J. Heat Mass Transfer 18, 1049; Incropera 6th ed., eq. 9.34.
///
/// # Arguments
/// `ra`: Rayleigh number on the diameter, film properties; `pr`: Prandtl number.
///
/// # Valid for
/// [`CYLINDER_RANGE`].
#[inline]
pub fn nusselt_horizontal_cylinder(ra: f64, pr: f64) -> f64 {
    let c = (1.0 + (0.559 / pr).powf(9.0 / 16.0)).powf(8.0 / 27.0);
    (0.60 + 0.387 * sixth_root(ra) / c).powi(2)
}

/// Mean Nusselt number of a vertical plate.
///
/// `{0.825 + 0.387 Ra^(1/6) / [1 + (0.492/Pr)^(9/16)]^(8/27)}^2`
///
/// # Source
/// Churchill and Chu 1975, Int. J. Heat Mass Transfer 18, 1323; Incropera 6th ed., eq. 9.26.
///
/// # Arguments
/// `ra`: Rayleigh number on the height, film properties; `pr`: Prandtl number.
///
/// # Valid for
/// [`PLATE_RANGE`].
#[inline]
pub fn nusselt_vertical_plate(ra: f64, pr: f64) -> f64 {
    let c = (1.0 + (0.492 / pr).powf(9.0 / 16.0)).powf(8.0 / 27.0);
    (0.825 + 0.387 * sixth_root(ra) / c).powi(2)
}
