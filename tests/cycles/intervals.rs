use baysoak::cycle::{Builtin, Cycle, EngineState, Load, Phase, PhaseKind, Point, Start};
use proptest::prelude::*;

fn distance_m(cycle: &Cycle, longest_s: f64) -> f64 {
    let intervals = cycle.intervals(longest_s);
    let pieces = intervals.iter();
    pieces
        .map(|i| (i.end_s - i.start_s) * (i.from.speed_m_s + i.to.speed_m_s) / 2.0)
        .sum()
}

/// Checks that the intervals cover the cycle and stop at each point.
fn assert_covering(cycle: &Cycle, longest_s: f64) {
    let intervals = cycle.intervals(longest_s);
    let mut clock_s = 0.0;
    for i in &intervals {
        assert_eq!(i.start_s, clock_s);
        assert!(i.end_s > i.start_s);
        assert!(i.end_s - i.start_s <= longest_s * (1.0 + 1e-9), "{i:?}");
        let phase = &cycle.phases[i.phase];
        assert!(phase.start_s <= i.start_s && i.end_s <= phase.end_s);
        let inside = |p: &&Point| p.time_s > i.start_s && p.time_s < i.end_s;
        assert!(phase.points().iter().find(inside).is_none());
        assert_eq!(i.from.acceleration_m_s2, i.to.acceleration_m_s2);
        let rise = i.to.speed_m_s - i.from.speed_m_s;
        let slope = i.from.acceleration_m_s2 * (i.end_s - i.start_s);
        assert!((rise - slope).abs() < 1e-9, "{i:?}");
        clock_s = i.end_s;
    }
    assert_eq!(clock_s, cycle.duration_s());
}

#[test]
fn intervals_cover_every_builtin_without_crossing_a_point() {
    for builtin in Builtin::ALL {
        let cycle = builtin.cycle().unwrap();
        for longest_s in [0.7, 5.0, f64::INFINITY] {
            assert_covering(&cycle, longest_s);
            let (sum, whole) = (distance_m(&cycle, longest_s), cycle.distance_m());
            assert!(
                (sum - whole).abs() < 1e-6,
                "{builtin:?}: {sum} against {whole}"
            );
        }
    }
}

#[test]
fn senseless_ticks_neither_panic_nor_flood() {
    let cycle = Builtin::Queue.cycle().unwrap();
    let plain = cycle.intervals(f64::INFINITY).len();
    for tick in [0.0, -1.0, f64::NAN] {
        assert_eq!(cycle.intervals(tick).len(), plain);
    }
    let finest = cycle.intervals(1e-300).len() as f64;
    assert!(
        (finest - cycle.duration_s() / 0.05).abs() < 10.0,
        "{finest}"
    );
}

fn point(time_s: f64, speed_m_s: f64, load: Load) -> Point {
    Point {
        load,
        ..Point::road(time_s, speed_m_s)
    }
}

fn two_phases() -> Cycle {
    let first = vec![
        point(0.0, 10.0, Load::Power(1000.0)),
        point(10.0, 20.0, Load::Power(3000.0)),
    ];
    let second = vec![point(10.0, 5.0, Load::Road), point(20.0, 5.0, Load::Road)];
    let running = EngineState::Running;
    let phases = vec![
        Phase::new("a", PhaseKind::Drive, running, false, first).unwrap(),
        Phase::new("b", PhaseKind::Stand, running, true, second).unwrap(),
    ];
    Cycle::new("two", "two", "test", Start::Cold, phases).unwrap()
}

#[test]
fn a_jump_between_phases_sits_between_intervals() {
    let cycle = two_phases();
    let intervals = cycle.intervals(f64::INFINITY);
    assert_eq!(intervals[0].to.speed_m_s, 20.0);
    assert_eq!(intervals[0].to.load, Load::Power(3000.0));
    assert!(!intervals[0].to.bonnet_open);
    assert_eq!(intervals[1].from.speed_m_s, 5.0);
    assert!(intervals[1].from.bonnet_open);
}

#[test]
fn demand_at_a_time_interpolates_and_is_the_later_one_at_an_edge() {
    let cycle = two_phases();
    let half = cycle.at(5.0).unwrap();
    assert_eq!((half.speed_m_s, half.load), (15.0, Load::Power(2000.0)));
    assert_eq!(half.acceleration_m_s2, 1.0);
    assert_eq!(cycle.at(10.0).unwrap().speed_m_s, 5.0);
    assert_eq!(cycle.at(-3.0).unwrap().speed_m_s, 10.0);
    assert_eq!(cycle.at(99.0).unwrap().speed_m_s, 5.0);
    assert!(cycle.at(f64::NAN).is_some());
}

fn refused(points: Vec<Point>) -> String {
    let phase = Phase::new("x", PhaseKind::Drive, EngineState::Running, false, points);
    let problems = phase.unwrap_err();
    problems.iter().map(|p| p.to_string() + "\n").collect()
}

#[test]
fn fails_when_the_kind_of_load_changes_inside_a_phase() {
    let text = refused(vec![
        point(0.0, 1.0, Load::Road),
        point(1.0, 1.0, Load::Power(5.0)),
    ]);
    assert!(text.contains("not the kind of the point before"), "{text}");
}

