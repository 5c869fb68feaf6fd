//! Systems of one structure marched side by side, a number in each lane, with steps in common.

use super::error::SolveError;
use super::integrator::{Method, Settings, Tolerance, Work, check_states, something_to_do};
use super::rosenbrock::Rosenbrock;
use super::system::System;
use crate::number::Number;

/// Carries systems side by side through time by the W-method: each step is as short as the lane needs that needs the
/// shortest, so no lane is less exact than alone.
#[derive(Debug, Clone)]
pub struct Lockstep<N> {
    tolerance: Tolerance,
    /// The step that last suited the tolerance [s]; starts the next interval.
    remembered_step_s: Option<f64>,
    method: Rosenbrock<N>,
    work: Work,
}

impl<N: Number> Lockstep<N> {
    /// Steps tried in one call of `advance` before it gives up: who goes slower than this is better off alone.
    const STEP_LIMIT: u64 = 10_000;

    /// At rest, with work space for a system; `None` for a method that takes one system at a time.
    pub fn new<S: System<N>>(system: &S, method: Method, tolerance: Tolerance) -> Option<Self> {
        Some(Self {
            tolerance,
            remembered_step_s: None,
            method: Rosenbrock::new(system, method.tableau()?),
            work: Work::default(),
        })
    }

    /// Asks for the rates at time `t` [s], as [`Integrator::begin`](super::Integrator::begin) does.
    ///
    /// # Errors
    /// As there, when it happens in one lane.
    pub fn begin<S: System<N>>(
        &mut self,
        system: &mut S,
        t: f64,
        y: &[N],
    ) -> Result<(), SolveError> {
        check_states(system, t, y)?;
        self.method.begin(system, t, y, &mut self.work)
    }

    /// Advances `y` from time `t0` to `t1` [s] in place, as [`Integrator::advance`](super::Integrator::advance) does.
    ///
    /// # Errors
    /// As there, when it happens in one lane. All of `y` is then left as it was.
    pub fn advance<S: System<N>>(
        &mut self,
        system: &mut S,
        t0: f64,
        t1: f64,
        y: &mut [N],
    ) -> Result<(), SolveError> {
        if !something_to_do(self.tolerance, system, (t0, t1), y)? {
            return Ok(());
        }
        self.method.advance(
            Settings {
                tolerance: self.tolerance,
                step_limit: Self::STEP_LIMIT,
            },
            &mut self.remembered_step_s,
            &mut self.work,
            system,
            (t0, t1),
            y,
        )
    }

    /// Work done since it was made, all lanes at once.
    pub fn work(&self) -> Work {
        self.work
    }
}
