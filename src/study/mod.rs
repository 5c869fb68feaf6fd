//! Studies: questions put to the network.
//!
//! - [`run`]: one build over one cycle on one day.
//! - [`draws`]: many runs with uncertain numbers drawn; [`bands`] and [`sensitivity`] read them.
//! - [`compare`]: options side by side; [`rank`]: the best of them for the money.
//! - [`hot_day`]: intake, charge and power in hot air and in traffic.
//! - [`soak`]: after key-off and at the restart; [`advice`]: what helps there.
//! - [`claim`]: a supplier's numbers against physics; [`instruments`]: what thermometers make of a temperature.
//! - [`plan`]: the cheapest test on the car that tells options apart; [`judge`]: what it has shown.
//! - [`describe`]: what a sheet becomes, without running it.
//! - [`findings`]: the shape of results.
//! - [`recording`]: the drivers of a network along a cycle, to march it again by any method.
//! - [`network_export`], [`network_shape`]: a network and its drivers in a shape that others can integrate.

pub mod advice;
pub mod bands;
pub mod claim;
pub mod compare;
pub mod describe;
mod doubts;
mod draw_group;
pub mod draws;
mod figures;
pub mod findings;
pub mod fit;
mod full_throttle;
mod gas_watch;
mod heat_watch;
pub mod hot_day;
pub mod instruments;
pub mod judge;
pub mod latin_hypercube;
pub mod network_export;
pub mod network_shape;
mod observe;
pub mod overview;
pub mod plan;
mod ranges;
pub mod rank;
pub mod recording;
pub mod run;
pub mod search;
pub mod sensitivity;
pub mod soak;
mod summarise;
mod together;
mod watch;
