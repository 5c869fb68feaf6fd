//! Latin hypercube samples whose columns are found by name.
//!
//! Latin hypercube rather than a quasi-random sequence: a build has hundreds of uncertain keys and
//! some hundred draws, too few for the even filling of a sequence in that many dimensions, while
//! each single key is still covered evenly. And each column depends on its name alone, so that
//! options with different keys share the columns of the keys that they share.

use std::collections::BTreeMap;

use rand_pcg::Pcg64;
use rand_pcg::rand_core::{Rng, SeedableRng};
use sha2::{Digest, Sha256};

/// A sample: for each key, one quantile in each of as many equal strata as there are draws.
///
/// # Source
/// McKay, Beckman and Conover 1979, Technometrics 21, 239.
#[derive(Debug, Clone)]
pub struct LatinHypercube {
    draws: usize,
    seed: u64,
    columns: BTreeMap<String, Vec<f64>>,
}

impl LatinHypercube {
    /// A sample of `draws` with the columns of `keys` made ahead.
    pub fn new<'k>(draws: usize, seed: u64, keys: impl IntoIterator<Item = &'k str>) -> Self {
        let mut columns = BTreeMap::new();
        for key in keys {
            if !columns.contains_key(key) {
                columns.insert(key.to_owned(), column(draws, seed, key));
            }
        }
        Self {
            draws,
            seed,
            columns,
        }
    }

    /// Number of draws.
    pub fn draws(&self) -> usize {
        self.draws
    }

    /// Quantile of `key` in a draw, above 0 and below 1 [-]; the middle past the last draw.
    pub fn quantile(&self, key: &str, draw: usize) -> f64 {
        let found = match self.columns.get(key) {
            Some(column) => column.get(draw).copied(),
            // a key that only some draws have: the same column as if it had been made ahead
            None => column(self.draws, self.seed, key).get(draw).copied(),
        };
        found.unwrap_or(0.5)
    }
}

/// The column of a key: a point in each stratum, strata in an order of its own.
fn column(draws: usize, seed: u64, key: &str) -> Vec<f64> {
    let mut digest = Sha256::new();
    digest.update(seed.to_le_bytes());
    digest.update(key.as_bytes());
    let mut random = Pcg64::from_seed(digest.finalize().into());
    let mut strata: Vec<usize> = (0..draws).collect();
    for i in (1..draws).rev() {
        strata.swap(i, below(&mut random, i + 1));
    }
    strata
        .into_iter()
        .map(|stratum| (stratum as f64 + inside(&mut random)) / draws as f64)
        .collect()
}

/// A whole number below `bound`; the bias of the product is below 2^-40 for any size that fits here.
fn below(random: &mut Pcg64, bound: usize) -> usize {
    let wide = u128::from(random.next_u64()) * bound as u128;
    (wide >> 64) as usize
}

/// A number above 0 and below 1: the middles of 2^52 equal steps.
fn inside(random: &mut Pcg64) -> f64 {
    ((random.next_u64() >> 12) as f64 + 0.5) / (1u64 << 52) as f64
}
