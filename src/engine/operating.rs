//! Operating point: flows and heat of the engine for what a cycle asks.

use super::WARM_COOLANT_K;
use super::boost::manifold;
use super::friction::friction_w;
use super::full_load::full_load_torque;
use super::heat_loss::{
    capacity_w_k, cylinder_conductance_w_k, effective_gas_k, over_charge_w, port_loss_share,
};
use super::late;
use super::road::{RAD_S_PER_RPM, road_load};
use crate::constants::DRY_AIR_GAS_CONSTANT_J_KG_K;
use crate::cycle::{Demand, EngineState, Load};
use crate::physics::air;
use crate::sheet::build::Build;

/// Charge temperature at the valve at which rated power holds [K]: 25 degC intake plus what a
/// charge picks up on the way, boosted and not (estimates).
pub(super) const RATED_CHARGE_K: (f64, f64) = (318.0, 308.0);
/// Ambient pressure of the rating [Pa] (99 kPa dry air and some water vapour, ISO 1585).
pub(super) const RATED_AMBIENT_PA: f64 = 100e3;
/// Manifold pressure with the throttle shut [Pa] (estimate, 25 to 35 kPa seen in logs).
const SHUT_THROTTLE_PA: f64 = 28e3;
/// Load share from which a petrol engine is enriched.
const ENRICHED_FROM: f64 = 0.75;
/// Energy that leaves as carbon monoxide and hydrogen per missing share of oxygen, over the fuel's:
/// two CO of 283 kJ per missing O2 against 405 kJ of iso-octane per O2, less some hydrogen at 242
/// (heats of combustion, CRC Handbook, from memory).
const RICH_LOSS: f64 = 1.33;
/// Gas on overrun leaves this far over coolant [K]: wall of a hot cylinder (estimate, 40 to 100).
const OVERRUN_OVER_COOLANT_K: f64 = 60.0;
/// Least temperature rise of the burned gas over the charge [K]: guards against an energy split
/// that leaves nothing for the exhaust.
const LEAST_GAS_RISE_K: f64 = 150.0;
/// Gas in a port at which its specific heat is taken [K].
const PORT_GAS_K: f64 = 900.0;
/// Hottest gas that a port sees [K]; what is over goes to the coolant.
const HOTTEST_GAS_K: f64 = 1400.0;
/// Idle rises by this share from 90 degC coolant to 20 degC (common practice, no source).
const COLD_IDLE_RISE: f64 = 0.35;

/// Flows and heat of the engine at an instant.
///
/// `fuel + motoring = brake + accessories + friction + cylinder heat + unburnt + gas heat`, exactly.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct OperatingPoint {
    /// Engine speed [rpm].
    pub rpm: f64,
    /// Brake power to the car, not below zero [W].
    pub brake_power_w: f64,
    /// Accessories [W].
    pub accessories_w: f64,
    /// Power that the car feeds in on overrun [W].
    pub motoring_w: f64,
    /// Share of full-load torque [-].
    pub torque_share: f64,
    /// Intake air [kg/s].
    pub air_flow_kg_s: f64,
    /// Fuel [kg/s].
    pub fuel_flow_kg_s: f64,
    /// Exhaust [kg/s].
    pub exhaust_flow_kg_s: f64,
    /// Air-fuel equivalence ratio; 1 without fuel.
    pub lambda: f64,
    /// Manifold pressure [Pa].
    pub manifold_pressure_pa: f64,
    /// Compressor pressure ratio; 1 without turbo.
    pub compressor_pressure_ratio: f64,
    /// Fuel power [W].
    pub fuel_power_w: f64,
    /// Friction, without pumping: that work leaves with the gas [W].
    pub friction_w: f64,
    /// Heat to coolant and block; negative where the air cools them on overrun [W].
    pub cylinder_heat_w: f64,
    /// Chemical energy leaving unburnt [W].
    pub unburnt_w: f64,
    /// Heat in the exhaust gas over the charge's own enthalpy [W].
    pub gas_heat_w: f64,
    /// Full load could not meet the demand.
    pub limited: bool,
    /// Engine turns.
    pub running: bool,
    /// Fuel is cut.
    pub fuel_cut: bool,
}

