//! Simple predictors of the intake sensor's rise over ambient, to compare the model with.

use nalgebra::{DMatrix, DVector};

use baysoak::cycle::{EngineState, Load};
use baysoak::study::fit::{Drive, SETTLING_S};

/// Lags of signals [s].
const LAGS_S: [usize; 5] = [1, 2, 3, 4, 6];
/// Time constants of smoothed signals [s].
const SMOOTH_S: [f64; 7] = [2.0, 5.0, 10.0, 20.0, 60.0, 180.0, 600.0];
/// Boosted trees: rounds, share of each taken, depth, least rows in a leaf, bins of a feature.
const ROUNDS: usize = 200;
const RATE: f64 = 0.06;
const DEPTH: usize = 5;
const LEAST_ROWS: usize = 70;
const BINS: usize = 48;
/// Every so many rows train the trees: rows a second apart hardly differ.
const EVERY: usize = 3;

/// Rows of a drive that count: features and measured rise [K].
pub struct Table {
    pub rows: Vec<Vec<f64>>,
    pub rise_k: Vec<f64>,
}

fn signals(drive: &Drive, t: f64) -> Option<[f64; 6]> {
    let d = drive.cycle.at(t)?;
    let flow = match d.load {
        Load::AirFlow(flow) if d.engine == EngineState::Running => flow * 1e3,
        _ => 0.0,
    };
    let pressure = d.manifold_pa.unwrap_or(1e5) / 1e3;
    let (coolant, ambient) = (d.coolant_k.unwrap_or(363.0), d.ambient_k?);
    Some([
        d.speed_m_s,
        d.rpm.unwrap_or(0.0) / 100.0,
        flow,
        pressure,
        coolant,
        ambient,
    ])
}

/// Features from the signals now, lagged and smoothed, and from the drive's own first minute.
pub fn table(drive: &Drive) -> Table {
    let channel = drive.sensor().expect("an intake sensor");
    let mut out = Table {
        rows: Vec::new(),
        rise_k: Vec::new(),
    };
    let first: Vec<f64> = (0..channel.time_s.len())
        .filter(|&i| (30.0..SETTLING_S).contains(&channel.time_s[i]))
        .filter_map(|i| Some(channel.value_k[i] - signals(drive, channel.time_s[i])?[5]))
        .collect();
    let start = first.iter().sum::<f64>() / first.len().max(1) as f64;
    let mut past: Vec<[f64; 6]> = Vec::new();
    let mut smooth: Vec<[f64; 6]> = Vec::new();
    let mut off = 0.0;
    for (i, &t) in channel.time_s.iter().enumerate() {
        let Some(now) = signals(drive, t) else {
            continue;
        };
        if smooth.is_empty() {
            smooth = vec![now; SMOOTH_S.len()];
        }
        for (s, tau) in smooth.iter_mut().zip(SMOOTH_S) {
            let w = 1.0 - (-1.0 / tau).exp();
            s.iter_mut().zip(now).for_each(|(s, n)| *s += w * (n - *s));
        }
        off += (1.0 - (-1.0_f64 / 300.0).exp()) * (f64::from(u8::from(now[2] <= 0.0)) - off);
        past.push(now);
        if !channel.usable[i] || t <= SETTLING_S {
            continue;
        }
        let mut row = vec![start, start * (-t / 300.0).exp(), t / 1e3, off];
        row.extend(now);
        row.extend(smooth.iter().flat_map(|s| s.iter().take(5)));
        for lag in LAGS_S {
            let then = past[past.len().saturating_sub(1 + lag)];
            row.extend([then[1], then[2], then[3]]);
        }
        out.rows.push(row);
        out.rise_k.push(channel.value_k[i] - now[5]);
    }
    out
}

/// Ridge regression, its penalty chosen on drives kept apart among those it may see.
pub struct Ridge {
    mean: Vec<f64>,
    scale: Vec<f64>,
    weights: DVector<f64>,
    level: f64,
}

impl Ridge {
    pub fn train(seen: &[&Table]) -> Self {
        let penalty = (0..11)
            .map(|i| 10f64.powf(f64::from(i) * 0.5))
            .map(|p| {
                let folds = (0..4).map(|fold| {
                    let part = |own: bool| -> Vec<&Table> {
                        let all = seen.iter().enumerate();
                        all.filter(|(i, _)| (i % 4 == fold) == own)
                            .map(|(_, t)| *t)
                            .collect()
                    };
                    let ridge = Self::with(&part(false), p);
                    part(true)
                        .iter()
                        .map(|t| squares(t, &|r| ridge.predict(r)))
                        .sum::<f64>()
                });
                (folds.sum::<f64>(), p)
            })
            .min_by(|a, b| a.0.total_cmp(&b.0))
            .map_or(1.0, |(_, p)| p);
        Self::with(seen, penalty)
    }

