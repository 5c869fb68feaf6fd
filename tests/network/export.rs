//! The exported network holds everything that the rates need. `tests/bench/peer_scipy.py` rebuilds them from it.

use std::collections::{BTreeMap, BTreeSet};

use baysoak::cycle::Builtin;
use baysoak::network::conditions::Scalars;
use baysoak::network::link::{Law, Link, Shape};
use baysoak::network::node::{Boundary, Storage};
use baysoak::report::json::to_compact_json;
use baysoak::study::network_export::network_file;
use baysoak::study::network_shape::NetworkFile;
use baysoak::study::recording::record;
use serde_json::Value;

use super::*;

fn cycle() -> Cycle {
    Builtin::SoakRestart.cycle().unwrap()
}

fn exported(sheet: &Sheet) -> Value {
    let file = network_file(sheet, &cycle(), &RunOptions::default()).unwrap();
    serde_json::from_str(&to_compact_json(&file).unwrap()).unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value}"))
}

/// Equal but for the last digits that a reader of JSON may lose.
fn same(value: &Value, expected: f64) -> bool {
    (number(value) - expected).abs() <= 1e-14 * expected.abs()
}

fn list(value: &Value) -> &[Value] {
    value.as_array().unwrap_or_else(|| panic!("{value}"))
}

/// Name and parameters of a law, in the words of the file.
fn law(link: &Link) -> (&'static str, Vec<(&'static str, f64)>) {
    match &link.law {
        Law::Conductance(g) => ("conductance", vec![("w_k", *g)]),
        Law::Layer { shape_m, k0, k1 } => (
            "layer",
            vec![("shape_m", *shape_m), ("k0_w_m_k", *k0), ("k1_w_m_k2", *k1)],
        ),
        Law::Convection { shape, area_m2, .. } => {
            let (Shape::Cylinder(length_m) | Shape::Plate(length_m)) = shape;
            (
                "convection",
                vec![("length_m", *length_m), ("area_m2", *area_m2)],
            )
        }
        Law::Gap {
            effective_m,
            shape_m,
        } => (
            "gap",
            vec![("effective_m", *effective_m), ("shape_m", *shape_m)],
        ),
        Law::Radiation { area_m2 } => ("radiation", vec![("area_m2", *area_m2)]),
        Law::Pumped {
            running_w_k,
            still_w_k,
            ..
        } => (
            "pumped",
            vec![("running_w_k", *running_w_k), ("still_w_k", *still_w_k)],
        ),
    }
}

#[test]
fn every_node_and_link_is_exported_with_its_numbers() {
    for (name, sheet) in cars() {
        let file = exported(&sheet);
        let network = assemble(&settled(&sheet).build, Detail::default()).unwrap();
        let nodes = list(&file["nodes"]);
        assert_eq!(nodes.len(), network.nodes.len(), "{name}");
        for (out, node) in nodes.iter().zip(&network.nodes) {
            assert_eq!(out["name"], node.name);
            let solids = list(&out["solids"]);
            let kg: f64 = solids.iter().map(|s| number(&s[0])).sum();
            for solid in solids {
                let id = solid[1].as_str().unwrap();
                assert!(list(&file["materials"][id]).len() > 1, "{name}: {id}");
            }
            let (kg_there, extra, air) = match &node.storage {
                Storage::Solid(parts, extra) => {
                    (parts.iter().map(|(m, _)| m).sum::<f64>(), *extra, 0.0)
                }
                Storage::Constant(c) => (0.0, *c, 0.0),
                Storage::Air(m) => (0.0, 0.0, *m),
            };
            assert!((kg - kg_there).abs() < 1e-12, "{name}: {}", node.name);
            assert!(same(&out["constant_j_k"], extra), "{name}: {}", node.name);
            assert!(same(&out["air_kg"], air), "{name}: {}", node.name);
        }
        let links = list(&file["links"]);
        let others = network.links.iter().filter(|l| law(l).0 != "radiation");
        assert_eq!(links.len(), others.clone().count(), "{name}");
        for link in others {
            let (law, numbers) = law(link);
            let found = links.iter().any(|out| {
                number(&out["from"]) == link.from as f64
                    && number(&out["to"]) == link.to as f64
                    && out["law"] == law
                    && numbers.iter().all(|(key, v)| same(&out[*key], *v))
            });
            assert!(found, "{name}: {link:?}");
        }
        // conductances of surfaces in air are columns: of cylinders, then of plates, in the order of the links
        let shaped = |shape: &str| {
            let of_shape = network.links.iter().enumerate().filter(move |(_, l)| {
                let Law::Convection { shape: s, .. } = l.law else {
                    return false;
                };
                matches!(s, Shape::Cylinder(_)) == (shape == "cylinder")
            });
            of_shape.map(|(i, _)| i).collect::<Vec<_>>()
        };
        let in_order = [shaped("cylinder"), shaped("plate")].concat();
        let surfaces = &network.circuit.surfaces;
        let of_place = surfaces
            .by_shape()
            .into_iter()
            .map(|place| surfaces.links()[place]);
        assert_eq!(of_place.collect::<Vec<_>>(), in_order, "{name}");
        let drivers = &file["drivers"];
        let mut names = list(&drivers["names"]).iter();
        let first = names.position(|n| n == "surface_w_k[0]").unwrap();
        let settled = settled(&sheet).build;
        let recording = record(&settled, &cycle(), &RunOptions::default()).unwrap();
        for (out, drive) in list(&drivers["to"]).iter().zip(&recording.drives) {
            for (column, link) in in_order.iter().enumerate() {
                let place = surfaces.links().iter().position(|l| l == link).unwrap();
                let w_k = drive.to.surface_w_k[place];
                assert!(same(&out[first + column], w_k), "{name}: link {link}");
            }
        }
        assert_eq!(
            list(&file["exhaust"]["segments"]).len(),
            network.circuit.segments.len()
        );
        let ducts = list(&file["intake"]["ducts"]);
        assert_eq!(ducts.len(), network.circuit.route.ducts.len());
        for (out, duct) in ducts.iter().zip(&network.circuit.route.ducts) {
            assert!(same(&out["volume_m3"], duct.volume_m3), "{name}: {out}");
        }
        let intake = &file["intake"];
        assert!(same(
            &intake["sensor_film_w"],
            network.circuit.sensor.film_w
        ));
        assert!(same(
            &intake["sensor_mount_w_k"],
            network.circuit.sensor.mount_w_k
        ));
        assert_eq!(list(&file["openings"]).len(), network.openings.len());
    }
}

