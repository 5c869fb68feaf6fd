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
mod input;
mod problem;
pub mod raw;
mod resolve;
mod settle;
mod units;
mod words;

use sha2::{Digest, Sha256};

pub use builtin::{
    BuiltinSheet, DEFAULT_BUILTIN, UnknownBuiltin, builtin, builtins, day_text, days,
};
pub use input::Input;
pub use problem::{Problem, SheetError};
pub use raw::{DaySheet, RawSheet, sheet_schema};
pub use resolve::{AssumedChoice, AssumedValue, Chooser, Uncertain, triangular_quantile};
pub use settle::Settled;

use check::{Places, check};

/// A build sheet that has passed all checks.
#[derive(Debug, Clone)]
pub struct Sheet {
    file: String,
    hash: String,
    raw: RawSheet,
    places: Places,
}

impl Sheet {
    /// Reads a sheet; `file_name` is only for messages.
    ///
    /// # Errors
    /// All problems of syntax, keys, types, ranges, and of parts that don't fit each other.
    pub fn parse(text: &str, file_name: &str) -> Result<Self, SheetError> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let checked = check(text, &sheet_schema());
        let mut problems = checked.problems;
        match toml::from_str::<RawSheet>(text) {
            Ok(raw) => {
                let (_, more) =
                    settle::settle(&raw, &checked.places, &problems, &mut Chooser::Likely);
                problems.extend(more);
                if problems.is_empty() {
                    let hash = hash(text);
                    return Ok(Self {
                        file: file_name.to_owned(),
                        hash,
                        raw,
                        places: checked.places,
                    });
                }
            }
            // The walk has said it better, unless it found nothing.
            Err(error) if problems.is_empty() => problems.push(from_serde(text, &error)),
            Err(_) => {}
        }
        Err(SheetError::new(file_name, problems))
    }

    /// First 16 hex digits of the SHA-256 of the text.
    #[must_use]
    pub fn hash(&self) -> &str {
        &self.hash
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
        self.raw.day = Some(day);
        self
    }

    /// Chooses one value for each number and converts to SI.
    ///
    /// # Errors
    /// Values that don't fit each other; a sheet that has passed [`Sheet::parse`] can only fail
    /// here through a day put in later or through [`Chooser::Given`].
    pub fn settle(&self, chooser: &mut Chooser<'_>) -> Result<Settled, SheetError> {
        let (settled, problems) = settle::settle(&self.raw, &self.places, &[], chooser);
        settled.ok_or_else(|| SheetError::new(&self.file, problems))
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
