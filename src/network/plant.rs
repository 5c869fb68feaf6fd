//! A network under the conditions of one interval, as the solver sees it.

use super::conditions::Conditions;
use super::coupling::Couplings;
use super::rates::{Network, Scratch};
use crate::solve::System;

/// The network between two instants.
#[derive(Debug)]
pub struct Plant<'a> {
    /// Network.
    pub network: &'a Network,
    /// Conditions at the interval's start.
    pub from: Conditions,
    /// Conditions at its end.
    pub to: Conditions,
    /// Interval [s].
    pub span_s: (f64, f64),
    /// What the last call left behind.
    pub scratch: Scratch,
    now: Conditions,
    couplings: Couplings,
}

impl<'a> Plant<'a> {
    /// A plant without conditions yet.
    pub fn new(network: &'a Network) -> Self {
        Self {
            network,
            from: Conditions::default(),
            to: Conditions::default(),
            span_s: (0.0, 1.0),
            scratch: Scratch::default(),
            now: Conditions::default(),
            couplings: Couplings::new(network),
        }
    }

    /// Conditions at time `t`.
    pub fn conditions(&mut self, t: f64) -> &Conditions {
        let (t0, t1) = self.span_s;
        let w = if t1 > t0 {
            ((t - t0) / (t1 - t0)).clamp(0.0, 1.0)
        } else {
            0.0
        };
        self.now.set_between(&self.from, &self.to, w);
        &self.now
    }
}

impl Plant<'_> {
    /// Leaves air and gas along their ways at time `t` [s] in the scratch, without rates.
    pub fn streams(&mut self, t: f64, y: &[f64]) {
        self.conditions(t);
        self.network.streams(&self.now, y, &mut self.scratch);
    }
}

impl System for Plant<'_> {
    fn len(&self) -> usize {
        self.network.states()
    }

    fn rates(&mut self, t: f64, y: &[f64], dy: &mut [f64]) {
        self.conditions(t);
        self.network.rates(&self.now, y, dy, &mut self.scratch);
    }

    fn implicit_states(&self) -> usize {
        self.network.nodes.len()
    }

    fn couplings(&self) -> Vec<(usize, usize)> {
        self.couplings.pairs().to_vec()
    }

    fn coupling_rates(&mut self, _t: f64, _y: &[f64], out: &mut [f64]) {
        self.couplings
            .rates(self.network, &self.now, &self.scratch, out);
    }

    fn tolerance_scale(&self, i: usize) -> f64 {
        // the ledger has no say in the step: its sums are as exact as the temperatures
        if i < self.network.nodes.len() {
            1.0
        } else {
            1e3
        }
    }

    fn state_name(&self, i: usize) -> String {
        self.network
            .nodes
            .get(i)
            .map_or_else(|| format!("ledger {i}"), |n| n.name.clone())
    }
}
