//! Many runs of one or several builds with their uncertain numbers drawn.
//!
//! A key has the same quantile in the same draw of every case, so that what cases share cancels
//! in their differences. Results don't depend on the number of threads.

use std::ops::Range;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use rayon::prelude::*;

use super::bands::{Band, SampleError};
use super::draw_group::{drawn, groups};
use super::findings::{DrawsDone, Findings, RunResult};
use super::latin_hypercube::LatinHypercube;
use super::run::{RunError, RunOptions, run_near};
use crate::cycle::Cycle;
use crate::sheet::{Chooser, Settled, Sheet, Uncertain};

/// Fewest draws: below this a 10 % point is no more than the smallest value.
pub const LEAST_DRAWS: usize = 10;
/// Most draws.
pub const MOST_DRAWS: usize = 10_000;
/// Share of failed draws above which there is no result: what is left would be a selection.
const MOST_FAILED: f64 = 0.2;

/// How many draws, and which.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DrawSettings {
    /// Number of draws.
    pub draws: usize,
    /// Seed: the same seed gives the same draws.
    pub seed: u64,
}

/// Why a study has no result.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StudyError {
    /// A run with every input at its likely value failed.
    #[error("{case}: {source}")]
    Run {
        /// Which build.
        case: String,
        /// What went wrong.
        source: RunError,
    },
    /// A number out of range.
    #[error("{what} is {value}, outside {low} to {high}\n  hint: {hint}")]
    Setting {
        /// What.
        what: &'static str,
        /// Value.
        value: f64,
        /// Least.
        low: f64,
        /// Most.
        high: f64,
        /// Way out.
        hint: &'static str,
    },
    /// Too many draws failed.
    #[error(
        "{case}: {failed} of {wanted} draws failed, the first because: {reason}\n  hint: narrow the ranges of the sheet to what can be; `baysoak check` lists them"
    )]
    TooManyFailed {
        /// Which build.
        case: String,
        /// Failed draws.
        failed: usize,
        /// Draws asked for.
        wanted: usize,
        /// First reason.
        reason: String,
    },
    /// Nothing to look at.
    #[error("{what}\n  hint: {hint}")]
    Nothing {
        /// What is missing.
        what: String,
        /// Way out.
        hint: String,
    },
    /// A sample with a value that is no number.
    #[error(transparent)]
    Sample(#[from] SampleError),
    /// Nobody wants the result any more.
    #[error("stopped before the end")]
    Stopped,
}

impl StudyError {
    /// Exit code of the program: 2 bad input, 3 the solver failed.
    pub fn exit_code(&self) -> u8 {
        match self {
            Self::Run { source, .. } => source.exit_code(),
            Self::Setting { .. } | Self::Nothing { .. } => 2,
            Self::TooManyFailed { .. } | Self::Sample(_) | Self::Stopped => 3,
        }
    }
}

impl DrawSettings {
    /// Checks the number of draws.
    ///
    /// # Errors
    /// Outside [`LEAST_DRAWS`] to [`MOST_DRAWS`].
    pub fn check(&self) -> Result<(), StudyError> {
        if (LEAST_DRAWS..=MOST_DRAWS).contains(&self.draws) {
            return Ok(());
        }
        Err(StudyError::Setting {
            what: "number of draws",
            value: self.draws as f64,
            low: LEAST_DRAWS as f64,
            high: MOST_DRAWS as f64,
            hint: "100 is a good start",
        })
    }
}

/// A build to be looked at, with a name for messages.
#[derive(Debug, Clone, Copy)]
pub struct Case<'a> {
    /// Name.
    pub name: &'a str,
    /// Sheet.
    pub sheet: &'a Sheet,
}

/// Values of one draw in the order of figures and margins, `None` for a figure that this draw does
/// not have; or why the draw failed.
pub type Outcome = Result<Vec<Option<f64>>, String>;

