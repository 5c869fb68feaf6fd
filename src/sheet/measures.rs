//! Other things than treatments that one can do to a car, as named changes of sheet keys, read
//! from `data/measures.toml` at first use.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use serde::Deserialize;

use crate::materials::Ranged;

/// A named change of sheet keys.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Measure {
    /// Exact id used in options.
    pub id: String,
    /// What is done, for people.
    pub name: String,
    /// Price [EUR, as an example].
    pub price_eur: Ranged,
    /// Mass that it adds [kg].
    pub mass_kg: Ranged,
    /// What it may do to people, cars and workshops.
    #[serde(default)]
    pub hazards: Vec<String>,
    /// Where the numbers that it sets come from.
    pub source: String,
    /// Keys taken out of the sheet first, so that usual values follow the change.
    #[serde(default)]
    pub clear: Vec<String>,
    /// Keys and their new values.
    pub set: BTreeMap<String, toml::Value>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    measure: Vec<Measure>,
}

static MEASURES: LazyLock<Vec<Measure>> = LazyLock::new(|| {
    // a test asks for every measure, so a file that doesn't parse can't ship as an empty list
    toml::from_str::<File>(include_str!("../../data/measures.toml"))
        .unwrap_or_default()
        .measure
});

/// Every measure, in the order of the file.
#[must_use]
pub fn measures() -> &'static [Measure] {
    &MEASURES
}

/// The measure with this exact id.
#[must_use]
pub fn measure(id: &str) -> Option<&'static Measure> {
    MEASURES.iter().find(|m| m.id == id)
}
