use baysoak::cycle::*;
use baysoak::engine::operating::*;
use baysoak::physics::{air, exhaust_gas::ExhaustGas};
use baysoak::sheet::*;
fn main() {
    for n in ["demo", "v8", "tow-diesel"] {
        let b = baysoak::sheet::builtin(n)
            .unwrap()
            .settle(&mut Chooser::Likely)
            .unwrap()
            .build;
        println!("== {n} disp {:.2} l", b.engine.displacement_m3 * 1e3);
        let d = |v: f64, load, rpm| Demand {
            speed_m_s: v / 3.6,
            acceleration_m_s2: 0.0,
            grade: 0.0,
            rpm,
            load,
            engine: EngineState::Running,
            bonnet_open: false,
            coolant_k: None,
            ambient_k: None,
            wind_m_s: None,
        };
        let vd = b.engine.displacement_m3;
        let bm = |bar: f64, rpm: f64| bar * 1e5 * vd * rpm / 120.0;
        for (what, dem) in [
            ("idle", d(0.0, Load::Road, None)),
            ("50", d(50.0, Load::Road, None)),
            ("80", d(80.0, Load::Road, None)),
            ("100", d(100.0, Load::Road, None)),
            ("130", d(130.0, Load::Road, None)),
            (
                "2000/2bar",
                d(60.0, Load::Power(bm(2.0, 2000.0)), Some(2000.0)),
            ),
            ("2500/full", d(60.0, Load::FullLoadShare(1.0), Some(2500.0))),
            (
                "rated",
                d(180.0, Load::FullLoadShare(1.0), Some(b.engine.power_rpm)),
            ),
            (
                "overrun",
                Demand {
                    acceleration_m_s2: -1.5,
                    ..d(80.0, Load::Road, None)
                },
            ),
        ] {
            let t0 = if b.turbo.is_some() { 313.0 } else { 308.0 };
            let o = operating_point(&b, &dem, t0, 366.0);
            let g = ExhaustGas::new(
                b.engine.fuel,
                if o.fuel_flow_kg_s > 0.0 {
                    o.lambda
                } else {
                    1e6
                },
            );
            let tp = g.temperature_from_enthalpy(
                (o.gas_heat_w + o.air_flow_kg_s * air::enthalpy(t0))
                    / o.exhaust_flow_kg_s.max(1e-9),
            );
            let f = o.fuel_power_w.max(1.0) / 100.0;
            println!(
                "{what:10} rpm {:5.0} air {:6.1} g/s fuel {:.3} g/s lam {:.2} MAP {:5.1} PR {:.2} brake {:5.1}kW {:4.1}% cool {:4.1}% fric {:4.1}% exh {:4.1}% unb {:4.1}% port {:4.0} C lim {} res {:.1e}",
                o.rpm,
                o.air_flow_kg_s * 1e3,
                o.fuel_flow_kg_s * 1e3,
                o.lambda,
                o.manifold_pressure_pa / 1e3,
                o.compressor_pressure_ratio,
                o.brake_power_w / 1e3,
                o.brake_power_w / f,
                o.cylinder_heat_w / f,
                o.friction_w / f,
                o.gas_heat_w / f,
                o.unburnt_w / f,
                tp - 273.15,
                o.limited,
                o.balance_residual_w()
            );
        }
    }
}
