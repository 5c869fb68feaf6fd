//! Build sheets: what is wrong with them, and what is assumed.

mod between_keys;
mod faults;
mod keys;
mod one_fault;
mod settling;

use baysoak::sheet::{Chooser, Sheet, SheetError, builtins};
use faults::{FAULTS, Fault};

fn demo() -> &'static str {
    builtins()
        .iter()
        .find(|b| b.name == "demo")
        .expect("built in")
        .text
}

fn broken(fault: &Fault) -> String {
    assert!(
        demo().contains(fault.from),
        "{}: nothing to change",
        fault.what
    );
    demo().replacen(fault.from, fault.to, 1)
}

fn problems(text: &str, what: &str) -> SheetError {
    match Sheet::parse(text, "mine.toml") {
        Ok(_) => panic!("{what}: accepted"),
        Err(error) => error,
    }
}

#[test]
fn each_fault_is_said_with_line_key_value_limit_and_hint() {
    assert!(FAULTS.len() >= 30);
    for fault in FAULTS {
        let told = problems(&broken(fault), fault.what).to_string();
        let place = format!("mine.toml:{}: {}", fault.line, fault.said);
        let after = told.split_once(&place);
        let Some((_, after)) = after else {
            panic!("{}: no {place:?} in\n{told}", fault.what);
        };
        let hint = after.lines().nth(1).unwrap_or_default();
        assert!(
            hint.starts_with(&format!("  hint: {}", fault.hint)),
            "{}: {hint}",
            fault.what
        );
    }
}

#[test]
fn faults_in_different_places_are_all_said_at_once() {
    // checks across keys need every key readable by itself, so no unreadable one among these
    let alone = [
        "wall too thick",
        "negative length",
        "fan off above on",
        "humidity beyond all",
        "unknown cycle",
    ];
    let chosen: Vec<&Fault> = FAULTS.iter().filter(|f| alone.contains(&f.what)).collect();
    assert_eq!(chosen.len(), alone.len());
    let text = chosen
        .iter()
        .fold(demo().to_owned(), |t, f| t.replacen(f.from, f.to, 1));
    let told = problems(&text, "all").to_string();
    for fault in chosen {
        assert!(told.contains(fault.said), "{}: not in\n{told}", fault.what);
    }
}

#[test]
fn no_piece_of_a_sheet_makes_the_reader_panic() {
    // every prefix is a sheet that somebody was interrupted at
    let text = demo();
    for (end, _) in text.char_indices().step_by(37) {
        let _ = Sheet::parse(&text[..end], "mine.toml");
    }
}

#[test]
fn what_is_left_out_is_assumed_with_a_range_around_its_value() {
    for built in builtins() {
        let sheet = Sheet::parse(built.text, built.name).expect("built in");
        let settled = sheet.settle(&mut Chooser::Likely).expect("settles");
        assert!(settled.assumed.len() > 50, "{}", built.name);
        for a in &settled.assumed {
            assert!(
                a.low <= a.value && a.value <= a.high,
                "{}: {a:?}",
                built.name
            );
            assert!(
                !a.basis.is_empty(),
                "{}: {} has no basis",
                built.name,
                a.key
            );
        }
    }
}

#[test]
fn a_given_value_is_taken_and_no_longer_assumed() {
    let text = demo().replace("[bay.radiator]", "[bay.radiator]\nloss_coefficient = 11.5");
    let sheet = Sheet::parse(&text, "mine.toml").expect("good");
    let settled = sheet.settle(&mut Chooser::Likely).expect("settles");
    assert!((settled.build.bay.radiator.loss_coefficient - 11.5).abs() < 1e-12);
    assert!(
        settled
            .assumed
            .iter()
            .all(|a| a.key != "bay.radiator.loss_coefficient")
    );
}

#[test]
fn a_range_gives_its_likely_value_and_is_kept_for_draws() {
    let sheet = Sheet::parse(demo(), "demo").expect("good");
    let settled = sheet.settle(&mut Chooser::Likely).expect("settles");
    assert!((settled.build.car.drag_area_m2 - 0.66).abs() < 1e-12);
    let ranged = settled
        .uncertain
        .iter()
        .find(|u| u.key == "car.drag_area_m2");
    let ranged = ranged.expect("kept");
    assert!((ranged.low - 0.62).abs() < 1e-12 && (ranged.high - 0.70).abs() < 1e-12);
}
