//! A Rosenbrock W-method: linearly implicit, exact to its order with any approximate Jacobian.
//!
//! Coefficients and their sources are in [`tableau`](super::tableau). Because the order conditions hold for every matrix
//! W, the Jacobian may leave out weak couplings and the derivative by time: that costs steps, never accuracy.

use std::ops::Range;

use super::error::SolveError;
use super::integrator::{Settings, Tolerance, Work, not_finite};
use super::sparse::SparseLu;
use super::system::{System, first_not_finite};
use super::tableau::{STAGES, Tableau, Transformed};
use crate::number::{Number, on, turn_by_turn, widest};

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
    pub(super) fn new<S: System<N>>(system: &S, tableau: &Tableau) -> Self {
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
            method: Transformed::new(tableau),
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
                self.method.error_order
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
            if (1..self.method.calls).contains(&i) {
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
        combine(
            &mut self.probe,
            y,
            &self.stage,
            &self.method.plain_new,
            &rest,
        );
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
                matrix.add_all(&self.positions, &self.couplings, -h * self.method.gamma);
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
                    *u = *u * (h * self.method.gamma);
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
                    &[0.25, -1.5, 3.0, 0.125],
                    &(0..53),
                );
                out
            };
            assert_eq!(on(pulp::Arch::new()), on(pulp::Arch::Scalar));
        }
    }
}
