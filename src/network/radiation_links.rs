//! Radiation laid out for speed: fourth powers once per node, sums by group of surfaces, and one
//! product per pair for what doesn't fit into groups.

use std::collections::BTreeMap;

use super::enclosure::Grouped;
use super::link::{Law, Link};
use super::node::{Boundary, NodeIndex};
use super::rates::LinkBooks;
use super::runs::runs;
use crate::constants::STEFAN_BOLTZMANN_W_M2_K4;
use crate::number::{LANES, Lanes, Number, SideBySide, alike};

/// Groups whose sums are made at once.
const BLOCK: usize = 4;

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

/// Surfaces in a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Booked {
    slot: Option<usize>,
    group: usize,
    first: usize,
    end: usize,
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
    /// Surfaces in a row of one group that feed the same ledger slot, or none.
    booked: Vec<Booked>,
    /// First surface of each group, and the end.
    first: Vec<usize>,
    /// Factor between groups: of some rows side by side, column by column; then of the next rows.
    factor: Vec<N>,
    pairs: Vec<Pair<N>>,
    /// End of pairs in a row that feed the same books, and (ledger slot, whether with a plus) of these.
    runs: Vec<(usize, Fed)>,
    /// Sum of the coefficients at each node, pairs and groups alike [W/K4].
    node_sum: Vec<N>,
}

/// (ledger slot, whether with a plus) of what a pair feeds.
type Fed = Vec<(usize, bool)>;

/// What a pair feeds, and its ends.
type PairKey = (Fed, NodeIndex, NodeIndex);

/// Pairs in order, and the runs of those that feed the same books.
fn in_runs<N>(w_k4: BTreeMap<PairKey, N>) -> (Vec<Pair<N>>, Vec<(usize, Fed)>) {
    let (mut pairs, mut runs): (_, Vec<(usize, Fed)>) = (Vec::new(), Vec::new());
    for ((fed, from, to), w_k4) in w_k4 {
        pairs.push(Pair { from, to, w_k4 });
        match runs.last_mut() {
            Some((end, of_run)) if *of_run == fed => *end = pairs.len(),
            _ => runs.push((pairs.len(), fed)),
        }
    }
    (pairs, runs)
}

impl SideBySide for RadiationLinks {
    type Wide = RadiationLinks<Lanes>;

    /// Groups must be the same; pairs are those of all lanes, since which ones the groups leave over hangs on numbers.
    fn side_by_side(each: [&Self; LANES]) -> Option<Self::Wide> {
        let mut w_k4: BTreeMap<PairKey, Lanes> = BTreeMap::new();
        for (lane, links) in each.iter().enumerate() {
            let mut first = 0;
            for (end, fed) in &links.runs {
                for pair in &links.pairs[first..*end] {
                    let all = w_k4.entry((fed.clone(), pair.from, pair.to)).or_default();
                    all.set_lane(lane, all.lane(lane) + pair.w_k4);
                }
                first = *end;
            }
        }
        let (pairs, runs) = in_runs(w_k4);
        Some(RadiationLinks {
            nodes: alike(each.map(|r| &r.nodes))?,
            weight: SideBySide::side_by_side(each.map(|r| &r.weight))?,
            own: SideBySide::side_by_side(each.map(|r| &r.own))?,
            booked: alike(each.map(|r| &r.booked))?,
            first: alike(each.map(|r| &r.first))?,
            factor: SideBySide::side_by_side(each.map(|r| &r.factor))?,
            pairs,
            runs,
            node_sum: SideBySide::side_by_side(each.map(|r| &r.node_sum))?,
        })
    }
}

/// Work space of the radiation.
#[derive(Debug, Clone, Default)]
pub struct RadiationScratch<N = f64> {
    /// Fourth powers of the temperatures of nodes [K4].
    fourth: Vec<N>,
    sight: Sight<N>,
}

