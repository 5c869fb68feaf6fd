//! The works behind the page: the same library calls and the same JSON as the command line.

use std::collections::BTreeMap;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::asked::{Asked, Car, Choice, NamedText, Refusal};
use super::drawing;
use super::jobs::{Memory, Sink, Work};
use crate::quantity::Units;
use crate::report::{ReportError, html, json};
use crate::sheet::Sheet;
use crate::study::claim::{Claim, ClaimError, ClaimOptions, ClaimSheet, build_of, judge_claim};
use crate::study::compare::{Candidate, Compared, compared};
use crate::study::draws::{
    Case, DrawSettings, Drive, LEAST_DRAWS, Sampled, StudyError, sample, sample_on,
};
use crate::study::findings::{RunResult, Series};
use crate::study::run::RunOptions;
use crate::study::sensitivity::measure_first;

/// Most points of a curve on the page: about as many as a wide screen has columns.
const MOST_POINTS: usize = 900;

/// What a study came to: one car, or two side by side.
enum Found {
    One(Box<RunResult>),
    Two(Box<Compared>),
}

impl Found {
    /// The run of the car with its choices.
    fn own(&self) -> Option<&RunResult> {
        match self {
            Self::One(run) => Some(run),
            Self::Two(compared) => compared.runs.last(),
        }
    }
}

/// Why a work has nothing to show.
pub(super) enum Failed {
    /// Nobody waits for it.
    Stopped,
    /// In words.
    Told(String),
}

impl From<StudyError> for Failed {
    fn from(error: StudyError) -> Self {
        match error {
            StudyError::Stopped => Self::Stopped,
            other => Self::Told(other.to_string()),
        }
    }
}

impl From<ClaimError> for Failed {
    fn from(error: ClaimError) -> Self {
        match error {
            ClaimError::Stopped => Self::Stopped,
            other => Self::Told(other.to_string()),
        }
    }
}

impl From<ReportError> for Failed {
    fn from(error: ReportError) -> Self {
        Self::Told(error.to_string())
    }
}

/// Ends a work: says that it is done, or why not.
pub(super) fn end(sink: &Sink, result: Result<(), Failed>) {
    match result {
        Ok(()) => sink.event("done", ""),
        Err(Failed::Stopped) => {}
        Err(Failed::Told(text)) => sink.event("failed", &text),
    }
}

/// How far a study goes: the draws behind the bands, and how many of them.
type Reach = Option<(DrawSettings, usize)>;

/// Drives choices at their likely values and in draws. What was driven before under the same
/// circumstances isn't driven again, and draws go on from those that are there.
fn samples(
    (car, choices): (&Car, &[&Choice]),
    reach: Reach,
    stage: &str,
    memory: &Memory,
    sink: &Sink,
) -> Result<Vec<Sampled>, Failed> {
    let options = RunOptions::default();
    let drive = Drive {
        cycle: &car.cycle,
        options: &options,
    };
    let progress = |done| sink.progress(stage, Some(done));
    if sink.stopped() {
        return Err(Failed::Stopped);
    }
    let settings = reach.map(|(settings, _)| settings);
    let keys: Vec<String> = choices.iter().map(|c| car.key(c, settings)).collect();
    let cases: Vec<Case> = choices.iter().map(|c| case(c)).collect();
    let known: Vec<Option<Arc<Sampled>>> = keys.iter().map(|k| memory.find(k)).collect();
    let new = cases
        .iter()
        .zip(&known)
        .filter(|(_, known)| known.is_none());
    let new: Vec<Case> = new.map(|(case, _)| *case).collect();
    let mut driven = sample(&new, drive, None, &progress)?.into_iter();
    let mut sampled = Vec::new();
    for known in known {
        let known = known.map(|k| (*k).clone());
        sampled.extend(known.or_else(|| driven.next()));
    }
    if let Some(reach) = reach {
        sample_on(&cases, &mut sampled, drive, reach, &progress)?;
    }
    for (key, sampled) in keys.into_iter().zip(&sampled) {
        memory.keep(key, Arc::new(sampled.clone()));
    }
    for (choice, sampled) in choices.iter().zip(&mut sampled) {
        sampled
            .outcomes
            .truncate(reach.map_or(0, |(_, until)| until));
        // drawn under another name of the same content, it has that one's sum
        sampled.likely.findings.sheet.hash = choice.candidate.sheet.hash();
    }
    Ok(sampled)
}

