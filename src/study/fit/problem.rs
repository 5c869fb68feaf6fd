//! Residuals of a sheet over drives: what the search squares.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::FitOptions;
use super::drive::Drive;
use super::least_squares::{Bounds, Residuals};
use super::predict::{SETTLING_S, predict};
use crate::sheet::{Chooser, Sheet, Uncertain};

/// Spread that a channel's residuals are first taken to have, over the least they can [-].
const FIRST_SPREAD: f64 = 3.0;
/// Time over which residuals are first taken to hang together [s].
const FIRST_MEMORY_S: f64 = 60.0;
/// Longest memory that the search goes by [s]. What hangs together for longer is the model's own
/// fault: it widens the errors, but mustn't leave the search with the priors alone.
const MOST_MEMORY_S: f64 = 30.0;
/// Residuals beyond this many spreads count less (Huber 1964). Well below his usual 1.5, near the sum of
/// absolute values: whole minutes are off by what no log shows, and those mustn't bend the rest (on 29
/// measured drives, each kept apart once: 1.52 K instead of 1.54).
const HUBER: f64 = 0.5;
/// Residuals beyond this many spreads are outliers to the memory.
const CLIP: f64 = 1.5;
/// Median of |r| over the spread of a normal law.
const MEDIAN_TO_SPREAD: f64 = 1.4826;

/// How residuals of one channel count.
#[derive(Debug, Clone)]
struct Weighing {
    /// Which samples count: index into the channel.
    samples: Vec<usize>,
    /// Factor on each residual [1/K].
    factor: Vec<f64>,
}

/// Drives, the inputs searched, and how each residual counts.
pub(super) struct Problem<'a> {
    sheet: &'a Sheet,
    drives: &'a [&'a Drive],
    /// Inputs searched.
    pub(super) inputs: Vec<Uncertain>,
    /// Values of other inputs.
    pub(super) fixed: BTreeMap<String, f64>,
    options: &'a FitOptions,
    /// By drive, by channel.
    weighing: Vec<Vec<Weighing>>,
    /// Spread [K] and memory [s] by kind of channel.
    pub(super) spreads: BTreeMap<String, (f64, f64)>,
}

impl<'a> Problem<'a> {
    /// A problem with residuals as far apart as the options have it.
    pub(super) fn new(
        sheet: &'a Sheet,
        drives: &'a [&'a Drive],
        inputs: Vec<Uncertain>,
        fixed: BTreeMap<String, f64>,
        options: &'a FitOptions,
    ) -> Self {
        let mut problem = Self {
            sheet,
            drives,
            inputs,
            fixed,
            options,
            weighing: Vec::new(),
            spreads: BTreeMap::new(),
        };
        for drive in drives {
            for channel in &drive.channels {
                let spread = FIRST_SPREAD * channel.watched.least_spread_k();
                problem
                    .spreads
                    .insert(channel.watched.label(), (spread, FIRST_MEMORY_S));
            }
        }
        problem.weighing = problem.weigh(|_, _, _| 1.0);
        problem
    }

    /// Bounds of the inputs.
    pub(super) fn bounds(&self) -> Vec<Bounds> {
        self.inputs
            .iter()
            .map(|u| Bounds {
                low: u.low,
                high: u.high,
            })
            .collect()
    }

    fn weigh(&self, robust: impl Fn(usize, usize, usize) -> f64) -> Vec<Vec<Weighing>> {
        let spacing_s = self.options.spacing_s;
        let mut out = Vec::new();
        for (d, drive) in self.drives.iter().enumerate() {
            let mut channels = Vec::new();
            for (c, channel) in drive.channels.iter().enumerate() {
                let (spread, memory_s) = self.spreads[&channel.watched.label()];
                let memory_s = memory_s.clamp(spacing_s, MOST_MEMORY_S.max(spacing_s));
                let alone = (spacing_s / memory_s).sqrt();
                let mut weighing = Weighing {
                    samples: Vec::new(),
                    factor: Vec::new(),
                };
                let mut next_s = SETTLING_S;
                for (i, &t) in channel.time_s.iter().enumerate() {
                    if channel.usable[i] && t >= next_s {
                        next_s = t + spacing_s - 1e-9;
                        weighing.samples.push(i);
                        weighing.factor.push(robust(d, c, i) * alone / spread);
                    }
                }
                channels.push(weighing);
            }
            out.push(channels);
        }
        out
    }

    /// All inputs by key at `x`.
    pub(super) fn values(&self, x: &[f64]) -> BTreeMap<String, f64> {
        let mut values = self.fixed.clone();
        let own = self.inputs.iter().zip(x);
        values.extend(own.map(|(u, &v)| (u.key.clone(), v)));
        values
    }

    /// Plain differences model - log [K] of the samples that count, by drive and channel.
    fn differences(&self, x: &[f64], d: usize) -> Result<Vec<Vec<f64>>, String> {
        let values = self.values(x);
        let settled = self.sheet.settle(&mut Chooser::Given(&values));
        let build = settled.map_err(|e| e.to_string())?.build;
        let drive = self.drives[d];
        let found = predict(&build, drive, None).map_err(|e| e.to_string())?;
        let channels = drive.channels.iter().zip(&found.channels);
        let weighed = channels.zip(&self.weighing[d]);
        Ok(weighed
            .map(|((channel, model), w)| {
                let of = |&i: &usize| model[i] - channel.value_k[i];
                w.samples.iter().map(of).collect()
            })
            .collect())
    }

    /// How far inputs are from their likely values, in spreads of their ranges.
    fn priors(&self, x: &[f64]) -> impl Iterator<Item = f64> {
        let of = |(u, &v): (&Uncertain, &f64)| (v - u.likely) / prior_spread(u);
        self.inputs
            .iter()
            .zip(x)
            .map(of)
            .collect::<Vec<_>>()
            .into_iter()
    }

    /// Takes spreads, memory and outliers from the residuals at `x`.
    pub(super) fn weigh_by(&mut self, x: &[f64]) -> Result<(), String> {
        let found: Result<Vec<Vec<Vec<f64>>>, String> = (0..self.drives.len())
            .into_par_iter()
            .map(|d| self.differences(x, d))
            .collect();
        let found = found?;
        let labels: Vec<String> = self.spreads.keys().cloned().collect();
        for label in labels {
            let mut rows: Vec<&Vec<f64>> = Vec::new();
            let mut least = 0.0;
            for (drive, rows_of) in self.drives.iter().zip(&found) {
                for (channel, row) in drive.channels.iter().zip(rows_of) {
                    if channel.watched.label() == label {
                        least = channel.watched.least_spread_k();
                        rows.push(row);
                    }
                }
            }
            let spread = (MEDIAN_TO_SPREAD
                * median(
                    rows.iter()
                        .flat_map(|r| r.iter().map(|v| v.abs()))
                        .collect(),
                ))
            .max(least);
            let memory = memory_samples(&rows, CLIP * spread) * self.options.spacing_s;
            self.spreads.insert(label, (spread, memory));
        }
        let indices: Vec<Vec<BTreeMap<usize, f64>>> = self
            .weighing
            .iter()
            .zip(&found)
            .map(|(ws, rows)| {
                let pairs = ws.iter().zip(rows);
                pairs
                    .map(|(w, r)| w.samples.iter().copied().zip(r.iter().copied()).collect())
                    .collect()
            })
            .collect();
        self.weighing = self.weigh(|d, c, i| {
            let label = self.drives[d].channels[c].watched.label();
            let (spread, _) = self.spreads[&label];
            let off = indices[d][c].get(&i).map_or(0.0, |v| v.abs());
            (HUBER * spread / off.max(HUBER * spread)).sqrt()
        });
        Ok(())
    }

    /// What each row of the logs counts for in errors, over what it counts for in the search.
    pub(super) fn news(&self) -> Vec<f64> {
        let mut out = Vec::new();
        for (drive, channels) in self.drives.iter().zip(&self.weighing) {
            for (channel, w) in drive.channels.iter().zip(channels) {
                let (_, memory_s) = self.spreads[&channel.watched.label()];
                let less = (MOST_MEMORY_S.max(self.options.spacing_s) / memory_s)
                    .min(1.0)
                    .sqrt();
                out.extend(std::iter::repeat_n(less, w.samples.len()));
            }
        }
        out
    }

    /// Rows of the Jacobian that belong to each drive.
    pub(super) fn rows_of_drives(&self) -> Vec<std::ops::Range<usize>> {
        let mut from = 0;
        self.weighing
            .iter()
            .map(|channels| {
                let count: usize = channels.iter().map(|w| w.samples.len()).sum();
                from += count;
                from - count..from
            })
            .collect()
    }
}

