//! Engine laws and operating points.

mod bands;
mod energy;
mod fixture;
mod laws;
mod published;
