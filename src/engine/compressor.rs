//! Compressor: temperature rise from pressure ratio.

use crate::constants::DRY_AIR_GAS_CONSTANT_J_KG_K;
use crate::physics::air;

/// Temperature rise over inlet temperature, `T2 = T1 (1 + rise)`, real specific heat at the mean
/// temperature.
///
/// `rise = (PR^(R/cp) - 1) / eta` (any thermodynamics text). Below a pressure ratio of 1 there is
/// no rise.
///
/// `inlet_k`: inlet temperature [K]; `efficiency`: isentropic [-].
pub fn temperature_rise_ratio(pressure_ratio: f64, efficiency: f64, inlet_k: f64) -> f64 {
    if pressure_ratio <= 1.0 {
        return 0.0;
    }
    let rise = |mean_k: f64| {
        pressure_ratio.powf(DRY_AIR_GAS_CONSTANT_J_KG_K / air::specific_heat(mean_k)) - 1.0
    };
    // one correction of the mean temperature is enough: cp changes 1 % per 100 K
    let first = rise(inlet_k);
    rise(inlet_k * (1.0 + 0.5 * first)) / efficiency
}
