//! Uncertain inputs from logged drives.
//!
//! [`fit`] searches the inputs of a sheet that have ranges so that the model follows the logged
//! temperatures, with the ranges as priors, and says how sure each is, which it can't tell apart, how
//! far the model is off and in which state, and what a further drive would add.

mod drive;
mod findings;
mod judge;
pub mod least_squares;
mod predict;
mod problem;
mod select;

use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use nalgebra::{DMatrix, SVD};

pub use drive::{Channel, Drive, State, Watched};
pub use findings::{
    ChannelScore, FileScore, FitFindings, FitResult, FittedInput, LeftOver, Logged, SearchDone,
    SpanScore, StateScore, Total, study,
};
pub use judge::{ByState, DriveScore, Score, judge, together};
pub use predict::{PredictError, Prediction, SETTLING_S, predict};

use crate::sheet::{Chooser, Sheet, SheetError, Uncertain};
use least_squares::{Minimum, Residuals, Search, minimise};
use problem::{Problem, prior_spread};

/// Most inputs that are searched at once: more than a sensor's few features can tell (estimate).
pub const MOST_INPUTS: usize = 12;
/// Correlation from which two inputs can't be told apart.
const ALIKE: f64 = 0.9;
/// An input whose spread hardly shrank wasn't in the log.
const UNTOLD: f64 = 0.8;
/// Drives that the search for the right valley looks at.
const ROUGH_DRIVES: usize = 6;
/// Where each range is looked at once a search has come to rest.
const LOOKED_AT: [f64; 5] = [0.1, 0.3, 0.5, 0.7, 0.9];
/// Less misfit, as a share of it, that is worth a move to another valley.
const WORTH_MOVING: f64 = 0.01;
/// Further drives that are looked ahead to.
const AHEAD: usize = 5;

/// How to fit.
#[derive(Debug, Clone)]
pub struct FitOptions {
    /// Keys to fit; none: chosen by what the logs can tell.
    pub inputs: Vec<String>,
    /// Starts of the search; the first is the likely build.
    pub starts: usize,
    /// Time between samples that are compared [s].
    pub spacing_s: f64,
    /// Rounds of search, each with weights from the residuals of the one before.
    pub rounds: usize,
    /// Set by whoever no longer wants the fit: the search ends at the next drive.
    pub stop: Arc<AtomicBool>,
}

impl Default for FitOptions {
    fn default() -> Self {
        Self {
            inputs: Vec::new(),
            starts: 2,
            spacing_s: 5.0,
            rounds: 2,
            stop: Arc::default(),
        }
    }
}

impl FitOptions {
    fn stopped(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}

/// Why there is no fit.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum FitError {
    /// The sheet is bad.
    #[error(transparent)]
    Sheet(#[from] SheetError),
    /// No drive, or nothing in them that the model has.
    #[error(
        "no logged temperature to compare with\n  hint: the log needs a column for the intake sensor, oil, a skin, a bay zone or exhaust gas"
    )]
    NothingLogged,
    /// Logs from which no input could be told.
    #[error(
        "these logs tell nothing about any input with a range\n  hint: they want some minutes with the engine running after the first minute, in which the car finds its starting state; or name inputs to fit"
    )]
    NothingTold,
    /// A key isn't an uncertain input.
    #[error("{key}: not an input with a range\n  hint: {hint}")]
    NoSuchInput {
        /// Key.
        key: String,
        /// Near names.
        hint: String,
    },
    /// Too many.
    #[error("{count} inputs are too many, at most {MOST_INPUTS} can be told apart")]
    TooMany {
        /// How many.
        count: usize,
    },
    /// Nobody wants the fit any more.
    #[error("stopped before the end")]
    Stopped,
    /// A run failed.
    #[error("{reason}")]
    Failed {
        /// In words.
        reason: String,
    },
}

/// A fitted input, in the key's own unit.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Fitted {
    /// Key.
    pub key: String,
    /// Fitted value.
    pub value: f64,
    /// Standard error, the range as prior included.
    pub standard_error: f64,
    /// Value before.
    pub likely: f64,
    /// Range before.
    pub low: f64,
    /// Range before.
    pub high: f64,
    /// Standard error over the spread of the range before: near 1, the log didn't tell.
    pub left: f64,
}

