//! Air between zones and the outside, the radiator, and mixing.

use super::conditions::Conditions;
use super::rates::{Network, Scratch, smoothstep};
use crate::physics::air;

/// Coolant to radiator core at 2000 rpm with the thermostat open [W/K]: about 1.2 kg/s of coolant.
const RADIATOR_FLOW_W_K: f64 = 4400.0;
/// Share of that flow that goes on by buoyancy with the pump still (estimate).
const THERMOSIPHON: f64 = 0.01;

impl Network {
    /// Air moving between zones and the outside, radiator and mixing.
    pub(super) fn add_airflow(&self, c: &Conditions, s: &mut Scratch) {
        let zone0 = self.roles.first_zone;
        let h_ambient = air::enthalpy(c.scalars.ambient_k);
        // mean enthalpy of what leaves the bay, which is what comes back when standing
        let (mut leaving, mut leaving_h) = (1e-9, 1e-9 * h_ambient);
        for (opening, &flow) in self.openings.iter().zip(&c.opening_kg_s) {
            let out = match (opening.from, opening.to) {
                (Some(z), None) if flow > 0.0 => Some((z, flow)),
                (None, Some(z)) if flow < 0.0 => Some((z, -flow)),
                _ => None,
            };
            if let Some((z, m)) = out {
                leaving += m;
                leaving_h += m * s.zone_j_kg[z];
            }
        }
        let h_back = leaving_h / leaving;
        for (opening, &flow) in self.openings.iter().zip(&c.opening_kg_s) {
            let (source, sink, m) = if flow >= 0.0 {
                (opening.from, opening.to, flow)
            } else {
                (opening.to, opening.from, -flow)
            };
            let h_source = match source {
                Some(z) => s.zone_j_kg[z],
                None if opening.pressure_coefficient > 0.0 => {
                    h_ambient + c.scalars.recirculation * (h_back - h_ambient)
                }
                None => h_ambient,
            };
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
        self.mix_zones(c, s);
        self.add_radiator(c, s);
    }

    /// Eddies between neighbouring zones.
    fn mix_zones(&self, c: &Conditions, s: &mut Scratch) {
        let zone0 = self.roles.first_zone;
        let density = air::density(c.scalars.ambient_k, self.pressure_pa);
        let cp = air::specific_heat(c.scalars.ambient_k);
        s.mixing_w_k.resize(self.mixing.len(), 0.0);
        for (k, &i) in self.mixing.iter().enumerate() {
            let opening = &self.openings[i];
            let (Some(a), Some(b)) = (opening.from, opening.to) else {
                continue;
            };
            let speed = self.mixing_speed.0 * 0.5 * (c.zone_speed_m_s[a] + c.zone_speed_m_s[b])
                + self.mixing_speed.1;
            // eddies must work against what flows through anyway
            let eddies = (density * opening.area_m2 * speed - c.opening_kg_s[i].abs()).max(0.0);
            s.mixing_w_k[k] = eddies * cp;
            let w = eddies * (s.zone_j_kg[a] - s.zone_j_kg[b]);
            s.heat_w[zone0 + a] -= w;
            s.heat_w[zone0 + b] += w;
        }
    }

    /// Thermostat opening, 0 to 1.
    pub fn thermostat(&self, coolant_k: f64) -> f64 {
        let (open, full) = self.radiator.thermostat_k;
        smoothstep((coolant_k - open) / (full - open))
    }

    /// Derivative of the thermostat's opening by coolant temperature [1/K].
    fn thermostat_slope(&self, coolant_k: f64) -> f64 {
        let (open, full) = self.radiator.thermostat_k;
        let x = ((coolant_k - open) / (full - open)).clamp(0.0, 1.0);
        6.0 * x * (1.0 - x) / (full - open)
    }

    /// Radiator: coolant to the core, core to the air that passes it (single-stream effectiveness).
    fn add_radiator(&self, c: &Conditions, s: &mut Scratch) {
        let zone0 = self.roles.first_zone;
        let coolant_k = s.node_k[self.roles.coolant];
        let opening = &self.openings[self.radiator.opening];
        let through = c.opening_kg_s[self.radiator.opening];
        let (source, sink) = if through >= 0.0 {
            (opening.from, opening.to)
        } else {
            (opening.to, opening.from)
        };
        let core_k = s.node_k[self.roles.radiator];
        // the pump drives coolant through the core as far as the thermostat lets it; after key-off
        // a little goes on circulating by itself
        let drive = RADIATOR_FLOW_W_K * (c.scalars.pump + THERMOSIPHON);
        let open = self.thermostat(coolant_k);
        let exchange = drive * open * (coolant_k - core_k);
        s.heat_w[self.roles.coolant] -= exchange;
        s.heat_w[self.roles.radiator] += exchange;
        // opening further as it warms acts like more conductance
        let further = drive * self.thermostat_slope(coolant_k) * (coolant_k - core_k);
        s.coolant_w_k = c.scalars.cabin_heater_w_k + drive * open + further;
        s.core_w_k = drive * open;
        if through.abs() > 1e-6 {
            let air_k = source.map_or(c.scalars.ambient_k, |z| s.node_k[zone0 + z]);
            let capacity = through.abs() * air::specific_heat(air_k);
            let air_k = air_k + s.cooler_onward_w.max(0.0) / capacity;
            let conductance = c.scalars.radiator_w_k;
            s.core_w_k += conductance;
            let heat = conductance * (core_k - air_k);
            s.heat_w[self.roles.radiator] -= heat;
            match sink {
                Some(z) => s.heat_w[zone0 + z] += heat,
                None => s.books_w[self.slots.out] += heat,
            }
            s.books_w[self.slots.radiator] += heat;
        }
        let cabin = c.scalars.cabin_heater_w_k * (coolant_k - c.scalars.ambient_k);
        s.heat_w[self.roles.coolant] -= cabin;
        s.books_w[self.slots.out] += cabin;
    }
}
