//! Elimination on a fixed sparse pattern.
//!
//! A thermal network couples each node to a few others, and the pattern never changes during a
//! run. So the order of elimination and every fill-in are found once; a factorisation is then a
//! walk over precomputed index lists, O(n) for chains and trees.

use crate::number::Number;

/// A square matrix with a fixed pattern, and its factors.
#[derive(Debug, Clone)]
pub struct SparseLu<N = f64> {
    n: usize,
    /// Position of (row, column) in `values`, pattern and fill-in, in order.
    entries: Vec<((usize, usize), usize)>,
    /// Diagonal, then what stands below each pivot, then what stands right of it (over the pivot once factored), each in
    /// the order of elimination.
    values: Vec<N>,
    pivots: Vec<Pivot>,
    /// States that eliminating touches, one pivot after the other.
    touched: Vec<u32>,
    /// The state eliminated there.
    owner: Vec<u32>,
    /// Inverse of each state's pivot.
    inverse: Vec<N>,
    /// What a pivot takes from the rest, one after the other.
    updates: Vec<Update>,
}

/// Less its product of an entry below the pivot and one right of it.
#[derive(Debug, Clone, Copy)]
struct Update {
    target: u32,
    below: u32,
    right: u32,
}

/// State to eliminate.
#[derive(Debug, Clone, Copy)]
struct Pivot {
    state: usize,
    /// Its part of what pivots touch.
    first: usize,
    end: usize,
    /// End of its updates.
    updates: usize,
}

impl<N: Number> SparseLu<N> {
    /// Finds order and fill-in for a pattern of (row, column) pairs; the diagonal is always there.
    ///
    /// The pattern is made symmetric. States are eliminated by least degree (Markowitz 1957).
    pub fn new(n: usize, pattern: &[(usize, usize)]) -> Self {
        let mut neighbours = vec![std::collections::BTreeSet::new(); n];
        for &(a, b) in pattern {
            if a != b {
                neighbours[a].insert(b);
                neighbours[b].insert(a);
            }
        }
        let mut left: std::collections::BTreeSet<usize> = (0..n).collect();
        let mut eliminated = Vec::with_capacity(n);
        while let Some(&k) = left.iter().min_by_key(|&&i| (neighbours[i].len(), i)) {
            left.remove(&k);
            let around: Vec<usize> = neighbours[k].iter().copied().collect();
            for &i in &around {
                neighbours[i].remove(&k);
                for &j in &around {
                    if i != j {
                        neighbours[i].insert(j);
                    }
                }
            }
            eliminated.push((k, around));
        }
        let count: usize = eliminated.iter().map(|(_, around)| around.len()).sum();
        let mut position = std::collections::BTreeMap::new();
        let mut pivots = Vec::with_capacity(n);
        let (mut first, mut updates) = (0, 0);
        for (rank, (state, around)) in eliminated.iter().enumerate() {
            position.insert((*state, *state), rank);
            for (i, &row) in (first..).zip(around) {
                position.insert((row, *state), n + i);
                position.insert((*state, row), n + count + i);
            }
            let end = first + around.len();
            updates += around.len() * around.len();
            pivots.push(Pivot {
                state: *state,
                first,
                end,
                updates,
            });
            first = end;
        }
        let pairs = eliminated.iter().flat_map(|(state, around)| {
            let pairs = around
                .iter()
                .flat_map(|&i| around.iter().map(move |&j| (i, j)));
            pairs.map(move |(i, j)| ((i, j), (i, *state), (*state, j)))
        });
        // what two neighbours of a pivot share is there: both are eliminated after it
        let at = |pair| position[&pair] as u32;
        let updates = pairs.map(|(target, below, right)| Update {
            target: at(target),
            below: at(below),
            right: at(right),
        });
        let updates = updates.collect();
        let states = eliminated.iter().flat_map(|(_, around)| around);
        let owners = eliminated
            .iter()
            .flat_map(|(state, around)| std::iter::repeat_n(*state as u32, around.len()));
        Self {
            n,
            touched: states.map(|&state| state as u32).collect(),
            owner: owners.collect(),
            inverse: vec![N::default(); n],
            updates,
            values: vec![N::default(); n + 2 * count],
            entries: position.into_iter().collect(),
            pivots,
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

    /// Factors in place, without pivoting: made for matrices with a dominant diagonal.
    ///
    /// Returns false when a pivot vanishes or is not finite.
    #[inline(always)]
    pub fn factor(&mut self) -> bool {
        let right = self.n + self.touched.len();
        let (mut sum, mut done) = (N::default(), 0);
        for (diagonal, p) in self.pivots.iter().enumerate() {
            let value = self.values[diagonal];
            let inverse = N::of(1.0) / value;
            // what is not finite stays so in a sum
            sum += value.abs() + inverse.abs();
            self.inverse[p.state] = inverse;
            for below in &mut self.values[self.n + p.first..self.n + p.end] {
                *below *= inverse;
            }
            for update in &self.updates[done..p.updates] {
                let taken = self.values[update.below as usize] * self.values[update.right as usize];
                self.values[update.target as usize] -= taken;
            }
            done = p.updates;
            for above in &mut self.values[right + p.first..right + p.end] {
                *above *= inverse;
            }
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
        for (x, &inverse) in x.iter_mut().zip(&self.inverse) {
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
    fn a_chain_has_no_fill_in() {
        let n = 50;
        let chain: Vec<_> = (1..n).map(|i| (i - 1, i)).collect();
        assert_eq!(SparseLu::<f64>::new(n, &chain).values.len(), 3 * n - 2);
    }

    #[test]
    fn a_vanishing_pivot_is_reported() {
        let mut matrix = SparseLu::<f64>::new(2, &[(0, 1)]);
        assert!(!matrix.factor());
    }
}
