//! A Rosenbrock W-method: linearly implicit, exact to its order with any approximate Jacobian.
//!
//! ROS34PW2, four stages, order 3(2), stiffly accurate, L-stable: J. Rang and L. Angermann,
//! *New Rosenbrock W-methods of order 3 for partial differential algebraic equations of index 1*,
//! BIT 45 (2005) 761-787, table 4.2 (digits from memory; the order conditions are tested below).
//! Because the order conditions hold for every matrix W, the Jacobian may leave out weak couplings
//! and the derivative by time: that costs steps, never accuracy.

use super::error::SolveError;
use super::integrator::{Tolerance, Work, not_finite};
use super::sparse::SparseLu;
use super::system::{System, first_not_finite};

const STAGES: usize = 4;
const GAMMA: f64 = 4.358_665_215_084_59e-1;
const ALPHA: [[f64; STAGES]; STAGES] = [
    [0.0; STAGES],
    [8.717_330_430_169_18e-1, 0.0, 0.0, 0.0],
    [
        8.445_706_001_536_942e-1,
        -1.129_906_423_648_418_5e-1,
        0.0,
        0.0,
    ],
    [0.0, 0.0, 1.0, 0.0],
];
const COUPLING: [[f64; STAGES]; STAGES] = [
    [0.0; STAGES],
    [-8.717_330_430_169_18e-1, 0.0, 0.0, 0.0],
    [
        -9.033_805_701_304_408e-1,
        5.418_067_238_809_532_6e-2,
        0.0,
        0.0,
    ],
    [
        2.421_238_070_609_534_6e-1,
        -1.223_250_583_904_514_7,
        5.452_602_553_351_021e-1,
        0.0,
    ],
];
const WEIGHT: [f64; STAGES] = [
    2.421_238_070_609_534_6e-1,
    -1.223_250_583_904_514_7,
    1.545_260_255_335_102,
    GAMMA,
];
const WEIGHT_LOW: [f64; STAGES] = [
    3.781_090_314_581_937e-1,
    -9.604_229_221_242_318e-2,
    0.5,
    2.179_332_607_542_295e-1,
];
/// Order of the embedded method plus one.
const ERROR_ORDER: f64 = 3.0;
const SAFETY: f64 = 0.85;
const SHRINK: f64 = 0.2;
const GROW: f64 = 4.0;
/// Steps below this share of the time are lost in rounding.
const SMALLEST_STEP: f64 = 1e-12;

/// The method in the variables `U = h Gamma K` (Hairer and Wanner 1996, eq. IV.7.25), which spares the
/// products of W with the stages.
#[derive(Debug, Clone, Copy)]
struct Transformed {
    /// States at which the rates are asked for: `alpha Gamma^-1`.
    state: [[f64; STAGES]; STAGES],
    /// What stages hand on to later ones, over h: `I / gamma - Gamma^-1`.
    hand_on: [[f64; STAGES]; STAGES],
    /// Times of the stages: sums of alpha.
    time: [f64; STAGES],
    /// New state: `b Gamma^-1`.
    new: [f64; STAGES],
    /// New state less that of the embedded method.
    error: [f64; STAGES],
}

impl Transformed {
    fn new() -> Self {
        // Gamma is lower triangular with one number on its diagonal: forward substitution
        let inverse_columns: [[f64; STAGES]; STAGES] = std::array::from_fn(|column| {
            let mut x = [0.0; STAGES];
            for (row, coupling) in COUPLING.iter().enumerate().skip(column) {
                let known: f64 = coupling.iter().zip(&x).map(|(c, x)| c * x).sum();
                x[row] = (f64::from(row == column) - known) / GAMMA;
            }
            x
        });
        let times_inverse = |row: &[f64; STAGES]| -> [f64; STAGES] {
            inverse_columns.map(|column| row.iter().zip(&column).map(|(a, b)| a * b).sum())
        };
        let difference = std::array::from_fn(|i| WEIGHT[i] - WEIGHT_LOW[i]);
        Self {
            state: std::array::from_fn(|i| times_inverse(&ALPHA[i])),
            hand_on: std::array::from_fn(|i| {
                std::array::from_fn(|j| if i == j { 0.0 } else { -inverse_columns[j][i] })
            }),
            time: std::array::from_fn(|i| ALPHA[i].iter().sum()),
            new: times_inverse(&WEIGHT),
            error: times_inverse(&difference),
        }
    }
}

