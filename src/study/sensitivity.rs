//! Which uncertain input moves a figure, and what knowing it would be worth.

use rayon::prelude::*;

use super::bands::{Band, SampleError};
use super::draws::{
    Case, DrawSettings, Drive, Held, Progress, Sampled, StudyError, hypercube, sample_held,
    values_of,
};
use super::findings::MeasureFirst;
use super::latin_hypercube::LatinHypercube;
use crate::sheet::Uncertain;

/// Standard deviations of pure chance that a share must exceed to be named: with some hundred keys
/// the largest of them by chance alone stays below this in nearly all cases.
const BEYOND_CHANCE: f64 = 4.0;
/// Keys looked at closer for each figure.
const KEYS_PER_FIGURE: usize = 2;

/// First-order and total shares of variance, one entry per input.
#[derive(Debug, Clone, PartialEq)]
pub struct Indices {
    /// Share that goes with the input alone [-].
    pub first: Vec<f64>,
    /// Share that would stay if all but this input were known [-].
    pub total: Vec<f64>,
    /// Calls of the function.
    pub calls: usize,
}

/// The function at a row of both base samples, and at the first with each input from the second.
type Row = (f64, f64, Vec<f64>);

/// Variance-based indices of a function of independent inputs, each given as a quantile in 0..1.
///
/// # Source
/// First order: Saltelli et al. 2010, Computer Physics Communications 181, 259, table 2 eq. (b).
/// Total: Jansen 1999, Computer Physics Communications 117, 35, in the form of table 2 eq. (f) there.
///
/// # Arguments
/// - `inputs`: number of inputs
/// - `draws`: rows of each base sample; the function is called `draws * (inputs + 2)` times
///
/// # Errors
/// A value that isn't finite, or no draws.
pub fn indices(
    function: impl Fn(&[f64]) -> f64 + Sync,
    inputs: usize,
    draws: usize,
    seed: u64,
) -> Result<Indices, SampleError> {
    let names: Vec<String> = ["a", "b"]
        .iter()
        .flat_map(|base| (0..inputs).map(move |i| format!("{base}{i}")))
        .collect();
    let cube = LatinHypercube::new(draws, seed, names.iter().map(String::as_str));
    let row = |offset: usize, draw: usize| -> Vec<f64> {
        let own = &names[offset..offset + inputs];
        own.iter().map(|name| cube.quantile(name, draw)).collect()
    };
    let rows: Vec<Row> = (0..draws)
        .into_par_iter()
        .map(|draw| {
            let (a, b) = (row(0, draw), row(inputs, draw));
            let mixed = (0..inputs).map(|i| {
                let mut mixed = a.clone();
                mixed[i] = b[i];
                function(&mixed)
            });
            (function(&a), function(&b), mixed.collect())
        })
        .collect();
    let every: Vec<f64> = rows.iter().flat_map(|r| [r.0, r.1]).collect();
    Band::of(&every)?;
    for r in &rows {
        Band::of(&r.2)?;
    }
    let mean = every.iter().sum::<f64>() / every.len() as f64;
    let variance = every.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / every.len() as f64;
    let over = |sum: f64| {
        if variance > 0.0 {
            sum / (draws as f64 * variance)
        } else {
            0.0
        }
    };
    let per_input = |of: &dyn Fn(&Row, usize) -> f64| {
        let sums = (0..inputs).map(|i| over(rows.iter().map(|r| of(r, i)).sum()));
        sums.collect::<Vec<f64>>()
    };
    Ok(Indices {
        first: per_input(&|r, i| r.1 * (r.2[i] - r.0)),
        total: per_input(&|r, i| 0.5 * (r.0 - r.2[i]).powi(2)),
        calls: draws * (inputs + 2),
    })
}

/// Share of variance that goes with one input alone, from draws that are there anyway.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Share {
    /// The share [-]; may come out a little below 0.
    pub share: f64,
    /// Standard deviation of the share of an input that has no effect [-].
    pub chance: f64,
}

impl Share {
    /// Whether there is more to it than chance.
    pub fn is_real(&self) -> bool {
        self.share > BEYOND_CHANCE * self.chance
    }
}

/// First-order share of one input from given draws: the spread of means over bins of equal count,
/// less what bins of pure chance would show.
///
/// # Source
/// Correlation ratio of Pearson 1905 as a sensitivity measure: Plischke, Borgonovo and Smith 2013,
/// European Journal of Operational Research 226, 536; bias taken off as Kelley 1935, PNAS 21, 554.
/// The correlation ratio of an input without effect is a beta variable with (bins - 1)/2 and
/// (draws - bins)/2 (one-way analysis of variance, any textbook).
///
/// `None` with fewer than 10 draws or a figure that never changes.
pub fn first_order(quantiles: &[f64], values: &[f64]) -> Option<Share> {
    let n = values.len();
    if n < 10 || quantiles.len() != n {
        return None;
    }
    let mean = values.iter().sum::<f64>() / n as f64;
    let whole: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
    if whole.is_nan() || whole <= 0.0 {
        return None;
    }
    let bins = ((n as f64).sqrt() / 2.0).round().clamp(3.0, 20.0) as usize;
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|a, b| quantiles[*a].total_cmp(&quantiles[*b]));
    let between: f64 = (0..bins)
        .map(|bin| {
            let own = &order[bin * n / bins..(bin + 1) * n / bins];
            let here = own.iter().map(|&i| values[i]).sum::<f64>() / own.len() as f64;
            own.len() as f64 * (here - mean).powi(2)
        })
        .sum();
    let (n, free) = (n as f64, bins as f64 - 1.0);
    let within = (whole - between) / (n - bins as f64);
    Some(Share {
        share: (between - free * within) / whole,
        chance: (2.0 * free * (n - bins as f64) / ((n - 1.0).powi(2) * (n + 1.0))).sqrt(),
    })
}

