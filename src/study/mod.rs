//! Studies: questions put to the network.
//!
//! - [`run`]: one build over one cycle on one day.
//! - [`draws`]: many runs with uncertain numbers drawn; [`bands`] and [`sensitivity`] read them.
//! - [`compare`]: options side by side; [`rank`]: the best of them for the money.
//! - [`describe`]: what a sheet becomes, without running it.
//! - [`findings`]: the shape of results.

pub mod bands;
pub mod compare;
pub mod describe;
mod doubts;
pub mod draws;
mod figures;
pub mod findings;
pub mod latin_hypercube;
mod observe;
pub mod overview;
mod ranges;
pub mod rank;
pub mod run;
pub mod search;
pub mod sensitivity;
mod summarise;
mod watch;
