use baysoak::network::{assemble::*, ventilation::*};
use baysoak::sheet::*;
fn main() {
    for n in ["demo", "v8", "tow-diesel"] {
        let b = baysoak::sheet::builtin(n)
            .unwrap()
            .settle(&mut Chooser::Likely)
            .unwrap()
            .build;
        let net = assemble(&b, Detail::default()).unwrap();
        let mut v = Ventilation::new(&b.bay);
        println!("== {n}");
        for z in &b.bay.zones {
            print!(
                "{} V {:.3} A {:.3} h {:.2}; ",
                z.name, z.volume_m3, z.flow_area_m2, z.height_m
            );
        }
        println!();
        for (what, sp, fan, ts) in [
            ("idle no fan", 0.0, 0.0, [318.0, 328.0, 338.0, 335.0, 315.0]),
            ("idle fan", 0.0, 1.0, [315.0, 350.0, 345.0, 350.0, 345.0]),
            ("30 kmh", 8.3, 0.0, [301.0, 340.0, 335.0, 340.0, 340.0]),
            ("120", 33.3, 0.0, [301.0, 328.0, 322.0, 328.0, 329.0]),
        ] {
            let mut out = Airflow::default();
            let taken = [0.0; 5];
            v.solve(
                &Drive {
                    speed_m_s: sp,
                    wind_m_s: 0.5,
                    ambient_k: 301.0,
                    pressure_pa: 1e5,
                    fan,
                    bonnet_open: false,
                    zone_k: &ts,
                    taken_kg_s: &taken,
                },
                &mut out,
            );
            println!("-- {what} imb {:.1e}", out.imbalance_kg_s);
            for (o, m) in b.bay.openings.iter().zip(&out.flow_kg_s) {
                let nm = |z: Option<usize>| z.map_or("outside", |i| b.bay.zones[i].name.as_str());
                println!(
                    "   {:28} {:>8}->{:8} A {:6.0} cm2 h {:.2} cp {:5.2}  {:8.1} g/s",
                    o.name,
                    nm(o.from),
                    nm(o.to),
                    o.area_m2 * 1e4,
                    o.height_m,
                    o.pressure_coefficient,
                    m * 1e3
                );
            }
        }
        let _ = &net;
    }
}
