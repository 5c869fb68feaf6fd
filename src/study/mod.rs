//! Studies: questions put to the network.
//!
//! - [`claim`]: a supplier's numbers against physics.
//! - [`judge`]: what a test on the car has shown.
//! - [`plan`]: the cheapest test on the car that tells options apart.
//! - [`run`]: one build over one cycle on one day.
//! - [`describe`]: what a sheet becomes, without running it.
//! - [`findings`]: the shape of results.
//! - [`instruments`]: what thermometers make of a temperature.

pub mod claim;
pub mod describe;
mod doubts;
mod figures;
pub mod findings;
pub mod instruments;
pub mod judge;
mod latin_hypercube;
mod observe;
pub mod plan;
mod ranges;
pub mod run;
mod summarise;
mod watch;
