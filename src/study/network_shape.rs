//! The shape in which a network and its drivers are written down for others to integrate.
//!
//! It speaks of physics only: what stores heat, the law and parameters of each heat flow, streams, and what drives them
//! over time. `DEVELOPERS.md` has the formula behind each law.

use std::collections::BTreeMap;

use serde::Serialize;

use super::findings::Program;
use crate::physics::PropertyFits;

/// Version of the shape.
pub const NETWORK_SCHEMA: u32 = 4;

/// Everything that the rates of a network need.
#[derive(Debug, Clone, Serialize)]
pub struct NetworkFile {
    /// Version of this shape.
    pub network_schema: u32,
    /// Program.
    pub program: Program,
    /// Title of the sheet.
    pub sheet: String,
    /// Name of the cycle.
    pub cycle: String,
    /// Ambient pressure [Pa].
    pub pressure_pa: f64,
    /// Physical constants.
    pub constants: Constants,
    /// Property fits of the air and of the exhaust gas at both ends of its blend.
    pub air: PropertyFits,
    /// Exhaust gas.
    pub exhaust_gas: GasExport,
    /// Specific heat of each material by temperature: ([K], [J/kg/K]), straight lines between.
    pub materials: BTreeMap<String, Vec<(f64, f64)>>,
    /// Nodes; the states in order.
    pub nodes: Vec<NodeExport>,
    /// Boundaries, numbered on from the nodes; each takes the driver of its name.
    pub boundaries: Vec<String>,
    /// Heat flows between two nodes, radiation apart.
    pub links: Vec<LinkExport>,
    /// Exchange among the surfaces of the radiating enclosures, each pair of nodes once.
    pub radiation: Vec<ExchangeExport>,
    /// Ways of the air into, out of and through the bay.
    pub openings: Vec<OpeningExport>,
    /// Zones mix through openings.
    pub mixing: MixingExport,
    /// Radiator and cabin heater.
    pub radiator: RadiatorExport,
    /// Intake stream.
    pub intake: IntakeExport,
    /// Exhaust stream.
    pub exhaust: ExhaustExport,
    /// Heat of the engine: which nodes take it.
    pub engine: EngineExport,
    /// Sun heat: (node, [W]).
    pub sun_w: Vec<(usize, f64)>,
    /// Temperatures at the start [K].
    pub start_k: Vec<f64>,
    /// Drivers along the cycle.
    pub drivers: DriversExport,
    /// States with their rates, to check a rebuilt right-hand side.
    pub samples: Vec<Sample>,
}

/// Physical constants used.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct Constants {
    /// Stefan-Boltzmann constant.
    pub stefan_boltzmann_w_m2_k4: f64,
    /// Standard gravity.
    pub gravity_m_s2: f64,
    /// Gas constant of dry air.
    pub dry_air_gas_constant_j_kg_k: f64,
    /// Temperature at which enthalpies are zero.
    pub reference_temperature_k: f64,
}

/// Exhaust gas: stoichiometric products and excess air, blended by mass.
#[derive(Debug, Clone, Serialize)]
pub struct GasExport {
    /// Air over fuel at stoichiometry [-].
    pub stoichiometric_ratio: f64,
    /// Products at lambda 1.
    pub products: PropertyFits,
    /// Excess air.
    pub air: PropertyFits,
}

/// A node.
#[derive(Debug, Clone, Serialize)]
pub struct NodeExport {
    /// Name.
    pub name: String,
    /// Masses and their materials ([kg], id).
    pub solids: Vec<(f64, String)>,
    /// Constant part of the heat capacity [J/K].
    pub constant_j_k: f64,
    /// Air [kg].
    pub air_kg: f64,
}

/// A link.
#[derive(Debug, Clone, Serialize)]
pub struct LinkExport {
    /// Heat flows from here when it is hotter.
    pub from: usize,
    /// To here.
    pub to: usize,
    /// Cause.
    pub cause: &'static str,
    /// Law with its parameters.
    #[serde(flatten)]
    pub law: LawExport,
    /// Correlations behind it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub correlations: Vec<&'static str>,
}

