//! Where a network comes to rest: pseudo-transient continuation, ending in Newton's method.
//!
//! # Source
//! C. T. Kelley and D. E. Keyes, "Convergence analysis of pseudo-transient continuation", SIAM J. Numer. Anal. 35
//! (1998) 508-523 (from memory): implicit Euler, one Newton iteration per step, the pseudo time step growing without
//! bound. Here it grows while the states move little and the step solves its own equation well. That is judged by the
//! next correction with the same matrix (natural monotonicity test; P. Deuflhard, "Newton Methods for Nonlinear
//! Problems", 2004, section 3.3; from memory), not by the rates: the largest rate belongs to the thinnest skin and says
//! nothing about the casting below it. The same test says whether a Jacobian still serves at the next state (simplified
//! Newton iterations, there too). The numbers that govern the growth are ours (estimate).

use nalgebra::{DMatrix, DVector, Dyn, LU};

use super::error::SolveError;
use super::integrator::{Work, check_states, not_finite, positive};
use super::system::{System, first_not_finite};

/// Largest change of a state in one step, relative to its size; keeps the fourth power of radiation from overshooting.
const LARGEST_CHANGE: f64 = 0.3;
/// Change, as part of the largest, below which the pseudo time step grows.
const EASY_CHANGE: f64 = 0.5;
/// Remainder of a step, as part of the step itself, above which the step is thrown away.
const LARGEST_LEFT: f64 = 1.0;
/// Remainder above which the pseudo time step shrinks, and below which it may grow.
const HARD_LEFT: f64 = 0.75;
const EASY_LEFT: f64 = 0.5;
/// Remainder below which the Jacobian serves for the next step too.
const KEEP_LEFT: f64 = 0.1;
/// Relative changes below this are rounding and say nothing.
const NO_CHANGE: f64 = 1e-10;
const GROWTH: f64 = 4.0;
/// Sharper than the growth, so that a cycle between two branches of a correlation dies out.
const SHRINK: f64 = 0.1;
/// Long against any part under a bonnet, yet finite, so that an unconnected state leaves the matrix regular [s].
const LONGEST_STEP_S: f64 = 1e12;
const SHORTEST_STEP_S: f64 = 1e-12;

/// What counts as steady, and which states take part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SteadyOptions {
    /// Largest rate of change accepted, in units of state per second.
    pub tolerance_per_s: f64,
    /// The first `active` states take part; the others (counters that never come to rest) keep their values. More than
    /// there are means all.
    pub active: usize,
    /// Linear systems solved before giving up.
    pub max_iterations: usize,
}

impl Default for SteadyOptions {
    fn default() -> Self {
        Self {
            tolerance_per_s: 1e-8,
            active: usize::MAX,
            max_iterations: 200,
        }
    }
}

/// How a steady state was reached.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SteadyReport {
    /// Linear systems solved.
    pub iterations: usize,
    /// Largest rate of change left, in units of state per second.
    pub residual_per_s: f64,
    /// Largest change by the closing Newton step, in units of state: about how far off the answer was before it. Zero
    /// if that step could not be taken.
    pub last_correction: f64,
    /// What it cost.
    pub work: Work,
}

/// Moves `y` to where the rates at time 0 vanish.
///
/// # Errors
/// As [`steady_at`].
pub fn steady<S: System>(
    system: &mut S,
    y: &mut [f64],
    options: SteadyOptions,
) -> Result<SteadyReport, SolveError> {
    steady_at(system, 0.0, y, options)
}