/// What bounds a march.
pub(super) struct Settings {
    /// Error allowed per step.
    pub tolerance: Tolerance,
    /// Steps tried before giving up.
    pub step_limit: u64,
}

/// Work space for a system; made once, used for a whole run.
#[derive(Debug, Clone)]
pub(super) struct Rosenbrock {
    matrix: SparseLu,
    /// Where each coupling of the system goes.
    positions: Vec<usize>,
    diagonal: Vec<usize>,
    couplings: Vec<f64>,
    stage: [Vec<f64>; STAGES],
    probe: Vec<f64>,
    start: Vec<f64>,
    rate: Vec<f64>,
    /// Error allowed in each state over the absolute tolerance.
    scale: Vec<f64>,
    method: Transformed,
    implicit: usize,
}

impl Rosenbrock {
    /// Work space for a system.
    pub(super) fn new<S: System>(system: &S) -> Self {
        let n = system.len();
        let implicit = system.implicit_states();
        let pattern = system.couplings();
        let matrix = SparseLu::new(implicit, &pattern);
        let at = |row, column| matrix.position(row, column).unwrap_or(0);
        Self {
            positions: pattern
                .iter()
                .map(|&(row, column)| at(row, column))
                .collect(),
            diagonal: (0..implicit).map(|i| at(i, i)).collect(),
            couplings: vec![0.0; pattern.len()],
            stage: std::array::from_fn(|_| vec![0.0; n]),
            probe: vec![0.0; n],
            start: vec![0.0; n],
            rate: vec![0.0; n],
            scale: (0..n).map(|i| system.tolerance_scale(i)).collect(),
            method: Transformed::new(),
            matrix,
            implicit,
        }
    }

    /// Whether this work space was made for a system of this size.
    pub(super) fn fits<S: System>(&self, system: &S) -> bool {
        self.probe.len() == system.len() && self.implicit == system.implicit_states()
    }

    /// Advances `y` from `t0` to `t1`.
    pub(super) fn advance<S: System>(
        &mut self,
        settings: Settings,
        remembered_step_s: &mut Option<f64>,
        work: &mut Work,
        system: &mut S,
        (t0, t1): (f64, f64),
        y: &mut [f64],
    ) -> Result<(), SolveError> {
        let Settings {
            tolerance,
            step_limit,
        } = settings;
        let mut t = t0;
        let mut step = remembered_step_s.unwrap_or(0.1 * (t1 - t0)).min(t1 - t0);
        let mut tried = 0;
        let before = *work;
        self.start.copy_from_slice(y);
        let result = loop {
            let left = t1 - t;
            if left <= SMALLEST_STEP * t1.abs().max(1.0) {
                break Ok(());
            }
            let last = step >= 0.999 * left;
            // two equal steps rather than a long one and a sliver
            let h = if last {
                left
            } else {
                if left < 2.0 * step { 0.5 * left } else { step }
            };
            if tried >= step_limit {
                break Err(self.give_up(system, t, y, (before, *work), true));
            }
            tried += 1;
            let error = match self.step(system, t, h, y, tolerance, work) {
                Ok(error) => error,
                Err(e) => break Err(e),
            };
            let factor = (SAFETY * error.max(1e-8).powf(-1.0 / ERROR_ORDER)).clamp(SHRINK, GROW);
            if error <= 1.0 {
                work.steps += 1;
                y.copy_from_slice(&self.probe);
                t = if last { t1 } else { t + h };
                // a step cut short by the interval's end says nothing against the longer one
                step = if last {
                    (h * factor).max(step)
                } else {
                    h * factor
                };
            } else {
                work.rejected += 1;
                step = h * factor.min(0.9);
                if step <= SMALLEST_STEP * t.abs().max(1.0) {
                    break Err(self.give_up(system, t, y, (before, *work), false));
                }
            }
        };
        match result {
            Ok(()) => *remembered_step_s = Some(step.max(SMALLEST_STEP)),
            Err(_) => y.copy_from_slice(&self.start),
        }
        result
    }

