//! Links laid out for speed: ordered by law, numbers in columns.

use super::conditions::Conditions;
use super::link::{Law, Link};
use super::node::NodeIndex;
use super::rates::LinkBooks;
use super::runs::runs;
use crate::number::{Number, side_by_side};
use crate::physics::conduction;
use crate::physics::convection::annulus;

/// Links that are that far apart in the list share no node.
const SPREAD: usize = 7;

/// Surfaces in a row, none of them the bay's, that face the same air and feed the same books.
#[derive(Debug, Clone, PartialEq)]
struct InAir {
    air: NodeIndex,
    first: usize,
    end: usize,
    books: LinkBooks,
}

/// All links but radiation, ordered by law.
#[derive(Debug, Clone, Default)]
pub struct LinkPlan<N = f64> {
    /// Link that stands at each place.
    links: Vec<usize>,
    ends: Vec<(NodeIndex, NodeIndex)>,
    /// Place of the first surface in air; they come last, those of the bay first.
    surfaces: usize,
    /// Surfaces in air that are none of the bay's.
    in_air: Vec<InAir>,
    /// Constant conductances [W/K]; they come first.
    constant_w_k: Vec<N>,
    /// Running and still part of pumped conductances [W/K].
    pumped_w_k: Vec<(N, N)>,
    /// Shape factor [m], conductivity at 300 K [W/m/K] and its rise [W/m/K2].
    layers: Vec<(N, N, N)>,
    /// Effective length and shape factor of air gaps [m].
    gaps_m: Vec<(N, N)>,
    /// (place, sign) of what of the other links feeds the ledger, slot by slot.
    books: Vec<(usize, f64)>,
    /// (ledger slot, first, end) of what feeds it.
    booked: Vec<(usize, usize, usize)>,
}
side_by_side!(LinkPlan {
    numbers: [constant_w_k, pumped_w_k, layers, gaps_m],
    same: [links, ends, surfaces, in_air, books, booked],
});

/// Work space of the links.
#[derive(Debug, Clone, Default)]
pub struct LinkScratch<N = f64> {
    /// Conductance of each link in the plan's order [W/K].
    pub w_k: Vec<N>,
    /// Heat along each but surfaces in air [W].
    watts: Vec<N>,
}

impl LinkPlan {
    /// Orders the links; the [`Faces`](super::faces::Faces) of the bay add the heat of links `of_faces`.
    pub fn new(links: &[Link], books: &[LinkBooks], of_faces: &[usize]) -> Self {
        let rank = |law: &Law| match law {
            Law::Conductance(_) => Some(0),
            Law::Pumped { .. } => Some(1),
            Law::Layer { .. } => Some(2),
            Law::Gap { .. } => Some(3),
            Law::Convection { .. } => Some(4),
            Law::Radiation { .. } => None,
        };
        let mut face = vec![usize::MAX; links.len()];
        for (place, &link) in of_faces.iter().enumerate() {
            face[link] = place;
        }
        // neighbours along a pipe far from each other: sums at a node wait for the one before
        let mut order: Vec<(u8, usize, usize)> = links
            .iter()
            .enumerate()
            .filter_map(|(i, link)| {
                let in_air = matches!(link.law, Law::Convection { .. });
                let apart = if in_air { face[i] } else { i % SPREAD };
                Some((rank(&link.law)?, apart, i))
            })
            .collect();
        order.sort_unstable();
        let mut plan = Self::default();
        for &(_, _, i) in &order {
            plan.links.push(i);
            plan.ends.push((links[i].from, links[i].to));
            plan.add(&links[i].law);
        }
        let mut first = plan.constant_w_k.len() + plan.pumped_w_k.len();
        first += plan.layers.len() + plan.gaps_m.len();
        plan.surfaces = first;
        let (others, in_air) = plan.links.split_at(first);
        let (faces, in_air) = in_air.split_at(of_faces.len());
        first += faces.len();
        let alike = |&a: &usize, &b: &usize| links[a].to == links[b].to && books[a] == books[b];
        for run in runs(in_air, alike) {
            let link = in_air[run.start];
            plan.in_air.push(InAir {
                air: links[link].to,
                first: first + run.start,
                end: first + run.end,
                books: books[link].clone(),
            });
        }
        let mut fed = Vec::new();
        for (place, &i) in others.iter().enumerate() {
            fed.extend(books[i].iter().map(|&(slot, sign)| (slot, place, sign)));
        }
        fed.sort_by_key(|&(slot, place, _)| (slot, place));
        let of_slot = runs(&fed, |a, b| a.0 == b.0);
        plan.booked = of_slot
            .map(|run| (fed[run.start].0, run.start, run.end))
            .collect();
        let books = fed.into_iter();
        plan.books = books.map(|(_, place, sign)| (place, sign)).collect();
        plan
    }

