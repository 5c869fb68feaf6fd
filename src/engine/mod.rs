//! The engine as a source of heat and a user of air.
//!
//! [`operating::operating_point`] turns what the cycle asks for into flows and heat; the other
//! files hold one law each.

pub mod boost;
pub mod compressor;
pub mod friction;
pub mod full_load;
pub mod heat_loss;
mod late;
pub mod operating;
pub mod power;
pub mod power_full;
pub mod road;

/// Coolant of a warm engine [K]: 90 degC, common practice, no source.
pub(crate) const WARM_COOLANT_K: f64 = 363.15;
