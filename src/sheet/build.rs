//! A build with every number settled: what the network is made from.
//!
//! All values are SI. [`Build`] has no ranges and no blanks: a sheet becomes one by choosing a
//! value for each input (the likely one, or a draw), see [`super::resolve`].

mod treatment;

pub use treatment::{Gap, Layer, Treatment};

use crate::materials::Metal;
use crate::physics::exhaust_gas::Fuel;

/// A whole car on a given day.
#[derive(Debug, Clone)]
pub struct Build {
    /// Title of the sheet.
    pub title: String,
    /// Vehicle: road load and gearing.
    pub car: Car,
    /// Engine as a heat source.
    pub engine: Engine,
    /// Exhaust elements in flow order.
    pub exhaust: Vec<ExhaustPart>,
    /// Turbocharger, if any; its turbine sits where the exhaust has [`ExhaustKind::Turbine`].
    pub turbo: Option<Turbo>,
    /// Engine bay.
    pub bay: Bay,
    /// Intake route.
    pub intake: Intake,
    /// Parts near the heat that have a limit.
    pub neighbours: Vec<Neighbour>,
    /// Weather.
    pub day: Day,
}

/// Vehicle: road load and gearing.
#[derive(Debug, Clone)]
pub struct Car {
    /// Mass with driver and load [kg].
    pub mass_kg: f64,
    /// Drag coefficient times frontal area [m2].
    pub drag_area_m2: f64,
    /// Rolling resistance coefficient [-].
    pub rolling_resistance: f64,
    /// Road speed per engine speed, lowest gear first [m/s per rpm].
    pub gear_m_s_per_rpm: Vec<f64>,
    /// Driveline efficiency [-].
    pub driveline_efficiency: f64,
    /// Electrical and accessory load on the engine [W].
    pub accessory_w: f64,
}

/// Engine as a heat source.
#[derive(Debug, Clone)]
pub struct Engine {
    /// Fuel.
    pub fuel: Fuel,
    /// Compression ignition: no throttle, load set by fuel, air follows manifold pressure.
    pub diesel: bool,
    /// Swept volume of all cylinders [m3].
    pub displacement_m3: f64,
    /// Number of cylinders.
    pub cylinders: u32,
    /// Bore [m].
    pub bore_m: f64,
    /// Rated brake power [W].
    pub power_w: f64,
    /// Engine speed of rated power [rpm].
    pub power_rpm: f64,
    /// Peak brake torque [N m].
    pub torque_nm: f64,
    /// Lowest engine speed of peak torque [rpm].
    pub torque_rpm: f64,
    /// Idle speed, warm [rpm].
    pub idle_rpm: f64,
    /// Highest engine speed [rpm].
    pub redline_rpm: f64,
    /// Air-fuel equivalence ratio at part load, petrol [-].
    pub lambda_part_load: f64,
    /// Air-fuel equivalence ratio at full load [-].
    pub lambda_full_load: f64,
    /// Indicated efficiency [-].
    pub indicated_efficiency: f64,
    /// Volumetric efficiency on manifold density [-].
    pub volumetric_efficiency: f64,
    /// Factor on the in-cylinder heat loss correlation [-].
    pub cylinder_heat_factor: f64,
    /// Fuel power that leaves unburnt at stoichiometric and lean mixtures [-].
    pub unburnt_share: f64,
    /// Mass of block, head and what is bolted to them [kg].
    pub block_mass_kg: f64,
    /// Share of the block mass that is aluminium [-].
    pub block_aluminium_share: f64,
    /// Outer area of block and head that the bay sees [m2].
    pub block_area_m2: f64,
    /// Emissivity of the block's outside [-].
    pub block_emissivity: f64,
    /// Coolant volume [m3].
    pub coolant_m3: f64,
    /// Oil volume [m3].
    pub oil_m3: f64,
    /// Thermostat starts to open [K].
    pub thermostat_open_k: f64,
    /// Thermostat fully open [K].
    pub thermostat_full_k: f64,
    /// Coolant to block conductance with the pump at 2000 rpm [W/K].
    pub coolant_block_w_k: f64,
    /// Oil to block conductance with the engine running [W/K].
    pub oil_block_w_k: f64,
    /// Oil cooler conductance, oil to coolant [W/K]; 0 for none.
    pub oil_coolant_w_k: f64,
    /// Heat that a warm engine gives the cabin per kelvin that the day is colder than 20 degC [W/K].
    pub cabin_heater_w_k: f64,
    /// Share of power lost to ignition retard per kelvin of charge over the threshold [1/K]; 0 for none.
    pub retard_share_per_k: f64,
    /// Charge temperature at the valve from which ignition is retarded [K].
    pub retard_above_k: f64,
    /// Stop-start: engine off when standing warm.
    pub stop_start: bool,
}

