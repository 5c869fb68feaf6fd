//! Heat capacities laid out for speed: one table of straight pieces per node.

use super::node::{Node, NodeIndex, Storage};
use crate::number::{Choice, Number, side_by_side};
use crate::physics::air;

/// A straight piece of a heat capacity against temperature: `level + slope * T`.
#[derive(Debug, Clone, Copy)]
struct Piece<N> {
    /// Where it starts [K].
    from_k: N,
    /// Where the line meets 0 K [J/K].
    level: N,
    /// Rise [J/K2].
    slope: N,
}
side_by_side!(Piece {
    numbers: [from_k, level, slope],
    same: []
});

/// The piece that each node was on last, in columns.
#[derive(Debug, Clone, Default)]
pub struct PiecesInUse<N = f64> {
    /// Lane by lane of each node.
    at: Vec<usize>,
    from_k: Vec<N>,
    to_k: Vec<N>,
    level: Vec<N>,
    slope: Vec<N>,
}

/// Heat capacities of all nodes.
#[derive(Debug, Clone, Default)]
pub struct HeatStores<N = f64> {
    pieces: Vec<Piece<N>>,
    /// First piece of each node, and the end.
    first: Vec<usize>,
    /// Nodes of air and their mass [kg].
    air: Vec<(NodeIndex, N)>,
}
side_by_side!(HeatStores {
    numbers: [pieces, air],
    same: [first]
});

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
}

impl<N: Number> HeatStores<N> {
    /// Writes the heat capacity [J/K] of each node at temperatures `node_k`.
    ///
    /// `used` holds the piece that each node was on last; an empty one will do at first.
    #[inline(always)]
    pub fn capacities(&self, node_k: &[N], used: &mut PiecesInUse<N>, out: &mut [N]) {
        let n = out.len();
        let node_k = &node_k[..n];
        if used.level.len() != n {
            self.begin(n, used);
        }
        let mut moved = N::Choice::NEVER;
        for ((t_k, from_k), to_k) in node_k.iter().zip(&used.from_k).zip(&used.to_k) {
            moved = moved.or(t_k.leaves(*from_k, *to_k));
        }
        if moved.any() {
            self.find_all(node_k, used);
        }
        let lines = used.level.iter().zip(&used.slope);
        for ((capacity, &t_k), (&level, &slope)) in out.iter_mut().zip(node_k).zip(lines) {
            *capacity = level + slope * t_k;
        }
        for &(node, mass) in &self.air {
            out[node] = mass * air::specific_heat(node_k[node]);
        }
    }

    #[cold]
    fn begin(&self, n: usize, used: &mut PiecesInUse<N>) {
        used.at = self.first[..n]
            .iter()
            .flat_map(|&first| std::iter::repeat_n(first, N::LANES))
            .collect();
        for column in [
            &mut used.from_k,
            &mut used.to_k,
            &mut used.level,
            &mut used.slope,
        ] {
            column.clear();
            column.resize(n, N::of(f64::NAN));
        }
        for node in 0..n {
            for lane in 0..N::LANES {
                self.take(node, lane, used);
            }
        }
    }

    /// Moves every node to the piece for its temperature.
    #[cold]
    fn find_all(&self, node_k: &[N], used: &mut PiecesInUse<N>) {
        for (node, &t_k) in node_k.iter().enumerate() {
            let (from_k, to_k) = (used.from_k[node], used.to_k[node]);
            if t_k.leaves(from_k, to_k).any() {
                for lane in 0..N::LANES {
                    self.find(node, lane, t_k.lane(lane), used);
                }
            }
        }
    }

    fn find(&self, node: usize, lane: usize, t_k: f64, used: &mut PiecesInUse<N>) {
        let last = self.first[node + 1] - 1;
        let from_k = |piece: usize| self.pieces[piece].from_k.lane(lane);
        let place = node * N::LANES + lane;
        let mut at = used.at[place];
        while at < last && t_k >= from_k(at + 1) {
            at += 1;
        }
        while t_k < from_k(at) {
            at -= 1;
        }
        if at != used.at[place] {
            used.at[place] = at;
            self.take(node, lane, used);
        }
    }

    fn take(&self, node: usize, lane: usize, used: &mut PiecesInUse<N>) {
        let at = used.at[node * N::LANES + lane];
        let piece = &self.pieces[at];
        let last = at + 1 == self.first[node + 1];
        let to_k = if last {
            f64::INFINITY
        } else {
            self.pieces[at + 1].from_k.lane(lane)
        };
        used.from_k[node].set_lane(lane, piece.from_k.lane(lane));
        used.to_k[node].set_lane(lane, to_k);
        used.level[node].set_lane(lane, piece.level.lane(lane));
        used.slope[node].set_lane(lane, piece.slope.lane(lane));
    }
}
