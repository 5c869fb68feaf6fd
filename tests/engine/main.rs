//! Engine laws and operating points.

mod fixture;
mod laws;
mod published;
