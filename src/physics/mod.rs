//! Properties, correlations and geometry of heat transfer: plain functions of plain numbers.
//!
//! Nothing here knows of cars. Each formula names its source and its range; ranges are
//! [`range::Range`] constants, so that a run can count where it left them.

pub mod air;
pub mod atmosphere;
pub mod conduction;
pub mod convection;
pub mod exchanger;
pub mod exhaust_gas;
pub mod humid_air;
pub mod pipe_flow;
pub mod polynomial;
pub mod radiation;
pub mod range;
pub mod view_factors;
