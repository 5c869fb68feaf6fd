//! Natural convection between concentric horizontal cylinders.

use super::natural::rayleigh;
use crate::number::Number;
use crate::physics::air;
use crate::physics::range::Range;

/// Range of [`conductivity_ratio`].
pub const ANNULUS_RANGE: Range = Range {
    name: "Raithby-Hollands concentric cylinders",
    quantity: "Rayleigh number on the gap's effective length [-]",
    min: 0.0,
    max: 1e7,
    source: "Raithby & Hollands 1975; Incropera & DeWitt, eq. 9.58 and 9.60 (from memory)",
};

/// Effective length of the gap [m], `inner_m` and `outer_m` being its radii [m].
///
/// Source: Incropera & DeWitt, eq. 9.60 (from memory).
#[inline]
pub fn effective_length(inner_m: f64, outer_m: f64) -> f64 {
    let sum = inner_m.powf(-0.6) + outer_m.powf(-0.6);
    2.0 * (outer_m / inner_m).ln().powf(4.0 / 3.0) / sum.powf(5.0 / 3.0)
}

/// Effective over molecular conductivity [-] at Rayleigh number `ra` on [`effective_length`] and
/// Prandtl number `pr`; never below 1, where air only conducts.
///
/// Source: Raithby & Hollands 1975; Incropera & DeWitt, eq. 9.58 (from memory).
#[inline(always)]
pub fn conductivity_ratio<N: Number>(ra: N, pr: N) -> N {
    ((pr / (pr + 0.861)).sqrt().sqrt() * 0.386 * ra.sqrt().sqrt()).max(N::of(1.0))
}

/// Effective conductivity [W/m/K] of the air in a gap of [`effective_length`] `length_m` [m] whose
/// faces have temperatures `faces_k` [K], at `pressure_pa` [Pa]; properties at their mean.
#[inline(always)]
pub fn effective_conductivity<N: Number>(length_m: N, faces_k: [N; 2], pressure_pa: N) -> N {
    let film_k = (faces_k[0] + faces_k[1]) * 0.5;
    let nu = air::kinematic_viscosity(film_k, pressure_pa);
    let pr = air::prandtl(film_k);
    let ra = rayleigh(faces_k[0], faces_k[1], length_m, nu, pr);
    air::conductivity(film_k) * conductivity_ratio(ra, pr)
}
