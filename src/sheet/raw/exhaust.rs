//! `[[exhaust]]` as written.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Deserialize;

use crate::materials::Finish;
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
    /// Outer layer that is already there.
    pub layer: Option<LayerSheet>,
}

/// An outer layer on a part.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
pub struct LayerSheet {
    /// Name, used in reports.
    pub name: Option<String>,
    /// Thickness [mm].
    #[schemars(extend("minimum" = 0.01, "maximum" = 100))]
    pub thickness_mm: Input,
    /// Conductivity at 300 K [W/m/K].
    #[schemars(extend("minimum" = 0.01, "maximum" = 500))]
    pub conductivity_w_mk: Input,
    /// Rise of conductivity per kelvin above 300 K [W/m/K2].
    #[schemars(extend("minimum" = -0.1, "maximum" = 0.1))]
    pub conductivity_slope_w_mk2: Option<Input>,
    /// Density [kg/m3].
    #[schemars(extend("minimum" = 20, "maximum" = 22000))]
    pub density_kg_m3: Option<Input>,
    /// Specific heat [J/kg/K].
    #[schemars(extend("minimum" = 100, "maximum" = 5000))]
    pub specific_heat_j_kgk: Option<Input>,
    /// Outer emissivity [-].
    #[schemars(extend("minimum" = 0.02, "maximum" = 1))]
    pub emissivity: Option<Input>,
    /// Highest service temperature [C].
    #[schemars(extend("minimum" = 50, "maximum" = 1800))]
    pub max_service_c: Option<Input>,
}
