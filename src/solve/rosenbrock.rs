//! A Rosenbrock W-method: linearly implicit, exact to its order with any approximate Jacobian.
//!
//! ROS34PW2, four stages, order 3(2), stiffly accurate, L-stable: J. Rang and L. Angermann,
//! *New Rosenbrock W-methods of order 3 for partial differential algebraic equations of index 1*,
//! BIT 45 (2005) 761-787, table 4.2 (digits from memory; the order conditions are tested below).
//! Because the order conditions hold for every matrix W, the Jacobian may leave out weak couplings
//! and the derivative by time: that costs steps, never accuracy.

use std::ops::Range;

use super::error::SolveError;
use super::integrator::{Settings, Tolerance, Work, not_finite};
use super::sparse::SparseLu;
use super::system::{System, first_not_finite};
use crate::number::{Number, on, turn_by_turn, widest};

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
/// Power of the step that the error of one thrown away is taken to follow: most are where an interval begins and fast
/// states have yet to take its course, and their error falls by less than the order.
const REJECTED_ORDER: f64 = 2.0;
const SAFETY: f64 = 0.85;
/// A step that nearly reaches the end is stretched to it, since the safety factor leaves room for that; more than the
/// safety factor, or a step thrown away would be stretched to itself.
const REACHES: f64 = 0.9;
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
    /// The same of a state that takes no part in W, over `h K`.
    plain_error: [f64; STAGES],
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
            plain_error: difference,
        }
    }
}

/// Work space for a system; made once, used for a whole run.
#[derive(Debug, Clone)]
pub(super) struct Rosenbrock<N = f64> {
    matrix: SparseLu<N>,
    /// Where each coupling of the system goes.
    positions: Vec<usize>,
    couplings: Vec<N>,
    stage: [Vec<N>; STAGES],
    probe: Vec<N>,
    start: Vec<N>,
    rate: Vec<N>,
    /// Rates at the start of the step.
    first_rate: Vec<N>,
    /// Error allowed in each state over the absolute tolerance.
    scale: Vec<f64>,
    method: Transformed,
    implicit: usize,
    /// Time at which rates and W stand for the step that comes next [s].
    begun_s: Option<f64>,
}

