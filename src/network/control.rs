//! Control: what the engine, the fan and the air do from one tick to the next.
//!
//! At the start of an interval the controller reads the network as a control unit would, decides
//! on the fan, and settles the drivers at both ends of the interval.

use super::bay_air::BayAir;
use super::conditions::{Conditions, Scalars};
use super::rates::{Circuit, Network, Scratch};
use crate::cycle::{Demand, EngineState, Interval};
use crate::engine::operating::{OperatingPoint, operating_point};
use crate::engine::{WARM_COOLANT_K, compressor};
use crate::number::{Lanes, Number};
use crate::physics::{humid_air, radiation};
use crate::sheet::build::Build;

/// Passes over charge temperature and air flow at a tick: the coupling is weak (1 % per 3 K).
const CHARGE_PASSES: usize = 3;
/// Charge temperature that moves by less is settled [K]: 3e-4 of the air flow.
const CHARGE_SETTLED_K: f64 = 0.1;
/// Cabin that people keep warm [K]: 20 degC, common practice, no source.
const CABIN_K: f64 = 293.15;

/// How the start of an interval is settled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Beginning {
    /// From the state there.
    Afresh,
    /// As the interval before has left it, unless something jumps where the two meet: a demand, a fan, start-stop. Transfer
    /// then follows the temperatures an interval later, as it does at the interval's end.
    Continued,
}

/// Settles what drives a network from tick to tick.
#[derive(Debug, Clone)]
pub struct Controller<'a> {
    unit: ControlUnit<'a>,
    air: BayAir,
    scratch: Scratch,
}

impl<'a> Controller<'a> {
    /// A controller with the fan off.
    pub fn new(build: &'a Build) -> Self {
        Self {
            unit: ControlUnit::new(build),
            air: BayAir::new(&build.bay),
            scratch: Scratch::default(),
        }
    }

    /// Settles the drivers at both ends of an interval, from the state at its start.
    ///
    /// `ends`: drivers at both ends; where it is continued, they are still those of the interval before.
    /// Returns the operating points at both ends.
    pub fn settle(
        &mut self,
        network: &Network,
        (interval, beginning): (&Interval, Beginning),
        y: &[f64],
        ends: (&mut Conditions, &mut Conditions),
    ) -> (OperatingPoint, OperatingPoint) {
        let units = &mut [&mut self.unit];
        let (interval, work) = ((interval, beginning), (&mut self.air, &mut self.scratch));
        settle_side_by_side(units, &network.circuit, interval, y, ends, work);
        self.points()
    }

    /// Operating points at both ends of the interval settled last.
    pub fn points(&self) -> (OperatingPoint, OperatingPoint) {
        let [from, to] = self.unit.points;
        (from, to)
    }

    /// Largest mass imbalance that the ventilation solver has left so far [kg/s].
    pub fn worst_imbalance_kg_s(&self) -> f64 {
        self.unit.worst_imbalance_kg_s
    }

    /// What decides.
    pub fn unit(&mut self) -> &mut ControlUnit<'a> {
        &mut self.unit
    }

    /// The air in the bay.
    pub fn air(&self) -> &BayAir {
        &self.air
    }

    /// Takes over the air in a lane.
    pub fn take_air(&mut self, of: &BayAir<Lanes>, lane: usize) {
        self.air.take_lane(of, lane);
    }
}

/// What decides on fan and engine, and its state carried from tick to tick.
#[derive(Debug, Clone)]
pub struct ControlUnit<'a> {
    build: &'a Build,
    fan_on: bool,
    /// When the engine was last seen running [s].
    last_running_s: f64,
    stopped_by_start_stop: bool,
    charge_k: f64,
    worst_imbalance_kg_s: f64,
    /// Ambient and effective sky temperature, as found last [K].
    sky_k: (f64, f64),
    /// Standing recirculation at both ends of the interval settled last, and when [s, -].
    standing: [(f64, f64); 2],
    /// What is seen of the car at the start of an interval [K].
    coolant_k: f64,
    /// Drivers at the end of the interval that is looked at.
    scalars: Scalars,
    /// Operating points at both ends.
    points: [OperatingPoint; 2],
    /// The end of the interval settled last, where the next may go on from it.
    left: Option<Left>,
}

