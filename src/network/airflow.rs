//! Air between zones and the outside, the radiator, and mixing.

use super::conditions::Conditions;
use super::rates::{Circuit, Scratch, smoothstep};
use crate::number::{Choice, Number, side_by_side};
use crate::physics::air;
use crate::sheet::build::Opening;

/// Coolant to radiator core at 2000 rpm with the thermostat open [W/K]: about 1.2 kg/s of coolant.
const RADIATOR_FLOW_W_K: f64 = 4400.0;
/// Share of that flow that goes on by buoyancy with the pump still (estimate).
const THERMOSIPHON: f64 = 0.01;
/// Flow below which the radiator stands in still air [kg/s].
const STILL_KG_S: f64 = 1e-6;

/// An opening as the air sees it.
#[derive(Debug, Clone, Copy)]
pub struct Way<N = f64> {
    /// Zone that it leads from; `None`: outside.
    pub from: Option<usize>,
    /// Zone that it leads to; `None`: outside.
    pub to: Option<usize>,
    /// 1 where air that has left the bay may come in again, else 0.
    pub takes_back: N,
}
side_by_side!(Way {
    numbers: [takes_back],
    same: [from, to]
});

impl Way {
    /// Of an opening.
    pub fn new(opening: &Opening) -> Self {
        Self {
            from: opening.from,
            to: opening.to,
            takes_back: f64::from(opening.pressure_coefficient > 0.0),
        }
    }
}

/// Neighbouring zones between which eddies mix.
#[derive(Debug, Clone)]
pub struct Mixing<N = f64> {
    /// Opening between them.
    pub opening: usize,
    /// The zones.
    pub zones: (usize, usize),
    /// Area of the opening [m2].
    pub area_m2: N,
}
side_by_side!(Mixing {
    numbers: [area_m2],
    same: [opening, zones]
});

impl<N: Number> Circuit<N> {
    /// Air moving between zones and the outside, radiator and mixing.
    #[inline(always)]
    pub(super) fn add_airflow(&self, c: &Conditions<N>, s: &mut Scratch<N>) {
        let (zone0, zero) = (self.roles.first_zone, N::default());
        let h_ambient = air::enthalpy(c.scalars.ambient_k);
        // mean enthalpy of what leaves the bay, which is what comes back when standing
        let (mut leaving, mut leaving_h) = (N::of(1e-9), h_ambient * 1e-9);
        for (way, &flow) in self.ways.iter().zip(&c.opening_kg_s) {
            let (zone, out) = match (way.from, way.to) {
                (Some(z), None) => (z, flow.max(zero)),
                (None, Some(z)) => (z, (-flow).max(zero)),
                _ => continue,
            };
            leaving += out;
            leaving_h += out * s.zone_j_kg[zone];
        }
        let h_back = leaving_h / leaving;
        let comes_back = c.scalars.recirculation * (h_back - h_ambient);
        for (way, &flow) in self.ways.iter().zip(&c.opening_kg_s) {
            let h_outside = h_ambient + comes_back * way.takes_back;
            let there = (way.from, way.to, flow.max(zero));
            let back = (way.to, way.from, (-flow).max(zero));
            for (source, sink, m) in [there, back] {
                let h_source = source.map_or(h_outside, |z| s.zone_j_kg[z]);
                match sink {
                    Some(z) => {
                        s.heat_w[zone0 + z] += m * (h_source - s.zone_j_kg[z]);
                        if source.is_none() {
                            s.books_w[self.slots.out] -= m * h_source;
                        }
                    }
                    None => s.books_w[self.slots.out] += m * h_source,
                }
            }
        }
        self.mix_zones(c, s);
        self.add_radiator(c, s);
    }

    /// Eddies between neighbouring zones.
    #[inline(always)]
    fn mix_zones(&self, c: &Conditions<N>, s: &mut Scratch<N>) {
        let zone0 = self.roles.first_zone;
        let density = air::density(c.scalars.ambient_k, self.pressure_pa);
        let cp = air::specific_heat(c.scalars.ambient_k);
        s.mixing_w_k.resize(self.mixing.len(), N::default());
        for (mixing, w_k) in self.mixing.iter().zip(&mut s.mixing_w_k) {
            let (a, b) = mixing.zones;
            let (share, still_m_s) = self.mixing_speed;
            let speed = share * 0.5 * (c.zone_speed_m_s[a] + c.zone_speed_m_s[b]) + still_m_s;
            // eddies must work against what flows through anyway
            let through = c.opening_kg_s[mixing.opening].abs();
            let eddies = (density * mixing.area_m2 * speed - through).max(N::default());
            *w_k = eddies * cp;
            let w = eddies * (s.zone_j_kg[a] - s.zone_j_kg[b]);
            s.heat_w[zone0 + a] -= w;
            s.heat_w[zone0 + b] += w;
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
    fn add_radiator(&self, c: &Conditions<N>, s: &mut Scratch<N>) {
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
        s.coolant_w_k = c.scalars.cabin_heater_w_k + drive * open + further;
        // air comes from one side or the other
        let back = through.below(zero);
        let air_of =
            |zone: Option<usize>| zone.map_or(c.scalars.ambient_k, |z| s.node_k[zone0 + z]);
        let air_k = back.choose(air_of(way.to), air_of(way.from));
        let capacity = through.abs().max(N::of(STILL_KG_S)) * air::specific_heat(air_k);
        let air_k = air_k + s.cooler_onward_w.max(zero) / capacity;
        let flows = N::of(STILL_KG_S).below(through.abs());
        let conductance = flows.choose(c.scalars.radiator_w_k, zero);
        s.core_w_k = drive * open + conductance;
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