    /// One step into `self.probe`; returns its error in units of the tolerance.
    fn step<S: System>(
        &mut self,
        system: &mut S,
        t: f64,
        h: f64,
        y: &[f64],
        tolerance: Tolerance,
        work: &mut Work,
    ) -> Result<f64, SolveError> {
        system.rates(t, y, &mut self.rate);
        work.rhs_calls += 1;
        if let Some(i) = first_not_finite(&self.rate) {
            return Err(not_finite(system, i, t, y[i], self.rate[i]));
        }
        // W right after the rates, so that a system can use what the call left behind
        system.coupling_rates(t, y, &mut self.couplings);
        work.jacobians += 1;
        self.matrix.clear();
        // (I / (h gamma) - W) U = right-hand side, times h gamma
        let scale = -h * GAMMA;
        for (&at, &rate) in self.positions.iter().zip(&self.couplings) {
            self.matrix.add_at(at, scale * rate);
        }
        for &at in &self.diagonal {
            self.matrix.add_at(at, 1.0);
        }
        work.factorisations += 1;
        if !self.matrix.factor() {
            return Ok(f64::INFINITY);
        }
        let method = self.method;
        for i in 0..STAGES {
            if i > 0 {
                let (done, _) = self.stage.split_at(i);
                combine(&mut self.probe, y, done, &method.state[i]);
                system.rates(t + method.time[i] * h, &self.probe, &mut self.rate);
                work.rhs_calls += 1;
                if first_not_finite(&self.rate).is_some() {
                    return Ok(f64::INFINITY);
                }
            }
            let (done, rest) = self.stage.split_at_mut(i);
            let stage = &mut rest[0];
            combine(stage, &self.rate, done, &method.hand_on[i].map(|c| c / h));
            stage.iter_mut().for_each(|u| *u *= h * GAMMA);
            self.matrix.solve(&mut stage[..self.implicit]);
        }
        combine(&mut self.probe, y, &self.stage, &method.new);
        let mut worst = 0.0_f64;
        for (i, (new, old)) in self.probe.iter().zip(y).enumerate() {
            let parts = self.stage.iter().zip(&method.error);
            let error: f64 = parts.map(|(stage, factor)| factor * stage[i]).sum();
            let allowed = tolerance.allowed(old.abs().max(new.abs()), self.scale[i]);
            // a NaN must not hide behind a larger number
            let share = error.abs() / allowed;
            worst = if share > worst || share.is_nan() {
                share
            } else {
                worst
            };
            if worst.is_nan() {
                break;
            }
        }
        Ok(if worst.is_finite() {
            worst
        } else {
            f64::INFINITY
        })
    }

    fn give_up<S: System>(
        &mut self,
        system: &mut S,
        t: f64,
        y: &[f64],
        (before, now): (Work, Work),
        at_limit: bool,
    ) -> SolveError {
        system.rates(t, y, &mut self.rate);
        let fastest = (0..y.len())
            .max_by(|&a, &b| self.rate[a].abs().total_cmp(&self.rate[b].abs()))
            .unwrap_or(0);
        let (state, value, rate) = (system.state_name(fastest), y[fastest], self.rate[fastest]);
        let (steps, rejected) = (now.steps - before.steps, now.rejected - before.rejected);
        if at_limit {
            SolveError::StepLimit {
                time_s: t,
                state,
                value,
                rate,
                steps,
                rejected,
            }
        } else {
            SolveError::StepTooSmall {
                time_s: t,
                state,
                value,
                rate,
                steps,
                rejected,
            }
        }
    }
}

/// `out = base + sum of factor times column`, in one pass over the states.
fn combine(out: &mut [f64], base: &[f64], columns: &[Vec<f64>], factors: &[f64; STAGES]) {
    // the widest registers that this machine has, found when the program runs
    combine_on(pulp::Arch::new(), out, base, columns, factors);
}

