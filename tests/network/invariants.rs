//! What holds whatever the car.

use super::*;
use baysoak::network::coupling::Couplings;
use baysoak::network::enclosure::{Surface, exchanges};
use baysoak::network::link::{Law, Surroundings};
use baysoak::network::rates::Scratch;

#[test]
fn the_energy_audit_closes_on_every_built_in_car() {
    for (car, sheet) in cars() {
        let result = run_settled(
            &sheet,
            &settled(&sheet),
            &every_kind(),
            &RunOptions::default(),
            &mut |_| {},
        )
        .unwrap_or_else(|e| panic!("{}: {e}", car));
        let audit = &result.findings.audit;
        assert!(audit.in_w > 5e3, "{}: {audit:?}", car);
        assert!(audit.residual_percent < 0.1, "{}: {audit:?}", car);
    }
}

#[test]
fn no_passive_link_carries_heat_from_cold_to_hot() {
    let mut draws = Draws(1);
    for (_, sheet) in cars() {
        let build = settled(&sheet).build;
        let network = network(&build);
        for _ in 0..200 {
            let zone_speed: Vec<f64> = (0..network.circuit.roles.zones)
                .map(|_| draws.between(0.0, 15.0))
                .collect();
            let around = Surroundings {
                zone_speed_m_s: &zone_speed,
                road_speed_m_s: draws.between(0.0, 60.0),
                wind_m_s: draws.between(0.0, 5.0),
                pressure_pa: draws.between(6e4, 1.05e5),
                rpm: draws.between(0.0, 8000.0),
            };
            for link in &network.links {
                let (a, b) = (draws.between(230.0, 1300.0), draws.between(230.0, 1300.0));
                let watts = link.watts(a, b, &around);
                assert!(watts * (a - b) >= 0.0, "{link:?} at {a} and {b} K");
                assert!(link.watts(a, a, &around).abs() < 1e-9, "{link:?}");
            }
        }
    }
}

#[test]
fn radiation_links_give_one_side_what_the_other_takes() {
    let network = network(&demo());
    let around = Surroundings {
        zone_speed_m_s: &[],
        road_speed_m_s: 0.0,
        wind_m_s: 0.0,
        pressure_pa: 1e5,
        rpm: 0.0,
    };
    let mut seen = 0;
    for link in &network.links {
        if let Law::Radiation { area_m2 } = link.law {
            let (there, back) = (
                link.watts(800.0, 350.0, &around),
                link.watts(350.0, 800.0, &around),
            );
            assert!(area_m2 > 0.0);
            assert!((there + back).abs() < 1e-9 * there);
            seen += 1;
        }
    }
    assert!(seen > 100, "only {seen} radiation links");
}

fn surface(area_m2: f64, emissivity: f64, zone: usize, node: usize) -> Surface {
    Surface {
        name: format!("surface {node}"),
        node,
        area_m2,
        emissivity,
        zone,
        sees: Vec::new(),
    }
}

#[test]
fn a_black_enclosure_sees_nothing_but_itself() {
    let areas = [0.5, 0.8, 0.3, 0.6, 0.7];
    let surfaces: Vec<Surface> = areas
        .iter()
        .enumerate()
        .map(|(i, &a)| surface(a, 1.0, i % 3, i))
        .collect();
    let (all, _) = exchanges(&surfaces, |a, b| a.abs_diff(b) == 1).unwrap();
    for (i, area) in areas.iter().enumerate() {
        let seen: f64 = all
            .iter()
            .filter(|e| e.a == i || e.b == i)
            .map(|e| e.area_m2)
            .sum();
        assert!((seen - area).abs() < 1e-6, "{i}: {seen} of {area}");
    }
}

#[test]
fn a_grey_surface_gives_no_more_than_its_own_emission() {
    let mut draws = Draws(7);
    for _ in 0..50 {
        let surfaces: Vec<Surface> = (0..8)
            .map(|i| {
                surface(
                    draws.between(0.05, 1.0),
                    draws.between(0.05, 0.95),
                    i % 3,
                    i,
                )
            })
            .collect();
        let (all, _) = exchanges(&surfaces, |a, b| a.abs_diff(b) == 1).unwrap();
        for (i, s) in surfaces.iter().enumerate() {
            let seen: f64 = all
                .iter()
                .filter(|e| e.a == i || e.b == i)
                .map(|e| e.area_m2)
                .sum();
            assert!(seen <= s.area_m2 * s.emissivity * (1.0 + 1e-9));
            assert!(seen > 0.3 * s.area_m2 * s.emissivity, "{i} is not closed");
        }
    }
}

/// Parallel plates, Incropera 6th ed., eq. 13.19.
#[test]
fn verify_two_plates_exchange_by_their_resistances_in_series() {
    let pair = [surface(0.4, 0.3, 0, 0), surface(0.4, 0.8, 0, 1)];
    let (all, _) = exchanges(&pair, |_, _| false).unwrap();
    let expected = 0.4 / (1.0 / 0.3 + 1.0 / 0.8 - 1.0);
    assert_eq!(all.len(), 1);
    assert!((all[0].area_m2 - expected).abs() < 1e-9, "{all:?}");
}

/// Takes the sun's absence for granted: the sheet must have none.
fn alike_outside(c: &mut Conditions) {
    let ambient_k = c.scalars.ambient_k;
    c.scalars.sky_k = ambient_k;
    c.scalars.road_k = ambient_k;
    c.scalars.cabin_k = ambient_k;
}

