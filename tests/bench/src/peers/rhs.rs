//! The network's own rates, for temperatures alone.

use baysoak::network::plant::Plant;
use baysoak::solve::System;
use baysoak::study::recording::{Drive, Recording};

/// Rates of the temperatures; the ledger follows from them and acts on none.
pub struct Rhs<'a> {
    plant: Plant<'a>,
    state: Vec<f64>,
    rate: Vec<f64>,
    nodes: usize,
    /// Calls so far.
    pub calls: u64,
}

impl<'a> Rhs<'a> {
    /// Of a recording's network.
    pub fn new(recording: &'a Recording) -> Self {
        let states = recording.network.states();
        Self {
            plant: Plant::new(&recording.network),
            state: vec![0.0; states],
            rate: vec![0.0; states],
            nodes: recording.network.nodes.len(),
            calls: 0,
        }
    }

    /// Enters a span.
    pub fn enter(&mut self, drive: &Drive) {
        drive.set(&mut self.plant);
    }

    /// Rates [K/s] at time `t` [s] and temperatures `y` [K].
    pub fn call(&mut self, t: f64, y: &[f64], dy: &mut [f64]) {
        self.calls += 1;
        self.state[..self.nodes].copy_from_slice(&y[..self.nodes]);
        self.plant.rates(t, &self.state, &mut self.rate);
        dy[..self.nodes].copy_from_slice(&self.rate[..self.nodes]);
    }
}

/// Temperatures at the start.
pub fn start(recording: &Recording) -> Vec<f64> {
    recording.states[0][..recording.network.nodes.len()].to_vec()
}
