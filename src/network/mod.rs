//! The car as nodes, links and streams, and the rates that follow from them.
//!
//! - [`node`]: one temperature with a heat capacity.
//! - [`link`]: a heat flow between two nodes; the same list gives rates, Jacobian and ledger.
//! - [`exhaust`], [`intake`]: streams that march through elements; [`gas_films`]: how much of its warmth the gas leaves.
//! - [`ventilation`]: air through the openings of the bay; [`bay_air`]: its draught from tick to tick.
//! - [`enclosure`]: radiating surfaces of the bay and their exchange; [`faces`]: their heat in one pass.
//! - [`conditions`]: what the engine, the fan and the weather do over one interval.
//! - [`assemble`]: a settled build becomes a [`rates::Network`].

pub mod airflow;
pub mod assemble;
pub mod bay_air;
pub mod conditions;
pub mod control;
pub mod coupling;
pub mod enclosure;
pub mod exhaust;
pub mod faces;
pub mod gas_films;
pub mod heat_exchangers;
pub mod heat_store;
pub mod intake;
pub mod ledger;
pub mod link;
pub mod link_plan;
pub mod node;
pub mod plant;
pub mod radiation_links;
pub mod rates;
pub mod roles;
mod runs;
pub mod surfaces;
mod transfer;
pub mod ventilation;
