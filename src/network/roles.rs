//! Nodes and elements of a network with a role of their own.

use super::node::NodeIndex;
use crate::sheet::build::CoolerKind;

/// Nodes with a role of their own.
#[derive(Debug, Clone)]
pub struct Roles {
    /// Block and head.
    pub block: NodeIndex,
    /// Coolant.
    pub coolant: NodeIndex,
    /// Radiator core with the coolant in it.
    pub radiator: NodeIndex,
    /// Oil.
    pub oil: NodeIndex,
    /// First zone; zones are consecutive.
    pub first_zone: NodeIndex,
    /// Number of zones.
    pub zones: usize,
    /// Sensor.
    pub sensor: NodeIndex,
    /// Bearing housing.
    pub bearing: Option<NodeIndex>,
    /// Water of a charge cooler loop.
    pub cooler_water: Option<NodeIndex>,
    /// Catalyst bricks in flow order.
    pub bricks: Vec<Brick>,
}

/// A catalyst brick.
#[derive(Debug, Clone, Copy)]
pub struct Brick {
    /// Node.
    pub node: NodeIndex,
    /// Share of the unburnt fuel that reaches it and burns there, hot and with oxygen.
    pub conversion: f64,
    /// Branch of the exhaust.
    pub branch: u8,
}

/// Sensor exchange with the air it sits in.
#[derive(Debug, Clone)]
pub struct SensorLink {
    /// Conductance to air at 10 m/s [W/K].
    pub air_w_k: f64,
    /// Conductance to its body [W/K].
    pub mount_w_k: f64,
    /// Body that holds it.
    pub body: NodeIndex,
    /// Heat from a flow meter's heated film [W].
    pub film_w: f64,
    /// Node that gives and takes that heat (wall of the duct, so that books close).
    pub wall: NodeIndex,
}

/// Cooling side of the charge cooler.
#[derive(Debug, Clone)]
pub struct CoolerCooling {
    /// Kind.
    pub kind: CoolerKind,
    /// Conductance at 1 kg/s of air, or with the pump on [W/K].
    pub air_w_k: f64,
    /// Low temperature radiator [W/K] at 1 kg/s.
    pub water_radiator_w_k: f64,
    /// Zone that feeds the cooling air.
    pub from_zone: usize,
    /// Zone that takes the warmed air.
    pub to_zone: usize,
}

/// Radiator as the network sees it.
#[derive(Debug, Clone)]
pub struct RadiatorElement {
    /// Index of its opening.
    pub opening: usize,
    /// Conductance at 1 kg/s of air [W/K].
    pub conductance_w_k: f64,
    /// Thermostat opening from, full [K].
    pub thermostat_k: (f64, f64),
}

/// Pickup shares.
#[derive(Debug, Clone)]
pub struct Pickup {
    /// From outside.
    pub outside: f64,
    /// From zones.
    pub zones: Vec<(usize, f64)>,
    /// Zone drawn from when standing.
    pub standing_zone: usize,
}