impl Fitted {
    /// Whether the log told something about it.
    pub fn told(&self) -> bool {
        self.left < UNTOLD
    }

    /// Range after: two standard errors either side, inside the range before.
    pub fn narrowed(&self) -> (f64, f64) {
        let off = 2.0 * self.standard_error;
        (
            (self.value - off).max(self.low),
            (self.value + off).min(self.high),
        )
    }
}

/// Two inputs that the logs can't tell apart.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Alike {
    /// One.
    pub a: String,
    /// The other.
    pub b: String,
    /// Correlation of their errors.
    pub correlation: f64,
}

/// What a number of drives like these tells.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Gain {
    /// Drives.
    pub drives: usize,
    /// Standard errors over the spreads before, mean over inputs.
    pub left: f64,
}

/// A fit.
#[derive(Debug, Clone)]
pub struct Fit {
    /// Inputs.
    pub inputs: Vec<Fitted>,
    /// Correlations of their errors.
    pub correlations: Vec<Vec<f64>>,
    /// Pairs that can't be told apart.
    pub alike: Vec<Alike>,
    /// Spread [K] and memory [s] of what the model leaves over, by channel.
    pub spreads: BTreeMap<String, (f64, f64)>,
    /// What drives tell: from one to some more than there are.
    pub gains: Vec<Gain>,
    /// Whether the search came to rest.
    pub settled: bool,
    /// Half the sum of squares at each start.
    pub costs: Vec<f64>,
    /// Builds driven: over some drives in the first search, over all in the rounds.
    pub evaluations: usize,
}

impl Fit {
    /// Fitted values by key, for [`Chooser::Given`].
    pub fn values(&self) -> BTreeMap<String, f64> {
        self.inputs
            .iter()
            .map(|i| (i.key.clone(), i.value))
            .collect()
    }
}

/// Fits a sheet to drives. `tell` gets a line of progress now and then.
///
/// # Errors
/// When there is nothing to compare, an input isn't one, a run fails at the start or nobody wants the fit
/// any more.
pub fn fit(
    sheet: &Sheet,
    drives: &[&Drive],
    options: &FitOptions,
    tell: &mut dyn FnMut(&str),
) -> Result<Fit, FitError> {
    let found = searched(sheet, drives, options, tell);
    // what a stop breaks off fails for reasons of its own
    if options.stopped() {
        return Err(FitError::Stopped);
    }
    found
}

fn searched(
    sheet: &Sheet,
    drives: &[&Drive],
    options: &FitOptions,
    tell: &mut dyn FnMut(&str),
) -> Result<Fit, FitError> {
    let compared = |d: &&Drive| d.channels.iter().any(|c| c.usable.iter().any(|&u| u));
    if !drives.iter().any(compared) {
        return Err(FitError::NothingLogged);
    }
    let uncertain = sheet.settle(&mut Chooser::Likely)?.uncertain;
    let inputs = if options.inputs.is_empty() {
        tell("looking for the inputs that these logs can tell");
        select::told(sheet, drives, &uncertain, options)?
    } else {
        named(&uncertain, &options.inputs)?
    };
    if inputs.len() > MOST_INPUTS {
        return Err(FitError::TooMany {
            count: inputs.len(),
        });
    }
    let some = evenly(drives, ROUGH_DRIVES);
    let mut few = Problem::new(sheet, &some, inputs.clone(), BTreeMap::new(), options);
    let mut problem = Problem::new(sheet, drives, inputs, BTreeMap::new(), options);
    let bounds = problem.bounds();
    let failed = |reason: String| FitError::Failed { reason };
    let mut best: Option<Minimum> = None;
    let (mut costs, mut evaluations) = (Vec::new(), 0);
    for start in 0..options.starts.max(1) {
        let from = start_point(&problem.inputs, start);
        match minimise(&few, &bounds, &from, rough()) {
            Ok(found) => {
                tell(&format!(
                    "start {}: half the sum of squares {:.1}",
                    start + 1,
                    found.cost
                ));
                costs.push(found.cost);
                evaluations += found.evaluations;
                if best.as_ref().is_none_or(|b| found.cost < b.cost) {
                    best = Some(found);
                }
            }
            Err(reason) if start == 0 => return Err(failed(reason)),
            Err(_) => {}
        }
    }
    let mut best = best.ok_or_else(|| failed("no start led anywhere".into()))?;
    few.weigh_by(&best.x).map_err(failed)?;
    let across = across_ranges(&few.inputs, &best.x);
    evaluations += across.len();
    if let Some(from) = better_than_first(&few, across)
        && let Ok(found) = minimise(&few, &bounds, &from, rough())
    {
        evaluations += found.evaluations;
        tell(&format!(
            "another valley: half the sum of squares {:.1}",
            found.cost
        ));
        best = found;
    }
    for round in 0..options.rounds {
        problem.weigh_by(&best.x).map_err(failed)?;
        best = minimise(&problem, &bounds, &best.x, fine()).map_err(failed)?;
        evaluations += best.evaluations;
        tell(&format!(
            "round {}: half the sum of squares {:.1}",
            round + 1,
            best.cost
        ));
    }
    Ok(summarise(&problem, &best, costs, evaluations))
}

