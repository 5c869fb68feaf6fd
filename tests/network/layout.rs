//! The layouts made for speed give what the list of links gives.

use super::*;
use baysoak::network::link::Law;
use baysoak::network::radiation_links::RadiationScratch;

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
        let mut scratch = RadiationScratch::default();
        network
            .radiation
            .add(&t, &mut got.0, &mut got.1, &mut scratch);
        let largest = heat.iter().fold(0.0, |m: f64, w| m.max(w.abs()));
        for (i, (a, b)) in got.0.iter().zip(&heat).enumerate() {
            assert!((a - b).abs() < 1e-8 * largest, "{name}, node {i}: {a} {b}");
        }
        for (i, (a, b)) in got.1.iter().zip(&books).enumerate() {
            assert!((a - b).abs() < 1e-8 * largest, "{name}, slot {i}: {a} {b}");
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
        let single = network.radiation.single_pairs();
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
