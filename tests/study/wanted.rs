//! Studies whose result nobody wants any more, and draws that are taken in several goes.

use std::sync::atomic::{AtomicUsize, Ordering};

use baysoak::study::advice::advice;
use baysoak::study::claim::{ClaimError, ClaimOptions, ClaimSheet, build_of, judge_claim};
use baysoak::study::compare::Candidate;
use baysoak::study::draws::{Case, DrawSettings, Drive, Progress, StudyError, sample, sample_on};
use baysoak::study::hot_day::{Grid, hot_day};
use baysoak::study::judge::{JudgeError, JudgeInput, MeasuredLog, judge};
use baysoak::study::run::RunOptions;
use baysoak::study::sensitivity::measure_first;
use baysoak::study::soak::Parking;

use super::{demo, drawn, short_cycle};

const SETTINGS: DrawSettings = DrawSettings {
    draws: 200,
    seed: 1,
};

/// Says no at the first word, and counts how often a study asks.
#[track_caller]
fn asked<T>(study: impl FnOnce(Progress) -> T) -> T {
    let words = AtomicUsize::new(0);
    let result = study(&|_| {
        words.fetch_add(1, Ordering::Relaxed);
        false
    });
    // what was under way on other threads comes to its end
    let most = rayon::current_num_threads();
    let words = words.into_inner();
    assert!((1..=most).contains(&words), "{words} of at most {most}");
    result
}

#[test]
fn every_study_begins_no_further_run_once_nobody_wants_it() {
    let (sheet, cycle, options) = (demo(), short_cycle(), RunOptions::default());
    let drive = Drive {
        cycle: &cycle,
        options: &options,
    };
    let case = Case {
        name: "demo",
        sheet: &sheet,
    };
    let stopped = |e: StudyError| assert!(matches!(e, StudyError::Stopped), "{e}");
    stopped(asked(|p| sample(&[case], drive, Some(SETTINGS), p)).unwrap_err());

    let known = drawn(&[("demo", &sheet)], 60, 1);
    let few = DrawSettings { draws: 60, seed: 1 };
    stopped(asked(|p| measure_first(case, &known[0], drive, few, p)).unwrap_err());

    let own = Candidate {
        name: "demo".into(),
        done: Vec::new(),
        sheet: sheet.clone(),
    };
    stopped(asked(|p| hot_day(&[own], &Grid::default(), None, p)).unwrap_err());
    stopped(asked(|p| advice(&sheet, &cycle, &Parking::default(), p)).unwrap_err());

    let text = "quantity = \"bay-air\"\nchange_k = -50\n[treatment]\nthickness_mm = 0.3\n";
    let claim = ClaimSheet::parse(text, "claim", &build_of(&sheet).unwrap()).unwrap();
    let draws = ClaimOptions {
        draws: 10_000,
        seed: 1,
    };
    let error = asked(|p| judge_claim(&sheet, &claim, draws, p)).unwrap_err();
    assert!(matches!(error, ClaimError::Stopped), "{error}");

    let log = || {
        let text = "time_s,speed_kmh,air:hot_c\n0,0,50\n400,60,50\n800,30,50\n1200,0,50\n";
        MeasuredLog::read(text.as_bytes(), "log").unwrap()
    };
    let (before, after) = ([log(), log()], [log(), log()]);
    let input = JudgeInput {
        before: &before,
        after: &after,
        channel: "air:hot_c",
        sheet: Some(&sheet),
        treated: None,
        claim_k: None,
    };
    let error = asked(|p| judge(&input, p)).unwrap_err();
    assert!(matches!(error, JudgeError::Stopped), "{error}");
}

#[test]
fn draws_in_several_goes_are_those_in_one() {
    let (sheet, cycle, options) = (demo(), short_cycle(), RunOptions::default());
    let drive = Drive {
        cycle: &cycle,
        options: &options,
    };
    let cases = [Case {
        name: "demo",
        sheet: &sheet,
    }];
    let settings = DrawSettings { draws: 12, seed: 5 };
    let mut goes = sample(&cases, drive, None, &|_| true).unwrap();
    // they come in two groups of six
    for (until, there) in [(3, 6), (3, 6), (7, 12), (40, 12)] {
        sample_on(&cases, &mut goes, drive, (settings, until), &|_| true).unwrap();
        assert_eq!(goes[0].outcomes.len(), there);
        goes[0].outcomes.truncate(until);
    }
    assert_eq!(
        goes[0].outcomes,
        drawn(&[("demo", &sheet)], 12, 5)[0].outcomes
    );
}
