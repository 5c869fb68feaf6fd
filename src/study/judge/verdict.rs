//! The effect of a change, and what it says of a claim and of a prediction.

use serde::Serialize;

use super::aligned::{Aligned, Explains, ROW_S, RUN_IN_S, align};
use super::log::{LogError, MeasuredLog};
use super::regression::{Effect, FitError, Rows, effect};
use crate::sheet::Sheet;
use crate::study::draws::{Count, Progress};
use crate::study::findings::Series;
use crate::study::run::{RunError, RunOptions, run};

/// Level of the interval.
pub const LEVEL: f64 = 0.9;
/// Scatter of a bay temperature from day to day that no log of one day shows: sun, wind, fuel, traffic [K] (estimate).
pub const DAY_SCATTER_K: f64 = 1.5;
/// Share of the step that covariates may mimic before it is said.
const MIMICRY: f64 = 0.5;
/// Fewest rows on each side for a state of its own.
const FEWEST_ROWS: usize = 8;
/// Names that logs give to channels of the model.
const ALIASES: [(&str, &str); 3] = [
    ("intake_c", "intake:sensor_c"),
    ("iat_c", "intake:sensor_c"),
    ("charge_c", "intake:sensor_c"),
];
/// Driving states: name, and the road speed below which it is [m/s].
const STATES: [(&str, f64); 3] = [
    ("standing", 1.5),
    ("below 60 km/h", 60.0 / 3.6),
    ("faster", f64::INFINITY),
];

/// Why there is no judgement.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum JudgeError {
    /// A log is bad.
    #[error(transparent)]
    Log(#[from] LogError),
    /// Nothing can be fitted.
    #[error(
        "{0}\n  hint: logs of half an hour or more, each with standing, town and faster driving, tell most"
    )]
    Fit(#[from] FitError),
    /// The model can't be run over a log.
    #[error(transparent)]
    Run(#[from] RunError),
    /// The model has no such channel.
    #[error(
        "the model has no channel {channel}\n  hint: leave the sheet out, or name the column as in `run --csv`, say {near}"
    )]
    NoModelChannel {
        /// Asked for.
        channel: String,
        /// One it has.
        near: String,
    },
    /// Nobody wants the judgement any more.
    #[error("stopped before the end")]
    Stopped,
}

impl JudgeError {
    /// Exit code of the program.
    #[must_use]
    pub fn exit_code(&self) -> u8 {
        match self {
            Self::Run(error) => error.exit_code(),
            Self::Stopped => 3,
            _ => 2,
        }
    }
}

/// What to judge.
#[derive(Debug)]
pub struct JudgeInput<'a> {
    /// Logs before the change.
    pub before: &'a [MeasuredLog],
    /// Logs after it.
    pub after: &'a [MeasuredLog],
    /// Column that is judged.
    pub channel: &'a str,
    /// The car before, to take the operating point out by the model.
    pub sheet: Option<&'a Sheet>,
    /// The car after, for the prediction.
    pub treated: Option<&'a Sheet>,
    /// Claimed change [K].
    pub claim_k: Option<f64>,
}

/// A change with its interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Interval {
    /// Best value [K].
    pub value: f64,
    /// Low end [K].
    pub low: f64,
    /// High end [K].
    pub high: f64,
}

impl From<&Effect> for Interval {
    fn from(e: &Effect) -> Self {
        Self {
            value: e.value,
            low: e.low,
            high: e.high,
        }
    }
}

impl Interval {
    fn holds(&self, value: f64) -> bool {
        (self.low..=self.high).contains(&value)
    }
}

/// What a test has shown.
#[derive(Debug, Clone, Serialize)]
pub struct Judgement {
    /// Version of this shape.
    pub schema: u32,
    /// Column.
    pub channel: String,
    /// Logs before and after.
    pub logs: (usize, usize),
    /// Minutes used before and after.
    pub minutes: (f64, f64),
    /// After minus before as read [K].
    pub raw_k: f64,
    /// The same over outside air, where that was logged [K].
    pub over_ambient_k: Option<f64>,
    /// At equal operating points [K], with an interval of 90 %.
    pub effect: Interval,
    /// The same with the scatter from day to day, where one log stands for a day [K].
    pub with_days: Option<Interval>,
    /// How the interval was made.
    pub method: String,
    /// By state of driving.
    pub by_state: Vec<(String, Interval)>,
    /// Whether a change is shown at all.
    pub shown: bool,
    /// Claimed [K], and whether the interval holds it.
    pub claim: Option<(f64, bool)>,
    /// Predicted on the drives after [K], and whether the interval holds it.
    pub prediction: Option<(f64, bool)>,
    /// What else could explain it.
    pub else_explains: Vec<String>,
}

impl Judgement {
    /// The interval that counts: with the scatter of days where it is known only by assumption.
    #[must_use]
    pub fn interval(&self) -> Interval {
        self.with_days.unwrap_or(self.effect)
    }
}