/// A law of heat flow.
#[derive(Debug, Clone, Copy, Serialize)]
#[serde(tag = "law", rename_all = "snake_case")]
pub enum LawExport {
    /// Constant conductance.
    Conductance {
        /// Conductance [W/K].
        w_k: f64,
    },
    /// Layer with a conductivity that rises with temperature.
    Layer {
        /// Shape factor [m].
        shape_m: f64,
        /// Conductivity at 300 K.
        k0_w_m_k: f64,
        /// Rise per kelvin.
        k1_w_m_k2: f64,
    },
    /// Mixed convection to air.
    Convection {
        /// `cylinder` or `plate`.
        shape: &'static str,
        /// Diameter or length [m].
        length_m: f64,
        /// Area [m2].
        area_m2: f64,
        /// Zone whose air speed counts; none outside.
        zone: Option<usize>,
        /// Factor on that speed, or on the road speed.
        speed_factor: f64,
    },
    /// Air between long concentric cylinders.
    Gap {
        /// Effective length of the gap, on which its Rayleigh number is taken [m].
        effective_m: f64,
        /// Conduction shape factor [m].
        shape_m: f64,
    },
    /// Conductance that follows a pump.
    Pumped {
        /// At 2000 rpm [W/K].
        running_w_k: f64,
        /// Engine off [W/K].
        still_w_k: f64,
        /// Which pump.
        pump: &'static str,
    },
}

/// Grey radiation between two nodes.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct ExchangeExport {
    /// Heat flows from here when it is hotter.
    pub from: usize,
    /// To here.
    pub to: usize,
    /// Area times exchange factor, all reflections counted [m2].
    pub area_m2: f64,
}

/// An opening of the bay; zones by number, none being outside.
#[derive(Debug, Clone, Serialize)]
pub struct OpeningExport {
    /// Name.
    pub name: String,
    /// From zone.
    pub from_zone: Option<usize>,
    /// To zone.
    pub to_zone: Option<usize>,
    /// Free area [m2].
    pub area_m2: f64,
    /// Pressure coefficient; above zero the opening faces the wind and takes recirculated air.
    pub pressure_coefficient: f64,
}

/// Mixing of zones.
#[derive(Debug, Clone, Serialize)]
pub struct MixingExport {
    /// Openings that mix.
    pub openings: Vec<usize>,
    /// Share of the through-flow speed [-].
    pub share: f64,
    /// Speed at standstill [m/s].
    pub still_m_s: f64,
}

/// Radiator.
#[derive(Debug, Clone, Serialize)]
pub struct RadiatorExport {
    /// Its opening.
    pub opening: usize,
    /// Coolant node.
    pub coolant: usize,
    /// Core node.
    pub core: usize,
    /// To air at 1 kg/s [W/K].
    pub conductance_w_k: f64,
    /// Thermostat starts to open, and is fully open [K].
    pub thermostat_k: (f64, f64),
}

/// Intake stream.
#[derive(Debug, Clone, Serialize)]
pub struct IntakeExport {
    /// First zone's node; zones follow each other.
    pub first_zone: usize,
    /// Share taken from outside.
    pub pickup_outside: f64,
    /// Shares taken from zones.
    pub pickup_zones: Vec<(usize, f64)>,
    /// Zone drawn from when standing.
    pub standing_zone: usize,
    /// Ducts in flow order.
    pub ducts: Vec<DuctExport>,
    /// Compressor housing: node, conductance at 0.05 kg/s [W/K].
    pub compressor: Option<(usize, f64)>,
    /// Charge cooler.
    pub cooler: Option<CoolerExport>,
    /// Ports: node, conductance at 0.05 kg/s [W/K].
    pub port: (usize, f64),
    /// Sensor node: its tip. Links join it to its body.
    pub sensor: usize,
    /// Duct after which it sits; none: after the cooler.
    pub sensor_after: Option<usize>,
    /// Its conductance to air at 10 m/s [W/K].
    pub sensor_air_w_k: f64,
    /// Heat from a flow meter's heated film into the tip [W].
    pub sensor_film_w: f64,
    /// Tip to body, already among the links: the reading is the tip less `sensor_film_w` over this and the conductance to
    /// air [W/K].
    pub sensor_mount_w_k: f64,
    /// Node that gives that heat.
    pub sensor_wall: usize,
}

