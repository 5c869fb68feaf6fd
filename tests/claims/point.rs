//! Steady points against the full solver.

use baysoak::cycle::{Cycle, EngineState, Phase, PhaseKind, Point, Start};
use baysoak::report::figure;
use baysoak::sheet::{Chooser, builtin};
use baysoak::study::claim::point::{At, solve_at};
use baysoak::study::run::{RunOptions, run};

/// Half an hour at constant speed, driven by the transient solver with all its segments, ends where the point is.
#[test]
fn verify_a_point_is_where_a_long_drive_ends() {
    let sheet = builtin("demo").unwrap();
    let build = sheet.settle(&mut Chooser::Likely).unwrap().build;
    let (state, _) = solve_at(&build, At::Motorway, None).unwrap();
    let points = vec![
        Point::road(0.0, 130.0 / 3.6),
        Point::road(2400.0, 130.0 / 3.6),
    ];
    let phase = Phase::new(
        "steady",
        PhaseKind::Drive,
        EngineState::Running,
        false,
        points,
    );
    let cycle = Cycle::new(
        "steady",
        "steady",
        "here",
        Start::Warm,
        vec![phase.unwrap()],
    )
    .unwrap();
    let result = run(&sheet, &cycle, &RunOptions::default(), &mut |_| {}).unwrap();
    let last = |name: &str| *result.series.column(name).unwrap().last().unwrap() + 273.15;
    for (part, state) in build.exhaust.iter().zip(&state.parts) {
        let skin = last(&format!("skin:{}_c", part.name));
        assert!(
            (skin - state.skin_k).abs() < 6.0,
            "{}: {skin} {}",
            part.name,
            state.skin_k
        );
    }
    for (zone, &k) in build.bay.zones.iter().zip(&state.zones_k) {
        let air = last(&format!("air:{}_c", zone.name));
        assert!((air - k).abs() < 1.0, "{}: {air} {k}", zone.name);
    }
    assert!((last("intake:valve_c") - state.car.valve_k).abs() < 0.5);
    let all = figure(&result.findings, "heat_to_bay_mean_w", "downpipe")
        .unwrap()
        .value;
    let downpipe = build
        .exhaust
        .iter()
        .position(|p| p.name == "downpipe")
        .unwrap();
    let point = state.parts[downpipe].to_bay_w();
    assert!((all / point - 1.0).abs() < 0.05, "{all} {point}");
}

/// Means over a built-in cycle are those of the transient solver on the same cycle.
#[test]
fn verify_a_cycle_is_the_mean_of_its_run() {
    let sheet = builtin("demo").unwrap();
    let build = sheet.settle(&mut Chooser::Likely).unwrap().build;
    for (at, name, phase) in [(At::Town, "town", "town"), (At::Track, "track", "laps")] {
        let (state, _) = solve_at(&build, at, None).unwrap();
        let cycle = baysoak::cycle::builtin(name).unwrap();
        let phase = cycle.phases.iter().find(|p| p.name == phase).unwrap();
        let (from_s, to_s) = (0.5 * (phase.start_s + phase.end_s), phase.end_s);
        let result = run(&sheet, &cycle, &RunOptions::default(), &mut |_| {}).unwrap();
        let mean = |column: &str| {
            let column = result.series.column(column).unwrap();
            let own = result.series.time_s.iter().zip(column);
            let own: Vec<f64> = own
                .filter(|(t, _)| (from_s..to_s).contains(*t))
                .map(|(_, c)| c + 273.15)
                .collect();
            own.iter().sum::<f64>() / own.len() as f64
        };
        for (part, state) in build.exhaust.iter().zip(&state.parts) {
            let skin = mean(&format!("skin:{}_c", part.name));
            assert!(
                (skin - state.skin_k).abs() < 8.0,
                "{name} {}: {skin} {}",
                part.name,
                state.skin_k
            );
        }
        for (zone, &k) in build.bay.zones.iter().zip(&state.zones_k) {
            let air = mean(&format!("air:{}_c", zone.name));
            assert!((air - k).abs() < 1.5, "{name} {}: {air} {k}", zone.name);
        }
    }
}
