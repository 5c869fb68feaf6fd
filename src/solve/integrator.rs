//! The integrator: which method, how exact, and what it has cost so far.

use std::ops::AddAssign;

use super::dormand_prince;
use super::error::SolveError;
use super::fixed_rk4;
use super::rosenbrock::Rosenbrock;
use super::system::{System, first_not_finite};
use super::tableau::{FOUR_CALLS, THREE_CALLS, Tableau};
use crate::number::Number;

/// Error allowed per step in each state: `absolute + relative * |y|`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tolerance {
    /// Relative part [-].
    pub relative: f64,
    /// Absolute part, in the unit of the state (kelvin for temperatures), times the state's own tolerance scale.
    pub absolute: f64,
}

impl Tolerance {
    fn check(&self) -> Result<(), SolveError> {
        if !(self.relative.is_finite() && self.relative >= 0.0) {
            let (value, limit) = (self.relative, "finite and not negative");
            return Err(SolveError::BadSetting {
                name: "relative tolerance",
                value,
                limit,
            });
        }
        positive("absolute tolerance", self.absolute)
    }

    /// Error allowed in a state of this value and tolerance scale.
    #[inline(always)]
    pub(super) fn allowed<N: Number>(&self, value: N, scale: f64) -> N {
        value.abs() * self.relative + self.absolute * scale
    }
}

/// What solving has cost.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Work {
    /// Steps accepted.
    pub steps: u64,
    /// Steps tried and thrown away.
    pub rejected: u64,
    /// Calls of [`System::rates`], without those inside [`System::jacobian`].
    pub rhs_calls: u64,
    /// Calls of [`System::jacobian`].
    pub jacobians: u64,
    /// Matrix factorisations.
    pub factorisations: u64,
}

impl AddAssign for Work {
    fn add_assign(&mut self, other: Self) {
        self.steps += other.steps;
        self.rejected += other.rejected;
        self.rhs_calls += other.rhs_calls;
        self.jacobians += other.jacobians;
        self.factorisations += other.factorisations;
    }
}

/// How to march through time.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Method {
    /// Explicit Runge-Kutta pair of order 5(4) with step control (Dormand and Prince 1980). Stiff systems cost it many
    /// small steps, but it never refuses them.
    DormandPrince,
    /// Rosenbrock W-method of order 3(2) with three calls of the rates a step, linearly implicit on the system's strong
    /// couplings: long steps whatever the fastest time constant. The least work for errors below 0.1 K.
    Rosenbrock,
    /// The same with four calls (Rang and Angermann 2005): the least work for errors of a few tenths of a kelvin.
    RosenbrockFourCalls,
    /// Classical Runge-Kutta of order 4 with equal steps and no control of its error: the second route for checks.
    FixedRk4 {
        /// Longest step [s]; each interval is cut into the fewest equal steps no longer than this.
        step_s: f64,
    },
}

impl Method {
    /// Coefficients of the W-methods.
    pub(super) fn tableau(self) -> Option<&'static Tableau> {
        match self {
            Self::Rosenbrock => Some(&THREE_CALLS),
            Self::RosenbrockFourCalls => Some(&FOUR_CALLS),
            Self::DormandPrince | Self::FixedRk4 { .. } => None,
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

/// Carries a state vector through time and remembers its step from one interval to the next.
#[derive(Debug, Clone)]
pub struct Integrator {
    method: Method,
    tolerance: Tolerance,
    step_limit: u64,
    /// The step that last suited the tolerance [s]; starts the next interval.
    remembered_step_s: Option<f64>,
    /// Work space of the W-method, made at the first interval.
    rosenbrock: Option<Box<Rosenbrock>>,
    work: Work,
}

impl Integrator {
    /// Steps tried in one call of `advance` before it gives up.
    const DEFAULT_STEP_LIMIT: u64 = 1_000_000;

    /// An integrator at rest. Settings out of range are reported by the first [`advance`](Self::advance).
    pub fn new(method: Method, tolerance: Tolerance) -> Self {
        let (step_limit, work) = (Self::DEFAULT_STEP_LIMIT, Work::default());
        Self {
            method,
            tolerance,
            step_limit,
            remembered_step_s: None,
            rosenbrock: None,
            work,
        }
    }

    /// Changes how many steps one call of [`advance`](Self::advance) may try; 1,000,000 unless told.
    pub fn with_step_limit(mut self, step_limit: u64) -> Self {
        self.step_limit = step_limit;
        self
    }

    /// Asks for the rates at time `t` [s] and state `y`, so that one can see what the call leaves behind in the system
    /// before [`advance`](Self::advance) goes on from there; a method that can use these rates doesn't ask again. Neither
    /// `y` nor the system may change in between.
    ///
    /// # Errors
    /// If the length of `y` is wrong, or a state or rate is not finite.
    pub fn begin<S: System>(
        &mut self,
        system: &mut S,
        t: f64,
        y: &[f64],
    ) -> Result<(), SolveError> {
        check_states(system, t, y)?;
        if let Some(tableau) = self.method.tableau() {
            return Self::rosenbrock(&mut self.rosenbrock, system, tableau).begin(
                system,
                t,
                y,
                &mut self.work,
            );
        }
        system.rates(t, y, &mut vec![0.0; y.len()]);
        self.work.rhs_calls += 1;
        Ok(())
    }

    /// Work space for a system: made at the first call, or anew for a system of another size.
    fn rosenbrock<'r, S: System>(
        kept: &'r mut Option<Box<Rosenbrock>>,
        system: &S,
        tableau: &Tableau,
    ) -> &'r mut Rosenbrock {
        if !kept.as_deref().is_some_and(|r| r.fits(system)) {
            *kept = None;
        }
        kept.get_or_insert_with(|| Box::new(Rosenbrock::new(system, tableau)))
    }

