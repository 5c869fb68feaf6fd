//! What a fit finds, in the shape that JSON, terminal and pictures share.

use std::collections::BTreeMap;

use serde::Serialize;

use super::judge::{DriveScore, Score, judge, together};
use super::{Alike, Drive, Fit, FitError, FitOptions, Fitted, Gain, SETTLING_S, State, fit};
use crate::cycle::ImportReport;
use crate::sheet::{Chooser, NewRange, Sheet};
use crate::study::findings::{Program, SCHEMA, SheetId};

/// Time over which residuals are put together in the report [s].
const SPAN_S: f64 = 300.0;

/// A drive, how it was read, and whether the fit may see it.
#[derive(Debug, Clone)]
pub struct Logged {
    /// Drive.
    pub drive: Drive,
    /// Kept apart: predicted, not fitted.
    pub held_out: bool,
    /// How its file was read.
    pub import: ImportReport,
}

/// The result of a fit.
#[derive(Debug, Clone, Serialize)]
pub struct FitFindings {
    /// Version of this shape.
    pub schema: u32,
    /// Program.
    pub program: Program,
    /// Build sheet that was fitted.
    pub sheet: SheetId,
    /// Inputs, in their keys' own units.
    pub inputs: Vec<FittedInput>,
    /// Keys of inputs that the logs told little about.
    pub not_told: Vec<String>,
    /// Pairs that the logs can't tell apart.
    pub alike: Vec<Alike>,
    /// Correlations of the errors, in the order of the inputs.
    pub correlations: Vec<Vec<f64>>,
    /// What the model leaves over, by channel.
    pub left_over: Vec<LeftOver>,
    /// How the search went.
    pub search: SearchDone,
    /// What a number of drives like the mean one tells.
    pub gains: Vec<Gain>,
    /// All drives that were fitted.
    pub fitted: Option<Total>,
    /// All drives that were kept apart.
    pub held_out: Option<Total>,
    /// Each drive.
    pub files: Vec<FileScore>,
}

/// A fitted input.
#[derive(Debug, Clone, Serialize)]
pub struct FittedInput {
    /// Value, error and the range before.
    #[serde(flatten)]
    pub found: Fitted,
    /// Range after.
    pub new_low: f64,
    /// Range after.
    pub new_high: f64,
    /// Whether the logs told something about it.
    pub told: bool,
}

/// Spread of what the model leaves over on a channel.
#[derive(Debug, Clone, Serialize)]
pub struct LeftOver {
    /// Channel.
    pub channel: String,
    /// Spread [K].
    pub spread_k: f64,
    /// Time over which it hangs together [s].
    pub memory_s: f64,
}

/// How the search went.
#[derive(Debug, Clone, Serialize)]
pub struct SearchDone {
    /// Whether it came to rest.
    pub settled: bool,
    /// Half the sum of squares from each start.
    pub costs: Vec<f64>,
    /// Builds driven: over some drives in the first search, over all in the rounds.
    pub evaluations: usize,
}

/// Intake sensor over several drives.
#[derive(Debug, Clone, Serialize)]
pub struct Total {
    /// Drives with samples.
    pub drives: usize,
    /// Samples.
    pub samples: usize,
    /// Root mean square of all samples [K].
    pub rmse_k: f64,
    /// Middle drive's root mean square [K].
    pub median_rmse_k: f64,
    /// Mean, model - log [K].
    pub bias_k: f64,
    /// Root mean square with the sheet as it was [K].
    pub before_rmse_k: f64,
    /// Root mean square of the fitted drives' mean rise over ambient as a prediction [K].
    pub constant_rmse_k: f64,
    /// By state of the car.
    pub states: Vec<StateScore>,
}

/// Differences in a state of the car.
#[derive(Debug, Clone, Serialize)]
pub struct StateScore {
    /// State.
    pub state: State,
    /// Differences.
    #[serde(flatten)]
    pub score: Score,
}

/// Differences over some time.
#[derive(Debug, Clone, Serialize)]
pub struct SpanScore {
    /// From [s].
    pub from_s: f64,
    /// Differences.
    #[serde(flatten)]
    pub score: Score,
}

/// A channel other than the intake sensor.
#[derive(Debug, Clone, Serialize)]
pub struct ChannelScore {
    /// Channel.
    pub channel: String,
    /// Differences.
    #[serde(flatten)]
    pub score: Score,
}

