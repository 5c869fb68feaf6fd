//! Friction and pumping.

use super::WARM_COOLANT_K;
use crate::sheet::build::Engine;

/// Rise of friction from 90 degC coolant down to 20 degC: oil thickens (estimate; motored cold
/// engines show 1.5 to 2 times the warm value).
const COLD_RISE: f64 = 0.7;

/// Friction mean effective pressure of a warm spark-ignition engine [Pa].
///
/// `fmep [bar] = 0.97 + 0.15 (N/1000) + 0.05 (N/1000)^2`
///
/// # Source
/// Barnes-Moss 1975 as in Heywood 1988, ch. 13 (from memory); four-cylinder engines of 0.8 to 1.4 l
/// motored at full throttle. Valid 500 to 6000 rpm.
pub fn petrol_fmep_pa(rpm: f64) -> f64 {
    let n = rpm / 1000.0;
    1e5 * (0.97 + 0.15 * n + 0.05 * n * n)
}

/// Friction mean effective pressure of a warm direct-injection diesel [Pa].
///
/// `75 kPa + 48 (N/1000) + 0.4 Sp^2`, `Sp` the mean piston speed [m/s]
///
/// # Source
/// Heywood 1988, ch. 13, motored engine tests (from memory).
pub fn diesel_fmep_pa(rpm: f64, piston_speed_m_s: f64) -> f64 {
    75e3 + 48e3 * (rpm / 1000.0) + 400.0 * piston_speed_m_s * piston_speed_m_s
}

/// Mean piston speed [m/s].
pub fn piston_speed_m_s(engine: &Engine, rpm: f64) -> f64 {
    let piston = 0.25 * std::f64::consts::PI * engine.bore_m * engine.bore_m;
    let stroke = engine.displacement_m3 / (f64::from(engine.cylinders) * piston);
    2.0 * stroke * rpm / 60.0
}

/// Friction power [W] at an engine speed and coolant temperature, pumping left out.
pub fn friction_w(engine: &Engine, rpm: f64, coolant_k: f64) -> f64 {
    let fmep = if engine.diesel {
        diesel_fmep_pa(rpm, piston_speed_m_s(engine, rpm))
    } else {
        petrol_fmep_pa(rpm)
    };
    fmep * cold_factor(coolant_k) * engine.displacement_m3 * rpm / 120.0
}

/// Factor on friction: 1 at 90 degC and above, rising towards cold.
pub fn cold_factor(coolant_k: f64) -> f64 {
    1.0 + COLD_RISE * ((WARM_COOLANT_K - coolant_k) / 70.0).clamp(0.0, 1.5)
}
