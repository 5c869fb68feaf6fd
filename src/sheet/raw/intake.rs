//! `[intake]` as written.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Deserialize;

use crate::sheet::input::Input;

/// Where on the intake route a duct sits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema, Default)]
#[serde(rename_all = "snake_case")]
pub enum PlaceName {
    /// Between pickup and compressor, or throttle without one.
    #[default]
    BeforeCompressor,
    /// Between compressor and charge cooler.
    HotSide,
    /// Between charge cooler and throttle.
    ColdSide,
    /// Plenum and runners.
    Plenum,
}

/// One piece of the intake route, `[[intake.duct]]`, in flow order.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
pub struct DuctSheet {
    /// Name.
    pub name: String,
    /// Place on the route.
    pub place: PlaceName,
    /// Inner diameter, or hydraulic diameter [mm].
    #[schemars(extend("minimum" = 15, "maximum" = 250))]
    pub bore_mm: Input,
    /// Length [mm].
    #[schemars(extend("minimum" = 20, "maximum" = 3000))]
    pub length_mm: Input,
    /// Wall thickness [mm].
    #[schemars(extend("minimum" = 0.5, "maximum" = 15))]
    pub wall_mm: Option<Input>,
    /// Wall material id.
    pub metal: Option<String>,
    /// Mass [kg].
    #[schemars(extend("minimum" = 0.02, "maximum" = 20))]
    pub mass_kg: Option<Input>,
    /// Wall area that the air meets [cm2].
    #[schemars(extend("minimum" = 20, "maximum" = 20000))]
    pub inner_area_cm2: Option<Input>,
    /// Wall area that the bay meets [cm2].
    #[schemars(extend("minimum" = 20, "maximum" = 20000))]
    pub outer_area_cm2: Option<Input>,
    /// Outer emissivity [-].
    #[schemars(extend("minimum" = 0.02, "maximum" = 1))]
    pub emissivity: Option<Input>,
    /// Factor on the inner heat transfer [-].
    #[schemars(extend("minimum" = 0.2, "maximum" = 5))]
    pub inner_factor: Option<Input>,
    /// Zone it runs in.
    pub zone: Option<String>,
    /// Conductance by contact to the engine block [W/K].
    #[schemars(extend("minimum" = 0, "maximum" = 50))]
    pub block_w_k: Option<Input>,
}

/// Kind of charge cooler.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema, Default)]
#[serde(rename_all = "snake_case")]
pub enum CoolerName {
    /// In the nose, in front of the radiator.
    #[default]
    Front,
    /// On top of the engine, fed by a duct or scoop.
    Top,
    /// Water cooled, with its own loop and front radiator.
    Water,
    /// No charge cooler.
    None,
}

/// Charge cooler, `[intake.cooler]`.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
pub struct CoolerSheet {
    /// Kind.
    pub kind: CoolerName,
    /// Core mass, as aluminium [kg].
    #[schemars(extend("minimum" = 0.5, "maximum" = 40))]
    pub core_mass_kg: Option<Input>,
    /// Charge side conductance at 0.1 kg/s of charge [W/K].
    #[schemars(extend("minimum" = 20, "maximum" = 3000))]
    pub charge_w_k: Option<Input>,
    /// Cooling side conductance at 1 kg/s of air, or with the water pump on [W/K].
    #[schemars(extend("minimum" = 20, "maximum" = 8000))]
    pub air_w_k: Option<Input>,
    /// Face area [cm2].
    #[schemars(extend("minimum" = 50, "maximum" = 8000))]
    pub face_cm2: Option<Input>,
    /// Share of the free stream speed that passes the core when driving [-].
    #[schemars(extend("minimum" = 0, "maximum" = 1))]
    pub ram_share: Option<Input>,
    /// Least cooling air speed at the face with the engine running or hot [m/s].
    #[schemars(extend("minimum" = 0, "maximum" = 10))]
    pub still_air_m_s: Option<Input>,
    /// Share of the bay's upper air in the cooling air when standing, top mounted [-].
    #[schemars(extend("minimum" = 0, "maximum" = 1))]
    pub bay_air_share: Option<Input>,
    /// Water volume of the loop; water cooled only [l].
    #[schemars(extend("minimum" = 0, "maximum" = 20))]
    pub water_l: Option<Input>,
    /// Low temperature radiator conductance at 1 kg/s of air; water cooled only [W/K].
    #[schemars(extend("minimum" = 0, "maximum" = 3000))]
    pub water_radiator_w_k: Option<Input>,
    /// Pressure loss at rated air flow [kPa].
    #[schemars(extend("minimum" = 0, "maximum" = 60))]
    pub pressure_loss_kpa: Option<Input>,
    /// Zone the core stands in.
    pub zone: Option<String>,
}

