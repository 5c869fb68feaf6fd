use std::fmt::Write;

use baysoak::cycle::{
    Cycle, CycleError, CycleWarning, EngineState, Load, LoadSource, LogReport, PhaseKind, Start,
    from_csv, read_csv,
};
use proptest::prelude::*;

fn good(text: impl AsRef<[u8]>) -> (Cycle, LogReport) {
    read_csv(text.as_ref(), "t.csv").unwrap()
}

fn fault(text: impl AsRef<[u8]>) -> String {
    read_csv(text.as_ref(), "t.csv").unwrap_err().to_string()
}

#[test]
fn reads_a_plain_trace() {
    let (cycle, report) = good("time_s,speed_kmh\n0,0\n10,36\n20,36\n");
    assert_eq!(cycle.duration_s(), 20.0);
    assert!((cycle.distance_m() - 150.0).abs() < 1e-9);
    assert_eq!(report.load, LoadSource::Road);
    assert_eq!(report.rows, 3);
    assert!(report.warnings.is_empty());
}

#[test]
fn reads_semicolons_decimal_comma_byte_order_mark_and_cp1252() {
    let mut text = b"\xef\xbb\xbftime_s;speed_kmh;Temp \xb0C\r\n".to_vec();
    text.extend(b"0,5;36,0;a\r\n1,5;72,0;b\r\n");
    let (cycle, report) = good(&text);
    assert_eq!(cycle.duration_s(), 1.0);
    assert_eq!(report.time_offset_s, 0.5);
    assert!((cycle.distance_m() - 15.0).abs() < 1e-9);
    assert_eq!(report.ignored, ["temp \u{b0}c"]);
}

const LOG: &str = "time_s,speed_kmh,rpm,iat_c,amb_c,map_kpa,maf_gs,ect_c,iat_valid\n\
    0,,,,,,,33.0,0\n\
    1,0,800,24,20,97,4,33,1\n\
    2,0,800,24,20,97,4,33,1\n\
    3,0,0,24,20,97,0.9,,1\n\
    203,0,0,24,20,97,0.9,34,1\n\
    204,0,900,24,20,97,5,34,1\n\
    205,18,1500,24,20,97,15,34,1\n";

#[test]
fn reads_a_log_with_its_own_words_and_splits_it_where_the_engine_stops() {
    let (cycle, report) = good(LOG);
    assert_eq!(report.ignored, ["iat_c", "iat_valid"]);
    assert_eq!(report.load, LoadSource::AirFlow);
    assert_eq!((report.skipped_rows, report.filled_cells), (1, 1));
    assert_eq!(report.time_offset_s, 1.0);
    assert_eq!(
        report.warnings,
        [CycleWarning::Gap {
            line: 6,
            gap_s: 200.0
        }]
    );
    let kinds: Vec<PhaseKind> = cycle.phases.iter().map(|p| p.kind).collect();
    assert_eq!(
        kinds,
        [PhaseKind::Drive, PhaseKind::KeyOff, PhaseKind::Restart]
    );
    assert_eq!(cycle.start, Start::Cold);
    // Up to the stop the engine ran as last logged; it doesn't fade to 0.
    let before = cycle.intervals(f64::INFINITY)[1].to;
    assert_eq!(
        (before.rpm, before.load),
        (Some(800.0), Load::AirFlow(0.004))
    );
    let soak = cycle.at(100.0).unwrap();
    assert_eq!((soak.engine, soak.rpm), (EngineState::Off, None));
    let drive = cycle.at(204.0).unwrap();
    assert_eq!(
        (drive.rpm, drive.load),
        (Some(1500.0), Load::AirFlow(0.015))
    );
    assert_eq!(
        (drive.ambient_k, drive.coolant_k),
        (Some(293.15), Some(307.15))
    );
}

