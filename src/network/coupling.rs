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

/// What ties two zones.
#[derive(Debug, Clone, Copy)]
enum Between {
    /// Air through an opening from one to the other.
    Opening(usize),
    /// Mixing.
    Mixing(usize),
}

/// Strong couplings in a fixed order: the diagonal, then both sides of each strong link, then of each pair of zones.
#[derive(Debug, Clone, Default)]
pub struct Couplings {
    /// Ends of all links that are nodes: place in the plan, node.
    ends: Vec<(usize, NodeIndex)>,
    /// Openings between a zone and the outside: opening, zone, whether it leads in.
    outside: Vec<(usize, NodeIndex, bool)>,
    /// Strong links between two nodes: place in the plan, both ends.
    strong: Vec<(usize, NodeIndex, NodeIndex)>,
    zones: Vec<(Between, NodeIndex, NodeIndex)>,
    nodes: usize,
}

impl Couplings {
    /// Finds the couplings of networks of one structure: what is strong in one of them.
    pub fn new(networks: &[&Network]) -> Self {
        let Some(&first) = networks.first() else {
            return Self::default();
        };
        let (n, circuit) = (first.nodes.len(), &first.circuit);
        let zone = |z: usize| circuit.roles.first_zone + z;
        let per_s = |network: &Network, link: usize, node: NodeIndex| {
            let storage = &network.nodes[node].storage;
            network.links[link].hard_day_w_k() / storage.capacity(REFERENCE_TEMPERATURE_K)
        };
        let (mut ends, mut strong) = (Vec::new(), Vec::new());
        let places = circuit.plan.links().iter().zip(circuit.plan.ends());
        for (place, (&link, &(a, b))) in places.enumerate() {
            ends.extend([a, b].into_iter().filter(|&i| i < n).map(|i| (place, i)));
            let fast = |network: &&Network| {
                per_s(network, link, a).max(per_s(network, link, b)) > SLOW_PER_S
            };
            if a < n && b < n && networks.iter().any(fast) {
                strong.push((place, a, b));
            }
        }
        let mut outside = Vec::new();
        let mut zones = Vec::new();
        for (i, way) in circuit.ways.iter().enumerate() {
            match (way.from, way.to) {
                (Some(a), Some(b)) => zones.push((Between::Opening(i), zone(a), zone(b))),
                (Some(a), None) => outside.push((i, zone(a), false)),
                (None, Some(a)) => outside.push((i, zone(a), true)),
                (None, None) => {}
            }
        }
        for (i, mixing) in circuit.mixing.iter().enumerate() {
            let (a, b) = mixing.zones;
            zones.push((Between::Mixing(i), zone(a), zone(b)));
        }
        Self {
            ends,
            outside,
            strong,
            zones,
            nodes: n,
        }
    }

    /// Rows and columns in order.
    pub fn pairs(&self) -> Vec<(NodeIndex, NodeIndex)> {
        let strong = self.strong.iter().map(|&(_, a, b)| (a, b));
        let zones = self.zones.iter().map(|&(_, a, b)| (a, b));
        let sides = strong.chain(zones).flat_map(|(a, b)| [(a, b), (b, a)]);
        (0..self.nodes).map(|i| (i, i)).chain(sides).collect()
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
        let (diagonal, sides) = out.split_at_mut(self.nodes);
        // first all in W/K
        diagonal.fill(N::default());
        for &(place, node) in &self.ends {
            diagonal[node] -= s.links.w_k[place];
        }
        circuit.radiation.add_by_node(&s.node_k, diagonal);
        for (segment, &through) in circuit.segments.iter().zip(&c.gas_through) {
            diagonal[segment.wall] += s.gas.by_wall(segment, through);
        }
        for (duct, &w_k) in circuit.route.ducts.iter().zip(&s.air.duct_by_wall) {
            diagonal[duct.wall] -= w_k;
        }
        if let Some(cooler) = &circuit.route.cooler {
            for (&node, &w_k) in cooler.core.iter().zip(&s.air.core_by_wall) {
                diagonal[node] += w_k - s.core_cooling_w_k;
            }
        }
        let roles = &circuit.roles;
        if let Some(cooling) = &circuit.cooling {
            diagonal[roles.first_zone + cooling.from_zone] -= s.cooler_feed_w_k;
        }
        diagonal[roles.sensor] -= s.sensor_w_k;
        diagonal[roles.coolant] -= s.coolant_w_k;
        diagonal[roles.radiator] -= s.core_w_k;
        let cp_ambient = air::specific_heat(c.scalars.ambient_k);
        for &(opening, zone, leads_in) in &self.outside {
            let g = c.opening_kg_s[opening] * cp_ambient;
            // air that flows in pulls its zone towards where it comes from
            let inward = if leads_in { g } else { -g };
            diagonal[zone] -= inward.max(N::default());
        }
        let (strong, zones) = sides.split_at_mut(2 * self.strong.len());
        for (sides, &(place, a, b)) in strong.chunks_exact_mut(2).zip(&self.strong) {
            let w_k = s.links.w_k[place];
            (sides[0], sides[1]) = (w_k * inverse[a], w_k * inverse[b]);
        }
        for (sides, &(between, a, b)) in zones.chunks_exact_mut(2).zip(&self.zones) {
            let (from_b, from_a) = match between {
                Between::Opening(i) => {
                    let g = c.opening_kg_s[i] * cp_ambient;
                    ((-g).max(N::default()), g.max(N::default()))
                }
                Between::Mixing(i) => (s.mixing_w_k[i], s.mixing_w_k[i]),
            };
            diagonal[a] -= from_b;
            diagonal[b] -= from_a;
            (sides[0], sides[1]) = (from_b * inverse[a], from_a * inverse[b]);
        }
        for (diagonal, &inverse) in diagonal.iter_mut().zip(inverse) {
            *diagonal *= inverse;
        }
    }
}
