//! The sheet as written: every key, its meaning and its plausible range.
//!
//! These types are the one truth about keys. Their JSON schema drives the checker
//! ([`super::check`]) and editors; `minimum` and `maximum` are limits of plausibility in the
//! key's own unit, common practice, no source.

mod bay;
mod engine;
mod exhaust;
mod intake;
mod log;
mod treatment;

pub use bay::*;
pub use engine::*;
pub use exhaust::*;
pub use intake::*;
pub use log::*;
pub use treatment::*;

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Deserialize;

use crate::cycle::PhaseSpec;
use crate::sheet::options::OptionSpec;

/// A build sheet as written.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[schemars(title = "baysoak build sheet")]
pub struct RawSheet {
    /// Title.
    pub title: String,
    /// Vehicle.
    pub car: Option<CarSheet>,
    /// Engine.
    pub engine: EngineSheet,
    /// Exhaust parts in flow order.
    pub exhaust: Vec<ExhaustSheet>,
    /// Turbocharger; absent means naturally aspirated.
    pub turbocharger: Option<TurboSheet>,
    /// Engine bay.
    pub bay: Option<BaySheet>,
    /// Intake route.
    pub intake: Option<IntakeSheet>,
    /// Parts near the heat that have a limit.
    #[serde(default)]
    pub neighbour: Vec<NeighbourSheet>,
    /// Treatments of one's own, beside those of the catalogue.
    #[serde(default)]
    pub treatment: BTreeMap<String, TreatmentSheet>,
    /// What could be done to the car, to be compared.
    #[serde(default)]
    pub option: Vec<OptionSpec>,
    /// What a logger's files mean.
    pub log: Option<LogSheet>,
    /// Weather; absent means the standard day.
    pub day: Option<DaySheet>,
    /// Drive cycle that goes with this build.
    pub cycle: Option<CycleSheet>,
}

/// Drive cycle, `[cycle]`: a built-in one or phases of its own.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
pub struct CycleSheet {
    /// Name of a built-in cycle.
    pub builtin: Option<String>,
    /// Phases in order.
    #[serde(default)]
    pub phase: Vec<PhaseSpec>,
}

/// The JSON schema of a build sheet, for editors.
#[must_use]
pub fn sheet_schema() -> serde_json::Value {
    schemars::schema_for!(RawSheet).to_value()
}