#[test]
fn chooses_the_load_column_that_says_most_and_needs_rpm_for_it() {
    let source = |head: &str, row: &str| {
        let text = format!("time_s,speed_kmh,{head}\n0,50,{row}\n1,50,{row}\n");
        let (cycle, report) = good(text);
        (report.load, cycle.at(0.5).unwrap().load, report.warnings)
    };
    let (load, value, _) = source("rpm,map_kpa", "2000,150");
    assert_eq!(load, LoadSource::ManifoldPressure);
    assert_eq!(value, Load::ManifoldPressure(150e3));
    let (load, value, _) = source("rpm,load_percent", "2000,40");
    assert_eq!(
        (load, value),
        (LoadSource::FullLoadShare, Load::FullLoadShare(0.4))
    );
    let (load, value, _) = source("power_kw", "12");
    assert_eq!((load, value), (LoadSource::Power, Load::Power(12e3)));
    let (load, _, warnings) = source("maf_gs", "12");
    assert_eq!(load, LoadSource::Road);
    assert_eq!(warnings, [CycleWarning::NeedsRpm { column: "maf_gs" }]);
    let (load, _, warnings) = source("rpm,maf_gs", "2000,");
    assert_eq!(load, LoadSource::Road);
    assert_eq!(warnings, [CycleWarning::EmptyColumn { column: "maf_gs" }]);
}

#[test]
fn engine_on_stops_the_engine() {
    let (cycle, _) = good("time_s,speed_kmh,engine_on\n0,0,1\n5,0,0\n300,0,0\n");
    assert_eq!(cycle.phases.len(), 2);
    assert_eq!(cycle.phases[1].engine, EngineState::Off);
    assert_eq!(cycle.phases[1].kind, PhaseKind::KeyOff);
}

#[test]
fn warns_of_jumps_and_of_columns_that_look_known() {
    let (_, report) = good("time_s,speed_kmh,map_kp\n0,0,1\n1,100,1\n");
    let texts: Vec<String> = report.warnings.iter().map(ToString::to_string).collect();
    assert!(
        texts.iter().any(|t| t.contains("did you mean map_kpa")),
        "{texts:?}"
    );
    assert!(
        texts.iter().any(|t| t.contains("27.8 m/s2 before line 3")),
        "{texts:?}"
    );
}

#[test]
fn hot_coolant_means_a_warm_start() {
    let (cycle, _) = good("time_s,speed_kmh,coolant_c\n0,0,88\n1,0,88\n");
    assert_eq!(cycle.start, Start::Warm);
}

#[test]
fn fails_when_cycle_time_goes_backwards() {
    let text = fault("time_s,speed_kmh\n0,0\n2,0\n1,0\n1,0\n");
    assert!(
        text.contains("line 4, column time_s = 1: time must rise, the row before has 2"),
        "{text}"
    );
    assert!(text.contains("line 5, column time_s = 1"), "{text}");
}

#[test]
fn faults_name_line_column_value_and_a_way_out() {
    let head = "time_s,speed_kmh,rpm,map_kpa,maf_gs,engine_on\n0,0,800,40,5,1\n";
    let cases = [
        (
            "1,500,800,40,5,1",
            "line 3, column speed_kmh = 500: outside 0 to 450 km/h; hint: speed is in km/h",
        ),
        ("1,-1,800,40,5,1", "column speed_kmh = -1: outside"),
        (
            "1,0,25000,40,5,1",
            "column rpm = 25000: outside 0 to 20000 1/min",
        ),
        (
            "1,0,800,1.4,5,1",
            "column map_kpa = 1.4: outside 10 to 600 kPa; hint: absolute pressure in kPa",
        ),
        (
            "1,0,800,40,3000,1",
            "column maf_gs = 3000: outside 0 to 2000 g/s",
        ),
        (
            "1,0,800,40,5,0.5",
            "column engine_on = 0.5: neither 0 nor 1",
        ),
        (
            "1,NaN,800,40,5,1",
            "column speed_kmh = \"NaN\": not a finite number; hint: leave a cell empty",
        ),
        (
            "1,inf,800,40,5,1",
            "column speed_kmh = \"inf\": not a finite number",
        ),
        (
            "1,fast,800,40,5,1",
            "column speed_kmh = \"fast\": not a number",
        ),
        (
            "12:00:01,0,800,40,5,1",
            "column time_s = \"12:00:01\": not a number; hint: time is in seconds",
        ),
        (
            ",0,800,40,5,1",
            "line 3, column time_s = empty: every row needs its time",
        ),
        ("1,0,800,40", "line 3 = 4 cells: the header has 6"),
        (
            "1,0,800,40,5,1,9",
            "line 3 = 7 cells: the header has 6; hint: a decimal comma needs ;",
        ),
        ("1,\"1,5\",800,40,5,1", "hint: no thousands separators"),
        ("90000,0,800,40,5,1", "90000 s: longer than 86400 s, a day"),
    ];
    for (row, expected) in cases {
        let text = fault(format!("{head}{row}\n"));
        assert!(text.contains(expected), "{row}: {text}");
    }
}

