//! `run`: what is found, and that it stays.

use serde_json::Value;

use super::{Bench, starter};

fn found(build: &str) -> Value {
    let bench = Bench::new();
    bench.put("mine.toml", starter(build).as_bytes());
    let line = "run mine.toml --cycle short.csv --json -";
    bench.say(&line.split(' ').collect::<Vec<_>>()).json()
}

fn figure<'a>(found: &'a Value, id: &str, place: &str) -> Option<&'a Value> {
    let figures = found["figures"].as_array().unwrap();
    figures
        .iter()
        .find(|f| f["id"] == id && f["where"] == place)
}

#[track_caller]
fn value(found: &Value, id: &str, place: &str) -> f64 {
    let figure = figure(found, id, place).unwrap_or_else(|| panic!("no {id} at {place}"));
    figure["value"].as_f64().unwrap()
}

/// Exhaust parts of a build with their zone, as its sheet gives them.
fn exhaust_parts(build: &str) -> Vec<(String, bool)> {
    let sheet: toml::Table = starter(build).parse().unwrap();
    let parts = sheet["exhaust"].as_array().unwrap();
    let outside = |p: &toml::Value| p.get("zone").and_then(|z| z.as_str()) == Some("outside");
    let name = |p: &toml::Value| p["name"].as_str().unwrap().to_owned();
    parts.iter().map(|p| (name(p), outside(p))).collect()
}

#[test]
fn json_has_every_id_that_always_exists() {
    for build in ["demo", "v8", "tow-diesel"] {
        let found = found(build);
        for place in ["pickup", "sensor", "valve"] {
            for id in ["intake_rise_mean_k", "intake_rise_peak_k"] {
                value(&found, id, place);
            }
        }
        value(&found, "charge_density_loss_percent", "valve");
        for place in ["density", "standard"] {
            value(&found, "power_loss_percent", place);
        }
        let parts = exhaust_parts(build);
        assert!(parts.len() > 2, "{build}");
        for (part, outside) in &parts {
            let skin_c = value(&found, "skin_peak_c", part);
            let metal_c = value(&found, "metal_peak_c", part);
            assert!(skin_c <= metal_c + 1e-6, "{part}: {skin_c} over {metal_c}");
            let to_bay = figure(&found, "heat_to_bay_mean_w", part);
            assert_eq!(to_bay.is_none(), *outside, "{part}");
        }
        value(&found, "heat_to_bay_mean_w", "all");
        for zone in ["nose", "front", "upper", "hot", "low"] {
            value(&found, "bay_air_peak_c", zone);
        }
        let turbo = starter(build).contains("\n[turbocharger]");
        let inlet = figure(&found, "turbine_inlet_mean_c", "turbine");
        assert_eq!(inlet.is_some(), turbo, "{build}");
    }
}

#[test]
fn json_has_its_shape_and_units_in_the_ids() {
    let found = found("demo");
    for key in ["program", "sheet", "cycle", "day", "audit", "work"] {
        assert!(found[key].is_object(), "{key}");
    }
    for key in ["figures", "margins", "warnings", "assumed"] {
        assert!(found[key].is_array(), "{key}");
    }
    assert_eq!(found["schema"], 1);
    assert_eq!(found["program"]["name"], "baysoak");
    assert_eq!(found["cycle"]["duration_s"], 90.0);
    assert_eq!(found["sheet"]["hash"].as_str().unwrap().len(), 16);
    for figure in found["figures"].as_array().unwrap() {
        let id = figure["id"].as_str().unwrap();
        let ending = match figure["unit"].as_str().unwrap() {
            "K" => "_k",
            "degC" => "_c",
            "W" => "_w",
            "kW" => "_kw",
            "%" => "_percent",
            "m/s" => "_m_s",
            "kPa" => "_kpa",
            "mm" => "_mm",
            other => panic!("{id} is in {other}"),
        };
        assert!(id.ends_with(ending), "{id}");
        // without draws there are no bands
        assert!(figure["low"].is_null() && figure["high"].is_null(), "{id}");
    }
    let assumed = found["assumed"].as_array().unwrap();
    assert!(!assumed.is_empty());
    for a in assumed {
        let number = |key: &str| a[key].as_f64().unwrap();
        let ordered = number("low") <= number("value") && number("value") <= number("high");
        assert!(ordered && !a["basis"].as_str().unwrap().is_empty(), "{a}");
    }
    for margin in found["margins"].as_array().unwrap() {
        let number = |key: &str| margin[key].as_f64().unwrap();
        let gap_k = number("limit_c") - number("peak_c");
        assert!((gap_k - number("margin_k")).abs() < 1e-9, "{margin}");
        assert!(!margin["source"].as_str().unwrap().is_empty(), "{margin}");
    }
}

