//! Elimination on a fixed sparse pattern.
//!
//! A thermal network couples each node to a few others, and the pattern never changes during a
//! run. So the order of elimination and every fill-in are found once; a factorisation is then a
//! walk over precomputed index lists, O(n) for chains and trees.

use std::collections::{BTreeMap, BTreeSet};

use crate::number::Number;

/// A square matrix with a fixed pattern, and its factors.
#[derive(Debug, Clone)]
pub struct SparseLu<N = f64> {
    n: usize,
    /// Position of (row, column) in `values`, pattern and fill-in, in order.
    entries: Vec<((usize, usize), usize)>,
    /// Diagonal, then what stands below each pivot, then what stands right of it (both over the pivot once factored),
    /// each in the order of elimination.
    values: Vec<N>,
    /// State eliminated at each place of that order.
    states: Vec<u32>,
    /// Inverse of each pivot in that order.
    inverse: Vec<N>,
    levels: Vec<Level>,
    /// States that eliminating touches, one pivot after the other.
    touched: Vec<u32>,
    /// The state eliminated there.
    owner: Vec<u32>,
    /// Its place in the order.
    place: Vec<u32>,
    /// Inverse of each state's pivot.
    inverse_by_state: Vec<N>,
    /// What pivots take from the rest, one after the other.
    updates: Vec<Update>,
}

/// Less its product of an entry below a pivot and one right of it, which is over the pivot already.
#[derive(Debug, Clone, Copy)]
struct Update {
    target: u32,
    below: u32,
    right: u32,
}

/// Pivots none of which touches another: a processor can work at several at once.
#[derive(Debug, Clone, Copy, Default)]
struct Level {
    /// End of its pivots in the order.
    pivots: usize,
    /// End of the entries beside their diagonals.
    beside: usize,
    /// End of their updates.
    updates: usize,
}

/// How many levels a state may wait for another of a neighbour less: fewer levels are worth a few entries more.
const LEVELS_PER_NEIGHBOUR: usize = 2;

/// A state and those that eliminating it touches.
type Eliminated = (usize, Vec<usize>);

/// Order of elimination, level by level, and the number of states in each level.
fn order(n: usize, pattern: &[(usize, usize)]) -> (Vec<Eliminated>, Vec<usize>) {
    let mut neighbours = vec![BTreeSet::new(); n];
    for &(a, b) in pattern {
        if a != b {
            neighbours[a].insert(b);
            neighbours[b].insert(a);
        }
    }
    let mut left: BTreeSet<usize> = (0..n).collect();
    let (mut eliminated, mut level) = (Vec::with_capacity(n), vec![0; n]);
    let cost = |neighbours: &[BTreeSet<usize>], level: &[usize], i: usize| {
        let degree = neighbours[i].len();
        (degree + level[i] / LEVELS_PER_NEIGHBOUR, degree, i)
    };
    while let Some(&k) = left.iter().min_by_key(|&&i| cost(&neighbours, &level, i)) {
        left.remove(&k);
        let around: Vec<usize> = neighbours[k].iter().copied().collect();
        for &i in &around {
            level[i] = level[i].max(level[k] + 1);
            neighbours[i].remove(&k);
            for &j in &around {
                if i != j {
                    neighbours[i].insert(j);
                }
            }
        }
        eliminated.push((k, around));
    }
    eliminated.sort_by_key(|&(k, _)| level[k]);
    let levels = eliminated.chunk_by(|a, b| level[a.0] == level[b.0]);
    let counts = levels.map(<[_]>::len).collect();
    (eliminated, counts)
}

impl<N: Number> SparseLu<N> {
    /// Finds order and fill-in for a pattern of (row, column) pairs; the diagonal is always there.
    ///
    /// The pattern is made symmetric. States are eliminated by least degree (Markowitz 1957), those that need not wait
    /// for each other side by side.
    pub fn new(n: usize, pattern: &[(usize, usize)]) -> Self {
        let (eliminated, counts) = order(n, pattern);
        let count: usize = eliminated.iter().map(|(_, around)| around.len()).sum();
        let mut position = BTreeMap::new();
        let mut places = Vec::with_capacity(count);
        for (place, (state, around)) in eliminated.iter().enumerate() {
            position.insert((*state, *state), place);
            for &row in around {
                let at = n + places.len();
                position.insert((row, *state), at);
                position.insert((*state, row), at + count);
                places.push(place as u32);
            }
        }
        // what two neighbours of a pivot share is there: both are eliminated after it
        let at = |row: usize, column: usize| position[&(row, column)] as u32;
        let updates = eliminated.iter().flat_map(|(state, around)| {
            let pairs = around
                .iter()
                .flat_map(|&i| around.iter().map(move |&j| (i, j)));
            pairs.map(move |(i, j)| Update {
                target: at(i, j),
                below: at(i, *state),
                right: at(*state, j),
            })
        });
        let updates: Vec<Update> = updates.collect();
        let mut levels: Vec<Level> = Vec::with_capacity(counts.len());
        let mut end = Level::default();
        for count in counts {
            for (_, around) in &eliminated[end.pivots..end.pivots + count] {
                end.beside += around.len();
                end.updates += around.len() * around.len();
            }
            end.pivots += count;
            levels.push(end);
        }
        let states = eliminated.iter().flat_map(|(_, around)| around);
        Self {
            n,
            touched: states.map(|&state| state as u32).collect(),
            owner: places
                .iter()
                .map(|&place| eliminated[place as usize].0 as u32)
                .collect(),
            place: places,
            states: eliminated.iter().map(|&(state, _)| state as u32).collect(),
            inverse: vec![N::default(); n],
            inverse_by_state: vec![N::default(); n],
            updates,
            levels,
            values: vec![N::default(); n + 2 * count],
            entries: position.into_iter().collect(),
        }
    }

