//! The layouts made for speed give what the list of links gives.

use super::*;
use baysoak::network::faces::FaceScratch;
use baysoak::network::heat_store::{HeatStores, PiecesInUse};
use baysoak::network::link::{Law, Surroundings, pump_factor};
use baysoak::network::link_plan::LinkScratch;
use baysoak::network::radiation_links::RadiationScratch;
use baysoak::network::surfaces::SurfaceScratch;

/// Heat into each node and books by the radiation links one by one.
fn one_by_one(network: &Network, t: &[f64]) -> (Vec<f64>, Vec<f64>) {
    let mut heat_w = vec![0.0; t.len()];
    let mut books_w = vec![0.0; network.ledger.len()];
    for (link, books) in network.links.iter().zip(&network.link_books) {
        let Law::Radiation { area_m2 } = link.law else {
            continue;
        };
        let watts = 5.670_374_419e-8 * area_m2 * (t[link.from].powi(4) - t[link.to].powi(4));
        heat_w[link.from] -= watts;
        heat_w[link.to] += watts;
        for &(slot, sign) in books {
            books_w[slot] += sign * watts;
        }
    }
    (heat_w, books_w)
}

fn assert_radiates_as_its_links(name: &str, network: &Network) {
    let mut draws = Draws(3);
    let count = network.nodes.len() + 4;
    for _ in 0..20 {
        let t: Vec<f64> = (0..count).map(|_| draws.between(260.0, 1200.0)).collect();
        let (heat, books) = one_by_one(network, &t);
        let mut got = (vec![0.0; count], vec![0.0; network.ledger.len()]);
        let nothing = vec![0.0; network.circuit.surfaces.links().len()];
        let (faces, pairs) = (&network.circuit.faces, &network.circuit.radiation);
        let into = (&mut got.0[..], &mut got.1[..]);
        faces.add(&nothing, &t, into, &mut FaceScratch::default());
        pairs.add(&t, &mut got.0, &mut got.1, &mut RadiationScratch::default());
        let largest = heat.iter().fold(0.0, |m: f64, w| m.max(w.abs()));
        for (i, (a, b)) in got.0.iter().zip(&heat).enumerate() {
            assert!((a - b).abs() < 1e-5 * largest, "{name}, node {i}: {a} {b}");
        }
        for (i, (a, b)) in got.1.iter().zip(&books).enumerate() {
            assert!((a - b).abs() < 1e-5 * largest, "{name}, slot {i}: {a} {b}");
        }
    }
}

#[test]
fn radiation_by_groups_is_radiation_by_pairs() {
    for (name, sheet) in cars() {
        let network = network(&settled(&sheet).build);
        assert_radiates_as_its_links(name, &network);
        let pairs = network
            .links
            .iter()
            .filter(|l| matches!(l.law, Law::Radiation { .. }))
            .count();
        let single = network.circuit.radiation.single_pairs();
        assert!(5 * single < pairs, "{name}: {single} of {pairs}");
    }
}

#[test]
fn given_view_factors_are_kept_beside_the_groups() {
    let mut build = demo();
    let hose = build.neighbours.first_mut().unwrap();
    hose.sees = vec![("turbine".into(), 0.3), ("downpipe".into(), 0.2)];
    assert_radiates_as_its_links("given", &network(&build));
}

#[test]
fn links_in_columns_carry_what_they_carry_one_by_one() {
    let mut draws = Draws(11);
    let wrapped = edited(&[]);
    for (name, sheet) in cars().into_iter().chain([("wrapped", wrapped)]) {
        let mut build = settled(&sheet).build;
        if name == "wrapped" {
            let part = build.exhaust.last_mut().unwrap();
            part.treatment = Some(baysoak::sheet::build::Treatment::of_layers(
                "layer",
                vec![verify::layer(0.006)],
            ));
        }
        let network = network(&build);
        let count = network.nodes.len() + 4;
        for _ in 0..20 {
            let t: Vec<f64> = (0..count).map(|_| draws.between(250.0, 1200.0)).collect();
            let mut c = Conditions {
                zone_speed_m_s: (0..network.circuit.roles.zones)
                    .map(|_| draws.between(0.0, 20.0))
                    .collect(),
                ..Conditions::default()
            };
            c.scalars.speed_m_s = draws.between(0.0, 60.0);
            c.scalars.wind_m_s = draws.between(0.0, 5.0);
            c.scalars.rpm = draws.between(0.0, 7000.0);
            c.scalars.pump = pump_factor(c.scalars.rpm);
            let speeds = c.zone_speed_m_s.clone();
            let around = Surroundings {
                zone_speed_m_s: &speeds,
                road_speed_m_s: c.scalars.speed_m_s,
                wind_m_s: c.scalars.wind_m_s,
                pressure_pa: 9.5e4,
                rpm: c.scalars.rpm,
            };
            let mut heat = vec![0.0; count];
            let mut books = vec![0.0; network.ledger.len()];
            for (link, booked) in network.links.iter().zip(&network.link_books) {
                if matches!(link.law, Law::Radiation { .. }) {
                    continue;
                }
                let watts = link.watts(t[link.from], t[link.to], &around);
                heat[link.from] -= watts;
                heat[link.to] += watts;
                for &(slot, sign) in booked {
                    books[slot] += sign * watts;
                }
            }
            let mut got = (vec![0.0; count], vec![0.0; network.ledger.len()]);
            let mut scratch = LinkScratch::default();
            let into = (&mut got.0[..], &mut got.1[..]);
            let surfaces = &network.circuit.surfaces;
            surfaces.settle(&mut c, 9.5e4, &t, &mut SurfaceScratch::default());
            network
                .circuit
                .plan
                .add_heat(&c, 9.5e4, &t, into, &mut scratch);
            // what surfaces of the bay give to the air: without it they only radiate
            let faces = &network.circuit.faces;
            let mut given = |w_k: &[f64], sign: f64| {
                let mut all = (vec![0.0; count], vec![0.0; network.ledger.len()]);
                let into = (&mut all.0[..], &mut all.1[..]);
                faces.add(w_k, &t, into, &mut FaceScratch::default());
                let sums = got.0.iter_mut().chain(&mut got.1);
                for (sum, watts) in sums.zip(all.0.iter().chain(&all.1)) {
                    *sum += sign * watts;
                }
            };
            given(&c.surface_w_k, 1.0);
            given(&vec![0.0; c.surface_w_k.len()], -1.0);
            for (a, b) in got.0.iter().chain(&got.1).zip(heat.iter().chain(&books)) {
                assert!((a - b).abs() < 1e-9 * b.abs().max(1e3), "{name}: {a} {b}");
            }
        }
    }
}

#[test]
fn heat_capacities_by_table_are_those_of_the_parts() {
    let mut draws = Draws(5);
    for (name, sheet) in cars() {
        let network = network(&settled(&sheet).build);
        let stores = HeatStores::new(&network.nodes);
        let mut used = PiecesInUse::default();
        let mut found = vec![0.0; network.nodes.len()];
        for _ in 0..200 {
            let t: Vec<f64> = (0..network.nodes.len())
                .map(|_| draws.between(150.0, 1900.0))
                .collect();
            stores.capacities(&t, &mut used, &mut found);
            for ((node, t), found) in network.nodes.iter().zip(&t).zip(&found) {
                let want = node.storage.capacity(*t);
                assert!(
                    (found / want - 1.0).abs() < 1e-12,
                    "{name} {}: {found} {want} at {t} K",
                    node.name
                );
            }
        }
    }
}