/// A figure or margin that the question is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lead {
    /// Id of a figure, or `margin_k`.
    pub id: String,
    /// Its place.
    pub place: String,
    /// Both for people.
    pub label: String,
    /// Its unit.
    pub unit: String,
    index: usize,
}

/// What people decide on: intake rise at the sensor, heat to the bay, the closest limit.
pub fn leads(sampled: &Sampled) -> Vec<Lead> {
    let figure = |id: &str, place: &str, label: &str, unit: &str| {
        let index = sampled.figure_index(id, place)?;
        Some(Lead {
            id: id.into(),
            place: place.into(),
            label: label.into(),
            unit: unit.into(),
            index,
        })
    };
    let margins = &sampled.likely.findings.margins;
    let closest = margins
        .iter()
        .min_by(|a, b| a.margin_k.total_cmp(&b.margin_k));
    let closest = closest.and_then(|m| {
        Some(Lead {
            id: "margin_k".into(),
            place: format!("{}, {}", m.part, m.what),
            label: format!("room of {}", m.part),
            unit: "K".into(),
            index: sampled.margin_index(&m.part, &m.what)?,
        })
    });
    [
        figure(
            "intake_rise_mean_k",
            "sensor",
            "mean rise at the sensor",
            "K",
        ),
        figure("heat_to_bay_mean_w", "all", "heat to the bay", "W"),
        closest,
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// Shares of all keys in one figure, largest first; draws that failed are left out.
pub fn shares<'s>(
    sampled: &'s Sampled,
    settings: DrawSettings,
    lead: &Lead,
) -> Vec<(&'s Uncertain, Share)> {
    let Some(values) = sampled.values(lead.index) else {
        return Vec::new();
    };
    let cube = hypercube(std::slice::from_ref(sampled), settings);
    let outcomes = sampled.outcomes.iter().enumerate();
    let good: Vec<usize> = outcomes
        .filter(|(_, o)| o.is_ok())
        .map(|(i, _)| i)
        .collect();
    let mut found: Vec<(&Uncertain, Share)> = Vec::new();
    for key in &sampled.settled.uncertain {
        let quantiles: Vec<f64> = good.iter().map(|&d| cube.quantile(&key.key, d)).collect();
        if let Some(share) = first_order(&quantiles, &values) {
            found.push((key, share));
        }
    }
    found.sort_by(|a, b| b.1.share.total_cmp(&a.1.share));
    found
}

/// The keys worth measuring first: for each lead figure those with the largest share beyond chance,
/// with the band that is left when all draws are run again with the key held at its likely value.
///
/// # Errors
/// A drawn value that isn't a finite number, or a result that nobody wants any more.
pub fn measure_first(
    case: Case,
    sampled: &Sampled,
    drive: Drive,
    settings: DrawSettings,
    progress: Progress,
) -> Result<Vec<MeasureFirst>, StudyError> {
    let mut wanted: Vec<(Lead, &Uncertain, Share)> = Vec::new();
    for lead in leads(sampled) {
        let found = shares(sampled, settings, &lead);
        let real = found.into_iter().filter(|(_, share)| share.is_real());
        wanted.extend(
            real.take(KEYS_PER_FIGURE)
                .map(|(k, s)| (lead.clone(), k, s)),
        );
    }
    let mut keys: Vec<Held> = Vec::new();
    for (_, key, _) in &wanted {
        if keys.iter().all(|held| held.0.key != key.key) {
            keys.push(Held(key));
        }
    }
    let again = sample_held(case, sampled, drive, settings, &keys, progress)?;
    let mut out = Vec::new();
    for (lead, key, share) in wanted {
        let now = sampled.values(lead.index);
        let held = keys.iter().position(|held| held.0.key == key.key);
        let then = held.and_then(|i| values_of(&again[i], lead.index));
        let (Some(now), Some(then)) = (now, then) else {
            continue;
        };
        let (now, then) = (Band::of(&now)?, Band::of(&then)?);
        out.push(MeasureFirst {
            id: lead.id,
            place: lead.place,
            label: lead.label,
            unit: lead.unit,
            key: key.key.clone(),
            share_percent: 100.0 * share.share,
            low: now.low,
            high: now.high,
            low_when_measured: then.low,
            high_when_measured: then.high,
        });
    }
    Ok(out)
}
