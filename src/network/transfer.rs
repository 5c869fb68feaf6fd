//! How much heat streams take up and leave, and surfaces give to the air around them: settled at
//! both ends of an interval, with the other drivers, and straight between.
//!
//! Number of transfer units and conductances follow the flow, and the temperatures only slightly
//! (to a power of 0.2); within an interval of a few seconds only the flow counts.

use super::conditions::Conditions;
use super::exhaust::{GasDrive, STILL_KG_S, gas_through};
use super::intake::AirDrive;
use super::link::pump_factor;
use super::rates::{Network, Scratch};
use crate::physics::air;
use crate::physics::exhaust_gas::ExhaustGas;
use crate::sheet::build::CoolerKind;

/// Exponent of the flow in an air-side conductance of finned cores (common practice, no source).
const AIR_SIDE_EXPONENT: f64 = 0.6;

impl Network {
    /// Settles what depends on flows: conditions `c` must hold all flows already.
    pub fn settle_transfer(&self, c: &mut Conditions, y: &[f64], s: &mut Scratch) {
        c.scalars.pump = pump_factor(c.scalars.rpm);
        self.load(c, y, s);
        let drawn = c.opening_kg_s[self.radiator.opening];
        let opening = &self.openings[self.radiator.opening];
        let source = if drawn >= 0.0 {
            opening.from
        } else {
            opening.to
        };
        let zone0 = self.roles.first_zone;
        let air_k = source.map_or(c.scalars.ambient_k, |z| s.node_k[zone0 + z]);
        c.scalars.radiator_w_k = air_side(drawn.abs(), self.radiator.conductance_w_k, air_k);
        c.scalars.cooler_w_k = self.cooler_conductance(c, s);
        self.plan
            .settle_surfaces(c, self.pressure_pa, &s.node_k, &mut s.links);
        self.charge_at_valve(c, s);
        c.air_through.clone_from(&s.air_through);
        let gas = self.gas(c);
        s.port_k = self.port_temperature(c, &gas, s);
        let drive = GasDrive {
            flow_kg_s: c.scalars.exhaust_kg_s,
            port_k: s.port_k,
            turbine_w: self.turbine_work(s),
        };
        c.gas_through.resize(self.segments.len(), 0.0);
        // standing gas has its wall's temperature
        c.gas_through.fill(0.0);
        let found = &mut c.gas_through;
        let flow = drive.flow_kg_s;
        s.gas
            .march(&self.segments, &s.node_k, &gas, drive, |i, t_in, wall_k| {
                found[i] = gas_through(&self.segments[i], flow, &gas, t_in, wall_k);
                found[i]
            });
    }

    /// Marches the intake only: for the charge temperature before the flow is known.
    pub fn charge_at_valve(&self, c: &Conditions, s: &mut Scratch) -> f64 {
        let pickup_k = self.pickup(c, s);
        let drive = self.air_drive(c, pickup_k);
        s.air_through.resize(self.route.places(), 0.0);
        s.air_through.fill(0.0);
        let (found, route) = (&mut s.air_through, &self.route);
        let conductances = route.conductances(drive.flow_kg_s);
        route.march(&s.node_k, drive, &mut s.air, |passage, t_in, wall_k| {
            let through = route.through(passage, &conductances, drive.flow_kg_s, t_in, wall_k);
            found[route.place(passage)] = through;
            through
        });
        s.air.valve_k
    }

    /// What drives the intake air under conditions `c`.
    pub(super) fn air_drive(&self, c: &Conditions, pickup_k: f64) -> AirDrive {
        AirDrive {
            flow_kg_s: c.scalars.air_kg_s,
            pickup_k,
            compression_rise: c.scalars.compression_rise,
            boost_rate_pa_s: c.scalars.boost_rate_pa_s,
            plenum_rate_pa_s: c.scalars.plenum_rate_pa_s,
        }
    }

    /// Exhaust gas under conditions `c`.
    pub(super) fn gas(&self, c: &Conditions) -> ExhaustGas {
        ExhaustGas::new(self.fuel, 1.0 / c.scalars.phi.max(1e-6))
    }

    /// Gas temperature at the ports [K].
    pub(super) fn port_temperature(&self, c: &Conditions, gas: &ExhaustGas, s: &Scratch) -> f64 {
        let sc = &c.scalars;
        if sc.exhaust_kg_s <= STILL_KG_S {
            return s.node_k[self.roles.block];
        }
        let charge_w = sc.air_kg_s * air::enthalpy(s.air.valve_k);
        let h = (sc.gas_heat_w + charge_w) / sc.exhaust_kg_s;
        gas.temperature_near(h, s.port_k)
    }

    /// Work that the turbine takes from the gas [W].
    pub(super) fn turbine_work(&self, s: &Scratch) -> f64 {
        self.mechanical_efficiency
            .map_or(0.0, |e| s.air.compressor_w / e)
    }

    /// Cooling side of the charge cooler: all of its core, or its water radiator, to air [W/K].
    fn cooler_conductance(&self, c: &Conditions, s: &Scratch) -> f64 {
        let Some(cooling) = &self.cooling else {
            return 0.0;
        };
        let feed_k = s.node_k[self.roles.first_zone + cooling.from_zone];
        let share = c.scalars.cooler_bay_share;
        let air_k = share * feed_k + (1.0 - share) * c.scalars.ambient_k;
        let at_1_kg_s = if cooling.kind == CoolerKind::Water && self.roles.cooler_water.is_some() {
            cooling.water_radiator_w_k * pumped_share(c)
        } else {
            cooling.air_w_k
        };
        air_side(c.scalars.cooler_air_kg_s, at_1_kg_s, air_k)
    }
}

/// Conductance of a water-cooled charge cooler against pump on; a little circulates by itself.
pub(super) fn pumped_share(c: &Conditions) -> f64 {
    0.05 + 0.95 * c.scalars.cooler_pump
}

/// Heat per kelvin [W/K] that a stream of air takes from a surface it passes.
fn air_side(flow_kg_s: f64, conductance_at_1_kg_s: f64, air_k: f64) -> f64 {
    if flow_kg_s < 1e-6 {
        return 0.0;
    }
    let capacity = flow_kg_s * air::specific_heat(air_k);
    let conductance = conductance_at_1_kg_s * flow_kg_s.powf(AIR_SIDE_EXPONENT);
    capacity * (1.0 - (-conductance / capacity).exp())
}
