//! Growth with nodes and with draws.

use baysoak::network::assemble::{Detail, assemble};
use baysoak::study::draws::{Case, DrawSettings, Drive, sample};
use baysoak::study::recording::record;
use baysoak::study::run::RunOptions;
use rayon::ThreadPoolBuilder;

use crate::cases::{self, least, least_wall, replay};
use crate::table::{self, ms};
use crate::{Fault, Settings};

/// Sizes that are aimed at.
const NODES: [usize; 4] = [60, 90, 120, 240];
/// Seed of the draws.
const SEED: u64 = 1;
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
    let options = RunOptions::default();
    let drive = Drive {
        cycle: &cycle,
        options: &options,
    };
    let case = Case {
        name: &settings.build,
        sheet: &sheet,
    };
    let mut rows = Vec::new();
    for draws in [0, 100, 1000].into_iter().filter(|n| *n <= settings.draws) {
        for threads in [1, 2] {
            let pool = ThreadPoolBuilder::new().num_threads(threads).build()?;
            let drawn = (draws > 0).then_some(DrawSettings { draws, seed: SEED });
            let work = || Ok(pool.install(|| sample(&[case], drive, drawn, &|_| true))?);
            let repeat = if draws == 0 { settings.repeat } else { 1 };
            let (seconds, sampled) = least_wall(repeat, work)?;
            let outcomes = sampled.iter().flat_map(|s| &s.outcomes);
            let runs = draws + 1;
            rows.push(vec![
                runs.to_string(),
                threads.to_string(),
                format!("{seconds:.3}"),
                ms(seconds / runs as f64),
                outcomes.filter(|o| o.is_err()).count().to_string(),
            ]);
        }
    }
    table::print(
        &format!(
            "growth with draws ({}, hour, the likely run and draws: settled, run and summarised)",
            settings.build
        ),
        &["runs", "threads", "s", "ms/draw", "failed"],
        &rows,
    );
    if settings.draws < 1000 {
        println!("  (--draws 1000 for more)");
    }
    Ok(())
}
