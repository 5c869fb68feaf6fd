//! The network: nodes, links and streams, and the rates that follow from them.

use smallvec::SmallVec;

use super::airflow::{Mixing, Way};
use super::conditions::Conditions;
use super::exhaust::{GasPath, GasWay, Segment};
use super::faces::{FaceScratch, Faces};
use super::gas_films::{FilmScratch, GasFilms};
use super::heat_exchangers::ToAir;
use super::heat_store::{HeatStores, PiecesInUse};
use super::intake::{AirPath, Route};
use super::ledger::{Channel, Ledger};
use super::link::Link;
use super::link_plan::{LinkPlan, LinkScratch};
use super::node::{Boundary, Node, NodeIndex};
use super::radiation_links::{RadiationLinks, RadiationScratch};
use super::roles::{CoolerCooling, Pickup, RadiatorElement, Roles, SensorLink};
use super::surfaces::{SurfaceScratch, SurfacesInAir};
use crate::number::{Number, side_by_side, turn_by_turn};
use crate::physics::air;
use crate::physics::exhaust_gas::Fuel;
use crate::sheet::build::{ExhaustKind, Opening};

/// Joules per unit of a ledger state: the solver's tolerance in K must not bind on the ledger.
pub const LEDGER_UNIT_J: f64 = 1e6;

/// Which ledger channels a link feeds, with sign; few links feed more than two, and there are thousands.
pub type LinkBooks = SmallVec<[(usize, f64); 2]>;

/// Nodes, links, streams.
#[derive(Debug, Clone)]
pub struct Network {
    /// Dynamic nodes.
    pub nodes: Vec<Node>,
    /// Links; indices beyond the nodes are boundaries in the order of [`Boundary::ALL`].
    pub links: Vec<Link>,
    /// Ledger channels of each link.
    pub link_books: Vec<LinkBooks>,
    /// Openings of the bay.
    pub openings: Vec<Opening>,
    /// Names of bodies that heat the bay, in the order of the ledger's body index.
    pub bodies: Vec<String>,
    /// Ledger.
    pub ledger: Ledger,
    /// All of it that the rates are made of.
    pub circuit: Circuit,
}

/// What the rates are made of, laid out for speed; or that of several networks of one structure, a number in each lane.
#[derive(Debug, Clone)]
pub struct Circuit<N = f64> {
    /// Number of dynamic nodes.
    pub nodes: usize,
    /// Number of ledger channels.
    pub channels: usize,
    /// Surfaces of the bay.
    pub faces: Faces<N>,
    /// Radiation besides theirs.
    pub radiation: RadiationLinks<N>,
    /// Links but radiation.
    pub plan: LinkPlan<N>,
    /// Surfaces in air.
    pub surfaces: SurfacesInAir<N>,
    /// Heat capacities of the nodes.
    pub stores: HeatStores<N>,
    /// Exhaust segments in flow order.
    pub segments: Vec<Segment<N>>,
    /// The way of the gas along them.
    pub gas_way: GasWay,
    /// Its films there.
    pub gas_films: GasFilms<N>,
    /// Intake route.
    pub route: Route<N>,
    /// Openings of the bay.
    pub ways: Vec<Way<N>>,
    /// Openings through which neighbouring zones mix.
    pub mixing: Vec<Mixing<N>>,
    /// Mixing: share of through-flow speed, speed at standstill [m/s].
    pub mixing_speed: (N, N),
    /// Radiator.
    pub radiator: RadiatorElement<N>,
    /// Charge cooler's cooling side.
    pub cooling: Option<CoolerCooling<N>>,
    /// Pickup.
    pub pickup: Pickup<N>,
    /// Sensor.
    pub sensor: SensorLink<N>,
    /// Sun heat on panels: (node, W).
    pub sun: Vec<(NodeIndex, N)>,
    /// Roles.
    pub roles: Roles<N>,
    /// Fuel.
    pub fuel: Fuel,
    /// Ambient pressure [Pa].
    pub pressure_pa: N,
    /// Turbine and compressor mechanical efficiency; `None` without turbo.
    pub mechanical_efficiency: Option<N>,
    /// Ledger slots used in every call.
    pub slots: Slots,
}
side_by_side!(Circuit {
    numbers: [
        faces,
        radiation,
        plan,
        surfaces,
        stores,
        segments,
        gas_films,
        route,
        ways,
        mixing,
        mixing_speed,
        radiator,
        cooling,
        pickup,
        sensor,
        sun,
        roles,
        pressure_pa,
        mechanical_efficiency,
    ],
    same: [nodes, channels, gas_way, fuel, slots],
});

