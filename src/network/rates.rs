//! The network: nodes, links and streams, and the rates that follow from them.

use super::conditions::Conditions;
use super::exhaust::{GasDrive, GasPath, Segment};
use super::intake::{AirDrive, AirPath, Route};
use super::ledger::{Channel, Ledger};
use super::link::{Flow, Law, Link, Surroundings, pump_factor};
use super::node::{Boundary, Node, NodeIndex};
use super::radiation_links::{RadiationLinks, RadiationScratch};
use super::roles::{CoolerCooling, Pickup, RadiatorElement, Roles, SensorLink};
use crate::physics::air;
use crate::physics::exhaust_gas::{ExhaustGas, Fuel};
use crate::physics::range::Range;
use crate::sheet::build::{CoolerKind, Opening};

/// Joules per unit of a ledger state: the solver's tolerance in K must not bind on the ledger.
pub const LEDGER_UNIT_J: f64 = 1e6;

/// Which ledger channels a link feeds, with sign.
pub type LinkBooks = Vec<(usize, f64)>;

/// Nodes, links, streams.
#[derive(Debug, Clone)]
pub struct Network {
    /// Dynamic nodes.
    pub nodes: Vec<Node>,
    /// Links; indices beyond the nodes are boundaries in the order of [`Boundary::ALL`].
    pub links: Vec<Link>,
    /// Ledger channels of each link.
    pub link_books: Vec<LinkBooks>,
    /// The radiation links among them, laid out for speed.
    pub radiation: RadiationLinks,
    /// Exhaust segments in flow order.
    pub segments: Vec<Segment>,
    /// Intake route.
    pub route: Route,
    /// Openings of the bay.
    pub openings: Vec<Opening>,
    /// Openings through which neighbouring zones mix.
    pub mixing: Vec<usize>,
    /// Mixing: share of through-flow speed, speed at standstill [m/s].
    pub mixing_speed: (f64, f64),
    /// Radiator.
    pub radiator: RadiatorElement,
    /// Charge cooler's cooling side.
    pub cooling: Option<CoolerCooling>,
    /// Pickup.
    pub pickup: Pickup,
    /// Sensor.
    pub sensor: SensorLink,
    /// Sun heat on panels: (node, W).
    pub sun: Vec<(NodeIndex, f64)>,
    /// Roles.
    pub roles: Roles,
    /// Fuel.
    pub fuel: Fuel,
    /// Ambient pressure [Pa].
    pub pressure_pa: f64,
    /// Turbine and compressor mechanical efficiency; `None` without turbo.
    pub mechanical_efficiency: Option<f64>,
    /// Names of bodies that heat the bay, in the order of the ledger's body index.
    pub bodies: Vec<String>,
    /// Ledger.
    pub ledger: Ledger,
    /// Ledger slots used in every call.
    pub slots: Slots,
}

macro_rules! slots {
    ($($name:ident => $channel:expr),* $(,)?) => {
        /// Ledger slots that every call writes.
        #[derive(Debug, Clone, Copy, Default)]
        pub struct Slots { $(
            #[doc = concat!("Slot of `", stringify!($name), "`.")]
            pub $name: usize, )* }
        impl Slots {
            /// Makes all of them in a ledger.
            pub fn new(ledger: &mut Ledger) -> Self {
                Self { $($name: ledger.index($channel),)* }
            }
        }
    };
}

slots! {
    input => Channel::In, out => Channel::Out, fuel => Channel::Fuel, brake => Channel::Brake,
    cylinder => Channel::CylinderHeat, friction => Channel::Friction, unburnt => Channel::Unburnt,
    gas => Channel::GasHeat, tail => Channel::Tail, turbine => Channel::TurbineWork,
    catalyst => Channel::CatalystHeat, radiator => Channel::RadiatorToAir,
    cooler => Channel::CoolerToAir, compressor => Channel::CompressorWork,
    charge_cooler => Channel::ChargeToCooler, port => Channel::PortToCharge,
    running => Channel::RunningSeconds,
}

