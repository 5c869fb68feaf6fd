//! Radiation links laid out for speed: fourth powers once per node, then one product per pair.

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

/// All radiation links of a network.
#[derive(Debug, Clone, Default)]
pub struct RadiationLinks {
    pairs: Vec<Pair>,
    /// (pair, ledger slot, sign).
    books: Vec<(usize, usize, f64)>,
    /// Sum of the coefficients at each node [W/K4].
    node_sum: Vec<f64>,
}

impl RadiationLinks {
    /// Collects the radiation links from a list of links.
    pub fn new(links: &[Link], books: &[LinkBooks], nodes: usize) -> Self {
        let mut out = Self {
            node_sum: vec![0.0; nodes],
            ..Self::default()
        };
        for (link, link_books) in links.iter().zip(books) {
            let Law::Radiation { area_m2 } = link.law else {
                continue;
            };
            let w_k4 = STEFAN_BOLTZMANN_W_M2_K4 * area_m2;
            out.books.extend(
                link_books
                    .iter()
                    .map(|&(slot, sign)| (out.pairs.len(), slot, sign)),
            );
            out.pairs.push(Pair {
                from: link.from,
                to: link.to,
                w_k4,
            });
            for end in [link.from, link.to] {
                if let Some(sum) = out.node_sum.get_mut(end) {
                    *sum += w_k4;
                }
            }
        }
        out
    }

    /// Adds the heat of all links; `fourth` is work space.
    pub fn add(
        &self,
        node_k: &[f64],
        heat_w: &mut [f64],
        books_w: &mut [f64],
        fourth: &mut Vec<f64>,
    ) {
        fourth.clear();
        fourth.extend(node_k.iter().map(|t| {
            let square = t * t;
            square * square
        }));
        for p in &self.pairs {
            let watts = p.w_k4 * (fourth[p.from] - fourth[p.to]);
            heat_w[p.from] -= watts;
            heat_w[p.to] += watts;
        }
        for &(pair, slot, sign) in &self.books {
            let p = self.pairs[pair];
            books_w[slot] += sign * p.w_k4 * (fourth[p.from] - fourth[p.to]);
        }
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
