//! Build sheets: what a person with a tape measure writes, checked and settled.
//!
//! [`Sheet::parse`] finds every problem at once, with line and hint. [`Sheet::settle`] chooses
//! one value for each number ([`Chooser`]) and gives a [`build::Build`] in SI together with
//! what was assumed.
//!
//! ```
//! use baysoak::sheet::{Chooser, builtin};
//!
//! let sheet = builtin("demo")?;
//! let settled = sheet.settle(&mut Chooser::Likely)?;
//! assert!(settled.build.turbo.is_some());
//! assert!(!settled.assumed.is_empty());
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod build;
mod builtin;
mod check;
mod checked;
mod cost;
mod input;
mod measures;
mod narrow;
mod options;
mod patch;
mod problem;
pub mod raw;
mod resolve;
mod settle;
mod units;
mod words;

use std::sync::{LazyLock, OnceLock};

use serde::Deserialize;
use sha2::{Digest, Sha256};
use toml::Spanned;
use toml::de::{DeTable, Deserializer};

pub use builtin::{
    BuiltinSheet, DEFAULT_BUILTIN, UnknownBuiltin, builtin, builtins, day_text, days,
};
pub use cost::{Cost, Fitted, Price};
pub use input::Input;
pub use measures::{Measure, measure, measures};
pub use narrow::NewRange;
pub use options::{AS_IT_IS, OptionSpec};
pub(crate) use problem::mean_or_list;
pub use problem::{Problem, SheetError};
pub use raw::{DaySheet, RawSheet, sheet_schema};
pub use resolve::{AssumedChoice, AssumedValue, Chooser, Uncertain, triangular_quantile};
pub use settle::Settled;

pub(crate) use checked::Read;

use crate::cycle::{self, Builtin, Cycle, CycleError, CycleSpec};
use crate::materials;
use check::{Places, check, check_table};
use options::Changes;

/// Cycle to drive when neither the command nor the sheet names one.
pub const DEFAULT_CYCLE: Builtin = Builtin::Day;

static SCHEMA: LazyLock<serde_json::Value> = LazyLock::new(sheet_schema);

/// Gets ready what reading any sheet needs besides the metals: who has a core to spare can do so before there is a sheet.
pub fn prepare() {
    LazyLock::force(&SCHEMA);
    // a look into a table reads all of it
    let _ = (materials::treatments(), materials::limit(""), measures());
}

/// A build sheet that has passed all checks.
#[derive(Debug, Clone)]
pub struct Sheet {
    file: String,
    text: String,
    raw: RawSheet,
    places: Places,
    /// A day put in later.
    day: Option<DaySheet>,
    /// Options carried out, each with the parts that get a treatment they did not have.
    done: Vec<(OptionSpec, Vec<String>)>,
    /// See [`Sheet::hash`]; made once, for a thousand draws ask.
    hash: OnceLock<String>,
}

impl Sheet {
    /// Reads a sheet; `file_name` is only for messages.
    ///
    /// # Errors
    /// All problems of syntax, keys, types, ranges, of parts that don't fit each other, and of
    /// options that can't be carried out.
    pub fn parse(text: &str, file_name: &str) -> Result<Self, SheetError> {
        let sheet = Self::read(text, file_name)?;
        sheet.try_options()?;
        Ok(sheet)
    }