/// Spread of the triangular law on a range: `sqrt((a2 + b2 + c2 - ab - ac - bc) / 18)` (textbook).
pub(super) fn prior_spread(u: &Uncertain) -> f64 {
    let (a, c, b) = (u.low, u.likely, u.high);
    ((a * a + b * b + c * c - a * b - a * c - b * c) / 18.0)
        .max(0.0)
        .sqrt()
}

impl Residuals for Problem<'_> {
    fn at(&self, points: &[Vec<f64>]) -> Vec<Result<Vec<f64>, String>> {
        let n = self.drives.len();
        let found: Vec<Result<Vec<f64>, String>> = (0..points.len() * n)
            .into_par_iter()
            .map(|job| {
                if self.options.stopped() {
                    return Err("stopped".to_owned());
                }
                let (p, d) = (job / n, job % n);
                let rows = self.differences(&points[p], d)?;
                let weighed = rows.iter().zip(&self.weighing[d]);
                Ok(weighed
                    .flat_map(|(row, w)| row.iter().zip(&w.factor).map(|(r, f)| r * f))
                    .collect())
            })
            .collect();
        let mut found = found.into_iter();
        points
            .iter()
            .map(|x| {
                let mut all = Vec::new();
                let mut failure = None;
                for part in found.by_ref().take(n) {
                    match part {
                        Ok(part) => all.extend(part),
                        Err(reason) => failure = failure.or(Some(reason)),
                    }
                }
                all.extend(self.priors(x));
                failure.map_or(Ok(all), Err)
            })
            .collect()
    }
}

/// Middle value; 0 of none.
pub(super) fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(0.0)
}

/// Samples over which residuals hang together: `1 + 2 sum rho` up to the first correlation below
/// 0.05 (integrated autocorrelation, any text on time series), outliers clipped.
fn memory_samples(rows: &[&Vec<f64>], clip: f64) -> f64 {
    let clipped: Vec<Vec<f64>> = rows
        .iter()
        .map(|r| r.iter().map(|v| v.clamp(-clip, clip)).collect())
        .collect();
    let power: f64 = clipped.iter().flatten().map(|v| v * v).sum();
    let count: usize = clipped.iter().map(Vec::len).sum();
    if power <= 0.0 || count == 0 {
        return 1.0;
    }
    let mut memory = 1.0;
    for lag in 1..count {
        let (mut sum, mut pairs) = (0.0, 0_usize);
        for row in &clipped {
            for (a, b) in row.iter().zip(row.iter().skip(lag)) {
                sum += a * b;
                pairs += 1;
            }
        }
        let rho = if pairs > 0 {
            sum / pairs as f64 / (power / count as f64)
        } else {
            0.0
        };
        if rho < 0.05 {
            break;
        }
        memory += 2.0 * rho;
    }
    memory
}
