//! Late injection: a diesel heats its exhaust to burn the particulate filter clean.

use super::heat_loss::over_charge_w;
use super::operating::OperatingPoint;
use crate::sheet::build::Build;

/// Gas out of the ports [K]: 550 degC, so that the catalyst lights (450 to 600 degC at the
/// turbine; common practice, no source).
const PORT_K: f64 = 823.0;
/// Gas out of the catalyst [K]: 600 to 650 degC burn soot (common practice, no source).
const FILTER_K: f64 = 890.0;
/// Share of the fuel injected late that heats walls and coolant instead of gas (estimate).
const WALL_SHARE: f64 = 0.2;
/// Mixture that late injection stops at: the filter needs oxygen to burn (estimate).
const LEAST_LAMBDA: f64 = 1.1;

/// Adds fuel: some burns late in the cylinder and heats the gas, the rest in the catalyst.
pub(super) fn inject(build: &Build, charge_k: f64, p: &mut OperatingPoint) {
    if p.fuel_flow_kg_s <= 0.0 {
        return;
    }
    let engine = &build.engine;
    let lower_heating_j_kg = engine.fuel.lower_heating_value();
    let stoichiometric = engine.fuel.stoichiometric_ratio();
    let heat_at = |gas_k| over_charge_w(p.exhaust_flow_kg_s, charge_k, gas_k);
    let (port_w, filter_w) = (heat_at(PORT_K), heat_at(FILTER_K));
    let in_cylinder = (port_w - p.gas_heat_w).max(0.0);
    let in_catalyst = (filter_w - p.gas_heat_w.max(port_w) - p.unburnt_w).max(0.0);
    let wanted_w = in_cylinder / (1.0 - WALL_SHARE) + in_catalyst;
    let most_w = p.air_flow_kg_s / (stoichiometric * LEAST_LAMBDA) * lower_heating_j_kg;
    let share = ((most_w - p.fuel_power_w) / wanted_w.max(1.0)).clamp(0.0, 1.0);
    let fuel_w = wanted_w * share;
    p.gas_heat_w += in_cylinder * share;
    p.unburnt_w += in_catalyst * share;
    p.cylinder_heat_w += fuel_w - (in_cylinder + in_catalyst) * share;
    p.fuel_power_w += fuel_w;
    let fuel_kg_s = fuel_w / lower_heating_j_kg;
    p.fuel_flow_kg_s += fuel_kg_s;
    p.exhaust_flow_kg_s += fuel_kg_s;
    p.lambda = p.air_flow_kg_s / (p.fuel_flow_kg_s * stoichiometric);
}
