//! Studies: questions put to the network.
//!
//! - [`run`]: one build over one cycle on one day.
//! - [`describe`]: what a sheet becomes, without running it.
//! - [`findings`]: the shape of results.
//! - [`instruments`]: what thermometers make of a temperature.

pub mod describe;
mod doubts;
mod figures;
pub mod findings;
pub mod instruments;
mod observe;
mod ranges;
pub mod run;
mod summarise;
mod watch;