/// A duct.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct DuctExport {
    /// `before_compressor`, `hot_side`, `cold_side` or `plenum`.
    pub place: &'static str,
    /// Wall node.
    pub wall: usize,
    /// Hydraulic diameter [m].
    pub bore_m: f64,
    /// Inner area [m2].
    pub area_m2: f64,
    /// Factor on the heat transfer [-].
    pub factor: f64,
    /// Air in it [m3].
    pub volume_m3: f64,
}

/// Charge cooler.
#[derive(Debug, Clone, Serialize)]
pub struct CoolerExport {
    /// `front`, `top` or `water`.
    pub kind: &'static str,
    /// Core nodes in flow order.
    pub core: Vec<usize>,
    /// Charge side at 0.1 kg/s [W/K].
    pub charge_w_k: f64,
    /// Cooling side at 1 kg/s of air, or with the pump on [W/K].
    pub air_w_k: f64,
    /// Water radiator at 1 kg/s [W/K].
    pub water_radiator_w_k: f64,
    /// Water node.
    pub water: Option<usize>,
    /// Zone that feeds it.
    pub from_zone: usize,
    /// Zone that takes the warmed air.
    pub to_zone: usize,
}

/// Exhaust stream.
#[derive(Debug, Clone, Serialize)]
pub struct ExhaustExport {
    /// Segments in flow order.
    pub segments: Vec<SegmentExport>,
    /// Catalyst bricks in flow order.
    pub bricks: Vec<BrickExport>,
    /// Mechanical efficiency of the turbocharger; none without.
    pub mechanical_efficiency: Option<f64>,
    /// Node that takes its losses.
    pub bearing: Option<usize>,
}

/// A segment of the exhaust.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct SegmentExport {
    /// Kind of part.
    pub kind: &'static str,
    /// 0 whole flow; 1 and 2 halves.
    pub branch: u8,
    /// Wall node.
    pub wall: usize,
    /// Pipes side by side.
    pub count: f64,
    /// Bore of one [m].
    pub bore_m: f64,
    /// Inner area of all [m2].
    pub area_m2: f64,
    /// Factor on the heat transfer [-].
    pub gas_factor: f64,
    /// Resistance of the lining [m2 K/W].
    pub lining_m2k_w: f64,
    /// Turbine work leaves here.
    pub last: bool,
}

/// A catalyst brick.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct BrickExport {
    /// Node.
    pub node: usize,
    /// Share that burns.
    pub conversion: f64,
    /// Branch.
    pub branch: u8,
}

/// Nodes that take the engine's heat.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct EngineExport {
    /// Block and head.
    pub block: usize,
    /// Oil.
    pub oil: usize,
}

/// Drivers along the cycle: linear in time over each span.
#[derive(Debug, Clone, Serialize)]
pub struct DriversExport {
    /// Names of the columns: plain numbers, flow through each opening, air speed in each zone, and the share of the
    /// difference to the wall that is left behind each exhaust segment and, in the intake, behind each duct, the
    /// compressor housing, any core node and the port.
    pub names: Vec<String>,
    /// Start and end of each span [s].
    pub spans_s: Vec<(f64, f64)>,
    /// Values at the starts.
    pub from: Vec<Vec<f64>>,
    /// Values at the ends.
    pub to: Vec<Vec<f64>>,
}

/// Rates at a state.
#[derive(Debug, Clone, Serialize)]
pub struct Sample {
    /// Span of the drivers.
    pub span: usize,
    /// Time [s].
    pub time_s: f64,
    /// Temperatures [K].
    pub node_k: Vec<f64>,
    /// Their rates of change [K/s].
    pub rate_k_s: Vec<f64>,
}
