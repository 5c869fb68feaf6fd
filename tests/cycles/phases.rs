use baysoak::cycle::{
    Builtin, Cycle, CycleSpec, EngineState, Load, Pattern, PhaseKind, PhaseSpec, Start,
};

fn cycle(text: &str) -> Cycle {
    let spec: CycleSpec = toml::from_str(text).unwrap();
    spec.cycle("sheet").unwrap()
}

fn fault(text: &str) -> String {
    let spec: CycleSpec = toml::from_str(text).unwrap();
    spec.cycle("sheet").unwrap_err().to_string()
}

#[test]
fn a_jump_between_phases_becomes_a_ramp_inside_the_later_one() {
    let cycle = cycle(
        "start = \"warm\"\n\
         [[phases]]\nkind = \"drive\"\nspeed_kmh = 36\nduration_s = 60\n\
         [[phases]]\nkind = \"drive\"\nspeed_kmh = 90\nduration_min = 1\n\
         [[phases]]\nkind = \"stand\"\nduration_s = 60\nbonnet_open = true\n",
    );
    assert_eq!((cycle.start, cycle.duration_s()), (Start::Warm, 180.0));
    // 15 m/s at 1.5 m/s2 up, 25 m/s at 2 m/s2 down.
    let ramp_up = &cycle.phases[1].points()[1];
    assert!((ramp_up.time_s - 70.0).abs() < 1e-9 && (ramp_up.speed_m_s - 25.0).abs() < 1e-9);
    let ramp_down = &cycle.phases[2].points()[1];
    assert!((ramp_down.time_s - 132.5).abs() < 1e-9 && ramp_down.speed_m_s == 0.0);
    assert!(cycle.phases[2].bonnet_open && !cycle.phases[1].bonnet_open);
}

#[test]
fn the_car_brakes_before_the_key_goes_off() {
    let cycle = cycle(
        "[[phases]]\nkind = \"drive\"\nspeed_kmh = 72\nduration_s = 60\n\
         [[phases]]\nkind = \"key-off\"\nduration_min = 30\n\
         [[phases]]\nkind = \"restart\"\npattern = \"town\"\nduration_min = 5\n",
    );
    assert_eq!(cycle.phases[0].end_s, 70.0);
    let soak = &cycle.phases[1];
    assert_eq!(
        (soak.kind, soak.engine),
        (PhaseKind::KeyOff, EngineState::Off)
    );
    assert!(soak.points().iter().all(|p| p.speed_m_s == 0.0));
    assert_eq!(cycle.duration_s(), 70.0 + 1800.0 + 300.0);
}

#[test]
fn a_trace_repeats_for_laps_or_until_the_time_is_up() {
    let trace = "[[phases]]\nkind = \"drive\"\ntrace = [[0, 0], [10, 36], [20, 0]]\n";
    let laps = cycle(&format!("{trace}laps = 3\n"));
    assert_eq!(laps.duration_s(), 60.0);
    assert!((laps.distance_m() - 300.0).abs() < 1e-9);
    let cut = cycle(&format!("{trace}duration_s = 25\n"));
    assert_eq!(cut.duration_s(), 25.0);
    assert!((cut.at(25.0).unwrap().speed_m_s - 5.0).abs() < 1e-9);
}

#[test]
fn a_ramp_and_the_load_keys_reach_the_points() {
    let cycle = cycle(
        "[[phases]]\nkind = \"drive\"\nspeed_kmh = 0\nto_speed_kmh = 72\nduration_s = 20\ngrade_percent = -5\n\
         [[phases]]\nkind = \"drive\"\nspeed_kmh = 72\nduration_s = 20\nrpm = 3000\nload_percent = 50\n\
         [[phases]]\nkind = \"stand\"\nduration_s = 20\nrpm = 3000\nmap_kpa = 150\nambient_c = 30\nwind_m_s = 4\n\
         [[phases]]\nkind = \"drive\"\nspeed_kmh = 0\nduration_s = 20\npower_kw = 40\n",
    );
    let at = |s: f64| cycle.at(s).unwrap();
    assert!((at(10.0).speed_m_s - 10.0).abs() < 1e-9 && at(10.0).grade == -0.05);
    assert!((at(10.0).acceleration_m_s2 - 1.0).abs() < 1e-9);
    assert_eq!(
        (at(30.0).rpm, at(30.0).load),
        (Some(3000.0), Load::FullLoadShare(0.5))
    );
    assert_eq!(at(59.0).load, Load::ManifoldPressure(150e3));
    assert_eq!(
        (at(59.0).ambient_k, at(59.0).wind_m_s),
        (Some(303.15), Some(4.0))
    );
    assert_eq!(at(70.0).load, Load::Power(40e3));
}

