//! What a page asks for, read and checked before any work.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use crate::cycle::{self, Cycle};
use crate::quantity::Units;
use crate::sheet::raw::Age;
use crate::sheet::{DaySheet, OptionSpec, Sheet, SheetError};
use crate::study::compare::{Candidate, candidate};
use crate::study::draws::DrawSettings;

/// Name of the option that the page's choices make.
pub(super) const CHOSEN: &str = "chosen";
/// Name of the option that takes everything off.
pub(super) const ALL_BARE: &str = "all bare";
/// Treatment that is none.
const BARE: &str = "bare";

/// A file that the user opened in the page.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct NamedText {
    /// Name, only for messages.
    pub name: String,
    /// Text.
    pub text: String,
}

/// A car on a day over a cycle, with choices.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Asked {
    /// Build sheet.
    pub sheet: NamedText,
    /// Built-in cycle; the sheet's own without it.
    pub cycle: Option<String>,
    /// A trace or log as cycle; wins over `cycle`.
    pub log: Option<NamedText>,
    /// Built-in day; the sheet's own without it.
    pub day: Option<String>,
    /// Weather by key of `[day]`; wins over `day`.
    pub weather: Option<BTreeMap<String, f64>>,
    /// An option of the sheet, whole: what follows is put on top of it.
    pub option: Option<String>,
    /// Exhaust part = treatment.
    #[serde(default)]
    pub treat: BTreeMap<String, String>,
    /// Age of what is chosen.
    pub treatment_age: Option<Age>,
    /// Measures; those of the option without it.
    pub measures: Option<Vec<String>>,
    /// Draws behind the bands; none without it.
    pub draws: Option<usize>,
    /// Seed of the draws.
    pub seed: Option<u64>,
    /// Units of pictures and reports.
    pub imperial: Option<bool>,
}

/// What is wrong with a request, with its status.
#[derive(Debug, Serialize)]
pub(super) struct Refusal {
    #[serde(skip)]
    pub status: u16,
    /// Words, as the command line tells them.
    pub text: String,
    /// Places in the sheet.
    pub problems: Vec<Place>,
}

/// One problem of a sheet.
#[derive(Debug, Serialize)]
pub(super) struct Place {
    /// Line, from 1.
    pub line: usize,
    /// Column, from 1.
    pub column: usize,
    /// Key path.
    pub key: String,
    /// As the command line tells it.
    pub text: String,
}

impl Refusal {
    /// A request that can't be carried out.
    pub(super) fn new(status: u16, text: impl Into<String>) -> Self {
        Self {
            status,
            text: text.into(),
            problems: Vec::new(),
        }
    }

    /// Input that is understood and wrong.
    pub(super) fn input(error: impl ToString) -> Self {
        Self::new(422, error.to_string())
    }
}

impl From<SheetError> for Refusal {
    fn from(error: SheetError) -> Self {
        let problems = error.problems.iter().map(|p| Place {
            line: p.line,
            column: p.column,
            key: p.key.clone(),
            text: format!("{}:{p}", error.file),
        });
        Self {
            problems: problems.collect(),
            ..Self::input(&error)
        }
    }
}

/// A car with something done to it, or nothing.
pub(super) struct Choice {
    /// What the studies work on.
    pub candidate: Candidate,
    /// What its runs depend on beside cycle and day.
    content: String,
}

/// A car ready to be driven.
pub(super) struct Car {
    /// The sheet on its day.
    pub sheet: Sheet,
    /// Cycle.
    pub cycle: Cycle,
    /// What a log left open.
    pub warnings: Vec<String>,
    /// Cycle and day as asked for, in short.
    circumstances: String,
    /// What the choices are held against, nothing on any part; `None` where they are just that.
    pub bare: Option<Choice>,
    /// The car with the choices; as the sheet has it where nothing is chosen.
    pub own: Choice,
    /// Whether anything is chosen that the sheet doesn't have.
    pub changed: bool,
}

impl Car {
    /// Name of a sample of a choice: what its values depend on.
    pub(super) fn key(&self, of: &Choice, settings: Option<DrawSettings>) -> String {
        let settings = settings.map(|s| (s.draws, s.seed));
        format!("{} {} {settings:?}", of.content, self.circumstances)
    }
}

impl Asked {
    /// Units of pictures and reports.
    pub(super) fn units(&self) -> Units {
        if self.imperial.unwrap_or(false) {
            Units::Imperial
        } else {
            Units::Metric
        }
    }

    /// Draws behind the bands.
    pub(super) fn settings(&self) -> Result<Option<DrawSettings>, Refusal> {
        let settings = self.draws.filter(|d| *d > 0).map(|draws| DrawSettings {
            draws,
            seed: self.seed.unwrap_or(1),
        });
        if let Some(settings) = settings {
            settings.check().map_err(Refusal::input)?;
        }
        Ok(settings)
    }

    /// What a run depends on beside the sheet: the same words, the same runs.
    fn circumstances(&self) -> String {
        let log = self.log.as_ref().map(|l| (&l.name, &l.text));
        let all = format!("{:?}", (&self.cycle, log, &self.day, &self.weather));
        let digest = Sha256::digest(all.as_bytes());
        digest.iter().map(|byte| format!("{byte:02x}")).collect()
    }

    /// Reads everything; all problems of the first thing that is wrong.
    pub(super) fn read(&self) -> Result<Car, Refusal> {
        self.read_adjusted(Ok)
    }

