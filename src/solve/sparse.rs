//! Elimination on a fixed sparse pattern.
//!
//! A thermal network couples each node to a few others, and the pattern never changes during a
//! run. So the order of elimination and every fill-in are found once; a factorisation is then a
//! walk over precomputed index lists, O(n) for chains and trees.

/// A square matrix with a fixed pattern, and its factors.
#[derive(Debug, Clone)]
pub struct SparseLu {
    n: usize,
    /// Position of (row, column) in `values`, for entries of the given pattern.
    entries: Vec<((usize, usize), usize)>,
    values: Vec<f64>,
    pivots: Vec<Pivot>,
    /// What pivots touch, one after the other.
    touched: Vec<Touched>,
    /// Positions of (row, column) for each pair of touched states of a pivot, row by row.
    targets: Vec<usize>,
}

/// State to eliminate.
#[derive(Debug, Clone, Copy)]
struct Pivot {
    state: usize,
    diagonal: usize,
    /// Its part of what pivots touch.
    first: usize,
    end: usize,
    /// Its first target.
    target: usize,
}

/// State that eliminating another one touches.
#[derive(Debug, Clone, Copy)]
struct Touched {
    state: usize,
    /// Position of (state, pivot).
    below: usize,
    /// Position of (pivot, state).
    right: usize,
}

impl SparseLu {
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
        let mut position = std::collections::BTreeMap::new();
        let mut place = |row: usize, column: usize| {
            let next = position.len();
            *position.entry((row, column)).or_insert(next)
        };
        let mut left: std::collections::BTreeSet<usize> = (0..n).collect();
        let mut pivots = Vec::with_capacity(n);
        let (mut touched, mut targets) = (Vec::new(), Vec::new());
        while let Some(&k) = left.iter().min_by_key(|&&i| (neighbours[i].len(), i)) {
            left.remove(&k);
            let around: Vec<usize> = neighbours[k].iter().copied().collect();
            let (first, target) = (touched.len(), targets.len());
            let diagonal = place(k, k);
            touched.extend(around.iter().map(|&state| Touched {
                state,
                below: place(state, k),
                right: place(k, state),
            }));
            let pairs = around
                .iter()
                .flat_map(|&i| around.iter().map(move |&j| (i, j)));
            targets.extend(pairs.map(|(i, j)| place(i, j)));
            pivots.push(Pivot {
                state: k,
                diagonal,
                first,
                end: touched.len(),
                target,
            });
            for &i in &around {
                neighbours[i].remove(&k);
                for &j in &around {
                    if i != j {
                        neighbours[i].insert(j);
                    }
                }
            }
        }
        let values = vec![0.0; position.len()];
        Self {
            n,
            entries: position.into_iter().collect(),
            values,
            pivots,
            touched,
            targets,
        }
    }

    /// Position of an entry for [`SparseLu::add_at`]; `None` outside pattern and fill-in.
    pub fn position(&self, row: usize, column: usize) -> Option<usize> {
        let found = self
            .entries
            .binary_search_by_key(&(row, column), |(place, _)| *place);
        found.ok().map(|i| self.entries[i].1)
    }

    /// Sets all entries to zero.
    pub fn clear(&mut self) {
        self.values.fill(0.0);
    }

    /// Adds to the entry at a position.
    #[inline]
    pub fn add_at(&mut self, position: usize, value: f64) {
        self.values[position] += value;
    }

    /// Factors in place, without pivoting: made for matrices with a dominant diagonal.
    ///
    /// Returns false when a pivot vanishes or is not finite.
    pub fn factor(&mut self) -> bool {
        for p in &self.pivots {
            let diagonal = self.values[p.diagonal];
            if diagonal == 0.0 || !diagonal.is_finite() {
                return false;
            }
            let inverse = 1.0 / diagonal;
            self.values[p.diagonal] = inverse;
            let touched = &self.touched[p.first..p.end];
            let targets = &self.targets[p.target..p.target + touched.len() * touched.len()];
            for (row, targets) in touched
                .iter()
                .zip(targets.chunks_exact(touched.len().max(1)))
            {
                let factor = self.values[row.below] * inverse;
                self.values[row.below] = factor;
                for (column, &target) in touched.iter().zip(targets) {
                    self.values[target] -= factor * self.values[column.right];
                }
            }
        }
        true
    }

    /// Solves in place with the factors.
    pub fn solve(&self, x: &mut [f64]) {
        debug_assert!(x.len() >= self.n);
        for p in &self.pivots {
            let value = x[p.state];
            for row in &self.touched[p.first..p.end] {
                x[row.state] -= self.values[row.below] * value;
            }
        }
        for p in self.pivots.iter().rev() {
            let mut value = x[p.state];
            for column in &self.touched[p.first..p.end] {
                value -= self.values[column.right] * x[column.state];
            }
            x[p.state] = value * self.values[p.diagonal];
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
        assert_eq!(SparseLu::new(n, &chain).values.len(), 3 * n - 2);
    }

    #[test]
    fn a_vanishing_pivot_is_reported() {
        let mut matrix = SparseLu::new(2, &[(0, 1)]);
        assert!(!matrix.factor());
    }
}
