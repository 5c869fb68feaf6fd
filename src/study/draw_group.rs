//! A group of draws of one case, run side by side.

use std::ops::Range;

use super::draws::{Drive, Held, Outcome, Sampled};
use super::latin_hypercube::LatinHypercube;
use super::run::{RunError, RunOptions};
use super::together::{Ready, run_all};
use crate::number::LANES;
use crate::sheet::{Chooser, Settled, Sheet};
use crate::solve::{Method, Tolerance};

/// A draw's tolerance over a run's. Of a draw only figures are kept, which stand within 0.12 K all the same, but where a
/// fan switches a tick later.
const COARSER: f64 = 8.0;

/// Values of draws in the order of figures and margins, or why one failed; they are run side by side.
pub(super) fn drawn(
    sheet: &Sheet,
    drive: Drive,
    hypercube: &LatinHypercube,
    draws: Range<usize>,
    held: Option<Held>,
    of: &Sampled,
) -> Vec<Outcome> {
    let usual = drive.options.tolerance;
    // nobody looks at the series and the warnings of a draw
    let options = RunOptions {
        sample_s: f64::INFINITY,
        watch_ranges: false,
        // at that tolerance it takes the least work
        method: match drive.options.method {
            Method::Rosenbrock => Method::RosenbrockFourCalls,
            other => other,
        },
        tolerance: Tolerance {
            relative: usual.relative * COARSER,
            absolute: usual.absolute * COARSER,
        },
        ..*drive.options
    };
    let drive = (drive.cycle, &options);
    let settled: Vec<Result<Settled, RunError>> = draws
        .map(|draw| {
            let quantile = |key: &str| match held {
                Some(held) if held.0.key == key => held.quantile(),
                _ => hypercube.quantile(key, draw),
            };
            Ok(sheet.settle(&mut Chooser::Draw(Box::new(quantile)))?)
        })
        .collect();
    let ready: Vec<Result<Ready, String>> = settled
        .iter()
        .map(|settled| {
            let settled = settled.as_ref().map_err(RunError::first_line)?;
            Ready::new((sheet, settled), drive, Some(&of.start)).map_err(|e| e.first_line())
        })
        .collect();
    let good: Vec<&Ready> = ready.iter().flatten().collect();
    let mut results = run_all(&good, drive, &(), None).into_iter();
    ready
        .iter()
        .map(|ready| {
            ready.as_ref().map_err(String::clone)?;
            let result = results.next().unwrap_or(Err(RunError::NotFinite {
                what: "a draw".to_owned(),
            }));
            let (run, ()) = result.map_err(|e| e.first_line())?;
            Ok(of.values_in(&run.findings))
        })
        .collect()
}

/// The groups of draws that are run side by side, as even as can be, of which `from` to `until` want some. Which draws
/// share a group hangs on how many there are in all, so that draws taken in several goes are those taken in one.
pub(super) fn groups(from: usize, until: usize, all: usize) -> impl Iterator<Item = Range<usize>> {
    let count = all.div_ceil(LANES);
    let bound = move |i: usize| i * all / count;
    (0..count)
        .map(move |i| bound(i)..bound(i + 1))
        .filter(move |group| group.end > from && group.start < until)
}
