//! Steady conduction through layers.

use std::f64::consts::TAU;

use crate::number::Number;

/// Resistance of a cylindrical layer per metre of length [m K/W], radii `inner_m`, `outer_m` [m], conductivity `k` [W/m/K].
///
/// Source: Incropera & DeWitt, eq. 3.33 (from memory).
#[inline]
pub fn cylinder_resistance_per_length(inner_m: f64, outer_m: f64, k: f64) -> f64 {
    (outer_m / inner_m).ln() / (TAU * k)
}

/// Shape factor of a cylindrical layer [m], conductance over conductivity: `length_m` [m], radii or diameters `inner_m`,
/// `outer_m` [m].
///
/// Source: Incropera & DeWitt, eq. 3.33 (from memory).
#[inline]
pub fn cylinder_shape_factor(length_m: f64, inner_m: f64, outer_m: f64) -> f64 {
    TAU * length_m / (outer_m / inner_m).ln()
}

/// Conductivity [W/m/K] at `mean_k` [K] of a layer that has `at_300_k` [W/m/K] and a slope [W/m/K2]; never below a fifth of
/// `at_300_k`, so that a falling one stays a conductivity.
#[inline(always)]
pub fn linear_conductivity<N: Number>(at_300_k: N, slope: N, mean_k: N) -> N {
    (at_300_k + slope * (mean_k - 300.0)).max(at_300_k * 0.2)
}

/// Resistance of a plane layer [K/W], `thickness_m` [m], conductivity `k` [W/m/K], `area_m2` [m2].
///
/// Source: Incropera & DeWitt, eq. 3.6 (from memory).
#[inline]
pub fn plane_resistance(thickness_m: f64, k: f64, area_m2: f64) -> f64 {
    thickness_m / (k * area_m2)
}

/// Outer radius [m] at which a cylinder with insulation of `k` [W/m/K] and outside coefficient `h` [W/m2/K] loses most heat.
///
/// Source: Incropera & DeWitt, example 3.6, r = k / h (from memory).
#[inline]
pub fn critical_radius(k: f64, h: f64) -> f64 {
    k / h
}

/// Resistance of a pressed joint [K/W] of `area_m2` [m2] and contact conductance `h_contact` [W/m2/K].
///
/// Source: Incropera & DeWitt, eq. 3.20 (from memory).
#[inline]
pub fn contact_resistance(h_contact: f64, area_m2: f64) -> f64 {
    1.0 / (h_contact * area_m2)
}