    /// Position of an entry for [`SparseLu::add_at`]; `None` outside pattern and fill-in.
    pub fn position(&self, row: usize, column: usize) -> Option<usize> {
        let found = self
            .entries
            .binary_search_by_key(&(row, column), |(place, _)| *place);
        found.ok().map(|i| self.entries[i].1)
    }

    /// Makes it a diagonal matrix of one number.
    #[inline(always)]
    pub fn set_diagonal(&mut self, value: f64) {
        let (diagonal, rest) = self.values.split_at_mut(self.n);
        diagonal.fill(N::of(value));
        rest.fill(N::default());
    }

    /// Adds to the entry at a position.
    #[inline(always)]
    pub fn add_at(&mut self, position: usize, value: N) {
        self.values[position] += value;
    }

    /// Adds a multiple of each to the entries at their positions.
    #[inline(always)]
    pub fn add_all(&mut self, positions: &[usize], values: &[N], factor: f64) {
        let entries = &mut self.values[..];
        for (&position, &value) in positions.iter().zip(values) {
            entries[position] += value * factor;
        }
    }

    /// Factors in place, without pivoting: made for matrices with a dominant diagonal.
    ///
    /// Returns false when a pivot vanishes or is not finite.
    #[inline(always)]
    pub fn factor(&mut self) -> bool {
        let (to_right, mut done) = (self.n + self.touched.len(), Level::default());
        let (values, inverse) = (&mut self.values[..], &mut self.inverse[..]);
        for level in &self.levels {
            let pivots = &values[done.pivots..level.pivots];
            for (inverse, &value) in inverse[done.pivots..].iter_mut().zip(pivots) {
                *inverse = N::of(1.0) / value;
            }
            let right = &mut values[to_right + done.beside..to_right + level.beside];
            for (right, &place) in right.iter_mut().zip(&self.place[done.beside..]) {
                *right *= inverse[place as usize];
            }
            for u in &self.updates[done.updates..level.updates] {
                let taken = values[u.below as usize] * values[u.right as usize];
                values[u.target as usize] -= taken;
            }
            done = *level;
        }
        let (pivots, beside) = values.split_at_mut(self.n);
        for (below, &place) in beside.iter_mut().zip(&self.place) {
            *below *= inverse[place as usize];
        }
        let (mut sum, by_state) = (N::default(), &mut self.inverse_by_state[..]);
        for ((&value, &inverse), &state) in pivots.iter().zip(&*inverse).zip(&self.states) {
            // what is not finite stays so in a sum
            sum += value.abs() + inverse.abs();
            by_state[state as usize] = inverse;
        }
        sum.is_finite()
    }

    /// Solves in place with the factors.
    #[inline(always)]
    pub fn solve(&self, x: &mut [N]) {
        let factors = &self.values[self.n..];
        let (below, right) = factors.split_at(self.touched.len());
        let places = self.touched.iter().zip(&self.owner);
        for ((&touched, &owner), &factor) in places.clone().zip(below) {
            let taken = factor * x[owner as usize];
            x[touched as usize] -= taken;
        }
        for (x, &inverse) in x.iter_mut().zip(&self.inverse_by_state) {
            *x *= inverse;
        }
        for ((&touched, &owner), &factor) in places.zip(right).rev() {
            let taken = factor * x[touched as usize];
            x[owner as usize] -= taken;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{DMatrix, DVector};

    #[test]
    fn verify_agrees_with_a_dense_solve() {
        let pattern = [(0, 1), (1, 2), (2, 3), (3, 0), (4, 2), (5, 6)];
        let n = 7;
        let mut dense = DMatrix::<f64>::identity(n, n) * 4.0;
        for (i, &(a, b)) in pattern.iter().enumerate() {
            dense[(a, b)] = -0.3 - 0.1 * i as f64;
            dense[(b, a)] = -0.7 + 0.1 * i as f64;
        }
        let mut sparse = SparseLu::new(n, &pattern);
        for row in 0..n {
            for column in 0..n {
                if dense[(row, column)] != 0.0 {
                    let at = sparse.position(row, column).expect("in the pattern");
                    sparse.add_at(at, dense[(row, column)]);
                }
            }
        }
        assert!(sparse.factor());
        let right = DVector::from_fn(n, |i, _| (i as f64 + 1.0).sin());
        let exact = dense.lu().solve(&right).expect("regular");
        let mut x: Vec<f64> = right.iter().copied().collect();
        sparse.solve(&mut x);
        for (a, b) in x.iter().zip(exact.iter()) {
            assert!((a - b).abs() < 1e-13, "{a} {b}");
        }
    }

    #[test]
    fn pivots_of_a_level_touch_none_of_each_other_and_levels_are_few() {
        let n = 50;
        let chain: Vec<_> = (1..n).map(|i| (i - 1, i)).collect();
        let (eliminated, counts) = order(n, &chain);
        let mut rest = &eliminated[..];
        for &count in &counts {
            let (level, after) = rest.split_at(count);
            for (_, touched) in level {
                assert!(level.iter().all(|(state, _)| !touched.contains(state)));
            }
            rest = after;
        }
        assert!(rest.is_empty());
        // one after the other from both ends would be 25 levels, without fill-in 3 n - 2 entries
        assert!(counts.len() < 12, "{counts:?}");
        let entries = SparseLu::<f64>::new(n, &chain).values.len();
        assert!(entries < 5 * n, "{entries}");
    }

    #[test]
    fn a_vanishing_pivot_is_reported() {
        let mut matrix = SparseLu::<f64>::new(2, &[(0, 1)]);
        assert!(!matrix.factor());
    }
}
