//! Options side by side over the same cycle and day, with common draws.

use serde::Serialize;

use super::bands::{Band, share_of_sign};
use super::draws::{Case, DrawSettings, Drive, Progress, Sampled, StudyError, sample};
use super::findings::{
    Assumed, Audit, CycleId, DayId, DrawsDone, Figure, Findings, Margin, Program, RunResult,
    SCHEMA, SheetId,
};
use crate::sheet::{OptionSpec, Sheet};

/// Most options in one comparison.
pub const MOST_OPTIONS: usize = 40;
/// A margin that shrinks by less than this is the same [K].
const SAME_MARGIN_K: f64 = 1.0;
/// Share of draws over a limit from which an option is flagged though its likely run is not over [%].
const POSSIBLY_OVER_PERCENT: f64 = 10.0;
/// Share of draws that must agree on a sign before it counts as known [%].
pub const SIGN_KNOWN_PERCENT: f64 = 90.0;

/// Options side by side.
#[derive(Debug, Clone, Serialize)]
pub struct Comparison {
    /// Version of this shape.
    pub schema: u32,
    /// Program.
    pub program: Program,
    /// Build sheet.
    pub sheet: SheetId,
    /// Drive cycle.
    pub cycle: CycleId,
    /// Weather.
    pub day: DayId,
    /// The draws behind the bands, null without draws.
    pub draws: Option<DrawsDone>,
    /// Options; the first is what the others are compared with.
    pub options: Vec<OptionResult>,
    /// Differences of the other options against the first.
    pub differences: Vec<Difference>,
    /// What the sheet left out and what was taken instead.
    pub assumed: Vec<Assumed>,
}

/// One option.
#[derive(Debug, Clone, Serialize)]
pub struct OptionResult {
    /// Name.
    pub name: String,
    /// What is done, in words; empty for the car as it is.
    pub done: Vec<String>,
    /// Figures.
    pub figures: Vec<Figure>,
    /// Margins.
    pub margins: Vec<Margin>,
    /// What it costs and weighs.
    pub cost: OptionCost,
    /// Limits that are or may be exceeded, worst first.
    pub over: Vec<Over>,
    /// What to beware of.
    pub cautions: Vec<String>,
    /// Warnings of the run.
    pub warnings: Vec<String>,
    /// Energy balance.
    pub audit: Audit,
    /// Draws that failed.
    pub failed_draws: usize,
}

/// Price and mass on top of the car as it is.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct OptionCost {
    /// Likely price [EUR, as an example].
    pub price: f64,
    /// Low end.
    pub price_low: f64,
    /// High end.
    pub price_high: f64,
    /// Mass, kg.
    pub mass_kg: f64,
}

/// A limit that an option exceeds or may exceed.
#[derive(Debug, Clone, Serialize)]
pub struct Over {
    /// Part.
    pub part: String,
    /// What is limited.
    pub what: String,
    /// Peak, degC.
    pub peak_c: f64,
    /// Limit, degC.
    pub limit_c: f64,
    /// Limit minus peak, K.
    pub margin_k: f64,
    /// Share of the draws that are over, %, null without draws.
    pub chance_percent: Option<f64>,
    /// Against the first option.
    pub verdict: Verdict,
}

/// How an excess stands against the first option.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Not over in the first option.
    New,
    /// Over there too, and further over here.
    Worse,
    /// Over there too.
    Still,
    /// Not over at likely values, but in a tenth of the draws or more.
    Possible,
}

impl Verdict {
    /// Words for people.
    pub fn words(self) -> &'static str {
        match self {
            Self::New => "newly over",
            Self::Worse => "further over",
            Self::Still => "still over",
            Self::Possible => "may be over",
        }
    }

    /// Whether the option itself is to blame.
    pub fn is_harm(self) -> bool {
        matches!(self, Self::New | Self::Worse)
    }
}

/// Difference of one figure or margin, option minus the first option.
#[derive(Debug, Clone, Serialize)]
pub struct Difference {
    /// Option.
    pub option: String,
    /// Id of a figure, or `margin_k`.
    pub id: String,
    /// Label for people.
    pub label: String,
    /// Where.
    #[serde(rename = "where")]
    pub place: String,
    /// Unit; a difference of degC is in K.
    pub unit: String,
    /// Difference at likely values.
    pub value: f64,
    /// 10 % point of the draws, null without draws.
    pub low: Option<f64>,
    /// 90 % point.
    pub high: Option<f64>,
    /// Share of draws with the sign of `value`, %.
    pub sign_chance_percent: Option<f64>,
}

impl Difference {
    /// Whether the draws agree on the sign; without draws nothing is known of it.
    pub fn sign_is_known(&self) -> bool {
        self.sign_chance_percent
            .is_some_and(|c| c >= SIGN_KNOWN_PERCENT)
    }
}

