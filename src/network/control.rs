//! Control: what the engine, the fan and the air do from one tick to the next.
//!
//! At the start of an interval the controller reads the network as a control unit would, decides
//! on the fan, and settles the drivers at both ends of the interval.

use super::conditions::{Conditions, Scalars};
use super::rates::{Circuit, Network, Scratch};
use super::ventilation::{Airflow, Drive, Ventilation};
use crate::constants::DRY_AIR_GAS_CONSTANT_J_KG_K;
use crate::cycle::{Demand, EngineState, Interval};
use crate::engine::operating::{OperatingPoint, operating_point};
use crate::engine::{WARM_COOLANT_K, compressor};
use crate::number::Number;
use crate::physics::{air, humid_air, radiation};
use crate::sheet::build::{Build, CoolerKind};

/// Share of the radiator's face speed that the fan draws through a cooler in front of it (estimate).
const FAN_DRAW: f64 = 0.7;
/// Road speed over which bay air fades from a top-mounted cooler's supply [m/s] (estimate).
const SCOOP_FADE_M_S: f64 = 4.0;
/// Time in which a zone's draught follows its temperature [s] (estimate).
const DRAUGHT_LAG_S: f64 = 15.0;
/// Passes over charge temperature and air flow at a tick: the coupling is weak (1 % per 3 K).
const CHARGE_PASSES: usize = 3;
/// Charge temperature that moves by less is settled [K]: 1e-5 of the air flow.
const CHARGE_SETTLED_K: f64 = 0.003;
/// Cabin that people keep warm [K]: 20 degC, common practice, no source.
const CABIN_K: f64 = 293.15;

/// Fan and engine state carried from tick to tick.
#[derive(Debug, Clone)]
pub struct Controller<'a> {
    build: &'a Build,
    ventilation: Ventilation,
    airflow: Airflow,
    fan_on: bool,
    /// When the engine was last seen running [s].
    last_running_s: f64,
    stopped_by_start_stop: bool,
    charge_k: f64,
    taken: Vec<f64>,
    scratch: Scratch,
    worst_imbalance_kg_s: f64,
    /// Ambient and effective sky temperature, as found last [K].
    sky_k: (f64, f64),
    /// Zone temperatures that drive the draught, and when they were taken [K, s].
    draught_k: Vec<f64>,
    draught_at_s: f64,
    /// Standing recirculation at both ends of the interval settled last, and when [s, -].
    standing: [(f64, f64); 2],
    /// What is seen of the car at the start of an interval [K].
    zone_k: Vec<f64>,
    coolant_k: f64,
    /// Drivers at the end of the interval that is looked at.
    scalars: Scalars,
    /// Operating points at both ends.
    points: [OperatingPoint; 2],
}

impl<'a> Controller<'a> {
    /// A controller with the fan off.
    pub fn new(build: &'a Build) -> Self {
        Self {
            build,
            ventilation: Ventilation::new(&build.bay),
            airflow: Airflow::default(),
            fan_on: false,
            last_running_s: f64::NEG_INFINITY,
            stopped_by_start_stop: false,
            charge_k: build.day.ambient_k + 10.0,
            taken: Vec::new(),
            scratch: Scratch::default(),
            worst_imbalance_kg_s: 0.0,
            sky_k: (f64::NAN, f64::NAN),
            draught_k: Vec::new(),
            draught_at_s: f64::NEG_INFINITY,
            standing: [(f64::NEG_INFINITY, 0.0); 2],
            zone_k: Vec::new(),
            coolant_k: build.day.ambient_k,
            scalars: Scalars::default(),
            points: [OperatingPoint::default(); 2],
        }
    }

    /// Largest mass imbalance that the ventilation solver has left so far [kg/s].
    pub fn worst_imbalance_kg_s(&self) -> f64 {
        self.worst_imbalance_kg_s
    }

    /// Settles the drivers at both ends of an interval, from the state at its start.
    ///
    /// Returns the operating points at both ends.
    pub fn settle(
        &mut self,
        network: &Network,
        interval: &Interval,
        y: &[f64],
        from: &mut Conditions,
        to: &mut Conditions,
    ) -> (OperatingPoint, OperatingPoint) {
        let mut scratch = std::mem::take(&mut self.scratch);
        let cars = &mut [(&mut *self, network)];
        settle_side_by_side(
            cars,
            &network.circuit,
            interval,
            y,
            (from, to),
            &mut scratch,
        );
        self.scratch = scratch;
        self.points()
    }