/// What an interval ends with.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Left {
    time_s: f64,
    demand: Demand,
    fan_on: bool,
    stopped_by_start_stop: bool,
}

impl<'a> ControlUnit<'a> {
    fn new(build: &'a Build) -> Self {
        Self {
            build,
            fan_on: false,
            last_running_s: f64::NEG_INFINITY,
            stopped_by_start_stop: false,
            charge_k: build.day.ambient_k + 10.0,
            worst_imbalance_kg_s: 0.0,
            sky_k: (f64::NAN, f64::NAN),
            standing: [(f64::NEG_INFINITY, 0.0); 2],
            coolant_k: build.day.ambient_k,
            scalars: Scalars::default(),
            points: [OperatingPoint::default(); 2],
            left: None,
        }
    }

    /// Pressures in the charge system move in a straight line from one end to the other.
    fn pressure_rates(&mut self, interval: &Interval) {
        let [a, b] = &self.points;
        let seconds = interval.end_s - interval.start_s;
        let moves = a.running && b.running && seconds > 0.0;
        let (before, after) = (a.manifold_pressure_pa, b.manifold_pressure_pa);
        self.scalars.plenum_rate_pa_s = if moves {
            (after - before) / seconds
        } else {
            0.0
        };
        // ahead of a throttle the charge never falls below the outside
        let outside = self.build.day.pressure_pa;
        self.scalars.boost_rate_pa_s = match &self.build.turbo {
            Some(_) if moves => (after.max(outside) - before.max(outside)) / seconds,
            _ => 0.0,
        };
    }

    fn decide_fan(&mut self, interval: &Interval) {
        let coolant_k = self.coolant_k;
        let fan = &self.build.bay.fan;
        let running = interval.from.engine == EngineState::Running;
        if running {
            self.last_running_s = interval.start_s;
        }
        if coolant_k > fan.on_k {
            self.fan_on = true;
        } else if coolant_k < fan.off_k {
            self.fan_on = false;
        }
        let run_on_over = !running && interval.start_s - self.last_running_s > fan.run_on_s;
        if run_on_over {
            self.fan_on = false;
        }
        let standing = interval.from.speed_m_s < 0.1 && interval.to.speed_m_s < 0.1;
        self.stopped_by_start_stop =
            self.build.engine.stop_start && running && standing && coolant_k > fan.off_k - 20.0;
    }

    /// How far hot air gathers at grille and pickup as on a car that stands [0 to 1], at both ends of an
    /// interval: it follows the road speed with a lag, as air and what it has warmed must clear first.
    fn follow_standing(&mut self, interval: &Interval) {
        let bay = &self.build.bay;
        let aim = |d: &Demand| (-d.speed_m_s / bay.recirculation_fade_m_s).exp();
        let (from, to) = (aim(&interval.from), aim(&interval.to));
        let known = self.standing.iter().find(|s| s.0 == interval.start_s);
        let lag_s = bay.recirculation_lag_s;
        let (before, after) = if lag_s > 0.0 {
            let before = known.map_or(from, |s| s.1);
            let left = (-(interval.end_s - interval.start_s) / lag_s).exp();
            let mean = 0.5 * (from + to);
            (before, mean + (before - mean) * left)
        } else {
            (from, to)
        };
        self.standing = [(interval.start_s, before), (interval.end_s, after)];
    }

    /// Looks at its car at the start of an interval.
    fn look(&mut self, interval: &Interval, coolant_k: f64) {
        self.coolant_k = coolant_k;
        self.decide_fan(interval);
        self.follow_standing(interval);
    }

    /// Whether an interval begins as the one before has ended; call [`Self::look`] before.
    fn goes_on(&self, interval: &Interval) -> bool {
        self.left == Some(self.at(interval.start_s, &interval.from))
    }

    fn at(&self, time_s: f64, demand: &Demand) -> Left {
        Left {
            time_s,
            demand: *demand,
            fan_on: self.fan_on,
            stopped_by_start_stop: self.stopped_by_start_stop,
        }
    }