impl OperatingPoint {
    /// Brake power and accessories [W].
    pub fn delivered_w(&self) -> f64 {
        self.brake_power_w + self.accessories_w
    }

    /// What the energy split leaves over [W]; zero but for rounding.
    pub fn balance_residual_w(&self) -> f64 {
        self.fuel_power_w + self.motoring_w
            - self.delivered_w()
            - self.friction_w
            - self.cylinder_heat_w
            - self.unburnt_w
            - self.gas_heat_w
    }
}

/// What is asked of the engine, before its limits.
struct Ask {
    rpm: f64,
    full_w: f64,
    power_w: f64,
    share: f64,
}

/// Operating point for a demand.
///
/// `charge_k`: charge at the valve [K]; `coolant_k`: coolant [K].
pub fn operating_point(
    build: &Build,
    demand: &Demand,
    charge_k: f64,
    coolant_k: f64,
) -> OperatingPoint {
    let mut point = OperatingPoint {
        lambda: 1.0,
        compressor_pressure_ratio: 1.0,
        manifold_pressure_pa: build.day.pressure_pa,
        ..OperatingPoint::default()
    };
    if demand.engine == EngineState::Off {
        return point;
    }
    point.running = true;
    let mut ask = ask(build, demand, coolant_k);
    let mut breathing = Breathing::new(build, ask.rpm, charge_k);
    if !build.engine.diesel {
        breathing.fit_rating(build, &ask);
    }
    match demand.load {
        Load::ManifoldPressure(pa) if !build.engine.diesel => {
            ask.power_w = power_from_air(build, &ask, &breathing, coolant_k, breathing.air_at(pa));
        }
        Load::AirFlow(air) if !build.engine.diesel => {
            ask.power_w = power_from_air(build, &ask, &breathing, coolant_k, air);
        }
        _ => {}
    }
    ask.limit(&mut point);
    point.rpm = ask.rpm;
    point.torque_share = ask.share;
    point.accessories_w = build.car.accessory_w;
    if build.engine.diesel {
        let measured = match demand.load {
            Load::AirFlow(air) => Some(air),
            Load::ManifoldPressure(pa) => Some(breathing.air_at(pa)),
            _ => None,
        };
        burn_diesel(build, &ask, &breathing, coolant_k, measured, &mut point);
    } else {
        burn_petrol(build, &ask, &breathing, coolant_k, &mut point);
    }
    if let Some(measured_pa) = demand.manifold_pa {
        point.manifold_pressure_pa = measured_pa;
    }
    split_heat(build, charge_k, coolant_k, &mut point);
    if demand.filter_burning && build.engine.diesel {
        late::inject(build, charge_k, &mut point);
    }
    boost(build, &mut point);
    point
}

fn ask(build: &Build, demand: &Demand, coolant_k: f64) -> Ask {
    let engine = &build.engine;
    let cold = ((WARM_COOLANT_K - coolant_k) / 70.0).clamp(0.0, 1.0);
    let idle = engine.idle_rpm * (1.0 + COLD_IDLE_RISE * cold);
    let ambient_k = demand.ambient_k.unwrap_or(build.day.ambient_k);
    let road = road_load(build, demand, idle, ambient_k);
    let full_w = full_load_torque(engine, road.rpm) * road.rpm * RAD_S_PER_RPM;
    let power_w = match demand.load {
        Load::Power(w) => w,
        Load::FullLoadShare(share) => share * full_w,
        _ if demand.speed_m_s < 0.3 => road.power_w.max(0.0),
        _ => road.power_w,
    };
    Ask {
        rpm: road.rpm,
        full_w,
        power_w,
        share: 0.0,
    }
}

impl Ask {
    fn limit(&mut self, point: &mut OperatingPoint) {
        // a touch over full load is rounding of the cycle, not a lack of power
        point.limited = self.power_w > 1.02 * self.full_w;
        self.power_w = self.power_w.min(self.full_w);
        self.share = if self.full_w > 0.0 {
            (self.power_w / self.full_w).clamp(0.0, 1.0)
        } else {
            0.0
        };
    }
}