#[test]
fn exported_radiation_is_that_of_the_links() {
    for (name, sheet) in cars() {
        let file = exported(&sheet);
        let network = assemble(&settled(&sheet).build, Detail::default()).unwrap();
        let mut apart = BTreeMap::new();
        let mut total = vec![0.0; network.boundary(Boundary::Cabin) + 1];
        for link in &network.links {
            if let Law::Radiation { area_m2 } = link.law {
                let pair = (link.from.min(link.to), link.from.max(link.to));
                *apart.entry(pair).or_insert(0.0) += area_m2;
                total[pair.0] += area_m2;
                total[pair.1] += area_m2;
            }
        }
        let radiation = list(&file["radiation"]);
        assert!(radiation.len() > 100, "{name}");
        for out in radiation {
            let [from, to] = ["from", "to"].map(|k| number(&out[k]) as usize);
            *apart.entry((from, to)).or_insert(0.0) -= number(&out["area_m2"]);
        }
        for ((a, b), m2) in apart {
            // a pair may hold several pairs of surfaces, each within a millionth
            let limit = 4e-6 * total[a].min(total[b]);
            assert!(m2.abs() < limit, "{name}: {a} to {b}: {m2} of {limit}");
        }
    }
}

#[test]
fn drivers_cover_the_cycle_without_a_hole() {
    let (_, sheet) = cars().swap_remove(0);
    let file = exported(&sheet);
    let drivers = &file["drivers"];
    let names: BTreeSet<&str> = list(&drivers["names"])
        .iter()
        .map(|n| n.as_str().unwrap())
        .collect();
    assert_eq!(names.len(), list(&drivers["names"]).len());
    assert!(Scalars::NAMES.iter().all(|n| names.contains(n)));
    let count = |list: &str| names.iter().filter(|n| n.starts_with(list)).count();
    let streams = (&file["exhaust"]["segments"], &file["intake"]["ducts"]);
    assert_eq!(count("gas_through["), list(streams.0).len());
    // compressor housing, core and port come after the ducts
    assert_eq!(count("air_through["), list(streams.1).len() + 3);
    let surfaces = list(&file["links"]).iter();
    let surfaces = surfaces.filter(|l| l["law"] == "convection").count();
    assert_eq!(count("surface_w_k["), surfaces);
    for boundary in list(&file["boundaries"]) {
        let name = format!("{}_k", boundary.as_str().unwrap());
        assert!(names.contains(name.as_str()), "{name}");
    }
    let spans = list(&drivers["spans_s"]);
    let mut end = 0.0;
    for span in spans {
        assert!(same(&span[0], end), "{span} after {end}");
        end = number(&span[1]);
    }
    assert!((end - cycle().duration_s()).abs() < 1e-9);
    for side in ["from", "to"] {
        let rows = list(&drivers[side]);
        assert_eq!(rows.len(), spans.len());
        assert!(rows.iter().all(|r| list(r).len() == names.len()));
    }
}

#[test]
fn sampled_rates_are_those_of_the_network() {
    let (_, sheet) = cars().swap_remove(0);
    let recording = record(&settled(&sheet).build, &cycle(), &RunOptions::default()).unwrap();
    let file = NetworkFile::new(sheet.title(), "test", &recording);
    assert!(file.samples.len() >= 20);
    let running = |s: &&baysoak::study::network_shape::Sample| {
        recording.drives[s.span].from.scalars.running > 0.5
    };
    let moving = file.samples.iter().filter(running).count();
    assert!(moving > 0 && moving < file.samples.len());
    let mut plant = Plant::new(&recording.network);
    let ledger = vec![0.0; recording.network.ledger.len()];
    for sample in &file.samples {
        recording.drives[sample.span].set(&mut plant);
        let y: Vec<f64> = sample.node_k.iter().chain(&ledger).copied().collect();
        let mut dy = vec![0.0; y.len()];
        baysoak::solve::System::rates(&mut plant, sample.time_s, &y, &mut dy);
        assert_eq!(sample.rate_k_s[..], dy[..sample.rate_k_s.len()]);
    }
}

#[test]
fn a_replay_by_the_same_method_gives_the_same_states() {
    let (_, sheet) = cars().swap_remove(0);
    let options = RunOptions::default();
    let recording = record(&settled(&sheet).build, &cycle(), &options).unwrap();
    let mut integrator = Integrator::new(options.method, options.tolerance);
    let mut ends = recording.states[1..].iter();
    recording
        .replay(&mut integrator, |y| assert_eq!(ends.next().unwrap(), y))
        .unwrap();
    assert!(ends.next().is_none());
    assert_eq!(integrator.work(), recording.work);
}