impl<N: Number> Rosenbrock<N> {
    /// Work space for a system.
    pub(super) fn new<S: System<N>>(system: &S) -> Self {
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
            couplings: vec![N::default(); pattern.len()],
            stage: std::array::from_fn(|_| vec![N::default(); n]),
            probe: vec![N::default(); n],
            start: vec![N::default(); n],
            rate: vec![N::default(); n],
            first_rate: vec![N::default(); n],
            scale: (0..n).map(|i| system.tolerance_scale(i)).collect(),
            method: Transformed::new(),
            matrix,
            implicit,
            begun_s: None,
        }
    }

    /// Whether this work space was made for a system of this size.
    pub(super) fn fits<S: System<N>>(&self, system: &S) -> bool {
        self.probe.len() == system.len() && self.implicit == system.implicit_states()
    }

    /// Advances `y` from `t0` to `t1`.
    pub(super) fn advance<S: System<N>>(
        &mut self,
        settings: Settings,
        remembered_step_s: &mut Option<f64>,
        work: &mut Work,
        system: &mut S,
        (t0, t1): (f64, f64),
        y: &mut [N],
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
        let mut stop = t0;
        let result = loop {
            if t1 - t <= SMALLEST_STEP * t1.abs().max(1.0) {
                break Ok(());
            }
            if t >= stop {
                stop = system.next_kink(t, t1);
            }
            let left = stop - t;
            let last = step >= REACHES * left;
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
            // a step thrown away begins where the next one does
            if self.begun_s != Some(t)
                && let Err(e) = self.begin(system, t, y, work)
            {
                break Err(e);
            }
            let error = self.step(system, t, h, y, tolerance, work);
            let accepted = error <= 1.0;
            let order = if accepted {
                ERROR_ORDER
            } else {
                REJECTED_ORDER
            };
            let factor = (SAFETY * error.max(1e-8).powf(-1.0 / order)).clamp(SHRINK, GROW);
            if accepted {
                work.steps += 1;
                self.begun_s = None;
                y.copy_from_slice(&self.probe);
                t = if last { stop } else { t + h };
                // a step cut short by the interval's end says nothing against the longer one
                step = if last {
                    (h * factor).max(step)
                } else {
                    h * factor
                };
            } else {
                work.rejected += 1;
                step = h * factor;
                if step <= SMALLEST_STEP * t.abs().max(1.0) {
                    break Err(self.give_up(system, t, y, (before, *work), false));
                }
            }
        };
        self.begun_s = None;
        match result {
            Ok(()) => *remembered_step_s = Some(step.max(SMALLEST_STEP)),
            Err(_) => y.copy_from_slice(&self.start),
        }
        result
    }

    /// Rates and W at the start of a step; [`Self::advance`] goes on from them when it begins there.
    pub(super) fn begin<S: System<N>>(
        &mut self,
        system: &mut S,
        t: f64,
        y: &[N],
        work: &mut Work,
    ) -> Result<(), SolveError> {
        system.rates(t, y, &mut self.first_rate);
        work.rhs_calls += 1;
        if let Some(i) = first_not_finite(&self.first_rate) {
            let (value, rate) = (y[i].lane(0), self.first_rate[i].lane(0));
            return Err(not_finite(system, i, t, value, rate));
        }
        // W right after the rates, so that a system can use what the call left behind
        system.coupling_rates(t, y, &mut self.couplings);
        work.jacobians += 1;
        self.begun_s = Some(t);
        Ok(())
    }

    /// One step into `self.probe`; returns its error in units of the tolerance, infinite if it is no number.
    fn step<S: System<N>>(
        &mut self,
        system: &mut S,
        t: f64,
        h: f64,
        y: &[N],
        tolerance: Tolerance,
        work: &mut Work,
    ) -> f64 {
        work.factorisations += 1;
        if !self.factor(h) {
            return f64::INFINITY;
        }
        for i in 0..STAGES {
            if i > 0 {
                // what takes no part in W acts on no rate
                let implicit = 0..self.implicit;
                let (done, factors) = (&self.stage[..i], &self.method.state[i]);
                combine(&mut self.probe, y, done, factors, &implicit);
                let t = t + self.method.time[i] * h;
                system.rates(t, &self.probe, &mut self.rate);
                work.rhs_calls += 1;
            }
            self.solve(i, h);
        }
        let [implicit, rest] = self.parts();
        combine(&mut self.probe, y, &self.stage, &self.method.new, &implicit);
        combine(&mut self.probe, y, &self.stage, &WEIGHT, &rest);
        self.error(y, tolerance)
    }

    /// Fills and factors I - h gamma W; false when that can't be.
    fn factor(&mut self, h: f64) -> bool {
        widest(
            #[inline(always)]
            || {
                // (I / (h gamma) - W) U = right-hand side, times h gamma
                self.matrix.set_diagonal(1.0);
                let matrix = &mut self.matrix;
                matrix.add_all(&self.positions, &self.couplings, -h * GAMMA);
                matrix.factor()
            },
        )
    }

    /// Makes a stage of the rates and of the stages before it: `U`, or `h K` of what takes no part in W.
    fn solve(&mut self, stage: usize, h: f64) {
        let (done, rest) = self.stage.split_at_mut(stage);
        let stage_now = &mut rest[0];
        let factors = self.method.hand_on[stage].map(|c| c / h);
        let rate = if stage == 0 {
            &self.first_rate
        } else {
            &self.rate
        };
        combine(stage_now, rate, done, &factors, &(0..self.implicit));
        widest(
            #[inline(always)]
            || {
                let (implicit, rest) = stage_now.split_at_mut(self.implicit);
                for u in implicit.iter_mut() {
                    *u = *u * (h * GAMMA);
                }
                for (k, &rate) in rest.iter_mut().zip(&rate[self.implicit..]) {
                    *k = rate * h;
                }
                self.matrix.solve(implicit);
            },
        );
    }

    /// States that take part in W, and the others.
    fn parts(&self) -> [Range<usize>; 2] {
        [0..self.implicit, self.implicit..self.probe.len()]
    }

    /// Largest error of the new states in units of the tolerance; infinite if one is no number.
    fn error(&mut self, y: &[N], tolerance: Tolerance) -> f64 {
        widest(
            #[inline(always)]
            || {
                let [implicit, rest] = self.parts();
                let method = self.method;
                self.errors(y, tolerance, implicit, &method.error);
                self.errors(y, tolerance, rest, &method.plain_error);
                let (mut worst, mut sum) = ([N::default(); 4], [N::default(); 4]);
                let (chunks, last) = self.rate.as_chunks::<4>();
                for chunk in chunks {
                    turn_by_turn::<N>();
                    for k in 0..4 {
                        worst[k] = chunk[k].max(worst[k]);
                        sum[k] += chunk[k];
                    }
                }
                for &share in last {
                    worst[0] = share.max(worst[0]);
                    sum[0] += share;
                }
                // what is no number hides from a comparison, but not from a sum
                if sum.into_iter().fold(N::default(), N::add).is_finite() {
                    let worst = worst.into_iter().reduce(N::max);
                    worst.map_or(0.0, N::largest)
                } else {
                    f64::INFINITY
                }
            },
        )
    }

    /// The errors of a range of states, whose stages add up to the error by `factors`, in place of their rates.
    #[inline(always)]
    fn errors(
        &mut self,
        y: &[N],
        tolerance: Tolerance,
        range: Range<usize>,
        factors: &[f64; STAGES],
    ) {
        let [a, b, c, d] = self.stage.each_ref().map(|stage| &stage[range.clone()]);
        let stages = a.iter().zip(b).zip(c.iter().zip(d));
        let (new, old) = (&self.probe[range.clone()], &y[range.clone()]);
        let states = new.iter().zip(old).zip(&self.scale[range.clone()]);
        let all = self.rate[range].iter_mut().zip(states.zip(stages));
        for (share, (((&new, &old), &scale), ((&a, &b), (&c, &d)))) in all {
            turn_by_turn::<N>();
            let error = a * factors[0] + b * factors[1] + c * factors[2] + d * factors[3];
            let allowed = tolerance.allowed(old.abs().max(new.abs()), scale);
            *share = error.abs() / allowed;
        }
    }

    fn give_up<S: System<N>>(
        &mut self,
        system: &mut S,
        t: f64,
        y: &[N],
        (before, now): (Work, Work),
        at_limit: bool,
    ) -> SolveError {
        system.rates(t, y, &mut self.rate);
        let fastest = (0..y.len())
            .max_by(|&a, &b| {
                let size = |i: usize| self.rate[i].abs().largest();
                size(a).total_cmp(&size(b))
            })
            .unwrap_or(0);
        let (value, rate) = (y[fastest].lane(0), self.rate[fastest].lane(0));
        let state = system.state_name(fastest);
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

/// `out = base + sum of factor times column` over a range of states, in one pass.
fn combine<N: Number>(
    out: &mut [N],
    base: &[N],
    columns: &[Vec<N>],
    factors: &[f64; STAGES],
    range: &Range<usize>,
) {
    combine_on(pulp::Arch::new(), out, base, columns, factors, range);
}

fn combine_on<N: Number>(
    registers: pulp::Arch,
    out: &mut [N],
    base: &[N],
    columns: &[Vec<N>],
    factors: &[f64; STAGES],
    range: &Range<usize>,
) {
    let (out, base) = (&mut out[range.clone()], &base[range.clone()]);
    on(
        registers,
        #[inline(always)]
        || match columns {
            [] => out.copy_from_slice(base),
            [a] => weigh(out, base, [a].map(|c| &c[range.clone()]), factors),
            [a, b] => weigh(out, base, [a, b].map(|c| &c[range.clone()]), factors),
            [a, b, c] => weigh(out, base, [a, b, c].map(|c| &c[range.clone()]), factors),
            [a, b, c, d, ..] => weigh(out, base, [a, b, c, d].map(|c| &c[range.clone()]), factors),
        },
    );
}

#[inline(always)]
fn weigh<N: Number, const K: usize>(
    out: &mut [N],
    base: &[N],
    columns: [&[N]; K],
    factors: &[f64; STAGES],
) {
    let n = out.len();
    let (base, columns) = (&base[..n], columns.map(|c| &c[..n]));
    for i in 0..n {
        let mut sum = base[i];
        for k in 0..K {
            sum += columns[k][i] * factors[k];
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
                combine_on(
                    registers,
                    &mut out,
                    &base,
                    &columns[..count],
                    &WEIGHT,
                    &(0..53),
                );
                out
            };
            assert_eq!(on(pulp::Arch::new()), on(pulp::Arch::Scalar));
        }
    }
}
