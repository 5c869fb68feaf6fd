//! `new` and `check`.

use super::{Bench, starter};

const BUILDS: [&str; 3] = ["demo", "v8", "tow-diesel"];

#[test]
fn new_writes_a_sheet_that_check_accepts() {
    for build in BUILDS {
        let bench = Bench::new();
        let wrote = bench.say(&["new", "--build", build, "mine.toml"]);
        assert_eq!(wrote.code, 0, "{}", wrote.err);
        assert!(wrote.out.is_empty());
        assert!(
            wrote.err.contains("baysoak check mine.toml"),
            "{}",
            wrote.err
        );
        assert_eq!(bench.names(), ["mine.toml", "short.csv"]);
        assert_eq!(bench.text("mine.toml"), starter(build));
        let checked = bench.say(&["check", "mine.toml"]);
        assert_eq!(checked.code, 0, "{build}: {}", checked.err);
        assert!(checked.out.ends_with("the sheet is fine\n"));
        assert!(checked.err.is_empty(), "{}", checked.err);
    }
}

#[test]
fn new_without_a_name_writes_build_toml() {
    let bench = Bench::new();
    assert_eq!(bench.say(&["new"]).code, 0);
    assert_eq!(bench.text("build.toml"), starter("demo"));
}

#[test]
fn new_refuses_to_overwrite_without_force() {
    let bench = Bench::new();
    bench.put("mine.toml", b"my own work");
    let refused = bench.say(&["new", "mine.toml"]);
    let told = refused.refused();
    assert!(
        told.contains("mine.toml") && told.contains("--force"),
        "{told}"
    );
    assert_eq!(bench.text("mine.toml"), "my own work");
    assert_eq!(bench.say(&["new", "--force", "mine.toml"]).code, 0);
    assert_eq!(bench.text("mine.toml"), starter("demo"));
    assert_eq!(bench.names(), ["mine.toml", "short.csv"]);
}

#[test]
fn new_into_a_folder_that_is_not_there_is_refused() {
    let bench = Bench::new();
    let refused = bench.say(&["new", "none/mine.toml"]);
    assert!(refused.refused().contains("none/mine.toml"));
    assert_eq!(bench.names(), ["short.csv"]);
}

#[test]
fn check_prints_parts_network_and_what_is_assumed() {
    let bench = Bench::new();
    bench.put("mine.toml", starter("demo").as_bytes());
    let out = bench.say(&["check", "mine.toml"]).out;
    for heading in ["parts: 20\n", "network: ", " links\n", "assumed: "] {
        assert!(out.contains(heading), "no {heading:?} in\n{out}");
    }
    // a part with its metal and size, a node, a link, an assumed key with its reason
    for word in [
        "downpipe",
        "Ferritic stainless 409",
        "62 mm bore, 650 mm long",
    ] {
        assert!(out.contains(word), "no {word:?}");
    }
    for word in [
        "air:hot",
        "metal:downpipe/1",
        "(convection)",
        "(radiation)",
        "estimate",
    ] {
        assert!(out.contains(word), "no {word:?}");
    }
}

#[test]
fn a_value_in_the_sheet_is_no_longer_assumed() {
    let bench = Bench::new();
    let count = |text: &str| {
        bench.put("mine.toml", text.as_bytes());
        let out = bench.say(&["check", "mine.toml"]).out;
        let rest = out.split("assumed: ").nth(1).unwrap();
        rest.split(' ').next().unwrap().parse::<usize>().unwrap()
    };
    let text = starter("demo");
    let known = text.replace(
        "kind = \"fuel_line\"",
        "kind = \"fuel_line\"\nmass_kg = 0.2",
    );
    assert_ne!(text, known);
    assert_eq!(count(&text), count(&known) + 1);
}

#[test]
fn check_writes_the_network_for_others_to_integrate() {
    let bench = Bench::new();
    bench.say(&["new", "mine.toml"]);
    let line = "check mine.toml --cycle short.csv --network net.json";
    let said = bench.say(&line.split(' ').collect::<Vec<_>>());
    assert_eq!(said.code, 0, "{}", said.err);
    assert!(said.out.ends_with("the sheet is fine\n"));
    let file: serde_json::Value = serde_json::from_str(&bench.text("net.json")).unwrap();
    assert_eq!(file["network_schema"], 4);
    let nodes = file["nodes"].as_array().unwrap().len();
    assert_eq!(file["start_k"].as_array().unwrap().len(), nodes);
    let line = "check mine.toml --cycle short.csv --network -";
    let said = bench.say(&line.split(' ').collect::<Vec<_>>());
    assert_eq!(said.out, bench.text("net.json"));
}

#[test]
fn check_takes_a_cycle_only_for_the_network() {
    let bench = Bench::new();
    bench.say(&["new", "mine.toml"]);
    let said = bench.say(&["check", "mine.toml", "--cycle", "short.csv"]);
    assert!(said.refused().contains("--network"));
}