/// Intake air temperature sensor, `[intake.sensor]`.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
pub struct SensorSheet {
    /// Name of the duct after which it sits, or `cooler`.
    pub after: Option<String>,
    /// Time constant in air at 10 m/s [s].
    #[schemars(extend("minimum" = 0.1, "maximum" = 120))]
    pub time_constant_s: Option<Input>,
    /// Share of its heat exchange that goes to its mounting at 10 m/s of air [-].
    #[schemars(extend("minimum" = 0, "maximum" = 0.9))]
    pub mount_share: Option<Input>,
    /// Time constant of the body that holds it [s].
    #[schemars(extend("minimum" = 5, "maximum" = 3000))]
    pub body_time_constant_s: Option<Input>,
    /// Share of the body's exchange that goes to the bay's air, the rest to the duct's wall [-].
    #[schemars(extend("minimum" = 0, "maximum" = 1))]
    pub body_bay_share: Option<Input>,
    /// How far the heated film of an air flow meter in the same housing warms it at 10 m/s [K]. The
    /// meter takes the settled part off its reading.
    #[schemars(extend("minimum" = 0, "maximum" = 60))]
    pub film_k: Option<Input>,
    /// How late a log shows the reading [s]: filter of the control unit, and a logger that asks for one
    /// channel after the other. Only what is compared with logs.
    #[schemars(extend("minimum" = 0, "maximum" = 10))]
    pub log_delay_s: Option<Input>,
    /// How far a log shows the reading too high, against its outside temperature [K]: tolerances of both
    /// sensors, digits cut off. Only what is compared with logs.
    #[schemars(extend("minimum" = -5, "maximum" = 5))]
    pub log_offset_k: Option<Input>,
}

/// Intake route, `[intake]`.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
pub struct IntakeSheet {
    /// Where the air comes from: outside or a zone = share [-].
    #[schemars(extend("minimum" = 0, "maximum" = 1))]
    #[serde(default)]
    pub pickup: BTreeMap<String, Input>,
    /// Extra share taken from `standing_zone` at standstill [-].
    #[schemars(extend("minimum" = 0, "maximum" = 0.95))]
    pub pickup_standing_share: Option<Input>,
    /// Zone that the pickup draws from when standing.
    pub standing_zone: Option<String>,
    /// Heat picked up between plenum and valve, conductance to head at 0.05 kg/s [W/K].
    #[schemars(extend("minimum" = 0, "maximum" = 60))]
    pub port_w_k: Option<Input>,
    /// Pressure loss from pickup to compressor or throttle at rated flow [kPa].
    #[schemars(extend("minimum" = 0, "maximum" = 20))]
    pub pressure_loss_kpa: Option<Input>,
    /// Ducts in flow order; none given: a usual set.
    #[serde(default)]
    pub duct: Vec<DuctSheet>,
    /// Charge cooler.
    pub cooler: Option<CoolerSheet>,
    /// Intake air temperature sensor.
    pub sensor: Option<SensorSheet>,
}
