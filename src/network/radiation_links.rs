//! Radiation laid out for speed: fourth powers once per node, sums by group of surfaces, and one
//! product per pair for what doesn't fit into groups.

use std::collections::BTreeMap;

use super::enclosure::{Exchange, Grouped};
use super::link::{Law, Link};
use super::node::NodeIndex;
use super::rates::LinkBooks;
use crate::constants::STEFAN_BOLTZMANN_W_M2_K4;

/// One radiation link.
#[derive(Debug, Clone, Copy)]
struct Pair {
    from: NodeIndex,
    to: NodeIndex,
    /// Stefan-Boltzmann constant times area and exchange factor [W/K4].
    w_k4: f64,
}

/// A surface of the bay and the node that carries its temperature.
#[derive(Debug, Clone, Copy)]
pub struct Carrier {
    /// Node.
    pub node: NodeIndex,
    /// Ledger slot that books what it sends to other bodies.
    pub slot: Option<usize>,
}

/// All radiation of a network.
#[derive(Debug, Clone, Default)]
pub struct RadiationLinks {
    /// Surfaces of the bay, ordered by group.
    carriers: Vec<Carrier>,
    /// Weight of each: its exchange with another surface is the product of both weights and of the
    /// factor of their groups; Stefan-Boltzmann constant included [W/K4].
    weight: Vec<f64>,
    /// Sum of its exchanges, itself included [W/K4].
    own: Vec<f64>,
    /// (ledger slot, first, end) of surfaces that feed it.
    booked: Vec<(usize, usize, usize)>,
    /// First surface of each group, and the end.
    first: Vec<usize>,
    /// Factor between groups, row by row.
    factor: Vec<f64>,
    pairs: Vec<Pair>,
    /// (pair, ledger slot, sign).
    books: Vec<(usize, usize, f64)>,
    /// Sum of the coefficients at each node, pairs and groups alike [W/K4].
    node_sum: Vec<f64>,
}

/// Work space of the radiation.
#[derive(Debug, Clone, Default)]
pub struct RadiationScratch {
    /// Fourth powers of the temperatures [K4].
    fourth: Vec<f64>,
    /// Weighted sums by group.
    sums: Vec<f64>,
    /// What each group sees of the others.
    seen: Vec<f64>,
    /// Heat from each surface of the bay, after that along each pair [W].
    watts: Vec<f64>,
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
        for members in &grouped.members {
            for &i in members {
                out.carriers.push(carriers[i]);
                out.weight
                    .push(grouped.weight[i] * STEFAN_BOLTZMANN_W_M2_K4.sqrt());
            }
            out.first.push(out.carriers.len());
        }
        let groups = grouped.members.len();
        out.factor = grouped.factor.clone();
        let mut scratch = RadiationScratch::default();
        out.see(|_| 1.0, &mut scratch);
        for g in 0..groups {
            let of_group = out.first[g]..out.first[g + 1];
            out.own
                .extend(of_group.map(|i| out.weight[i] * scratch.seen[g]));
        }
        let mut first = 0;
        for of_slot in out.carriers.chunk_by(|a, b| a.slot == b.slot) {
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

    /// What each group sees of a quantity of the surfaces.
    fn see(&self, value: impl Fn(usize) -> f64, scratch: &mut RadiationScratch) {
        let groups = self.first.len().saturating_sub(1);
        scratch.sums.clear();
        scratch.sums.extend(self.first.windows(2).map(|ends| {
            // four sums at once: one alone would wait for each addition
            let mut sums = [0.0; 4];
            for (k, i) in (ends[0]..ends[1]).enumerate() {
                sums[k % 4] += self.weight[i] * value(i);
            }
            (sums[0] + sums[1]) + (sums[2] + sums[3])
        }));
        scratch.seen.clear();
        scratch.seen.extend((0..groups).map(|g| {
            let row = &self.factor[g * groups..(g + 1) * groups];
            row.iter()
                .zip(&scratch.sums)
                .map(|(f, s)| f * s)
                .sum::<f64>()
        }));
    }

    /// Adds the heat of all radiation.
    pub fn add(
        &self,
        node_k: &[f64],
        heat_w: &mut [f64],
        books_w: &mut [f64],
        scratch: &mut RadiationScratch,
    ) {
        let mut fourth = std::mem::take(&mut scratch.fourth);
        fourth.resize(node_k.len(), 0.0);
        for (power, t) in fourth.iter_mut().zip(node_k) {
            let square = t * t;
            *power = square * square;
        }
        self.see(|i| fourth[self.carriers[i].node], scratch);
        scratch.watts.clear();
        for (ends, seen) in self.first.windows(2).zip(&scratch.seen) {
            let of_group = ends[0]..ends[1];
            let numbers = self.own[of_group.clone()]
                .iter()
                .zip(&self.weight[of_group.clone()]);
            for (carrier, (own, weight)) in self.carriers[of_group].iter().zip(numbers) {
                let watts = own * fourth[carrier.node] - weight * seen;
                heat_w[carrier.node] -= watts;
                scratch.watts.push(watts);
            }
        }
        for &(slot, first, end) in &self.booked {
            books_w[slot] += scratch.watts[first..end].iter().sum::<f64>();
        }
        scratch.watts.clear();
        for p in &self.pairs {
            let watts = p.w_k4 * (fourth[p.from] - fourth[p.to]);
            heat_w[p.from] -= watts;
            heat_w[p.to] += watts;
            scratch.watts.push(watts);
        }
        for &(pair, slot, sign) in &self.books {
            books_w[slot] += sign * scratch.watts[pair];
        }
        scratch.fourth = fourth;
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
        for (i, a) in self.carriers.iter().enumerate() {
            for (j, b) in self.carriers.iter().enumerate().skip(i + 1) {
                let factor = self.factor[group[i] * groups + group[j]];
                add(a.node, b.node, self.weight[i] * factor * self.weight[j]);
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

    /// Nodes that radiate.
    pub fn nodes(&self) -> impl Iterator<Item = NodeIndex> + '_ {
        self.node_sum
            .iter()
            .enumerate()
            .filter(|(_, sum)| **sum > 0.0)
            .map(|(i, _)| i)
    }

    /// Derivative of the net heat into a node by its own temperature [W/K], negative.
    pub fn by_node(&self, node: NodeIndex, t_k: f64) -> f64 {
        -4.0 * self.node_sum[node] * t_k * t_k * t_k
    }
}
