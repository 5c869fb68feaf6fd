//! Convection: Nusselt numbers from Reynolds, Rayleigh and Prandtl numbers.

pub mod annulus;
pub mod crossflow;
pub mod internal;
pub mod mixed;
pub mod natural;
pub mod plate;

/// Heat transfer coefficient [W/m2/K] from `nusselt` [-], `conductivity` [W/m/K] and characteristic `length_m` [m].
#[inline]
pub fn coefficient(nusselt: f64, conductivity: f64, length_m: f64) -> f64 {
    nusselt * conductivity / length_m
}
