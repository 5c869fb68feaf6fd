//! Marching a network through time and finding where it comes to rest.
//!
//! A network hands over a [`System`]: rates of change of its states, smooth between the times at which it is
//! stopped. [`Integrator::advance`] carries the states from one time to the next, and [`steady`] finds the states at
//! which nothing changes any more. Whoever calls decides where to stop: a right-hand side with a jump or a kink (a
//! gear change, a fan that switches) must be advanced *to* that time and restarted from it, never across it.

mod dormand_prince;
mod error;
mod fixed_rk4;
mod integrator;
mod lockstep;
mod rosenbrock;
mod sparse;
mod steady;
mod system;
mod tableau;

pub use error::SolveError;
pub use integrator::{Integrator, Method, Tolerance, Work};
pub use lockstep::Lockstep;
pub(crate) use sparse::SparseLu;
pub use steady::{SteadyOptions, SteadyReport, steady, steady_at};
pub use system::System;