/// An option to look at: its name, what is done, and the sheet with it carried out.
#[derive(Debug, Clone)]
pub struct Candidate {
    /// Name.
    pub name: String,
    /// What is done, in words.
    pub done: Vec<String>,
    /// Sheet.
    pub sheet: Sheet,
}

/// The sheet's options as candidates, the car as it is first.
///
/// # Errors
/// A sheet without options, or one that can't be carried out.
pub fn candidates(sheet: &Sheet) -> Result<Vec<Candidate>, StudyError> {
    let options = sheet.options();
    if options.len() < 2 {
        return Err(StudyError::Nothing {
            what: format!("{}: has no [[option]] to compare with the car as it is", sheet.file()),
            hint: "add one: [[option]], name = \"wrap\", treat = { downpipe = \"glass-wrap-2-turns\" }; `baysoak list treatments` names them".into(),
        });
    }
    options
        .iter()
        .map(|option| candidate(sheet, option))
        .collect()
}

/// One option as a candidate.
///
/// # Errors
/// When it can't be carried out.
pub fn candidate(sheet: &Sheet, option: &OptionSpec) -> Result<Candidate, StudyError> {
    let with = sheet.with_option(option).map_err(|e| StudyError::Run {
        case: option.name.clone(),
        source: e.into(),
    })?;
    let treated = option
        .treat
        .iter()
        .map(|(part, what)| format!("{part}: {what}"));
    let set = option.set.keys().map(|key| format!("set {key}"));
    Ok(Candidate {
        name: option.name.clone(),
        done: treated
            .chain(option.measures.iter().cloned())
            .chain(set)
            .collect(),
        sheet: with,
    })
}

/// What a comparison gives: the results, and the likely runs for pictures.
#[derive(Debug, Clone)]
pub struct Compared {
    /// The comparison.
    pub comparison: Comparison,
    /// Likely run of each option, with bands.
    pub runs: Vec<RunResult>,
}

/// Compares candidates; the first is what the others are compared with.
///
/// # Errors
/// Fewer than two or too many candidates, a failed likely run, too many failed draws.
pub fn compare(
    candidates: &[Candidate],
    drive: Drive,
    settings: Option<DrawSettings>,
    progress: Progress,
) -> Result<Compared, StudyError> {
    if !(2..=MOST_OPTIONS).contains(&candidates.len()) {
        return Err(StudyError::Setting {
            what: "number of options",
            value: candidates.len() as f64,
            low: 2.0,
            high: MOST_OPTIONS as f64,
            hint: "compare a few at a time",
        });
    }
    let cases: Vec<Case> = candidates
        .iter()
        .map(|c| Case {
            name: &c.name,
            sheet: &c.sheet,
        })
        .collect();
    let sampled = sample(&cases, drive, settings, progress)?;
    compared(candidates, &sampled, settings)
}

/// From samples to a comparison; all samples must have the same settings.
///
/// # Errors
/// A drawn value that isn't a finite number.
pub fn compared(
    candidates: &[Candidate],
    sampled: &[Sampled],
    settings: Option<DrawSettings>,
) -> Result<Compared, StudyError> {
    let seed = settings.map_or(0, |s| s.seed);
    let runs: Result<Vec<RunResult>, StudyError> = sampled.iter().map(|s| s.banded(seed)).collect();
    let runs = runs?;
    let first = &runs[0].findings;
    let mut options = Vec::new();
    let mut differences = Vec::new();
    for (i, candidate) in candidates.iter().enumerate() {
        options.push(option_result(
            candidate,
            &sampled[i],
            &runs[i].findings,
            first,
        ));
        if i > 0 {
            let own = self::differences(&candidate.name, &sampled[0], &sampled[i])?;
            differences.extend(own);
        }
    }
    let comparison = Comparison {
        schema: SCHEMA,
        program: first.program.clone(),
        sheet: first.sheet.clone(),
        cycle: first.cycle.clone(),
        day: first.day.clone(),
        draws: settings.map(|s| draws_of_all(sampled, s.seed)),
        options,
        differences,
        assumed: first.assumed.clone(),
    };
    Ok(Compared { comparison, runs })
}

/// Draws of all options together: a draw counts as failed when it failed anywhere.
fn draws_of_all(sampled: &[Sampled], seed: u64) -> DrawsDone {
    let wanted = sampled.first().map_or(0, |s| s.outcomes.len());
    let failed = (0..wanted).filter(|&d| sampled.iter().any(|s| s.outcomes[d].is_err()));
    let mut reasons: Vec<String> = Vec::new();
    for reason in sampled.iter().flat_map(|s| s.done(seed).reasons) {
        if !reasons.contains(&reason) {
            reasons.push(reason);
        }
    }
    DrawsDone {
        wanted,
        failed: failed.count(),
        seed,
        reasons,
    }
}