/// Moves `y` to where the rates at time `t` [s] vanish, all that depends on time held as it is then.
///
/// The start matters only where there are several steady states: the search follows roughly the way the network would
/// take by itself.
///
/// # Errors
/// If an option or the length of `y` is wrong, the rates at the start are not finite, or the rates do not vanish within
/// the iterations allowed. `y` is then left as it was.
pub fn steady_at<S: System>(
    system: &mut S,
    t: f64,
    y: &mut [f64],
    options: SteadyOptions,
) -> Result<SteadyReport, SolveError> {
    positive("steady tolerance", options.tolerance_per_s)?;
    if !t.is_finite() {
        return Err(SolveError::BadInterval {
            start_s: t,
            end_s: t,
        });
    }
    check_states(system, t, y)?;
    let mut search = Search::new(system, t, y, options.active.min(y.len()))?;
    let mut iterations = 0;
    let mut step_s = search.first_step_s();
    while search.residual().1 > options.tolerance_per_s {
        if iterations >= options.max_iterations || step_s < SHORTEST_STEP_S {
            let (i, residual_per_s) = search.residual();
            return Err(SolveError::NoSteadyState {
                residual_per_s,
                limit_per_s: options.tolerance_per_s,
                state: search.system.state_name(i),
                value: search.now[i],
                iterations,
            });
        }
        iterations += 1;
        step_s = search.step(step_s);
    }
    // One plain Newton step: a heavy casting may creep slower than the tolerance and still be far from rest.
    let last_correction = if search.active == 0 {
        0.0
    } else {
        search.polish(options.tolerance_per_s)
    };
    y.copy_from_slice(&search.now);
    let residual_per_s = search.residual().1;
    Ok(SteadyReport {
        iterations,
        residual_per_s,
        last_correction,
        work: search.work,
    })
}

type Factors = LU<f64, Dyn, Dyn>;

struct Search<'a, S> {
    system: &'a mut S,
    t: f64,
    active: usize,
    now: Vec<f64>,
    rates: Vec<f64>,
    trial: Vec<f64>,
    trial_rates: Vec<f64>,
    jacobian: DMatrix<f64>,
    /// The Jacobian belongs to `now`; false after each accepted step.
    jacobian_fresh: bool,
    /// The Jacobian is of a state before, and still serves.
    jacobian_kept: bool,
    work: Work,
}

impl<'a, S: System> Search<'a, S> {
    fn new(system: &'a mut S, t: f64, y: &[f64], active: usize) -> Result<Self, SolveError> {
        let n = y.len();
        let mut rates = vec![0.0; n];
        system.rates(t, y, &mut rates);
        if let Some(i) = first_not_finite(&rates) {
            return Err(not_finite(system, i, t, y[i], rates[i]));
        }
        Ok(Self {
            system,
            t,
            active,
            now: y.to_vec(),
            rates,
            trial: y.to_vec(),
            trial_rates: vec![0.0; n],
            jacobian: DMatrix::zeros(n, n),
            jacobian_fresh: false,
            jacobian_kept: false,
            work: Work {
                rhs_calls: 1,
                ..Work::default()
            },
        })
    }

    fn size(&self, i: usize) -> f64 {
        self.now[i].abs().max(self.system.tolerance_scale(i))
    }

    /// Largest change relative to the size of its state; not a number if any is.
    fn relative(&self, change: &DVector<f64>) -> f64 {
        let each = change
            .iter()
            .enumerate()
            .map(|(i, c)| c.abs() / self.size(i));
        each.fold(
            0.0,
            |worst, c| if c.is_nan() || c > worst { c } else { worst },
        )
    }

    /// The active state with the largest rate, and that rate's magnitude.
    fn residual(&self) -> (usize, f64) {
        largest(&self.rates[..self.active])
    }

    /// Short enough that no state moves by a tenth of its size even if nothing holds it back.
    fn first_step_s(&self) -> f64 {
        let fastest = (0..self.active)
            .map(|i| self.rates[i].abs() / self.size(i))
            .fold(0.0, f64::max);
        if fastest > 0.0 {
            (0.1 / fastest).clamp(SHORTEST_STEP_S, LONGEST_STEP_S)
        } else {
            LONGEST_STEP_S
        }
    }