/// How much air the engine draws per pascal of manifold pressure.
struct Breathing {
    /// Swept volume per second [m3/s].
    swept_m3_s: f64,
    /// Air per manifold pressure at the present charge temperature [kg/s/Pa].
    air_per_pa: f64,
    /// Ambient pressure less the intake's loss [Pa].
    unboosted_pa: f64,
    /// Boost that the turbo gives at this engine speed and in this air [Pa]; 0 without.
    boost_pa: f64,
    /// The same in the air of the rating [Pa].
    rated_boost_pa: f64,
    /// Charge temperature now over that of the rating [-].
    warmer: f64,
}

impl Breathing {
    fn new(build: &Build, rpm: f64, charge_k: f64) -> Self {
        let engine = &build.engine;
        let swept_m3_s = engine.displacement_m3 * rpm / 120.0;
        let rated_k = if build.turbo.is_some() {
            RATED_CHARGE_K.0
        } else {
            RATED_CHARGE_K.1
        };
        let boost = manifold(build, rpm);
        Self {
            swept_m3_s,
            air_per_pa: engine.volumetric_efficiency * swept_m3_s
                / (DRY_AIR_GAS_CONSTANT_J_KG_K * charge_k),
            unboosted_pa: boost.unboosted_pa,
            boost_pa: boost.pressure_pa - boost.unboosted_pa,
            rated_boost_pa: boost.rated_boost_pa,
            warmer: charge_k / rated_k,
        }
    }

    /// The rated torque must come from outside air and boost: where the sheet's volumetric
    /// efficiency is too small for that (tuned intakes reach over 1), the rating wins.
    fn fit_rating(&mut self, build: &Build, ask: &Ask) {
        let engine = &build.engine;
        let lambda = engine.lambda_full_load;
        let useful = engine.indicated_efficiency * (1.0 - unburnt_share(build, lambda));
        let work = ask.full_w + friction_w(engine, ask.rpm, WARM_COOLANT_K) + build.car.accessory_w;
        let fuel = work / (useful * engine.fuel.lower_heating_value());
        let air = fuel * engine.fuel.stoichiometric_ratio() * lambda;
        let loss = build.day.pressure_pa - self.unboosted_pa;
        let needed = air / (RATED_AMBIENT_PA - loss + self.rated_boost_pa) / self.warmer;
        self.air_per_pa = self.air_per_pa.max(needed);
    }

    fn air_at(&self, manifold_pa: f64) -> f64 {
        self.air_per_pa * manifold_pa
    }
}

/// Mixture of a petrol engine: stoichiometric, enriched towards full load.
fn petrol_lambda(build: &Build, share: f64) -> f64 {
    let engine = &build.engine;
    let x = ((share - ENRICHED_FROM) / (1.0 - ENRICHED_FROM)).clamp(0.0, 1.0);
    let x = x * x * (3.0 - 2.0 * x);
    engine.lambda_part_load + (engine.lambda_full_load - engine.lambda_part_load) * x
}

/// Share of the fuel's energy that leaves unburnt.
fn unburnt_share(build: &Build, lambda: f64) -> f64 {
    build.engine.unburnt_share + RICH_LOSS * (1.0 - lambda).max(0.0)
}

/// Brake power from an air flow [W], petrol.
fn power_from_air(build: &Build, ask: &Ask, b: &Breathing, coolant_k: f64, air_kg_s: f64) -> f64 {
    let engine = &build.engine;
    let friction = friction_w(engine, ask.rpm, coolant_k);
    let manifold_pa = air_kg_s / b.air_per_pa;
    let pumping = (b.unboosted_pa - manifold_pa).max(0.0) * b.swept_m3_s;
    let mut power = 0.0;
    // the mixture depends on the load that it gives
    for _ in 0..4 {
        let lambda = petrol_lambda(build, (power / ask.full_w).clamp(0.0, 1.0));
        let fuel = air_kg_s / (engine.fuel.stoichiometric_ratio() * lambda);
        let heat = fuel * engine.fuel.lower_heating_value() * (1.0 - unburnt_share(build, lambda));
        power = heat * engine.indicated_efficiency - friction - pumping - build.car.accessory_w;
    }
    power.max(-friction)
}

