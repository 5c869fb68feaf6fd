//! Radiation between pairs of nodes, laid out for speed: what leaves the car, and what the surfaces of the bay
//! exchange beyond their groups (see [`faces`](super::faces)).

use std::collections::BTreeMap;

use super::enclosure::Exchange;
use super::faces::Carrier;
use super::link::{Law, Link};
use super::node::NodeIndex;
use super::rates::LinkBooks;
use crate::constants::STEFAN_BOLTZMANN_W_M2_K4;
use crate::number::{LANES, Lanes, Number, SideBySide};

/// One radiation link.
#[derive(Debug, Clone, Copy)]
struct Pair<N> {
    from: NodeIndex,
    to: NodeIndex,
    /// Stefan-Boltzmann constant times area and exchange factor [W/K4].
    w_k4: N,
}

/// Radiation between pairs.
#[derive(Debug, Clone, Default)]
pub struct RadiationLinks<N = f64> {
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

    /// Pairs are those of all lanes, since which ones the groups leave over hangs on numbers.
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
}

impl RadiationLinks {
    /// Lays out the radiation links outside the bay, and what the surfaces in it exchange beyond their groups.
    ///
    /// # Arguments
    /// - `links`, `books`: all links; those in the bay are told by `in_bay`
    /// - `rest`, `carriers`: what groups of surfaces leave over, and what each of the surfaces is
    pub fn new(
        links: &[Link],
        books: &[LinkBooks],
        in_bay: std::ops::Range<usize>,
        (rest, carriers): (&[Exchange], &[Carrier]),
        nodes: usize,
    ) -> Self {
        let mut node_sum = vec![0.0; nodes];
        let mut pairs: BTreeMap<PairKey, f64> = BTreeMap::new();
        for rest in rest {
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
                if let Some(sum) = node_sum.get_mut(end) {
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
        let (pairs, runs) = in_runs(pairs);
        Self {
            pairs,
            runs,
            node_sum,
        }
    }

    /// Calls `each` with both nodes and the exchange of all pairs [W/K4].
    pub fn pairs(&self, mut each: impl FnMut(NodeIndex, NodeIndex, f64)) {
        for p in &self.pairs {
            each(p.from, p.to, p.w_k4);
        }
    }

    /// Number of pairs that are summed one by one.
    pub fn single_pairs(&self) -> usize {
        self.pairs.len()
    }
}

impl<N: Number> RadiationLinks<N> {
    /// Adds the heat of all pairs.
    #[inline(always)]
    pub fn add(
        &self,
        node_k: &[N],
        heat_w: &mut [N],
        books_w: &mut [N],
        scratch: &mut RadiationScratch<N>,
    ) {
        let fourth = &mut scratch.fourth;
        let heat_w = &mut heat_w[..node_k.len()];
        fourth.resize(node_k.len(), N::default());
        for (power, &t) in fourth.iter_mut().zip(node_k) {
            let square = t * t;
            *power = square * square;
        }
        let fourth = &fourth[..heat_w.len()];
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
