//! `[[exhaust]]` as written.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Deserialize;

use super::Age;
use crate::materials::Finish;
use crate::sheet::build::ExhaustKind;
use crate::sheet::input::Input;

/// What an exhaust part is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema, Default)]
#[serde(rename_all = "snake_case")]
pub enum PartKind {
    /// Port outlet or runner close to the head.
    Runner,
    /// Where runners join.
    Collector,
    /// Link pipe before the turbine.
    Link,
    /// Turbine housing.
    Turbine,
    /// Catalyst or particulate filter.
    Catalyst,
    /// Downpipe.
    Downpipe,
    /// Pipe further back.
    #[default]
    Pipe,
}

impl PartKind {
    /// Every kind.
    pub const ALL: [Self; 7] = [
        Self::Runner,
        Self::Collector,
        Self::Link,
        Self::Turbine,
        Self::Catalyst,
        Self::Downpipe,
        Self::Pipe,
    ];

    /// As written in a sheet.
    #[must_use]
    pub fn word(self) -> &'static str {
        ExhaustKind::from(self).name()
    }
}

impl From<PartKind> for ExhaustKind {
    fn from(kind: PartKind) -> Self {
        match kind {
            PartKind::Runner => Self::Runner,
            PartKind::Collector => Self::Collector,
            PartKind::Link => Self::Link,
            PartKind::Turbine => Self::Turbine,
            PartKind::Catalyst => Self::Catalyst,
            PartKind::Downpipe => Self::Downpipe,
            PartKind::Pipe => Self::Pipe,
        }
    }
}

/// State of a part's outer surface.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum FinishName {
    /// Clean and bright.
    Bright,
    /// Oxidised in service.
    #[default]
    Oxidised,
    /// Painted, any colour.
    Painted,
}

impl FinishName {
    /// As written in a sheet.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Bright => "bright",
            Self::Oxidised => "oxidised",
            Self::Painted => "painted",
        }
    }
}

impl From<FinishName> for Finish {
    fn from(name: FinishName) -> Self {
        match name {
            FinishName::Bright => Self::Polished,
            FinishName::Oxidised => Self::Oxidised,
            FinishName::Painted => Self::Painted,
        }
    }
}

/// One exhaust part, `[[exhaust]]`, in flow order.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
pub struct ExhaustSheet {
    /// Name, used in reports.
    pub name: String,
    /// What it is.
    pub kind: PartKind,
    /// Metal id.
    pub metal: String,
    /// Inner diameter of one pipe; for a turbine, of its scroll; for a catalyst, of its shell [mm].
    #[schemars(extend("minimum" = 10, "maximum" = 200))]
    pub bore_mm: Input,
    /// Length of one pipe along its middle [mm].
    #[schemars(extend("minimum" = 20, "maximum" = 6000))]
    pub length_mm: Input,
    /// Wall thickness [mm].
    #[schemars(extend("minimum" = 0.4, "maximum" = 25))]
    pub wall_mm: Option<Input>,
    /// Equal pipes side by side, in this branch.
    #[schemars(extend("minimum" = 1, "maximum" = 16))]
    pub count: Option<u32>,
    /// Scroll or bank: 0 for the whole flow, 1 and 2 for two halves side by side.
    #[schemars(extend("minimum" = 0, "maximum" = 2))]
    pub branch: Option<u32>,
    /// Total mass of the part, all pipes [kg].
    #[schemars(extend("minimum" = 0.05, "maximum" = 80))]
    pub mass_kg: Option<Input>,
    /// State of the outer surface.
    pub finish: Option<FinishName>,
    /// Outer emissivity, bare; wins over `finish` [-].
    #[schemars(extend("minimum" = 0.02, "maximum" = 1))]
    pub emissivity: Option<Input>,
    /// Factor on the gas side heat transfer [-].
    #[schemars(extend("minimum" = 0.2, "maximum" = 5))]
    pub gas_factor: Option<Input>,
    /// Zone it stands in; `outside` for under the floor.
    pub zone: Option<String>,
    /// Factor on the zone's air speed at this part [-].
    #[schemars(extend("minimum" = 0, "maximum" = 10))]
    pub air_speed_factor: Option<Input>,
    /// View factors: name of another surface = share.
    #[schemars(extend("minimum" = 0, "maximum" = 1))]
    #[serde(default)]
    pub sees: BTreeMap<String, Input>,
    /// Catalyst only: mass of the brick [kg].
    #[schemars(extend("minimum" = 0.1, "maximum" = 30))]
    pub brick_mass_kg: Option<Input>,
    /// Catalyst only: brick to shell conductance [W/K].
    #[schemars(extend("minimum" = 0.1, "maximum" = 100))]
    pub brick_shell_w_k: Option<Input>,
    /// Catalyst only: share of the unburnt fuel power released when oxygen is there [-].
    #[schemars(extend("minimum" = 0, "maximum" = 1))]
    pub conversion: Option<Input>,
    /// Conductance by contact to the engine block, all pipes; 0 for none [W/K].
    #[schemars(extend("minimum" = 0, "maximum" = 200))]
    pub flange_w_k: Option<Input>,
    /// Treatment that is on it: one of the catalogue or of this sheet's `[treatment.NAME]`.
    pub treatment: Option<String>,
    /// How long that has been in use.
    pub treatment_age: Option<Age>,
}