/// What an exhaust element is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExhaustKind {
    /// Port outlet or runner close to the head: pulsating flow.
    Runner,
    /// Where runners join.
    Collector,
    /// Link pipe before the turbine.
    Link,
    /// Turbine housing.
    Turbine,
    /// Catalyst or particulate filter: gas meets a brick inside a shell.
    Catalyst,
    /// Downpipe.
    Downpipe,
    /// Pipe further back.
    Pipe,
}

impl ExhaustKind {
    /// Word for it in sheets and reports.
    pub fn name(self) -> &'static str {
        match self {
            Self::Runner => "runner",
            Self::Collector => "collector",
            Self::Link => "link",
            Self::Turbine => "turbine",
            Self::Catalyst => "catalyst",
            Self::Downpipe => "downpipe",
            Self::Pipe => "pipe",
        }
    }
}

/// One exhaust element (or `count` equal ones side by side).
#[derive(Debug, Clone)]
pub struct ExhaustPart {
    /// Name in the sheet.
    pub name: String,
    /// Kind.
    pub kind: ExhaustKind,
    /// Scroll or bank: 0 for the whole flow, 1 and 2 for two halves side by side.
    pub branch: u8,
    /// Equal pipes side by side, in this branch.
    pub count: u32,
    /// Inner diameter of one [m].
    pub bore_m: f64,
    /// Wall thickness [m].
    pub wall_m: f64,
    /// Length of one [m].
    pub length_m: f64,
    /// Total mass of the element [kg].
    pub mass_kg: f64,
    /// Metal.
    pub metal: &'static Metal,
    /// Outer emissivity, bare [-].
    pub emissivity: f64,
    /// Factor on the gas side heat transfer [-].
    pub gas_factor: f64,
    /// What is on it, if anything.
    pub treatment: Option<Treatment>,
    /// Zone it stands in; `None`: outside the bay, under the floor.
    pub zone: Option<usize>,
    /// Factor on the zone's air speed at this part [-].
    pub air_speed_factor: f64,
    /// View factors given by the user: (surface name, share).
    pub sees: Vec<(String, f64)>,
    /// Catalyst only: mass of the brick [kg].
    pub brick_mass_kg: f64,
    /// Catalyst only: brick to shell conductance [W/K].
    pub brick_shell_w_k: f64,
    /// Catalyst only: share of the unburnt fuel power released when oxygen is there [-].
    pub conversion: f64,
    /// Conductance by contact to the engine block (flange) [W/K]; 0 for none.
    pub flange_w_k: f64,
}

