//! Heat capacities laid out for speed: one table of straight pieces per node.

use super::node::{Node, NodeIndex, Storage};
use crate::physics::air;

/// A straight piece of a heat capacity against temperature: `level + slope * T`.
#[derive(Debug, Clone, Copy)]
struct Piece {
    /// Where it starts [K].
    from_k: f64,
    /// Where the line meets 0 K [J/K].
    level: f64,
    /// Rise [J/K2].
    slope: f64,
}

/// The piece that each node was on last, in columns.
#[derive(Debug, Clone, Default)]
pub struct PiecesInUse {
    at: Vec<usize>,
    from_k: Vec<f64>,
    to_k: Vec<f64>,
    level: Vec<f64>,
    slope: Vec<f64>,
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
            level: at(starts.first().copied().unwrap_or(300.0)),
            slope: 0.0,
        });
        for (i, &from_k) in starts.iter().enumerate() {
            let slope = starts
                .get(i + 1)
                .map_or(0.0, |&to_k| (at(to_k) - at(from_k)) / (to_k - from_k));
            self.pieces.push(Piece {
                from_k,
                level: at(from_k) - slope * from_k,
                slope,
            });
        }
    }

    /// Writes the heat capacity [J/K] of each node at temperatures `node_k`.
    ///
    /// `used` holds the piece that each node was on last; an empty one will do at first.
    pub fn capacities(&self, node_k: &[f64], used: &mut PiecesInUse, out: &mut [f64]) {
        let n = out.len();
        let node_k = &node_k[..n];
        if used.at.len() != n {
            self.begin(n, used);
        }
        let mut moved = false;
        for ((t_k, from_k), to_k) in node_k.iter().zip(&used.from_k).zip(&used.to_k) {
            moved |= t_k < from_k || t_k >= to_k;
        }
        if moved {
            for (i, &t_k) in node_k.iter().enumerate() {
                self.find(i, t_k, used);
            }
        }
        let lines = used.level.iter().zip(&used.slope);
        for ((capacity, t_k), (level, slope)) in out.iter_mut().zip(node_k).zip(lines) {
            *capacity = level + slope * t_k;
        }
        for &(node, mass) in &self.air {
            out[node] = mass * air::specific_heat(node_k[node]);
        }
    }

    fn begin(&self, n: usize, used: &mut PiecesInUse) {
        used.at.clear();
        used.at.extend_from_slice(&self.first[..n]);
        for column in [
            &mut used.from_k,
            &mut used.to_k,
            &mut used.level,
            &mut used.slope,
        ] {
            column.clear();
            column.resize(n, f64::NAN);
        }
        for i in 0..n {
            self.take(i, used);
        }
    }

    /// Moves a node to the piece for its temperature.
    fn find(&self, node: usize, t_k: f64, used: &mut PiecesInUse) {
        let last = self.first[node + 1] - 1;
        let before = used.at[node];
        while used.at[node] < last && t_k >= self.pieces[used.at[node] + 1].from_k {
            used.at[node] += 1;
        }
        while t_k < self.pieces[used.at[node]].from_k {
            used.at[node] -= 1;
        }
        if used.at[node] != before {
            self.take(node, used);
        }
    }

    fn take(&self, node: usize, used: &mut PiecesInUse) {
        let at = used.at[node];
        let piece = self.pieces[at];
        let last = at + 1 == self.first[node + 1];
        used.from_k[node] = piece.from_k;
        used.to_k[node] = if last {
            f64::INFINITY
        } else {
            self.pieces[at + 1].from_k
        };
        (used.level[node], used.slope[node]) = (piece.level, piece.slope);
    }
}
