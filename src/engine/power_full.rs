//! Power at full load from the air that is really there: dry air at the valve, boost control,
//! and optional ignition retard.

use super::WARM_COOLANT_K;
use super::boost::{Manifold, manifold};
use super::friction::friction_w;
use super::operating::{RATED_AMBIENT_PA, RATED_CHARGE_K};
use super::power::{REFERENCE_DRY_PA, dry_share, retard_share, standard_exponent};
use crate::constants::DRY_AIR_GAS_CONSTANT_J_KG_K;
use crate::sheet::build::Build;

/// Full load at rated engine speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FullLoad {
    /// Manifold pressure.
    pub manifold: Manifold,
    /// Dry air at the valve [kg/m3].
    pub dry_density_kg_m3: f64,
    /// The same at the rating [kg/m3].
    pub rated_density_kg_m3: f64,
    /// Brake power if all of it follows the density of dry air [W].
    pub density_w: f64,
    /// Brake power if temperature counts as in the standard correction [W].
    pub standard_w: f64,
    /// Share of both that ignition retard takes off, already in them [-].
    pub retard_share: f64,
}

/// Full load at rated engine speed with a charge of `charge_k` [K] at the valve, in the air of the
/// build's day.
///
/// Indicated work follows the mass of dry air: vapour takes its place and burns nothing. Two
/// bounds: all of the temperature counts (density), or its power 0.6 as the standard correction
/// has it ([`standard_exponent`]): hot air also flows in easier and warms less on its way. The rated
/// power is met at the rating. A diesel with air to spare loses less than both.
pub fn full_load(build: &Build, charge_k: f64) -> FullLoad {
    let engine = &build.engine;
    let manifold = manifold(build, engine.power_rpm);
    let density =
        |pressure_pa: f64, dry: f64, k: f64| pressure_pa * dry / (DRY_AIR_GAS_CONSTANT_J_KG_K * k);
    let rated_k = rated_charge_k(build);
    let loss_pa = build.day.pressure_pa - manifold.unboosted_pa;
    let rated_pa = RATED_AMBIENT_PA - loss_pa + manifold.rated_boost_pa;
    let dry = dry_share(&build.day);
    let dry_density_kg_m3 = density(manifold.pressure_pa, dry, charge_k);
    let rated_density_kg_m3 = density(rated_pa, REFERENCE_DRY_PA / RATED_AMBIENT_PA, rated_k);
    let ratio = dry_density_kg_m3 / rated_density_kg_m3;
    let lost_w = friction_w(engine, engine.power_rpm, WARM_COOLANT_K) + build.car.accessory_w;
    let brake_w = |ratio: f64| ((engine.power_w + lost_w) * ratio - lost_w).max(0.0);
    let retard = retard_share(engine, charge_k);
    // same pressures, the temperature to its own power
    let milder = ratio * (charge_k / rated_k).powf(1.0 - standard_exponent(engine.diesel));
    FullLoad {
        manifold,
        dry_density_kg_m3,
        rated_density_kg_m3,
        density_w: brake_w(ratio) * (1.0 - retard),
        standard_w: brake_w(milder) * (1.0 - retard),
        retard_share: retard,
    }
}

/// Charge at the valve at which rated power holds [K].
pub fn rated_charge_k(build: &Build) -> f64 {
    if build.turbo.is_some() {
        RATED_CHARGE_K.0
    } else {
        RATED_CHARGE_K.1
    }
}
