//! What a study sends, against the command line and against itself.

use std::fs;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use assert_cmd::Command;
use baysoak::web::{Reply, Sink};
use serde_json::{Value, json};

use super::{SHORT, demo, events, last, page, post, short_car};

/// What the program writes to standard output, called in a folder with the sheet and the drive.
pub fn program(sheet: &str, arguments: &[&str]) -> String {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("demo.toml"), sheet).unwrap();
    fs::write(folder.path().join("short.csv"), SHORT).unwrap();
    program_in(folder.path(), arguments)
}

/// The same in a folder that is there.
pub fn program_in(folder: &Path, arguments: &[&str]) -> String {
    let done = Command::cargo_bin("baysoak")
        .unwrap()
        .args(arguments)
        .current_dir(folder)
        .output()
        .unwrap();
    assert!(matches!(done.status.code(), Some(0 | 1)), "{done:?}");
    String::from_utf8(done.stdout).unwrap()
}

#[test]
fn the_page_gets_the_bytes_of_run_json() {
    let got = events(page().answer(&post("/api/study", &short_car())));
    let wanted = program(
        &demo().text,
        &[
            "run",
            "demo.toml",
            "--cycle",
            "short.csv",
            "--json",
            "-",
            "--quiet",
        ],
    );
    assert!(last(&got, "run") == wanted, "not the same bytes");
    assert_eq!(last(&got, "done"), "");
    assert!(got.iter().all(|(n, _)| n != "compare"), "nothing is chosen");
}

#[test]
fn the_page_gets_the_bytes_of_compare_json() {
    let mut car = short_car();
    car["treat"] = json!({"turbine": "shield-single"});
    car["measures"] = json!(["vent-bonnet"]);
    car["day"] = "hot".into();
    car["draws"] = 10.into();
    let got = events(page().answer(&post("/api/study", &car)));
    let plain = demo().text;
    let sheet = format!(
        "{}[[option]]\nname = \"chosen\"\ntreat = {{ turbine = \"shield-single\" }}\nmeasures = [\"vent-bonnet\"]\n",
        plain.split("# What could be done").next().unwrap()
    );
    // the page's sheet has the same text, so that their hashes agree
    let mut own = car.clone();
    own["sheet"]["text"] = sheet.clone().into();
    let got_own = events(page().answer(&post("/api/study", &own)));
    let flags = [
        "compare",
        "demo.toml",
        "--cycle",
        "short.csv",
        "--day",
        "hot",
        "--draws",
        "10",
        "--json",
        "-",
        "--quiet",
    ];
    assert!(
        last(&got_own, "compare") == program(&sheet, &flags),
        "not the same bytes"
    );
    // and the options that another sheet lists change no figure
    let figures = |events: &[(String, String)]| {
        let all: Value = serde_json::from_str(last(events, "compare")).unwrap();
        all["differences"].clone()
    };
    assert_eq!(figures(&got), figures(&got_own));
}

#[test]
fn figures_come_first_then_pictures_then_rough_bands_then_all() {
    let mut car = short_car();
    car["treat"] = json!({"downpipe": "glass-wrap-2-turns"});
    car["draws"] = 12.into();
    let got = events(page().answer(&post("/api/study", &car)));
    let names: Vec<&str> = got
        .iter()
        .map(|(n, _)| n.as_str())
        .filter(|n| *n != "progress")
        .collect();
    assert_eq!(
        names,
        [
            "run", "compare", "series", "bay", "flow", "run", "compare", "run", "compare", "done"
        ]
    );
    let compared: Vec<Value> = got
        .iter()
        .filter(|(n, _)| n == "compare")
        .map(|(_, d)| serde_json::from_str(d).unwrap())
        .collect();
    assert!(compared[0]["draws"].is_null());
    assert_eq!(compared[1]["draws"]["wanted"], 10);
    assert_eq!(compared[2]["draws"]["wanted"], 12);
    // a wrap keeps heat in: the bay gets less, and its skin is cooler than bare metal
    let difference = |id: &str, place: &str| {
        let all = compared[2]["differences"].as_array().unwrap();
        let found = all
            .iter()
            .find(|d| d["id"] == id && d["where"] == place)
            .unwrap();
        found["value"].as_f64().unwrap()
    };
    assert!(difference("heat_to_bay_mean_w", "downpipe") < 0.0);
    assert!(difference("skin_peak_c", "downpipe") < 0.0);
    let curves: Value = serde_json::from_str(last(&got, "series")).unwrap();
    let times = curves["time_s"].as_array().unwrap().len();
    assert!(times > 10 && times <= 901);
    assert_eq!(
        curves["columns"].as_array().unwrap().len(),
        curves["names"].as_array().unwrap().len()
    );
    assert!(
        curves["columns"]
            .as_array()
            .unwrap()
            .iter()
            .all(|c| c.as_array().unwrap().len() == times)
    );
    assert!(last(&got, "bay").starts_with("<svg"));
    let shares: Vec<f64> = got
        .iter()
        .filter(|(n, _)| n == "progress")
        .filter_map(|(_, d)| serde_json::from_str::<Value>(d).unwrap()["share"].as_f64())
        .collect();
    assert!(shares.iter().all(|s| (0.0..=1.0).contains(s)) && shares.len() >= 6);
}