/// Turbocharger.
#[derive(Debug, Clone)]
pub struct Turbo {
    /// Highest boost over ambient pressure, in the air of the rating [Pa].
    pub boost_pa: f64,
    /// Engine speed from which full boost is there [rpm].
    pub boost_rpm: f64,
    /// Highest pressure ratio of the compressor [-].
    pub most_pressure_ratio: f64,
    /// Compressor isentropic efficiency [-].
    pub compressor_efficiency: f64,
    /// Mechanical efficiency [-].
    pub mechanical_efficiency: f64,
    /// Compressor pressure ratio when no boost is asked for [-].
    pub idle_pressure_ratio: f64,
    /// Bearing housing mass [kg].
    pub bearing_mass_kg: f64,
    /// Compressor housing mass [kg].
    pub compressor_mass_kg: f64,
    /// Compressor housing outer area [m2].
    pub compressor_area_m2: f64,
    /// Bearing housing outer area [m2].
    pub bearing_area_m2: f64,
    /// Turbine housing to bearing housing [W/K].
    pub turbine_bearing_w_k: f64,
    /// Bearing housing to compressor housing [W/K].
    pub bearing_compressor_w_k: f64,
    /// Bearing housing to oil with the engine running [W/K].
    pub bearing_oil_w_k: f64,
    /// Bearing housing to coolant with the engine running [W/K]; 0 when not water cooled.
    pub bearing_water_w_k: f64,
    /// Compressor housing to the charge inside at 0.05 kg/s [W/K].
    pub compressor_charge_w_k: f64,
    /// Zone of bearing and compressor housings.
    pub zone: usize,
    /// Highest bearing oil temperature after key-off before it cokes [K].
    pub oil_coking_k: f64,
}

/// Engine bay.
#[derive(Debug, Clone)]
pub struct Bay {
    /// Air zones.
    pub zones: Vec<Zone>,
    /// Openings between zones and to the outside.
    pub openings: Vec<Opening>,
    /// Radiator.
    pub radiator: Radiator,
    /// Fan.
    pub fan: Fan,
    /// Panels.
    pub panels: Vec<Panel>,
    /// Zone shares of the block's outer area (sums to 1).
    pub block_share: Vec<f64>,
    /// Turbulent exchange speed between neighbouring zones, driving (share of through-flow speed) [-].
    pub mixing_share: f64,
    /// Mixing speed between neighbouring zones at standstill [m/s].
    pub mixing_still_m_s: f64,
    /// Share of hot outflow that finds its way back to the grille when standing still [-].
    pub standing_recirculation: f64,
    /// Road speed at which standing recirculation has fallen to 1/e [m/s].
    pub recirculation_fade_m_s: f64,
    /// Time in which standing recirculation follows the road speed [s]; 0: at once.
    pub recirculation_lag_s: f64,
}

/// An air zone of the bay.
#[derive(Debug, Clone)]
pub struct Zone {
    /// Name.
    pub name: String,
    /// Free air volume [m3].
    pub volume_m3: f64,
    /// Cross-section for the local air speed [m2].
    pub flow_area_m2: f64,
    /// Height of its middle above the road [m].
    pub height_m: f64,
}

/// What an opening does when the bonnet is opened.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OpeningRole {
    /// Plain gap, always there.
    Gap,
    /// The path through charge cooler and radiator with the fan on it.
    Radiator,
    /// There only with the bonnet open.
    BonnetOpen,
}

/// An opening between two zones or a zone and the outside.
#[derive(Debug, Clone)]
pub struct Opening {
    /// Name for reports.
    pub name: String,
    /// From zone (`None`: outside).
    pub from: Option<usize>,
    /// To zone (`None`: outside).
    pub to: Option<usize>,
    /// Free area [m2].
    pub area_m2: f64,
    /// Discharge coefficient [-].
    pub discharge: f64,
    /// Height above the road [m].
    pub height_m: f64,
    /// Pressure coefficient of the outside end on the car's dynamic pressure [-].
    pub pressure_coefficient: f64,
    /// Role.
    pub role: OpeningRole,
}

/// Radiator.
#[derive(Debug, Clone)]
pub struct Radiator {
    /// Conductance coolant to air at 1 kg/s of air, warm pump [W/K].
    pub conductance_w_k: f64,
    /// Face area [m2].
    pub face_m2: f64,
    /// Loss coefficient of core and grille on face velocity [-].
    pub loss_coefficient: f64,
}

