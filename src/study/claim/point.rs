//! The car at one steady point, or minutes after it: fast enough for hundreds of draws.

use super::at::After;
pub use super::at::At;
use crate::cycle::{Demand, Interval};
use crate::engine::operating::OperatingPoint;
use crate::network::assemble::{Detail, assemble, segment_share};
use crate::network::conditions::Scalars;
use crate::network::control::{Beginning, Controller};
use crate::network::exhaust::GasPath;
use crate::network::ledger::Channel;
use crate::network::node::NodeIndex;
use crate::network::plant::Plant;
use crate::network::rates::Network;
use crate::physics::exhaust_gas::ExhaustGas;
use crate::sheet::build::{Build, ExhaustKind};
use crate::solve::{Integrator, Method, SteadyOptions, System, Tolerance, steady};
use crate::study::gas_watch::{Pipe, PipeFlow};
use crate::study::run::RunError;

/// Segments per exhaust part: the means over parts move by a kelvin or two against ten.
const SEGMENTS: usize = 3;
/// Rounds of control and steady state.
const ROUNDS: usize = 10;
/// Change below which a round has settled [K].
const SETTLED_K: f64 = 0.05;
/// Time from round to round, long enough for the draught to follow [s].
const ROUND_S: f64 = 120.0;
/// Tolerance of the minutes after the drive [K].
const TOLERANCE_K: f64 = 0.1;