/// A drive.
#[derive(Debug, Clone, Serialize)]
pub struct FileScore {
    /// File.
    pub file: String,
    /// Kept apart.
    pub held_out: bool,
    /// Intake sensor: samples, root mean square and bias.
    #[serde(flatten)]
    pub sensor: Score,
    /// Bay and intake over ambient at the start, found from the first minute [K].
    pub soak_k: f64,
    /// Intake sensor by state of the car.
    pub states: Vec<StateScore>,
    /// Intake sensor over time.
    pub spans: Vec<SpanScore>,
    /// Other channels.
    pub others: Vec<ChannelScore>,
    /// Rows of the file, rows used.
    pub rows: [usize; 2],
    /// How columns were understood.
    pub columns: Vec<String>,
    /// Columns not used.
    pub ignored: Vec<String>,
    /// What was dropped, filled, assumed or changed, and why.
    pub notes: Vec<String>,
}

/// A fit with all that pictures and a new sheet need.
#[derive(Debug, Clone)]
pub struct FitResult {
    /// Findings.
    pub findings: FitFindings,
    /// Each drive's prediction, in the order given.
    pub scores: Vec<DriveScore>,
}

impl FitResult {
    /// The sheet's text with what was fitted as narrower ranges, and the keys without a place in it.
    #[must_use]
    pub fn narrowed(&self, sheet: &Sheet) -> (String, Vec<String>) {
        let told = self.findings.inputs.iter().filter(|i| i.told);
        let ranges: Vec<NewRange> = told
            .map(|i| NewRange {
                key: i.found.key.clone(),
                low: i.new_low,
                likely: i.found.value,
                high: i.new_high,
            })
            .collect();
        sheet.with_ranges(&ranges, "fitted to logged drives")
    }
}

/// Fits a sheet to the drives that may be seen, and judges it on all.
///
/// # Errors
/// As [`fit`], and when a drive can't be run.
pub fn study(
    sheet: &Sheet,
    logs: &[Logged],
    options: &FitOptions,
    tell: &mut dyn FnMut(&str),
) -> Result<FitResult, FitError> {
    let seen: Vec<&Drive> = logs
        .iter()
        .filter(|l| !l.held_out)
        .map(|l| &l.drive)
        .collect();
    let found = fit(sheet, &seen, options, tell)?;
    tell("driving every log with the fitted sheet");
    let values = found.values();
    let before = run(sheet, &BTreeMap::new(), logs)?;
    if options.stopped() {
        return Err(FitError::Stopped);
    }
    let after = run(sheet, &values, logs)?;
    let mean_rise_k = mean_rise(logs);
    let total = |held_out: bool| total(logs, (&before, &after), held_out, mean_rise_k);
    let findings = FitFindings {
        schema: SCHEMA,
        program: Program::this(),
        sheet: SheetId {
            title: sheet.title().to_owned(),
            hash: sheet.hash(),
        },
        fitted: total(false),
        held_out: total(true),
        files: logs.iter().zip(&after).map(|(l, s)| file(l, s)).collect(),
        ..described(found)
    };
    Ok(FitResult {
        findings,
        scores: after,
    })
}

fn run(
    sheet: &Sheet,
    values: &BTreeMap<String, f64>,
    logs: &[Logged],
) -> Result<Vec<DriveScore>, FitError> {
    let build = sheet.settle(&mut Chooser::Given(values))?.build;
    let drives: Vec<(&Drive, bool)> = logs.iter().map(|l| (&l.drive, l.held_out)).collect();
    judge(&build, &drives).map_err(|e| FitError::Failed {
        reason: e.to_string(),
    })
}

fn described(fit: Fit) -> FitFindings {
    let inputs: Vec<FittedInput> = fit
        .inputs
        .into_iter()
        .map(|found| {
            let (new_low, new_high) = found.narrowed();
            let told = found.told();
            FittedInput {
                found,
                new_low,
                new_high,
                told,
            }
        })
        .collect();
    let left_over = fit
        .spreads
        .into_iter()
        .map(|(channel, (spread_k, memory_s))| LeftOver {
            channel,
            spread_k,
            memory_s,
        });
    FitFindings {
        schema: SCHEMA,
        program: Program::this(),
        sheet: SheetId {
            title: String::new(),
            hash: String::new(),
        },
        not_told: inputs
            .iter()
            .filter(|i| !i.told)
            .map(|i| i.found.key.clone())
            .collect(),
        inputs,
        alike: fit.alike,
        correlations: fit.correlations,
        left_over: left_over.collect(),
        search: SearchDone {
            settled: fit.settled,
            costs: fit.costs,
            evaluations: fit.evaluations,
        },
        gains: fit.gains,
        fitted: None,
        held_out: None,
        files: Vec::new(),
    }
}