/// Fan on the radiator.
#[derive(Debug, Clone)]
pub struct Fan {
    /// Free flow [m3/s].
    pub free_flow_m3_s: f64,
    /// Pressure rise at no flow [Pa].
    pub stall_pressure_pa: f64,
    /// On above this coolant temperature [K].
    pub on_k: f64,
    /// Off below this coolant temperature [K].
    pub off_k: f64,
    /// Longest run-on after key-off while coolant is above the off point [s].
    pub run_on_s: f64,
}

/// What a panel has on its other side.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PanelSide {
    /// Outside air, facing up (bonnet): sun and sky.
    Sky,
    /// Outside air, facing down: the road.
    Road,
    /// Outside air, facing sideways.
    Side,
    /// The cabin behind insulation.
    Cabin,
}

/// A body panel around the bay.
#[derive(Debug, Clone)]
pub struct Panel {
    /// Name.
    pub name: String,
    /// Area [m2].
    pub area_m2: f64,
    /// Thickness [m].
    pub thickness_m: f64,
    /// Material.
    pub metal: &'static Metal,
    /// Emissivity inside the bay [-].
    pub emissivity_in: f64,
    /// Emissivity outside [-].
    pub emissivity_out: f64,
    /// Absorptivity for sun [-].
    pub sun_absorptivity: f64,
    /// Zone inside.
    pub zone: usize,
    /// The other side.
    pub side: PanelSide,
    /// Extra conductance to the other side: 0 for none; insulation on the cabin side [W/m2/K].
    pub cabin_w_m2k: f64,
}

/// Where on the intake route something sits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum IntakePlace {
    /// Between pickup and compressor (or throttle on a naturally aspirated engine).
    BeforeCompressor,
    /// Between compressor and charge cooler.
    HotSide,
    /// Between charge cooler and throttle.
    ColdSide,
    /// Plenum and runners.
    Plenum,
}

/// One piece of the intake route.
#[derive(Debug, Clone)]
pub struct Duct {
    /// Name.
    pub name: String,
    /// Place on the route.
    pub place: IntakePlace,
    /// Inner diameter (hydraulic) [m].
    pub bore_m: f64,
    /// Length [m].
    pub length_m: f64,
    /// Inner wall area that the air meets [m2].
    pub inner_area_m2: f64,
    /// Outer area that the bay meets [m2].
    pub outer_area_m2: f64,
    /// Wall thickness [m].
    pub wall_m: f64,
    /// Mass [kg].
    pub mass_kg: f64,
    /// Wall material.
    pub metal: &'static Metal,
    /// Outer emissivity [-].
    pub emissivity: f64,
    /// Factor on the inner heat transfer [-].
    pub inner_factor: f64,
    /// Zone it runs in.
    pub zone: usize,
    /// Conductance by contact to the engine block (plenum flange) [W/K].
    pub block_w_k: f64,
}

/// Kind of charge cooler.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CoolerKind {
    /// In the nose, in front of the radiator.
    Front,
    /// On top of the engine, fed by a duct or scoop.
    Top,
    /// Water cooled, with its own loop and front radiator.
    Water,
}

/// Charge cooler.
#[derive(Debug, Clone)]
pub struct ChargeCooler {
    /// Kind.
    pub kind: CoolerKind,
    /// Core mass, as aluminium [kg].
    pub core_mass_kg: f64,
    /// Charge side conductance at 0.1 kg/s of charge [W/K].
    pub charge_w_k: f64,
    /// Cooling side conductance at 1 kg/s of air (or with the water pump on) [W/K].
    pub air_w_k: f64,
    /// Face area [m2].
    pub face_m2: f64,
    /// Share of the free stream speed that passes the core when driving [-].
    pub ram_share: f64,
    /// Least cooling air speed at the face with the engine running or hot (fan draw or buoyancy) [m/s].
    pub still_air_m_s: f64,
    /// Share of the bay's upper air in the cooling air when standing (top mounted) [-].
    pub bay_air_share: f64,
    /// Water volume of the loop [m3]; water cooled only.
    pub water_m3: f64,
    /// Low temperature radiator conductance at 1 kg/s of air [W/K]; water cooled only.
    pub water_radiator_w_k: f64,
    /// Pressure loss at rated air flow [Pa].
    pub pressure_loss_pa: f64,
    /// Zone the core stands in.
    pub zone: usize,
}

