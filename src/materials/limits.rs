//! Temperatures that something bears, read from `data/limits.toml` at first use.

use std::sync::LazyLock;

use serde::Deserialize;

use super::{Ranged, metals};
use crate::constants::ZERO_CELSIUS_K;

/// A limit.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Limit {
    /// Exact id; for nearby parts, the kind that a sheet names.
    pub id: String,
    /// `nearby part`, `fluid`, `metal` or `touch`.
    pub group: String,
    /// What happens, or to what.
    pub what: String,
    /// Metals that it is of.
    #[serde(default)]
    pub metals: Vec<String>,
    /// Temperature [degC]; a run compares with `likely`.
    pub limit_c: Ranged,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    limit: Vec<Limit>,
}

// A test asks for every id that the program uses, so a table that doesn't parse can't ship as an empty list.
static LIMITS: LazyLock<Vec<Limit>> = LazyLock::new(|| {
    toml::from_str::<File>(include_str!("../../data/limits.toml"))
        .unwrap_or_default()
        .limit
});

/// Every limit of the table, then the scaling limits of the metals.
pub fn limits() -> Vec<Limit> {
    let scaling = metals().iter().map(|m| Limit {
        id: m.id.clone(),
        group: "metal".to_owned(),
        what: format!("{}: highest service temperature", m.name),
        metals: vec![m.id.clone()],
        limit_c: Ranged {
            low: m.max_service_k.range_k[0] - ZERO_CELSIUS_K,
            likely: m.max_service_k.value - ZERO_CELSIUS_K,
            high: m.max_service_k.range_k[1] - ZERO_CELSIUS_K,
            source: m.max_service_k.source.clone(),
        },
    });
    LIMITS.iter().cloned().chain(scaling).collect()
}

/// Limits of a metal beside scaling: growth, creep, loss of corrosion resistance.
pub fn limits_of_metal(id: &str) -> impl Iterator<Item = &'static Limit> {
    LIMITS
        .iter()
        .filter(move |l| l.metals.iter().any(|m| m == id))
}

/// The limit with this exact id.
pub fn limit(id: &str) -> Option<&'static Limit> {
    LIMITS.iter().find(|l| l.id == id)
}

/// A limit in kelvin [K]; infinite where the table has none of this id.
pub fn limit_k(id: &str) -> f64 {
    limit(id).map_or(f64::INFINITY, |l| l.limit_c.likely + ZERO_CELSIUS_K)
}

/// Where a limit comes from.
pub fn limit_source(id: &str) -> &'static str {
    limit(id).map_or("", |l| &l.limit_c.source)
}
