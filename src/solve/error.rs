//! What can go wrong while solving, with the place and the numbers needed to find the cause.

use thiserror::Error;

/// Why a march or a search for the steady state stopped.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum SolveError {
    /// More steps were needed than allowed; the state named is the one that moves fastest for its tolerance.
    #[error(
        "{steps} steps ({rejected} rejected) did not reach the end: stopped at {time_s} s, where {state} = {value} changes by {rate} per s\n\
         hint: look for a very light part with a very strong link, or loosen the tolerance"
    )]
    StepLimit {
        /// Time reached [s].
        time_s: f64,
        /// Name of the state that moves fastest for its tolerance.
        state: String,
        /// Its value, in the unit of the state.
        value: f64,
        /// Its rate of change, per second.
        rate: f64,
        /// Steps accepted in this call.
        steps: u64,
        /// Steps tried and thrown away in this call.
        rejected: u64,
    },
    /// A state or its rate of change is not a number.
    #[error("{state} = {value} changes by {rate} per s at {time_s} s: not a finite number")]
    NotFinite {
        /// Time at which it was found [s].
        time_s: f64,
        /// Name of the state.
        state: String,
        /// Value of the state where its rate was asked, in the unit of the state.
        value: f64,
        /// The rate of change, per second.
        rate: f64,
    },
    /// The step that the tolerance asks for is too small to move the clock.
    #[error(
        "no step is small enough for the tolerance at {time_s} s, where {state} = {value} changes by {rate} per s ({steps} steps, {rejected} rejected)\n\
         hint: the rates may jump here; end one interval at the jump and start the next from it"
    )]
    StepTooSmall {
        /// Time reached [s].
        time_s: f64,
        /// Name of the state that moves fastest for its tolerance.
        state: String,
        /// Its value, in the unit of the state.
        value: f64,
        /// Its rate of change, per second.
        rate: f64,
        /// Steps accepted in this call.
        steps: u64,
        /// Steps tried and thrown away in this call.
        rejected: u64,
    },
    /// The states did not come to rest.
    #[error(
        "no steady state after {iterations} iterations: {state} = {value} still changes by {residual_per_s} per s, limit {limit_per_s}"
    )]
    NoSteadyState {
        /// Largest rate of change left, per second.
        residual_per_s: f64,
        /// The largest rate of change that would have been accepted, per second.
        limit_per_s: f64,
        /// Name of the state that has it.
        state: String,
        /// Its value, in the unit of the state.
        value: f64,
        /// Iterations made.
        iterations: usize,
    },
    /// The interval ends before it starts, or one of its ends is not a number.
    #[error(
        "cannot advance from {start_s} s to {end_s} s: times must be finite and must not go backwards"
    )]
    BadInterval {
        /// Start of the interval [s].
        start_s: f64,
        /// End of the interval [s].
        end_s: f64,
    },
    /// A setting of the solver is out of its range.
    #[error("solver setting {name} = {value}: must be {limit}")]
    BadSetting {
        /// Which setting.
        name: &'static str,
        /// The value given.
        value: f64,
        /// What is allowed, in words.
        limit: &'static str,
    },
    /// The vector of states does not fit the system.
    #[error("{given} states given to a system of {expected}")]
    WrongLength {
        /// Number of states given.
        given: usize,
        /// Number of states of the system.
        expected: usize,
    },
}