/// Values of one figure or margin over the good draws, by draw; `None` when a good draw does not
/// have it, since a band of the others would be a selection.
pub fn values_of(outcomes: &[Outcome], index: usize) -> Option<Vec<f64>> {
    let good = outcomes.iter().flatten();
    let values: Option<Vec<f64>> = good.map(|v| v.get(index).copied().flatten()).collect();
    values.filter(|v| !v.is_empty())
}

/// What is followed through the draws: all figures, then all margins, as the likely run has them.
#[derive(Debug, Clone)]
pub struct Sampled {
    /// The run with every input at its likely value.
    pub likely: RunResult,
    /// The sheet settled at its likely values.
    pub settled: Settled,
    /// One entry per draw.
    pub outcomes: Vec<Outcome>,
    /// Where the likely run began: its draws begin near it.
    pub(super) start: Vec<f64>,
}

/// A way to run: the cycle and the solver's options.
#[derive(Debug, Clone, Copy)]
pub struct Drive<'a> {
    /// Cycle.
    pub cycle: &'a Cycle,
    /// Solver options.
    pub options: &'a RunOptions,
}

/// A key that is held at its likely value while all others are drawn.
#[derive(Debug, Clone, Copy)]
pub struct Held<'a>(pub &'a Uncertain);

impl Held<'_> {
    /// The quantile at which the triangular distribution has its mode [-].
    pub(super) fn quantile(self) -> f64 {
        (self.0.likely - self.0.low) / (self.0.high - self.0.low)
    }
}

/// Gets the share done, 0 to 1, from any thread, and says whether the result is still wanted. When it
/// isn't, the study begins no further run and ends with [`StudyError::Stopped`] or its like.
pub type Progress<'p> = &'p (dyn Fn(f64) -> bool + Sync);

/// Runs every case at its likely values and in every draw.
///
/// # Errors
/// A likely run that fails, too many failed draws of one case, or a result that nobody wants any more.
pub fn sample(
    cases: &[Case],
    drive: Drive,
    settings: Option<DrawSettings>,
    progress: Progress,
) -> Result<Vec<Sampled>, StudyError> {
    if let Some(settings) = settings {
        settings.check()?;
    }
    let draws = settings.map_or(0, |s| s.draws);
    let done = Count::new(cases.len() * (draws + 1), progress);
    let likely: Result<Vec<Sampled>, StudyError> = cases
        .par_iter()
        .map(|case| {
            done.wanted()?;
            let sampled = likely(case, drive);
            done.one();
            sampled
        })
        .collect();
    let mut sampled = likely?;
    if let Some(settings) = settings {
        draw_on(cases, &mut sampled, drive, (settings, draws), &done)?;
    }
    Ok(sampled)
}

/// Takes samples on to at least the first `until` draws of `settings`: they come in groups of up to [`LANES`]. What each
/// has already stays; draws taken in several goes are those taken in one.
///
/// # Errors
/// Settings out of range, too many failed draws of one case, or a result that nobody wants any more.
pub fn sample_on(
    cases: &[Case],
    sampled: &mut [Sampled],
    drive: Drive,
    (settings, until): (DrawSettings, usize),
    progress: Progress,
) -> Result<(), StudyError> {
    settings.check()?;
    let missing = sampled
        .iter()
        .flat_map(|s| groups(s.outcomes.len(), until, settings.draws))
        .map(|group| group.len());
    let done = Count::new(missing.sum(), progress);
    draw_on(cases, sampled, drive, (settings, until), &done)
}

fn draw_on(
    cases: &[Case],
    sampled: &mut [Sampled],
    drive: Drive,
    (settings, until): (DrawSettings, usize),
    done: &Count,
) -> Result<(), StudyError> {
    let hypercube = hypercube(sampled, settings);
    let tasks: Vec<(usize, Range<usize>)> = sampled
        .iter()
        .enumerate()
        .flat_map(|(case, s)| {
            groups(s.outcomes.len(), until, settings.draws).map(move |group| (case, group))
        })
        .collect();
    let outcomes: Result<Vec<_>, StudyError> = tasks
        .par_iter()
        .map(|(case, group)| {
            done.wanted()?;
            let (sheet, of) = (cases[*case].sheet, &sampled[*case]);
            let outcomes = drawn(sheet, drive, &hypercube, group.clone(), None, of);
            done.some(group.len());
            Ok(outcomes)
        })
        .collect();
    for ((case, group), outcomes) in tasks.iter().zip(outcomes?) {
        let known = &mut sampled[*case].outcomes;
        let seen = known.len() - group.start;
        known.extend(outcomes.into_iter().skip(seen));
    }
    for (case, found) in cases.iter().zip(sampled) {
        found.check_enough(case.name)?;
    }
    Ok(())
}