/// Coolant to radiator core at 2000 rpm with the thermostat open [W/K]: about 1.2 kg/s of coolant.
const RADIATOR_FLOW_W_K: f64 = 4400.0;
/// Share of that flow that goes on by buoyancy with the pump still (estimate).
const THERMOSIPHON: f64 = 0.01;

/// Everything a call of the rates works in and leaves behind for reports.
#[derive(Debug, Clone, Default)]
pub struct Scratch {
    /// Node and boundary temperatures [K].
    pub node_k: Vec<f64>,
    /// Net heat into each node and boundary [W].
    pub heat_w: Vec<f64>,
    /// Ledger rates [W].
    pub books_w: Vec<f64>,
    /// Heat capacity of each node [J/K].
    pub capacity: Vec<f64>,
    /// Flow along each link; zero for radiation, which is summed apart.
    pub flows: Vec<Flow>,
    /// Sensor to air [W/K].
    pub sensor_w_k: f64,
    /// Charge cooler heat that goes on to the radiator with its air [W].
    pub cooler_onward_w: f64,
    /// Each cooler core segment to its cooling air or water [W/K].
    pub core_cooling_w_k: f64,
    /// Charge cooler core to the zone that feeds it, as far as its heat stays there [W/K].
    pub cooler_feed_w_k: f64,
    /// Coolant to radiator and cabin, thermostat movement included [W/K].
    pub coolant_w_k: f64,
    /// Radiator core to coolant and air [W/K].
    pub core_w_k: f64,
    /// Work space of the radiation.
    pub radiation: RadiationScratch,
    /// Mixing between zones [W/K].
    pub mixing_w_k: Vec<f64>,
    /// Exhaust gas.
    pub gas: GasPath,
    /// Intake air.
    pub air: AirPath,
    /// Gas temperature at the ports [K].
    pub port_k: f64,
    /// Pickup temperature [K].
    pub pickup_k: f64,
}

/// Smooth 0 to 1.
fn smoothstep(x: f64) -> f64 {
    let x = x.clamp(0.0, 1.0);
    x * x * (3.0 - 2.0 * x)
}

impl Network {
    /// Number of states: temperatures, then ledger.
    pub fn states(&self) -> usize {
        self.nodes.len() + self.ledger.len()
    }

    /// Index of a boundary among the temperatures.
    pub fn boundary(&self, boundary: Boundary) -> NodeIndex {
        self.nodes.len() + boundary as usize
    }

