//! A supplier's numbers against physics.

pub mod point;

pub mod input;
pub mod readings;
pub mod trial;
