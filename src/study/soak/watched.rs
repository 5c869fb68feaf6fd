//! What is watched after key-off, and when it may be touched.

use crate::materials::{Metal, limit_k};
use crate::network::node::NodeIndex;
use crate::network::rates::Network;
use crate::sheet::build::Build;
use crate::study::heat_watch::part_nodes;

/// Below this a solid feels like plastic, not like metal [W/m/K] (estimate: plastics and rubbers
/// are below 1, the poorest metals above 10).
const PLASTIC_W_M_K: f64 = 2.0;

/// What a hand meets.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Surface {
    Metal,
    Plastic,
    /// Nobody touches it: a fluid inside, air.
    None,
}

impl Surface {
    fn of(metal: &Metal) -> Self {
        if metal.conductivity(300.0) < PLASTIC_W_M_K {
            Self::Plastic
        } else {
            Self::Metal
        }
    }

    /// Burn thresholds of ISO 13732-1 for a touch of 1 s and a grip of 10 s [K]; infinite where
    /// nobody touches.
    pub fn burns_k(self) -> (f64, f64) {
        match self {
            Self::Metal => (
                limit_k("touch-bare-metal-1-s"),
                limit_k("touch-bare-metal-10-s"),
            ),
            Self::Plastic => (limit_k("touch-plastic-1-s"), limit_k("touch-plastic-10-s")),
            Self::None => (f64::INFINITY, f64::INFINITY),
        }
    }
}

/// Where the temperature comes from.
#[derive(Debug, Clone)]
pub(super) enum Source {
    /// The hottest of these nodes.
    Nodes(Vec<NodeIndex>),
    /// The air at the sensor.
    SensorAir,
}

/// Something that is watched.
#[derive(Debug, Clone)]
pub(super) struct Watched {
    pub name: String,
    /// `intake`, `fluid`, `nearby part`, `exhaust`, `panel`.
    pub group: &'static str,
    pub source: Source,
    pub surface: Surface,
    /// Limit [K]; infinite for none.
    pub limit_k: f64,
}

/// Everything that is watched of a build.
pub(super) fn watched(build: &Build, network: &Network) -> Vec<Watched> {
    let node = |name: &str| network.nodes.iter().position(|n| n.name == name);
    let mut out = Vec::new();
    let mut add = |name: &str, group, nodes: Vec<NodeIndex>, surface, limit_k| {
        if !nodes.is_empty() {
            out.push(Watched {
                name: name.to_owned(),
                group,
                source: Source::Nodes(nodes),
                surface,
                limit_k,
            });
        }
    };
    let none = f64::INFINITY;
    add(
        "sensor",
        "intake",
        vec![network.circuit.roles.sensor],
        Surface::None,
        none,
    );
    for duct in &build.intake.ducts {
        let nodes = node(&format!("duct:{}", duct.name)).into_iter().collect();
        add(&duct.name, "intake", nodes, Surface::of(duct.metal), none);
    }
    let core: Vec<NodeIndex> = (0..network.nodes.len())
        .filter(|&i| network.nodes[i].name.starts_with("cooler:"))
        .collect();
    add("charge cooler", "intake", core, Surface::Metal, none);
    let compressor = node("housing:compressor").into_iter().collect();
    add("compressor", "intake", compressor, Surface::Metal, none);
    if let Some((bearing, turbo)) = network.circuit.roles.bearing.zip(build.turbo.as_ref()) {
        add(
            "bearing oil",
            "fluid",
            vec![bearing],
            Surface::Metal,
            turbo.oil_coking_k,
        );
    }
    for (name, of, limit) in [
        ("engine oil", network.circuit.roles.oil, "engine-oil"),
        ("coolant", network.circuit.roles.coolant, "coolant"),
    ] {
        add(name, "fluid", vec![of], Surface::None, limit_k(limit));
    }
    for neighbour in &build.neighbours {
        let nodes = node(&format!("neighbour:{}", neighbour.name))
            .into_iter()
            .collect();
        let surface = if neighbour.is_metal {
            Surface::Metal
        } else {
            Surface::Plastic
        };
        add(
            &neighbour.name,
            "nearby part",
            nodes,
            surface,
            neighbour.limit_k,
        );
    }
    for part in &build.exhaust {
        let of = |kind: &str| part_nodes(network, kind, &part.name);
        let mut skin = of("skin");
        // a hand may also meet what stayed bare
        if skin.is_empty() || part.treatment.as_ref().is_some_and(|t| t.coverage < 1.0) {
            skin.extend(of("metal"));
        }
        add(&part.name, "exhaust", skin, Surface::Metal, none);
    }
    let bonnet = node("panel:bonnet").into_iter().collect();
    add("bonnet", "panel", bonnet, Surface::Metal, none);
    out.insert(
        1,
        Watched {
            name: "air at the sensor".to_owned(),
            group: "intake",
            source: Source::SensorAir,
            surface: Surface::None,
            limit_k: none,
        },
    );
    out
}