#[test]
fn faults_of_the_whole_file_say_what_is_missing() {
    let cases: [(&[u8], &str); 7] = [
        (
            b"",
            "file = no rows: empty; hint: the first line must name the columns",
        ),
        (
            b"time_s,speed\n0,0\n",
            "column speed_kmh = missing: needed; hint: is \"speed\" meant?",
        ),
        (b"speed_kmh\n0\n", "column time_s = missing"),
        (
            b"time_s,speed_kmh,rpm,rpm\n0,0,0,0\n",
            "column rpm = \"rpm\": column given twice",
        ),
        (
            b"time_s,speed_kmh\n0,0\n",
            "1 rows with a speed: at least 2 needed",
        ),
        (b"time_s,speed_kmh\n0,\n1,\n", "0 rows with a speed"),
        (
            b"\xff\xfet\0i\0",
            "UTF-16: not CSV text; hint: save it as UTF-8",
        ),
    ];
    for (bytes, expected) in cases {
        let text = fault(bytes);
        assert!(text.contains(expected), "{expected}: {text}");
    }
}

#[test]
fn shows_twenty_faults_and_counts_the_rest() {
    let mut text = "time_s,speed_kmh\n".to_owned();
    for i in 0..50 {
        writeln!(text, "{i},x").unwrap();
    }
    let error = read_csv(text.as_bytes(), "t.csv").unwrap_err();
    assert_eq!(error.problems().len(), 50);
    let shown = error.to_string();
    assert!(shown.ends_with("and 30 more"), "{shown}");
    assert_eq!(shown.lines().count(), 22);
}

#[test]
fn fails_for_a_file_that_is_not_there() {
    let path = std::path::Path::new("no-such-file.csv");
    let error = from_csv(path, "x").unwrap_err();
    assert!(matches!(error, CycleError::Read { .. }));
    assert!(error.to_string().contains("no-such-file.csv"), "{error}");
}

#[test]
fn reads_from_a_path() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("trace.csv");
    std::fs::write(&path, "# a comment\ntime_s\tspeed_kmh\n0\t0\n\n4\t7,2\n").unwrap();
    let cycle = from_csv(&path, "trace").unwrap();
    assert!((cycle.max_speed_m_s() - 2.0).abs() < 1e-12);
}

proptest! {
    #[test]
    fn no_bytes_make_the_reader_panic(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        let mut text = b"time_s,speed_kmh,rpm,engine_on\n".to_vec();
        text.extend(&bytes);
        for input in [&bytes, &text] {
            if let Ok((cycle, report)) = read_csv(input.as_slice(), "any") {
                prop_assert!(report.rows >= 2);
                prop_assert!(cycle.duration_s().is_finite());
            }
        }
    }

    #[test]
    fn any_engine_pattern_gives_phases_that_cover_the_log(rpm in prop::collection::vec(0u8..3, 2..60)) {
        let mut text = "time_s,speed_kmh,rpm\n".to_owned();
        for (i, r) in rpm.iter().enumerate() {
            writeln!(text, "{i},10,{}", u32::from(*r) * 900).unwrap();
        }
        let (cycle, _) = good(text);
        prop_assert_eq!(cycle.duration_s(), (rpm.len() - 1) as f64);
        for (i, r) in rpm.iter().enumerate().take(rpm.len() - 1) {
            let off = cycle.at(i as f64 + 0.5).unwrap().engine == EngineState::Off;
            prop_assert_eq!(off, *r == 0);
        }
    }
}
