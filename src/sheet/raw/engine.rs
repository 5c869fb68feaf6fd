//! `[car]`, `[engine]` and `[turbocharger]` as written.

use schemars::JsonSchema;
use serde::Deserialize;

use crate::sheet::input::Input;

/// Vehicle, `[car]`.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
pub struct CarSheet {
    /// Mass with driver and load [kg].
    #[schemars(extend("minimum" = 400, "maximum" = 12000))]
    pub mass_kg: Option<Input>,
    /// Drag coefficient times frontal area [m2].
    #[schemars(extend("minimum" = 0.3, "maximum" = 6))]
    pub drag_area_m2: Option<Input>,
    /// Rolling resistance coefficient [-].
    #[schemars(extend("minimum" = 0.004, "maximum" = 0.05))]
    pub rolling_resistance: Option<Input>,
    /// Road speed per 1000 rpm, lowest gear first [km/h].
    #[schemars(extend("minimum" = 3, "maximum" = 90))]
    pub kmh_per_1000_rpm: Option<Vec<Input>>,
    /// Driveline efficiency [-].
    #[schemars(extend("minimum" = 0.7, "maximum" = 1))]
    pub driveline_efficiency: Option<Input>,
    /// Electrical and accessory load on the engine [W].
    #[schemars(extend("minimum" = 0, "maximum" = 5000))]
    pub accessory_w: Option<Input>,
}

/// Fuel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema, Default)]
#[serde(rename_all = "snake_case")]
pub enum FuelName {
    /// Petrol.
    #[default]
    Petrol,
    /// Diesel.
    Diesel,
    /// Petrol with 85 % ethanol.
    E85,
}

/// Engine, `[engine]`.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
pub struct EngineSheet {
    /// Fuel: petrol, diesel or e85.
    pub fuel: FuelName,
    /// Swept volume of all cylinders [l].
    #[schemars(extend("minimum" = 0.2, "maximum" = 10))]
    pub displacement_l: Input,
    /// Number of cylinders.
    #[schemars(extend("minimum" = 1, "maximum" = 16))]
    pub cylinders: u32,
    /// Rated brake power [kW].
    #[schemars(extend("minimum" = 5, "maximum" = 1200))]
    pub power_kw: Input,
    /// Peak brake torque [N m].
    #[schemars(extend("minimum" = 10, "maximum" = 2000))]
    pub torque_nm: Input,
    /// Engine speed of rated power [rpm].
    #[schemars(extend("minimum" = 1500, "maximum" = 14000))]
    pub power_rpm: Option<Input>,
    /// Lowest engine speed of peak torque [rpm].
    #[schemars(extend("minimum" = 800, "maximum" = 12000))]
    pub torque_rpm: Option<Input>,
    /// Idle speed, warm [rpm].
    #[schemars(extend("minimum" = 400, "maximum" = 2000))]
    pub idle_rpm: Option<Input>,
    /// Highest engine speed [rpm].
    #[schemars(extend("minimum" = 2000, "maximum" = 15000))]
    pub redline_rpm: Option<Input>,
    /// Cylinder bore [mm].
    #[schemars(extend("minimum" = 35, "maximum" = 160))]
    pub bore_mm: Option<Input>,
    /// Air-fuel equivalence ratio at part load, petrol [-].
    #[schemars(extend("minimum" = 0.8, "maximum" = 2))]
    pub lambda_part_load: Option<Input>,
    /// Air-fuel equivalence ratio at full load [-].
    #[schemars(extend("minimum" = 0.65, "maximum" = 2.5))]
    pub lambda_full_load: Option<Input>,
    /// Indicated efficiency [-].
    #[schemars(extend("minimum" = 0.2, "maximum" = 0.55))]
    pub indicated_efficiency: Option<Input>,
    /// Volumetric efficiency on manifold density [-].
    #[schemars(extend("minimum" = 0.4, "maximum" = 1.3))]
    pub volumetric_efficiency: Option<Input>,
    /// Factor on the in-cylinder heat loss correlation [-].
    #[schemars(extend("minimum" = 0.3, "maximum" = 3))]
    pub cylinder_heat_factor: Option<Input>,
    /// Fuel power that leaves unburnt at stoichiometric and lean mixtures [-].
    #[schemars(extend("minimum" = 0, "maximum" = 0.15))]
    pub unburnt_share: Option<Input>,
    /// Mass of block, head and what is bolted to them [kg].
    #[schemars(extend("minimum" = 15, "maximum" = 800))]
    pub block_mass_kg: Option<Input>,
    /// Share of the block mass that is aluminium [-].
    #[schemars(extend("minimum" = 0, "maximum" = 1))]
    pub block_aluminium_share: Option<Input>,
    /// Outer area of block and head that the bay sees [m2].
    #[schemars(extend("minimum" = 0.2, "maximum" = 6))]
    pub block_area_m2: Option<Input>,
    /// Emissivity of the block's outside [-].
    #[schemars(extend("minimum" = 0.02, "maximum" = 1))]
    pub block_emissivity: Option<Input>,
    /// Coolant volume [l].
    #[schemars(extend("minimum" = 1, "maximum" = 40))]
    pub coolant_l: Option<Input>,
    /// Oil volume [l].
    #[schemars(extend("minimum" = 0.5, "maximum" = 30))]
    pub oil_l: Option<Input>,
    /// Coolant temperature where the thermostat starts to open [C].
    #[schemars(extend("minimum" = 50, "maximum" = 115))]
    pub thermostat_open_c: Option<Input>,
    /// Coolant temperature where the thermostat is fully open [C].
    #[schemars(extend("minimum" = 55, "maximum" = 125))]
    pub thermostat_full_c: Option<Input>,
    /// Coolant to block conductance with the pump at 2000 rpm [W/K].
    #[schemars(extend("minimum" = 100, "maximum" = 20000))]
    pub coolant_block_w_k: Option<Input>,
    /// Oil to block conductance with the engine running [W/K].
    #[schemars(extend("minimum" = 5, "maximum" = 2000))]
    pub oil_block_w_k: Option<Input>,
    /// Oil cooler conductance, oil to coolant; 0 for none [W/K].
    #[schemars(extend("minimum" = 0, "maximum" = 2000))]
    pub oil_coolant_w_k: Option<Input>,
    /// Heat that a warm engine gives the cabin per kelvin that the day is colder than 20 degC; 0 with the heater shut [W/K].
    #[schemars(extend("minimum" = 0, "maximum" = 200))]
    pub cabin_heater_w_k: Option<Input>,
    /// Power lost to ignition retard per kelvin of charge over `retard_above_c` [%/K]; 0 switches it off.
    #[schemars(extend("minimum" = 0, "maximum" = 2))]
    pub retard_percent_per_k: Option<Input>,
    /// Charge temperature at the valve from which ignition is retarded [degC].
    #[schemars(extend("minimum" = 20, "maximum" = 120))]
    pub retard_above_c: Option<Input>,
    /// Engine off when standing warm.
    pub stop_start: Option<bool>,
}