    /// Weather and driver at one end of an interval, and the engine's answer.
    fn face(&mut self, demand: &Demand, end: usize) {
        let build = self.build;
        let day = &build.day;
        let standing = self.standing[end].1;
        let ambient_k = demand.ambient_k.unwrap_or(day.ambient_k);
        if self.sky_k.0 != ambient_k {
            self.sky_k = (ambient_k, sky_temperature(ambient_k, day.humidity));
        }
        let sc = &mut self.scalars;
        sc.speed_m_s = demand.speed_m_s;
        sc.wind_m_s = demand.wind_m_s.unwrap_or(day.wind_m_s);
        sc.ambient_k = ambient_k;
        sc.sky_k = self.sky_k.1;
        sc.road_k = ambient_k + day.road_over_ambient_k;
        sc.cabin_k = ambient_k.max(295.0);
        sc.recirculation = build.bay.standing_recirculation * standing;
        sc.pickup_standing = build.intake.pickup_standing_share * standing;
        sc.fan = f64::from(self.fan_on);
        self.ask_engine(demand, end);
        // the engine's pump drives coolant through the heater
        self.scalars.cabin_heater_w_k =
            self.scalars.running * cabin_heater_w_k(build.engine.cabin_heater_w_k, ambient_k);
    }

    /// Operating point at the charge temperature that is known.
    fn ask_engine(&mut self, demand: &Demand, end: usize) {
        let mut demand = *demand;
        if self.stopped_by_start_stop {
            demand.engine = EngineState::Off;
        }
        let point = operating_point(self.build, &demand, self.charge_k, self.coolant_k);
        self.points[end] = point;
        self.apply(&point);
    }

    /// Takes on the charge temperature found; true once it no longer moves. What is settled stays as it is, also where cars
    /// beside this one need further passes.
    fn charge_found(&mut self, charge_k: f64, end: usize) -> bool {
        if !self.points[end].running {
            return true;
        }
        let before = std::mem::replace(&mut self.charge_k, charge_k);
        (charge_k - before).abs() < CHARGE_SETTLED_K
    }

    /// Copies an operating point into the drivers.
    fn apply(&mut self, point: &OperatingPoint) {
        let sc = &mut self.scalars;
        sc.rpm = point.rpm;
        sc.running = f64::from(point.running);
        sc.air_kg_s = point.air_flow_kg_s;
        sc.exhaust_kg_s = point.exhaust_flow_kg_s;
        sc.phi = if point.fuel_flow_kg_s > 0.0 {
            1.0 / point.lambda
        } else {
            0.0
        };
        sc.fuel_w = point.fuel_power_w;
        sc.brake_w = point.delivered_w();
        sc.motoring_w = point.motoring_w;
        sc.cylinder_heat_w = point.cylinder_heat_w;
        sc.friction_w = point.friction_w;
        sc.unburnt_w = point.unburnt_w;
        sc.gas_heat_w = point.gas_heat_w;
        // burning what is left needs oxygen: none on the rich side
        sc.catalyst_burn = ((point.lambda - 0.98) / 0.02).clamp(0.0, 1.0);
        sc.compression_rise = match &self.build.turbo {
            Some(turbo) if point.running => compressor::temperature_rise_ratio(
                point.compressor_pressure_ratio,
                turbo.compressor_efficiency,
                self.charge_k,
            ),
            _ => 0.0,
        };
    }
}

