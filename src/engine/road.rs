//! Road load and gear.

use std::f64::consts::PI;

use super::full_load::full_load_torque;
use crate::constants::{DRY_AIR_GAS_CONSTANT_J_KG_K, GRAVITY_M_S2};
use crate::cycle::Demand;
use crate::sheet::build::Build;

/// Wheels, shafts and engine add this share to the mass that is accelerated (common practice, no
/// source; 3 to 6 % in vehicle dynamics texts).
const ROTATING_SHARE: f64 = 0.04;
/// Torque kept in hand when a driver stays in a gear (estimate).
const RESERVE: f64 = 1.15;
/// Lowest engine speed that a driver lugs along: petrol, diesel [rpm] (estimate).
const LOWEST_RPM: (f64, f64) = (1400.0, 1250.0);

/// Radians per second in one revolution per minute.
pub const RAD_S_PER_RPM: f64 = PI / 30.0;

/// Engine speed and brake power that the road asks for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RoadLoad {
    /// Engine speed [rpm].
    pub rpm: f64,
    /// Brake power; negative when the car drives the engine [W].
    pub power_w: f64,
}

/// Power at the wheels [W]: inertia, grade, rolling and air drag.
pub fn wheel_power_w(build: &Build, demand: &Demand, ambient_k: f64) -> f64 {
    let car = &build.car;
    let v = demand.speed_m_s;
    let density = build.day.pressure_pa / (DRY_AIR_GAS_CONSTANT_J_KG_K * ambient_k);
    let air_speed = v + demand.wind_m_s.unwrap_or(0.0);
    let slope = demand.grade.atan();
    let force = car.mass_kg * (1.0 + ROTATING_SHARE) * demand.acceleration_m_s2
        + car.mass_kg * GRAVITY_M_S2 * (slope.sin() + car.rolling_resistance * slope.cos())
        + 0.5 * density * car.drag_area_m2 * air_speed * air_speed.abs();
    force * v
}

/// Engine speed and power for a demand under road load.
///
/// The highest gear that turns the engine fast enough and leaves some torque in hand; a pure
/// function of the demand, without memory. Below the idle speed of first gear the clutch slips.
pub fn road_load(build: &Build, demand: &Demand, idle_rpm: f64, ambient_k: f64) -> RoadLoad {
    let wheel = wheel_power_w(build, demand, ambient_k);
    let efficiency = build.car.driveline_efficiency;
    let power_w = if wheel > 0.0 {
        wheel / efficiency
    } else {
        wheel * efficiency
    };
    let rpm = demand
        .rpm
        .unwrap_or_else(|| gear_rpm(build, demand.speed_m_s, power_w, idle_rpm));
    RoadLoad {
        rpm: rpm.clamp(idle_rpm, build.engine.redline_rpm.max(idle_rpm)),
        power_w,
    }
}

fn gear_rpm(build: &Build, speed_m_s: f64, power_w: f64, idle_rpm: f64) -> f64 {
    let engine = &build.engine;
    let lowest = if engine.diesel {
        LOWEST_RPM.1
    } else {
        LOWEST_RPM.0
    };
    let gears = &build.car.gear_m_s_per_rpm;
    for (gear, per_rpm) in gears.iter().enumerate().rev() {
        let rpm = speed_m_s / per_rpm;
        let can = full_load_torque(engine, rpm) * rpm * RAD_S_PER_RPM;
        if rpm >= lowest && rpm <= engine.redline_rpm && can >= RESERVE * power_w {
            return rpm;
        }
        if gear == 0 {
            break;
        }
    }
    // no gear does: the lowest that does not over-rev
    gears
        .iter()
        .map(|per_rpm| speed_m_s / per_rpm)
        .find(|rpm| *rpm <= engine.redline_rpm)
        .unwrap_or(engine.redline_rpm)
        .max(idle_rpm)
}
