//! `[bay]`, `[[neighbour]]` and `[day]` as written.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Deserialize;

use crate::sheet::input::Input;

/// Engine bay, `[bay]`.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
pub struct BaySheet {
    /// Length of the bay, grille to bulkhead [mm].
    #[schemars(extend("minimum" = 300, "maximum" = 3000))]
    pub length_mm: Option<Input>,
    /// Width between the inner wings [mm].
    #[schemars(extend("minimum" = 400, "maximum" = 2500))]
    pub width_mm: Option<Input>,
    /// Height, undertray to bonnet [mm].
    #[schemars(extend("minimum" = 200, "maximum" = 2000))]
    pub height_mm: Option<Input>,
    /// Turbulent exchange between neighbouring zones, share of through-flow speed [-].
    #[schemars(extend("minimum" = 0, "maximum" = 2))]
    pub mixing_share: Option<Input>,
    /// Mixing speed between neighbouring zones at standstill [m/s].
    #[schemars(extend("minimum" = 0, "maximum" = 1))]
    pub mixing_still_m_s: Option<Input>,
    /// Share of hot outflow that returns to the grille when standing [-].
    #[schemars(extend("minimum" = 0, "maximum" = 0.9))]
    pub standing_recirculation: Option<Input>,
    /// Road speed at which recirculation has fallen to 1/e [m/s].
    #[schemars(extend("minimum" = 0.2, "maximum" = 30))]
    pub recirculation_fade_m_s: Option<Input>,
    /// Time in which hot air gathers at grille and pickup when the car stands, and clears when it drives [s].
    #[schemars(extend("minimum" = 0, "maximum" = 600))]
    pub recirculation_lag_s: Option<Input>,
    /// Share of the block's outer area in each zone: zone = share [-].
    #[schemars(extend("minimum" = 0, "maximum" = 1))]
    #[serde(default)]
    pub block_share: BTreeMap<String, Input>,
    /// Zones: the name of a default zone adjusts it, a new name adds one.
    #[serde(default)]
    pub zone: Vec<ZoneSheet>,
    /// Openings: the name of a default opening adjusts it, a new name adds one.
    #[serde(default)]
    pub opening: Vec<OpeningSheet>,
    /// Radiator.
    pub radiator: Option<RadiatorSheet>,
    /// Fan on the radiator.
    pub fan: Option<FanSheet>,
    /// Panels: the name of a default panel adjusts it, a new name adds one.
    #[serde(default)]
    pub panel: Vec<PanelSheet>,
}

/// An air zone, `[[bay.zone]]`.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
pub struct ZoneSheet {
    /// Name: nose, front, upper, hot, low, or a new one.
    pub name: String,
    /// Free air volume [l].
    #[schemars(extend("minimum" = 1, "maximum" = 2000))]
    pub volume_l: Option<Input>,
    /// Cross-section for the local air speed [cm2].
    #[schemars(extend("minimum" = 50, "maximum" = 30000))]
    pub flow_area_cm2: Option<Input>,
    /// Height of its middle above the road [mm].
    #[schemars(extend("minimum" = 50, "maximum" = 2500))]
    pub height_mm: Option<Input>,
}

/// What an opening is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum RoleName {
    /// Plain gap, always there.
    Gap,
    /// The path through charge cooler and radiator with the fan on it.
    Radiator,
    /// There only with the bonnet open.
    BonnetOpen,
}

/// An opening, `[[bay.opening]]`.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
pub struct OpeningSheet {
    /// Name.
    pub name: String,
    /// Zone that it leads from, or `outside`.
    pub from: Option<String>,
    /// Zone that it leads to, or `outside`.
    pub to: Option<String>,
    /// Free area; 0 closes it [cm2].
    #[schemars(extend("minimum" = 0, "maximum" = 20000))]
    pub area_cm2: Option<Input>,
    /// Discharge coefficient [-].
    #[schemars(extend("minimum" = 0.2, "maximum" = 1))]
    pub discharge: Option<Input>,
    /// Height above the road [mm].
    #[schemars(extend("minimum" = 50, "maximum" = 2500))]
    pub height_mm: Option<Input>,
    /// Pressure coefficient at the outside end [-].
    #[schemars(extend("minimum" = -2, "maximum" = 1))]
    pub pressure_coefficient: Option<Input>,
    /// What it is.
    pub role: Option<RoleName>,
}

