//! How far a build is off over drives.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::drive::{Drive, State, Watched};
use super::predict::{PredictError, Prediction, SETTLING_S, predict};
use super::problem::median;
use crate::sheet::build::Build;

/// Differences model - log over some samples.
#[derive(Debug, Clone, Copy, PartialEq, Default, serde::Serialize)]
pub struct Score {
    /// Samples: seconds that count.
    pub samples: usize,
    /// Root of the mean square [K].
    pub rmse_k: f64,
    /// Mean, model - log [K].
    pub bias_k: f64,
}

/// Differences by state of the car.
pub type ByState = Vec<(State, Score)>;

/// How far the model is off on a drive.
#[derive(Debug, Clone)]
pub struct DriveScore {
    /// Drive.
    pub name: String,
    /// Not used for the fit.
    pub held_out: bool,
    /// Intake sensor.
    pub sensor: Score,
    /// Other channels.
    pub others: Vec<(String, Score)>,
    /// Intake sensor by state.
    pub states: ByState,
    /// What the model says.
    pub prediction: Prediction,
}

#[derive(Default, Clone, Copy)]
struct Sums {
    count: usize,
    sum: f64,
    squares: f64,
}

impl Sums {
    fn add(&mut self, off: f64) {
        self.count += 1;
        self.sum += off;
        self.squares += off * off;
    }

    fn score(&self) -> Score {
        let n = self.count.max(1) as f64;
        Score {
            samples: self.count,
            rmse_k: (self.squares / n).sqrt(),
            bias_k: self.sum / n,
        }
    }
}

/// Scores of a build on drives, with a mark for those that the fit hasn't seen. A drive's first
/// minute gives the state it starts in and doesn't count.
///
/// # Errors
/// The first run that fails.
pub fn judge(build: &Build, drives: &[(&Drive, bool)]) -> Result<Vec<DriveScore>, PredictError> {
    drives
        .par_iter()
        .map(|&(drive, held_out)| {
            let prediction = predict(build, drive, None)?;
            let mut out = DriveScore {
                name: drive.name.clone(),
                held_out,
                sensor: Score::default(),
                others: Vec::new(),
                states: Vec::new(),
                prediction,
            };
            let mut states: BTreeMap<State, Sums> = BTreeMap::new();
            for (channel, model) in drive.channels.iter().zip(&out.prediction.channels) {
                let mut sums = Sums::default();
                let sensor = channel.watched == Watched::Sensor;
                for (i, &t) in channel.time_s.iter().enumerate() {
                    if !channel.usable[i] || t <= SETTLING_S {
                        continue;
                    }
                    let off = model[i] - channel.value_k[i];
                    sums.add(off);
                    if sensor && let Some(state) = drive.state_at(t) {
                        states.entry(state).or_default().add(off);
                    }
                }
                if sensor {
                    out.sensor = sums.score();
                } else {
                    out.others.push((channel.watched.label(), sums.score()));
                }
            }
            out.states = states.iter().map(|(s, sums)| (*s, sums.score())).collect();
            Ok(out)
        })
        .collect()
}

/// Scores put together: all samples, and the middle drive's root mean square [K].
pub fn together<'a>(scores: impl Iterator<Item = &'a Score>) -> (Score, f64) {
    let mut all = Sums::default();
    let mut each = Vec::new();
    for s in scores.filter(|s| s.samples > 0) {
        let n = s.samples as f64;
        all.count += s.samples;
        all.sum += n * s.bias_k;
        all.squares += n * s.rmse_k * s.rmse_k;
        each.push(s.rmse_k);
    }
    (all.score(), median(each))
}
