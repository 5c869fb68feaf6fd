#![doc = include_str!("../README.md")]
#![warn(missing_docs)]
#![deny(clippy::print_stdout, clippy::print_stderr)]
#![cfg_attr(not(test), deny(clippy::unwrap_used, clippy::expect_used))]

pub mod constants;
pub mod cycle;
pub mod engine;
pub mod materials;
pub mod network;
pub mod number;
pub mod physics;
pub mod quantity;
pub mod report;
pub mod sheet;
pub mod solve;
pub mod study;
pub mod web;
