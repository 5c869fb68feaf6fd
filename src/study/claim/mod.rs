//! A supplier's numbers against physics.

pub mod point;
