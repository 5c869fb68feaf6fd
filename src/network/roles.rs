//! Nodes and elements of a network with a role of their own.

use super::node::NodeIndex;
use crate::number::side_by_side;
use crate::sheet::build::CoolerKind;

/// Nodes with a role of their own.
#[derive(Debug, Clone)]
pub struct Roles<N = f64> {
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
    pub bricks: Vec<Brick<N>>,
}
side_by_side!(Roles {
    numbers: [bricks],
    same: [
        block,
        coolant,
        radiator,
        oil,
        first_zone,
        zones,
        sensor,
        bearing,
        cooler_water
    ],
});

/// A catalyst brick.
#[derive(Debug, Clone, Copy)]
pub struct Brick<N = f64> {
    /// Node.
    pub node: NodeIndex,
    /// Share of the unburnt fuel that reaches it and burns there, hot and with oxygen.
    pub conversion: N,
    /// Branch of the exhaust.
    pub branch: u8,
}
side_by_side!(Brick {
    numbers: [conversion],
    same: [node, branch]
});

/// Sensor exchange with the air it sits in.
#[derive(Debug, Clone)]
pub struct SensorLink<N = f64> {
    /// Conductance to air at 10 m/s [W/K].
    pub air_w_k: N,
    /// Conductance to its body [W/K].
    pub mount_w_k: N,
    /// Body that holds it.
    pub body: NodeIndex,
    /// Heat from a flow meter's heated film [W].
    pub film_w: N,
    /// Node that gives and takes that heat (wall of the duct, so that books close).
    pub wall: NodeIndex,
}
side_by_side!(SensorLink {
    numbers: [air_w_k, mount_w_k, film_w],
    same: [body, wall]
});

/// Cooling side of the charge cooler.
#[derive(Debug, Clone)]
pub struct CoolerCooling<N = f64> {
    /// Kind.
    pub kind: CoolerKind,
    /// Conductance at 1 kg/s of air, or with the pump on [W/K].
    pub air_w_k: N,
    /// Low temperature radiator [W/K] at 1 kg/s.
    pub water_radiator_w_k: N,
    /// Face towards the cooling air [m2].
    pub face_m2: N,
    /// Speed at the face over road speed, and at standstill [-, m/s].
    pub face_speed: (N, N),
    /// Share of bay air in the cooling air at standstill.
    pub bay_air_share: N,
    /// Zone that feeds the cooling air.
    pub from_zone: usize,
    /// Zone that takes the warmed air.
    pub to_zone: usize,
}
side_by_side!(CoolerCooling {
    numbers: [
        air_w_k,
        water_radiator_w_k,
        face_m2,
        face_speed,
        bay_air_share
    ],
    same: [kind, from_zone, to_zone],
});

/// Radiator as the network sees it.
#[derive(Debug, Clone)]
pub struct RadiatorElement<N = f64> {
    /// Index of its opening.
    pub opening: usize,
    /// Conductance at 1 kg/s of air [W/K].
    pub conductance_w_k: N,
    /// Face [m2].
    pub face_m2: N,
    /// Thermostat opening from, full [K].
    pub thermostat_k: (N, N),
}
side_by_side!(RadiatorElement {
    numbers: [conductance_w_k, face_m2, thermostat_k],
    same: [opening]
});

/// Pickup shares.
#[derive(Debug, Clone)]
pub struct Pickup<N = f64> {
    /// From outside.
    pub outside: N,
    /// From zones.
    pub zones: Vec<(usize, N)>,
    /// Zone drawn from when standing.
    pub standing_zone: usize,
}
side_by_side!(Pickup {
    numbers: [outside, zones],
    same: [standing_zone]
});
