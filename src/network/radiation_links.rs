//! Radiation laid out for speed: fourth powers once per node, sums by group of surfaces, and one
//! product per pair for what doesn't fit into groups.

use std::collections::BTreeMap;

use super::enclosure::{Exchange, Grouped};
use super::link::{Law, Link};
use super::node::{Boundary, NodeIndex};
use super::rates::LinkBooks;
use crate::constants::STEFAN_BOLTZMANN_W_M2_K4;
use crate::number::{LANES, Lanes, Number, SideBySide, alike};

/// One radiation link.
#[derive(Debug, Clone, Copy)]
struct Pair<N> {
    from: NodeIndex,
    to: NodeIndex,
    /// Stefan-Boltzmann constant times area and exchange factor [W/K4].
    w_k4: N,
}

/// A surface of the bay and the node that carries its temperature.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Carrier {
    /// Node.
    pub node: NodeIndex,
    /// Ledger slot that books what it sends to other bodies.
    pub slot: Option<usize>,
}

/// All radiation of a network.
#[derive(Debug, Clone, Default)]
pub struct RadiationLinks<N = f64> {
    /// Node of each surface of the bay, ordered by group.
    nodes: Vec<NodeIndex>,
    /// Weight of each: its exchange with another surface is the product of both weights and of the
    /// factor of their groups; Stefan-Boltzmann constant included [W/K4].
    weight: Vec<N>,
    /// Sum of its exchanges, itself included [W/K4].
    own: Vec<N>,
    /// (ledger slot, first, end) of surfaces that feed it.
    booked: Vec<(usize, usize, usize)>,
    /// First surface of each group, and the end.
    first: Vec<usize>,
    /// Factor between groups, row by row.
    factor: Vec<N>,
    pairs: Vec<Pair<N>>,
    /// (pair, ledger slot, sign).
    books: Vec<(usize, usize, f64)>,
    /// Sum of the coefficients at each node, pairs and groups alike [W/K4].
    node_sum: Vec<N>,
}

/// Ends of a pair, and (ledger slot, whether with a plus) of what it feeds.
type PairKey = (NodeIndex, NodeIndex, Vec<(usize, bool)>);

impl SideBySide for RadiationLinks {
    type Wide = RadiationLinks<Lanes>;

    /// Groups must be the same; pairs are those of all lanes, since which ones the groups leave over hangs on numbers.
    fn side_by_side(each: [&Self; LANES]) -> Option<Self::Wide> {
        let mut w_k4: BTreeMap<PairKey, Lanes> = BTreeMap::new();
        for (lane, links) in each.iter().enumerate() {
            for (i, pair) in links.pairs.iter().enumerate() {
                let books = links.books.iter().filter(|b| b.0 == i);
                let books = books.map(|&(_, slot, sign)| (slot, sign > 0.0)).collect();
                let all = w_k4.entry((pair.from, pair.to, books)).or_default();
                all.set_lane(lane, all.lane(lane) + pair.w_k4);
            }
        }
        let (mut pairs, mut books) = (Vec::new(), Vec::new());
        for ((from, to, fed), w_k4) in w_k4 {
            let signs = fed
                .into_iter()
                .map(|(slot, plus)| (slot, if plus { 1.0 } else { -1.0 }));
            books.extend(signs.map(|(slot, sign)| (pairs.len(), slot, sign)));
            pairs.push(Pair { from, to, w_k4 });
        }
        Some(RadiationLinks {
            nodes: alike(each.map(|r| &r.nodes))?,
            weight: SideBySide::side_by_side(each.map(|r| &r.weight))?,
            own: SideBySide::side_by_side(each.map(|r| &r.own))?,
            booked: alike(each.map(|r| &r.booked))?,
            first: alike(each.map(|r| &r.first))?,
            factor: SideBySide::side_by_side(each.map(|r| &r.factor))?,
            pairs,
            books,
            node_sum: SideBySide::side_by_side(each.map(|r| &r.node_sum))?,
        })
    }
}

/// Work space of the radiation.
#[derive(Debug, Clone, Default)]
pub struct RadiationScratch<N = f64> {
    /// Fourth powers of the temperatures [K4].
    fourth: Vec<N>,
    /// Weighted sums by group.
    sums: Vec<N>,
    /// What each group sees of the others.
    seen: Vec<N>,
    /// Heat from each surface of the bay [W].
    watts: Vec<N>,
    /// Heat along each pair [W].
    pair_watts: Vec<N>,
}

