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
    let at = std::time::Instant::now();
    let (state, _) = solve_at(&build, At::Motorway, None).unwrap();
    eprintln!("{:?}", at.elapsed());
    for a in At::ALL {
        let t = std::time::Instant::now();
        let (s, _) = solve_at(&build, a, None).unwrap();
        eprintln!("{} {:?} {:?} {:?}", a.name(), t.elapsed(), s.car, s.zones_k);
    }
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