/// Radiator, `[bay.radiator]`.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
pub struct RadiatorSheet {
    /// Conductance coolant to air at 1 kg/s of air [W/K].
    #[schemars(extend("minimum" = 100, "maximum" = 20000))]
    pub conductance_w_k: Option<Input>,
    /// Face area [cm2].
    #[schemars(extend("minimum" = 300, "maximum" = 15000))]
    pub face_cm2: Option<Input>,
    /// Loss coefficient of core and grille on face velocity [-].
    #[schemars(extend("minimum" = 1, "maximum" = 60))]
    pub loss_coefficient: Option<Input>,
}

/// Fan on the radiator, `[bay.fan]`.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
pub struct FanSheet {
    /// Free flow [m3/s].
    #[schemars(extend("minimum" = 0.02, "maximum" = 5))]
    pub free_flow_m3_s: Option<Input>,
    /// Pressure rise at no flow [Pa].
    #[schemars(extend("minimum" = 20, "maximum" = 2000))]
    pub stall_pressure_pa: Option<Input>,
    /// On above this coolant temperature [C].
    #[schemars(extend("minimum" = 50, "maximum" = 125))]
    pub on_c: Option<Input>,
    /// Off below this coolant temperature [C].
    #[schemars(extend("minimum" = 45, "maximum" = 122))]
    pub off_c: Option<Input>,
    /// Longest run-on after key-off [s].
    #[schemars(extend("minimum" = 0, "maximum" = 1800))]
    pub run_on_s: Option<Input>,
}

/// What a panel has on its other side.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum SideName {
    /// Outside air, facing up: sun and sky.
    Sky,
    /// Outside air, facing down: the road.
    Road,
    /// Outside air, facing sideways.
    Side,
    /// The cabin behind insulation.
    Cabin,
}

/// A body panel, `[[bay.panel]]`.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
pub struct PanelSheet {
    /// Name: bonnet, bulkhead, undertray, inner wings, or a new one.
    pub name: String,
    /// Area [m2].
    #[schemars(extend("minimum" = 0.01, "maximum" = 6))]
    pub area_m2: Option<Input>,
    /// Thickness [mm].
    #[schemars(extend("minimum" = 0.3, "maximum" = 20))]
    pub thickness_mm: Option<Input>,
    /// Material id.
    pub metal: Option<String>,
    /// Emissivity inside the bay [-].
    #[schemars(extend("minimum" = 0.02, "maximum" = 1))]
    pub emissivity_in: Option<Input>,
    /// Emissivity outside [-].
    #[schemars(extend("minimum" = 0.02, "maximum" = 1))]
    pub emissivity_out: Option<Input>,
    /// Absorptivity for sun [-].
    #[schemars(extend("minimum" = 0.02, "maximum" = 1))]
    pub sun_absorptivity: Option<Input>,
    /// Zone inside.
    pub zone: Option<String>,
    /// The other side.
    pub side: Option<SideName>,
    /// Extra conductance to the other side; 0 for none [W/m2/K].
    #[schemars(extend("minimum" = 0, "maximum" = 50))]
    pub cabin_w_m2k: Option<Input>,
}

/// Kind of a neighbour: gives size and limit where the sheet is silent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum NeighbourKind {
    /// Brake fluid reservoir.
    BrakeFluid,
    /// Clutch fluid: reservoir, hose or slave cylinder.
    ClutchFluid,
    /// Wiring loom.
    Loom,
    /// Coolant hose.
    Hose,
    /// Drive shaft boot.
    Boot,
    /// Fuel line.
    FuelLine,
    /// Fuel rail.
    FuelRail,
    /// Starter motor with solenoid.
    Starter,
    /// Battery.
    Battery,
    /// Plastic box or cover.
    Plastic,
    /// Rubber engine mount.
    Mount,
    /// Anything else: then mass, area and limit must be given.
    Other,
}