/// A point, then others that differ from it by one input alone, anywhere in its range: a misfit may have several
/// valleys (a log's delay has one at each whole row), and no slope leads from one to the next.
fn across_ranges(inputs: &[Uncertain], x: &[f64]) -> Vec<Vec<f64>> {
    let mut points = vec![x.to_vec()];
    for (i, u) in inputs.iter().enumerate() {
        points.extend(LOOKED_AT.iter().map(|share| {
            let mut x = x.to_vec();
            x[i] = u.low + share * (u.high - u.low);
            x
        }));
    }
    points
}

/// The best of several points, if it is worth leaving the first for it.
fn better_than_first(problem: &Problem<'_>, mut points: Vec<Vec<f64>>) -> Option<Vec<f64>> {
    let costs: Vec<f64> = problem
        .at(&points)
        .into_iter()
        .map(|found| found.map_or(f64::INFINITY, |r| r.iter().map(|v| v * v).sum()))
        .collect();
    let best = (0..costs.len()).min_by(|&a, &b| costs[a].total_cmp(&costs[b]))?;
    (costs[best] < (1.0 - WORTH_MOVING) * costs[0]).then(|| points.swap_remove(best))
}

/// At most `most` drives, evenly out of those there are.
fn evenly<'a>(drives: &[&'a Drive], most: usize) -> Vec<&'a Drive> {
    let every = drives.len().div_ceil(most).max(1);
    drives.iter().step_by(every).copied().collect()
}

/// A first search: to the right valley.
fn rough() -> Search {
    Search {
        step: 0.05,
        central: false,
        tolerance: 1e-2,
        patience: 1,
    }
}

fn fine() -> Search {
    Search {
        step: 0.03,
        central: true,
        // a hundredth of what doubles a misfit that is all noise
        tolerance: 2e-3,
        patience: 1,
    }
}

/// The likely build first, then points spread over the ranges (a lattice by the golden ratio's
/// generalisation, after Roberts 2018: even in many dimensions without a table).
fn start_point(inputs: &[Uncertain], start: usize) -> Vec<f64> {
    if start == 0 {
        return inputs.iter().map(|u| u.likely).collect();
    }
    let n = inputs.len() as f64;
    let mut ratio: f64 = 2.0;
    for _ in 0..40 {
        ratio = (1.0 + ratio).powf(1.0 / (n + 1.0));
    }
    let place = |i: usize| (0.5 + start as f64 * ratio.powf(-(i as f64 + 1.0))).fract();
    inputs
        .iter()
        .enumerate()
        .map(|(i, u)| u.low + (0.1 + 0.8 * place(i)) * (u.high - u.low))
        .collect()
}

fn named(uncertain: &[Uncertain], keys: &[String]) -> Result<Vec<Uncertain>, FitError> {
    let mut out: Vec<Uncertain> = Vec::new();
    for key in keys {
        match uncertain.iter().find(|u| &u.key == key) {
            Some(u) if !out.contains(u) => out.push(u.clone()),
            Some(_) => {}
            None => {
                let names = uncertain.iter().map(|u| u.key.as_str());
                let hint = crate::sheet::mean_or_list(key, names);
                return Err(FitError::NoSuchInput {
                    key: key.clone(),
                    hint,
                });
            }
        }
    }
    Ok(out)
}

