//! Control: what the engine, the fan and the air do from one tick to the next.
//!
//! At the start of an interval the controller reads the network as a control unit would, decides
//! on the fan, and settles the drivers at both ends of the interval.

use super::conditions::Conditions;
use super::rates::{Network, Scratch};
use super::ventilation::{Airflow, Drive, Ventilation};
use crate::constants::DRY_AIR_GAS_CONSTANT_J_KG_K;
use crate::cycle::{Demand, EngineState, Interval};
use crate::engine::operating::{OperatingPoint, operating_point};
use crate::engine::{WARM_COOLANT_K, compressor};
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
        self.decide_fan(network, interval, y);
        self.follow_draught(network, interval.start_s, y);
        self.follow_standing(interval);
        let [(_, before), (_, after)] = self.standing;
        let a = self.at(network, &interval.from, before, y, from);
        let b = self.at(network, &interval.to, after, y, to);
        self.pressure_rates(interval, (&a, &b), from, to);
        (a, b)
    }

    /// Pressures in the charge system move in a straight line from one end to the other.
    fn pressure_rates(
        &self,
        interval: &Interval,
        (a, b): (&OperatingPoint, &OperatingPoint),
        from: &mut Conditions,
        to: &mut Conditions,
    ) {
        let seconds = interval.end_s - interval.start_s;
        let moves = a.running && b.running && seconds > 0.0;
        let (before, after) = (a.manifold_pressure_pa, b.manifold_pressure_pa);
        let plenum = if moves {
            (after - before) / seconds
        } else {
            0.0
        };
        // ahead of a throttle the charge never falls below the outside
        let outside = self.build.day.pressure_pa;
        let boost = match &self.build.turbo {
            Some(_) if moves => (after.max(outside) - before.max(outside)) / seconds,
            _ => 0.0,
        };
        for c in [from, to] {
            c.scalars.plenum_rate_pa_s = plenum;
            c.scalars.boost_rate_pa_s = boost;
        }
    }

    fn decide_fan(&mut self, network: &Network, interval: &Interval, y: &[f64]) {
        let coolant_k = y[network.roles.coolant];
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
    fn follow_draught(&mut self, network: &Network, time_s: f64, y: &[f64]) {
        let zone0 = network.roles.first_zone;
        let zones = &y[zone0..zone0 + network.roles.zones];
        let passed = time_s - self.draught_at_s;
        let weight = if passed >= 0.0 {
            1.0 - (-passed / DRAUGHT_LAG_S).exp()
        } else {
            1.0
        };
        self.draught_k.resize(zones.len(), self.build.day.ambient_k);
        for (lagged, &now) in self.draught_k.iter_mut().zip(zones) {
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

    /// Drivers at one instant; `standing`: share of standing recirculation that is there.
    fn at(
        &mut self,
        network: &Network,
        demand: &Demand,
        standing: f64,
        y: &[f64],
        out: &mut Conditions,
    ) -> OperatingPoint {
        let build = self.build;
        let day = &build.day;
        let ambient_k = demand.ambient_k.unwrap_or(day.ambient_k);
        let wind = demand.wind_m_s.unwrap_or(day.wind_m_s);
        let speed = demand.speed_m_s;
        let mut demand = *demand;
        if self.stopped_by_start_stop {
            demand.engine = EngineState::Off;
        }
        if self.sky_k.0 != ambient_k {
            self.sky_k = (ambient_k, sky_temperature(ambient_k, day.humidity));
        }
        let sc = &mut out.scalars;
        sc.speed_m_s = speed;
        sc.wind_m_s = wind;
        sc.ambient_k = ambient_k;
        sc.sky_k = self.sky_k.1;
        sc.road_k = ambient_k + day.road_over_ambient_k;
        sc.cabin_k = ambient_k.max(295.0);
        sc.recirculation = build.bay.standing_recirculation * standing;
        sc.pickup_standing = build.intake.pickup_standing_share * standing;
        sc.fan = f64::from(self.fan_on);
        let coolant_k = y[network.roles.coolant];
        let mut point = operating_point(build, &demand, self.charge_k, coolant_k);
        for _ in 0..CHARGE_PASSES {
            self.apply(&point, out);
            if !point.running {
                break;
            }
            network.load(out, y, &mut self.scratch);
            let before = self.charge_k;
            self.charge_k = network.charge_at_valve(out, &mut self.scratch);
            if (self.charge_k - before).abs() < CHARGE_SETTLED_K {
                break;
            }
            point = operating_point(build, &demand, self.charge_k, coolant_k);
        }
        self.apply(&point, out);
        // the engine's pump drives coolant through the heater
        out.scalars.cabin_heater_w_k =
            out.scalars.running * cabin_heater_w_k(build.engine.cabin_heater_w_k, ambient_k);
        self.ventilate(network, &demand, y, out);
        self.cool_charge(network, out);
        network.settle_transfer(out, y, &mut self.scratch);
        point
    }

    /// Copies an operating point into the drivers.
    fn apply(&self, point: &OperatingPoint, out: &mut Conditions) {
        let sc = &mut out.scalars;
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
    fn ventilate(&mut self, network: &Network, demand: &Demand, y: &[f64], out: &mut Conditions) {
        let zone0 = network.roles.first_zone;
        let zone_k = &y[zone0..zone0 + network.roles.zones];
        let sc = &out.scalars;
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
        out.opening_kg_s.clone_from(&self.airflow.flow_kg_s);
        out.zone_speed_m_s.clear();
        for (zone, settings) in self.build.bay.zones.iter().enumerate() {
            let into: f64 = network
                .openings
                .iter()
                .zip(&out.opening_kg_s)
                .map(|(o, &m)| match (o.from == Some(zone), o.to == Some(zone)) {
                    (false, true) => m.max(0.0),
                    (true, false) => (-m).max(0.0),
                    _ => 0.0,
                })
                .sum();
            let density = air::density(zone_k[zone], self.build.day.pressure_pa);
            out.zone_speed_m_s
                .push(into / (density * settings.flow_area_m2));
        }
    }

    /// Cooling air of the charge cooler.
    fn cool_charge(&self, network: &Network, out: &mut Conditions) {
        let Some(cooler) = &self.build.intake.cooler else {
            return;
        };
        let sc = &mut out.scalars;
        let density = self.build.day.pressure_pa / (DRY_AIR_GAS_CONSTANT_J_KG_K * sc.ambient_k);
        let drawn = out.opening_kg_s[network.radiator.opening].max(0.0);
        let radiator_face = drawn / (density * self.build.bay.radiator.face_m2);
        let fan = if network
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