    /// Reads a sheet whose options are tried later, see [`Sheet::try_options`].
    ///
    /// # Errors
    /// As [`Sheet::parse`], but for options that can't be carried out.
    pub fn read(text: &str, file_name: &str) -> Result<Self, SheetError> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let (raw, places) = Written::of(text).read(file_name, &[])?;
        Ok(Self {
            file: file_name.to_owned(),
            text: text.to_owned(),
            raw,
            places,
            day: None,
            done: Vec::new(),
            hash: OnceLock::new(),
        })
    }

    /// Carries out each option of the sheet to see whether it can be.
    ///
    /// # Errors
    /// All problems of all options.
    pub fn try_options(&self) -> Result<(), SheetError> {
        let written = Written::of(&self.text);
        let options = self.raw.option.iter();
        let problems: Vec<Problem> = options
            .filter_map(|option| self.with_option_of(&written, option).err())
            .flat_map(|e| e.problems)
            .collect();
        if problems.is_empty() {
            Ok(())
        } else {
            Err(SheetError::new(&self.file, problems))
        }
    }

    /// The sheet's options, one that changes nothing first.
    #[must_use]
    pub fn options(&self) -> Vec<OptionSpec> {
        options::ordered(&self.raw.option)
    }

    /// The same car with an option carried out.
    ///
    /// # Errors
    /// Unknown parts, treatments and measures, treatments that don't suit a part, key paths that
    /// lead nowhere, and values that the sheet's own checks refuse. Places are those of the option
    /// where it stands in the sheet.
    pub fn with_option(&self, option: &OptionSpec) -> Result<Self, SheetError> {
        self.with_option_of(&Written::of(&self.text), option)
    }

    /// The same, from the sheet as it is `written`.
    fn with_option_of(
        &self,
        written: &Written<'_>,
        option: &OptionSpec,
    ) -> Result<Self, SheetError> {
        let mut specs: Vec<OptionSpec> = self.done.iter().map(|(o, _)| o.clone()).collect();
        specs.push(option.clone());
        let read = written.read(&self.file, &specs);
        let (mut raw, places) = read.map_err(|mut e| {
            let with = format!(" (with option \"{}\")", option.name);
            e.problems.iter_mut().for_each(|p| p.message += &with);
            e
        })?;
        let had = |part: &str| {
            let found = self.raw.exhaust.iter().find(|p| p.name == part);
            found.and_then(|p| p.treatment.as_ref())
        };
        let new = option
            .treat
            .iter()
            .filter(|(part, t)| had(part) != Some(*t));
        let new: Vec<String> = new.map(|(part, _)| part.clone()).collect();
        let mut done = self.done.clone();
        done.push((option.clone(), new));
        raw.option.clone_from(&self.raw.option);
        let sheet = Self {
            file: self.file.clone(),
            text: self.text.clone(),
            raw,
            places,
            day: None,
            done,
            hash: OnceLock::new(),
        };
        Ok(match &self.day {
            Some(day) => sheet.with_day(day.clone()),
            None => sheet,
        })
    }

    /// First 16 hex digits of the SHA-256 of the text, and of the options carried out.
    #[must_use]
    pub fn hash(&self) -> String {
        let made = self.hash.get_or_init(|| {
            let mut text = self.text.clone();
            for (option, _) in &self.done {
                text.push_str(&format!("{option:?}"));
            }
            hash(&text)
        });
        made.clone()
    }

    /// Title.
    #[must_use]
    pub fn title(&self) -> &str {
        &self.raw.title
    }

    /// File name as given.
    #[must_use]
    pub fn file(&self) -> &str {
        &self.file
    }

    /// The sheet as written.
    #[must_use]
    pub fn raw(&self) -> &RawSheet {
        &self.raw
    }

    /// The same sheet on another day.
    #[must_use]
    pub fn with_day(mut self, day: DaySheet) -> Self {
        self.places
            .retain(|key, _| key != "day" && !key.starts_with("day."));
        self.day = Some(day.clone());
        self.raw.day = Some(day);
        self
    }

    /// The sheet's own cycle, or [`DEFAULT_CYCLE`] where it has none.
    ///
    /// # Errors
    /// Phases that don't make a cycle.
    pub fn cycle(&self) -> Result<Cycle, CycleError> {
        match &self.raw.cycle {
            Some(own) if !own.phase.is_empty() => CycleSpec {
                title: self.title().to_owned(),
                phases: own.phase.clone(),
                ..CycleSpec::default()
            }
            .cycle(self.file()),
            Some(own) => own
                .builtin
                .as_deref()
                .map_or_else(|| DEFAULT_CYCLE.cycle(), cycle::builtin),
            None => DEFAULT_CYCLE.cycle(),
        }
    }

    /// Chooses one value for each number and converts to SI.
    ///
    /// # Errors
    /// Values that don't fit each other; a sheet that has passed [`Sheet::parse`] can only fail
    /// here through a day put in later or through [`Chooser::Given`].
    pub fn settle(&self, chooser: &mut Chooser<'_>) -> Result<Settled, SheetError> {
        let (settled, problems) = settle::settle(&self.raw, &self.places, &[], chooser);
        let mut settled = settled.ok_or_else(|| SheetError::new(&self.file, problems))?;
        let mut hazards = Vec::new();
        for (option, new_parts) in &self.done {
            let cost = option.cost(&settled.fitted, new_parts);
            settled.cost.price = settled.cost.price.plus(cost.price);
            settled.cost.mass_kg += cost.mass_kg;
            hazards.extend(option.hazards());
        }
        settled.cautions = cost::cautions(&settled.fitted, &hazards);
        Ok(settled)
    }
}

