//! `list`, help and version.

use super::{Bench, said};

fn list(what: &str) -> String {
    let listed = Bench::new().say(&["list", what]);
    assert_eq!(listed.code, 0, "{}", listed.err);
    assert!(listed.err.is_empty(), "{}", listed.err);
    listed.out
}

#[test]
fn metals_come_with_limits_and_their_sources() {
    let out = list("metals");
    assert!(out.lines().next().unwrap().contains("limit from"), "{out}");
    for word in ["stainless-304", "ASM", "to degC"] {
        assert!(out.contains(word), "no {word} in\n{out}");
    }
}

#[test]
fn cycles_come_with_their_sources() {
    let out = list("cycles");
    assert!(out.lines().next().unwrap().contains("source"), "{out}");
    for word in ["wltc-class3b", "UN GTR 15", "UN R83", "soak-restart"] {
        assert!(out.contains(word), "no {word} in\n{out}");
    }
}

#[test]
fn builds_and_days_are_listed_with_what_they_are() {
    let builds = list("builds");
    for name in ["demo", "v8", "tow-diesel"] {
        assert!(builds.contains(name), "{builds}");
    }
    let days = list("days");
    for name in ["standard", "hot", "cold", "degC", "kPa"] {
        assert!(days.contains(name), "{days}");
    }
}

#[test]
fn treatments_measures_and_limits_come_with_sources_and_cautions() {
    let treatments = list("treatments");
    for word in [
        "glass-wrap-2-turns",
        "ASTM C892",
        "all but",
        "Fibres",
        "estimate",
    ] {
        assert!(treatments.contains(word), "no {word} in\n{treatments}");
    }
    let measures = list("measures");
    for word in ["vent-bonnet", "bay.fan", "estimate"] {
        assert!(measures.contains(word), "no {word} in\n{measures}");
    }
    let limits = list("limits");
    for word in ["FMVSS", "13732-1", "brake_fluid", "stainless-304"] {
        assert!(limits.contains(word), "no {word} in\n{limits}");
    }
}

#[test]
fn what_is_listed_can_be_used() {
    let bench = Bench::new();
    let first = |text: String| -> Vec<String> {
        let lines = text.lines().skip(1).filter(|l| !l.starts_with(' '));
        lines
            .map(|l| l.split(' ').next().unwrap().to_owned())
            .collect()
    };
    let builds = first(list("builds"));
    assert_eq!(builds.len(), 3);
    for build in builds {
        assert_eq!(
            bench.say(&["new", "--build", &build, "-"]).code,
            0,
            "{build}"
        );
    }
    let days = first(list("days"));
    assert_eq!(days.len(), 3);
    for day in days {
        let line = ["run", "--cycle", "short.csv", "--day", &day, "--json", "-"];
        assert_eq!(bench.say(&line).json()["day"]["name"], day.as_str());
    }
}

#[test]
fn a_list_that_is_not_there_names_those_that_are() {
    let refused = Bench::new().say(&["list", "wheels"]);
    let told = refused.refused();
    for name in [
        "metals",
        "cycles",
        "builds",
        "days",
        "treatments",
        "measures",
        "limits",
    ] {
        assert!(told.contains(name), "{told}");
    }
}

#[test]
fn help_shows_exit_codes_and_an_example_for_each_command() {
    let bench = Bench::new();
    let help = bench.say(&["--help"]);
    assert_eq!(help.code, 0);
    assert!(help.out.contains("Exit codes: 0 fine"), "{}", help.out);
    for command in ["new", "check", "run", "list"] {
        let help = bench.say(&[command, "--help"]);
        assert_eq!(help.code, 0);
        let example = format!("baysoak {command}");
        let shown = help.out.split("Example").nth(1);
        assert!(shown.is_some_and(|t| t.contains(&example)), "{}", help.out);
    }
    let version = bench.say(&["--version"]).out;
    assert_eq!(
        version.trim(),
        concat!("baysoak ", env!("CARGO_PKG_VERSION"))
    );
}

#[test]
fn no_color_is_honoured() {
    let bench = Bench::new();
    let escape = '\u{1b}';
    for line in [["list", "metals"], ["new", "--help"]] {
        let forced = said(bench.command(&line).env("CLICOLOR_FORCE", "1"));
        assert!(forced.out.contains(escape), "{line:?} has no styles at all");
        let plain = said(
            bench
                .command(&line)
                .env("CLICOLOR_FORCE", "1")
                .env("NO_COLOR", "1"),
        );
        assert!(!plain.out.contains(escape), "{line:?}");
        let piped = bench.say(&line);
        assert!(!piped.out.contains(escape), "{line:?}");
    }
}
