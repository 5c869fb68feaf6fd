//! A supplier's numbers against physics: each reading of the words, how likely it is on this car, what physics allows,
//! and what would have to be true for it to hold.
//!
//! Every number comes from the same network as a run, at a steady point or minutes after it ([`point`]), bare and treated
//! with the same draw of everything that isn't stated.

mod at;
pub mod input;
mod measuring;
pub mod needs;
pub mod point;
pub mod readings;
mod service;
pub mod trial;
pub mod verdict;
mod words;

pub use input::{Change, Claim, ClaimSheet, Quantity};
pub use verdict::{ClaimError, ClaimOptions, ClaimReport, Judged, Verdict, build_of, judge_claim};
