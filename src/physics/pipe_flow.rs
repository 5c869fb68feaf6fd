//! Friction and speed in pipes.

use super::functions::{logarithm, power};
use super::range::Range;
use crate::number::{Choice, Number};
use std::f64::consts::{LOG10_E, PI};

/// Reynolds number where laminar pipe flow ends [-] (Gnielinski 2013).
pub const LAMINAR_END: f64 = 2300.0;
/// Reynolds number from which pipe flow is fully turbulent [-] (Gnielinski 2013).
pub const TURBULENT_START: f64 = 4000.0;

/// Range of [`friction_haaland`].
pub const HAALAND_RANGE: Range = Range {
    name: "Haaland friction factor",
    quantity: "Reynolds number [-]",
    min: 4e3,
    max: 1e8,
    source: "Haaland 1983",
};

/// Range of [`friction_petukhov`].
pub const PETUKHOV_RANGE: Range = Range {
    name: "Petukhov friction factor",
    quantity: "Reynolds number [-]",
    min: 3e3,
    max: 5e6,
    source: "Incropera & DeWitt, eq. 8.21 (from memory)",
};

/// Mean speed [m/s] of `mass_flow_kg_s` [kg/s] at `density` [kg/m3] in `flow_area_m2` [m2].
#[inline]
pub fn speed(mass_flow_kg_s: f64, density: f64, flow_area_m2: f64) -> f64 {
    mass_flow_kg_s / (density * flow_area_m2)
}

/// Reynolds number [-] of `mass_flow_kg_s` [kg/s] in a round bore `diameter_m` [m], `viscosity` [Pa s].
#[inline]
pub fn reynolds_in_pipe(mass_flow_kg_s: f64, diameter_m: f64, viscosity: f64) -> f64 {
    4.0 * mass_flow_kg_s / (PI * diameter_m * viscosity)
}

/// Darcy friction factor [-] of a smooth pipe, turbulent. Source: Petukhov 1970, Incropera & DeWitt eq. 8.21 (from memory).
#[inline(always)]
pub fn friction_petukhov<N: Number>(re: N) -> N {
    let root = logarithm(re) * 0.790 - 1.64;
    N::of(1.0) / (root * root)
}

/// Darcy friction factor [-] of a rough pipe, turbulent, `relative_roughness` = roughness / bore [-].
///
/// Source: Haaland 1983; within 2 % of Colebrook 1939.
#[inline(always)]
pub fn friction_haaland<N: Number>(re: N, relative_roughness: f64) -> N {
    let rough = power(relative_roughness / 3.7, 1.11);
    let root = logarithm(N::of(6.9) / re + rough) * (-1.8 * LOG10_E);
    N::of(1.0) / (root * root)
}

/// Darcy friction factor [-] at any Reynolds number: 64/Re up to 2300, Haaland from 4000, a straight line between (the joining
/// is an estimate; it makes the factor continuous). Zero flow gives zero, so that zero times speed squared stays finite.
#[inline(always)]
pub fn friction_pipe<N: Number>(re: N, relative_roughness: f64) -> N {
    let (laminar, turbulent) = (N::of(LAMINAR_END), N::of(TURBULENT_START));
    let share = ((re - LAMINAR_END) / (TURBULENT_START - LAMINAR_END)).clamp(0.0, 1.0);
    let rough = friction_haaland(re.max(turbulent), relative_roughness);
    let smooth = N::of(64.0) / re.min(laminar);
    let flowing = (N::of(1.0) - share) * smooth + share * rough;
    re.not_above(N::default()).choose(N::default(), flowing)
}

/// Pressure drop [Pa] of a pipe by Darcy-Weisbach: Darcy `friction` [-], `length_m`, `diameter_m` [m], sum of loss coefficients
/// `loss_coefficient` [-], `density` [kg/m3], `speed_m_s` [m/s].
#[inline(always)]
pub fn pressure_drop<N: Number>(
    friction: N,
    length_m: N,
    diameter_m: N,
    loss_coefficient: f64,
    density: N,
    speed_m_s: N,
) -> N {
    (friction * length_m / diameter_m + loss_coefficient)
        * 0.5
        * density
        * speed_m_s
        * speed_m_s.abs()
}