    fn add(&mut self, law: &Law) {
        match *law {
            Law::Conductance(w_k) => self.constant_w_k.push(w_k),
            Law::Pumped {
                running_w_k,
                still_w_k,
                ..
            } => self.pumped_w_k.push((running_w_k, still_w_k)),
            Law::Layer { shape_m, k0, k1 } => self.layers.push((shape_m, k0, k1)),
            Law::Gap {
                effective_m,
                shape_m,
            } => self.gaps_m.push((effective_m, shape_m)),
            // what surfaces give to the air is settled with the drivers
            Law::Convection { .. } | Law::Radiation { .. } => {}
        }
    }

    /// Both ends of each link, in the plan's order.
    pub fn ends(&self) -> &[(NodeIndex, NodeIndex)] {
        &self.ends
    }

    /// Those of surfaces in air, likewise.
    pub fn surfaces_in_air(&self) -> &[usize] {
        &self.links[self.surfaces..]
    }

    /// Place of each in the list of links, in the plan's order.
    pub fn links(&self) -> &[usize] {
        &self.links
    }
}

impl<N: Number> LinkPlan<N> {
    /// Adds the heat of all links but the faces'; leaves the conductances of all behind.
    #[inline(always)]
    pub fn add_heat(
        &self,
        c: &Conditions<N>,
        pressure_pa: N,
        node_k: &[N],
        (heat_w, books_w): (&mut [N], &mut [N]),
        s: &mut LinkScratch<N>,
    ) {
        self.conductances(c, pressure_pa, node_k, s);
        let heat_w = &mut heat_w[..node_k.len()];
        s.watts.resize(self.surfaces, N::default());
        let links = self.ends[..self.surfaces]
            .iter()
            .zip(&s.w_k)
            .zip(&mut s.watts);
        for ((&(from, to), &w_k), watts) in links {
            *watts = w_k * (node_k[from] - node_k[to]);
            heat_w[from] -= *watts;
            heat_w[to] += *watts;
        }
        // summed before they reach air and books: one sum there would wait for the other
        for run in &self.in_air {
            let (air_k, mut into_air) = (node_k[run.air], N::default());
            let of_run = run.first..run.end;
            let surfaces = self.ends[of_run.clone()].iter().zip(&s.w_k[of_run]);
            for (&(surface, _), &w_k) in surfaces {
                let watts = w_k * (node_k[surface] - air_k);
                heat_w[surface] -= watts;
                into_air += watts;
            }
            heat_w[run.air] += into_air;
            for &(slot, sign) in &run.books {
                books_w[slot] += into_air * sign;
            }
        }
        let watts = &s.watts[..];
        for &(slot, first, end) in &self.booked {
            let fed = self.books[first..end].iter();
            let watts = fed.map(|&(place, sign)| watts[place] * sign);
            books_w[slot] += watts.fold(N::default(), N::add);
        }
    }

    #[inline(always)]
    fn conductances(
        &self,
        c: &Conditions<N>,
        pressure_pa: N,
        node_k: &[N],
        s: &mut LinkScratch<N>,
    ) {
        if s.w_k.len() != self.ends.len() {
            s.w_k.clone_from(&self.constant_w_k);
            s.w_k.resize(self.ends.len(), N::default());
        }
        let (_, rest) = s.w_k.split_at_mut(self.constant_w_k.len());
        let (pumped, rest) = rest.split_at_mut(self.pumped_w_k.len());
        for (w_k, &(running, still)) in pumped.iter_mut().zip(&self.pumped_w_k) {
            *w_k = still + running * c.scalars.pump;
        }
        let (layers, rest) = rest.split_at_mut(self.layers.len());
        let mut at = self.constant_w_k.len() + pumped.len();
        for ((w_k, &(shape_m, k0, k1)), &(from, to)) in
            layers.iter_mut().zip(&self.layers).zip(&self.ends[at..])
        {
            let mean_k = (node_k[from] + node_k[to]) * 0.5;
            *w_k = shape_m * conduction::linear_conductivity(k0, k1, mean_k);
        }
        let (gaps, rest) = rest.split_at_mut(self.gaps_m.len());
        at += layers.len();
        for ((w_k, &(effective_m, shape_m)), &(from, to)) in
            gaps.iter_mut().zip(&self.gaps_m).zip(&self.ends[at..])
        {
            let faces_k = [node_k[from], node_k[to]];
            *w_k = shape_m * annulus::effective_conductivity(effective_m, faces_k, pressure_pa);
        }
        rest.copy_from_slice(&c.surface_w_k);
    }
}