    fn with(seen: &[&Table], penalty: f64) -> Self {
        let rows: Vec<&Vec<f64>> = seen.iter().flat_map(|t| &t.rows).collect();
        let (n, k) = (
            rows.len().max(1) as f64,
            rows.first().map_or(0, |r| r.len()),
        );
        let mean: Vec<f64> = (0..k)
            .map(|j| rows.iter().map(|r| r[j]).sum::<f64>() / n)
            .collect();
        let scale: Vec<f64> = (0..k)
            .map(|j| {
                (rows.iter().map(|r| (r[j] - mean[j]).powi(2)).sum::<f64>() / n)
                    .sqrt()
                    .max(1e-9)
            })
            .collect();
        let level = seen.iter().flat_map(|t| &t.rise_k).sum::<f64>() / n;
        let mut a = DMatrix::identity(k, k) * penalty;
        let mut b = DVector::zeros(k);
        for (r, y) in rows.iter().zip(seen.iter().flat_map(|t| &t.rise_k)) {
            let z = DVector::from_iterator(k, (0..k).map(|j| (r[j] - mean[j]) / scale[j]));
            a.ger(1.0, &z, &z, 1.0);
            b.axpy(y - level, &z, 1.0);
        }
        let weights = a.cholesky().expect("a penalty makes it definite").solve(&b);
        Self {
            mean,
            scale,
            weights,
            level,
        }
    }

    pub fn predict(&self, row: &[f64]) -> f64 {
        let terms = row
            .iter()
            .zip(&self.mean)
            .zip(&self.scale)
            .zip(self.weights.iter());
        self.level + terms.map(|(((v, m), s), w)| (v - m) / s * w).sum::<f64>()
    }
}

enum Tree {
    Leaf(f64),
    Split(usize, f64, Box<Tree>, Box<Tree>),
}

impl Tree {
    fn at(&self, row: &[f64]) -> f64 {
        match self {
            Self::Leaf(v) => *v,
            Self::Split(j, limit, low, high) => if row[*j] <= *limit { low } else { high }.at(row),
        }
    }
}

/// Gradient-boosted regression trees on binned features.
pub struct Trees {
    level: f64,
    trees: Vec<Tree>,
}

struct Binned<'a> {
    rows: Vec<&'a Vec<f64>>,
    bins: Vec<Vec<u8>>,
    edges: Vec<Vec<f64>>,
}

impl Trees {
    pub fn train(seen: &[&Table]) -> Self {
        let rows: Vec<&Vec<f64>> = seen.iter().flat_map(|t| &t.rows).step_by(EVERY).collect();
        let rise: Vec<f64> = seen
            .iter()
            .flat_map(|t| &t.rise_k)
            .step_by(EVERY)
            .copied()
            .collect();
        let level = rise.iter().sum::<f64>() / rise.len().max(1) as f64;
        let features = rows.first().map_or(0, |r| r.len());
        let edges: Vec<Vec<f64>> = (0..features)
            .map(|j| {
                let mut v: Vec<f64> = rows.iter().map(|r| r[j]).collect();
                v.sort_by(f64::total_cmp);
                let mut e: Vec<f64> = (1..BINS).map(|b| v[b * (v.len() - 1) / BINS]).collect();
                e.dedup();
                e
            })
            .collect();
        let bin = |j: usize| {
            rows.iter()
                .map(|r| edges[j].partition_point(|e| *e < r[j]) as u8)
                .collect()
        };
        let data = Binned {
            bins: (0..features).map(bin).collect(),
            edges: edges.clone(),
            rows,
        };
        let mut left: Vec<f64> = rise.iter().map(|r| r - level).collect();
        let mut trees = Vec::new();
        for _ in 0..ROUNDS {
            let tree = data.grow(&left, (0..left.len()).collect(), DEPTH);
            left.iter_mut()
                .zip(&data.rows)
                .for_each(|(l, r)| *l -= tree.at(r));
            trees.push(tree);
        }
        Self { level, trees }
    }

    pub fn predict(&self, row: &[f64]) -> f64 {
        self.level + self.trees.iter().map(|t| t.at(row)).sum::<f64>()
    }
}

impl Binned<'_> {
    fn grow(&self, left: &[f64], own: Vec<usize>, depth: usize) -> Tree {
        let sum: f64 = own.iter().map(|&i| left[i]).sum();
        let leaf = || Tree::Leaf(RATE * sum / own.len().max(1) as f64);
        if depth == 0 || own.len() < 2 * LEAST_ROWS {
            return leaf();
        }
        let mut best: Option<(f64, usize, usize)> = None;
        for (j, bins) in self.bins.iter().enumerate() {
            let mut sums = [(0.0, 0_usize); BINS];
            for &i in &own {
                let s = &mut sums[usize::from(bins[i])];
                *s = (s.0 + left[i], s.1 + 1);
            }
            let (mut low, mut count) = (0.0, 0);
            for (b, s) in sums.iter().enumerate().take(self.edges[j].len()) {
                low += s.0;
                count += s.1;
                let rest = own.len() - count;
                if count < LEAST_ROWS || rest < LEAST_ROWS {
                    continue;
                }
                let high: f64 = sum - low;
                let gain = low * low / count as f64 + high * high / rest as f64;
                if best.is_none_or(|(g, _, _)| gain > g) {
                    best = Some((gain, j, b));
                }
            }
        }
        let Some((_, j, b)) = best else { return leaf() };
        let (low, high) = own
            .iter()
            .partition(|&&i| usize::from(self.bins[j][i]) <= b);
        let branch = |part| Box::new(self.grow(left, part, depth - 1));
        Tree::Split(j, self.edges[j][b], branch(low), branch(high))
    }
}

/// Sum of squared errors over a drive.
pub fn squares(table: &Table, predict: &dyn Fn(&[f64]) -> f64) -> f64 {
    let pairs = table.rows.iter().zip(&table.rise_k);
    pairs.map(|(r, y)| (predict(r) - y).powi(2)).sum()
}