/// Turbocharger, `[turbocharger]`; no such section means naturally aspirated.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
pub struct TurboSheet {
    /// Highest boost over ambient pressure [kPa].
    #[schemars(extend("minimum" = 5, "maximum" = 400))]
    pub boost_kpa: Option<Input>,
    /// Engine speed from which full boost is there [rpm].
    #[schemars(extend("minimum" = 700, "maximum" = 9000))]
    pub boost_rpm: Option<Input>,
    /// Most that the compressor can give, outlet over inlet pressure: thin air needs more of it [-].
    #[schemars(extend("minimum" = 1.05, "maximum" = 6))]
    pub most_pressure_ratio: Option<Input>,
    /// Compressor isentropic efficiency [-].
    #[schemars(extend("minimum" = 0.4, "maximum" = 0.85))]
    pub compressor_efficiency: Option<Input>,
    /// Mechanical efficiency of the rotor [-].
    #[schemars(extend("minimum" = 0.7, "maximum" = 1))]
    pub mechanical_efficiency: Option<Input>,
    /// Compressor pressure ratio when no boost is asked for [-].
    #[schemars(extend("minimum" = 1, "maximum" = 1.3))]
    pub idle_pressure_ratio: Option<Input>,
    /// Bearing housing mass [kg].
    #[schemars(extend("minimum" = 0.3, "maximum" = 20))]
    pub bearing_mass_kg: Option<Input>,
    /// Compressor housing mass [kg].
    #[schemars(extend("minimum" = 0.3, "maximum" = 20))]
    pub compressor_mass_kg: Option<Input>,
    /// Compressor housing outer area [cm2].
    #[schemars(extend("minimum" = 50, "maximum" = 4000))]
    pub compressor_area_cm2: Option<Input>,
    /// Bearing housing outer area [cm2].
    #[schemars(extend("minimum" = 20, "maximum" = 2000))]
    pub bearing_area_cm2: Option<Input>,
    /// Turbine housing to bearing housing [W/K].
    #[schemars(extend("minimum" = 0.2, "maximum" = 60))]
    pub turbine_bearing_w_k: Option<Input>,
    /// Bearing housing to compressor housing [W/K].
    #[schemars(extend("minimum" = 0.2, "maximum" = 100))]
    pub bearing_compressor_w_k: Option<Input>,
    /// Bearing housing to oil with the engine running [W/K].
    #[schemars(extend("minimum" = 1, "maximum" = 300))]
    pub bearing_oil_w_k: Option<Input>,
    /// Bearing housing to coolant with the engine running; 0 when not water cooled [W/K].
    #[schemars(extend("minimum" = 0, "maximum" = 400))]
    pub bearing_water_w_k: Option<Input>,
    /// Compressor housing to the charge inside at 0.05 kg/s [W/K].
    #[schemars(extend("minimum" = 0.2, "maximum" = 100))]
    pub compressor_charge_w_k: Option<Input>,
    /// Zone of bearing and compressor housings.
    pub zone: Option<String>,
    /// Bearing oil temperature after key-off above which it cokes [C].
    #[schemars(extend("minimum" = 150, "maximum" = 350))]
    pub oil_coking_c: Option<Input>,
    /// Whether coolant runs through the bearing housing.
    pub water_cooled: Option<bool>,
}
