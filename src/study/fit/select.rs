//! Which inputs the logs can tell.

use std::collections::BTreeMap;

use super::drive::Drive;
use super::least_squares::Residuals;
use super::problem::{Problem, prior_spread};
use super::{FitError, FitOptions, MOST_INPUTS, UNTOLD};
use crate::sheet::{Sheet, Uncertain};

/// Drives looked at: evenly out of those there are.
const DRIVES: usize = 4;
/// Step for slopes, in spreads of the range.
const STEP: f64 = 0.3;
/// Information of an input that is worth a search, over that of its range: less is left of the spread
/// then than what counts as not told.
const WORTH: f64 = 1.0 / (UNTOLD * UNTOLD) - 1.0;

/// Inputs in order of what the logs say about them beyond those before.
///
/// The slopes of all residuals by all inputs, each in spreads of its range; then the longest
/// column, then the longest of what is left after that one is taken out, and so on (pivoted
/// Gram-Schmidt, any text on subset selection).
pub(super) fn told(
    sheet: &Sheet,
    drives: &[&Drive],
    uncertain: &[Uncertain],
    options: &FitOptions,
) -> Result<Vec<Uncertain>, FitError> {
    let some = super::evenly(drives, DRIVES);
    let problem = Problem::new(sheet, &some, uncertain.to_vec(), BTreeMap::new(), options);
    let likely: Vec<f64> = uncertain.iter().map(|u| u.likely).collect();
    let mut points = vec![likely.clone()];
    let mut steps = Vec::new();
    for (i, u) in uncertain.iter().enumerate() {
        let size = STEP * prior_spread(u);
        // towards the wider side
        let step = if u.high - u.likely >= u.likely - u.low {
            size
        } else {
            -size
        };
        let mut x = likely.clone();
        x[i] += step;
        points.push(x);
        steps.push(step);
    }
    let found: Vec<Result<Vec<f64>, String>> = problem.at(&points);
    let mut found = found.into_iter();
    let at_likely = found
        .next()
        .unwrap_or_else(|| Err("no residuals".into()))
        .map_err(|reason| FitError::Failed { reason })?;
    let rows = problem.rows_of_drives().last().map_or(0, |r| r.end);
    let more = drives.len() as f64 / some.len() as f64;
    let mut columns: Vec<Option<Vec<f64>>> = found
        .zip(uncertain.iter().zip(&steps))
        .map(|(r, (u, step))| {
            // an input that can't be moved alone can't be fitted alone
            let r = r.ok()?;
            let scale = prior_spread(u) / step * more.sqrt();
            let pairs = r.iter().zip(&at_likely).take(rows);
            Some(pairs.map(|(a, b)| (a - b) * scale).collect())
        })
        .collect();
    let mut chosen = Vec::new();
    while chosen.len() < MOST_INPUTS {
        let squared =
            |c: &Option<Vec<f64>>| c.as_ref().map_or(0.0, |c| c.iter().map(|v| v * v).sum());
        let sizes: Vec<f64> = columns.iter().map(squared).collect();
        let best = (0..sizes.len()).max_by(|&a, &b| sizes[a].total_cmp(&sizes[b]));
        let Some(best) = best.filter(|&b| sizes[b] > WORTH) else {
            break;
        };
        let Some(direction) = columns[best].take() else {
            break;
        };
        chosen.push(uncertain[best].clone());
        for column in columns.iter_mut().flatten() {
            let along: f64 = column
                .iter()
                .zip(&direction)
                .map(|(a, b)| a * b)
                .sum::<f64>()
                / sizes[best];
            column
                .iter_mut()
                .zip(&direction)
                .for_each(|(a, b)| *a -= along * b);
        }
    }
    if chosen.is_empty() {
        return Err(FitError::NothingTold);
    }
    Ok(chosen)
}
