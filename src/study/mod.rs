//! Studies: questions put to the network.
//!
//! - [`run`]: one build over one cycle on one day.
//! - [`describe`]: what a sheet becomes, without running it.
//! - [`findings`]: the shape of results.
//! - [`recording`]: the drivers of a network along a cycle, to march it again by any method.
//! - [`network_export`], [`network_shape`]: a network and its drivers in a shape that others can integrate.

pub mod describe;
mod doubts;
mod figures;
pub mod findings;
pub mod network_export;
pub mod network_shape;
mod observe;
mod ranges;
pub mod recording;
pub mod run;
mod summarise;
mod watch;