macro_rules! numbers {
    ($(#[$outer:meta])* $name:ident { $($(#[$doc:meta])* $field:ident),* $(,)? }) => {
        $(#[$outer])*
        #[derive(Debug, Clone, Copy, Default, PartialEq)]
        pub struct $name { $($(#[$doc])* pub $field: f64,)* }

        impl $name {
            /// Adds a share of another.
            fn add(&mut self, other: &Self, share: f64) {
                $(self.$field += share * other.$field;)*
            }
        }
    };
}

numbers! {
    /// An exhaust part at a point.
    PartState {
        /// Skin, mean over the part [K].
        skin_k,
        /// Metal, mean over the part [K].
        metal_k,
        /// Metal, hottest segment [K].
        metal_hot_k,
        /// Gas going in [K].
        gas_k,
        /// Heat to the bay by convection [W].
        convected_w,
        /// Heat to the bay by radiation [W].
        radiated_w,
        /// Heat from the gas to the wall [W].
        from_gas_w,
        /// Pressure drop by wall friction [Pa].
        drop_pa,
        /// Gas speed [m/s].
        gas_speed_m_s,
    }
}

impl PartState {
    /// Heat to the bay [W].
    #[must_use]
    pub fn to_bay_w(&self) -> f64 {
        self.convected_w + self.radiated_w
    }
}

numbers! {
    /// The rest of the car at a point.
    CarState {
        /// Outside air [K].
        ambient_k,
        /// Air at the pickup [K].
        pickup_k,
        /// Intake sensor [K].
        sensor_k,
        /// Charge at the valve [K].
        valve_k,
        /// Gas into the turbine; into the catalyst or the first pipe without one [K].
        turbine_in_k,
        /// Enthalpy flow of that gas over outside air [W].
        turbine_in_w,
        /// Heat into the bay from everything that gives some off [W].
        bay_heat_w,
        /// Of it, from the radiator [W].
        radiator_w,
        /// Engine block outside [K].
        block_k,
    }
}

/// A car at a point. Parts, zones and neighbours are in the order of the build.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct PointState {
    /// Exhaust parts.
    pub parts: Vec<PartState>,
    /// The rest.
    pub car: CarState,
    /// Air of the zones [K].
    pub zones_k: Vec<f64>,
    /// Air speed in the zones [m/s].
    pub zone_speed_m_s: Vec<f64>,
    /// Nearby parts [K].
    pub neighbours_k: Vec<f64>,
}

impl PointState {
    fn add(&mut self, other: &Self, share: f64) {
        self.car.add(&other.car, share);
        self.parts.resize(other.parts.len(), PartState::default());
        for (own, part) in self.parts.iter_mut().zip(&other.parts) {
            own.add(part, share);
        }
        for (own, values) in [
            (&mut self.zones_k, &other.zones_k),
            (&mut self.zone_speed_m_s, &other.zone_speed_m_s),
            (&mut self.neighbours_k, &other.neighbours_k),
        ] {
            own.resize(values.len(), 0.0);
            for (a, b) in own.iter_mut().zip(values) {
                *a += share * b;
            }
        }
    }

    fn is_finite(&self) -> bool {
        let car = self.car.valve_k + self.car.bay_heat_w + self.car.turbine_in_w;
        let parts: f64 = self
            .parts
            .iter()
            .map(|p| p.skin_k + p.to_bay_w() + p.drop_pa)
            .sum();
        let rest: f64 = self.zones_k.iter().chain(&self.neighbours_k).sum();
        (car + parts + rest).is_finite()
    }
}

/// Temperatures by node name: where another solution of nearly the same car starts from.
#[derive(Debug, Clone, Default)]
pub struct Warmth(Vec<(String, f64)>);

impl Warmth {
    fn of(network: &Network, y: &[f64]) -> Self {
        let named = network.nodes.iter().zip(y);
        Self(named.map(|(n, &t)| (n.name.clone(), t)).collect())
    }

    /// Fills in what is known; a new skin starts at its metal's temperature.
    fn fill(&self, network: &Network, y: &mut [f64]) {
        let find = |name: &str| self.0.iter().find(|(n, _)| n == name).map(|(_, t)| *t);
        for (node, t) in network.nodes.iter().zip(y) {
            let beneath = || find(&format!("metal:{}", node.name.split_once(':')?.1));
            if let Some(known) = find(&node.name).or_else(beneath) {
                *t = known;
            }
        }
    }
}

/// Solves a build at a point; `start` makes it faster where a like build has been solved.
///
/// # Errors
/// When the build can't be assembled, the solver gives up or a result is not a number.
pub fn solve_at(
    build: &Build,
    at: At,
    start: Option<&Warmth>,
) -> Result<(PointState, Warmth), RunError> {
    let network = assemble(build, Detail { segments: SEGMENTS })?;
    let mut car = Car::new(build, &network);
    let mut y = car.guess(start);
    car.settle_steady(at.steady_demand(build), &mut y)?;
    let warmth = Warmth::of(&network, &y);
    let state = match at.afterwards(build)? {
        None => car.state(&y),
        Some(after) => car.minutes_after(&after, &mut y)?,
    };
    if !state.is_finite() {
        return Err(RunError::NotFinite {
            what: format!("the car at {}", at.name()),
        });
    }
    Ok((state, warmth))
}

struct Car<'a> {
    build: &'a Build,
    network: &'a Network,
    plant: Plant<'a>,
    controller: Controller<'a>,
    point: Option<OperatingPoint>,
    time_s: f64,
    dy: Vec<f64>,
    metal: Vec<Vec<NodeIndex>>,
    skin: Vec<Vec<NodeIndex>>,
    neighbours: Vec<NodeIndex>,
}

impl<'a> Car<'a> {
    fn new(build: &'a Build, network: &'a Network) -> Self {
        let named = |prefix: String| -> Vec<NodeIndex> {
            let nodes = network.nodes.iter().enumerate();
            let own = nodes.filter(|(_, n)| {
                let rest = n.name.strip_prefix(&prefix);
                rest.is_some_and(|r| r.is_empty() || r.starts_with('/'))
            });
            own.map(|(i, _)| i).collect()
        };
        let metal: Vec<_> = build
            .exhaust
            .iter()
            .map(|p| named(format!("metal:{}", p.name)))
            .collect();
        let skin = build.exhaust.iter().zip(&metal).map(|(p, metal)| {
            let skin = named(format!("skin:{}", p.name));
            if skin.is_empty() { metal.clone() } else { skin }
        });
        Self {
            skin: skin.collect(),
            metal,
            neighbours: build
                .neighbours
                .iter()
                .flat_map(|n| named(format!("neighbour:{}", n.name)))
                .collect(),
            build,
            network,
            plant: Plant::new(network),
            controller: Controller::new(build),
            point: None,
            time_s: 0.0,
            dy: vec![0.0; network.states()],
        }
    }

    fn guess(&self, start: Option<&Warmth>) -> Vec<f64> {
        let n = self.network.nodes.len();
        let mut y = vec![0.0; self.network.states()];
        y[..n].fill(self.build.day.ambient_k);
        let roles = &self.network.circuit.roles;
        for node in [roles.block, roles.coolant, roles.radiator, roles.oil] {
            y[node] = self.build.engine.thermostat_full_k;
        }
        if let Some(start) = start {
            start.fill(self.network, &mut y[..n]);
        }
        y
    }

    fn settle(&mut self, (interval, beginning): (&Interval, Beginning), y: &[f64]) {
        self.plant.span_s = (interval.start_s, interval.end_s);
        let ends = (&mut self.plant.from, &mut self.plant.to);
        let tick = (interval, beginning);
        let (point, _) = self.controller.settle(self.network, tick, y, ends);
        self.point = Some(point);
        self.time_s = interval.end_s;
    }

    fn settle_steady(&mut self, demand: Demand, y: &mut [f64]) -> Result<(), RunError> {
        let nodes = self.network.nodes.len();
        let options = SteadyOptions {
            active: nodes,
            ..SteadyOptions::default()
        };
        for _ in 0..ROUNDS {
            let before = y[..nodes].to_vec();
            let interval = Interval {
                start_s: self.time_s,
                end_s: self.time_s + ROUND_S,
                phase: 0,
                from: demand,
                to: demand,
            };
            self.settle((&interval, Beginning::Afresh), y);
            steady(&mut self.plant, y, options)?;
            let moved = y.iter().zip(&before).map(|(a, b)| (a - b).abs());
            if moved.fold(0.0, f64::max) < SETTLED_K {
                break;
            }
        }
        y[nodes..].fill(0.0);
        Ok(())
    }

    fn minutes_after(&mut self, after: &After, y: &mut [f64]) -> Result<PointState, RunError> {
        let tolerance = Tolerance {
            relative: 0.0,
            absolute: TOLERANCE_K,
        };
        let mut integrator = Integrator::new(Method::Rosenbrock, tolerance);
        let shift_s = self.time_s;
        let mut mean = PointState::default();
        let counts = |i: &Interval| i.start_s > after.mean_from_s - 1e-6;
        let used = after.intervals.iter().filter(|i| counts(i));
        let whole_s: f64 = used.map(|i| i.end_s - i.start_s).sum();
        for own in &after.intervals {
            let interval = Interval {
                start_s: own.start_s + shift_s,
                end_s: own.end_s + shift_s,
                ..*own
            };
            self.settle((&interval, Beginning::Continued), y);
            let (from_s, to_s) = self.plant.span_s;
            integrator.advance(&mut self.plant, from_s, to_s, y)?;
            if counts(own) {
                mean.add(&self.state(y), (own.end_s - own.start_s) / whole_s);
            }
        }
        Ok(mean)
    }

    fn state(&mut self, y: &[f64]) -> PointState {
        let (_, end_s) = self.plant.span_s;
        self.plant.rates(end_s, y, &mut self.dy);
        let scalars = self.plant.conditions(end_s).scalars;
        let speeds = self.plant.to.zone_speed_m_s.clone();
        let s = &self.plant.scratch;
        let network = self.network;
        let zone0 = network.circuit.roles.first_zone;
        let mut parts: Vec<PartState> = self
            .metal
            .iter()
            .zip(&self.skin)
            .map(|(metal, skin)| PartState {
                skin_k: mean(skin, y),
                metal_k: mean(metal, y),
                metal_hot_k: metal.iter().map(|&i| y[i]).fold(f64::NAN, f64::max),
                ..PartState::default()
            })
            .collect();
        let booked = |channel| {
            network
                .ledger
                .find(channel)
                .map_or(0.0, |slot| s.books_w[slot])
        };
        let mut bay_heat_w = booked(Channel::RadiatorToAir) + booked(Channel::CoolerToAir);
        for (i, body) in network.bodies.iter().enumerate() {
            let (convected, radiated) = (
                booked(Channel::BodyConvection(i)),
                booked(Channel::BodyRadiation(i)),
            );
            bay_heat_w += convected + radiated;
            let part = self.build.exhaust.iter().position(|p| p.name == *body);
            if let Some(part) = part.and_then(|p| parts.get_mut(p)) {
                (part.convected_w, part.radiated_w) = (convected, radiated);
            }
        }
        self.gas(&scalars, &s.gas, &mut parts);
        let turbine_in_k = network.circuit.turbine().map_or_else(
            || s.gas.in_k.last().copied(),
            |i| s.gas.in_k.get(i).copied(),
        );
        let turbine_in_k = turbine_in_k.unwrap_or(scalars.ambient_k);
        let gas = self.exhaust_gas(&scalars);
        PointState {
            parts,
            car: CarState {
                ambient_k: scalars.ambient_k,
                pickup_k: s.pickup_k,
                sensor_k: y[network.circuit.roles.sensor],
                valve_k: s.air.valve_k,
                turbine_in_k,
                turbine_in_w: scalars.exhaust_kg_s
                    * (gas.enthalpy(turbine_in_k) - gas.enthalpy(scalars.ambient_k)),
                bay_heat_w,
                radiator_w: booked(Channel::RadiatorToAir),
                block_k: y[network.circuit.roles.block],
            },
            zones_k: y[zone0..zone0 + network.circuit.roles.zones].to_vec(),
            zone_speed_m_s: speeds,
            neighbours_k: self.neighbours.iter().map(|&i| y[i]).collect(),
        }
    }

    fn exhaust_gas(&self, scalars: &Scalars) -> ExhaustGas {
        ExhaustGas::new(self.network.circuit.fuel, 1.0 / scalars.phi.max(1e-6))
    }

    /// What the gas does in each part.
    fn gas(&self, scalars: &Scalars, path: &GasPath, parts: &mut [PartState]) {
        let gas = self.exhaust_gas(scalars);
        let day_pa = self.build.day.pressure_pa;
        let manifold_pa = self
            .point
            .map_or(day_pa, |p| p.manifold_pressure_pa.max(day_pa));
        let turbine = self.network.circuit.turbine();
        let mut seen = vec![false; parts.len()];
        for (i, segment) in self.network.circuit.segments.iter().enumerate() {
            let Some(part) = parts.get_mut(segment.part) else {
                continue;
            };
            if !std::mem::replace(&mut seen[segment.part], true) {
                part.gas_k = path.in_k[i];
            }
            part.from_gas_w += path.to_wall_w[i];
            let empty_pipe = !matches!(segment.kind, ExhaustKind::Catalyst | ExhaustKind::Turbine);
            if empty_pipe && scalars.exhaust_kg_s > 0.0 {
                let pressure = if turbine.is_some_and(|t| i <= t) {
                    manifold_pa
                } else {
                    day_pa
                };
                let mean_k = 0.5 * (path.in_k[i] + path.out_k[i]);
                let flow = PipeFlow::of(
                    &Pipe::of(segment),
                    scalars.exhaust_kg_s,
                    &gas,
                    mean_k,
                    pressure,
                );
                part.drop_pa += flow.drop_pa;
                part.gas_speed_m_s = part.gas_speed_m_s.max(flow.speed_m_s);
            }
        }
    }
}

/// Mean over segments by length.
fn mean(nodes: &[NodeIndex], y: &[f64]) -> f64 {
    let weighed = nodes.iter().enumerate();
    weighed
        .map(|(i, &n)| segment_share(i, nodes.len()) * y[n])
        .sum()
}
