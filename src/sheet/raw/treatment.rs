//! `[treatment.NAME]` as written: a treatment of one's own.

use schemars::JsonSchema;
use serde::Deserialize;

use super::PartKind;
use crate::materials::{Family, Side};
use crate::sheet::input::Input;

/// How long a treatment has been in use.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Age {
    /// Just fitted.
    #[default]
    New,
    /// After a season: soaked, dusty, cracked.
    Season,
}

impl Age {
    /// As written in a sheet.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::New => "new",
            Self::Season => "season",
        }
    }
}

/// A treatment of one's own, with the fields of the catalogue.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
pub struct TreatmentSheet {
    /// Name for reports.
    pub name: Option<String>,
    /// Family; decides which cautions are shown, and whose temperature the service limit is.
    pub family: Option<Family>,
    /// Kinds of parts that it suits; all where left out.
    pub suits: Option<Vec<PartKind>>,
    /// Share of the part that it covers [-].
    #[schemars(extend("minimum" = 0.05, "maximum" = 1))]
    pub coverage: Option<Input>,
    /// Emissivity of the outer face; wins over that of the outermost layer [-].
    #[schemars(extend("minimum" = 0.02, "maximum" = 1))]
    pub emissivity: Option<Input>,
    /// Highest service temperature, at its hot face; for shields, its own [C].
    #[schemars(extend("minimum" = 50, "maximum" = 1800))]
    pub max_service_c: Option<Input>,
    /// Price per area of the part [EUR/m2].
    #[schemars(extend("minimum" = 0, "maximum" = 100_000))]
    pub price_eur_m2: Option<Input>,
    /// Price per part on top [EUR].
    #[schemars(extend("minimum" = 0, "maximum" = 100_000))]
    pub price_eur_part: Option<Input>,
    /// What it may do to people, cars and workshops.
    #[serde(default)]
    pub hazards: Vec<String>,
    /// Layers, from the metal outwards; inside ones from the metal to the gas.
    #[serde(default)]
    pub layer: Vec<LayerSheet>,
    /// What a season of use changes.
    pub season: Option<SeasonSheet>,
}

/// A layer, `[[treatment.NAME.layer]]`.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
pub struct LayerSheet {
    /// Name, used in reports.
    pub name: Option<String>,
    /// Id of a layer material that gives what is left out below.
    pub material: Option<String>,
    /// Side of the metal.
    pub side: Option<Side>,
    /// Thickness, of one turn [mm].
    #[schemars(extend("minimum" = 0.005, "maximum" = 100))]
    pub thickness_mm: Option<Input>,
    /// Conductivity at 300 K [W/m/K].
    #[schemars(extend("minimum" = 0.01, "maximum" = 500))]
    pub conductivity_w_mk: Option<Input>,
    /// Rise of conductivity per kelvin above 300 K [W/m/K2].
    #[schemars(extend("minimum" = -0.1, "maximum" = 0.1))]
    pub conductivity_slope_w_mk2: Option<Input>,
    /// Density [kg/m3].
    #[schemars(extend("minimum" = 20, "maximum" = 22000))]
    pub density_kg_m3: Option<Input>,
    /// Specific heat [J/kg/K].
    #[schemars(extend("minimum" = 100, "maximum" = 5000))]
    pub specific_heat_j_kgk: Option<Input>,
    /// Emissivity of its outer face [-].
    #[schemars(extend("minimum" = 0.02, "maximum" = 1))]
    pub emissivity: Option<Input>,
    /// Turns of tape.
    #[schemars(extend("minimum" = 1, "maximum" = 10))]
    pub turns: Option<u32>,
    /// Overlap of tape, share of its width [-].
    #[schemars(extend("minimum" = 0, "maximum" = 0.8))]
    pub overlap: Option<Input>,
    /// Air gap beneath it [mm].
    #[schemars(extend("minimum" = 1, "maximum" = 60))]
    pub gap_mm: Option<Input>,
    /// Emissivity of its face towards the gap [-].
    #[schemars(extend("minimum" = 0.02, "maximum" = 1))]
    pub back_emissivity: Option<Input>,
    /// Share of free convection left on the faces of the gap [-].
    #[schemars(extend("minimum" = 0, "maximum" = 1))]
    pub vented: Option<Input>,
}

/// What a season of use changes, `[treatment.NAME.season]`.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
pub struct SeasonSheet {
    /// What happened to it, in words.
    pub note: Option<String>,
    /// Factor on the conductivity of all layers [-].
    #[schemars(extend("minimum" = 0.2, "maximum" = 20))]
    pub conductivity_factor: Option<Input>,
    /// Emissivity of the outer face [-].
    #[schemars(extend("minimum" = 0.02, "maximum" = 1))]
    pub emissivity: Option<Input>,
    /// Emissivity of faces towards gaps [-].
    #[schemars(extend("minimum" = 0.02, "maximum" = 1))]
    pub back_emissivity: Option<Input>,
    /// Share of the part that is still covered [-].
    #[schemars(extend("minimum" = 0.05, "maximum" = 1))]
    pub coverage: Option<Input>,
}
