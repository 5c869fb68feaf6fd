//! `fit`: logs in, fitted values, scores of drives kept apart, a new sheet and pictures out.

use super::{Bench, starter};

/// Town driving with a stop, logged in American units, 1 degF steps.
fn log(shift: usize, seconds: usize) -> String {
    let mut text = String::from("Time (s),Speed (mph),RPM,MAF (g/s),Ambient (F),IAT (F)\n");
    for t in 0..seconds {
        let speed = (((t + shift) % 60) as f64 - 15.0).clamp(0.0, 25.0);
        let push = (((t + shift) % 60) as f64 - 15.0).abs() < 10.0;
        let rpm = 850.0 + 40.0 * speed + (t % 3) as f64;
        let flow = rpm / 150.0 * if push { 2.0 } else { 1.0 };
        let reading = 75.0 + 8.0 * (-(t as f64) / 90.0).exp() - 0.1 * speed;
        text += &format!("{t},{speed:.1},{rpm:.0},{flow:.2},59,{reading:.0}\n");
    }
    text
}

fn bench() -> Bench {
    let bench = Bench::new();
    bench.put("car.toml", starter("tow-diesel").as_bytes());
    bench.put("a.csv", log(0, 150).as_bytes());
    bench.put("b.csv", log(17, 150).as_bytes());
    bench
}

const KEYS: &str = "intake.sensor.time_constant_s,intake.pickup_standing_share";

#[test]
fn a_fit_scores_drives_kept_apart_and_writes_a_sheet_that_checks() {
    let bench = bench();
    let line = [
        "fit",
        "car.toml",
        "--log",
        "a.csv",
        "--hold-out",
        "b.csv",
        "--inputs",
        KEYS,
        "--starts",
        "1",
        "--json",
        "-",
        "--out",
        "new.toml",
        "--plots",
        "pictures",
    ];
    let said = bench.say(&line);
    let json = said.json();
    assert_eq!(json["inputs"].as_array().unwrap().len(), 2, "{}", said.err);
    assert_eq!(json["inputs"][0]["key"], "intake.sensor.time_constant_s");
    assert!(json["inputs"][0]["standard_error"].as_f64().unwrap() > 0.0);
    let files = json["files"].as_array().unwrap();
    assert_eq!(
        (files[0]["file"].as_str(), files[0]["held_out"].as_bool()),
        (Some("a.csv"), Some(false))
    );
    assert_eq!(
        (files[1]["file"].as_str(), files[1]["held_out"].as_bool()),
        (Some("b.csv"), Some(true))
    );
    for file in files {
        assert!(file["rmse_k"].as_f64().unwrap() < 30.0);
        // the first minute finds the start and doesn't count
        assert!(file["samples"].as_u64().unwrap() <= 90);
        assert!(file["columns"].as_array().unwrap().len() == 6, "{file}");
    }
    let apart = &json["held_out"];
    assert_eq!(apart["rmse_k"], files[1]["rmse_k"]);
    assert_eq!(apart["median_rmse_k"], files[1]["rmse_k"]);
    assert!(json["gains"].as_array().unwrap().len() > 1);
    // what was read is told on standard error
    assert!(
        said.err.contains("engine load comes from air flow"),
        "{}",
        said.err
    );
    bench.say(&["check", "new.toml"]).ran();
    let pictures: Vec<_> = std::fs::read_dir(bench.path().join("pictures"))
        .unwrap()
        .collect();
    assert_eq!(pictures.len(), 4);
    let svg = bench.text("pictures/fit-b-kept-apart.svg");
    assert!(svg.contains("kept apart from the fit") && svg.contains("K over ambient"));
}

#[test]
fn one_log_can_keep_its_own_end_apart() {
    let bench = bench();
    let line = [
        "fit",
        "car.toml",
        "--log",
        "a.csv",
        "--hold-out",
        "0.4",
        "--inputs",
        KEYS,
        "--starts",
        "1",
        "-q",
    ];
    let said = bench.say(&line);
    let page = said.ran();
    assert!(said.err.is_empty(), "{}", said.err);
    for words in [
        "kept apart",
        "a.csv",
        "intake.pickup_standing_share",
        "more would leave",
    ] {
        assert!(page.contains(words), "no {words} in\n{page}");
    }
    assert!(page.lines().all(|l| l.chars().count() <= 80), "{page}");
}

#[test]
fn bad_asks_are_refused_before_any_work() {
    let bench = bench();
    let refused = |rest: &[&str], words: &[&str]| {
        let mut line = vec!["fit", "car.toml", "-q"];
        line.extend(rest);
        let said = bench.say(&line);
        let told = said.refused().to_owned();
        for word in words {
            assert!(told.contains(word), "no {word} in {told}");
        }
    };
    refused(&["--log", "none.csv"], &["none.csv", "can't read"]);
    refused(
        &["--log", "a.csv", "--hold-out", "a.csv"],
        &["proves nothing"],
    );
    refused(&["--log", "a.csv", "--hold-out", "7"], &["0.01 to 0.9"]);
    refused(
        &["--log", "a.csv", "--ambient-c", "300"],
        &["degrees Celsius"],
    );
    refused(&["--log", "a.csv", "--ambient-c", "nan"], &["--ambient-c"]);
    refused(&["--log", "a.csv", "--json", "a.csv"], &["written over"]);
    refused(&["--log", "a.csv", "--out", "car.toml"], &["written over"]);
    refused(
        &["--log", "a.csv", "--inputs", "intake.sensor.time_constants"],
        &["time_constant_s"],
    );
    refused(
        &["--log", "short.csv", "--inputs", KEYS],
        &["no logged temperature"],
    );
    // too short to look past the first minute: a bad log, not a failed run
    bench.put("minute.csv", log(0, 50).as_bytes());
    refused(
        &["--log", "minute.csv"],
        &["tell nothing about any input", "hint:", "first minute"],
    );
    let left = ["a.csv", "b.csv", "car.toml", "minute.csv", "short.csv"];
    assert_eq!(bench.names(), left);
}

#[test]
fn columns_and_keys_to_fit_are_named_in_the_sheet() {
    let bench = bench();
    let log_table =
        "\n[log]\nfit = [\"intake.sensor.time_constant_s\"]\n\n[log.columns]\nsensor_f = \"odd\"\n";
    bench.put("car.toml", (starter("tow-diesel") + log_table).as_bytes());
    bench.put("a.csv", log(0, 120).replace("IAT (F)", "odd").as_bytes());
    let line = [
        "fit", "car.toml", "--log", "a.csv", "--starts", "1", "--json", "-", "-q",
    ];
    let json = bench.say(&line).json();
    let inputs = json["inputs"].as_array().unwrap();
    assert_eq!(inputs.len(), 1);
    assert_eq!(inputs[0]["key"], "intake.sensor.time_constant_s");
    let columns = json["files"][0]["columns"].to_string();
    assert!(
        columns.contains("odd") && columns.contains("the sheet says so"),
        "{columns}"
    );
}