    /// Advances `y` from time `t0` to `t1` [s] in place; the end is met exactly.
    ///
    /// An interval of no length does nothing. The rates are asked for at both ends, so a jump or kink in them must be
    /// an end of the interval, never inside it.
    ///
    /// # Errors
    /// If the interval goes backwards, a setting or the length of `y` is wrong, a state or rate is not finite, or the
    /// end is not reached within the limit of steps. `y` is then left as it was.
    pub fn advance<S: System>(
        &mut self,
        system: &mut S,
        t0: f64,
        t1: f64,
        y: &mut [f64],
    ) -> Result<(), SolveError> {
        if !something_to_do(self.tolerance, system, (t0, t1), y)? {
            return Ok(());
        }
        let settings = Settings {
            tolerance: self.tolerance,
            step_limit: self.step_limit,
        };
        if let Some(tableau) = self.method.tableau() {
            return Self::rosenbrock(&mut self.rosenbrock, system, tableau).advance(
                settings,
                &mut self.remembered_step_s,
                &mut self.work,
                system,
                (t0, t1),
                y,
            );
        }
        if let Method::FixedRk4 { step_s } = self.method {
            positive("step", step_s)?;
            let work = &mut self.work;
            return fixed_rk4::advance(step_s, self.step_limit, work, system, (t0, t1), y);
        }
        dormand_prince::advance(
            settings,
            &mut self.remembered_step_s,
            &mut self.work,
            system,
            (t0, t1),
            y,
        )
    }

    /// Work done since the integrator was made, failed calls included.
    pub fn work(&self) -> Work {
        self.work
    }

    /// The step that the next interval will start with [s], if one is known.
    pub fn remembered_step_s(&self) -> Option<f64> {
        self.remembered_step_s
    }
}

/// Refuses what can't be marched; false when the end is there already.
pub(super) fn something_to_do<N: Number, S: System<N>>(
    tolerance: Tolerance,
    system: &S,
    (t0, t1): (f64, f64),
    y: &[N],
) -> Result<bool, SolveError> {
    tolerance.check()?;
    check_interval(t0, t1)?;
    check_states(system, t0, y)?;
    Ok(t1 > t0 && !y.is_empty())
}

/// Refuses an interval that goes backwards.
fn check_interval(t0: f64, t1: f64) -> Result<(), SolveError> {
    if t0.is_finite() && t1.is_finite() && t1 >= t0 && (t1 - t0).is_finite() {
        return Ok(());
    }
    Err(SolveError::BadInterval {
        start_s: t0,
        end_s: t1,
    })
}

/// Refuses a setting that is not finite and above zero.
pub(super) fn positive(name: &'static str, value: f64) -> Result<(), SolveError> {
    if value.is_finite() && value > 0.0 {
        return Ok(());
    }
    Err(SolveError::BadSetting {
        name,
        value,
        limit: "finite and above 0",
    })
}

/// Refuses states that don't fit the system or are not numbers.
pub(super) fn check_states<N: Number, S: System<N>>(
    system: &S,
    t: f64,
    y: &[N],
) -> Result<(), SolveError> {
    let expected = system.len();
    if y.len() != expected {
        return Err(SolveError::WrongLength {
            given: y.len(),
            expected,
        });
    }
    if let Some(i) = first_not_finite(y) {
        // Nothing was asked of the system yet, so there is no rate to show.
        return Err(not_finite(system, i, t, y[i].lane(0), f64::NAN));
    }
    for i in 0..expected {
        positive("tolerance scale of a state", system.tolerance_scale(i))?;
    }
    Ok(())
}

/// The error for a value or rate that is not finite, with the state's name.
pub(super) fn not_finite<N: Number, S: System<N>>(
    system: &S,
    i: usize,
    t: f64,
    value: f64,
    rate: f64,
) -> SolveError {
    SolveError::NotFinite {
        time_s: t,
        state: system.state_name(i),
        value,
        rate,
    }
}