    /// Operating points at both ends of the interval settled last.
    pub fn points(&self) -> (OperatingPoint, OperatingPoint) {
        let [from, to] = self.points;
        (from, to)
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

    /// Lets the temperatures that drive the draught follow the zones.
    ///
    /// Warm air has to fill a zone from the top before its column pulls; without the lag the
    /// draught would hunt between ticks.
    fn follow_draught(&mut self, time_s: f64) {
        let passed = time_s - self.draught_at_s;
        let weight = if passed >= 0.0 {
            1.0 - (-passed / DRAUGHT_LAG_S).exp()
        } else {
            1.0
        };
        self.draught_k
            .resize(self.zone_k.len(), self.build.day.ambient_k);
        for (lagged, &now) in self.draught_k.iter_mut().zip(&self.zone_k) {
            *lagged += weight * (now - *lagged);
        }
        self.draught_at_s = time_s;
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

    /// Looks at its car at the start of an interval, lane `lane` of `y`.
    fn look<N: Number>(&mut self, network: &Network, interval: &Interval, y: &[N], lane: usize) {
        let roles = &network.circuit.roles;
        let zones = &y[roles.first_zone..roles.first_zone + roles.zones];
        self.zone_k.clear();
        self.zone_k.extend(zones.iter().map(|k| k.lane(lane)));
        self.coolant_k = y[roles.coolant].lane(lane);
        self.decide_fan(interval);
        self.follow_draught(interval.start_s);
        self.follow_standing(interval);
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

    /// Takes on the charge temperature found; true once it no longer moves.
    fn charge_found(&mut self, charge_k: f64, end: usize) -> bool {
        if !self.points[end].running {
            return true;
        }
        let before = self.charge_k;
        self.charge_k = charge_k;
        let settled = (charge_k - before).abs() < CHARGE_SETTLED_K;
        if settled {
            let point = self.points[end];
            self.apply(&point);
        }
        settled
    }

    /// All that follows once the engine's flows are known.
    fn move_air<N: Number>(
        &mut self,
        network: &Network,
        demand: &Demand,
        out: &mut Conditions<N>,
        lane: usize,
    ) {
        // the engine's pump drives coolant through the heater
        self.scalars.cabin_heater_w_k = self.scalars.running
            * cabin_heater_w_k(self.build.engine.cabin_heater_w_k, self.scalars.ambient_k);
        self.ventilate(network, demand, out, lane);
        self.cool_charge(network);
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

    /// Solves the ventilation network.
    fn ventilate<N: Number>(
        &mut self,
        network: &Network,
        demand: &Demand,
        out: &mut Conditions<N>,
        lane: usize,
    ) {
        let sc = &self.scalars;
        network.taken_from_zones(sc.pickup_standing, sc.air_kg_s, &mut self.taken);
        let drive = Drive {
            speed_m_s: sc.speed_m_s,
            wind_m_s: sc.wind_m_s,
            ambient_k: sc.ambient_k,
            pressure_pa: self.build.day.pressure_pa,
            fan: sc.fan,
            bonnet_open: demand.bonnet_open,
            zone_k: &self.draught_k,
            taken_kg_s: &self.taken,
        };
        self.ventilation.solve(&drive, &mut self.airflow);
        self.worst_imbalance_kg_s = self.worst_imbalance_kg_s.max(self.airflow.imbalance_kg_s);
        let flows = &self.airflow.flow_kg_s;
        out.opening_kg_s.resize(flows.len(), N::default());
        for (all, &own) in out.opening_kg_s.iter_mut().zip(flows) {
            all.set_lane(lane, own);
        }
        out.zone_speed_m_s.resize(self.zone_k.len(), N::default());
        for (zone, settings) in self.build.bay.zones.iter().enumerate() {
            let into: f64 = network
                .openings
                .iter()
                .zip(flows)
                .map(|(o, &m)| match (o.from == Some(zone), o.to == Some(zone)) {
                    (false, true) => m.max(0.0),
                    (true, false) => (-m).max(0.0),
                    _ => 0.0,
                })
                .sum();
            let density = air::density(self.zone_k[zone], self.build.day.pressure_pa);
            out.zone_speed_m_s[zone].set_lane(lane, into / (density * settings.flow_area_m2));
        }
    }

    /// Cooling air of the charge cooler.
    fn cool_charge(&mut self, network: &Network) {
        let Some(cooler) = &self.build.intake.cooler else {
            return;
        };
        let sc = &mut self.scalars;
        let density = self.build.day.pressure_pa / (DRY_AIR_GAS_CONSTANT_J_KG_K * sc.ambient_k);
        let drawn = self.airflow.flow_kg_s[network.circuit.radiator.opening].max(0.0);
        let radiator_face = drawn / (density * self.build.bay.radiator.face_m2);
        let fan = if network
            .circuit
            .cooling
            .as_ref()
            .is_some_and(|c| c.kind == CoolerKind::Top)
        {
            0.0
        } else {
            FAN_DRAW * sc.fan * radiator_face
        };
        let ram = cooler.ram_share * sc.speed_m_s;
        let face = (ram * ram + fan * fan + cooler.still_air_m_s.powi(2)).sqrt();
        sc.cooler_air_kg_s = density * cooler.face_m2 * face;
        sc.cooler_bay_share = match cooler.kind {
            CoolerKind::Top => cooler.bay_air_share * (-sc.speed_m_s / SCOOP_FADE_M_S).exp(),
            CoolerKind::Front | CoolerKind::Water => 1.0,
        };
        sc.cooler_pump = sc.running;
    }
}

/// Settles the drivers of cars side by side at both ends of an interval, from the state at its start: each controller
/// decides for its own car, the streams are found for all of them at once.
///
/// # Arguments
/// - `cars`: one for each lane; the last of them again in lanes that are left over
/// - `circuit`: theirs, `y` their states
pub fn settle_side_by_side<N: Number>(
    cars: &mut [(&mut Controller, &Network)],
    circuit: &Circuit<N>,
    interval: &Interval,
    y: &[N],
    (from, to): (&mut Conditions<N>, &mut Conditions<N>),
    scratch: &mut Scratch<N>,
) {
    for (lane, (car, network)) in cars.iter_mut().enumerate() {
        car.look(network, interval, y, lane);
        // pressures have moved so far as they did in the interval before
        car.scalars.plenum_rate_pa_s = from.scalars.plenum_rate_pa_s.lane(lane);
        car.scalars.boost_rate_pa_s = from.scalars.boost_rate_pa_s.lane(lane);
    }
    for (end, demand, out) in [(0, &interval.from, &mut *from), (1, &interval.to, &mut *to)] {
        settle_end(cars, circuit, (end, demand), y, out, scratch);
    }
    for (car, _) in cars.iter_mut() {
        car.pressure_rates(interval);
    }
    for lane in 0..N::LANES {
        let sc = &cars[lane.min(cars.len() - 1)].0.scalars;
        for c in [&mut *from, &mut *to] {
            c.scalars
                .plenum_rate_pa_s
                .set_lane(lane, sc.plenum_rate_pa_s);
            c.scalars.boost_rate_pa_s.set_lane(lane, sc.boost_rate_pa_s);
        }
    }
}

/// Drivers at one end of an interval.
fn settle_end<N: Number>(
    cars: &mut [(&mut Controller, &Network)],
    circuit: &Circuit<N>,
    (end, demand): (usize, &Demand),
    y: &[N],
    out: &mut Conditions<N>,
    scratch: &mut Scratch<N>,
) {
    for (car, _) in cars.iter_mut() {
        car.face(demand, end);
    }
    for _ in 0..CHARGE_PASSES {
        if !cars.iter().any(|(car, _)| car.points[end].running) {
            break;
        }
        hand_over(cars, out);
        circuit.load(out, y, scratch);
        let charge_k = circuit.charge_at_valve(out, scratch);
        let mut settled = true;
        for (lane, (car, _)) in cars.iter_mut().enumerate() {
            if !car.charge_found(charge_k.lane(lane), end) {
                settled = false;
                car.ask_engine(demand, end);
            }
        }
        if settled {
            break;
        }
    }
    for (lane, (car, network)) in cars.iter_mut().enumerate() {
        car.move_air(network, demand, out, lane);
    }
    let last = cars.len() - 1;
    for lane in cars.len()..N::LANES {
        for all in out.opening_kg_s.iter_mut().chain(&mut out.zone_speed_m_s) {
            all.set_lane(lane, all.lane(last));
        }
    }
    hand_over(cars, out);
    circuit.settle_transfer(out, y, scratch);
}

/// Puts the drivers of each car into its lane.
fn hand_over<N: Number>(cars: &[(&mut Controller, &Network)], out: &mut Conditions<N>) {
    for lane in 0..N::LANES {
        let (car, _) = &cars[lane.min(cars.len() - 1)];
        out.scalars.set_lane(lane, &car.scalars);
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
