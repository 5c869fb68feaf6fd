//! Nodes: one temperature each, with what stores heat there.

use crate::constants::REFERENCE_TEMPERATURE_K;
use crate::materials::Metal;
use crate::physics::air;

/// Index of a node: dynamic nodes first, then boundaries.
pub type NodeIndex = usize;

/// What stores heat at a node.
#[derive(Debug, Clone)]
pub enum Storage {
    /// A solid of one or more materials, (mass [kg], material), and a constant extra [J/K].
    Solid(Vec<(f64, &'static Metal)>, f64),
    /// Constant heat capacity [J/K].
    Constant(f64),
    /// Air at constant pressure [kg].
    Air(f64),
}

impl Storage {
    /// Heat capacity [J/K] at `t_k`.
    #[inline]
    pub fn capacity(&self, t_k: f64) -> f64 {
        match self {
            Self::Solid(parts, extra) => {
                parts
                    .iter()
                    .map(|(m, metal)| m * metal.specific_heat(t_k))
                    .sum::<f64>()
                    + extra
            }
            Self::Constant(c) => *c,
            Self::Air(m) => m * air::specific_heat(t_k),
        }
    }

    /// Stored heat [J] relative to 298.15 K: the exact integral of [`Storage::capacity`].
    pub fn energy(&self, t_k: f64) -> f64 {
        match self {
            Self::Solid(parts, extra) => {
                parts
                    .iter()
                    .map(|(m, metal)| m * metal.internal_energy(t_k))
                    .sum::<f64>()
                    + extra * (t_k - REFERENCE_TEMPERATURE_K)
            }
            Self::Constant(c) => c * (t_k - REFERENCE_TEMPERATURE_K),
            Self::Air(m) => m * air::enthalpy(t_k),
        }
    }
}

/// What a node is, for reports.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NodeKind {
    /// Metal of an exhaust element, or the body of a bare part.
    Metal,
    /// Outer face of a layer.
    Skin,
    /// Air of a bay zone.
    Air,
    /// Body panel.
    Panel,
    /// Engine block, coolant, oil.
    Engine,
    /// Turbocharger housing.
    Housing,
    /// Intake duct wall, cooler core, plenum.
    Intake,
    /// Temperature sensor.
    Sensor,
    /// Nearby part.
    Neighbour,
}

/// A dynamic node.
#[derive(Debug, Clone)]
pub struct Node {
    /// Unique name, e.g. `metal:runners/1`.
    pub name: String,
    /// Kind.
    pub kind: NodeKind,
    /// Storage.
    pub storage: Storage,
}

/// Boundary temperatures, placed behind the dynamic nodes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Boundary {
    /// Outside air.
    Ambient,
    /// Effective sky.
    Sky,
    /// Road surface.
    Road,
    /// Cabin air.
    Cabin,
}

impl Boundary {
    /// All boundaries in storage order.
    pub const ALL: [Self; 4] = [Self::Ambient, Self::Sky, Self::Road, Self::Cabin];

    /// Name for reports.
    pub fn name(self) -> &'static str {
        match self {
            Self::Ambient => "ambient",
            Self::Sky => "sky",
            Self::Road => "road",
            Self::Cabin => "cabin",
        }
    }
}
