//! Draws, sensitivity, comparison and ranking.

mod compare;
mod samples;
mod search;
mod sensitivity;
mod wanted;

use baysoak::cycle::{self, Cycle};
use baysoak::sheet::{Sheet, builtin};
use baysoak::study::draws::{Case, DrawSettings, Drive, Sampled, sample};
use baysoak::study::run::RunOptions;

/// A pull-away, a minute of town speed, a stop: the shortest cycle that still has a use.
fn short_cycle() -> Cycle {
    let text = "time_s,speed_kmh\n0,0\n10,50\n60,50\n70,0\n90,0\n";
    cycle::read_csv(text.as_bytes(), "short").unwrap().0
}

fn demo() -> Sheet {
    builtin("demo").unwrap()
}

fn drawn(cases: &[(&str, &Sheet)], draws: usize, seed: u64) -> Vec<Sampled> {
    drawn_on(&short_cycle(), &RunOptions::default(), cases, draws, seed)
}

fn drawn_on(
    cycle: &Cycle,
    options: &RunOptions,
    cases: &[(&str, &Sheet)],
    draws: usize,
    seed: u64,
) -> Vec<Sampled> {
    let cases: Vec<Case> = cases
        .iter()
        .map(|&(name, sheet)| Case { name, sheet })
        .collect();
    let drive = Drive { cycle, options };
    sample(&cases, drive, Some(DrawSettings { draws, seed }), &|_| true).unwrap()
}
