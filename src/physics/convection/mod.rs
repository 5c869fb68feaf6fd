//! Convection correlations, one file per situation. They take and give dimensionless groups.

pub mod crossflow;
pub mod internal;
pub mod mixed;
pub mod natural;
pub mod plate;
