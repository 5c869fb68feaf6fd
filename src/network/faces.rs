//! Surfaces of the bay, laid out for speed: what they radiate to each other, by groups instead of pairs, and what they
//! give to the air beside them, in one pass.

use std::collections::BTreeMap;

use super::enclosure::Grouped;
use super::link::{Law, Link};
use super::node::NodeIndex;
use super::rates::LinkBooks;
use super::runs::runs;
use crate::constants::STEFAN_BOLTZMANN_W_M2_K4;
use crate::number::{Number, side_by_side};

/// Groups whose sums are made at once.
const BLOCK: usize = 4;

/// A radiating surface of the bay.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Carrier {
    /// Node that carries its temperature.
    pub node: NodeIndex,
    /// Node of the air beside it.
    pub air: NodeIndex,
    /// Ledger slot that books what it radiates to other bodies.
    pub slot: Option<usize>,
}

/// Surfaces in a row that feed the same books.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Booked {
    group: usize,
    first: usize,
    end: usize,
    air: NodeIndex,
    /// Place of the first of their links; windows have none.
    links: Option<usize>,
    radiation: Option<usize>,
    convection: Option<usize>,
}

/// All surfaces of a bay.
#[derive(Debug, Clone, Default)]
pub struct Faces<N = f64> {
    /// Node of each, group by group.
    nodes: Vec<NodeIndex>,
    /// Weight of each: its exchange with another surface is the product of both weights and of the
    /// factor of their groups; Stefan-Boltzmann constant included [W/K4].
    weight: Vec<N>,
    /// Sum of its exchanges, itself included [W/K4].
    own: Vec<N>,
    /// First surface of each group, and the end.
    first: Vec<usize>,
    /// Factor between groups: of some rows side by side, column by column; then of the next rows.
    factor: Vec<N>,
    booked: Vec<Booked>,
    /// Links to the air, in the order of the surfaces that have one.
    links: Vec<usize>,
}
side_by_side!(Faces {
    numbers: [weight, own, factor],
    same: [nodes, first, booked, links],
});

/// Work space of the surfaces.
#[derive(Debug, Clone, Default)]
pub struct FaceScratch<N = f64> {
    /// Fourth powers of their temperatures [K4].
    fourth: Vec<N>,
    /// What all of a group send out, by their weights.
    sent: Vec<N>,
    /// What a surface of weight 1 sees in each group.
    seen: Vec<N>,
}

