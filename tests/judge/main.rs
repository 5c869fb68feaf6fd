//! Tests on the car, judged: known effects come back, intervals are honest, bad logs are told.

#[path = "../common/synthetic_logs.rs"]
mod synthetic_logs;

use assert_cmd::Command;
use baysoak::cycle::{Cycle, EngineState, Phase, PhaseKind, Point, Start};
use baysoak::sheet::{OptionSpec, builtin};
use baysoak::study::judge::{JudgeInput, Judgement, MeasuredLog, judge};
use baysoak::study::run::{RunOptions, run};
use synthetic_logs::{Random, Truth, USUAL, coverage, log};

fn judged(before: &[MeasuredLog], after: &[MeasuredLog], claim_k: Option<f64>) -> Judgement {
    judge(
        &JudgeInput {
            before,
            after,
            channel: "bay_c",
            sheet: None,
            treated: None,
            claim_k,
        },
        &|_| true,
    )
    .unwrap()
}

/// Nominal 90 %; 150 tests leave a standard error of 2.5 %. The example `coverage` takes more.
#[test]
fn verify_intervals_hold_the_effect_as_often_as_they_say() {
    let truth = Truth {
        effect_k: -4.0,
        ..USUAL
    };
    let one = coverage(truth, 1, 150, 100);
    let days = Truth {
        day_k: 2.0,
        ..truth
    };
    let three = coverage(days, 3, 80, 900);
    assert!((0.83..=0.97).contains(&one), "{one}");
    assert!((0.81..=0.98).contains(&three), "{three}");
}

#[test]
fn a_cooler_bay_is_found_on_a_warmer_day_at_another_pace() {
    let mut random = Random::new(5);
    let before = [log(
        Truth {
            minutes: 80.0,
            ..USUAL
        },
        &mut random,
    )];
    let warmer = Truth {
        minutes: 80.0,
        effect_k: -8.0,
        ambient_k: USUAL.ambient_k + 9.0,
        pace: 1.15,
        ..USUAL
    };
    let after = [log(warmer, &mut random)];
    let found = judged(&before, &after, Some(-50.0));
    // as read, the day hides it
    assert!(found.raw_k > -2.0, "{found:?}");
    assert!((found.effect.value + 8.0).abs() < 2.5, "{found:?}");
    assert!(found.shown);
    assert_eq!(found.claim.map(|c| c.1), Some(false));
    assert!(
        found
            .else_explains
            .iter()
            .any(|t| t.contains("outside air differed by 9.0 K"))
    );
    let within = found.effect.high - found.effect.low;
    let with_days = found.interval().high - found.interval().low;
    assert!(with_days > within + 1.0);
}

#[test]
fn nothing_is_shown_where_nothing_changed() {
    let mut random = Random::new(8);
    let before = [log(USUAL, &mut random)];
    let after = [log(USUAL, &mut random)];
    let found = judged(&before, &after, Some(-1.0));
    assert!(!found.shown, "{found:?}");
    assert_eq!(found.claim.map(|c| c.1), Some(true));
    assert!(found.by_state.len() >= 2, "{:?}", found.by_state);
}

#[test]
fn loads_that_change_with_the_part_are_told() {
    let mut random = Random::new(2);
    let before = [log(Truth { pace: 0.5, ..USUAL }, &mut random)];
    let after = [log(Truth { pace: 1.5, ..USUAL }, &mut random)];
    let found = judged(&before, &after, None);
    assert!(
        found
            .else_explains
            .iter()
            .any(|t| t.contains("mimic") || t.contains("top speed")),
        "{found:?}"
    );
}

/// Logs made by the model itself, with noise: its own prediction must come back.
#[test]
fn a_prediction_of_the_model_agrees_with_logs_made_by_it() {
    let sheet = builtin("demo").unwrap();
    let option = OptionSpec::treating("wrap", [("downpipe", "glass-wrap-2-turns")]);
    let treated = sheet.with_option(&option).unwrap();
    let mut random = Random::new(4);
    let mut drive = |sheet: &baysoak::sheet::Sheet, goals: &[f64]| -> MeasuredLog {
        let points = (0..=120)
            .map(|i| Point::road(15.0 * f64::from(i), goals[(i / 20) as usize % goals.len()]));
        let phase = Phase::new(
            "drive",
            PhaseKind::Drive,
            EngineState::Running,
            false,
            points.collect(),
        )
        .unwrap();
        let cycle = Cycle::new("drive", "drive", "here", Start::Warm, vec![phase]).unwrap();
        let series = run(sheet, &cycle, &RunOptions::default(), &mut |_| {})
            .unwrap()
            .series;
        let metal = series.column("metal:downpipe_c").unwrap();
        MeasuredLog {
            name: "model".to_owned(),
            cycle,
            time_s: series.time_s.clone(),
            channels: vec![(
                "Metal:Downpipe_C".to_owned(),
                metal
                    .iter()
                    .map(|c| Some(c + 273.15 + 2.0 * random.normal()))
                    .collect(),
            )],
        }
    };
    let before = [drive(&sheet, &[10.0, 30.0, 20.0, 33.0])];
    let after = [drive(&treated, &[25.0, 12.0, 33.0, 15.0])];
    let found = judge(
        &JudgeInput {
            before: &before,
            after: &after,
            // logs may write names as they like
            channel: "Metal:Downpipe_C",
            sheet: Some(&sheet),
            treated: Some(&treated),
            claim_k: None,
        },
        &|_| true,
    )
    .unwrap();
    let (predicted, _) = found.prediction.unwrap();
    assert!(predicted > 20.0, "{found:?}");
    assert!(
        (found.effect.value / predicted - 1.0).abs() < 0.3,
        "{found:?}"
    );
}

