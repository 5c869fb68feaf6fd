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
mod cost;
mod input;
mod measures;
mod options;
mod patch;
mod problem;
pub mod raw;
mod resolve;
mod settle;
mod units;
mod words;

use std::sync::LazyLock;

use serde::Deserialize;
use sha2::{Digest, Sha256};
use toml::Spanned;
use toml::de::{DeTable, Deserializer};

pub use builtin::{
    BuiltinSheet, DEFAULT_BUILTIN, UnknownBuiltin, builtin, builtins, day_text, days,
};
pub use cost::{Cost, Fitted, Price};
pub use input::Input;
pub(crate) use problem::mean_or_list;
