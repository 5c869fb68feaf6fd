//! Radiator and charge cooler: what they give to the air that passes them, and where that air carries it.

use super::conditions::Conditions;
use super::rates::{Circuit, Scratch, smoothstep};
use super::transfer::pumped_share;
use crate::number::{Choice, Number};
use crate::physics::air;
use crate::sheet::build::CoolerKind;

/// Coolant to radiator core at 2000 rpm with the thermostat open [W/K]: about 1.2 kg/s of coolant.
const RADIATOR_FLOW_W_K: f64 = 4400.0;
/// Share of that flow that goes on by buoyancy with the pump still (estimate).
const THERMOSIPHON: f64 = 0.01;
/// Flow below which the radiator stands in still air [kg/s].
const STILL_KG_S: f64 = 1e-6;

/// One or more bodies alike in air that comes from zones and carries their heat into zones: what strong couplings need to
/// know of them.
#[derive(Debug, Clone, Copy, Default)]
pub struct ToAir<N> {
    /// Each body to air [W/K].
    pub w_k: N,
    /// Share of the air that comes from each of both zones.
    pub comes_from: [N; 2],
    /// Share of the heat that ends in each of both zones.
    pub ends_in: [N; 2],
}

impl<N: Number> Circuit<N> {
    /// Cooling side of the charge cooler core.
    #[inline(always)]
    pub(super) fn cool_core(&self, c: &Conditions<N>, s: &mut Scratch<N>) {
        let (Some(cooling), Some(cooler)) = (&self.cooling, &self.route.cooler) else {
            return;
        };
        let zone0 = self.roles.first_zone;
        let feed_k = s.node_k[zone0 + cooling.from_zone];
        let share = c.scalars.cooler_bay_share;
        let air_k = share * feed_k + (N::of(1.0) - share) * c.scalars.ambient_k;
        let m = c.scalars.cooler_air_kg_s;
        let cores = cooler.core.len() as f64;
        // what the radiator draws carries the heat on; the rest stays where the cooler stands
        let drawn = c.opening_kg_s[self.radiator.opening].max(N::default());
        let onward = (drawn / m.max(N::of(1e-9))).min(N::of(1.0));
        let stays = N::of(1.0) - onward;
        s.cooler_to_air = ToAir {
            w_k: c.scalars.cooler_w_k,
            comes_from: [share, N::default()],
            ends_in: if cooling.to_zone == cooling.from_zone {
                [N::of(1.0), N::default()]
            } else {
                [stays, onward]
            },
        };
        let heat = match (cooling.kind, self.roles.cooler_water) {
            (CoolerKind::Water, Some(water)) => {
                let g = cooling.air_w_k * pumped_share(c) / cores;
                s.core_to_water_w_k = g;
                for &node in &cooler.core {
                    let heat = g * (s.node_k[node] - s.node_k[water]);
                    s.heat_w[node] -= heat;
                    s.heat_w[water] += heat;
                }
                let heat = c.scalars.cooler_w_k * (s.node_k[water] - air_k);
                s.heat_w[water] -= heat;
                heat
            }
            _ => {
                let g = c.scalars.cooler_w_k / cores;
                s.cooler_to_air.w_k = g;
                let mut all = N::default();
                for &node in &cooler.core {
                    let heat = g * (s.node_k[node] - air_k);
                    s.heat_w[node] -= heat;
                    all += heat;
                }
                all
            }
        };
        s.heat_w[zone0 + cooling.to_zone] += onward * heat;
        s.heat_w[zone0 + cooling.from_zone] += stays * heat;
        s.books_w[self.slots.cooler] += heat;
        if cooling.kind != CoolerKind::Top {
            s.cooler_onward_w = onward * heat;
        }
    }

    /// Thermostat opening, 0 to 1.
    #[inline(always)]
    pub fn thermostat(&self, coolant_k: N) -> N {
        let (open, full) = self.radiator.thermostat_k;
        smoothstep((coolant_k - open) / (full - open))
    }

    /// Derivative of the thermostat's opening by coolant temperature [1/K].
    #[inline(always)]
    fn thermostat_slope(&self, coolant_k: N) -> N {
        let (open, full) = self.radiator.thermostat_k;
        let x = ((coolant_k - open) / (full - open)).clamp(0.0, 1.0);
        x * 6.0 * (N::of(1.0) - x) / (full - open)
    }

    /// Radiator: coolant to the core, core to the air that passes it (single-stream effectiveness).
    #[inline(always)]
    pub(super) fn add_radiator(&self, c: &Conditions<N>, s: &mut Scratch<N>) {
        let (zone0, zero) = (self.roles.first_zone, N::default());
        let coolant_k = s.node_k[self.roles.coolant];
        let way = &self.ways[self.radiator.opening];
        let through = c.opening_kg_s[self.radiator.opening];
        let core_k = s.node_k[self.roles.radiator];
        // the pump drives coolant through the core as far as the thermostat lets it; after key-off
        // a little goes on circulating by itself
        let drive = (c.scalars.pump + THERMOSIPHON) * RADIATOR_FLOW_W_K;
        let open = self.thermostat(coolant_k);
        let exchange = drive * open * (coolant_k - core_k);
        s.heat_w[self.roles.coolant] -= exchange;
        s.heat_w[self.roles.radiator] += exchange;
        // opening further as it warms acts like more conductance
        let further = drive * self.thermostat_slope(coolant_k) * (coolant_k - core_k);
        (s.coolant_w_k, s.opening_w_k) = (drive * open, further);
        // air comes from one side or the other
        let back = through.below(zero);
        let air_of =
            |zone: Option<usize>| zone.map_or(c.scalars.ambient_k, |z| s.node_k[zone0 + z]);
        let air_k = back.choose(air_of(way.to), air_of(way.from));
        let capacity = through.abs().max(N::of(STILL_KG_S)) * air::specific_heat(air_k);
        let air_k = air_k + s.cooler_onward_w.max(zero) / capacity;
        let flows = N::of(STILL_KG_S).below(through.abs());
        let conductance = flows.choose(c.scalars.radiator_w_k, zero);
        let one = N::of(1.0);
        let ends_in = [back.choose(one, zero), back.choose(zero, one)];
        s.radiator_to_air = ToAir {
            w_k: conductance,
            comes_from: [ends_in[1], ends_in[0]],
            ends_in,
        };
        if self
            .cooling
            .as_ref()
            .is_some_and(|c| c.kind != CoolerKind::Top)
        {
            // of what a warm cooler hands on, the radiator leaves the air only a part
            let warms = zero.below(s.cooler_onward_w);
            let left = warms.choose(one - conductance / capacity, one);
            s.cooler_to_air.ends_in[1] *= left;
        }
        let heat = conductance * (core_k - air_k);
        s.heat_w[self.roles.radiator] -= heat;
        for (sink, share) in [
            (way.to, back.choose(zero, heat)),
            (way.from, back.choose(heat, zero)),
        ] {
            match sink {
                Some(z) => s.heat_w[zone0 + z] += share,
                None => s.books_w[self.slots.out] += share,
            }
        }
        s.books_w[self.slots.radiator] += heat;
        let cabin = c.scalars.cabin_heater_w_k * (coolant_k - c.scalars.ambient_k);
        s.heat_w[self.roles.coolant] -= cabin;
        s.books_w[self.slots.out] += cabin;
    }
}
