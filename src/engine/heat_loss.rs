//! Heat from the working gas to the coolant.

use crate::physics::air;
use crate::physics::exhaust_gas::{ExhaustGas, Fuel};
use crate::sheet::build::Engine;

/// Average effective gas temperature at stoichiometric and at fuel-air ratio 0.3 [K]
/// (Heywood 1988, sec. 12.4, from memory; the lean end is an estimate).
const GAS_K: (f64, f64) = (700.0, 490.0);
/// Conductance of the exhaust ports over that of the cylinders while the valves are open: 4 to 6 % of
/// the fuel's heat at full load (estimate).
const PORT_SHARE: f64 = 0.09;
/// Conductance of one cylinder's port while gas waits in it for the valve [W/K]: 30 W/m2/K on 65 cm2
/// (estimate).
const PORT_STILL_W_K: f64 = 0.2;

/// Conductance from the gas to the walls of the cylinders [W/K] at a charge flow (air and fuel) and
/// fuel-air equivalence ratio, for the difference [`effective_gas_k`] less coolant.
///
/// `Nu = 10.4 Re^0.75` on bore, with `Re = m b / (mu A_piston)` per cylinder.
///
/// # Source
/// Taylor and Toong 1957 as in Heywood 1988, sec. 12.4 (from memory).
///
/// # Valid for
/// Four-stroke engines, `Re` 200 to 40 000.
pub fn cylinder_conductance_w_k(engine: &Engine, fuel: Fuel, charge_kg_s: f64, phi: f64) -> f64 {
    let cylinders = f64::from(engine.cylinders);
    let piston_m2 = 0.25 * std::f64::consts::PI * engine.bore_m * engine.bore_m;
    let gas_k = effective_gas_k(phi);
    let gas = ExhaustGas::new(fuel, 1.0 / phi.clamp(1e-3, 1.0));
    let re = charge_kg_s / cylinders * engine.bore_m / (gas.viscosity(gas_k) * piston_m2);
    let h = 10.4 * re.powf(0.75) * gas.conductivity(gas_k) / engine.bore_m;
    engine.cylinder_heat_factor * cylinders * h * piston_m2
}

/// Heat in gas at `gas_k` over the charge at `charge_k` [W], with the specific heat of air between the two.
pub fn over_charge_w(exhaust_kg_s: f64, charge_k: f64, gas_k: f64) -> f64 {
    capacity_w_k(exhaust_kg_s, charge_k, gas_k) * (gas_k - charge_k)
}

/// Flow times specific heat between charge and gas [W/K].
pub fn capacity_w_k(exhaust_kg_s: f64, charge_k: f64, gas_k: f64) -> f64 {
    exhaust_kg_s * air::specific_heat(0.5 * (charge_k + gas_k))
}

/// Share of its heat over coolant that the gas leaves in the exhaust ports of the head.
///
/// `capacity_w_k`: flow times specific heat [W/K].
pub fn port_loss_share(engine: &Engine, cylinder_conductance_w_k: f64, capacity_w_k: f64) -> f64 {
    let waiting = f64::from(engine.cylinders) * PORT_STILL_W_K;
    let conductance = PORT_SHARE * cylinder_conductance_w_k + waiting;
    1.0 - (-conductance / capacity_w_k).exp()
}

/// Average effective gas temperature [K]: highest near stoichiometric.
pub fn effective_gas_k(phi: f64) -> f64 {
    if phi >= 1.0 {
        return GAS_K.0 - 100.0 * (phi - 1.0).min(1.0);
    }
    GAS_K.1 + (GAS_K.0 - GAS_K.1) * ((phi - 0.3) / 0.7).max(-0.4)
}