impl Faces {
    /// Lays out the surfaces.
    ///
    /// # Arguments
    /// - `grouped`, `carriers`: exchange among the surfaces, and what each of them is
    /// - `links`, `books`: all links; a surface takes the one between its node and its air
    pub fn new(
        (grouped, carriers): (&Grouped, &[Carrier]),
        (links, books): (&[Link], &[LinkBooks]),
    ) -> Self {
        let mut to_air: BTreeMap<(NodeIndex, NodeIndex), Vec<usize>> = BTreeMap::new();
        for (i, (link, of_link)) in links.iter().zip(books).enumerate().rev() {
            let simple = matches!(of_link[..], [] | [(_, 1.0)]);
            if simple && matches!(link.law, Law::Convection { .. }) {
                to_air.entry((link.from, link.to)).or_default().push(i);
            }
        }
        let links: Vec<Option<usize>> = carriers
            .iter()
            .map(|c| to_air.get_mut(&(c.node, c.air)).and_then(Vec::pop))
            .collect();
        let mut out = Self {
            first: vec![0],
            ..Self::default()
        };
        let mut ordered = Vec::new();
        for (group, members) in grouped.members.iter().enumerate() {
            for &i in members {
                let convection = links[i].and_then(|l| books[l].first()).map(|book| book.0);
                let (air, radiation) = (carriers[i].air, carriers[i].slot);
                ordered.push((group, air, links[i].is_some(), radiation, convection));
                out.links.extend(links[i]);
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
        let hottest = carriers.iter().map(|c| c.node + 1).max().unwrap_or(0);
        let mut scratch = FaceScratch::default();
        out.look(&vec![1.0; hottest], &mut scratch);
        let weights = out.weight.iter().zip(&ordered);
        out.own = weights
            .map(|(weight, &(group, ..))| weight * scratch.seen[group])
            .collect();
        let mut linked = 0;
        for run in runs(&ordered, |a, b| a == b) {
            let (group, air, has_links, radiation, convection) = ordered[run.start];
            out.booked.push(Booked {
                group,
                first: run.start,
                end: run.end,
                air,
                links: has_links.then_some(linked),
                radiation,
                convection,
            });
            linked += if has_links { run.len() } else { 0 };
        }
        out
    }

    /// Links to the air that are added here, in order: the first of [`Conditions::surface_w_k`](super::conditions::Conditions::surface_w_k).
    pub fn links(&self) -> &[usize] {
        &self.links
    }

    /// Calls `each` with the nodes and the exchange of all pairs of surfaces [W/K4].
    pub fn pairs(&self, mut each: impl FnMut(NodeIndex, NodeIndex, f64)) {
        let count = self.first.len().saturating_sub(1);
        let group: Vec<usize> = (0..count)
            .flat_map(|g| (self.first[g]..self.first[g + 1]).map(move |_| g))
            .collect();
        for i in 0..self.nodes.len() {
            for j in i + 1..self.nodes.len() {
                let (block, row) = (group[i] / BLOCK, group[i] % BLOCK);
                let factor = self.factor[(block * count + group[j]) * BLOCK + row];
                let w_k4 = self.weight[i] * factor * self.weight[j];
                each(self.nodes[i], self.nodes[j], w_k4);
            }
        }
    }
}

impl<N: Number> Faces<N> {
    /// Leaves behind what a surface of weight 1 sees of each group.
    #[inline(always)]
    fn look(&self, node_k: &[N], s: &mut FaceScratch<N>) {
        let groups = self.first.len().saturating_sub(1);
        s.fourth.resize(self.nodes.len(), N::default());
        s.sent.resize(groups, N::default());
        for (sent, ends) in s.sent.iter_mut().zip(self.first.windows(2)) {
            let of_group = ends[0]..ends[1];
            let faces = self.nodes[of_group.clone()]
                .iter()
                .zip(&self.weight[of_group.clone()]);
            let mut sum = N::default();
            for (fourth, (&node, &weight)) in s.fourth[of_group].iter_mut().zip(faces) {
                let square = node_k[node] * node_k[node];
                *fourth = square * square;
                sum += weight * *fourth;
            }
            *sent = sum;
        }
        let (blocks, _) = self.factor.as_chunks::<BLOCK>();
        s.seen.resize(groups.next_multiple_of(BLOCK), N::default());
        let (by_block, _) = s.seen.as_chunks_mut::<BLOCK>();
        for (seen, columns) in by_block.iter_mut().zip(blocks.chunks_exact(groups.max(1))) {
            let mut sums = [N::default(); BLOCK];
            for (factors, &sent) in columns.iter().zip(&s.sent) {
                for k in 0..BLOCK {
                    sums[k] += factors[k] * sent;
                }
            }
            *seen = sums;
        }
    }

    /// Adds the heat of all surfaces; `w_k`: conductance of each surface in air, those of the bay first [W/K].
    #[inline(always)]
    pub fn add(
        &self,
        w_k: &[N],
        node_k: &[N],
        (heat_w, books_w): (&mut [N], &mut [N]),
        s: &mut FaceScratch<N>,
    ) {
        self.look(node_k, s);
        let heat_w = &mut heat_w[..node_k.len()];
        for run in &self.booked {
            let here = run.first..run.end;
            let (seen, mut radiated_w) = (s.seen[run.group], N::default());
            let own = self.own[here.clone()].iter().zip(&s.fourth[here.clone()]);
            let faces = self.nodes[here.clone()]
                .iter()
                .zip(own.zip(&self.weight[here.clone()]));
            if let Some(first) = run.links {
                let (air_k, mut given_w) = (node_k[run.air], N::default());
                for ((&node, ((&own, &fourth), &weight)), &w_k) in
                    faces.zip(&w_k[first..first + here.len()])
                {
                    let radiated = own * fourth - weight * seen;
                    let given = w_k * (node_k[node] - air_k);
                    heat_w[node] -= radiated + given;
                    radiated_w += radiated;
                    given_w += given;
                }
                heat_w[run.air] += given_w;
                if let Some(slot) = run.convection {
                    books_w[slot] += given_w;
                }
            } else {
                for (&node, ((&own, &fourth), &weight)) in faces {
                    let radiated = own * fourth - weight * seen;
                    heat_w[node] -= radiated;
                    radiated_w += radiated;
                }
            }
            if let Some(slot) = run.radiation {
                books_w[slot] += radiated_w;
            }
        }
    }
}
