//! Helpers shared by the test binaries.

pub mod problems;
