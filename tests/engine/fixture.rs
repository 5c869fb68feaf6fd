//! Builds, demands and the port gas temperature, shared by the files of this test.

use baysoak::cycle::{Demand, EngineState, Load};
use baysoak::engine::operating::{OperatingPoint, operating_point};
use baysoak::physics::air;
use baysoak::physics::exhaust_gas::ExhaustGas;
use baysoak::sheet::build::Build;
use baysoak::sheet::{Chooser, builtin};

/// Warm coolant and a usual charge [K].
pub const WARM_K: f64 = 363.15;
pub const CHARGE_K: f64 = 308.15;

pub fn built_in(name: &str) -> Build {
    let sheet = builtin(name).expect("a built-in sheet parses");
    sheet
        .settle(&mut Chooser::Likely)
        .expect("a built-in sheet settles")
        .build
}

pub fn demo() -> Build {
    built_in("demo")
}

pub fn diesel() -> Build {
    built_in("tow-diesel")
}

/// Naturally aspirated 1.6: the demo without its turbocharger, at a rating usual for that.
pub fn na() -> Build {
    let mut build = demo();
    build.title = "1.6 naturally aspirated".into();
    build.turbo = None;
    build.intake.cooler = None;
    let engine = &mut build.engine;
    engine.power_w = 85e3;
    engine.power_rpm = 6000.0;
    engine.torque_nm = 152.0;
    engine.torque_rpm = 4200.0;
    build
}

/// Naturally aspirated eight: engine figures of the built-in V8 in the demo's car.
pub fn eight() -> Build {
    let mut build = na();
    build.title = "4.0 naturally aspirated, eight cylinders".into();
    let engine = &mut build.engine;
    engine.displacement_m3 = 4.0e-3;
    engine.cylinders = 8;
    engine.bore_m = 0.092;
    engine.power_w = 295e3;
    engine.power_rpm = 7600.0;
    engine.torque_nm = 405.0;
    engine.torque_rpm = 4800.0;
    engine.idle_rpm = 850.0;
    engine.redline_rpm = 8200.0;
    build
}

pub fn all() -> Vec<Build> {
    vec![demo(), diesel(), na(), eight(), built_in("v8")]
}

pub fn demand(speed_kmh: f64, load: Load) -> Demand {
    Demand {
        speed_m_s: speed_kmh / 3.6,
        acceleration_m_s2: 0.0,
        grade: 0.0,
        rpm: None,
        load,
        engine: EngineState::Running,
        bonnet_open: false,
        coolant_k: None,
        ambient_k: None,
        wind_m_s: None,
        manifold_pa: None,
        filter_burning: false,
    }
}

pub fn at_rpm(rpm: f64, load: Load) -> Demand {
    Demand {
        rpm: Some(rpm),
        ..demand(rpm / 1000.0 * 30.0, load)
    }
}

pub fn warm(build: &Build, demand: &Demand) -> OperatingPoint {
    operating_point(build, demand, CHARGE_K, WARM_K)
}

/// Gas at the exhaust port [K], from the heat over the charge's own enthalpy.
pub fn port_gas_k(build: &Build, p: &OperatingPoint, charge_k: f64) -> f64 {
    let lambda = if p.fuel_cut { f64::INFINITY } else { p.lambda };
    let h = (p.gas_heat_w + p.air_flow_kg_s * air::enthalpy(charge_k)) / p.exhaust_flow_kg_s;
    ExhaustGas::new(build.engine.fuel, lambda).temperature_from_enthalpy(h)
}
