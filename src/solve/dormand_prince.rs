//! Dormand-Prince 5(4), the crate ode_solvers doing the steps.
//!
//! How the crate is used, and why: sparse output, because its dense output extrapolates past the last step; stiffness
//! check off, because it aborts plausible networks; time counted from the start of the interval, so that a late clock
//! does not make its smallest step coarse; states divided by their tolerance scale, because it takes one absolute
//! tolerance for all.

use std::cell::RefCell;

use nalgebra::DVector;
use ode_solvers::dop_shared::IntegrationError;
use ode_solvers::{Dopri5, OutputType};

use super::error::SolveError;
use super::integrator::{Settings, Tolerance, Work, not_finite};
use super::system::{System, first_not_finite};

/// The crate keeps every step it has made; after this many it is started afresh, so memory stays small.
const STEPS_PER_RUN: u64 = 500;
/// Attempts in a row that may leave the range of the rates (too long a step) before it counts as an error.
const BAD_ATTEMPTS: u32 = 8;
/// Safety factor, PI coefficient, least and greatest growth (Hairer, Norsett and Wanner 1993, section II.4; the
/// crate's own defaults).
const CONTROL: (f64, f64, f64, f64) = (0.9, 0.04, 0.2, 10.0);

/// Advances `y` over the interval; `remembered` is the step to start with, and is left for the next interval.
pub(super) fn advance<S: System>(
    settings: Settings,
    remembered: &mut Option<f64>,
    work: &mut Work,
    system: &mut S,
    (t0, t1): (f64, f64),
    y: &mut [f64],
) -> Result<(), SolveError> {
    let n = y.len();
    let scales: Vec<f64> = (0..n).map(|i| system.tolerance_scale(i)).collect();
    let mut start = DVector::from_iterator(n, y.iter().zip(&scales).map(|(v, s)| v / s));
    let (mut tried, mut accepted) = (0, 0);
    let mut t = t0;
    loop {
        let span = t1 - t;
        let first_step = remembered.map_or(0.0, |step| step.min(span));
        // Only a first step of 0 makes the crate look for its own, at two more calls.
        let starting_calls = if first_step == 0.0 { 3 } else { 1 };
        let bridge = RefCell::new(Bridge::new(system, &scales, t, t1));
        let (safety, beta, shrink, grow) = CONTROL;
        let attempts_left = settings.step_limit.saturating_sub(tried);
        if attempts_left == 0 {
            let (state, value, rate) =
                fastest(&settings.tolerance, work, system, t, &start, &scales);
            return Err(SolveError::StepLimit {
                time_s: t,
                state,
                value,
                rate,
                steps: accepted,
                rejected: tried - accepted,
            });
        }
        let mut solver = Dopri5::from_param(
            Handle(&bridge),
            0.0,
            span,
            span,
            start.clone(),
            settings.tolerance.relative,
            settings.tolerance.absolute,
            safety,
            beta,
            shrink,
            grow,
            span,
            first_step,
            // The crate stops only after one attempt more than it is told.
            u32::try_from(attempts_left - 1).unwrap_or(u32::MAX),
            u32::MAX,
            OutputType::Sparse,
        );
        let outcome = solver.integrate();
        let reached = solver.x_out().last().copied().unwrap_or(0.0);
        if let Some(end) = solver.y_out().last() {
            start.copy_from(end);
        }
        drop(solver);

        let done = bridge.into_inner();
        let attempts = done.asked.saturating_sub(starting_calls) / 6;
        tried += attempts;
        accepted += done.steps;
        work.rhs_calls += done.called;
        work.steps += done.steps;
        work.rejected += attempts.saturating_sub(done.steps);
        if let Some(fault) = done.fault {
            return Err(not_finite(
                system,
                fault.state,
                fault.time_s,
                fault.value,
                fault.rate,
            ));
        }
        *remembered = done.step_to_remember(*remembered, attempts > done.steps);
        // The crate adds up its steps, so its end may be a rounding error short.
        let finished = reached >= span * (1.0 - 4.0 * f64::EPSILON);
        t = if finished { t1 } else { (t + reached).min(t1) };
        let stop = match outcome {
            Ok(_) if finished => {
                for i in 0..n {
                    y[i] = start[i] * scales[i];
                }
                return Ok(());
            }
            Ok(_) => continue,
            Err(stop) => stop,
        };
        // Crept up to a wall beyond which there are no rates: that is the cause, not the step.
        if let Some(fault) = done.out_of_range.filter(|fault| fault.time_s > t) {
            return Err(not_finite(
                system,
                fault.state,
                fault.time_s,
                fault.value,
                fault.rate,
            ));
        }
        let (state, value, rate) = fastest(&settings.tolerance, work, system, t, &start, &scales);
        let (time_s, steps, rejected) = (t, accepted, tried - accepted);
        return Err(match stop {
            IntegrationError::MaxNumStepReached { .. } => SolveError::StepLimit {
                time_s,
                state,
                value,
                rate,
                steps,
                rejected,
            },
            IntegrationError::StepSizeUnderflow { .. }
            | IntegrationError::StiffnessDetected { .. } => SolveError::StepTooSmall {
                time_s,
                state,
                value,
                rate,
                steps,
                rejected,
            },
        });
    }
}