fn summarise(problem: &Problem<'_>, best: &Minimum, costs: Vec<f64>, evaluations: usize) -> Fit {
    let n = problem.inputs.len();
    let jacobian = told(problem, best);
    let information = jacobian.transpose() * &jacobian;
    let covariance = invert(&information);
    let spread = |i: usize| covariance[(i, i)].max(0.0).sqrt();
    let inputs: Vec<Fitted> = problem
        .inputs
        .iter()
        .enumerate()
        .map(|(i, u)| Fitted {
            key: u.key.clone(),
            value: best.x[i],
            standard_error: spread(i),
            likely: u.likely,
            low: u.low,
            high: u.high,
            left: spread(i) / prior_spread(u),
        })
        .collect();
    let correlations: Vec<Vec<f64>> = (0..n)
        .map(|i| {
            let of = |j: usize| covariance[(i, j)] / (spread(i) * spread(j)).max(f64::MIN_POSITIVE);
            (0..n).map(of).collect()
        })
        .collect();
    let mut alike = Vec::new();
    for i in 0..n {
        for j in 0..i {
            if correlations[i][j].abs() > ALIKE {
                alike.push(Alike {
                    a: inputs[j].key.clone(),
                    b: inputs[i].key.clone(),
                    correlation: correlations[i][j],
                });
            }
        }
    }
    Fit {
        inputs,
        correlations,
        alike,
        spreads: problem.spreads.clone(),
        gains: gains(problem, best),
        settled: best.settled,
        costs,
        evaluations,
    }
}

/// Slopes with the weight that their rows have in errors.
fn told(problem: &Problem<'_>, best: &Minimum) -> DMatrix<f64> {
    let mut jacobian = best.jacobian.clone();
    for (row, less) in problem.news().into_iter().enumerate() {
        jacobian.row_mut(row).scale_mut(less);
    }
    jacobian
}

/// What numbers of drives tell: information adds up, so the mean drive's stands for each.
fn gains(problem: &Problem<'_>, best: &Minimum) -> Vec<Gain> {
    let n = problem.inputs.len();
    let rows = problem.rows_of_drives();
    let logged = rows.last().map_or(0, |r| r.end);
    let jacobian = told(problem, best);
    let from_logs = jacobian.rows(0, logged);
    let mean = from_logs.transpose() * from_logs / rows.len().max(1) as f64;
    let prior = DMatrix::from_fn(n, n, |i, j| {
        if i == j {
            prior_spread(&problem.inputs[i]).powi(-2)
        } else {
            0.0
        }
    });
    (1..=rows.len() + AHEAD)
        .map(|drives| {
            let covariance = invert(&(&prior + drives as f64 * &mean));
            let left: f64 = (0..n)
                .map(|i| covariance[(i, i)].max(0.0).sqrt() / prior_spread(&problem.inputs[i]))
                .sum();
            Gain {
                drives,
                left: left / n.max(1) as f64,
            }
        })
        .collect()
}

fn invert(m: &DMatrix<f64>) -> DMatrix<f64> {
    let n = m.nrows();
    // scaled first: inputs have units from 0.01 to 1000
    let scale: Vec<f64> = (0..n)
        .map(|i| m[(i, i)].max(f64::MIN_POSITIVE).sqrt())
        .collect();
    let scaled = DMatrix::from_fn(n, n, |i, j| m[(i, j)] / (scale[i] * scale[j]));
    let inverse = scaled
        .clone()
        .cholesky()
        .map(|c| c.inverse())
        .or_else(|| {
            // with a limit: it turns for ever on what is no number
            let parts = SVD::try_new(scaled, true, true, f64::EPSILON, 100 * n)?;
            parts.pseudo_inverse(1e-12).ok()
        })
        // nothing known is no certainty
        .unwrap_or_else(|| DMatrix::from_diagonal_element(n, n, f64::INFINITY));
    DMatrix::from_fn(n, n, |i, j| inverse[(i, j)] / (scale[i] * scale[j]))
}
