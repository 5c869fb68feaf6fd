//! US Standard Atmosphere 1976 in its lowest layer, below 11 km.

use crate::constants::{AIR_GAS_CONSTANT_J_KGK, GRAVITY_M_S2};

const SEA_LEVEL_K: f64 = 288.15;
const SEA_LEVEL_PA: f64 = 101_325.0;
const LAPSE_K_M: f64 = 0.0065;
/// Effective earth radius of the standard [m].
const EARTH_RADIUS_M: f64 = 6_356_766.0;

fn geopotential_m(altitude_m: f64) -> f64 {
    EARTH_RADIUS_M * altitude_m / (EARTH_RADIUS_M + altitude_m)
}

/// Temperature [K] at a geometric altitude [m].
pub fn temperature_at_altitude(altitude_m: f64) -> f64 {
    SEA_LEVEL_K - LAPSE_K_M * geopotential_m(altitude_m)
}

/// Pressure [Pa] at a geometric altitude [m].
pub fn pressure_at_altitude(altitude_m: f64) -> f64 {
    let exponent = GRAVITY_M_S2 / (AIR_GAS_CONSTANT_J_KGK * LAPSE_K_M);
    SEA_LEVEL_PA * (temperature_at_altitude(altitude_m) / SEA_LEVEL_K).powf(exponent)
}
