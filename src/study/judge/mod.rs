//! What a test on the car has shown: the effect of a change from logs before and after it.

pub mod aligned;
pub mod log;
pub mod regression;
pub mod stats;
pub mod verdict;

pub use log::{LogError, MeasuredLog};
pub use verdict::{JudgeError, JudgeInput, Judgement, judge};