/// Drives a car beside its bare self where they differ.
fn drive(
    car: &Car,
    reach: Reach,
    stage: &str,
    memory: &Memory,
    sink: &Sink,
) -> Result<Found, Failed> {
    let all: Vec<&Choice> = car.bare.iter().chain([&car.own]).collect();
    let found = samples((car, &all), reach, stage, memory, sink)?;
    let settings = reach.map(|(s, _)| s);
    if let [one] = found.as_slice() {
        let run = one.banded(settings.map_or(0, |s| s.seed))?;
        return Ok(Found::One(Box::new(run)));
    }
    let pair: Vec<Candidate> = all.iter().map(|c| c.candidate.clone()).collect();
    let drawn = settings.filter(|_| found.iter().all(|s| !s.outcomes.is_empty()));
    Ok(Found::Two(Box::new(compared(&pair, &found, drawn)?)))
}

fn case(choice: &Choice) -> Case<'_> {
    Case {
        name: &choice.candidate.name,
        sheet: &choice.candidate.sheet,
    }
}

/// Sends the findings: `run` always, `compare` where there are two cars.
fn tell(found: &Found, sink: &Sink) -> Result<(), Failed> {
    if let Some(own) = found.own() {
        sink.event("run", &json::to_json(&own.findings)?);
    }
    if let Found::Two(compared) = found {
        sink.event("compare", &json::to_json(&compared.comparison)?);
    }
    Ok(())
}

/// New figures at once, then their bands: rough, and settled.
pub(super) fn study(asked: &Asked, memory: &Arc<Memory>) -> Result<Work, Refusal> {
    let settings = asked.settings()?;
    let units = asked.units();
    let car = asked.read()?;
    let memory = memory.clone();
    Ok(Box::new(move |sink| {
        let work = || -> Result<(), Failed> {
            let reach = |draws: usize| settings.map(|s| (s, draws));
            let found = drive(&car, reach(0), "driving", &memory, sink)?;
            tell(&found, sink)?;
            if let Some(own) = found.own() {
                pictures(&car, own, units, sink)?;
            }
            let Some(full) = settings else { return Ok(()) };
            if full.draws > LEAST_DRAWS {
                let rough = drive(&car, reach(LEAST_DRAWS), "rough bands", &memory, sink)?;
                tell(&rough, sink)?;
            }
            tell(
                &drive(&car, reach(full.draws), "bands", &memory, sink)?,
                sink,
            )
        };
        end(sink, work());
    }))
}

/// What to measure first, as `run --draws` finds it.
pub(super) fn measure(asked: &Asked, memory: &Arc<Memory>) -> Result<Work, Refusal> {
    let settings = asked.settings()?;
    let settings = settings.ok_or_else(|| Refusal::new(422, "without draws there are no bands"))?;
    let car = asked.read()?;
    let memory = memory.clone();
    Ok(Box::new(move |sink| {
        let work = || -> Result<(), Failed> {
            let options = RunOptions::default();
            let drive = Drive {
                cycle: &car.cycle,
                options: &options,
            };
            let reach = Some((settings, settings.draws));
            let sampled = samples((&car, &[&car.own]), reach, "drawing", &memory, sink)?;
            let mut run = sampled[0].banded(settings.seed)?;
            let holding = |done| sink.progress("what to measure", Some(done));
            run.findings.measure_first =
                measure_first(case(&car.own), &sampled[0], drive, settings, &holding)?;
            sink.event("measure", &json::to_json(&run.findings)?);
            Ok(())
        };
        end(sink, work());
    }))
}