/// The draws of one case again with some keys held, one sample for each.
///
/// # Errors
/// Nobody wants the result any more.
pub fn sample_held(
    case: Case,
    of: &Sampled,
    drive: Drive,
    settings: DrawSettings,
    held: &[Held],
    progress: Progress,
) -> Result<Vec<Vec<Outcome>>, StudyError> {
    let hypercube = hypercube(std::slice::from_ref(of), settings);
    let done = Count::new(held.len() * settings.draws, progress);
    held.par_iter()
        .map(|key| {
            let groups: Vec<Range<usize>> = groups(0, settings.draws, settings.draws).collect();
            let outcomes: Result<Vec<_>, StudyError> = groups
                .into_par_iter()
                .map(|group| {
                    done.wanted()?;
                    let draws = group.len();
                    let outcomes = drawn(case.sheet, drive, &hypercube, group, Some(*key), of);
                    done.some(draws);
                    Ok(outcomes)
                })
                .collect();
            Ok(outcomes?.into_iter().flatten().collect())
        })
        .collect()
}

/// The sample that [`sample`] draws from: columns of all keys of all cases.
pub fn hypercube(sampled: &[Sampled], settings: DrawSettings) -> LatinHypercube {
    let keys = sampled.iter().flat_map(|s| &s.settled.uncertain);
    LatinHypercube::new(settings.draws, settings.seed, keys.map(|u| u.key.as_str()))
}

/// Refuses a sample of which too much has failed; `reasons` has one entry for each failed draw.
///
/// # Errors
/// When more than a fifth of the draws failed.
pub(super) fn check_enough<'r>(
    wanted: usize,
    reasons: impl Iterator<Item = &'r String>,
    case: &str,
) -> Result<(), StudyError> {
    let reasons: Vec<&String> = reasons.collect();
    if reasons.len() as f64 <= MOST_FAILED * wanted as f64 {
        return Ok(());
    }
    Err(StudyError::TooManyFailed {
        case: case.to_owned(),
        failed: reasons.len(),
        wanted,
        reason: reasons.first().map(|r| (*r).clone()).unwrap_or_default(),
    })
}

/// Counts finished runs, and notices when the result isn't wanted any more.
pub(super) struct Count<'a> {
    all: usize,
    done: AtomicUsize,
    unwanted: AtomicBool,
    progress: Progress<'a>,
}

impl<'a> Count<'a> {
    /// A count of so many runs.
    pub fn new(all: usize, progress: Progress<'a>) -> Self {
        Self {
            all: all.max(1),
            done: AtomicUsize::new(0),
            unwanted: AtomicBool::new(false),
            progress,
        }
    }

    /// One more is done.
    pub fn one(&self) {
        self.some(1);
    }

    /// Several more are done.
    pub fn some(&self, runs: usize) {
        let done = self.done.fetch_add(runs, Ordering::Relaxed) + runs;
        if !(self.progress)(done as f64 / self.all as f64) {
            self.unwanted.store(true, Ordering::Relaxed);
        }
    }

    /// Whether a further run is worth its while.
    ///
    /// # Errors
    /// It isn't.
    pub fn wanted(&self) -> Result<(), StudyError> {
        if self.unwanted.load(Ordering::Relaxed) {
            return Err(StudyError::Stopped);
        }
        Ok(())
    }
}