#[test]
fn energy_is_accounted_for() {
    for build in ["demo", "v8", "tow-diesel"] {
        let audit = &found(build)["audit"];
        let number = |key: &str| audit[key].as_f64().unwrap();
        assert!(number("residual_percent") < 0.1, "{build}: {audit}");
        assert!(number("in_w") > 1000.0, "{build}: {audit}");
        let left_w = number("in_w") - number("out_w") - number("stored_w");
        assert!((left_w - number("residual_w")).abs() < 1e-6, "{audit}");
    }
}

#[test]
fn a_limit_that_is_exceeded_gives_exit_code_1() {
    let bench = Bench::new();
    let text = starter("demo").replace("kind = \"hose\"\n", "kind = \"hose\"\nlimit_c = 50\n");
    bench.put("mine.toml", text.as_bytes());
    for (ambient_c, code) in [(30, 0), (55, 1)] {
        bench.put("day.toml", format!("ambient_c = {ambient_c}\n").as_bytes());
        let line = "run mine.toml --cycle short.csv --day day.toml --json -";
        let said = bench.say(&line.split(' ').collect::<Vec<_>>());
        let found = said.json();
        let margins = found["margins"].as_array().unwrap();
        let margin_k = |m: &Value| m["margin_k"].as_f64().unwrap();
        let over: Vec<&Value> = margins.iter().filter(|m| margin_k(m) < 0.0).collect();
        assert_eq!(said.code, code, "{over:?}");
        assert_eq!(!over.is_empty(), code == 1, "{over:?}");
        assert!(over.iter().all(|m| m["part"] == "heater hose"), "{over:?}");
    }
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    let bench = Bench::new();
    for target in ["--json", "--csv"] {
        let line = ["run", "--cycle", "short.csv", target, "-"];
        let first = bench.say(&line);
        assert!(first.ran().len() > 1000);
        assert_eq!(first.out, bench.say(&line).out, "{target}");
    }
}

#[test]
fn the_demonstration_build_is_what_runs_without_a_sheet() {
    let bench = Bench::new();
    let without = bench.say(&["run", "--cycle", "short.csv", "--json", "-"]);
    assert_eq!(without.json(), found("demo"));
}

/// Share by which a figure may differ: float functions differ between platforms, and steps with them.
const TOLERANCE: f64 = 0.005;

/// Air of the demonstration's day, degC: temperatures are compared as what they are above it.
const DAY_C: f64 = 28.0;

#[test]
fn regress_short_run_of_the_demonstration_build() {
    let found = found("demo");
    let kept: toml::Table = include_str!("short_run.toml").parse().unwrap();
    let kept = kept["figure"].as_array().unwrap();
    assert!(kept.len() > 10);
    let mut now = String::new();
    let mut moved = Vec::new();
    for figure in kept {
        let (id, place) = (
            figure["id"].as_str().unwrap(),
            figure["where"].as_str().unwrap(),
        );
        let want = figure["value"].as_float().unwrap();
        let got = value(&found, id, place);
        let zero = if id.ends_with("_c") { DAY_C } else { 0.0 };
        if (got - want).abs() > TOLERANCE * (want - zero).abs() {
            moved.push(format!("{id} at {place}: {want} before, {got:.2} now"));
        }
        now += &format!("\n[[figure]]\nid = \"{id}\"\nwhere = \"{place}\"\nvalue = {got:.3}\n");
    }
    assert!(
        moved.is_empty(),
        "{}\nall of them now:\n{now}",
        moved.join("\n")
    );
}
