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
    // nobody's hose: a limit below the air of a warm day
    let text = starter("demo").replace(
        "kind = \"hose\"\n",
        "kind = \"hose\"\nlimit_c = 60\nstart = 0\n",
    );
    let text = text.replace("start = 0\n", "");
    bench.put("mine.toml", text.as_bytes());
    let line = "run mine.toml --cycle short.csv --json -";
    let cool = bench.say(&line.split(' ').collect::<Vec<_>>());
    let over = |said: &super::Said| {
        let found = said.json();
        let margins = found["margins"].as_array().unwrap();
        margins
            .iter()
            .any(|m| m["margin_k"].as_f64().unwrap() < 0.0)
    };
    assert_eq!((cool.code, over(&cool)), (0, false));
    bench.put("day.toml", b"name = \"furnace\"\nambient_c = 55\n");
    let text = text.replace("limit_c = 60", "limit_c = 50");
    bench.put("mine.toml", text.as_bytes());
    let line = format!("{line} --day day.toml");
    let hot = bench.say(&line.split(' ').collect::<Vec<_>>());
    assert_eq!((hot.code, over(&hot)), (1, true), "{}", hot.err);
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