/// Without coolant in the log, the model of the car starts as warm as the channels show it.
#[test]
fn a_log_that_begins_warm_starts_a_warm_car() {
    let start = |text: &str| {
        let log = MeasuredLog::read(text.as_bytes(), "log.csv").unwrap();
        log.cycle.start
    };
    let head = "time_s,speed_kmh,ambient_c,bay_c,metal_c\n";
    assert_eq!(
        start(&format!("{head}0,50,20,31,22\n1,50,20,31,22\n")),
        Start::Cold
    );
    assert_eq!(
        start(&format!("{head}0,50,20,,260\n1,50,20,31,260\n")),
        Start::Warm
    );
    let coolant = "time_s,speed_kmh,ambient_c,coolant_c,metal_c\n0,50,20,22,90\n1,50,20,22,90\n";
    assert_eq!(start(coolant), Start::Cold);
}

fn csv(truth: Truth, seed: u64) -> String {
    let log = log(truth, &mut Random::new(seed));
    let mut text = "time_s;speed_kmh;power_kw;ambient_c;Bay_C\n".to_owned();
    for (&t, k) in log.time_s.iter().zip(&log.channels[0].1) {
        let demand = log.cycle.at(t).unwrap();
        let baysoak::cycle::Load::Power(w) = demand.load else {
            continue;
        };
        let row = [
            t,
            3.6 * demand.speed_m_s,
            w / 1e3,
            demand.ambient_k.unwrap() - 273.15,
            k.unwrap() - 273.15,
        ];
        let cells: Vec<String> = row
            .iter()
            .map(|v| format!("{v:.2}").replace('.', ","))
            .collect();
        text.push_str(&format!("{}\n", cells.join(";")));
    }
    text
}

fn said(folder: &tempfile::TempDir, line: &[&str]) -> (i32, String, String) {
    let mut command = Command::new(env!("CARGO_BIN_EXE_baysoak"));
    let output = command
        .current_dir(folder.path())
        .args(line)
        .output()
        .unwrap();
    let text = |b: &[u8]| String::from_utf8_lossy(b).into_owned();
    (
        output.status.code().unwrap(),
        text(&output.stdout),
        text(&output.stderr),
    )
}

#[test]
fn the_program_judges_files_and_tells_what_is_wrong_with_them() {
    let folder = tempfile::tempdir().unwrap();
    let put = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).unwrap();
    put("a.csv", &csv(USUAL, 1));
    put(
        "b.csv",
        &csv(
            Truth {
                effect_k: -9.0,
                ..USUAL
            },
            2,
        ),
    );
    let logs = ["judge", "--before", "a.csv", "--after", "b.csv"];
    let with = |more: &[&'static str]| [&logs[..], more].concat();
    let (code, out, err) = said(&folder, &with(&["--channel", "bay_c", "--claim-k", "-9"]));
    assert_eq!(code, 0, "{out}{err}");
    assert!(
        out.contains("cooler after the change") && out.contains("agrees with it"),
        "{out}"
    );
    let (code, out, _) = said(&folder, &with(&["--channel", "bay_c", "--claim-k", "-50"]));
    assert_eq!(code, 1);
    assert!(out.contains("lies outside"), "{out}");
    let (code, out, _) = said(&folder, &with(&["--channel", "bay_c", "--json", "-"]));
    assert_eq!(code, 0);
    let json: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert!(
        (json["effect"]["value"].as_f64().unwrap() + 9.0).abs() < 3.0,
        "{out}"
    );
    assert!(json["claim"].is_null());

    let (code, _, err) = said(&folder, &with(&["--channel", "skin_c"]));
    assert_eq!(code, 2);
    assert!(
        err.contains("no column skin_c") && err.contains("bay_c"),
        "{err}"
    );
    put(
        "bad.csv",
        "time_s,speed_kmh,bay_c\n0,10,50\n1,10,hot\n2,10,inf\n3,10,5000\n",
    );
    let (code, _, err) = said(
        &folder,
        &[
            "judge",
            "--before",
            "bad.csv",
            "--after",
            "none.csv",
            "--channel",
            "bay_c",
        ],
    );
    assert_eq!(code, 2);
    for part in [
        "line 3, column bay_c = \"hot\"",
        "line 4",
        "5000",
        "none.csv",
    ] {
        assert!(err.contains(part), "{part} not in {err}");
    }
    put("short.csv", "time_s,speed_kmh,bay_c\n0,10,50\n1,10,50\n");
    let (code, _, err) = said(
        &folder,
        &[
            "judge",
            "--before",
            "short.csv",
            "--after",
            "short.csv",
            "--channel",
            "bay_c",
        ],
    );
    assert_eq!(code, 2);
    assert!(err.contains("too few"), "{err}");
}
