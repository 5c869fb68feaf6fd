//! The strong couplings of a network: the approximate Jacobian of a W-method.
//!
//! It comes from the same links and streams as the rates. Left out are radiation between pairs
//! and links that take minutes to matter at either end (their diagonals are kept), the gas
//! temperature that one wall hands to the next, and the drift of coefficients with temperature: all
//! slow against the couplings kept.

use super::conditions::Conditions;
use super::node::NodeIndex;
use super::rates::{Circuit, Network, Scratch};
use crate::constants::REFERENCE_TEMPERATURE_K;
use crate::number::Number;
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
#[derive(Debug, Clone, Default)]
pub struct Couplings {
    /// Strong links between two nodes: place in the plan, both ends. They come first.
    between: Vec<(usize, NodeIndex, NodeIndex)>,
    /// Nodes at the ends of links to a boundary and of weak ones: place in the plan, node. They come next.
    outward: Vec<(usize, NodeIndex)>,
    sources: Vec<Source>,
    pairs: Vec<(NodeIndex, NodeIndex)>,
}

impl Couplings {
    /// Finds the couplings of networks of one structure: what is strong in one of them.
    pub fn new(networks: &[&Network]) -> Self {
        let mut pairs = Vec::new();
        let (mut between, mut outward) = (Vec::new(), Vec::new());
        let Some(&first) = networks.first() else {
            return Self::default();
        };
        let (n, circuit) = (first.nodes.len(), &first.circuit);
        let zone = |z: usize| circuit.roles.first_zone + z;
        let per_s = |network: &Network, link: usize, node: NodeIndex| {
            let storage = &network.nodes[node].storage;
            network.links[link].hard_day_w_k() / storage.capacity(REFERENCE_TEMPERATURE_K)
        };
        let places = circuit.plan.links().iter().zip(circuit.plan.ends());
        for (place, (&link, &(a, b))) in places.enumerate() {
            let fast = |network: &&Network| {
                per_s(network, link, a).max(per_s(network, link, b)) > SLOW_PER_S
            };
            if a < n && b < n && networks.iter().any(fast) {
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
        for node in circuit.radiation.nodes() {
            add(Source::Radiation(node), node, None);
        }
        for (i, segment) in circuit.segments.iter().enumerate() {
            add(Source::Segment(i), segment.wall, None);
        }
        for (i, duct) in circuit.route.ducts.iter().enumerate() {
            add(Source::Duct(i), duct.wall, None);
        }
        for (i, &node) in circuit
            .route
            .cooler
            .iter()
            .flat_map(|c| &c.core)
            .enumerate()
        {
            add(Source::Core(i), node, None);
            add(Source::CoreCooling, node, None);
        }
        if let Some(cooling) = &circuit.cooling {
            add(Source::CoolerFeed, zone(cooling.from_zone), None);
        }
        add(Source::Sensor, circuit.roles.sensor, None);
        add(Source::Coolant, circuit.roles.coolant, None);
        add(Source::RadiatorCore, circuit.roles.radiator, None);
        for (i, way) in circuit.ways.iter().enumerate() {
            match (way.from, way.to) {
                (Some(a), Some(b)) => add(Source::Opening(i), zone(a), Some(zone(b))),
                (Some(a), None) | (None, Some(a)) => add(Source::Opening(i), zone(a), None),
                (None, None) => {}
            }
        }
        for (i, mixing) in circuit.mixing.iter().enumerate() {
            let (a, b) = mixing.zones;
            add(Source::Mixing(i), zone(a), Some(zone(b)));
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
    #[inline(always)]
    pub fn rates<N: Number>(
        &self,
        circuit: &Circuit<N>,
        c: &Conditions<N>,
        s: &Scratch<N>,
        out: &mut [N],
    ) {
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
        let mut put = |watts_per_k: N| {
            if let Some((&(row, _), slot)) = slots.next() {
                *slot = watts_per_k * inverse[row];
            }
        };
        let cp_ambient = air::specific_heat(c.scalars.ambient_k);
        for source in &self.sources {
            match *source {
                Source::Radiation(node) => put(circuit.radiation.by_node(node, s.node_k[node])),
                Source::Segment(i) => put(s.gas.by_wall[i]),
                Source::Duct(i) => put(-s.air.duct_by_wall[i]),
                Source::Core(i) => put(s.air.core_by_wall[i]),
                Source::CoreCooling => put(-s.core_cooling_w_k),
                Source::CoolerFeed => put(-s.cooler_feed_w_k),
                Source::Sensor => put(-s.sensor_w_k),
                Source::Coolant => put(-s.coolant_w_k),
                Source::RadiatorCore => put(-s.core_w_k),
                Source::Opening(i) => {
                    let way = &circuit.ways[i];
                    let g = c.opening_kg_s[i] * cp_ambient;
                    // air that flows in pulls its zone towards where it comes from
                    let (there, back) = (g.max(N::default()), g.min(N::default()));
                    match (way.from, way.to) {
                        (Some(_), Some(_)) => {
                            [back, -back, there, -there].into_iter().for_each(&mut put);
                        }
                        (Some(_), None) => put(back),
                        (None, Some(_)) => put(-there),
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
