//! Heat capacities laid out for speed: one table of straight pieces per node.

use super::node::{Node, NodeIndex, Storage};
use crate::physics::air;

/// A straight piece of a heat capacity against temperature.
#[derive(Debug, Clone, Copy)]
struct Piece {
    /// Where it starts [K].
    from_k: f64,
    /// Heat capacity there [J/K].
    value: f64,
    /// Rise [J/K2].
    slope: f64,
}

/// Heat capacities of all nodes.
#[derive(Debug, Clone, Default)]
pub struct HeatStores {
    pieces: Vec<Piece>,
    /// First piece of each node, and the end.
    first: Vec<usize>,
    /// Nodes of air and their mass [kg].
    air: Vec<(NodeIndex, f64)>,
}

impl HeatStores {
    /// Adds up what each node is made of.
    pub fn new(nodes: &[Node]) -> Self {
        let mut out = Self {
            first: vec![0],
            ..Self::default()
        };
        for (i, node) in nodes.iter().enumerate() {
            let mut starts = Vec::new();
            match &node.storage {
                Storage::Solid(parts, _) => {
                    let points = parts.iter().flat_map(|(_, m)| m.specific_heat_points());
                    starts.extend(points.map(|p| p.0));
                    starts.sort_by(f64::total_cmp);
                    starts.dedup();
                }
                Storage::Constant(_) => {}
                Storage::Air(mass) => out.air.push((i, *mass)),
            }
            out.add(&node.storage, &starts);
            out.first.push(out.pieces.len());
        }
        out
    }

    /// Pieces of one node: level before the first start and after the last.
    fn add(&mut self, storage: &Storage, starts: &[f64]) {
        let at = |t_k: f64| storage.capacity(t_k);
        self.pieces.push(Piece {
            from_k: f64::NEG_INFINITY,
            value: at(starts.first().copied().unwrap_or(300.0)),
            slope: 0.0,
        });
        for (i, &from_k) in starts.iter().enumerate() {
            let slope = starts
                .get(i + 1)
                .map_or(0.0, |&to_k| (at(to_k) - at(from_k)) / (to_k - from_k));
            self.pieces.push(Piece {
                from_k,
                value: at(from_k),
                slope,
            });
        }
    }

    /// Writes the heat capacity [J/K] of each node at temperatures `node_k`.
    ///
    /// `hint` holds the piece that each node was on last; any numbers will do at first.
    pub fn capacities(&self, node_k: &[f64], hint: &mut Vec<usize>, out: &mut [f64]) {
        if hint.len() != out.len() {
            hint.clear();
            hint.extend_from_slice(&self.first[..out.len()]);
        }
        for (i, (capacity, at)) in out.iter_mut().zip(hint.iter_mut()).enumerate() {
            let t_k = node_k[i];
            let last = self.first[i + 1] - 1;
            while *at < last && t_k >= self.pieces[*at + 1].from_k {
                *at += 1;
            }
            while t_k < self.pieces[*at].from_k {
                *at -= 1;
            }
            let piece = self.pieces[*at];
            *capacity = piece.value;
            if piece.slope != 0.0 {
                *capacity += piece.slope * (t_k - piece.from_k);
            }
        }
        for &(node, mass) in &self.air {
            out[node] = mass * air::specific_heat(node_k[node]);
        }
    }
}
