//! Engine laws and operating points.

mod bands;
mod behaviour;
mod continuity;
mod energy;
mod fixture;
mod late;
mod laws;
mod power;
mod published;
