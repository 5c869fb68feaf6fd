//! Heat from the working gas to the coolant.

use crate::physics::exhaust_gas::{ExhaustGas, Fuel};
use crate::sheet::build::Engine;

/// Average effective gas temperature at stoichiometric and at fuel-air ratio 0.3 [K]
/// (Heywood 1988, sec. 12.4, from memory; the lean end is an estimate).
const GAS_K: (f64, f64) = (700.0, 490.0);
/// Exhaust ports in the head add to what the cylinder correlation gives (estimate: 4 to 6 % of the
/// fuel's heat at full load).
const PORT_SHARE: f64 = 1.28;

/// Heat to coolant and block [W] at a charge flow (air and fuel) and fuel-air equivalence ratio.
///
/// `Nu = 10.4 Re^0.75` on bore, with `Re = m b / (mu A_piston)` per cylinder, driven by an average
/// effective gas temperature.
///
/// # Source
/// Taylor and Toong 1957 as in Heywood 1988, sec. 12.4 (from memory).
///
/// # Valid for
/// Four-stroke engines, `Re` 200 to 40 000.
pub fn cylinder_heat_w(
    engine: &Engine,
    fuel: Fuel,
    charge_kg_s: f64,
    phi: f64,
    coolant_k: f64,
) -> f64 {
    let cylinders = f64::from(engine.cylinders);
    let piston_m2 = 0.25 * std::f64::consts::PI * engine.bore_m * engine.bore_m;
    let gas_k = effective_gas_k(phi);
    let gas = ExhaustGas::new(fuel, 1.0 / phi.clamp(1e-3, 1.0));
    let re = charge_kg_s / cylinders * engine.bore_m / (gas.viscosity(gas_k) * piston_m2);
    let h = 10.4 * re.powf(0.75) * gas.conductivity(gas_k) / engine.bore_m;
    let warmer = (gas_k - coolant_k).max(0.0);
    PORT_SHARE * engine.cylinder_heat_factor * cylinders * h * piston_m2 * warmer
}

/// Average effective gas temperature [K]: highest near stoichiometric.
pub fn effective_gas_k(phi: f64) -> f64 {
    if phi >= 1.0 {
        return GAS_K.0 - 100.0 * (phi - 1.0).min(1.0);
    }
    GAS_K.1 + (GAS_K.0 - GAS_K.1) * ((phi - 0.3) / 0.7).max(-0.4)
}
