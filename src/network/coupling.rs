//! The strong couplings of a network: the approximate Jacobian of a W-method.
//!
//! It comes from the same links and streams as the rates. Left out are radiation between pairs
//! and links that take minutes to matter at either end (their diagonals are kept), the gas
//! temperature that one wall hands to the next, and the drift of coefficients with temperature: all
//! slow against the couplings kept.

use super::conditions::Conditions;
use super::node::NodeIndex;
use super::rates::{Network, Scratch};
use crate::constants::REFERENCE_TEMPERATURE_K;
use crate::physics::air;

/// A link between two nodes whose faster end answers more slowly than this takes part with its diagonal
/// only [1/s]: 0.05 over a usual step. On the built-in builds this halves the entries beside the diagonal
/// and leaves steps and errors as they are; from 0.03 on, errors grow.
const SLOW_PER_S: f64 = 0.01;

/// Where a coupling's derivative comes from, beside its rows and columns.
#[derive(Debug, Clone, Copy)]
enum Source {
    /// Radiation of a node to all that it sees.
    Radiation(NodeIndex),
    /// Gas to the wall of a segment.
    Segment(usize),
    /// Wall of a duct to the charge.
    Duct(usize),
    /// Charge to a core segment.
    Core(usize),
    /// Core segment to its cooling air or water.
    CoreCooling,
    /// Zone that feeds the charge cooler.
    CoolerFeed,
    /// Sensor to its air.
    Sensor,
    /// Coolant to radiator and cabin.
    Coolant,
    /// Radiator core to coolant and air.
    RadiatorCore,
    /// Air through an opening.
    Opening(usize),
    /// Mixing between zones.
    Mixing(usize),
}

/// Strong couplings in a fixed order.
#[derive(Debug, Clone)]
pub struct Couplings {
    /// Strong links between two nodes: place in the plan, both ends. They come first.
    between: Vec<(usize, NodeIndex, NodeIndex)>,
    /// Nodes at the ends of links to a boundary and of weak ones: place in the plan, node. They come next.
    outward: Vec<(usize, NodeIndex)>,
    sources: Vec<Source>,
    pairs: Vec<(NodeIndex, NodeIndex)>,
}

impl Couplings {
    /// Finds the couplings of a network.
    pub fn new(network: &Network) -> Self {
        let n = network.nodes.len();
        let zone = |z: usize| network.roles.first_zone + z;
        let mut pairs = Vec::new();
        let (mut between, mut outward) = (Vec::new(), Vec::new());
        let capacity: Vec<f64> = network
            .nodes
            .iter()
            .map(|node| node.storage.capacity(REFERENCE_TEMPERATURE_K))
            .collect();
        for (place, &(a, b)) in network.plan.ends().iter().enumerate() {
            let link = &network.links[network.plan.links()[place]];
            let strong =
                a < n && b < n && link.hard_day_w_k() > SLOW_PER_S * capacity[a].min(capacity[b]);
            if strong {
                between.push((place, a, b));
            } else {
                outward.extend([a, b].into_iter().filter(|&i| i < n).map(|i| (place, i)));
            }
        }
        for &(_, a, b) in &between {
            pairs.extend([(a, a), (a, b), (b, a), (b, b)]);
        }
        pairs.extend(outward.iter().map(|&(_, a)| (a, a)));
        let mut sources = Vec::new();
        let mut add = |source: Source, a: NodeIndex, b: Option<NodeIndex>| {
            sources.push(source);
            pairs.push((a, a));
            if let Some(b) = b {
                pairs.extend([(a, b), (b, a), (b, b)]);
            }
        };
        for node in network.radiation.nodes() {
            add(Source::Radiation(node), node, None);
        }
        for (i, segment) in network.segments.iter().enumerate() {
            add(Source::Segment(i), segment.wall, None);
        }
        for (i, duct) in network.route.ducts.iter().enumerate() {
            add(Source::Duct(i), duct.wall, None);
        }
        for (i, &node) in network
            .route
            .cooler
            .iter()
            .flat_map(|c| &c.core)
            .enumerate()
        {
            add(Source::Core(i), node, None);
            add(Source::CoreCooling, node, None);
        }
        if let Some(cooling) = &network.cooling {
            add(Source::CoolerFeed, zone(cooling.from_zone), None);
        }
        add(Source::Sensor, network.roles.sensor, None);
        add(Source::Coolant, network.roles.coolant, None);
        add(Source::RadiatorCore, network.roles.radiator, None);
        for (i, opening) in network.openings.iter().enumerate() {
            match (opening.from, opening.to) {
                (Some(a), Some(b)) => add(Source::Opening(i), zone(a), Some(zone(b))),
                (Some(a), None) | (None, Some(a)) => add(Source::Opening(i), zone(a), None),
                (None, None) => {}
            }
        }
        for (i, &opening) in network.mixing.iter().enumerate() {
            let opening = &network.openings[opening];
            if let (Some(a), Some(b)) = (opening.from, opening.to) {
                add(Source::Mixing(i), zone(a), Some(zone(b)));
            }
        }
        Self {
            between,
            outward,
            sources,
            pairs,
        }
    }