fn option_result(
    candidate: &Candidate,
    sampled: &Sampled,
    own: &Findings,
    first: &Findings,
) -> OptionResult {
    let cost = &sampled.settled.cost;
    OptionResult {
        name: candidate.name.clone(),
        done: candidate.done.clone(),
        figures: own.figures.clone(),
        margins: own.margins.clone(),
        cost: OptionCost {
            price: cost.price.likely,
            price_low: cost.price.low,
            price_high: cost.price.high,
            mass_kg: cost.mass_kg,
        },
        over: over(&own.margins, &first.margins),
        cautions: sampled.settled.cautions.clone(),
        warnings: own.warnings.clone(),
        audit: own.audit.clone(),
        failed_draws: sampled.outcomes.iter().filter(|o| o.is_err()).count(),
    }
}

/// What is over its limit, or may be, against what is over in the first option.
pub fn over(own: &[Margin], first: &[Margin]) -> Vec<Over> {
    let mut found: Vec<Over> = own
        .iter()
        .filter_map(|m| {
            let same = first.iter().find(|f| f.part == m.part && f.what == m.what);
            let verdict = if m.margin_k < 0.0 {
                match same {
                    Some(s) if s.margin_k >= 0.0 => Verdict::New,
                    Some(s) if m.margin_k < s.margin_k - SAME_MARGIN_K => Verdict::Worse,
                    Some(_) => Verdict::Still,
                    None => Verdict::New,
                }
            } else if m
                .over_chance_percent
                .is_some_and(|c| c >= POSSIBLY_OVER_PERCENT)
            {
                Verdict::Possible
            } else {
                return None;
            };
            Some(Over {
                part: m.part.clone(),
                what: m.what.clone(),
                peak_c: m.peak_c,
                limit_c: m.limit_c,
                margin_k: m.margin_k,
                chance_percent: m.over_chance_percent,
                verdict,
            })
        })
        .collect();
    found.sort_by(|a, b| a.margin_k.total_cmp(&b.margin_k));
    found
}

/// Differences of all figures and margins that both have.
fn differences(
    option: &str,
    first: &Sampled,
    own: &Sampled,
) -> Result<Vec<Difference>, StudyError> {
    let mut out = Vec::new();
    let findings = &own.likely.findings;
    for (i, f) in findings.figures.iter().enumerate() {
        let Some(j) = first.figure_index(&f.id, &f.place) else {
            continue;
        };
        let spread = paired(first, j, own, i);
        let value = f.value - first.likely.findings.figures[j].value;
        let unit = if f.unit == "degC" { "K" } else { &f.unit };
        out.push(difference(
            (option, &f.id, &f.label, &f.place, unit),
            value,
            &spread,
        )?);
    }
    let (figures, first_figures) = (findings.figures.len(), first.likely.findings.figures.len());
    for (i, m) in findings.margins.iter().enumerate() {
        let Some(j) = first.margin_index(&m.part, &m.what) else {
            continue;
        };
        let spread = paired(first, j, own, figures + i);
        let value = m.margin_k - first.likely.findings.margins[j - first_figures].margin_k;
        let place = format!("{}, {}", m.part, m.what);
        let names = (option, "margin_k", "room to the limit", place.as_str(), "K");
        out.push(difference(names, value, &spread)?);
    }
    Ok(out)
}

fn difference(
    (option, id, label, place, unit): (&str, &str, &str, &str, &str),
    value: f64,
    spread: &[f64],
) -> Result<Difference, StudyError> {
    let band = (!spread.is_empty()).then(|| Band::of(spread)).transpose()?;
    Ok(Difference {
        option: option.into(),
        id: id.into(),
        label: label.into(),
        place: place.into(),
        unit: unit.into(),
        value,
        low: band.map(|b| b.low),
        high: band.map(|b| b.high),
        sign_chance_percent: share_of_sign(spread, value).map(|s| 100.0 * s),
    })
}

/// Own minus first in every draw that is good in both; empty when one of those lacks the figure.
pub(super) fn paired(first: &Sampled, j: usize, own: &Sampled, i: usize) -> Vec<f64> {
    let pairs = first.outcomes.iter().zip(&own.outcomes);
    let good = pairs.filter_map(|(a, b)| Some((a.as_ref().ok()?, b.as_ref().ok()?)));
    let differences: Option<Vec<f64>> = good.map(|(a, b)| Some(b[i]? - a[j]?)).collect();
    differences.unwrap_or_default()
}