    /// The same of a sheet that is adjusted before anything is chosen.
    pub(super) fn read_adjusted(
        &self,
        adjust: impl FnOnce(Sheet) -> Result<Sheet, Refusal>,
    ) -> Result<Car, Refusal> {
        let mut sheet = Sheet::parse(&self.sheet.text, &self.sheet.name)?;
        if let Some(day) = self.day()? {
            sheet = sheet.with_day(day);
        }
        let sheet = adjust(sheet)?;
        let (cycle, warnings) = self.cycle(&sheet)?;
        let (own, bare) = (self.choices(&sheet)?, all_bare(&sheet));
        let differs = own.treat != bare.treat || !own.measures.is_empty() || !own.set.is_empty();
        let made = |option: &OptionSpec| -> Result<Choice, Refusal> {
            // the sheet's own words are better than those of the study it would have been in
            sheet.with_option(option)?;
            Ok(Choice {
                candidate: candidate(&sheet, option).map_err(Refusal::input)?,
                content: content(&sheet, option),
            })
        };
        let (own_choice, bare_choice) = if differs {
            (made(&own)?, Some(made(&bare)?))
        } else if own.changes_nothing() {
            let candidate = Candidate {
                name: sheet.title().to_owned(),
                done: Vec::new(),
                sheet: sheet.clone(),
            };
            let content = content(&sheet, &own);
            (Choice { candidate, content }, None)
        } else {
            (made(&own)?, None)
        };
        Ok(Car {
            changed: !own.changes_nothing(),
            bare: bare_choice,
            own: own_choice,
            sheet,
            cycle,
            warnings,
            circumstances: self.circumstances(),
        })
    }

    fn day(&self) -> Result<Option<DaySheet>, Refusal> {
        if let Some(weather) = &self.weather {
            // a key is quoted, so that it is only ever a key
            let lines = weather
                .iter()
                .map(|(key, value)| format!("{} = {value:?}\n", serde_json::Value::from(&**key)));
            let text = format!("name = \"own\"\n{}", lines.collect::<String>());
            return Ok(Some(DaySheet::parse(&text, "weather")?));
        }
        match &self.day {
            Some(name) => Ok(Some(DaySheet::builtin(name).map_err(Refusal::input)?)),
            None => Ok(None),
        }
    }

    fn cycle(&self, sheet: &Sheet) -> Result<(Cycle, Vec<String>), Refusal> {
        if let Some(log) = &self.log {
            let read = cycle::read_csv(log.text.as_bytes(), &log.name);
            let (cycle, report) = read.map_err(Refusal::input)?;
            let warnings = report.warnings.iter().map(ToString::to_string);
            return Ok((cycle, warnings.collect()));
        }
        let found = match &self.cycle {
            Some(name) => cycle::builtin(name),
            None => sheet.cycle(),
        };
        Ok((found.map_err(Refusal::input)?, Vec::new()))
    }

    /// The choices as an option, without those that the sheet has already.
    fn choices(&self, sheet: &Sheet) -> Result<OptionSpec, Refusal> {
        let base = self.option.as_ref().map(|name| option_of(sheet, name));
        let base = base.transpose()?.unwrap_or_default();
        let on_top = !self.treat.is_empty() || self.measures.is_some();
        if self.option.is_some() && !on_top && self.treatment_age.is_none() {
            return Ok(base);
        }
        let has = |part: &str| {
            let found = sheet.raw().exhaust.iter().find(|p| p.name == part);
            found.map(|p| p.treatment.as_deref().unwrap_or(BARE))
        };
        let age = self.treatment_age.or(base.treatment_age);
        let mut treat = base.treat;
        treat.extend(self.treat.clone());
        treat.retain(|part, what| has(part) != Some(what) || (age.is_some() && what != BARE));
        Ok(OptionSpec {
            name: CHOSEN.to_owned(),
            treatment_age: age.filter(|_| !treat.is_empty()),
            treat,
            measures: self.measures.clone().unwrap_or(base.measures),
            set: base.set,
            // its price and mass were those of the whole
            ..OptionSpec::default()
        })
    }
}

/// An option of the sheet by its name.
fn option_of(sheet: &Sheet, name: &str) -> Result<OptionSpec, Refusal> {
    let options = sheet.options();
    let names: Vec<&str> = options.iter().map(|o| o.name.as_str()).collect();
    let told = || {
        format!(
            "{}: no option called {name}\n  hint: one of: {}",
            sheet.file(),
            names.join(", ")
        )
    };
    let found = options.iter().find(|o| o.name == name);
    found.cloned().ok_or_else(|| Refusal::input(told()))
}

/// The option that takes off what the sheet has on its parts.
fn all_bare(sheet: &Sheet) -> OptionSpec {
    let treated = sheet.raw().exhaust.iter().filter(|p| {
        let on = p.treatment.as_deref();
        on.is_some_and(|t| t != BARE)
    });
    let treat: BTreeMap<String, String> =
        treated.map(|p| (p.name.clone(), BARE.to_owned())).collect();
    if treat.is_empty() {
        // the first option is always the one that changes nothing
        return sheet.options().swap_remove(0);
    }
    OptionSpec {
        name: ALL_BARE.to_owned(),
        treat,
        ..OptionSpec::default()
    }
}

/// What the runs of a sheet with an option depend on.
fn content(sheet: &Sheet, option: &OptionSpec) -> String {
    let done = (&option.treat, option.treatment_age, &option.measures);
    let beside = (&option.set, option.price, option.mass_kg);
    format!("{} {done:?} {beside:?}", sheet.hash())
}
