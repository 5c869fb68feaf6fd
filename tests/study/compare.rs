//! Options side by side, and sets ranked, on the demonstration build over a short drive.

use baysoak::sheet::raw::Age;
use baysoak::sheet::{OptionSpec, Sheet};
use baysoak::study::compare::{Candidate, Compared, Verdict, candidate, compare, over};
use baysoak::study::draws::{DrawSettings, Drive, StudyError};
use baysoak::study::findings::Margin;
use baysoak::study::rank::{Aim, RankSettings, Ranked, rank};
use baysoak::study::run::RunOptions;

use super::{demo, short_cycle};

fn side_by_side(candidates: &[Candidate], draws: Option<usize>) -> Compared {
    let drive = Drive {
        cycle: &short_cycle(),
        options: &RunOptions::default(),
    };
    let settings = draws.map(|draws| DrawSettings { draws, seed: 1 });
    compare(candidates, drive, settings, &|_| true).unwrap()
}

fn options(sheet: &Sheet, specs: &[OptionSpec]) -> Vec<Candidate> {
    let bare = OptionSpec {
        name: "as it is".into(),
        ..OptionSpec::default()
    };
    let all = [&[bare], specs].concat();
    all.iter().map(|s| candidate(sheet, s).unwrap()).collect()
}

#[test]
fn a_wrap_lowers_the_heat_to_the_bay_in_every_draw_and_an_option_of_nothing_changes_nothing() {
    let sheet = demo();
    let specs = [
        OptionSpec::treating("wrap", [("downpipe", "glass-wrap-2-turns")]),
        OptionSpec {
            name: "nothing".into(),
            ..OptionSpec::default()
        },
    ];
    let compared = side_by_side(&options(&sheet, &specs), Some(10));
    let comparison = &compared.comparison;
    let heat = |option: &str| {
        let mut all = comparison.differences.iter();
        let own = |d: &&baysoak::study::compare::Difference| {
            d.option == option && d.id == "heat_to_bay_mean_w" && d.place == "all"
        };
        all.find(own).unwrap()
    };
    let wrap = heat("wrap");
    assert!(wrap.value < 0.0, "{wrap:?}");
    assert_eq!(wrap.sign_chance_percent, Some(100.0));
    assert!(wrap.low <= wrap.high && wrap.high.unwrap() < 0.0 && wrap.sign_is_known());
    let nothing = comparison
        .differences
        .iter()
        .filter(|d| d.option == "nothing");
    assert!(nothing.clone().count() > 80);
    for d in nothing {
        // the very same numbers go in
        assert!(
            d.value == 0.0 && d.low == Some(0.0) && d.high == Some(0.0),
            "{d:?}"
        );
        assert!(!d.sign_is_known(), "{d:?}");
    }
    let cost = &comparison.options[1].cost;
    assert!(0.0 < cost.price_low && cost.price_low < cost.price && cost.price < cost.price_high);
    assert!(cost.mass_kg > 0.1);
    let cautions = &comparison.options[1].cautions;
    assert!(cautions.iter().any(|c| c.contains("ibres")), "{cautions:?}");
}

#[test]
fn without_draws_nothing_is_said_of_signs() {
    let sheet = demo();
    let specs = [OptionSpec::treating(
        "wrap",
        [("downpipe", "glass-wrap-2-turns")],
    )];
    let compared = side_by_side(&options(&sheet, &specs), None);
    let comparison = &compared.comparison;
    assert!(comparison.draws.is_none());
    for d in &comparison.differences {
        assert!(d.low.is_none() && d.high.is_none() && d.sign_chance_percent.is_none());
        assert!(!d.sign_is_known());
    }
}

fn margin(part: &str, margin_k: f64, chance: Option<f64>) -> Margin {
    Margin {
        part: part.into(),
        what: "w".into(),
        peak_c: 100.0 - margin_k,
        limit_c: 100.0,
        margin_k,
        over_s: 0.0,
        low_k: None,
        high_k: None,
        over_chance_percent: chance,
        source: "invented".into(),
    }
}