impl RadiationLinks {
    /// Lays out the exchange in the bay and the radiation links outside it.
    ///
    /// # Arguments
    /// - `links`, `books`: all links; those in the bay are told by `in_bay`
    /// - `carriers`: node and ledger slot of each surface of the bay
    pub fn new(
        links: &[Link],
        books: &[LinkBooks],
        in_bay: std::ops::Range<usize>,
        (grouped, carriers): (&Grouped, &[Carrier]),
        nodes: usize,
    ) -> Self {
        let mut out = Self {
            node_sum: vec![0.0; nodes],
            first: vec![0],
            ..Self::default()
        };
        let mut ordered = Vec::new();
        for members in &grouped.members {
            for &i in members {
                ordered.push(carriers[i]);
                out.nodes.push(carriers[i].node);
                out.weight
                    .push(grouped.weight[i] * STEFAN_BOLTZMANN_W_M2_K4.sqrt());
            }
            out.first.push(out.nodes.len());
        }
        let groups = grouped.members.len();
        out.factor = grouped.factor.clone();
        let (mut sums, mut seen) = (Vec::new(), Vec::new());
        let ones = vec![1.0; nodes + Boundary::ALL.len()];
        out.see(&ones, &mut sums, &mut seen);
        for (g, seen) in seen.iter().enumerate().take(groups) {
            let of_group = out.first[g]..out.first[g + 1];
            out.own.extend(of_group.map(|i| out.weight[i] * seen));
        }
        let mut first = 0;
        for of_slot in ordered.chunk_by(|a, b| a.slot == b.slot) {
            let end = first + of_slot.len();
            if let Some(slot) = of_slot[0].slot {
                out.booked.push((slot, first, end));
            }
            first = end;
        }
        for rest in &grouped.rest {
            out.pair(carriers, rest);
        }
        for (i, (link, link_books)) in links.iter().zip(books).enumerate() {
            let Law::Radiation { area_m2 } = link.law else {
                continue;
            };
            let w_k4 = STEFAN_BOLTZMANN_W_M2_K4 * area_m2;
            for end in [link.from, link.to] {
                if let Some(sum) = out.node_sum.get_mut(end) {
                    *sum += w_k4;
                }
            }
            if in_bay.contains(&i) {
                continue;
            }
            let at = out.pairs.len();
            out.books
                .extend(link_books.iter().map(|&(slot, sign)| (at, slot, sign)));
            out.pairs.push(Pair {
                from: link.from,
                to: link.to,
                w_k4,
            });
        }
        out
    }

    /// An exchange in the bay that the groups leave over.
    fn pair(&mut self, carriers: &[Carrier], rest: &Exchange) {
        let (a, b) = (carriers[rest.a], carriers[rest.b]);
        if a.slot != b.slot {
            let at = self.pairs.len();
            let books = [(a.slot, 1.0), (b.slot, -1.0)];
            self.books.extend(
                books
                    .iter()
                    .filter_map(|&(slot, sign)| Some((at, slot?, sign))),
            );
        }
        self.pairs.push(Pair {
            from: a.node,
            to: b.node,
            w_k4: STEFAN_BOLTZMANN_W_M2_K4 * rest.area_m2,
        });
    }

    /// Everything that [`RadiationLinks::add`] sums, pair by pair of nodes: area times exchange factor [m2].
    ///
    /// Differs from the links by what the groups let pass.
    pub fn exchange_m2(&self) -> BTreeMap<(NodeIndex, NodeIndex), f64> {
        let groups = self.first.len().saturating_sub(1);
        let group: Vec<usize> = (0..groups)
            .flat_map(|g| (self.first[g]..self.first[g + 1]).map(move |_| g))
            .collect();
        let mut out = BTreeMap::new();
        let mut add = |a: NodeIndex, b: NodeIndex, w_k4: f64| {
            if a != b && w_k4 != 0.0 {
                *out.entry((a.min(b), a.max(b))).or_insert(0.0) += w_k4 / STEFAN_BOLTZMANN_W_M2_K4;
            }
        };
        for (i, &a) in self.nodes.iter().enumerate() {
            for (j, &b) in self.nodes.iter().enumerate().skip(i + 1) {
                let factor = self.factor[group[i] * groups + group[j]];
                add(a, b, self.weight[i] * factor * self.weight[j]);
            }
        }
        for p in &self.pairs {
            add(p.from, p.to, p.w_k4);
        }
        out
    }

