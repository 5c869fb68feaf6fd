//! Properties, correlations and closed forms: plain `f64` in, plain `f64` out, SI units, kelvin.
//!
//! Correlations don't clamp or warn: each has a `..._RANGE` constant and the caller counts use outside it.

pub mod air;
pub mod atmosphere;
pub mod conduction;
pub mod convection;
pub mod exchanger;
pub mod exhaust_gas;
pub mod functions;
pub mod humid_air;
pub mod pipe_flow;
pub mod planck;
mod polynomial;
pub mod radiation;
pub mod range;
pub mod solar;
pub mod view_factors;
pub mod zoned_enclosure;

pub use polynomial::PropertyFits;
