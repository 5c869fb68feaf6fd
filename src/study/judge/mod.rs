//! What a test on the car has shown: the effect of a change from logs before and after it.

pub mod regression;
pub mod stats;