/// The state that moves fastest for its tolerance: name, value, rate.
fn fastest<S: System>(
    tolerance: &Tolerance,
    work: &mut Work,
    system: &mut S,
    t: f64,
    scaled: &DVector<f64>,
    scales: &[f64],
) -> (String, f64, f64) {
    let y: Vec<f64> = scaled.iter().zip(scales).map(|(v, s)| v * s).collect();
    let mut dy = vec![0.0; y.len()];
    system.rates(t, &y, &mut dy);
    work.rhs_calls += 1;
    let speed = |i: usize| dy[i].abs() / tolerance.allowed(y[i], scales[i]);
    let i = (1..y.len()).fold(0, |a, b| if speed(b) > speed(a) { b } else { a });
    (system.state_name(i), y[i], dy[i])
}

/// A rate that was not finite.
struct Fault {
    state: usize,
    time_s: f64,
    value: f64,
    rate: f64,
}

/// Stands between the crate, which asks through a shared reference, and a system with scratch space of its own.
struct Bridge<'a, S> {
    system: &'a mut S,
    scales: &'a [f64],
    start_s: f64,
    end_s: f64,
    /// The states in their own units.
    y: Vec<f64>,
    /// Calls made by the crate.
    asked: u64,
    /// Calls passed on to the system.
    called: u64,
    steps: u64,
    last_end: f64,
    last_step: f64,
    step_before: f64,
    bad_attempts: u32,
    in_bad_attempt: bool,
    /// The latest rate that was not finite, in a step that could be tried again.
    out_of_range: Option<Fault>,
    /// The one that ended the march.
    fault: Option<Fault>,
}

impl<'a, S: System> Bridge<'a, S> {
    fn new(system: &'a mut S, scales: &'a [f64], start_s: f64, end_s: f64) -> Self {
        Self {
            system,
            scales,
            start_s,
            end_s,
            y: vec![0.0; scales.len()],
            asked: 0,
            called: 0,
            steps: 0,
            last_end: 0.0,
            last_step: 0.0,
            step_before: 0.0,
            bad_attempts: 0,
            in_bad_attempt: false,
            out_of_range: None,
            fault: None,
        }
    }

    fn rates(&mut self, since_start: f64, scaled: &DVector<f64>, dy: &mut DVector<f64>) {
        if self.fault.is_some() {
            // Standing still lets the crate accept a step soon, and that is where it can be stopped.
            dy.fill(0.0);
            return;
        }
        self.asked += 1;
        for (i, y) in self.y.iter_mut().enumerate() {
            *y = scaled[i] * self.scales[i];
        }
        let time_s = (self.start_s + since_start).min(self.end_s);
        let bad = match first_not_finite(&self.y) {
            // The system never sees such a state, which mostly is left over from an earlier stage of the same attempt.
            Some(i) => Some((i, f64::NAN)),
            None => {
                self.in_bad_attempt = false;
                self.system.rates(time_s, &self.y, dy.as_mut_slice());
                self.called += 1;
                first_not_finite(dy.as_slice()).map(|i| (i, dy[i]))
            }
        };
        let Some((state, rate)) = bad else {
            for (rate, scale) in dy.iter_mut().zip(self.scales) {
                *rate /= scale;
            }
            return;
        };
        let first_in_attempt = !self.in_bad_attempt;
        if first_in_attempt {
            self.in_bad_attempt = true;
            self.bad_attempts += 1;
        }
        let fault = Some(Fault {
            state,
            time_s,
            value: self.y[state],
            rate,
        });
        // At the start itself no shorter step can help.
        if since_start == 0.0 || self.bad_attempts >= BAD_ATTEMPTS {
            self.fault = fault;
            dy.fill(0.0);
        } else {
            // The later stages of the same attempt only inherit the trouble.
            if first_in_attempt {
                self.out_of_range = fault;
            }
            // The crate rejects such a step and tries one a fifth as long.
            dy.fill(f64::NAN);
        }
    }

    /// Notes an accepted step; true stops the crate.
    fn accept(&mut self, since_start: f64) -> bool {
        if self.fault.is_some() {
            return true;
        }
        self.steps += 1;
        self.step_before = self.last_step;
        self.last_step = since_start - self.last_end;
        self.last_end = since_start;
        self.bad_attempts = 0;
        self.steps >= STEPS_PER_RUN
    }

    /// The last step of an interval is cut to fit, so the longer of the last two says what the tolerance allows; a
    /// single step that fitted at once says nothing against the longer one that was cut to make it.
    fn step_to_remember(&self, before: Option<f64>, any_rejected: bool) -> Option<f64> {
        match self.steps {
            0 => before,
            1 if !any_rejected => {
                Some(before.map_or(self.last_step, |step| step.max(self.last_step)))
            }
            _ => Some(self.last_step.max(self.step_before)),
        }
    }
}

struct Handle<'b, 'a, S>(&'b RefCell<Bridge<'a, S>>);

impl<S: System> ode_solvers::System<f64, DVector<f64>> for Handle<'_, '_, S> {
    fn system(&self, x: f64, y: &DVector<f64>, dy: &mut DVector<f64>) {
        self.0.borrow_mut().rates(x, y, dy);
    }

    fn solout(&mut self, x: f64, _y: &DVector<f64>, _dy: &DVector<f64>) -> bool {
        self.0.borrow_mut().accept(x)
    }
}