    /// Rows and columns in order.
    pub fn pairs(&self) -> &[(NodeIndex, NodeIndex)] {
        &self.pairs
    }

    /// Derivatives [1/s] in the order of the pairs, from what the last rates left in `s`.
    pub fn rates(&self, network: &Network, c: &Conditions, s: &Scratch, out: &mut [f64]) {
        let inverse = &s.inverse_capacity;
        let (between, rest) = out.split_at_mut(4 * self.between.len());
        for (slots, &(place, a, b)) in between.chunks_exact_mut(4).zip(&self.between) {
            let w_k = s.links.w_k[place];
            let (at_a, at_b) = (w_k * inverse[a], w_k * inverse[b]);
            slots.copy_from_slice(&[-at_a, at_a, at_b, -at_b]);
        }
        let (outward, rest) = rest.split_at_mut(self.outward.len());
        for (slot, &(place, a)) in outward.iter_mut().zip(&self.outward) {
            *slot = -s.links.w_k[place] * inverse[a];
        }
        let done = between.len() + outward.len();
        let mut slots = self.pairs[done..].iter().zip(rest);
        let mut put = |watts_per_k: f64| {
            if let Some((&(row, _), slot)) = slots.next() {
                *slot = watts_per_k * inverse[row];
            }
        };
        for source in &self.sources {
            match *source {
                Source::Radiation(node) => put(network.radiation.by_node(node, s.node_k[node])),
                Source::Segment(i) => put(s.gas.by_wall[i]),
                Source::Duct(i) => put(-s.air.duct_by_wall[i]),
                Source::Core(i) => put(s.air.core_by_wall[i]),
                Source::CoreCooling => put(-s.core_cooling_w_k),
                Source::CoolerFeed => put(-s.cooler_feed_w_k),
                Source::Sensor => put(-s.sensor_w_k),
                Source::Coolant => put(-s.coolant_w_k),
                Source::RadiatorCore => put(-s.core_w_k),
                Source::Opening(i) => {
                    let opening = &network.openings[i];
                    let g = c.opening_kg_s[i] * air::specific_heat(c.scalars.ambient_k);
                    // air that flows in pulls its zone towards where it comes from
                    match (opening.from, opening.to) {
                        (Some(_), Some(_)) if g >= 0.0 => {
                            [0.0, 0.0, g, -g].into_iter().for_each(&mut put)
                        }
                        (Some(_), Some(_)) => [g, -g, 0.0, 0.0].into_iter().for_each(&mut put),
                        (Some(_), None) => put(g.min(0.0)),
                        (None, Some(_)) => put(-g.max(0.0)),
                        (None, None) => {}
                    }
                }
                Source::Mixing(i) => {
                    let g = s.mixing_w_k[i];
                    [-g, g, g, -g].into_iter().for_each(&mut put);
                }
            }
        }
    }
}