/// Settles the drivers of cars side by side at both ends of an interval, from the state at its start: each control unit
/// decides for its own car, the streams are found for all of them at once.
///
/// # Arguments
/// - `units`: one for each lane; the last of them again in lanes that are left over
/// - `circuit`, `air`: theirs, `y` their states
/// - `from`, `to`: as in [`Controller::settle`]
pub fn settle_side_by_side<N: Number>(
    units: &mut [&mut ControlUnit],
    circuit: &Circuit<N>,
    (interval, beginning): (&Interval, Beginning),
    y: &[N],
    (from, to): (&mut Conditions<N>, &mut Conditions<N>),
    (air, scratch): (&mut BayAir<N>, &mut Scratch<N>),
) {
    let roles = &circuit.roles;
    for (lane, unit) in units.iter_mut().enumerate() {
        unit.look(interval, y[roles.coolant].lane(lane));
        // pressures have moved so far as they did in the interval before
        unit.scalars.plenum_rate_pa_s = from.scalars.plenum_rate_pa_s.lane(lane);
        unit.scalars.boost_rate_pa_s = from.scalars.boost_rate_pa_s.lane(lane);
    }
    let zones = &y[roles.first_zone..roles.first_zone + roles.zones];
    air.follow(interval.start_s, zones);
    let continued = beginning == Beginning::Continued && units.iter().all(|u| u.goes_on(interval));
    if continued {
        std::mem::swap(from, to);
        units.iter_mut().for_each(|u| u.points[0] = u.points[1]);
    }
    let ends = [(0, &interval.from, &mut *from), (1, &interval.to, &mut *to)];
    for (end, demand, out) in ends.into_iter().skip(usize::from(continued)) {
        settle_engine(units, circuit, (end, demand), y, out, scratch);
        air.settle(circuit, demand.bonnet_open, zones, out);
        circuit.draw_cooling_air(out);
        circuit.settle_transfer(out, scratch);
        for (lane, unit) in units.iter_mut().enumerate() {
            let left_kg_s = air.imbalance_kg_s().lane(lane);
            unit.worst_imbalance_kg_s = unit.worst_imbalance_kg_s.max(left_kg_s);
        }
    }
    for unit in units.iter_mut() {
        unit.pressure_rates(interval);
        let left = unit.at(interval.end_s, &interval.to);
        unit.left = (beginning == Beginning::Continued).then_some(left);
    }
    for lane in 0..N::LANES {
        let sc = &units[lane.min(units.len() - 1)].scalars;
        for c in [&mut *from, &mut *to] {
            c.scalars
                .plenum_rate_pa_s
                .set_lane(lane, sc.plenum_rate_pa_s);
            c.scalars.boost_rate_pa_s.set_lane(lane, sc.boost_rate_pa_s);
        }
    }
}

/// Weather, driver and engine at one end of an interval, and the intake air that goes with them.
fn settle_engine<N: Number>(
    units: &mut [&mut ControlUnit],
    circuit: &Circuit<N>,
    (end, demand): (usize, &Demand),
    y: &[N],
    out: &mut Conditions<N>,
    scratch: &mut Scratch<N>,
) {
    for unit in units.iter_mut() {
        unit.face(demand, end);
    }
    hand_over(units, out);
    circuit.load(out, y, scratch);
    for pass in 0.. {
        let charge_k = circuit.charge_at_valve(out, scratch);
        let mut settled = true;
        for (lane, unit) in units.iter_mut().enumerate() {
            if pass < CHARGE_PASSES && !unit.charge_found(charge_k.lane(lane), end) {
                settled = false;
                unit.ask_engine(demand, end);
            }
        }
        hand_over(units, out);
        if settled {
            break;
        }
    }
}

/// Puts the drivers of each car into its lane.
fn hand_over<N: Number>(units: &[&mut ControlUnit], out: &mut Conditions<N>) {
    for lane in 0..N::LANES {
        let unit = &units[lane.min(units.len() - 1)];
        out.scalars.set_lane(lane, &unit.scalars);
    }
}

/// Effective sky temperature with the humidity of the day.
fn sky_temperature(ambient_k: f64, humidity: f64) -> f64 {
    let dew_k = humid_air::dew_point(ambient_k, humidity);
    radiation::sky_temperature(ambient_k, dew_k)
}

/// Coolant to the fresh air for the cabin [W/K]: a warm engine gives `per_cold_w_k` for each kelvin that it is colder
/// outside than people like it inside, a cool one less.
fn cabin_heater_w_k(per_cold_w_k: f64, ambient_k: f64) -> f64 {
    per_cold_w_k * (CABIN_K - ambient_k).max(0.0) / (WARM_COOLANT_K - ambient_k.min(CABIN_K))
}
