//! Results must not hang on segments, methods or tolerances.

use super::*;
use baysoak::study::findings::Figure;

fn short() -> Cycle {
    cycle(
        Start::Cold,
        &[
            (PhaseKind::Drive, 240.0, 25.0, false),
            (PhaseKind::Stand, 120.0, 0.0, false),
            (PhaseKind::KeyOff, 120.0, 0.0, false),
            (PhaseKind::Restart, 120.0, 14.0, false),
        ],
    )
}

/// Node temperatures after a cycle of ten minutes.
fn ends(method: Method, absolute: f64) -> Vec<f64> {
    let build = demo();
    let network = network(&build);
    let mut y = vec![build.day.ambient_k; network.states()];
    let n = network.nodes.len();
    y[n..].fill(0.0);
    let with = (method, absolute);
    march(
        &build,
        &network,
        &short().intervals(5.0),
        &mut y,
        with,
        |_, _| {},
    );
    y.truncate(n);
    y
}

fn furthest(a: &[f64], b: &[f64]) -> (usize, f64) {
    let pairs = a.iter().zip(b).map(|(x, y)| (x - y).abs());
    pairs
        .enumerate()
        .fold((0, 0.0), |w, (i, d)| if d > w.1 { (i, d) } else { w })
}

#[test]
fn two_methods_and_two_tolerances_agree() {
    let reference = ends(Method::DormandPrince, 1e-6);
    let network = network(&demo());
    let standard = RunOptions::default().tolerance.absolute;
    for (method, absolute) in [(Method::Rosenbrock, 1e-4), (Method::Rosenbrock, standard)] {
        let (i, off) = furthest(&ends(method, absolute), &reference);
        let name = &network.nodes[i].name;
        assert!(off < 0.1, "{method:?} at {absolute}: {off} K at {name}");
    }
}

#[test]
fn twice_the_segments_hardly_move_gas_bay_and_intake() {
    let mut fine = RunOptions::default();
    fine.detail.segments *= 2;
    // a fan that never switches: a switch moves by a tick for a few hundredths of a kelvin
    let mut build = demo();
    (build.bay.fan.on_k, build.bay.fan.off_k) = (280.0, 270.0);
    build.bay.fan.run_on_s = 0.0;
    let coarse = run_build(&build, &every_kind(), &RunOptions::default()).findings;
    let fine = run_build(&build, &every_kind(), &fine).findings;
    // [K]
    let limits = [
        ("turbine_inlet_mean_c", 1.0),
        ("skin_peak_c", 1.0),
        ("metal_peak_c", 1.0),
        ("intake_rise_mean_k", 1.0),
        ("intake_rise_peak_k", 1.0),
        ("bay_air_peak_c", 1.0),
    ];
    let mut compared = 0;
    for a in &coarse.figures {
        let Some((_, limit)) = limits.iter().find(|(id, _)| *id == a.id) else {
            continue;
        };
        let same = |f: &&Figure| f.id == a.id && f.place == a.place;
        let b = fine.figures.iter().find(same).unwrap();
        let off = (a.value - b.value).abs();
        assert!(
            off < *limit,
            "{} {}: {} or {}",
            a.id,
            a.place,
            a.value,
            b.value
        );
        compared += 1;
    }
    assert!(compared > 10, "only {compared} figures");
}

/// Mean metal temperature of each exhaust part at rest [K].
fn metal_means(build: &Build, segments: usize) -> Vec<f64> {
    let network = assemble(build, Detail { segments }).unwrap();
    let (_, y) = at_rest(build, &network, &demand(25.0, Load::Road));
    let mean = |name: &str| {
        let (whole, piece) = (format!("metal:{name}"), format!("metal:{name}/"));
        let of_part: Vec<f64> = network
            .nodes
            .iter()
            .zip(&y)
            .filter(|(n, _)| n.name == whole || n.name.starts_with(&piece))
            .map(|(_, &t)| t)
            .collect();
        of_part.iter().sum::<f64>() / of_part.len() as f64
    };
    build.exhaust.iter().map(|p| mean(&p.name)).collect()
}

/// What conducts at the ends of a part must not grow as its segments shrink.
#[test]
fn metal_temperatures_come_to_rest_as_segments_shrink() {
    let build = demo();
    let (coarse, fine) = (metal_means(&build, 8), metal_means(&build, 16));
    let moved: Vec<String> = build
        .exhaust
        .iter()
        .zip(coarse.iter().zip(&fine))
        .filter(|(_, (a, b))| (*a - *b).abs() > 1.5)
        .map(|(p, (a, b))| format!("{}: {a:.1} K, then {b:.1} K", p.name))
        .collect();
    assert!(moved.is_empty(), "{}", moved.join("\n"));
}