/// The printable report, as `run --html` or `compare --html` makes it.
pub(super) fn report(asked: &Asked, memory: &Arc<Memory>) -> Result<Work, Refusal> {
    let settings = asked.settings()?;
    let units = asked.units();
    let car = asked.read()?;
    let memory = memory.clone();
    Ok(Box::new(move |sink| {
        let work = || -> Result<(), Failed> {
            let reach = settings.map(|s| (s, s.draws));
            let page = match drive(&car, reach, "report", &memory, sink)? {
                Found::One(run) => html::run(&run, units)?,
                Found::Two(compared) => html::compare(&compared, units)?,
            };
            sink.event("report", &page);
            Ok(())
        };
        end(sink, work());
    }))
}

/// Curves over time, thinned to what a screen can show.
#[derive(Serialize)]
struct Curves<'a> {
    time_s: Vec<f64>,
    names: &'a [String],
    columns: Vec<Vec<f64>>,
    phases: &'a [(String, String, f64, f64)],
}

/// Every so many rows, and the last.
fn thinned(series: &Series) -> Curves<'_> {
    let rows = series.rows.len();
    let step = rows.div_ceil(MOST_POINTS).max(1);
    let kept: Vec<usize> = (0..rows)
        .filter(|i| i % step == 0 || i + 1 == rows)
        .collect();
    let hundredths = |v: f64| (100.0 * v).round() / 100.0;
    let column = |i: usize| -> Vec<f64> {
        let rows = kept.iter();
        rows.map(|r| hundredths(series.rows[*r][i])).collect()
    };
    Curves {
        time_s: kept.iter().map(|r| hundredths(series.time_s[*r])).collect(),
        names: &series.names,
        columns: (0..series.names.len()).map(column).collect(),
        phases: &series.phases,
    }
}

fn pictures(car: &Car, run: &RunResult, units: Units, sink: &Sink) -> Result<(), Failed> {
    let curves = serde_json::to_string(&thinned(&run.series)).map_err(ReportError::from)?;
    sink.event("series", &curves);
    let settled = car
        .own
        .candidate
        .sheet
        .settle(&mut crate::sheet::Chooser::Likely);
    let settled = settled.map_err(|e| Failed::Told(e.to_string()))?;
    sink.event("bay", &drawing::bay(&settled.build).into_string());
    sink.event("flow", &html::heat_flow(&run.findings, units).into_string());
    Ok(())
}

/// A claim on a car.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ClaimAsked {
    /// The car.
    sheet: NamedText,
    /// Keys of a claim file and their values.
    claim: BTreeMap<String, serde_json::Value>,
    /// Draws.
    draws: Option<usize>,
    /// Seed.
    seed: Option<u64>,
}

/// Draws of a claim where the request names none, as on the command line.
const CLAIM_DRAWS: usize = 100;

impl ClaimAsked {
    /// The claim file that the fields stand for, so that both are checked alike.
    fn text(&self) -> Result<String, Refusal> {
        let mut text = String::new();
        for (key, value) in &self.claim {
            let plain = key
                .bytes()
                .all(|b| b.is_ascii_lowercase() || b == b'_' || b == b'.');
            let scalar = value.is_string() || value.is_number() || value.is_boolean();
            if !plain || !scalar || key.is_empty() {
                let told = format!("claim: {key} is no key with a text, number, true or false");
                return Err(Refusal::new(422, told));
            }
            // JSON's strings, numbers and booleans are TOML's
            text.push_str(&format!("{key} = {value}\n"));
        }
        Ok(text)
    }
}

/// Holds a claim against physics.
pub(super) fn claim(asked: &ClaimAsked) -> Result<Work, Refusal> {
    let sheet = Sheet::parse(&asked.sheet.text, &asked.sheet.name)?;
    let build = build_of(&sheet)?;
    let claim: Claim = ClaimSheet::parse(&asked.text()?, "claim", &build)?;
    let options = ClaimOptions {
        draws: asked.draws.unwrap_or(CLAIM_DRAWS),
        seed: asked.seed.unwrap_or(1),
    };
    Ok(Box::new(move |sink| {
        let work = || -> Result<(), Failed> {
            let progress = |done| sink.progress("drawing", Some(done));
            let report = judge_claim(&sheet, &claim, options, &progress)?;
            sink.event("claim", &json::to_json(&report)?);
            Ok(())
        };
        end(sink, work());
    }))
}