/// Intake air temperature sensor.
#[derive(Debug, Clone)]
pub struct Sensor {
    /// Index of the duct after which it sits; `None`: right after the charge cooler.
    pub after_duct: Option<usize>,
    /// Time constant in air at 10 m/s [s].
    pub time_constant_s: f64,
    /// Share of its heat exchange that goes to its mounting when the air stands at 10 m/s [-].
    pub mount_share: f64,
    /// Time constant of the body that holds it [s].
    pub body_time_constant_s: f64,
    /// Share of the body's exchange that goes to the bay's air; the rest to the duct's wall [-].
    pub body_bay_share: f64,
    /// How far the heated film of an air flow meter in the same housing warms it at 10 m/s [K]; the
    /// meter takes the settled part off its reading, so what shows is the lag.
    pub film_k: f64,
    /// How late a log shows the reading [s].
    pub log_delay_s: f64,
    /// How far a log shows the reading too high, against the outside sensor [K].
    pub log_offset_k: f64,
}

/// Intake route.
#[derive(Debug, Clone)]
pub struct Intake {
    /// Share of the air taken from outside directly [-].
    pub pickup_outside: f64,
    /// Shares taken from zones: (zone, share).
    pub pickup_zones: Vec<(usize, f64)>,
    /// Extra share taken from `standing_zone` at standstill, fading with road speed [-].
    pub pickup_standing_share: f64,
    /// Zone that the pickup draws from when standing.
    pub standing_zone: usize,
    /// Ducts in flow order.
    pub ducts: Vec<Duct>,
    /// Charge cooler, if any.
    pub cooler: Option<ChargeCooler>,
    /// Heat picked up between plenum and valve, conductance to head at 0.05 kg/s [W/K].
    pub port_w_k: f64,
    /// Sensor.
    pub sensor: Sensor,
    /// Pressure loss from pickup to compressor or throttle at rated flow [Pa].
    pub pressure_loss_pa: f64,
}

/// A part near the heat that has a limit.
#[derive(Debug, Clone)]
pub struct Neighbour {
    /// Name.
    pub name: String,
    /// Whether a hand on it meets metal.
    pub is_metal: bool,
    /// Mass [kg].
    pub mass_kg: f64,
    /// Specific heat [J/kg/K].
    pub specific_heat_j_kgk: f64,
    /// Outer area [m2].
    pub area_m2: f64,
    /// Characteristic size for convection [m].
    pub size_m: f64,
    /// Emissivity [-].
    pub emissivity: f64,
    /// Zone.
    pub zone: usize,
    /// Limit [K].
    pub limit_k: f64,
    /// What the limit is and where it comes from.
    pub limit_source: String,
    /// View factors given by the user: (surface name, share).
    pub sees: Vec<(String, f64)>,
}

/// Weather and place.
#[derive(Debug, Clone)]
pub struct Day {
    /// Name.
    pub name: String,
    /// Ambient air temperature [K].
    pub ambient_k: f64,
    /// Relative humidity [-].
    pub humidity: f64,
    /// Ambient pressure [Pa].
    pub pressure_pa: f64,
    /// Sun on a horizontal surface [W/m2].
    pub sun_w_m2: f64,
    /// Wind at standstill, against the nose and at its height [m/s].
    pub wind_m_s: f64,
    /// Road surface temperature over ambient [K].
    pub road_over_ambient_k: f64,
}
