//! Logs that the model itself has made go up: what was put in comes back, byte for byte as on the command line.

use std::collections::BTreeMap;
use std::fs;

use baysoak::cycle::{self, LogOptions, import};
use baysoak::sheet::{Chooser, Sheet};
use baysoak::study::fit::{Drive, predict};
use baysoak::study::run::{RunOptions, run};
use baysoak::web::Sink;
use serde_json::{Value, json};

use super::studies::program_in;
use super::{demo, events, last, page, post};

const KEYS: [(&str, f64); 2] = [
    ("intake.sensor.film_k", 20.0),
    ("intake.sensor.time_constant_s", 8.0),
];

/// A car whose sensor tells much in a short drive, told what to fit.
fn sheet() -> String {
    let keys: Vec<String> = KEYS.iter().map(|(k, _)| format!("\"{k}\"")).collect();
    let text = include_str!("../measured/turbo-diesel.toml");
    let (before, own) = text.split_once("\nfit = [").unwrap();
    let after = own.split_once("]\n").unwrap().1;
    format!("{before}\nfit = [{}]\n{after}", keys.join(", "))
}

/// Seven minutes: town with stops, a road, town again; `pace` moves the goals.
fn speeds(pace: f64) -> Vec<f64> {
    let goals = [
        0.0, 35.0, 0.0, 50.0, 20.0, 85.0, 105.0, 70.0, 90.0, 30.0, 0.0, 45.0, 0.0, 25.0,
    ];
    let mut speed: f64 = 0.0;
    let each = (0..420).map(|t| {
        let goal = pace * goals[t / 30];
        speed = (speed + (goal - speed).clamp(-7.0, 4.0)).max(0.0);
        speed
    });
    each.collect()
}

/// What a logger writes of a drive whose sensor reads `sensor_c`.
fn logged(pace: f64, sensor_c: impl Fn(usize) -> f64) -> String {
    let mut text = "time_s,speed_kmh,rpm,maf_gs,map_kpa,ect_c,amb_c,iat_c\n".to_owned();
    let speeds = speeds(pace);
    for (t, v) in speeds.iter().enumerate() {
        let push = v - speeds[t.saturating_sub(1)];
        let rpm = 850.0 + 22.0 * v;
        let flow = rpm / 100.0 * (1.0 + 0.3 * push.max(0.0));
        let pressure = (45.0 + 0.6 * v + 15.0 * push.max(0.0)).min(170.0);
        let sensor = sensor_c(t);
        text += &format!("{t},{v:.1},{rpm:.0},{flow:.2},{pressure:.0},88,18,{sensor:.1}\n");
    }
    text
}

/// The log of a car with the true values, in tenths of a kelvin.
fn true_log(pace: f64) -> String {
    let blank = logged(pace, |_| 25.0);
    let read = import(blank.as_bytes(), "log", &LogOptions::default()).unwrap();
    let drive = Drive::of(read, "log");
    let truth: BTreeMap<String, f64> = KEYS.iter().map(|(k, v)| ((*k).into(), *v)).collect();
    let sheet = Sheet::parse(&sheet(), "demo.toml").unwrap();
    let build = sheet.settle(&mut Chooser::Given(&truth)).unwrap().build;
    let model = predict(&build, &drive, Some(8.0)).unwrap();
    let (times, readings) = (&drive.channels[0].time_s, &model.channels[0]);
    logged(pace, |t| {
        let at = times.iter().position(|s| (s - t as f64).abs() < 0.5);
        at.map_or(25.0, |i| readings[i] - 273.15)
    })
}

#[test]
fn a_fit_by_upload_finds_the_truth_and_is_that_of_the_command_line() {
    let (seen, unseen) = (true_log(1.0), true_log(0.8));
    let asked = json!({
        "sheet": {"name": "demo.toml", "text": sheet()},
        "logs": [{"name": "seen.csv", "text": seen}],
        "hold_out": [{"name": "unseen.csv", "text": unseen}],
    });
    let got = events(page().answer(&post("/api/fit", &asked)));
    let found: Value = serde_json::from_str(last(&got, "fit")).unwrap();
    for (key, truth) in KEYS {
        let inputs = found["inputs"].as_array().unwrap();
        let input = inputs.iter().find(|i| i["key"] == key).unwrap();
        let value = |name: &str| input[name].as_f64().unwrap();
        assert!(
            (value("new_low")..=value("new_high")).contains(&truth),
            "{input}"
        );
        assert!((value("value") - truth).abs() < 0.1 * truth, "{input}");
    }
    assert!(
        found["held_out"]["rmse_k"].as_f64().unwrap() < 0.3,
        "{found}"
    );
    let stages = got.iter().filter(|(n, _)| n == "progress").count();
    assert!(stages >= 4, "{stages}");

    let folder = tempfile::tempdir().unwrap();
    for (name, text) in [
        ("demo.toml", &sheet()),
        ("seen.csv", &seen),
        ("unseen.csv", &unseen),
    ] {
        fs::write(folder.path().join(name), text).unwrap();
    }
    let flags = [
        "fit",
        "demo.toml",
        "--log",
        "seen.csv",
        "--hold-out",
        "unseen.csv",
        "--json",
        "-",
        "--out",
        "fitted.toml",
        "--quiet",
    ];
    assert!(last(&got, "fit") == program_in(folder.path(), &flags));
    let told: Value = serde_json::from_str(last(&got, "sheet")).unwrap();
    let written = fs::read_to_string(folder.path().join("fitted.toml")).unwrap();
    assert!(told["text"] == written, "{told}");
    Sheet::parse(&written, "fitted.toml").unwrap();
}

