//! Doubts about a sheet that is valid but may not hang together.

use crate::constants::DRY_AIR_GAS_CONSTANT_J_KG_K;
use crate::cycle::{Demand, EngineState, Load};
use crate::engine::operating::operating_point;
use crate::sheet::build::Build;

/// Manifold pressures further apart than this factor are worth a word.
const APART: f64 = 1.25;

/// Volumetric efficiency above which power and displacement don't fit: tuned engines reach 1.15
/// (common practice, no source), and the friction polynomial asks for some more at high speed.
const MOST_FILLING: f64 = 1.4;

/// What a careful reader would ask about.
pub fn doubts(build: &Build) -> Vec<String> {
    let mut out = Vec::new();
    let demand = Demand {
        speed_m_s: 30.0,
        acceleration_m_s2: 0.0,
        grade: 0.0,
        rpm: Some(build.engine.power_rpm),
        load: Load::FullLoadShare(1.0),
        engine: EngineState::Running,
        bonnet_open: false,
        coolant_k: None,
        ambient_k: None,
        wind_m_s: None,
        manifold_pa: None,
        filter_burning: false,
    };
    let charge_k = if build.turbo.is_some() { 318.0 } else { 308.0 };
    let rated = operating_point(build, &demand, charge_k, build.engine.thermostat_full_k);
    let boost = build.turbo.as_ref().map_or(0.0, |t| t.boost_pa);
    let stated = build.day.pressure_pa + boost;
    let needed = rated.manifold_pressure_pa;
    if build.turbo.is_none() && !build.engine.diesel {
        let swept = build.engine.displacement_m3 * build.engine.power_rpm / 120.0;
        let filling =
            rated.air_flow_kg_s * DRY_AIR_GAS_CONSTANT_J_KG_K * charge_k / (needed * swept);
        if filling > MOST_FILLING {
            out.push(format!(
                "rated power needs a volumetric efficiency of {filling:.2}, tuned intakes reach 1.15: check power and displacement"
            ));
        }
    } else if !build.engine.diesel && (needed / stated > APART || stated / needed > APART) {
        out.push(format!(
            "rated power needs about {:.0} kPa in the manifold, the sheet gives {:.0} kPa: check power, displacement, boost",
            needed / 1e3,
            stated / 1e3
        ));
    }
    if build.engine.diesel && rated.limited {
        out.push(format!(
            "at the boost in the sheet the smoke limit stops the engine at {:.0} kW: check power, displacement, boost",
            rated.brake_power_w / 1e3
        ));
    }
    out
}