#[test]
fn fails_for_points_that_are_not_finite_or_not_plausible() {
    let bad = Point {
        grade: f64::INFINITY,
        rpm: Some(30_000.0),
        ..point(1.0, f64::NAN, Load::FullLoadShare(1.2))
    };
    let text = refused(vec![point(0.0, 0.0, Load::FullLoadShare(0.0)), bad]);
    for word in [
        "speed_m_s = NaN",
        "grade = inf",
        "rpm = 30000",
        "load = 1.2",
        "at all points",
    ] {
        assert!(text.contains(word), "{word} not in {text}");
    }
}

#[test]
fn fails_when_phases_leave_a_gap() {
    let mut phases = two_phases().phases;
    phases.remove(0);
    let error = Cycle::new("gap", "", "", Start::Cold, phases).unwrap_err();
    assert!(
        error.to_string().contains("start_s = 10: must be 0"),
        "{error}"
    );
}

proptest! {
    #[test]
    fn intervals_cover_any_trace(
        steps in prop::collection::vec((0.01f64..40.0, 0.0f64..70.0), 2..40),
        longest_s in 0.1f64..60.0,
    ) {
        let mut clock_s = 0.0;
        let mut points = vec![Point::road(0.0, 3.0)];
        for (dt, speed) in steps {
            clock_s += dt;
            points.push(Point::road(clock_s, speed));
        }
        let phase = Phase::new("p", PhaseKind::Drive, EngineState::Running, false, points).unwrap();
        let cycle = Cycle::new("any", "", "", Start::Cold, vec![phase]).unwrap();
        assert_covering(&cycle, longest_s);
        let (sum, whole) = (distance_m(&cycle, longest_s), cycle.distance_m());
        prop_assert!((sum - whole).abs() < 1e-9 * whole.max(1.0));
        for i in cycle.intervals(longest_s) {
            let at = cycle.at((i.start_s + i.end_s) / 2.0).unwrap();
            prop_assert!((at.speed_m_s - (i.from.speed_m_s + i.to.speed_m_s) / 2.0).abs() < 1e-9);
        }
    }
}

#[test]
fn ticks_are_short_while_driven_and_longer_while_parked() {
    for builtin in Builtin::ALL {
        let cycle = builtin.cycle().unwrap();
        let ticks = cycle.ticks();
        let mut clock_s = 0.0;
        for tick in &ticks {
            assert_eq!(tick.start_s, clock_s);
            let phase = &cycle.phases[tick.phase];
            let parked_s = tick.start_s - phase.start_s + 1e-6;
            let change_m_s = (tick.to.speed_m_s - tick.from.speed_m_s).abs();
            let cruises = tick.from.speed_m_s.min(tick.to.speed_m_s) >= 5.0 && change_m_s <= 1.0;
            let longest_s = match phase.kind {
                PhaseKind::KeyOff if parked_s >= 600.0 => 30.0,
                PhaseKind::KeyOff if parked_s >= 300.0 => 20.0,
                PhaseKind::KeyOff if parked_s >= 60.0 => 10.0,
                _ if cruises => 20.0,
                _ => 5.0,
            };
            assert!(tick.end_s - tick.start_s <= longest_s + 1e-6, "{tick:?}");
            assert!(change_m_s <= 5.0 + 1e-6, "{tick:?}");
            let crossed = |p: &&Point| p.time_s > tick.start_s && p.time_s < tick.end_s;
            assert!(phase.points().iter().find(crossed).is_none(), "{tick:?}");
            clock_s = tick.end_s;
        }
        assert_eq!(clock_s, cycle.duration_s());
    }
    // half an hour parked: whole minutes stay ends of ticks
    let point = |time_s, kmh: f64| point(time_s, kmh / 3.6, Load::Road);
    let ticks_of = |kind, engine, points| {
        let phase = Phase::new("phase", kind, engine, false, points).unwrap();
        let cycle = Cycle::new("cycle", "cycle", "test", Start::Warm, vec![phase]);
        cycle.unwrap().ticks()
    };
    let parked = vec![point(0.0, 0.0), point(1800.0, 0.0)];
    let ticks = ticks_of(PhaseKind::KeyOff, EngineState::Off, parked);
    assert_eq!(ticks.len(), 12 + 24 + 15 + 40);
    for minute in 1..=30 {
        let end_s = 60.0 * f64::from(minute);
        assert!(ticks.iter().any(|t| (t.end_s - end_s).abs() < 1e-6));
    }
    // ten seconds to 100 km/h, then two minutes at cruise: 5 m/s, 5 s, 10 s, 20 s
    let drive = vec![point(0.0, 0.0), point(10.0, 100.0), point(130.0, 100.0)];
    let ticks = ticks_of(PhaseKind::Drive, EngineState::Running, drive);
    let lengths: Vec<f64> = ticks.iter().map(|t| t.end_s - t.start_s).collect();
    let expected = [
        vec![10.0 / 6.0; 6],
        vec![5.0],
        vec![10.0; 3],
        vec![20.0; 4],
        vec![5.0],
    ]
    .concat();
    assert_eq!(lengths.len(), expected.len(), "{lengths:?}");
    assert!(
        lengths
            .iter()
            .zip(&expected)
            .all(|(a, b)| (a - b).abs() < 1e-6),
        "{lengths:?}"
    );
}