/// Fuel, air and friction of a petrol engine: Willans line, air follows fuel.
fn burn_petrol(build: &Build, ask: &Ask, b: &Breathing, coolant_k: f64, p: &mut OperatingPoint) {
    let engine = &build.engine;
    let fuel_j_kg = engine.fuel.lower_heating_value();
    let friction = friction_w(engine, ask.rpm, coolant_k);
    p.lambda = petrol_lambda(build, ask.share);
    let useful = engine.indicated_efficiency * (1.0 - unburnt_share(build, p.lambda));
    // manifold pressure per watt of fuel, so that pumping follows in closed form
    let pa_per_w = engine.fuel.stoichiometric_ratio() * p.lambda / (fuel_j_kg * b.air_per_pa);
    let work = ask.power_w + friction + p.accessories_w;
    let throttled = (work + b.unboosted_pa * b.swept_m3_s) / (useful + pa_per_w * b.swept_m3_s);
    let fuel_w = if throttled * pa_per_w < b.unboosted_pa {
        throttled
    } else {
        work / useful
    };
    let manifold = fuel_w * pa_per_w;
    if manifold < SHUT_THROTTLE_PA && ask.power_w < 0.0 {
        p.fuel_cut = true;
        p.lambda = 1.0;
        p.manifold_pressure_pa = SHUT_THROTTLE_PA;
        p.air_flow_kg_s = b.air_at(SHUT_THROTTLE_PA);
        p.friction_w = friction;
        p.motoring_w =
            friction + (b.unboosted_pa - SHUT_THROTTLE_PA) * b.swept_m3_s + p.accessories_w;
        return;
    }
    // full load at rated manifold pressure: a hotter charge is a thinner one
    let full = full_manifold_pa(build, ask, friction, p.accessories_w, pa_per_w, b);
    let fuel_w = if manifold > full {
        p.limited = true;
        full / pa_per_w
    } else {
        fuel_w
    };
    p.manifold_pressure_pa = fuel_w * pa_per_w;
    let pumping = (b.unboosted_pa - p.manifold_pressure_pa).max(0.0) * b.swept_m3_s;
    p.fuel_power_w = fuel_w;
    p.fuel_flow_kg_s = fuel_w / fuel_j_kg;
    p.air_flow_kg_s = p.fuel_flow_kg_s * engine.fuel.stoichiometric_ratio() * p.lambda;
    p.friction_w = friction;
    let brake = fuel_w * useful - friction - pumping - p.accessories_w;
    (p.brake_power_w, p.motoring_w) = (brake.max(0.0), (-brake).max(0.0));
    p.unburnt_w = fuel_w * unburnt_share(build, p.lambda);
}

/// Manifold pressure at full load with the charge as warm as at the rating [Pa].
fn full_manifold_pa(
    build: &Build,
    ask: &Ask,
    friction: f64,
    accessories_w: f64,
    pa_per_w_now: f64,
    b: &Breathing,
) -> f64 {
    let lambda = build.engine.lambda_full_load;
    let useful = build.engine.indicated_efficiency * (1.0 - unburnt_share(build, lambda));
    let now = petrol_lambda(build, ask.share);
    let pa_per_w = pa_per_w_now / b.warmer * lambda / now;
    let full = (ask.full_w + friction + accessories_w) / useful * pa_per_w;
    // thin air: nothing fills a manifold above the outside but boost
    full.min(b.unboosted_pa + b.boost_pa)
}