fn likely(case: &Case, drive: Drive) -> Result<Sampled, StudyError> {
    let failed = |source: RunError| StudyError::Run {
        case: case.name.to_owned(),
        source,
    };
    let settled = case.sheet.settle(&mut Chooser::Likely);
    let settled = settled.map_err(|e| failed(e.into()))?;
    let (likely, start) = run_near(
        case.sheet,
        &settled,
        (drive.cycle, drive.options),
        None,
        &mut |_| {},
    )
    .map_err(failed)?;
    Ok(Sampled {
        likely,
        settled,
        outcomes: Vec::new(),
        start,
    })
}

impl Sampled {
    /// Values of a draw in the order of figures and margins.
    pub(super) fn values_in(&self, drawn: &Findings) -> Vec<Option<f64>> {
        let found = &self.likely.findings;
        let figures = found.figures.iter().map(|f| {
            let mut same = drawn.figures.iter();
            same.find(|d| d.id == f.id && d.place == f.place)
                .map(|d| d.value)
        });
        let margins = found.margins.iter().map(|m| {
            let mut same = drawn.margins.iter();
            same.find(|d| d.part == m.part && d.what == m.what)
                .map(|d| d.margin_k)
        });
        figures.chain(margins).collect()
    }

    /// As [`values_of`].
    pub fn values(&self, index: usize) -> Option<Vec<f64>> {
        values_of(&self.outcomes, index)
    }

    /// Place of a figure among the values.
    pub fn figure_index(&self, id: &str, place: &str) -> Option<usize> {
        let figures = &self.likely.findings.figures;
        figures.iter().position(|f| f.id == id && f.place == place)
    }

    /// Place of a margin among the values.
    pub fn margin_index(&self, part: &str, what: &str) -> Option<usize> {
        let findings = &self.likely.findings;
        let found = findings
            .margins
            .iter()
            .position(|m| m.part == part && m.what == what);
        found.map(|i| findings.figures.len() + i)
    }

    /// What became of the draws.
    pub fn done(&self, seed: u64) -> DrawsDone {
        let mut reasons: Vec<String> = Vec::new();
        for reason in self.outcomes.iter().filter_map(|o| o.as_ref().err()) {
            if !reasons.contains(reason) {
                reasons.push(reason.clone());
            }
        }
        DrawsDone {
            wanted: self.outcomes.len(),
            failed: self.outcomes.iter().filter(|o| o.is_err()).count(),
            seed,
            reasons,
        }
    }

    /// Refuses a sample of which too much has failed.
    ///
    /// # Errors
    /// When more than a fifth of the draws failed.
    pub fn check_enough(&self, case: &str) -> Result<(), StudyError> {
        let failed = self.outcomes.iter().filter_map(|o| o.as_ref().err());
        check_enough(self.outcomes.len(), failed, case)
    }

    /// The likely run with the bands of the draws filled in.
    ///
    /// # Errors
    /// A drawn value that isn't a finite number.
    pub fn banded(&self, seed: u64) -> Result<RunResult, StudyError> {
        let mut result = self.likely.clone();
        if self.outcomes.is_empty() {
            return Ok(result);
        }
        let findings = &mut result.findings;
        for (i, figure) in findings.figures.iter_mut().enumerate() {
            if let Some(values) = self.values(i) {
                let band = Band::of(&values)?;
                figure.low = Some(band.low);
                figure.median = Some(band.median);
                figure.high = Some(band.high);
            }
        }
        let first = findings.figures.len();
        for (i, margin) in findings.margins.iter_mut().enumerate() {
            if let Some(values) = self.values(first + i) {
                let band = Band::of(&values)?;
                margin.low_k = Some(band.low);
                margin.high_k = Some(band.high);
                let over = values.iter().filter(|v| **v < 0.0).count();
                margin.over_chance_percent = Some(100.0 * over as f64 / values.len() as f64);
            }
        }
        let done = self.done(seed);
        if done.failed > 0 {
            findings.warnings.push(format!(
                "{} of {} draws failed and are left out of the bands: {}",
                done.failed,
                done.wanted,
                done.reasons.join("; ")
            ));
        }
        findings.draws = Some(done);
        Ok(result)
    }
}
