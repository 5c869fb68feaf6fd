//! US Standard Atmosphere 1976 below 11 km, and the wind near the ground.

use super::range::Range;
use crate::constants::{
    ATMOSPHERE_1976_GAS_CONSTANT_J_MOL_K, ATMOSPHERE_1976_MOLAR_MASS_KG_MOL, EARTH_RADIUS_M,
    GRAVITY_M_S2, STANDARD_ATMOSPHERE_LAPSE_K_M, STANDARD_ATMOSPHERE_TEMPERATURE_K,
    STANDARD_PRESSURE_PA,
};

/// Range of the two functions, geometric altitude.
pub const ATMOSPHERE_RANGE: Range = Range {
    name: "US Standard Atmosphere 1976, lowest layer",
    quantity: "altitude [m]",
    min: -5_000.0,
    max: 11_000.0,
    source: "US Standard Atmosphere 1976, table 4",
};

/// Geopotential altitude [m] of geometric altitude [m]. US Standard Atmosphere 1976, eq. 18.
#[inline]
fn geopotential(altitude_m: f64) -> f64 {
    EARTH_RADIUS_M * altitude_m / (EARTH_RADIUS_M + altitude_m)
}

/// Temperature [K] at geometric `altitude_m` [m]. US Standard Atmosphere 1976, eq. 23.
#[inline]
pub fn temperature_at_altitude(altitude_m: f64) -> f64 {
    STANDARD_ATMOSPHERE_TEMPERATURE_K - STANDARD_ATMOSPHERE_LAPSE_K_M * geopotential(altitude_m)
}

/// Pressure [Pa] at geometric `altitude_m` [m]. US Standard Atmosphere 1976, eq. 33a.
#[inline]
pub fn pressure_at_altitude(altitude_m: f64) -> f64 {
    let exponent = GRAVITY_M_S2 * ATMOSPHERE_1976_MOLAR_MASS_KG_MOL
        / (ATMOSPHERE_1976_GAS_CONSTANT_J_MOL_K * STANDARD_ATMOSPHERE_LAPSE_K_M);
    STANDARD_PRESSURE_PA
        * (temperature_at_altitude(altitude_m) / STANDARD_ATMOSPHERE_TEMPERATURE_K).powf(exponent)
}

/// Wind at `height_m` [m] above built-up ground over what weather services report, 10 m above open
/// ground [-].
///
/// # Source
/// ASHRAE Handbook Fundamentals, chapter on airflow around buildings, local wind speed from a power
/// law with the layers and exponents of open (270 m, 0.14) and built-up ground (370 m, 0.22) (from
/// memory).
#[inline]
pub fn wind_among_buildings(height_m: f64) -> f64 {
    (270.0f64 / 10.0).powf(0.14) * (height_m / 370.0).powf(0.22)
}