    /// Number of pairs that are summed one by one.
    pub fn single_pairs(&self) -> usize {
        self.pairs.len()
    }
}

impl<N: Number> RadiationLinks<N> {
    /// What each group sees of a quantity that nodes carry.
    #[inline(always)]
    fn see(&self, carried: &[N], sums: &mut Vec<N>, seen: &mut Vec<N>) {
        let groups = self.first.len().saturating_sub(1);
        sums.resize(groups, N::default());
        for (sum, ends) in sums.iter_mut().zip(self.first.windows(2)) {
            let of_group = ends[0]..ends[1];
            let (weights, nodes) = (&self.weight[of_group.clone()], &self.nodes[of_group]);
            // four sums at once: one alone would wait for each addition
            let mut parts = [N::default(); 4];
            let (weights, last) = weights.as_chunks::<4>();
            let (nodes, last_nodes) = nodes.as_chunks::<4>();
            for (weights, nodes) in weights.iter().zip(nodes) {
                for k in 0..4 {
                    parts[k] += weights[k] * carried[nodes[k]];
                }
            }
            for (&weight, &node) in last.iter().zip(last_nodes) {
                parts[0] += weight * carried[node];
            }
            *sum = (parts[0] + parts[1]) + (parts[2] + parts[3]);
        }
        seen.resize(groups, N::default());
        let rows = self.factor.chunks_exact(groups.max(1));
        for (seen, row) in seen.iter_mut().zip(rows) {
            let products = row.iter().zip(&*sums).map(|(&f, &s)| f * s);
            *seen = products.fold(N::default(), N::add);
        }
    }

    /// Adds the heat of all radiation.
    #[inline(always)]
    pub fn add(
        &self,
        node_k: &[N],
        heat_w: &mut [N],
        books_w: &mut [N],
        scratch: &mut RadiationScratch<N>,
    ) {
        let RadiationScratch {
            fourth,
            sums,
            seen,
            watts,
            pair_watts,
        } = scratch;
        fourth.resize(node_k.len(), N::default());
        for (power, &t) in fourth.iter_mut().zip(node_k) {
            let square = t * t;
            *power = square * square;
        }
        self.see(fourth, sums, seen);
        watts.resize(self.nodes.len(), N::default());
        for (ends, &seen) in self.first.windows(2).zip(&*seen) {
            let of_group = ends[0]..ends[1];
            let numbers = self.own[of_group.clone()]
                .iter()
                .zip(&self.weight[of_group.clone()]);
            let surfaces = watts[of_group.clone()]
                .iter_mut()
                .zip(&self.nodes[of_group]);
            for ((watts, &node), (&own, &weight)) in surfaces.zip(numbers) {
                *watts = own * fourth[node] - weight * seen;
                heat_w[node] -= *watts;
            }
        }
        for &(slot, first, end) in &self.booked {
            let of_slot = watts[first..end].iter().copied();
            books_w[slot] += of_slot.fold(N::default(), N::add);
        }
        pair_watts.resize(self.pairs.len(), N::default());
        for (p, watts) in self.pairs.iter().zip(&mut *pair_watts) {
            *watts = p.w_k4 * (fourth[p.from] - fourth[p.to]);
            heat_w[p.from] -= *watts;
            heat_w[p.to] += *watts;
        }
        for &(pair, slot, sign) in &self.books {
            books_w[slot] += pair_watts[pair] * sign;
        }
    }

    /// Adds the derivative of the net heat into each node by its own temperature [W/K], negative.
    #[inline(always)]
    pub fn add_by_node(&self, node_k: &[N], out: &mut [N]) {
        for ((out, &sum), &t_k) in out.iter_mut().zip(&self.node_sum).zip(node_k) {
            *out -= sum * 4.0 * t_k * t_k * t_k;
        }
    }
}