/// Fuel, air and friction of a diesel: air follows boost, fuel follows load down to the smoke limit.
fn burn_diesel(
    build: &Build,
    ask: &Ask,
    b: &Breathing,
    coolant_k: f64,
    measured_air: Option<f64>,
    p: &mut OperatingPoint,
) {
    let engine = &build.engine;
    p.friction_w = friction_w(engine, ask.rpm, coolant_k);
    // boost follows exhaust energy: little at idle, all of it near full load (estimate)
    let boost = b.boost_pa * (0.05 + 0.95 * (1.2 * ask.share).min(1.0));
    p.manifold_pressure_pa = b.unboosted_pa + boost;
    p.air_flow_kg_s = measured_air.unwrap_or_else(|| b.air_at(p.manifold_pressure_pa));
    if let Some(air) = measured_air {
        p.manifold_pressure_pa = (air / b.air_per_pa).max(0.3 * build.day.pressure_pa);
    }
    let useful = engine.indicated_efficiency * (1.0 - engine.unburnt_share);
    let work = ask.power_w + p.friction_w + p.accessories_w;
    let mut fuel_w = (work / useful).max(0.0);
    let afr = engine.fuel.stoichiometric_ratio();
    let most =
        p.air_flow_kg_s / (afr * engine.lambda_full_load) * engine.fuel.lower_heating_value();
    if fuel_w > most {
        fuel_w = most;
        p.limited = true;
    }
    p.fuel_cut = fuel_w <= 0.0;
    p.fuel_power_w = fuel_w;
    p.fuel_flow_kg_s = fuel_w / engine.fuel.lower_heating_value();
    p.lambda = if p.fuel_cut {
        1.0
    } else {
        p.air_flow_kg_s / (p.fuel_flow_kg_s * afr)
    };
    p.unburnt_w = fuel_w * engine.unburnt_share;
    let brake = fuel_w * useful - p.friction_w - p.accessories_w;
    (p.brake_power_w, p.motoring_w) = (brake.max(0.0), (-brake).max(0.0));
}

/// Splits what is left between coolant and gas.
fn split_heat(build: &Build, charge_k: f64, coolant_k: f64, p: &mut OperatingPoint) {
    p.exhaust_flow_kg_s = p.air_flow_kg_s + p.fuel_flow_kg_s;
    if p.fuel_flow_kg_s <= 0.0 {
        // air alone, warmed by the walls
        let out_k = coolant_k + OVERRUN_OVER_COOLANT_K;
        let heat = p.air_flow_kg_s * (air::enthalpy(out_k) - air::enthalpy(charge_k));
        // pumping work warms the air, which passes some of it to the walls (estimate)
        let pumping = p.motoring_w - p.delivered_w() - p.friction_w;
        p.gas_heat_w = (heat.max(0.0) + 0.6 * pumping).max(0.0);
        p.cylinder_heat_w = pumping - p.gas_heat_w;
        return;
    }
    let left = p.fuel_power_w + p.motoring_w - p.delivered_w() - p.friction_w - p.unburnt_w;
    let fuel = build.engine.fuel;
    let phi = 1.0 / p.lambda;
    let conductance = cylinder_conductance_w_k(&build.engine, fuel, p.exhaust_flow_kg_s, phi);
    let rise = |k| over_charge_w(p.exhaust_flow_kg_s, charge_k, k);
    let least = rise(charge_k + LEAST_GAS_RISE_K);
    let out_of_cylinders = left - conductance * (effective_gas_k(phi) - coolant_k).max(0.0);
    let over_coolant = (out_of_cylinders - rise(coolant_k)).max(0.0);
    let capacity = capacity_w_k(p.exhaust_flow_kg_s, charge_k, PORT_GAS_K);
    let in_ports = over_coolant * port_loss_share(&build.engine, conductance, capacity);
    p.gas_heat_w = (out_of_cylinders - in_ports).clamp(least, rise(HOTTEST_GAS_K).max(least));
    p.cylinder_heat_w = left - p.gas_heat_w;
}

/// Compressor pressure ratio from manifold pressure and losses.
fn boost(build: &Build, p: &mut OperatingPoint) {
    let Some(turbo) = &build.turbo else { return };
    let rated = (p.rpm / build.engine.power_rpm).min(1.0) * p.torque_share;
    let square = rated * rated;
    let cooler = build
        .intake
        .cooler
        .as_ref()
        .map_or(0.0, |c| c.pressure_loss_pa * square);
    let inlet = build.day.pressure_pa - build.intake.pressure_loss_pa * square;
    let ratio = (p.manifold_pressure_pa + cooler) / inlet;
    p.compressor_pressure_ratio = ratio.max(turbo.idle_pressure_ratio);
}
