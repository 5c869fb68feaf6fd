//! Hot day, soak, restart, advice.

mod advice;
mod command;
mod grid;
mod soak;

use baysoak::cycle::{Cycle, read_csv};
use baysoak::sheet::{Sheet, builtin};
use baysoak::study::compare::{Candidate, candidate};

fn build(name: &str) -> Sheet {
    builtin(name).unwrap()
}

/// The car as it is.
fn as_it_is(sheet: &Sheet) -> Candidate {
    Candidate {
        name: "as it is".into(),
        done: Vec::new(),
        sheet: sheet.clone(),
    }
}

/// One of the sheet's options.
fn option(sheet: &Sheet, name: &str) -> Candidate {
    let options = sheet.options();
    candidate(sheet, options.iter().find(|o| o.name == name).unwrap()).unwrap()
}

/// Two minutes of hard driving: enough to get an exhaust hot.
fn short_drive() -> Cycle {
    let text = "time_s,speed_kmh,grade_percent\n0,80,7\n120,80,7\n";
    let (mut cycle, _) = read_csv(text.as_bytes(), "short hill").unwrap();
    cycle.start = baysoak::cycle::Start::Warm;
    cycle
}
