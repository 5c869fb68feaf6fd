//! The strong couplings of a network: the approximate Jacobian of a W-method.
//!
//! It comes from the same links and streams as the rates. Left out are radiation between pairs
//! and links that take minutes to matter at either end (their diagonals are kept), the gas
//! temperature that one wall hands to the next, and the drift of coefficients with temperature: all
//! slow against the couplings kept.

use super::airflow::LEAST_LEAVING_KG_S;
use super::conditions::Conditions;
use super::heat_exchangers::ToAir;
use super::node::NodeIndex;
use super::rates::{Circuit, Network, Scratch};
use super::runs::runs;
use crate::constants::REFERENCE_TEMPERATURE_K;
use crate::number::Number;
use crate::physics::air;
use crate::sheet::build::CoolerKind;

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

/// What ties radiator and charge cooler to each other's surroundings.
#[derive(Debug, Clone, Copy)]
enum Exchange {
    /// Coolant and radiator core.
    Coolant,
    /// A core segment and the water that cools it.
    Water,
    /// A body and one of both zones whose air passes it.
    Body(Exchanger, usize),
    /// Both zones, by so many bodies.
    Zones(Exchanger, usize),
}

/// A body of a heat exchanger.
type Body = (Exchanger, NodeIndex);

/// A heat exchanger in air.
#[derive(Debug, Clone, Copy)]
enum Exchanger {
    Radiator,
    Cooler,
}

impl Exchanger {
    /// What it gives to the air, as the last rates left it.
    #[inline(always)]
    fn to_air<N: Number>(self, s: &Scratch<N>) -> &ToAir<N> {
        match self {
            Self::Radiator => &s.radiator_to_air,
            Self::Cooler => &s.cooler_to_air,
        }
    }
}

/// The bodies of a circuit's heat exchangers, and what they tie.
fn exchanges(circuit: &Circuit) -> (Vec<Body>, Vec<(Exchange, NodeIndex, NodeIndex)>) {
    let roles = &circuit.roles;
    let node = |zone: usize| roles.first_zone + zone;
    let way = &circuit.ways[circuit.radiator.opening];
    let mut bodies = vec![(Exchanger::Radiator, roles.radiator)];
    let mut out = vec![(Exchange::Coolant, roles.radiator, roles.coolant)];
    let mut tie = |exchanger, bodies: &[NodeIndex], zones: [Option<usize>; 2]| {
        let zones = zones.map(|zone| zone.map(node));
        for (side, zone) in zones.iter().enumerate() {
            let Some(zone) = *zone else { continue };
            let side = Exchange::Body(exchanger, side);
            out.extend(bodies.iter().map(|&body| (side, body, zone)));
        }
        if let [Some(a), Some(b)] = zones {
            out.push((Exchange::Zones(exchanger, bodies.len()), a, b));
        }
    };
    tie(Exchanger::Radiator, &[roles.radiator], [way.from, way.to]);
    if let (Some(cooling), Some(cooler)) = (&circuit.cooling, &circuit.route.cooler) {
        let water = roles.cooler_water;
        let water = water.filter(|_| cooling.kind == CoolerKind::Water);
        let in_air = water.map_or_else(|| cooler.core.clone(), |water| vec![water]);
        let to = (cooling.to_zone != cooling.from_zone).then_some(cooling.to_zone);
        tie(Exchanger::Cooler, &in_air, [Some(cooling.from_zone), to]);
        if let Some(water) = water {
            let cores = cooler.core.iter();
            out.extend(cores.map(|&core| (Exchange::Water, core, water)));
        }
        bodies.extend(in_air.into_iter().map(|body| (Exchanger::Cooler, body)));
    }
    (bodies, out)
}