/// A sheet's text, read once for all that is to be made of it.
struct Written<'t> {
    text: &'t str,
    table: Spanned<DeTable<'t>>,
    errors: Vec<toml::de::Error>,
}

impl<'t> Written<'t> {
    fn of(text: &'t str) -> Self {
        let (table, errors) = DeTable::parse_recoverable(text);
        Self {
            text,
            table,
            errors,
        }
    }

    /// The sheet with options carried out, if it settles.
    fn read(&self, file: &str, options: &[OptionSpec]) -> Result<(RawSheet, Places), SheetError> {
        let text = self.text;
        let mut table = self.table.get_ref().clone();
        let changes: Vec<Changes> = options
            .iter()
            .map(|option| Changes::of(&table, option, text))
            .collect();
        let mut problems: Vec<Problem> = changes
            .iter()
            .flat_map(|c| c.apply(&mut table, text))
            .collect();
        if !options.is_empty() {
            table.remove("option");
        }
        let checked = check_table(text, &table, &self.errors, &SCHEMA);
        problems.extend(checked.problems);
        // what can't be read says nothing about the rest
        if !self.errors.is_empty() {
            return Err(SheetError::new(file, problems));
        }
        match RawSheet::deserialize(Deserializer::from(Spanned::new(self.table.span(), table))) {
            Ok(raw) => {
                let mut likely = Chooser::Likely;
                let (_, more) = settle::settle(&raw, &checked.places, &problems, &mut likely);
                problems.extend(more);
                if problems.is_empty() {
                    return Ok((raw, checked.places));
                }
            }
            // The walk has said it better, unless it found nothing.
            Err(error) if problems.is_empty() => problems.push(from_serde(text, &error)),
            Err(_) => {}
        }
        Err(SheetError::new(file, problems))
    }
}

impl DaySheet {
    /// Reads a file that holds the keys of `[day]`, with or without that heading.
    ///
    /// # Errors
    /// All problems in it.
    pub fn parse(text: &str, file_name: &str) -> Result<Self, SheetError> {
        #[derive(serde::Deserialize, schemars::JsonSchema)]
        struct Headed {
            /// Weather and place.
            day: DaySheet,
        }
        let headed = text.lines().any(|line| line.trim() == "[day]");
        let schema = if headed {
            schemars::schema_for!(Headed).to_value()
        } else {
            schemars::schema_for!(DaySheet).to_value()
        };
        let mut problems = check(text, &schema).problems;
        let read = if headed {
            toml::from_str::<Headed>(text).map(|h| h.day)
        } else {
            toml::from_str::<DaySheet>(text)
        };
        match read {
            Ok(day) if problems.is_empty() => return Ok(day),
            Err(error) if problems.is_empty() => problems.push(from_serde(text, &error)),
            _ => {}
        }
        Err(SheetError::new(file_name, problems))
    }
}

fn hash(text: &str) -> String {
    let digest = Sha256::digest(text.as_bytes());
    digest
        .iter()
        .take(8)
        .map(|byte| format!("{byte:02x}"))
        .collect()
}

fn from_serde(text: &str, error: &toml::de::Error) -> Problem {
    let start = error.span().map_or(0, |s| s.start.min(text.len()));
    let before = text.get(..start).unwrap_or("");
    let line_start = before.rfind('\n').map_or(0, |i| i + 1);
    Problem {
        line: before.matches('\n').count() + 1,
        column: before
            .get(line_start..)
            .map_or(1, |s| s.chars().count() + 1),
        key: String::new(),
        value: String::new(),
        limit: String::new(),
        message: error.message().replace('\n', ", "),
        hint: String::new(),
    }
}