/// Judges a test.
///
/// # Errors
/// When a log lacks the channel, nothing can be fitted, the model can't be run or nobody wants the
/// judgement any more.
pub fn judge(input: &JudgeInput, progress: Progress) -> Result<Judgement, JudgeError> {
    let sides = || {
        input
            .before
            .iter()
            .map(|l| (l, false))
            .chain(input.after.iter().map(|l| (l, true)))
    };
    let column = ALIASES
        .iter()
        .find(|(own, _)| *own == input.channel)
        .map_or(input.channel, |(_, m)| m);
    let treated_runs = input.treated.map_or(0, |_| 2 * input.after.len());
    let count = Count::new(
        input.before.len() + input.after.len() + treated_runs,
        progress,
    );
    let mut aligned = Vec::new();
    for (log, after) in sides() {
        let series = input
            .sheet
            .map(|sheet| modelled(sheet, log, column, &count))
            .transpose()?;
        let explains = series
            .as_ref()
            .map_or(Explains::Log, |(s, own)| Explains::Model(s, own));
        aligned.push(align(log, input.channel, after, explains)?);
    }
    let ambient_known = aligned.iter().all(|a| a.ambient_k.is_some());
    if !ambient_known {
        // over outside air on all rows or on none
        for a in &mut aligned {
            if let Some(ambient) = a.ambient_k {
                a.rows.response.iter_mut().for_each(|r| *r += ambient);
            }
        }
    }
    let rows: Vec<Rows> = aligned.iter().map(|a| a.rows.clone()).collect();
    let found = effect(&rows, LEVEL)?;
    let prediction = predicted(input, column, &count)?;
    let with_days = found.memory.map(|_| widened(&found, input));
    let interval = with_days.unwrap_or(Interval::from(&found));
    let minutes = |after| {
        let own = rows.iter().filter(|r| r.after == after);
        own.map(|r| r.response.len() as f64 * ROW_S / 60.0).sum()
    };
    let raw_k = step(&aligned, |a| a.mean_k);
    let over_ambient_k =
        ambient_known.then(|| step(&aligned, |a| a.mean_k - a.ambient_k.unwrap_or(0.0)));
    Ok(Judgement {
        schema: 1,
        channel: input.channel.to_owned(),
        logs: (input.before.len(), input.after.len()),
        minutes: (minutes(false), minutes(true)),
        raw_k,
        over_ambient_k,
        effect: Interval::from(&found),
        with_days,
        method: method(&found, input.sheet.is_some()),
        by_state: by_state(&aligned),
        shown: !interval.holds(0.0),
        claim: input.claim_k.map(|k| (k, interval.holds(k))),
        prediction: prediction.map(|k| (k, interval.holds(k))),
        else_explains: else_explains(input, &aligned, &found, over_ambient_k, raw_k),
    })
}

/// Mean after minus mean before, rows weighing alike.
fn step(aligned: &[Aligned], value: impl Fn(&Aligned) -> f64) -> f64 {
    let mean = |after: bool| {
        let own = || aligned.iter().filter(|a| a.rows.after == after);
        let rows: usize = own().map(|a| a.speed_m_s.len()).sum();
        own()
            .map(|a| value(a) * a.speed_m_s.len() as f64)
            .sum::<f64>()
            / rows.max(1) as f64
    };
    mean(true) - mean(false)
}

/// The model's series on a drive, and its name for the column: logs don't tell small letters from capitals.
fn modelled(
    sheet: &Sheet,
    log: &MeasuredLog,
    column: &str,
    count: &Count,
) -> Result<(Series, String), JudgeError> {
    count.wanted().map_err(|_| JudgeError::Stopped)?;
    let result = run(sheet, &log.cycle, &RunOptions::default(), &mut |_| {})?;
    count.one();
    let names = &result.series.names;
    if let Some(own) = names.iter().find(|n| n.eq_ignore_ascii_case(column)) {
        let own = own.clone();
        return Ok((result.series, own));
    }
    let score = |n: &&String| strsim::jaro_winkler(n, column);
    let near = result
        .series
        .names
        .iter()
        .max_by(|a, b| score(a).total_cmp(&score(b)));
    Err(JudgeError::NoModelChannel {
        channel: column.to_owned(),
        near: near.cloned().unwrap_or_default(),
    })
}

/// Mean of treated minus bare over the drives after the change, run-in left out as in the rows.
fn predicted(input: &JudgeInput, column: &str, runs: &Count) -> Result<Option<f64>, JudgeError> {
    let (Some(bare), Some(treated)) = (input.sheet, input.treated) else {
        return Ok(None);
    };
    let (mut sum, mut count) = (0.0, 0.0);
    for log in input.after {
        let (a, own) = modelled(bare, log, column, runs)?;
        let (b, _) = modelled(treated, log, column, runs)?;
        let of = |s: &Series| s.column(&own).unwrap_or_default();
        for ((t, x), y) in a.time_s.iter().zip(of(&a)).zip(of(&b)) {
            if *t >= RUN_IN_S {
                sum += y - x;
                count += 1.0;
            }
        }
    }
    Ok((count > 0.0).then(|| sum / count))
}