macro_rules! slots {
    ($($name:ident => $channel:expr),* $(,)?) => {
        /// Ledger slots that every call writes.
        #[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
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

/// Everything a call of the rates works in and leaves behind for reports.
#[derive(Debug, Clone, Default)]
pub struct Scratch<N = f64> {
    /// Node and boundary temperatures [K].
    pub node_k: Vec<N>,
    /// Net heat into each node and boundary [W].
    pub heat_w: Vec<N>,
    /// Ledger rates [W].
    pub books_w: Vec<N>,
    /// Inverse of each node's heat capacity [K/J].
    pub inverse_capacity: Vec<N>,
    /// Piece of each node's heat capacity that was used last.
    pub pieces: PiecesInUse<N>,
    /// Links but radiation.
    pub links: LinkScratch<N>,
    /// Surfaces in air, while their conductances are settled.
    pub surfaces: SurfaceScratch<N>,
    /// Enthalpy of the air in each zone [J/kg].
    pub zone_j_kg: Vec<N>,
    /// Sensor to air [W/K].
    pub sensor_w_k: N,
    /// What the control unit makes of the sensor [K].
    pub sensor_reading_k: N,
    /// Charge cooler heat that goes on to the radiator with its air [W].
    pub cooler_onward_w: N,
    /// Each cooler core segment to its water [W/K].
    pub core_to_water_w_k: N,
    /// Each cooler core segment, or the cooler's water, to air.
    pub cooler_to_air: ToAir<N>,
    /// Radiator to air.
    pub radiator_to_air: ToAir<N>,
    /// Coolant to the radiator [W/K].
    pub coolant_w_k: N,
    /// How much more that is by the thermostat opening further with a warmer coolant [W/K].
    pub opening_w_k: N,
    /// Work space of the bay's surfaces.
    pub faces: FaceScratch<N>,
    /// Work space of the radiation.
    pub radiation: RadiationScratch<N>,
    /// Mixing between zones [W/K].
    pub mixing_w_k: Vec<N>,
    /// Exhaust gas.
    pub gas: GasPath<N>,
    /// Gas films.
    pub films: FilmScratch<N>,
    /// Intake air.
    pub air: AirPath<N>,
    /// Transfer of the intake air as it was found last.
    pub air_through: Vec<N>,
    /// Gas temperature at the ports [K].
    pub port_k: N,
    /// Gas into the turbine and its enthalpy over that at ambient temperature, where [`Circuit::see_turbine`] looked last [K, W].
    pub turbine_in: (N, N),
    /// Pickup temperature [K].
    pub pickup_k: N,
}

/// Smooth 0 to 1.
#[inline(always)]
pub(super) fn smoothstep<N: Number>(x: N) -> N {
    let x = x.clamp(0.0, 1.0);
    x * x * (N::of(3.0) - x * 2.0)
}

impl Network {
    /// Number of states: temperatures, then ledger.
    pub fn states(&self) -> usize {
        self.circuit.states()
    }

    /// Index of a boundary among the temperatures.
    pub fn boundary(&self, boundary: Boundary) -> NodeIndex {
        self.nodes.len() + boundary as usize
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

impl<N: Number> Circuit<N> {
    /// Number of states: temperatures, then ledger.
    pub fn states(&self) -> usize {
        self.nodes + self.channels
    }

    /// Shares of the intake flow taken from each zone.
    pub fn taken_from_zones(&self, standing: N, flow_kg_s: N, out: &mut Vec<N>) {
        out.clear();
        out.resize(self.roles.zones, N::default());
        for &(zone, share) in &self.pickup.zones {
            out[zone] += (N::of(1.0) - standing) * share * flow_kg_s;
        }
        out[self.pickup.standing_zone] += standing * flow_kg_s;
    }

    /// Loads temperatures of nodes and boundaries.
    #[inline(always)]
    pub fn load(&self, c: &Conditions<N>, y: &[N], s: &mut Scratch<N>) {
        let n = self.nodes;
        let sc = &c.scalars;
        let zero = N::default();
        s.node_k.resize(n + Boundary::ALL.len(), zero);
        s.node_k[..n].copy_from_slice(&y[..n]);
        s.node_k[n..].copy_from_slice(&[sc.ambient_k, sc.sky_k, sc.road_k, sc.cabin_k]);
        s.heat_w.resize(s.node_k.len(), zero);
        s.heat_w.fill(zero);
        s.books_w.resize(self.channels, zero);
        s.books_w.fill(zero);
        s.inverse_capacity.resize(n, zero);
        let zones = self.roles.first_zone..self.roles.first_zone + self.roles.zones;
        s.zone_j_kg.resize(self.roles.zones, zero);
        for (h, &t_k) in s.zone_j_kg.iter_mut().zip(&s.node_k[zones]) {
            *h = air::enthalpy(t_k);
        }
    }

    /// Rates of all states under conditions `c`.
    #[inline(always)]
    pub fn rates(&self, c: &Conditions<N>, y: &[N], dy: &mut [N], s: &mut Scratch<N>) {
        self.load(c, y, s);
        self.plan.add_heat(
            c,
            self.pressure_pa,
            &s.node_k,
            (&mut s.heat_w, &mut s.books_w),
            &mut s.links,
        );
        self.faces.add(
            &c.surface_w_k,
            &s.node_k,
            (&mut s.heat_w, &mut s.books_w),
            &mut s.faces,
        );
        self.radiation
            .add(&s.node_k, &mut s.heat_w, &mut s.books_w, &mut s.radiation);
        // the charge cooler first: the radiator stands in its warmed air
        self.add_intake(c, s);
        self.add_airflow(c, s);
        self.add_exhaust(c, s);
        self.add_engine(c, s);
        let n = self.nodes;
        self.stores
            .capacities(&s.node_k, &mut s.pieces, &mut s.inverse_capacity);
        let nodes = dy[..n].iter_mut().zip(&s.heat_w);
        for ((rate, &heat), capacity) in nodes.zip(&mut s.inverse_capacity) {
            turn_by_turn::<N>();
            *capacity = N::of(1.0) / *capacity;
            *rate = heat * *capacity;
        }
        // what reached a boundary has left the car
        let left = s.heat_w[n..].iter().copied().fold(N::default(), N::add);
        s.books_w[self.slots.out] += left;
        for (rate, &watts) in dy[n..].iter_mut().zip(&s.books_w) {
            *rate = watts * (1.0 / LEDGER_UNIT_J);
        }
    }

    /// First exhaust segment of the turbine.
    pub fn turbine(&self) -> Option<usize> {
        let mut segments = self.segments.iter();
        segments.position(|s| s.kind == ExhaustKind::Turbine)
    }

    /// Air and gas along their ways under conditions `c`, without the rates of the nodes.
    #[inline(always)]
    pub fn streams(&self, c: &Conditions<N>, y: &[N], s: &mut Scratch<N>) {
        self.load(c, y, s);
        self.add_intake(c, s);
        self.add_exhaust(c, s);
        self.see_turbine(c, s);
    }

    /// Leaves the gas into the turbine in the scratch, as the call before has marched it.
    #[inline(always)]
    pub fn see_turbine(&self, c: &Conditions<N>, s: &mut Scratch<N>) {
        if let Some(i) = self.turbine() {
            let (gas, in_k) = (self.gas(c), s.gas.in_k[i]);
            let over = gas.enthalpy(in_k) - gas.enthalpy(c.scalars.ambient_k);
            s.turbine_in = (in_k, c.scalars.exhaust_kg_s * over);
        }
    }

    /// Temperature of the air at the pickup, and its sources' books.
    #[inline(always)]
    pub(super) fn pickup(&self, c: &Conditions<N>, s: &mut Scratch<N>) -> N {
        let zone0 = self.roles.first_zone;
        let moving = N::of(1.0) - c.scalars.pickup_standing;
        let outside = moving * self.pickup.outside;
        let mut h = outside * air::enthalpy(c.scalars.ambient_k);
        s.books_w[self.slots.out] -= c.scalars.air_kg_s * h;
        let mut guess_k = outside * c.scalars.ambient_k;
        let standing = (self.pickup.standing_zone, c.scalars.pickup_standing);
        let zones = self.pickup.zones.iter().map(
            #[inline(always)]
            |z| (z.0, moving * z.1),
        );
        for (zone, share) in zones.chain([standing]) {
            h += share * s.zone_j_kg[zone];
            guess_k += share * s.node_k[zone0 + zone];
        }
        air::temperature_near(h, guess_k)
    }

    #[inline(always)]
    fn add_intake(&self, c: &Conditions<N>, s: &mut Scratch<N>) {
        s.cooler_onward_w = N::default();
        s.pickup_k = self.pickup(c, s);
        let drive = self.air_drive(c, s.pickup_k);
        self.route.march(
            &s.node_k,
            drive,
            &mut s.air,
            #[inline(always)]
            |passage, _, _| c.air_through[self.route.place(passage)],
        );
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
        s.books_w[self.slots.input] += s.air.squeezed_w;
        s.heat_w[self.route.port.0] -= s.air.port_to_air_w;
        s.books_w[self.slots.port] += s.air.port_to_air_w;
        let v = self
            .route
            .sensor_speed(c.scalars.air_kg_s, s.air.sensor_air_k, self.pressure_pa);
        // forced part grows with the root of speed (cylinder in crossflow); still air leaves 8 %
        let g = self.sensor.air_w_k * (v / 10.0).sqrt().max(N::of(0.08));
        s.sensor_w_k = g;
        let tip_k = s.node_k[self.roles.sensor];
        let heat = g * (s.air.sensor_air_k - tip_k);
        // the flow meter knows how far it warms the tip at rest and takes that off at once
        let film_w = self.sensor.film_w;
        s.sensor_reading_k = tip_k - film_w / (g + self.sensor.mount_w_k);
        s.heat_w[self.roles.sensor] += heat + film_w;
        s.books_w[self.slots.input] += film_w;
        s.heat_w[self.sensor.wall] -= heat;
    }

    #[inline(always)]
    fn duct_slot(&self, duct: usize) -> Option<usize> {
        // duct channels are registered first, in order, see assemble
        (duct < self.route.ducts.len()).then_some(self.first_duct_slot() + duct)
    }

    #[inline(always)]
    fn first_duct_slot(&self) -> usize {
        self.slots.running + 1
    }

    #[inline(always)]
    fn add_exhaust(&self, c: &Conditions<N>, s: &mut Scratch<N>) {
        let sc = &c.scalars;
        let (gas, drive) = self.march_gas(c, s, &c.gas_through);
        let first_part = self.first_duct_slot() + self.route.ducts.len();
        let heat_w = &mut s.heat_w[..];
        for (&wall, &watts) in self.gas_way.walls.iter().zip(&s.gas.to_wall_w) {
            heat_w[wall] += watts;
        }
        for &(part, first, end) in &self.gas_way.parts {
            let of_part = s.gas.to_wall_w[first..end].iter().copied();
            s.books_w[first_part + part] += of_part.fold(N::default(), N::add);
        }
        if sc.exhaust_kg_s.largest() <= super::exhaust::STILL_KG_S {
            return;
        }
        let lost_w = drive.turbine_w - s.air.compressor_w;
        if let Some(bearing) = self.roles.bearing {
            s.heat_w[bearing] += lost_w;
        }
        // what is still unburnt in the whole flow and in each bank
        let half = sc.unburnt_w * 0.5;
        let mut left = [sc.unburnt_w, half, half];
        for brick in &self.roles.bricks {
            let bank = usize::from(brick.branch);
            let reaching = left[bank];
            let hot = light_off(s.node_k[brick.node]);
            let burnt = brick.conversion * sc.catalyst_burn * hot * reaching;
            s.heat_w[brick.node] += burnt;
            left[bank] -= burnt;
            if bank == 0 {
                (left[1], left[2]) = (left[0] * 0.5, left[0] * 0.5);
            } else {
                left[0] = left[1] + left[2];
            }
            s.books_w[self.slots.catalyst] += burnt;
        }
        s.books_w[self.slots.turbine] += drive.turbine_w;
        s.books_w[self.slots.tail] += s.gas.tail_w - sc.exhaust_kg_s * gas.enthalpy(sc.ambient_k);
        s.books_w[self.slots.out] += s.gas.tail_w + left[0];
    }

    #[inline(always)]
    fn add_engine(&self, c: &Conditions<N>, s: &mut Scratch<N>) {
        let sc = &c.scalars;
        s.heat_w[self.roles.block] += sc.cylinder_heat_w + sc.friction_w * 0.5;
        s.heat_w[self.roles.oil] += sc.friction_w * 0.5;
        let mut sun = N::default();
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
}

/// A cold catalyst burns nothing; light-off around 250 to 350 degC (common practice, no source).
#[inline(always)]
fn light_off<N: Number>(brick_k: N) -> N {
    smoothstep((brick_k - 523.0) / 100.0)
}
