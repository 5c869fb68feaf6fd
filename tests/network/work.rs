//! What solving costs, without a clock: a change that makes it cost more, or less, must be meant.

use baysoak::cycle::Builtin;
use baysoak::solve::Work;
use baysoak::study::recording::record;

use super::*;

const FILE: &str = "tests/network/work_counts.toml";
const PINNED: &str = include_str!("work_counts.toml");
/// Another platform's library of functions may round a step across its limit.
const OTHER_PLATFORMS: f64 = 0.02;

/// Names and values of the counts.
fn counts(work: &Work) -> [(&'static str, u64); 4] {
    [
        ("steps", work.steps),
        ("rejected", work.rejected),
        ("rhs_calls", work.rhs_calls),
        ("factorisations", work.factorisations),
    ]
}

fn near(found: u64, pinned: u64) -> bool {
    let slack = if cfg!(all(target_os = "linux", target_arch = "x86_64")) {
        0.0
    } else {
        OTHER_PLATFORMS * pinned as f64
    };
    found.abs_diff(pinned) as f64 <= slack
}

#[test]
fn regress_work_counts() {
    let pinned: toml::Table = toml::from_str(PINNED).unwrap();
    let (mut now, mut apart) = (String::new(), Vec::new());
    for (name, sheet) in cars() {
        let options = RunOptions::default();
        let cycle = Builtin::SoakRestart.cycle().unwrap();
        let recording = record(&settled(&sheet).build, &cycle, &options).unwrap();
        now += &format!("\n[{name}]\n");
        for (key, found) in counts(&recording.work) {
            now += &format!("{key} = {found}\n");
            let was = pinned
                .get(name)
                .and_then(|t| t.get(key))
                .and_then(toml::Value::as_integer)
                .and_then(|n| u64::try_from(n).ok());
            if !was.is_some_and(|was| near(found, was)) {
                apart.push(format!("{name}: {key} {found}, pinned {was:?}"));
            }
        }
    }
    assert!(
        apart.is_empty(),
        "the work of solving has changed:\n{}\nIf it was meant to, say in the commit why, and put this into {FILE} below its first line:\n{now}",
        apart.join("\n")
    );
    let pinned: Vec<&String> = pinned.keys().collect();
    assert_eq!(
        pinned.len(),
        cars().len(),
        "{FILE} has builds that are gone"
    );
}
