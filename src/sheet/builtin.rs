//! Built-in sheets and days.

use thiserror::Error;

use super::Sheet;
use super::problem::{SheetError, mean_or_list};
use super::raw::DaySheet;

/// A built-in build sheet, also a starter for one's own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BuiltinSheet {
    /// Name on the command line.
    pub name: &'static str,
    /// What it is, in a line.
    pub about: &'static str,
    /// Its text.
    pub text: &'static str,
}

const SHEETS: [BuiltinSheet; 3] = [
    BuiltinSheet {
        name: "demo",
        about: "transverse 1.6 turbo petrol four, manifold against the bulkhead, front cooler",
        text: include_str!("../../data/builds/demo.toml"),
    },
    BuiltinSheet {
        name: "v8",
        about: "4.0 V8 without turbo, tubular stainless headers on both banks",
        text: include_str!("../../data/builds/v8.toml"),
    },
    BuiltinSheet {
        name: "tow-diesel",
        about: "2.2 turbo diesel in a heavy car, charge cooler on top of the engine",
        text: include_str!("../../data/builds/tow-diesel.toml"),
    },
];

/// Name of the sheet to use when none is given.
pub const DEFAULT_BUILTIN: &str = "demo";

/// No built-in sheet or day of this name.
#[derive(Debug, Clone, Error)]
#[non_exhaustive]
pub enum UnknownBuiltin {
    /// No such sheet.
    #[error("unknown built-in build \"{name}\"\n  hint: {hint}")]
    Build {
        /// As asked for.
        name: String,
        /// Near names or the list.
        hint: String,
    },
    /// No such day.
    #[error("unknown day \"{name}\"\n  hint: {hint}")]
    Day {
        /// As asked for.
        name: String,
        /// Near names or the list.
        hint: String,
    },
    /// The text that comes with the program doesn't pass its own checks.
    #[error(transparent)]
    Broken(#[from] SheetError),
}

/// All built-in sheets.
#[must_use]
pub fn builtins() -> &'static [BuiltinSheet] {
    &SHEETS
}

/// A built-in sheet by name.
///
/// # Errors
/// [`UnknownBuiltin`] with the nearest name.
pub fn builtin(name: &str) -> Result<Sheet, UnknownBuiltin> {
    let found = SHEETS
        .iter()
        .find(|s| s.name == name)
        .ok_or_else(|| UnknownBuiltin::Build {
            name: name.to_owned(),
            hint: mean_or_list(name, SHEETS.iter().map(|s| s.name)),
        })?;
    // options and all: the tests parse each of them
    Ok(Sheet::read(found.text, &format!("{name}.toml"))?)
}

const DAYS: [(&str, &str); 3] = [
    ("standard", include_str!("../../data/days/standard.toml")),
    ("hot", include_str!("../../data/days/hot.toml")),
    ("cold", include_str!("../../data/days/cold.toml")),
];

/// Names of the built-in days.
pub fn days() -> impl Iterator<Item = &'static str> + Clone {
    DAYS.iter().map(|(name, _)| *name)
}

/// Text of a built-in day.
#[must_use]
pub fn day_text(name: &str) -> Option<&'static str> {
    DAYS.iter().find(|(n, _)| *n == name).map(|(_, text)| *text)
}

impl DaySheet {
    /// A built-in day by name.
    ///
    /// # Errors
    /// [`UnknownBuiltin`] with the nearest name.
    pub fn builtin(name: &str) -> Result<Self, UnknownBuiltin> {
        let text = day_text(name).ok_or_else(|| UnknownBuiltin::Day {
            name: name.to_owned(),
            hint: mean_or_list(name, days()),
        })?;
        Ok(Self::parse(text, &format!("{name}.toml"))?)
    }
}