/// What surfaces see of each other.
#[derive(Debug, Clone, Default)]
struct Sight<N> {
    /// What all of a group carry, by their weights.
    sums: Vec<N>,
    /// What a surface of weight 1 sees in each group.
    by_group: Vec<N>,
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
        for (group, members) in grouped.members.iter().enumerate() {
            for &i in members {
                ordered.push((group, carriers[i].slot));
                out.nodes.push(carriers[i].node);
                out.weight
                    .push(grouped.weight[i] * STEFAN_BOLTZMANN_W_M2_K4.sqrt());
            }
            out.first.push(out.nodes.len());
        }
        let groups = grouped.members.len();
        for block in (0..groups).step_by(BLOCK) {
            for column in 0..groups {
                let rows = block..block + BLOCK;
                // rows beyond the last see nothing
                out.factor.extend(rows.map(|row| {
                    let inside = row < groups;
                    if inside {
                        grouped.factor[row * groups + column]
                    } else {
                        0.0
                    }
                }));
            }
        }
        let mut sight = Sight::default();
        out.see(&vec![1.0; nodes + Boundary::ALL.len()], &mut sight);
        let weights = out.weight.iter().zip(&ordered);
        out.own = weights
            .map(|(weight, &(group, _))| weight * sight.by_group[group])
            .collect();
        out.booked = runs(&ordered, |a, b| a == b)
            .map(|run| Booked {
                slot: ordered[run.start].1,
                group: ordered[run.start].0,
                first: run.start,
                end: run.end,
            })
            .collect();
        let mut pairs: BTreeMap<PairKey, f64> = BTreeMap::new();
        for rest in &grouped.rest {
            let (a, b) = (carriers[rest.a], carriers[rest.b]);
            let sides = [(a.slot, true), (b.slot, false)].into_iter();
            let fed = sides.filter(|_| a.slot != b.slot);
            let fed = fed.filter_map(|(slot, plus)| Some((slot?, plus)));
            let all = pairs.entry((fed.collect(), a.node, b.node)).or_default();
            *all += STEFAN_BOLTZMANN_W_M2_K4 * rest.area_m2;
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
            let fed = link_books.iter().map(|&(slot, sign)| (slot, sign > 0.0));
            *pairs
                .entry((fed.collect(), link.from, link.to))
                .or_default() += w_k4;
        }
        (out.pairs, out.runs) = in_runs(pairs);
        out
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
                let (block, row) = (group[i] / BLOCK, group[i] % BLOCK);
                let factor = self.factor[(block * groups + group[j]) * BLOCK + row];
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
    /// What a surface of weight 1 sees, group by group, of a quantity that nodes carry.
    #[inline(always)]
    fn see(&self, carried: &[N], s: &mut Sight<N>) {
        let groups = self.first.len().saturating_sub(1);
        s.sums.resize(groups, N::default());
        for (sum, ends) in s.sums.iter_mut().zip(self.first.windows(2)) {
            let of_group = ends[0]..ends[1];
            let mut all = N::default();
            for (&node, &weight) in self.nodes[of_group.clone()]
                .iter()
                .zip(&self.weight[of_group])
            {
                all += weight * carried[node];
            }
            *sum = all;
        }
        let (blocks, _) = self.factor.as_chunks::<BLOCK>();
        s.by_group
            .resize(groups.next_multiple_of(BLOCK), N::default());
        let (by_block, _) = s.by_group.as_chunks_mut::<BLOCK>();
        for (seen, columns) in by_block.iter_mut().zip(blocks.chunks_exact(groups.max(1))) {
            let mut sums = [N::default(); BLOCK];
            for (factors, &carried) in columns.iter().zip(&s.sums) {
                for k in 0..BLOCK {
                    sums[k] += factors[k] * carried;
                }
            }
            *seen = sums;
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
        let RadiationScratch { fourth, sight } = scratch;
        let heat_w = &mut heat_w[..node_k.len()];
        fourth.resize(node_k.len(), N::default());
        for (power, &t) in fourth.iter_mut().zip(node_k) {
            let square = t * t;
            *power = square * square;
        }
        let fourth = &fourth[..heat_w.len()];
        self.see(fourth, sight);
        for run in &self.booked {
            let here = run.first..run.end;
            let (seen, mut sum) = (sight.by_group[run.group], N::default());
            let factors = self.own[here.clone()]
                .iter()
                .zip(&self.weight[here.clone()]);
            for (&node, (&own, &weight)) in self.nodes[here].iter().zip(factors) {
                let watts = own * fourth[node] - weight * seen;
                heat_w[node] -= watts;
                sum += watts;
            }
            if let Some(slot) = run.slot {
                books_w[slot] += sum;
            }
        }
        let mut first = 0;
        for (end, fed) in &self.runs {
            let mut sum = N::default();
            for p in &self.pairs[first..*end] {
                let watts = p.w_k4 * (fourth[p.from] - fourth[p.to]);
                heat_w[p.from] -= watts;
                heat_w[p.to] += watts;
                sum += watts;
            }
            for &(slot, plus) in fed {
                books_w[slot] += if plus { sum } else { -sum };
            }
            first = *end;
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
