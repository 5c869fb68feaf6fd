//! Works on logs of drives: judging a test, and fitting the sheet.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::asked::{Asked, NamedText, Refusal};
use super::jobs::Work;
use super::studies::{Failed, end};
use crate::cycle::{LogOptions, import};
use crate::quantity::kelvin;
use crate::report::{ReportError, json};
use crate::sheet::Sheet;
use crate::study::fit::{self, Drive, FitError, FitOptions, Logged};
use crate::study::judge::{JudgeError, JudgeInput, MeasuredLog, judge};

/// Logs before and after a change.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct JudgeAsked {
    /// The car and what was done to it, to take the operating point out by the model.
    car: Option<Asked>,
    before: Vec<NamedText>,
    after: Vec<NamedText>,
    channel: String,
    claim_k: Option<f64>,
}

impl From<JudgeError> for Failed {
    fn from(error: JudgeError) -> Self {
        match error {
            JudgeError::Stopped => Self::Stopped,
            other => Self::Told(other.to_string()),
        }
    }
}

impl From<FitError> for Failed {
    fn from(error: FitError) -> Self {
        match error {
            FitError::Stopped => Self::Stopped,
            other => Self::Told(other.to_string()),
        }
    }
}

/// Reads all logs; what is wrong with any of them is told together.
fn logs(asked: &[NamedText], faults: &mut Vec<String>) -> Vec<MeasuredLog> {
    let read = asked.iter().filter_map(|log| {
        let read = MeasuredLog::read(log.text.as_bytes(), &log.name);
        read.map_err(|e| faults.push(e.to_string())).ok()
    });
    read.collect()
}

/// Judges a test.
pub(super) fn judged(asked: &JudgeAsked) -> Result<Work, Refusal> {
    let car = asked.car.as_ref().map(Asked::read).transpose()?;
    let mut faults = Vec::new();
    if asked.before.is_empty() || asked.after.is_empty() {
        faults.push("logs: one before and one after the change is the least".to_owned());
    }
    if asked.channel.trim().is_empty() {
        faults.push("channel: name the column that is judged".to_owned());
    }
    let before = logs(&asked.before, &mut faults);
    let after = logs(&asked.after, &mut faults);
    if !faults.is_empty() {
        return Err(Refusal::new(422, faults.join("\n")));
    }
    let channel = asked.channel.trim().to_ascii_lowercase();
    let claim_k = asked.claim_k;
    Ok(Box::new(move |sink| {
        let work = || -> Result<(), Failed> {
            let treated = car.as_ref().filter(|c| c.changed);
            let input = JudgeInput {
                before: &before,
                after: &after,
                channel: &channel,
                sheet: car.as_ref().map(|c| &c.sheet),
                treated: treated.map(|c| &c.own.candidate.sheet),
                claim_k,
            };
            let progress = |done| sink.progress("driving the model over the logs", Some(done));
            let judgement = judge(&input, &progress)?;
            sink.event("judge", &json::to_json(&judgement)?);
            Ok(())
        };
        end(sink, work());
    }))
}

/// Logs to fit a sheet to.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct FitAsked {
    /// The car.
    sheet: NamedText,
    /// Logs to fit.
    logs: Vec<NamedText>,
    /// Logs to predict only.
    #[serde(default)]
    hold_out: Vec<NamedText>,
    /// The day's temperature, where the car's own outside sensor isn't to be believed.
    ambient_c: Option<f64>,
}

/// The sheet after a fit.
#[derive(Serialize)]
struct Narrowed {
    text: String,
    /// Keys that have no place in it.
    left_out: Vec<String>,
}

/// Fits uncertain inputs to logged drives.
pub(super) fn fitted(asked: &FitAsked) -> Result<Work, Refusal> {
    let sheet = Sheet::parse(&asked.sheet.text, &asked.sheet.name)?;
    let log_keys = sheet.raw().log.as_ref();
    let options = LogOptions {
        columns: log_keys.map_or_else(BTreeMap::new, |l| l.columns.clone()),
        ambient_k: asked.ambient_c.map(kelvin),
    };
    let mut faults = Vec::new();
    if let Some(c) = asked.ambient_c.filter(|c| !(-60.0..=60.0).contains(c)) {
        faults.push(format!("outside air {c}: outside -60 to 60 degC"));
    }
    if asked.logs.is_empty() {
        faults.push("logs: one is the least".to_owned());
    }
    let files = asked.logs.iter().map(|l| (l, false));
    let files = files.chain(asked.hold_out.iter().map(|l| (l, true)));
    let mut logs = Vec::new();
    for (file, held_out) in files {
        match import(file.text.as_bytes(), &file.name, &options) {
            Ok(logged) => logs.push(Logged {
                import: logged.report.clone(),
                drive: Drive::of(logged, &file.name),
                held_out,
            }),
            Err(error) => faults.push(error.to_string()),
        }
    }
    if !faults.is_empty() {
        return Err(Refusal::new(422, faults.join("\n")));
    }
    let options = FitOptions {
        inputs: log_keys.map_or_else(Vec::new, |l| l.fit.clone()),
        ..FitOptions::default()
    };
    Ok(Box::new(move |sink| {
        let work = || -> Result<(), Failed> {
            let options = FitOptions {
                stop: sink.stop(),
                ..options
            };
            let mut tell = |line: &str| {
                sink.progress(line, None);
            };
            let result = fit::study(&sheet, &logs, &options, &mut tell)?;
            sink.event("fit", &json::to_json(&result.findings)?);
            let (text, left_out) = result.narrowed(&sheet);
            let told = serde_json::to_string(&Narrowed { text, left_out });
            sink.event("sheet", &told.map_err(ReportError::from)?);
            Ok(())
        };
        end(sink, work());
    }))
}