/// Samples of the intake sensor that count: time, reading, outside air [K].
fn samples(drive: &Drive) -> impl Iterator<Item = (f64, f64, f64)> + '_ {
    drive.sensor().into_iter().flat_map(move |channel| {
        let all = channel
            .time_s
            .iter()
            .zip(&channel.value_k)
            .zip(&channel.usable);
        all.filter(|&((&t, _), &usable)| usable && t > SETTLING_S)
            .filter_map(|((&t, &k), _)| Some((t, k, drive.cycle.at(t)?.ambient_k?)))
    })
}

fn mean_rise(logs: &[Logged]) -> f64 {
    let seen = logs.iter().filter(|l| !l.held_out);
    let rises: Vec<f64> = seen
        .flat_map(|l| samples(&l.drive).map(|(_, k, a)| k - a))
        .collect();
    rises.iter().sum::<f64>() / rises.len().max(1) as f64
}

fn total(
    logs: &[Logged],
    (before, after): (&[DriveScore], &[DriveScore]),
    held_out: bool,
    mean_rise_k: f64,
) -> Option<Total> {
    let of = |scores: &[DriveScore]| -> Vec<Score> {
        let own = scores.iter().filter(|s| s.held_out == held_out);
        own.map(|s| s.sensor).filter(|s| s.samples > 0).collect()
    };
    let scores = of(after);
    if scores.is_empty() {
        return None;
    }
    let (all, median_rmse_k) = together(scores.iter());
    let mut squares = (0.0, 0_usize);
    for log in logs.iter().filter(|l| l.held_out == held_out) {
        for (_, k, ambient_k) in samples(&log.drive) {
            squares.0 += (ambient_k + mean_rise_k - k).powi(2);
            squares.1 += 1;
        }
    }
    let by_state = |state: State| -> Option<StateScore> {
        let own = after.iter().filter(|s| s.held_out == held_out);
        let found: Vec<Score> = own
            .flat_map(|s| {
                s.states
                    .iter()
                    .filter(|(at, _)| *at == state)
                    .map(|(_, s)| *s)
            })
            .collect();
        let (score, _) = together(found.iter());
        (score.samples > 0).then_some(StateScore { state, score })
    };
    Some(Total {
        drives: scores.len(),
        samples: all.samples,
        rmse_k: all.rmse_k,
        median_rmse_k,
        bias_k: all.bias_k,
        before_rmse_k: together(of(before).iter()).0.rmse_k,
        constant_rmse_k: (squares.0 / squares.1.max(1) as f64).sqrt(),
        states: State::ALL.into_iter().filter_map(by_state).collect(),
    })
}

fn file(log: &Logged, score: &DriveScore) -> FileScore {
    let state = |&(state, score): &(State, Score)| StateScore { state, score };
    FileScore {
        file: log.drive.name.clone(),
        held_out: log.held_out,
        sensor: score.sensor,
        soak_k: score.prediction.soak_k,
        states: score.states.iter().map(state).collect(),
        spans: spans(log, score),
        others: score
            .others
            .iter()
            .map(|(channel, score)| ChannelScore {
                channel: channel.clone(),
                score: *score,
            })
            .collect(),
        rows: [log.import.rows, log.import.used_rows],
        columns: log
            .import
            .columns
            .iter()
            .map(|c| format!("\"{}\" is {} in {} ({})", c.header, c.role, c.unit, c.how))
            .collect(),
        ignored: log.import.ignored.clone(),
        notes: log.import.notes.clone(),
    }
}

fn spans(log: &Logged, score: &DriveScore) -> Vec<SpanScore> {
    let Some(channel) = log.drive.sensor() else {
        return Vec::new();
    };
    let at = log
        .drive
        .channels
        .iter()
        .position(|c| std::ptr::eq(c, channel));
    let Some(model) = at.and_then(|i| score.prediction.channels.get(i)) else {
        return Vec::new();
    };
    let mut sums: BTreeMap<usize, (usize, f64, f64)> = BTreeMap::new();
    for (i, &t) in channel.time_s.iter().enumerate() {
        if channel.usable[i] && t > SETTLING_S {
            let off = model[i] - channel.value_k[i];
            // a time from 0 to a day
            let own = sums.entry((t / SPAN_S) as usize).or_default();
            *own = (own.0 + 1, own.1 + off, own.2 + off * off);
        }
    }
    sums.into_iter()
        .map(|(span, (samples, sum, squares))| SpanScore {
            from_s: span as f64 * SPAN_S,
            score: Score {
                samples,
                rmse_k: (squares / samples as f64).sqrt(),
                bias_k: sum / samples as f64,
            },
        })
        .collect()
}
