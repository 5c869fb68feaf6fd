//! Steady conduction through simple bodies.

use std::f64::consts::PI;

/// Resistance of a cylindrical layer per length [m K/W]: `ln(ro/ri) / (2 pi k)`.
///
/// Fourier's law in cylindrical coordinates (Incropera 6th ed., eq. 3.28).
pub fn cylinder_resistance(inner_m: f64, outer_m: f64, conductivity_w_mk: f64) -> f64 {
    (outer_m / inner_m).ln() / (2.0 * PI * conductivity_w_mk)
}

/// Resistance of a plane layer per area [m2 K/W].
pub fn plane_resistance(thickness_m: f64, conductivity_w_mk: f64) -> f64 {
    thickness_m / conductivity_w_mk
}

/// Outer radius [m] at which insulation on a cylinder loses most: `k / h`
/// (Incropera 6th ed., sec. 3.3.1).
pub fn critical_radius(conductivity_w_mk: f64, outer_coefficient_w_m2k: f64) -> f64 {
    conductivity_w_mk / outer_coefficient_w_m2k
}