/// Strong couplings in a fixed order: the diagonal, then both sides of each strong link, of each pair of zones, and of
/// each pair that a heat exchanger ties; then what air that comes in again brings from zone to zone.
#[derive(Debug, Clone, Default)]
pub struct Couplings {
    /// Places in the plan of the links that end at a node, node by node.
    places: Vec<usize>,
    /// (node, first, end) of each node's places.
    ends: Vec<(NodeIndex, usize, usize)>,
    /// Openings between a zone and the outside, and that zone.
    outside: Vec<(usize, NodeIndex)>,
    /// Strong links between two nodes: place in the plan, both ends.
    strong: Vec<(usize, NodeIndex, NodeIndex)>,
    zones: Vec<(Between, NodeIndex, NodeIndex)>,
    /// Bodies of heat exchangers.
    bodies: Vec<Body>,
    exchanges: Vec<(Exchange, NodeIndex, NodeIndex)>,
    /// Openings through which air that has left by another comes in again: both openings, then both zones.
    back: Vec<([usize; 2], NodeIndex, NodeIndex)>,
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
        let (mut links, mut strong) = (Vec::new(), Vec::new());
        let places = circuit.plan.links().iter().zip(circuit.plan.ends());
        for (place, (&link, &(a, b))) in places.enumerate() {
            links.extend([a, b].into_iter().filter(|&i| i < n).map(|i| (i, place)));
            let fast = |network: &&Network| {
                per_s(network, link, a).max(per_s(network, link, b)) > SLOW_PER_S
            };
            if a < n && b < n && networks.iter().any(fast) {
                strong.push((place, a, b));
            }
        }
        links.sort_unstable();
        let at_node = runs(&links, |a, b| a.0 == b.0);
        let ends = at_node.map(|run| (links[run.start].0, run.start, run.end));
        let ends = ends.collect();
        let mut outside = Vec::new();
        let mut zones = Vec::new();
        for (i, way) in circuit.ways.iter().enumerate() {
            if let (Some(a), Some(b)) = (way.from, way.to) {
                zones.push((Between::Opening(i), zone(a), zone(b)));
            } else if let Some(inner) = way.from.or(way.to) {
                outside.push((i, zone(inner)));
            }
        }
        for (i, mixing) in circuit.mixing.iter().enumerate() {
            let (a, b) = mixing.zones;
            zones.push((Between::Mixing(i), zone(a), zone(b)));
        }
        let takes_back = |way: usize| {
            networks
                .iter()
                .any(|n| n.circuit.ways[way].takes_back > 0.0)
        };
        let back = outside.iter().filter(|&&(way, _)| takes_back(way));
        let back = back.flat_map(|&(enters, a)| {
            let leaving = outside.iter();
            leaving.map(move |&(leaves, b)| ([enters, leaves], a, b))
        });
        let back = back.collect();
        let (bodies, exchanges) = exchanges(circuit);
        Self {
            places: links.into_iter().map(|(_, place)| place).collect(),
            ends,
            outside,
            strong,
            zones,
            bodies,
            exchanges,
            back,
            nodes: n,
        }
    }

    /// Rows and columns in order.
    pub fn pairs(&self) -> Vec<(NodeIndex, NodeIndex)> {
        let strong = self.strong.iter().map(|&(_, a, b)| (a, b));
        let zones = self.zones.iter().map(|&(_, a, b)| (a, b));
        let exchanges = self.exchanges.iter().map(|&(_, a, b)| (a, b));
        let sides = strong.chain(zones).chain(exchanges);
        let sides = sides.flat_map(|(a, b)| [(a, b), (b, a)]);
        let back = self.back.iter().map(|&(_, a, b)| (a, b));
        let all = (0..self.nodes).map(|i| (i, i)).chain(sides).chain(back);
        all.collect()
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
        let (inverse, links_w_k) = (&s.inverse_capacity[..self.nodes], &s.links.w_k[..]);
        let (diagonal, sides) = out.split_at_mut(self.nodes);
        let (strong, sides) = sides.split_at_mut(2 * self.strong.len());
        let (zones, sides) = sides.split_at_mut(2 * self.zones.len());
        let (exchanges, back) = sides.split_at_mut(2 * self.exchanges.len());
        // first all in W/K
        diagonal.fill(N::default());
        for &(node, first, end) in &self.ends {
            let w_k = self.places[first..end].iter().map(
                #[inline(always)]
                |&place| links_w_k[place],
            );
            diagonal[node] = -w_k.fold(N::default(), N::add);
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
                diagonal[node] += w_k;
            }
        }
        let roles = &circuit.roles;
        diagonal[roles.sensor] -= s.sensor_w_k;
        diagonal[roles.coolant] -= c.scalars.cabin_heater_w_k + s.coolant_w_k + s.opening_w_k;
        diagonal[roles.radiator] -= s.coolant_w_k;
        for &(exchanger, body) in &self.bodies {
            diagonal[body] -= exchanger.to_air(s).w_k;
        }
        let cp_ambient = air::specific_heat(c.scalars.ambient_k);
        let mut leaving = N::of(LEAST_LEAVING_KG_S);
        let inward = |opening: usize| circuit.ways[opening].inward(c.opening_kg_s[opening]);
        for &(opening, zone) in &self.outside {
            // air that flows in pulls its zone towards where it comes from
            let inward = inward(opening);
            diagonal[zone] -= inward.max(N::default()) * cp_ambient;
            leaving += (-inward).max(N::default());
        }
        let comes_back = c.scalars.recirculation * cp_ambient / leaving;
        for (w_k, &([enters, leaves], ..)) in back.iter_mut().zip(&self.back) {
            let out = (-inward(leaves)).max(N::default());
            let takes_back = circuit.ways[enters].takes_back;
            *w_k = inward(enters).max(N::default()) * takes_back * comes_back * out;
        }
        for (sides, &(place, a, b)) in strong.chunks_exact_mut(2).zip(&self.strong) {
            let w_k = links_w_k[place];
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
        for (sides, &(exchange, a, b)) in exchanges.chunks_exact_mut(2).zip(&self.exchanges) {
            let (from_b, from_a) = match exchange {
                // both diagonals are done
                Exchange::Coolant => (s.coolant_w_k + s.opening_w_k, s.coolant_w_k),
                Exchange::Water => {
                    diagonal[a] -= s.core_to_water_w_k;
                    diagonal[b] -= s.core_to_water_w_k;
                    (s.core_to_water_w_k, s.core_to_water_w_k)
                }
                Exchange::Body(exchanger, side) => {
                    let air = exchanger.to_air(s);
                    diagonal[b] -= air.w_k * air.comes_from[side] * air.ends_in[side];
                    (air.w_k * air.comes_from[side], air.w_k * air.ends_in[side])
                }
                Exchange::Zones(exchanger, bodies) => {
                    let air = exchanger.to_air(s);
                    let (from, to) = (air.comes_from, air.ends_in);
                    let w_k = air.w_k * bodies as f64;
                    (-w_k * to[0] * from[1], -w_k * to[1] * from[0])
                }
            };
            (sides[0], sides[1]) = (from_b * inverse[a], from_a * inverse[b]);
        }
        for (w_k, &(_, a, _)) in back.iter_mut().zip(&self.back) {
            *w_k *= inverse[a];
        }
        for (diagonal, &inverse) in diagonal.iter_mut().zip(inverse) {
            *diagonal *= inverse;
        }
    }
}