#[test]
fn excess_is_judged_against_the_first_option() {
    let first = [
        margin("newly", 3.0, None),
        margin("worse", -3.0, None),
        margin("still", -3.0, None),
        margin("better", -9.0, None),
        margin("fine", 9.0, None),
    ];
    let own = [
        margin("newly", -1.0, None),
        margin("worse", -8.0, None),
        margin("still", -3.4, None),
        margin("better", -2.0, None),
        margin("fine", 7.0, Some(9.0)),
        margin("maybe", 5.0, Some(12.0)),
        margin("a treatment's own", -4.0, None),
    ];
    let found = over(&own, &first);
    let verdict = |part: &str| found.iter().find(|o| o.part == part).map(|o| o.verdict);
    assert_eq!(verdict("newly"), Some(Verdict::New));
    assert_eq!(verdict("worse"), Some(Verdict::Worse));
    assert_eq!(verdict("still"), Some(Verdict::Still));
    assert_eq!(verdict("better"), Some(Verdict::Still));
    assert_eq!(verdict("fine"), None);
    assert_eq!(verdict("maybe"), Some(Verdict::Possible));
    assert_eq!(verdict("a treatment's own"), Some(Verdict::New));
    assert!(found.windows(2).all(|w| w[0].margin_k <= w[1].margin_k));
    let harm: Vec<&str> = found
        .iter()
        .filter(|o| o.verdict.is_harm())
        .map(|o| o.part.as_str())
        .collect();
    assert_eq!(harm, ["worse", "a treatment's own", "newly"]);
}

fn ranked(budget: f64, aim: Aim, only: &[&str], parts: &[&str]) -> Result<Ranked, StudyError> {
    let settings = RankSettings {
        budget,
        aim,
        parts: parts.iter().map(|p| (*p).to_owned()).collect(),
        only: only.iter().map(|o| (*o).to_owned()).collect(),
        age: Age::Season,
        draws: Some(DrawSettings { draws: 10, seed: 1 }),
    };
    let drive = Drive {
        cycle: &short_cycle(),
        options: &RunOptions::default(),
    };
    rank(&demo(), drive, &settings, &|_, _| {})
}

/// All sets of a small choice by hand: the search must give the same best and count.
#[test]
fn verify_ranking_agrees_with_trying_every_set() {
    let only = ["shield-single", "jacket-silica"];
    let parts = ["downpipe", "turbine"];
    let found = ranked(1000.0, Aim::Bay, &only, &parts).unwrap().ranking;
    assert_eq!(found.actions, 4);
    assert_eq!(found.sets_tried, 9);
    let sheet = demo();
    let mut best: Option<(f64, String)> = None;
    let of_part = [None, Some(only[0]), Some(only[1])];
    for downpipe in of_part {
        for turbine in of_part {
            let pairs = [("downpipe", downpipe), ("turbine", turbine)];
            let pairs = pairs.into_iter().filter_map(|(p, t)| Some((p, t?)));
            let mut spec = OptionSpec::treating("by hand", pairs.clone());
            spec.treatment_age = Some(Age::Season);
            let compared = side_by_side(&options(&sheet, &[spec]), None);
            let own = &compared.comparison.options[1];
            let heat = own
                .figures
                .iter()
                .find(|f| f.id == "heat_to_bay_mean_w" && f.place == "all");
            let heat = heat.unwrap().value;
            let harm = own.over.iter().any(|o| o.verdict.is_harm());
            if !harm && best.as_ref().is_none_or(|b| heat < b.0) {
                let names: Vec<String> = pairs.map(|(p, t)| format!("{p} {t}")).collect();
                best = Some((heat, names.join(" + ")));
            }
        }
    }
    let (heat, name) = best.unwrap();
    let first = found
        .sets
        .iter()
        .find(|s| s.over.iter().all(|o| !o.verdict.is_harm()));
    assert_eq!(first.unwrap().name, name);
    assert!((first.unwrap().value - heat).abs() < 1e-9);
}

#[test]
fn one_set_is_recommended_within_the_budget_and_never_one_that_does_harm() {
    let only = ["glass-wrap-2-turns", "shield-single", "vent-bonnet"];
    let none = ranked(0.0, Aim::Bay, &only, &["downpipe"]).unwrap_err();
    assert_eq!(none.exit_code(), 2, "nothing is free: {none}");
    for budget in [60.0, 400.0] {
        let found = ranked(budget, Aim::Bay, &only, &["downpipe"])
            .unwrap()
            .ranking;
        let chosen: Vec<_> = found.sets.iter().filter(|s| s.recommended).collect();
        assert_eq!(chosen.len(), 1);
        assert!(chosen[0].cost.price <= budget + 0.01);
        assert!(chosen[0].over.iter().all(|o| !o.verdict.is_harm()));
        assert!(
            found.sets.iter().any(|s| s.done.is_empty()),
            "the car as it is is shown"
        );
        // a set that can't be told from the best and costs less would have been chosen
        for tie in found.sets.iter().filter(|s| s.tie) {
            assert!(tie.cost.price >= chosen[0].cost.price - 1e-9);
        }
    }
}