#[test]
fn a_fit_ends_when_nobody_waits_for_it() {
    let asked = json!({
        "sheet": {"name": "demo.toml", "text": sheet()},
        "logs": [{"name": "seen.csv", "text": true_log(1.0)}],
    });
    let baysoak::web::Reply::Stream(work, stop) = page().answer(&post("/api/fit", &asked)) else {
        panic!("no work");
    };
    // gone at the first word: no search among all inputs, no start, no round
    work(&Sink::new(|_| false, stop));
}

/// The log of a drive of the model, with the metal of the downpipe in it.
fn metal_log(sheet: &Sheet, pace: f64) -> String {
    let mut trace = "time_s,speed_kmh\n".to_owned();
    for (i, v) in speeds(pace).iter().chain(&speeds(pace)).enumerate() {
        trace += &format!("{},{v:.1}\n", 2 * i);
    }
    let (cycle, _) = cycle::read_csv(trace.as_bytes(), "trace").unwrap();
    let series = run(sheet, &cycle, &RunOptions::default(), &mut |_| {})
        .unwrap()
        .series;
    let metal = series.column("metal:downpipe_c").unwrap();
    let speed = series.column("speed_kmh").unwrap();
    let mut text = "time_s,speed_kmh,ambient_c,metal:downpipe_c\n".to_owned();
    for (i, t) in series.time_s.iter().enumerate() {
        // a thermocouple's noise, the same at every call
        let noise = 2.0 * (1.7 * t).sin() + 1.5 * (0.31 * t).cos();
        let (v, c) = (speed[i], metal[i] + noise);
        text += &format!("{t},{v:.1},28,{c:.1}\n");
    }
    text
}

#[test]
fn a_test_of_an_option_is_judged_with_the_model_as_on_the_command_line() {
    let bare = Sheet::parse(&demo().text, "demo.toml").unwrap();
    let wrap = bare.options().into_iter().find(|o| o.name == "wrap");
    let treated = bare.with_option(&wrap.unwrap()).unwrap();
    let logs = [
        ("a1.csv", metal_log(&bare, 1.0)),
        ("a2.csv", metal_log(&bare, 0.8)),
        ("b1.csv", metal_log(&treated, 0.9)),
        ("b2.csv", metal_log(&treated, 1.1)),
    ];
    let file = |i: usize| json!({"name": logs[i].0, "text": logs[i].1});
    let asked = json!({
        "car": {"sheet": {"name": "demo.toml", "text": demo().text}, "option": "wrap"},
        "before": [file(0), file(1)], "after": [file(2), file(3)],
        "channel": "metal:downpipe_c", "claim_k": -50.0,
    });
    let got = events(page().answer(&post("/api/judge", &asked)));
    let found: Value = serde_json::from_str(last(&got, "judge")).unwrap();
    let prediction = &found["prediction"];
    assert!(prediction[0].as_f64().unwrap() > 5.0, "{found}");
    assert_eq!(prediction[1], true, "{found}");
    assert_eq!(found["claim"], json!([-50.0, false]));
    let shares = got.iter().filter(|(n, _)| n == "progress").count();
    // a run for each log, and for those after two more of the prediction
    assert_eq!(shares, 8);

    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("demo.toml"), demo().text).unwrap();
    for (name, text) in &logs {
        fs::write(folder.path().join(name), text).unwrap();
    }
    let flags = [
        "judge",
        "demo.toml",
        "--option",
        "wrap",
        "--before",
        "a1.csv",
        "--before",
        "a2.csv",
        "--after",
        "b1.csv",
        "--after",
        "b2.csv",
        "--channel",
        "metal:downpipe_c",
        "--claim-k",
        "-50",
        "--json",
        "-",
    ];
    assert!(last(&got, "judge") == program_in(folder.path(), &flags));
}