#[test]
fn a_treated_sheet_is_held_against_its_bare_self() {
    let mut car = short_car();
    let text = demo().text.replacen(
        "kind = \"turbine\"\n",
        "kind = \"turbine\"\ntreatment = \"jacket-ceramic-fibre\"\n",
        1,
    );
    car["sheet"]["text"] = text.into();
    let got = events(page().answer(&post("/api/study", &car)));
    let compared: Value = serde_json::from_str(last(&got, "compare")).unwrap();
    assert_eq!(compared["options"][0]["name"], "all bare");
    car["treat"] = json!({"turbine": "bare"});
    let got = events(page().answer(&post("/api/study", &car)));
    assert!(got.iter().all(|(n, _)| n != "compare"), "bare against bare");
}

#[test]
fn the_report_is_that_of_the_command_line() {
    let got = events(page().answer(&post("/api/report", &short_car())));
    let wanted = program(
        &demo().text,
        &[
            "run",
            "demo.toml",
            "--cycle",
            "short.csv",
            "--html",
            "-",
            "--quiet",
        ],
    );
    assert!(last(&got, "report") == wanted, "not the same bytes");
}

#[test]
fn what_to_measure_first_is_that_of_the_command_line() {
    let mut car = short_car();
    car["draws"] = 10.into();
    let got = events(page().answer(&post("/api/measure", &car)));
    let wanted = program(
        &demo().text,
        &[
            "run",
            "demo.toml",
            "--cycle",
            "short.csv",
            "--draws",
            "10",
            "--json",
            "-",
            "--quiet",
        ],
    );
    assert!(last(&got, "measure") == wanted, "not the same bytes");
}

#[test]
fn a_new_change_stops_the_work_before_it() {
    let page = page();
    let mut car = short_car();
    car["draws"] = 1000.into();
    let Reply::Stream(old, stop) = page.answer(&post("/api/study", &car)) else {
        panic!("no work");
    };
    let Reply::Stream(..) = page.answer(&post("/api/study", &short_car())) else {
        panic!("no work");
    };
    assert!(stop.load(Ordering::Relaxed));
    // it ends without a run and says nothing more
    let sent = Arc::new(AtomicUsize::new(0));
    let count = sent.clone();
    let send = move |_| {
        count.fetch_add(1, Ordering::Relaxed);
        true
    };
    old(&Sink::new(send, stop));
    assert_eq!(sent.load(Ordering::Relaxed), 0);
}

#[test]
fn work_ends_when_nobody_listens_any_more() {
    let mut car = short_car();
    car["draws"] = 1000.into();
    let Reply::Stream(work, stop) = page().answer(&post("/api/study", &car)) else {
        panic!("no work");
    };
    let sent = Arc::new(AtomicUsize::new(0));
    let count = sent.clone();
    // gone after the first figures and a few draws
    let send = move |_| count.fetch_add(1, Ordering::Relaxed) < 12;
    work(&Sink::new(send, stop.clone()));
    assert!(stop.load(Ordering::Relaxed));
    assert!(sent.load(Ordering::Relaxed) < 20, "went on: {sent:?}");
}

#[test]
fn the_same_request_gives_the_same_bytes() {
    let mut car = short_car();
    car["draws"] = 10.into();
    let once = || {
        let all = events(page().answer(&post("/api/study", &car)));
        let kept = all.into_iter().filter(|(n, _)| n != "progress");
        kept.collect::<Vec<_>>()
    };
    assert_eq!(once(), once());
}