/// Adds the scatter of whole days, which logs of one day on a side can't show.
fn widened(found: &Effect, input: &JudgeInput) -> Interval {
    let days = |logs: usize| 1.0 / logs.max(1) as f64;
    let days_k = DAY_SCATTER_K * (days(input.before.len()) + days(input.after.len())).sqrt();
    let half = found.high - found.value;
    // 1.645: the assumed scatter is taken as known
    let half = half.hypot(1.645 * days_k);
    Interval {
        value: found.value,
        low: found.value - half,
        high: found.value + half,
    }
}

fn method(found: &Effect, by_model: bool) -> String {
    let point = if by_model {
        "the model's prediction for the same drive"
    } else {
        "the log's own heat, speed and lack of draught, each with a memory of 1 and 10 min"
    };
    match found.memory {
        Some(memory) => format!(
            "least squares on half-minute means against {point}; residuals remember {:.0} % from row to row, freed of that and \
             given Student's t with {:.0} degrees of freedom (blocks of so short logs are too few to resample)",
            100.0 * memory,
            found.freedom
        ),
        None => format!(
            "least squares on half-minute means against {point}; whole drives compared, so that what differs from \
             day to day is in the interval, Student's t with {:.0} degrees of freedom",
            found.freedom
        ),
    }
}

fn by_state(aligned: &[Aligned]) -> Vec<(String, Interval)> {
    let mut out = Vec::new();
    let mut above = -1.0;
    for (name, below) in STATES {
        let pick = |a: &Aligned| {
            let inside: Vec<usize> = (0..a.speed_m_s.len())
                .filter(|&i| (above..below).contains(&a.speed_m_s[i]))
                .collect();
            Rows {
                response: inside.iter().map(|&i| a.rows.response[i]).collect(),
                covariates: inside
                    .iter()
                    .map(|&i| a.rows.covariates[i].clone())
                    .collect(),
                after: a.rows.after,
            }
        };
        let rows: Vec<Rows> = aligned
            .iter()
            .map(pick)
            .filter(|r| !r.response.is_empty())
            .collect();
        let count = |after| {
            rows.iter()
                .filter(|r| r.after == after)
                .map(|r| r.response.len())
                .sum::<usize>()
        };
        if count(false) >= FEWEST_ROWS
            && count(true) >= FEWEST_ROWS
            && let Ok(found) = effect(&rows, LEVEL)
        {
            out.push((name.to_owned(), Interval::from(&found)));
        }
        above = below;
    }
    out
}

fn else_explains(
    input: &JudgeInput,
    aligned: &[Aligned],
    found: &Effect,
    over_ambient_k: Option<f64>,
    raw_k: f64,
) -> Vec<String> {
    let mut out = Vec::new();
    match over_ambient_k {
        Some(k) if (raw_k - k).abs() > 0.5 => out.push(format!(
            "outside air differed by {:.1} K between the days; that is taken out kelvin for kelvin",
            raw_k - k
        )),
        Some(_) => {}
        None => out.push(
            "outside air was not logged in all files: its difference is in the result kelvin for kelvin".to_owned(),
        ),
    }
    if found.memory.is_some() {
        out.push(format!(
            "with one drive standing for a day, sun, wind and traffic of that day are not in its scatter; {DAY_SCATTER_K} K a \
             day is added (estimate); two drives or more on each side would show it"
        ));
    }
    if found.mimicked > MIMICRY {
        out.push(format!(
            "load and speed differ between the sides so that they mimic {:.0} % of the change: drive the same road at the same pace",
            100.0 * found.mimicked
        ));
    }
    let speeds = |after: bool| {
        let own = aligned
            .iter()
            .filter(|a| a.rows.after == after)
            .flat_map(|a| &a.speed_m_s);
        own.fold((f64::INFINITY, 0.0_f64), |(low, high), &v| {
            (low.min(v), high.max(v))
        })
    };
    let (before, after) = (speeds(false), speeds(true));
    if after.1 > before.1 + 8.0 || before.1 > after.1 + 8.0 {
        out.push(format!(
            "top speed was {:.0} km/h before and {:.0} km/h after: beyond the common range the correction is a guess",
            3.6 * before.1,
            3.6 * after.1
        ));
    }
    if input.channel.starts_with("skin") || input.channel.contains("surface") {
        out.push("a thermocouple clipped on a coat or a wrap reads far lower than on metal, the skin being the same".to_owned());
    } else {
        out.push("a probe that saw the hot part before and a cooler skin after reads lower in the same air".to_owned());
    }
    out
}