fn combine_on(
    registers: pulp::Arch,
    out: &mut [f64],
    base: &[f64],
    columns: &[Vec<f64>],
    factors: &[f64; STAGES],
) {
    registers.dispatch(
        #[inline(always)]
        || match columns {
            [] => out.copy_from_slice(base),
            [a] => weigh(out, base, [a], factors),
            [a, b] => weigh(out, base, [a, b], factors),
            [a, b, c] => weigh(out, base, [a, b, c], factors),
            [a, b, c, d, ..] => weigh(out, base, [a, b, c, d], factors),
        },
    );
}

#[inline(always)]
fn weigh<const N: usize>(
    out: &mut [f64],
    base: &[f64],
    columns: [&Vec<f64>; N],
    factors: &[f64; STAGES],
) {
    let n = out.len();
    let (base, columns) = (&base[..n], columns.map(|c| &c[..n]));
    for i in 0..n {
        let mut sum = base[i];
        for k in 0..N {
            sum += factors[k] * columns[k][i];
        }
        out[i] = sum;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Order conditions of a W-method up to order 3: Hairer and Wanner 1996, *Solving Ordinary
    /// Differential Equations II*, sec. IV.7 (trees with any placing of the approximate Jacobian).
    #[test]
    fn verify_the_order_conditions_for_any_jacobian() {
        let gamma = |i: usize, j: usize| if i == j { GAMMA } else { COUPLING[i][j] };
        let alpha_sum = |i: usize| -> f64 { ALPHA[i].iter().sum() };
        let gamma_sum = |i: usize| -> f64 { (0..STAGES).map(|j| gamma(i, j)).sum() };
        let weighted = |f: &dyn Fn(usize) -> f64, b: [f64; STAGES]| -> f64 {
            (0..STAGES).map(|i| b[i] * f(i)).sum()
        };
        let nested = |outer: &dyn Fn(usize, usize) -> f64, inner: &dyn Fn(usize) -> f64| -> f64 {
            (0..STAGES)
                .flat_map(|i| (0..STAGES).map(move |j| (i, j)))
                .map(|(i, j)| WEIGHT[i] * outer(i, j) * inner(j))
                .sum()
        };
        let conditions = [
            (weighted(&|_| 1.0, WEIGHT), 1.0),
            (weighted(&alpha_sum, WEIGHT), 1.0 / 2.0),
            (weighted(&gamma_sum, WEIGHT), 0.0),
            (weighted(&|i| alpha_sum(i).powi(2), WEIGHT), 1.0 / 3.0),
            (nested(&|i, j| ALPHA[i][j], &alpha_sum), 1.0 / 6.0),
            (nested(&|i, j| ALPHA[i][j], &gamma_sum), 0.0),
            (nested(&gamma, &alpha_sum), 0.0),
            (nested(&gamma, &gamma_sum), 0.0),
            (weighted(&|_| 1.0, WEIGHT_LOW), 1.0),
            (weighted(&alpha_sum, WEIGHT_LOW), 1.0 / 2.0),
            (weighted(&gamma_sum, WEIGHT_LOW), 0.0),
        ];
        for (i, (got, want)) in conditions.into_iter().enumerate() {
            assert!(
                (got - want).abs() < 1e-12,
                "condition {i}: {got} is not {want}"
            );
        }
        // stiffly accurate: the last stage ends at the new state
        for j in 0..STAGES {
            assert!((ALPHA[3][j] + gamma(3, j) - WEIGHT[j]).abs() < 1e-12);
        }
    }

    #[test]
    fn wide_registers_give_the_numbers_of_one_at_a_time() {
        let column = |k: usize| (0..53).map(|i| ((i * 7 + k * 13) as f64).sin()).collect();
        let columns: Vec<Vec<f64>> = (1..=STAGES).map(column).collect();
        let base: Vec<f64> = column(0);
        for count in 0..=STAGES {
            let on = |registers| {
                let mut out = vec![f64::NAN; base.len()];
                combine_on(registers, &mut out, &base, &columns[..count], &WEIGHT);
                out
            };
            assert_eq!(on(pulp::Arch::new()), on(pulp::Arch::Scalar));
        }
    }
}
