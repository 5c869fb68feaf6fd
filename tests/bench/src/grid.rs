//! A hot day's grid: wall time of its cells on all threads.

use baysoak::study::compare::Candidate;
use baysoak::study::hot_day::{Grid, Situation, hot_day};
use rayon::ThreadPoolBuilder;

use crate::cases::{self, least_wall};
use crate::table;
use crate::{Fault, Settings};

/// 5 ambient temperatures, 4 humidities, 5 altitudes, and every usual situation.
fn grid() -> Grid {
    Grid {
        ambients_c: vec![10.0, 18.0, 26.0, 32.0, 38.0],
        humidities_percent: vec![20.0, 40.0, 60.0, 80.0],
        altitudes_m: vec![0.0, 500.0, 1000.0, 1500.0, 2000.0],
        situations: Situation::USUAL.to_vec(),
    }
}

/// Prints the time for one and for two threads.
pub fn show(settings: &Settings) -> Result<(), Fault> {
    let (sheet, _) = cases::settled(&settings.build)?;
    let candidates = [Candidate {
        name: settings.build.clone(),
        done: Vec::new(),
        sheet,
    }];
    let grid = grid();
    let mut rows = Vec::new();
    for threads in [1, 2] {
        let pool = ThreadPoolBuilder::new().num_threads(threads).build()?;
        let work = || Ok(pool.install(|| hot_day(&candidates, &grid, None, &|_| true))?);
        let (seconds, found) = least_wall(settings.repeat, work)?;
        rows.push(vec![
            found.cells.len().to_string(),
            threads.to_string(),
            format!("{seconds:.2}"),
            format!("{:.2}", 1e3 * seconds / found.cells.len() as f64),
        ]);
    }
    table::print(
        &format!("grid of a hot day ({}, no draws)", settings.build),
        &["cells", "threads", "s", "ms/cell"],
        &rows,
    );
    Ok(())
}