#[test]
fn patterns_repeat_smoothly_and_stay_within_grip() {
    for pattern in Pattern::ALL {
        let points = pattern.points();
        assert_eq!(points[0][0], 0.0);
        assert_eq!(points[0][1], points[points.len() - 1][1], "{pattern:?}");
        let spec = PhaseSpec {
            trace: points.to_vec(),
            laps: Some(1),
            ..PhaseSpec::new(PhaseKind::Drive)
        };
        assert_eq!(spec.problems("x"), [], "{pattern:?}");
    }
}

#[test]
fn ramps_between_builtin_phases_keep_to_what_tyres_allow() {
    for builtin in Builtin::ALL {
        let cycle = builtin.cycle().unwrap();
        let intervals = cycle.intervals(f64::INFINITY);
        let steepest = intervals.iter().map(|i| i.from.acceleration_m_s2.abs());
        let steepest = steepest.fold(0.0, f64::max);
        assert!(steepest < 10.0, "{builtin:?}: {steepest}");
        for pair in intervals.windows(2) {
            let jump = pair[1].from.speed_m_s - pair[0].to.speed_m_s;
            assert!(jump.abs() < 1e-9, "{builtin:?} at {}", pair[1].start_s);
        }
    }
}

#[test]
fn faults_of_a_sheet_are_all_told_with_their_key_path() {
    let text = fault(
        "[[phases]]\nkind = \"drive\"\nspeed_kmh = 900\nduration_s = 60\nduration_min = 1\n\
         [[phases]]\nkind = \"stand\"\nspeed_kmh = 10\nduration_s = nan\n\
         [[phases]]\nkind = \"key-off\"\nduration_s = 60\nrpm = 800\n\
         [[phases]]\nkind = \"drive\"\nlaps = 0\ngrade_percent = 80\n\
         [[phases]]\nkind = \"drive\"\nspeed_kmh = 50\nduration_s = 9\nmap_kpa = 90\npower_kw = 5\n\
         [[phases]]\nkind = \"drive\"\nlaps = 2\ntrace = [[1, 0], [0.5, 10], [0.6, 90]]\n",
    );
    for expected in [
        "cycle.phases[0].speed_kmh = 900: outside 0 to 450",
        "cycle.phases[0].duration_s = 2 lengths: exactly one",
        "cycle.phases[1].duration_s = NaN: outside 1 to 86400",
        "cycle.phases[1].speed_kmh = given: a stand or key-off phase has no speed",
        "cycle.phases[2] = key-off with rpm or load",
        "cycle.phases[3].laps = 0: outside 1 to 1000",
        "cycle.phases[3].speed_kmh = 0 speeds: exactly one",
        "cycle.phases[3].grade_percent = 80: outside -40 to 40",
        "cycle.phases[4] = several loads",
        "cycle.phases[4].rpm = missing",
        "cycle.phases[5].trace[0] = 1: must start at 0 s",
        "cycle.phases[5].trace[1] = 0.5: time does not rise",
        "cycle.phases[5].trace[2] = 222.2 m/s2: more than tyres allow",
        "cycle.phases[5].trace = 90: last speed must be the first",
    ] {
        assert!(text.contains(expected), "{expected} not in\n{text}");
    }
}

#[test]
fn fails_when_a_phase_is_too_short_for_its_speed() {
    let text = fault(
        "[[phases]]\nkind = \"stand\"\nduration_s = 60\n\
         [[phases]]\nkind = \"drive\"\nspeed_kmh = 108\nduration_s = 10\n",
    );
    assert!(
        text.contains("cycle.phases[1].duration_s = too short: it takes 20.0 s"),
        "{text}"
    );
    let steep =
        fault("[[phases]]\nkind = \"drive\"\nspeed_kmh = 0\nto_speed_kmh = 200\nduration_s = 2\n");
    assert!(
        steep.contains("27.8 m/s2: more than tyres allow"),
        "{steep}"
    );
}

#[test]
fn fails_for_no_phases_unknown_keys_and_endless_repeats() {
    assert!(fault("").contains("cycle.phases = 0: at least 1 needed"));
    let unknown = "[[phases]]\nkind = \"drive\"\nspeed = 3\n";
    assert!(toml::from_str::<CycleSpec>(unknown).is_err());
    let endless =
        fault("[[phases]]\nkind = \"drive\"\nduration_min = 1440\ntrace = [[0, 1], [0.001, 1]]\n");
    assert!(endless.contains("more than 200000 points"), "{endless}");
}

#[test]
fn the_schema_knows_every_key_of_a_phase() {
    let schema = serde_json::to_string(&schemars::schema_for!(CycleSpec)).unwrap();
    for key in [
        "duration_min",
        "to_speed_kmh",
        "pattern",
        "stop-and-go",
        "key-off",
        "bonnet_open",
    ] {
        assert!(schema.contains(key), "{key}");
    }
}
