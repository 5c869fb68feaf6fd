//! Dry air at about atmospheric pressure, 200 to 1500 K.
//!
//! Polynomials fitted to CoolProp 8.0.0 (Lemmon et al. 2000 for air) at 101 325 Pa. Largest error
//! of the fits between 230 and 1300 K: specific heat 0.03 %, conductivity 0.03 %, viscosity 0.04 %.

use super::polynomial;
use crate::constants::AIR_GAS_CONSTANT_J_KGK;

pub(crate) const SPECIFIC_HEAT: [f64; 7] = [
    1033.082_85,
    -159.561_706,
    -107.714_9,
    1770.612_39,
    -2512.489_18,
    1401.997_37,
    -284.825_574,
];
pub(crate) const CONDUCTIVITY: [f64; 6] = [
    -0.000_588_213_376,
    0.110_217_545,
    -0.086_002_250_2,
    0.069_878_650_6,
    -0.031_946_222_7,
    0.006_123_640_47,
];
pub(crate) const VISCOSITY: [f64; 6] = [
    1.560_050_09e-7,
    7.825_391_45e-5,
    -7.192_731_75e-5,
    5.847_003_35e-5,
    -2.681_751_65e-5,
    5.149_717_24e-6,
];

/// Specific heat at constant pressure [J/kg/K].
#[inline]
pub fn specific_heat(t_k: f64) -> f64 {
    polynomial::value(&SPECIFIC_HEAT, t_k)
}

/// Enthalpy relative to 298.15 K [J/kg]: the exact integral of [`specific_heat`].
#[inline]
pub fn enthalpy(t_k: f64) -> f64 {
    polynomial::integral(&SPECIFIC_HEAT, t_k)
}

/// Temperature [K] at an enthalpy [J/kg].
pub fn temperature_from_enthalpy(h_j_kg: f64) -> f64 {
    polynomial::invert_integral(&SPECIFIC_HEAT, h_j_kg, 298.15 + h_j_kg / 1010.0)
}

/// Thermal conductivity [W/m/K].
#[inline]
pub fn conductivity(t_k: f64) -> f64 {
    polynomial::value(&CONDUCTIVITY, t_k)
}

/// Dynamic viscosity [Pa s].
#[inline]
pub fn viscosity(t_k: f64) -> f64 {
    polynomial::value(&VISCOSITY, t_k)
}

/// Prandtl number [-].
#[inline]
pub fn prandtl(t_k: f64) -> f64 {
    specific_heat(t_k) * viscosity(t_k) / conductivity(t_k)
}

/// Density of the ideal gas [kg/m3].
#[inline]
pub fn density(t_k: f64, pressure_pa: f64) -> f64 {
    pressure_pa / (AIR_GAS_CONSTANT_J_KGK * t_k)
}

/// Kinematic viscosity [m2/s].
#[inline]
pub fn kinematic_viscosity(t_k: f64, pressure_pa: f64) -> f64 {
    viscosity(t_k) / density(t_k, pressure_pa)
}