    /// Surroundings of the links under given conditions.
    fn surroundings<'a>(&self, c: &'a Conditions) -> Surroundings<'a> {
        Surroundings {
            zone_speed_m_s: &c.zone_speed_m_s,
            road_speed_m_s: c.scalars.speed_m_s,
            wind_m_s: c.scalars.wind_m_s,
            pressure_pa: self.pressure_pa,
            rpm: c.scalars.rpm,
        }
    }

    /// Loads temperatures of nodes and boundaries.
    pub fn load(&self, c: &Conditions, y: &[f64], s: &mut Scratch) {
        s.node_k.clear();
        s.node_k.extend_from_slice(&y[..self.nodes.len()]);
        let sc = &c.scalars;
        s.node_k
            .extend([sc.ambient_k, sc.sky_k, sc.road_k, sc.cabin_k]);
        s.heat_w.clear();
        s.heat_w.resize(s.node_k.len(), 0.0);
        s.books_w.clear();
        s.books_w.resize(self.ledger.len(), 0.0);
    }

    /// Rates of all states under conditions `c`.
    pub fn rates(&self, c: &Conditions, y: &[f64], dy: &mut [f64], s: &mut Scratch) {
        self.load(c, y, s);
        self.add_links(c, s);
        // the charge cooler first: the radiator stands in its warmed air
        self.add_intake(c, s);
        self.add_airflow(c, s);
        self.add_exhaust(c, s);
        self.add_engine(c, s);
        let n = self.nodes.len();
        s.capacity.clear();
        for (i, node) in self.nodes.iter().enumerate() {
            let capacity = node.storage.capacity(s.node_k[i]);
            s.capacity.push(capacity);
            dy[i] = s.heat_w[i] / capacity;
        }
        // what reached a boundary has left the car
        let left: f64 = s.heat_w[n..].iter().sum();
        s.books_w[self.slots.out] += left;
        for (rate, watts) in dy[n..].iter_mut().zip(&s.books_w) {
            *rate = watts / LEDGER_UNIT_J;
        }
    }

    fn add_links(&self, c: &Conditions, s: &mut Scratch) {
        let around = self.surroundings(c);
        s.flows.clear();
        for (link, books) in self.links.iter().zip(&self.link_books) {
            if matches!(link.law, Law::Radiation { .. }) {
                s.flows.push(Flow::NONE);
                continue;
            }
            let flow = link.flow(s.node_k[link.from], s.node_k[link.to], &around);
            s.flows.push(flow);
            s.heat_w[link.from] -= flow.watts;
            s.heat_w[link.to] += flow.watts;
            for &(slot, sign) in books {
                s.books_w[slot] += sign * flow.watts;
            }
        }
        self.radiation
            .add(&s.node_k, &mut s.heat_w, &mut s.books_w, &mut s.radiation);
    }

    /// Ranges of the correlations behind a link, and their values.
    pub fn link_ranges(
        &self,
        link: &Link,
        c: &Conditions,
        node_k: &[f64],
    ) -> [Option<(&'static Range, f64)>; 2] {
        link.ranges(node_k[link.from], node_k[link.to], &self.surroundings(c))
    }

    /// Air moving between zones and the outside, radiator and mixing.
    fn add_airflow(&self, c: &Conditions, s: &mut Scratch) {
        let zone0 = self.roles.first_zone;
        let ambient_k = c.scalars.ambient_k;
        let h_ambient = air::enthalpy(ambient_k);
        let h_zone = |s: &Scratch, z: usize| air::enthalpy(s.node_k[zone0 + z]);
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
                leaving_h += m * h_zone(s, z);
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
                Some(z) => h_zone(s, z),
                None if opening.pressure_coefficient > 0.0 => {
                    h_ambient + c.scalars.recirculation * (h_back - h_ambient)
                }
                None => h_ambient,
            };
            match sink {
                Some(z) => {
                    s.heat_w[zone0 + z] += m * (h_source - h_zone(s, z));
                    if source.is_none() {
                        s.books_w[self.slots.out] -= m * h_source;
                    }
                }
                None => s.books_w[self.slots.out] += m * h_source,
            }
        }
        s.mixing_w_k.clear();
        for &i in &self.mixing {
            let opening = &self.openings[i];
            let (Some(a), Some(b)) = (opening.from, opening.to) else {
                continue;
            };
            let speed = self.mixing_speed.0 * 0.5 * (c.zone_speed_m_s[a] + c.zone_speed_m_s[b])
                + self.mixing_speed.1;
            let density = air::density(ambient_k, self.pressure_pa);
            // eddies must work against what flows through anyway
            let eddies = (density * opening.area_m2 * speed - c.opening_kg_s[i].abs()).max(0.0);
            s.mixing_w_k.push(eddies * air::specific_heat(ambient_k));
            let w = eddies * (h_zone(s, a) - h_zone(s, b));
            s.heat_w[zone0 + a] -= w;
            s.heat_w[zone0 + b] += w;
        }
        self.add_radiator(c, s);
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
        let m = through.abs();
        let (source, sink) = if through >= 0.0 {
            (opening.from, opening.to)
        } else {
            (opening.to, opening.from)
        };
        let air_k = source.map_or(c.scalars.ambient_k, |z| s.node_k[zone0 + z]);
        let core_k = s.node_k[self.roles.radiator];
        let running = c.scalars.running;
        // the pump drives coolant through the core as far as the thermostat lets it; after key-off
        // a little goes on circulating by itself
        let drive = RADIATOR_FLOW_W_K * (pump_factor(c.scalars.rpm) + THERMOSIPHON);
        let open = self.thermostat(coolant_k);
        let exchange = drive * open * (coolant_k - core_k);
        s.heat_w[self.roles.coolant] -= exchange;
        s.heat_w[self.roles.radiator] += exchange;
        // opening further as it warms acts like more conductance
        let further = drive * self.thermostat_slope(coolant_k) * (coolant_k - core_k);
        s.coolant_w_k = self.radiator.cabin_w_k * running + drive * open + further;
        s.core_w_k = drive * open;
        if m > 1e-6 {
            let capacity = m * air::specific_heat(air_k);
            let air_k = air_k + s.cooler_onward_w.max(0.0) / capacity;
            let ua = self.radiator.conductance_w_k * m.powf(0.6);
            let conductance = capacity * (1.0 - (-ua / capacity).exp());
            s.core_w_k += conductance;
            let heat = conductance * (core_k - air_k);
            s.heat_w[self.roles.radiator] -= heat;
            match sink {
                Some(z) => s.heat_w[zone0 + z] += heat,
                None => s.books_w[self.slots.out] += heat,
            }
            s.books_w[self.slots.radiator] += heat;
        }
        let cabin = self.radiator.cabin_w_k * c.scalars.running * (coolant_k - c.scalars.cabin_k);
        s.heat_w[self.roles.coolant] -= cabin;
        s.books_w[self.slots.out] += cabin;
    }

    /// Temperature of the air at the pickup, and its sources' books.
    fn pickup(&self, c: &Conditions, s: &mut Scratch) -> f64 {
        let zone0 = self.roles.first_zone;
        let flow = c.scalars.air_kg_s;
        let standing = c.scalars.pickup_standing;
        let mut h = (1.0 - standing) * self.pickup.outside * air::enthalpy(c.scalars.ambient_k);
        s.books_w[self.slots.out] -= flow * h;
        for &(zone, share) in &self.pickup.zones {
            h += (1.0 - standing) * share * air::enthalpy(s.node_k[zone0 + zone]);
        }
        h += standing * air::enthalpy(s.node_k[zone0 + self.pickup.standing_zone]);
        air::temperature_from_enthalpy(h)
    }

    /// Shares of the intake flow taken from each zone.
    pub fn taken_from_zones(&self, standing: f64, flow_kg_s: f64, out: &mut Vec<f64>) {
        out.clear();
        out.resize(self.roles.zones, 0.0);
        for &(zone, share) in &self.pickup.zones {
            out[zone] += (1.0 - standing) * share * flow_kg_s;
        }
        out[self.pickup.standing_zone] += standing * flow_kg_s;
    }

    /// Marches the intake only: for the charge temperature before the flow is known.
    pub fn charge_at_valve(&self, c: &Conditions, s: &mut Scratch) -> f64 {
        let pickup_k = self.pickup(c, s);
        let drive = AirDrive {
            flow_kg_s: c.scalars.air_kg_s,
            pickup_k,
            compression_rise: c.scalars.compression_rise,
        };
        self.route.march(&s.node_k, drive, &mut s.air);
        s.air.valve_k
    }

    fn add_intake(&self, c: &Conditions, s: &mut Scratch) {
        s.cooler_onward_w = 0.0;
        s.pickup_k = self.pickup(c, s);
        let drive = AirDrive {
            flow_kg_s: c.scalars.air_kg_s,
            pickup_k: s.pickup_k,
            compression_rise: c.scalars.compression_rise,
        };
        self.route.march(&s.node_k, drive, &mut s.air);
        for (i, duct) in self.route.ducts.iter().enumerate() {
            s.heat_w[duct.wall] -= s.air.duct_to_air_w[i];
            if let Some(slot) = self.duct_slot(i) {
                s.books_w[slot] += s.air.duct_to_air_w[i];
            }
        }
        if let Some((housing, _)) = self.route.compressor {
            s.heat_w[housing] -= s.air.housing_to_air_w;
            s.books_w[self.slots.compressor] += s.air.compressor_w;
        }
        if let Some(cooler) = &self.route.cooler {
            for (&node, &watts) in cooler.core.iter().zip(&s.air.charge_to_core_w) {
                s.heat_w[node] += watts;
                s.books_w[self.slots.charge_cooler] += watts;
            }
            self.cool_core(c, s);
        }
        s.heat_w[self.route.port.0] -= s.air.port_to_air_w;
        s.books_w[self.slots.port] += s.air.port_to_air_w;
        let v = self
            .route
            .sensor_speed(c.scalars.air_kg_s, s.air.sensor_air_k, self.pressure_pa);
        // forced part grows with the root of speed (cylinder in crossflow); still air leaves 8 %
        let g = self.sensor.air_w_k * (v / 10.0).sqrt().max(0.08);
        s.sensor_w_k = g;
        let heat = g * (s.air.sensor_air_k - s.node_k[self.roles.sensor]);
        s.heat_w[self.roles.sensor] += heat;
        s.heat_w[self.sensor.wall] -= heat;
    }

    fn duct_slot(&self, duct: usize) -> Option<usize> {
        // duct channels are registered first, in order, see assemble
        (duct < self.route.ducts.len()).then_some(self.first_duct_slot() + duct)
    }

    fn first_duct_slot(&self) -> usize {
        self.slots.running + 1
    }

    /// Cooling side of the charge cooler core.
    fn cool_core(&self, c: &Conditions, s: &mut Scratch) {
        let (Some(cooling), Some(cooler)) = (&self.cooling, &self.route.cooler) else {
            return;
        };
        let zone0 = self.roles.first_zone;
        let feed_k = s.node_k[zone0 + cooling.from_zone];
        let share = c.scalars.cooler_bay_share;
        let air_k = share * feed_k + (1.0 - share) * c.scalars.ambient_k;
        let m = c.scalars.cooler_air_kg_s;
        let cores = cooler.core.len() as f64;
        // what the radiator draws carries the heat on; the rest stays where the cooler stands
        let onward = (c.opening_kg_s[self.radiator.opening].max(0.0) / m.max(1e-9)).min(1.0);
        let into_air = |heat: f64, s: &mut Scratch| {
            s.heat_w[zone0 + cooling.to_zone] += onward * heat;
            if cooling.kind != CoolerKind::Top {
                s.cooler_onward_w += onward * heat;
            }
            s.heat_w[zone0 + cooling.from_zone] += (1.0 - onward) * heat;
            s.books_w[self.slots.cooler] += heat;
        };
        match (cooling.kind, self.roles.cooler_water) {
            (CoolerKind::Water, Some(water)) => {
                let g = cooling.air_w_k * (0.05 + 0.95 * c.scalars.cooler_pump) / cores;
                s.core_cooling_w_k = g;
                for &node in &cooler.core {
                    let heat = g * (s.node_k[node] - s.node_k[water]);
                    s.heat_w[node] -= heat;
                    s.heat_w[water] += heat;
                }
                let pumped = cooling.water_radiator_w_k * (0.05 + 0.95 * c.scalars.cooler_pump);
                let heat = air_side(m, pumped, air_k) * (s.node_k[water] - air_k);
                s.heat_w[water] -= heat;
                into_air(heat, s);
            }
            _ => {
                let g = air_side(m, cooling.air_w_k, air_k) / cores;
                s.core_cooling_w_k = g;
                let stays = if cooling.to_zone == cooling.from_zone {
                    1.0
                } else {
                    1.0 - onward
                };
                s.cooler_feed_w_k = g * cores * share * stays;
                for &node in &cooler.core {
                    let heat = g * (s.node_k[node] - air_k);
                    s.heat_w[node] -= heat;
                    into_air(heat, s);
                }
            }
        }
    }

    fn add_exhaust(&self, c: &Conditions, s: &mut Scratch) {
        let sc = &c.scalars;
        let gas = ExhaustGas::new(self.fuel, 1.0 / sc.phi.max(1e-6));
        let charge_w = sc.air_kg_s * air::enthalpy(s.air.valve_k);
        s.port_k = if sc.exhaust_kg_s > super::exhaust::STILL_KG_S {
            gas.temperature_from_enthalpy((sc.gas_heat_w + charge_w) / sc.exhaust_kg_s)
        } else {
            s.node_k[self.roles.block]
        };
        let turbine_w = self
            .mechanical_efficiency
            .map_or(0.0, |e| s.air.compressor_w / e);
        let drive = GasDrive {
            flow_kg_s: sc.exhaust_kg_s,
            port_k: s.port_k,
            turbine_w,
        };
        s.gas.march(&self.segments, &s.node_k, &gas, drive);
        let first_part = self.first_duct_slot() + self.route.ducts.len();
        for (segment, &watts) in self.segments.iter().zip(&s.gas.to_wall_w) {
            s.heat_w[segment.wall] += watts;
            s.books_w[first_part + segment.part] += watts;
        }
        if sc.exhaust_kg_s <= super::exhaust::STILL_KG_S {
            return;
        }
        let lost_w = turbine_w - s.air.compressor_w;
        if let Some(bearing) = self.roles.bearing {
            s.heat_w[bearing] += lost_w;
        }
        // what is still unburnt in the whole flow and in each bank
        let mut left = [sc.unburnt_w, 0.5 * sc.unburnt_w, 0.5 * sc.unburnt_w];
        for brick in &self.roles.bricks {
            let bank = usize::from(brick.branch);
            let reaching = left[bank];
            let hot = light_off(s.node_k[brick.node]);
            let burnt = brick.conversion * sc.catalyst_burn * hot * reaching;
            s.heat_w[brick.node] += burnt;
            left[bank] -= burnt;
            if bank == 0 {
                (left[1], left[2]) = (0.5 * left[0], 0.5 * left[0]);
            } else {
                left[0] = left[1] + left[2];
            }
            s.books_w[self.slots.catalyst] += burnt;
        }
        s.books_w[self.slots.turbine] += turbine_w;
        s.books_w[self.slots.tail] += s.gas.tail_w - sc.exhaust_kg_s * gas.enthalpy(sc.ambient_k);
        s.books_w[self.slots.out] += s.gas.tail_w + left[0];
    }

    fn add_engine(&self, c: &Conditions, s: &mut Scratch) {
        let sc = &c.scalars;
        s.heat_w[self.roles.block] += sc.cylinder_heat_w + 0.5 * sc.friction_w;
        s.heat_w[self.roles.oil] += 0.5 * sc.friction_w;
        let mut sun = 0.0;
        for &(node, watts) in &self.sun {
            s.heat_w[node] += watts;
            sun += watts;
        }
        let books = &mut s.books_w;
        books[self.slots.input] += sc.fuel_w + sc.motoring_w + sun;
        books[self.slots.out] += sc.brake_w;
        books[self.slots.fuel] += sc.fuel_w;
        books[self.slots.brake] += sc.brake_w;
        books[self.slots.cylinder] += sc.cylinder_heat_w;
        books[self.slots.friction] += sc.friction_w;
        books[self.slots.unburnt] += sc.unburnt_w;
        books[self.slots.gas] += sc.gas_heat_w;
        books[self.slots.running] += sc.running;
    }

    /// Stored heat of all nodes [J] at state `y`.
    pub fn stored_j(&self, y: &[f64]) -> f64 {
        self.nodes
            .iter()
            .zip(y)
            .map(|(n, &t)| n.storage.energy(t))
            .sum()
    }
}

/// Heat per kelvin [W/K] that a stream of air takes from a surface it passes.
fn air_side(flow_kg_s: f64, conductance_at_1_kg_s: f64, air_k: f64) -> f64 {
    if flow_kg_s < 1e-6 {
        return 0.0;
    }
    let capacity = flow_kg_s * air::specific_heat(air_k);
    capacity * (1.0 - (-conductance_at_1_kg_s * flow_kg_s.powf(0.6) / capacity).exp())
}

/// A cold catalyst burns nothing; light-off around 250 to 350 degC (common practice, no source).
fn light_off(brick_k: f64) -> f64 {
    smoothstep((brick_k - 523.0) / 100.0)
}