    /// Solves (I / step - J) change = rates for the active states.
    fn change(&mut self, per_step: f64) -> Option<(Factors, DVector<f64>)> {
        if !self.jacobian_fresh && !self.jacobian_kept {
            self.system.jacobian(self.t, &self.now, &mut self.jacobian);
            self.work.jacobians += 1;
            self.jacobian_fresh = true;
        }
        let mut matrix = -self.jacobian.view((0, 0), (self.active, self.active));
        for i in 0..self.active {
            matrix[(i, i)] += per_step;
        }
        let mut change = DVector::from_column_slice(&self.rates[..self.active]);
        self.work.factorisations += 1;
        let lu = matrix.lu();
        let solved = lu.solve_mut(&mut change);
        (solved && first_not_finite(change.as_slice()).is_none()).then_some((lu, change))
    }

    /// Rates at `now` plus the change, into the trial; false if they are not finite.
    fn try_change(&mut self, change: &DVector<f64>) -> bool {
        self.trial.copy_from_slice(&self.now);
        for (trial, change) in self.trial.iter_mut().zip(change.iter()) {
            *trial += change;
        }
        self.system
            .rates(self.t, &self.trial, &mut self.trial_rates);
        self.work.rhs_calls += 1;
        first_not_finite(&self.trial_rates).is_none()
    }

    fn accept(&mut self) {
        std::mem::swap(&mut self.now, &mut self.trial);
        std::mem::swap(&mut self.rates, &mut self.trial_rates);
        self.jacobian_fresh = false;
        self.jacobian_kept = false;
        self.work.steps += 1;
    }

    /// A step thrown away: with an old Jacobian it is tried again with a new one, else shortened.
    fn reject(&mut self, step_s: f64, factor: f64) -> f64 {
        self.work.rejected += 1;
        if std::mem::take(&mut self.jacobian_kept) {
            return step_s;
        }
        step_s * factor
    }

    /// One step of implicit Euler; returns the pseudo time step to try next.
    fn step(&mut self, step_s: f64) -> f64 {
        let Some((lu, change)) = self.change(1.0 / step_s) else {
            return self.reject(step_s, SHRINK);
        };
        let moved = self.relative(&change);
        if moved > LARGEST_CHANGE {
            return self.reject(step_s, (0.8 * LARGEST_CHANGE / moved).clamp(SHRINK, 0.8));
        }
        if !self.try_change(&change) {
            return self.reject(step_s, SHRINK);
        }
        // What the one Newton iteration left of the implicit Euler equation, as a further change of the states.
        let mut further = change.map(|c| -c / step_s);
        for (further, rate) in further.iter_mut().zip(&self.trial_rates) {
            *further += rate;
        }
        let left = if lu.solve_mut(&mut further) {
            self.relative(&further)
        } else {
            f64::INFINITY
        };
        let left = if moved < NO_CHANGE { 0.0 } else { left / moved };
        if left.is_nan() || left > LARGEST_LEFT {
            return self.reject(step_s, SHRINK);
        }
        self.accept();
        self.jacobian_kept = left < KEEP_LEFT;
        if left > HARD_LEFT {
            step_s * SHRINK
        } else if left < EASY_LEFT && moved < EASY_CHANGE * LARGEST_CHANGE {
            (step_s * GROWTH).min(LONGEST_STEP_S)
        } else {
            step_s
        }
    }

    /// A plain Newton step, kept if the rates stay within the tolerance; returns the largest change.
    fn polish(&mut self, tolerance_per_s: f64) -> f64 {
        self.jacobian_kept = false;
        let Some((_, change)) = self.change(0.0) else {
            return 0.0;
        };
        let moved = self.relative(&change);
        if moved > LARGEST_CHANGE
            || !self.try_change(&change)
            || largest(&self.trial_rates[..self.active]).1 > tolerance_per_s
        {
            return 0.0;
        }
        self.accept();
        largest(change.as_slice()).1
    }
}

/// Index and magnitude of the largest entry; zero if there are none.
fn largest(values: &[f64]) -> (usize, f64) {
    let mut found = (0, 0.0);
    for (i, value) in values.iter().enumerate() {
        if value.abs() > found.1 {
            found = (i, value.abs());
        }
    }
    found
}
