//! A group of draws of one case, run side by side.

use std::ops::Range;

use super::draws::{Drive, Held, Outcome, Sampled};
use super::latin_hypercube::LatinHypercube;
use super::run::{Begun, RunError, RunOptions, Underway, begin, run_from};
use super::together::run_together;
use crate::network::assemble::assemble;
use crate::network::rates::Network;
use crate::number::LANES;
use crate::sheet::{Chooser, Settled, Sheet};
use crate::solve::{Method, Tolerance};

/// A draw's tolerance over a run's. Of a draw only figures are kept, which stand within 0.1 K all the same.
const COARSER: f64 = 4.0;

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
        tolerance: Tolerance {
            relative: usual.relative * COARSER,
            absolute: usual.absolute * COARSER,
        },
        ..*drive.options
    };
    let drive = (drive.cycle, &options);
    let cars: Vec<Result<Drawn, RunError>> = draws
        .map(|draw| {
            let quantile = |key: &str| match held {
                Some(held) if held.0.key == key => held.quantile(),
                _ => hypercube.quantile(key, draw),
            };
            Drawn::new(sheet, &mut Chooser::Draw(Box::new(quantile)), &options)
        })
        .collect();
    let begun: Vec<Result<Begun, String>> = cars
        .iter()
        .map(|car| {
            let car = car.as_ref().map_err(told)?;
            begin(&car.settled.build, &car.network, drive.0, Some(&of.start)).map_err(|e| told(&e))
        })
        .collect();
    let there = || {
        cars.iter()
            .zip(&begun)
            .filter_map(|(car, begun)| Some((car.as_ref().ok()?, begun.as_ref().ok()?.clone())))
    };
    let underway = there()
        .map(|(car, begun)| Underway::new(sheet, (&car.settled, &car.network), begun, drive));
    let together = match options.method {
        Method::Rosenbrock => run_together(
            underway.collect(),
            drive.0,
            options.tolerance,
            &mut |_, _| {},
        ),
        _ => None,
    };
    let alone = || {
        let run = |(car, begun): (&Drawn, _)| {
            run_from(
                sheet,
                (&car.settled, &car.network),
                begun,
                drive,
                &mut |_| {},
            )
        };
        there().map(run).collect()
    };
    let mut results = together.unwrap_or_else(alone).into_iter();
    begun
        .into_iter()
        .map(|begun| {
            begun?;
            let result = results.next().unwrap_or(Err(RunError::NotFinite {
                what: "a draw".to_owned(),
            }));
            result
                .map(|run| of.values_in(&run.findings))
                .map_err(|e| told(&e))
        })
        .collect()
}

/// A drawn car.
struct Drawn {
    settled: Settled,
    network: Network,
}

impl Drawn {
    fn new(sheet: &Sheet, chooser: &mut Chooser, options: &RunOptions) -> Result<Self, RunError> {
        let settled = sheet.settle(chooser)?;
        let network = assemble(&settled.build, options.detail)?;
        Ok(Self { settled, network })
    }
}

/// First line of what went wrong.
fn told(e: &RunError) -> String {
    e.to_string().lines().next().unwrap_or_default().to_owned()
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