#[test]
fn without_sources_temperatures_stay_between_the_extremes() {
    let sheet = edited(&[("sun_w_m2 = 600", "sun_w_m2 = 0")]);
    let build = settled(&sheet).build;
    let network = network(&build);
    let n = network.nodes.len();
    let mut draws = Draws(3);
    let mut y = vec![0.0; network.states()];
    for t in &mut y[..n] {
        *t = draws.between(290.0, 900.0);
    }
    let ambient_k = build.day.ambient_k;
    let low = y[..n].iter().copied().fold(ambient_k, f64::min);
    let mut high = y[..n].iter().copied().fold(ambient_k, f64::max);
    let off = cycle(Start::Cold, &[(PhaseKind::KeyOff, 600.0, 0.0, false)]);
    let exact = (Method::Rosenbrock, 1e-3);
    march(
        &build,
        &network,
        &off.intervals(5.0),
        &mut y,
        exact,
        |c, now| {
            alike_outside(c);
            let (coldest, hottest) = now[..n]
                .iter()
                .fold((f64::INFINITY, 0.0_f64), |(a, b), &t| (a.min(t), b.max(t)));
            assert!(coldest > low - 0.01, "{coldest} below {low}");
            assert!(hottest < high + 0.01, "{hottest} above {high}");
            // the hottest may only fall
            high = hottest;
        },
    );
    assert!(high < 890.0);
}

#[test]
fn a_car_left_for_two_days_ends_at_ambient() {
    let sheet = edited(&[("sun_w_m2 = 600", "sun_w_m2 = 0")]);
    let build = settled(&sheet).build;
    let network = network(&build);
    let mut y = warm_start(&build, &network);
    for segment in &network.circuit.segments {
        y[segment.wall] = 800.0;
    }
    let off = cycle(Start::Cold, &[(PhaseKind::KeyOff, 86_400.0, 0.0, false)]);
    let method = (Method::Rosenbrock, 0.02);
    // a cycle is a day at most
    for _ in 0..2 {
        march(
            &build,
            &network,
            &off.intervals(60.0),
            &mut y,
            method,
            |c, _| alike_outside(c),
        );
    }
    for (node, t) in network.nodes.iter().zip(&y) {
        let over = t - build.day.ambient_k;
        assert!(over.abs() < 0.5, "{}: {over} K", node.name);
    }
}

/// Derivatives of the rates of temperatures by temperatures [1/s], row by row: those kept, and all of them by differences.
fn derivatives(network: &Network, plant: &Plant, y: &[f64]) -> [Vec<Vec<f64>>; 2] {
    let n = network.nodes.len();
    let c = plant.from.clone();
    let (mut up, mut down) = (vec![0.0; y.len()], vec![0.0; y.len()]);
    let mut s = Scratch::default();
    network.circuit.rates(&c, y, &mut up, &mut s);
    let couplings = Couplings::new(&[network]);
    let mut values = vec![0.0; couplings.pairs().len()];
    couplings.rates(&network.circuit, &c, &s, &mut values);
    let mut kept = vec![vec![0.0; n]; n];
    for (&(row, column), value) in couplings.pairs().iter().zip(&values) {
        kept[row][column] += value;
    }
    let (mut exact, mut moved) = (kept.clone(), y.to_vec());
    for column in 0..n {
        moved[column] = y[column] + 0.01;
        network.circuit.rates(&c, &moved, &mut up, &mut s);
        moved[column] = y[column] - 0.01;
        network.circuit.rates(&c, &moved, &mut down, &mut s);
        moved[column] = y[column];
        for row in 0..n {
            exact[row][column] = (up[row] - down[row]) / 0.02;
        }
    }
    [kept, exact]
}

#[test]
fn the_kept_couplings_follow_the_rates() {
    let mut wrong = Vec::new();
    for (car, sheet) in cars() {
        let build = settled(&sheet).build;
        let network = network(&build);
        for speed_m_s in [0.0, 30.0] {
            let (plant, mut y) = at_rest(&build, &network, &demand(speed_m_s, Load::Road));
            // off rest, so that no surface sits where its coefficient has a kink
            for (i, t) in y[..network.nodes.len()].iter_mut().enumerate() {
                *t += 5.0 + 3.0 * (i as f64).sin();
            }
            let [kept, exact] = derivatives(&network, &plant, &y);
            for (i, node) in network.nodes.iter().enumerate() {
                let (name, (kept, exact)) = (&node.name, (&kept[i], &exact[i]));
                let own = exact[i];
                assert!(kept[i] < 0.0 && own < 0.0, "{name}: {} for {own}", kept[i]);
                for (j, (kept, exact)) in kept.iter().zip(exact).enumerate() {
                    // slow states need no implicit step; a fast one must know all that it follows
                    let allowed = if i == j {
                        (0.3 * own.abs()).max(0.02)
                    } else {
                        0.02 * own.abs() + 0.08
                    };
                    if (kept - exact).abs() > allowed {
                        wrong.push(format!(
                            "{car}, {name} by {} at {speed_m_s} m/s: {kept:.4} for {exact:.4} 1/s",
                            network.nodes[j].name
                        ));
                    }
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_books_close_on_every_build_and_every_built_in_cycle() {
    let options = RunOptions {
        sample_s: 600.0,
        ..RunOptions::default()
    };
    for (name, sheet) in cars() {
        for listed in baysoak::cycle::builtins().expect("cycles") {
            let cycle = baysoak::cycle::builtin(listed.name).expect("built in");
            let result = baysoak::study::run::run(&sheet, &cycle, &options, &mut |_| {});
            let findings = result
                .unwrap_or_else(|e| panic!("{name}, {}: {e}", cycle.name))
                .findings;
            let off = findings.audit.residual_percent;
            assert!(off < 0.1, "{name}, {}: {off} %", cycle.name);
        }
    }
}
