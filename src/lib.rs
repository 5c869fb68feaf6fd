//! Under-bonnet heat as a lumped-capacitance network.
pub mod physics;
pub mod materials;
pub mod engine;
pub mod cycle;
pub mod sheet;
pub mod network;
pub mod solve;
pub mod study;
pub mod report;
