//! Draws, comparison, ranking and the page.

use std::collections::BTreeSet;

use serde_json::Value;

use super::{Bench, starter};

fn words(line: &str) -> Vec<&str> {
    line.split(' ').collect()
}

#[test]
fn draws_fill_the_bands_and_the_same_seed_gives_the_same_bytes() {
    let bench = Bench::new();
    let line = "run --cycle short.csv --draws 10 --seed 4 --json -";
    let one = bench.say(&words(line));
    let found = one.json();
    assert_eq!(found["draws"]["wanted"], 10);
    assert_eq!(found["draws"]["failed"], 0);
    assert_eq!(found["draws"]["seed"], 4);
    for figure in found["figures"].as_array().unwrap() {
        let at = |key: &str| figure[key].as_f64();
        if let (Some(low), Some(median), Some(high)) = (at("low"), at("median"), at("high")) {
            assert!(low <= median && median <= high, "{figure}");
        } else {
            panic!("no band: {figure}");
        }
    }
    for margin in found["margins"].as_array().unwrap() {
        let chance = margin["over_chance_percent"].as_f64().unwrap();
        assert!(
            (0.0..=100.0).contains(&chance) && margin["low_k"].is_f64(),
            "{margin}"
        );
    }
    assert!(found["measure_first"].is_array());
    assert_eq!(one.out, bench.say(&words(line)).out);
    let other = bench.say(&words("run --cycle short.csv --draws 10 --seed 5 --json -"));
    assert_ne!(one.out, other.out);
}

#[test]
fn compare_gives_options_and_differences() {
    let bench = Bench::new();
    let said = bench.say(&words("compare --cycle short.csv --draws 10 --json -"));
    let found = said.json();
    assert_eq!(found["schema"], 1);
    let options = found["options"].as_array().unwrap();
    let names: BTreeSet<&str> = options
        .iter()
        .map(|o| o["name"].as_str().unwrap())
        .collect();
    for name in ["as it is", "coat", "wrap", "jacket", "shield and vent"] {
        assert!(names.contains(name), "{names:?}");
    }
    assert_eq!(options[0]["cost"]["price"], 0.0);
    for option in options {
        for key in ["figures", "margins", "over", "cautions"] {
            assert!(option[key].is_array(), "{key}");
        }
        assert!(option["audit"]["residual_percent"].as_f64().unwrap() < 0.1);
    }
    let differences = found["differences"].as_array().unwrap();
    for d in differences {
        let chance = d["sign_chance_percent"].as_f64().unwrap();
        assert!((0.0..=100.0).contains(&chance), "{d}");
        assert!(d["unit"] != "degC", "{d}");
        assert!(names.contains(d["option"].as_str().unwrap()) && d["option"] != "as it is");
    }
    let over = |o: &Value| {
        o["over"]
            .as_array()
            .unwrap()
            .iter()
            .any(|m| m["margin_k"].as_f64() < Some(0.0))
    };
    assert_eq!(said.code, i32::from(options.iter().any(over)));
}

#[test]
fn the_screens_of_compare_and_rank_fit_100_columns() {
    let bench = Bench::new();
    for line in [
        "compare --cycle short.csv --draws 0",
        "compare --cycle short.csv --draws 0 --units imperial",
        "rank --cycle short.csv --draws 0 --budget 200 --aim bay --part downpipe --only shield-single --only vent-bonnet",
    ] {
        let said = bench.say(&words(line));
        let wide = said.ran().lines().find(|l| l.chars().count() > 100);
        assert_eq!(wide, None, "{line}");
        assert!(said.out.contains("Burns, fire"), "{line}");
        assert!(
            !line.contains("imperial") || !said.out.contains("degC"),
            "{}",
            said.out
        );
    }
}

#[test]
fn every_output_of_compare_and_rank_is_written() {
    let bench = Bench::new();
    let rank = "rank --budget 200 --aim bay --part downpipe --only shield-single";
    for command in ["compare", rank] {
        let line = format!(
            "{command} --cycle short.csv --draws 0 --json o.json --csv o.csv --html o.html --plots p"
        );
        bench.say(&words(&line)).ran();
        let json: Value = serde_json::from_str(&bench.text("o.json")).unwrap();
        assert_eq!(json["schema"], 1);
        let csv = bench.text("o.csv");
        assert!(
            csv.starts_with("option,price_eur,mass_kg,id,where,unit,value"),
            "{csv}"
        );
        let page = bench.text("o.html");
        assert!(page.starts_with("<!DOCTYPE html>") && page.contains("Limits of the model"));
        assert!(bench.text("p/differences.svg").contains("heat to bay"));
    }
}

#[test]
fn rank_json_has_its_shape() {
    let bench = Bench::new();
    let line = "rank --cycle short.csv --draws 10 --budget 500 --aim bay --part downpipe --only shield-single --only glass-wrap-2-turns --json -";
    let found = bench.say(&words(line)).json();
    assert_eq!(found["aim"]["id"], "heat_to_bay_mean_w");
    assert_eq!(found["budget"], 500.0);
    assert_eq!(found["sets_tried"], 3);
    let sets = found["sets"].as_array().unwrap();
    assert_eq!(sets.iter().filter(|s| s["recommended"] == true).count(), 1);
    for set in sets {
        for key in [
            "name", "done", "cost", "value", "change", "tie", "on_front", "over", "cautions",
        ] {
            assert!(!set[key].is_null(), "{key}: {set}");
        }
    }
}

#[test]
fn bad_questions_are_refused_before_any_run() {
    let bench = Bench::new();
    let bare = starter("demo");
    let bare = bare.split("[[option]]").next().unwrap();
    bench.put("bare.toml", bare.as_bytes());
    for (line, told) in [
        ("run --draws 3", "number of draws"),
        ("run --draws many", "many"),
        ("compare --draws 99999", "number of draws"),
        ("compare bare.toml", "[[option]]"),
        ("compare --json - --html -", "can't share"),
        ("rank", "--budget"),
        ("rank --budget nan", "budget"),
        ("rank --budget inf", "budget"),
        ("rank --budget=-5", "budget"),
        ("rank --budget 100 --aim speed", "neighbour:NAME"),
        ("rank --budget 100 --aim neighbour:nobody", "one of"),
        ("rank --budget 100 --part nose", "runners"),
        ("rank --budget 100 --only gold", "baysoak list"),
        ("rank --budget 0.5 --only vent-bonnet", "raise --budget"),
    ] {
        let said = bench.say(&words(&format!("{line} --cycle short.csv")));
        assert_eq!(said.code, 2, "{line}: {}", said.err);
        assert!(said.err.contains(told), "{line}: {}", said.err);
        assert!(
            said.out.is_empty() && !said.err.contains("panicked"),
            "{line}"
        );
    }
    assert_eq!(bench.names(), ["bare.toml", "short.csv"]);
}
