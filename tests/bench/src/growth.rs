//! Growth with nodes and with draws.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;

use baysoak::network::assemble::{Detail, assemble};
use baysoak::sheet::{Chooser, Sheet};
use baysoak::study::recording::record;
use baysoak::study::run::{RunOptions, run_settled};

use crate::cases::{self, least, replay};
use crate::table::{self, ms};
use crate::{Fault, Settings};

/// Sizes that are aimed at.
const NODES: [usize; 4] = [60, 90, 120, 240];
/// Most segments tried.
const MOST_SEGMENTS: usize = 80;

/// Prints both tables.
pub fn show(settings: &Settings) -> Result<(), Fault> {
    nodes(settings)?;
    draws(settings)
}

fn nodes(settings: &Settings) -> Result<(), Fault> {
    let (_, settled) = cases::settled(&settings.build)?;
    let cycle = cases::cycle("hour")?;
    let mut rows = Vec::new();
    for aim in NODES {
        let mut detail = Detail { segments: 1 };
        while assemble(&settled.build, detail)?.nodes.len() < aim && detail.segments < MOST_SEGMENTS
        {
            detail.segments += 1;
        }
        let options = RunOptions {
            detail,
            ..RunOptions::default()
        };
        let recording = record(&settled.build, &cycle, &options)?;
        let march = || replay(&recording, options.method, options.tolerance);
        let (seconds, (_, work)) = least(settings.repeat, march)?;
        rows.push(vec![
            recording.network.nodes.len().to_string(),
            detail.segments.to_string(),
            recording.network.links.len().to_string(),
            ms(seconds),
            work.steps.to_string(),
            work.rhs_calls.to_string(),
            format!("{:.2}", seconds * 1e6 / work.rhs_calls as f64),
        ]);
    }
    table::print(
        &format!("growth with nodes ({}, hour, march alone)", settings.build),
        &["nodes", "segments", "links", "ms", "steps", "rhs", "us/rhs"],
        &rows,
    );
    Ok(())
}

fn draws(settings: &Settings) -> Result<(), Fault> {
    let (sheet, _) = cases::settled(&settings.build)?;
    let cycle = cases::cycle("hour")?;
    let mut rows = Vec::new();
    for draws in [1, 100, 1000].into_iter().filter(|n| *n <= settings.draws) {
        for threads in [1, 2] {
            if draws < threads {
                continue;
            }
            let repeat = if draws == 1 { settings.repeat } else { 1 };
            let (seconds, failed) =
                least(repeat, || Ok(run_draws(&sheet, &cycle, draws, threads)))?;
            rows.push(vec![
                draws.to_string(),
                threads.to_string(),
                format!("{seconds:.3}"),
                ms(seconds / draws as f64),
                failed.to_string(),
            ]);
        }
    }
    table::print(
        &format!(
            "growth with draws ({}, hour, settled, run and summarised)",
            settings.build
        ),
        &["draws", "threads", "s", "ms/draw", "failed"],
        &rows,
    );
    if settings.draws < 1000 {
        println!("  (--draws 1000 for more)");
    }
    Ok(())
}

/// Runs all draws; returns how many had no result.
fn run_draws(sheet: &Sheet, cycle: &baysoak::cycle::Cycle, draws: usize, threads: usize) -> usize {
    let (next, failed) = (AtomicUsize::new(0), AtomicUsize::new(0));
    let work = || {
        loop {
            let draw = next.fetch_add(1, Ordering::Relaxed);
            if draw >= draws {
                return;
            }
            if !one(sheet, cycle, draw) {
                failed.fetch_add(1, Ordering::Relaxed);
            }
        }
    };
    thread::scope(|scope| {
        for _ in 1..threads {
            scope.spawn(work);
        }
        work();
    });
    failed.load(Ordering::Relaxed)
}

fn one(sheet: &Sheet, cycle: &baysoak::cycle::Cycle, draw: usize) -> bool {
    let mut chooser = Chooser::Draw(Box::new(move |key| quantile(draw as u64, key)));
    sheet.settle(&mut chooser).is_ok_and(|settled| {
        let options = RunOptions::default();
        run_settled(sheet, &settled, cycle, &options, &mut |_| ()).is_ok()
    })
}

/// A quantile for a key in a draw, the same on every machine: FNV-1a of the key, mixed by SplitMix64.
fn quantile(draw: u64, key: &str) -> f64 {
    let hash = key.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |h, b| {
        (h ^ u64::from(b)).wrapping_mul(0x0100_0000_01b3)
    });
    let mut z = hash.wrapping_add((draw + 1).wrapping_mul(0x9e37_79b9_7f4a_7c15));
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
}