impl NeighbourKind {
    /// Every kind that gives size and limit.
    pub const USUAL: [Self; 11] = [
        Self::BrakeFluid,
        Self::ClutchFluid,
        Self::Loom,
        Self::Hose,
        Self::Boot,
        Self::FuelLine,
        Self::FuelRail,
        Self::Starter,
        Self::Battery,
        Self::Plastic,
        Self::Mount,
    ];

    /// As written in a sheet.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::BrakeFluid => "brake_fluid",
            Self::ClutchFluid => "clutch_fluid",
            Self::Loom => "loom",
            Self::Hose => "hose",
            Self::Boot => "boot",
            Self::FuelLine => "fuel_line",
            Self::FuelRail => "fuel_rail",
            Self::Starter => "starter",
            Self::Battery => "battery",
            Self::Plastic => "plastic",
            Self::Mount => "mount",
            Self::Other => "other",
        }
    }

    /// Whether a hand on it meets metal.
    #[must_use]
    pub fn is_metal(self) -> bool {
        matches!(self, Self::FuelRail | Self::Starter)
    }
}

/// A part near the heat that has a limit, `[[neighbour]]`.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
pub struct NeighbourSheet {
    /// Name, used in reports.
    pub name: String,
    /// Kind; gives size and limit where the sheet is silent.
    pub kind: Option<NeighbourKind>,
    /// Zone.
    pub zone: Option<String>,
    /// Mass [kg].
    #[schemars(extend("minimum" = 0.005, "maximum" = 60))]
    pub mass_kg: Option<Input>,
    /// Specific heat [J/kg/K].
    #[schemars(extend("minimum" = 100, "maximum" = 5000))]
    pub specific_heat_j_kgk: Option<Input>,
    /// Outer area [cm2].
    #[schemars(extend("minimum" = 5, "maximum" = 10000))]
    pub area_cm2: Option<Input>,
    /// Characteristic size for convection [mm].
    #[schemars(extend("minimum" = 2, "maximum" = 800))]
    pub size_mm: Option<Input>,
    /// Emissivity [-].
    #[schemars(extend("minimum" = 0.02, "maximum" = 1))]
    pub emissivity: Option<Input>,
    /// Limit [C].
    #[schemars(extend("minimum" = 40, "maximum" = 900))]
    pub limit_c: Option<Input>,
    /// What the limit is and where it comes from.
    pub limit_source: Option<String>,
    /// View factors: name of another surface = share.
    #[schemars(extend("minimum" = 0, "maximum" = 1))]
    #[serde(default)]
    pub sees: BTreeMap<String, Input>,
}

/// Weather and place, `[day]`.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
pub struct DaySheet {
    /// Name.
    pub name: Option<String>,
    /// Ambient air temperature [C].
    #[schemars(extend("minimum" = -50, "maximum" = 60))]
    pub ambient_c: Option<Input>,
    /// Relative humidity [%].
    #[schemars(extend("minimum" = 0, "maximum" = 100))]
    pub humidity_percent: Option<Input>,
    /// Ambient pressure [kPa].
    #[schemars(extend("minimum" = 50, "maximum" = 110))]
    pub pressure_kpa: Option<Input>,
    /// Altitude [m], in place of the pressure: US Standard Atmosphere 1976.
    #[schemars(extend("minimum" = -400, "maximum" = 5000))]
    pub altitude_m: Option<Input>,
    /// Sun on a horizontal surface [W/m2].
    #[schemars(extend("minimum" = 0, "maximum" = 1400))]
    pub sun_w_m2: Option<Input>,
    /// Wind at standstill, against the nose and at its height [m/s].
    #[schemars(extend("minimum" = 0, "maximum" = 30))]
    pub wind_m_s: Option<Input>,
    /// Road surface temperature over ambient [K].
    #[schemars(extend("minimum" = -10, "maximum" = 45))]
    pub road_over_ambient_k: Option<Input>,
}
