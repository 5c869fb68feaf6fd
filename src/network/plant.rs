//! A network under the conditions of one interval, as the solver sees it.

use super::conditions::Conditions;
use super::coupling::Couplings;
use super::node::Node;
use super::rates::{Circuit, Network, Scratch};
use crate::number::{LANES, Lanes, Number, widest};
use crate::solve::System;

/// The network between two instants; or several of one structure, a number in each lane.
#[derive(Debug)]
pub struct Plant<'a, N = f64> {
    /// What the rates are made of.
    pub circuit: &'a Circuit<N>,
    /// Conditions at the interval's start.
    pub from: Conditions<N>,
    /// Conditions at its end.
    pub to: Conditions<N>,
    /// Interval [s].
    pub span_s: (f64, f64),
    /// What the last call left behind.
    pub scratch: Scratch<N>,
    now: Conditions<N>,
    couplings: Couplings,
    nodes: &'a [Node],
}

impl<'a> Plant<'a> {
    /// A plant without conditions yet.
    pub fn new(network: &'a Network) -> Self {
        Self::of(&network.circuit, Couplings::new(&[network]), network)
    }
}

impl<'a> Plant<'a, Lanes> {
    /// Networks side by side, without conditions yet; `circuit` is theirs.
    pub fn side_by_side(circuit: &'a Circuit<Lanes>, networks: [&'a Network; LANES]) -> Self {
        Self::of(circuit, Couplings::new(&networks), networks[0])
    }
}

impl<'a, N: Number> Plant<'a, N> {
    fn of(circuit: &'a Circuit<N>, couplings: Couplings, network: &'a Network) -> Self {
        Self {
            circuit,
            from: Conditions::default(),
            to: Conditions::default(),
            span_s: (0.0, 1.0),
            scratch: Scratch::default(),
            now: Conditions::default(),
            couplings,
            nodes: &network.nodes,
        }
    }

    /// Conditions at time `t`.
    #[inline(always)]
    pub fn conditions(&mut self, t: f64) -> &Conditions<N> {
        let (t0, t1) = self.span_s;
        let w = if t1 > t0 {
            ((t - t0) / (t1 - t0)).clamp(0.0, 1.0)
        } else {
            0.0
        };
        self.now.set_between(&self.from, &self.to, w);
        &self.now
    }

    /// Conditions asked for last.
    pub fn now(&self) -> &Conditions<N> {
        &self.now
    }

    /// Leaves air and gas along their ways at time `t` [s] in the scratch, without rates.
    pub fn streams(&mut self, t: f64, y: &[N]) {
        widest(
            #[inline(always)]
            || {
                self.conditions(t);
                self.circuit.streams(&self.now, y, &mut self.scratch);
            },
        );
    }

    /// Leaves the same in the scratch after a call of the rates.
    pub fn streams_of_rates(&mut self) {
        widest(
            #[inline(always)]
            || self.circuit.see_turbine(&self.now, &mut self.scratch),
        );
    }
}

impl Plant<'_> {
    /// Takes over what [`Plant::streams`] has left behind in a lane: drivers and single numbers.
    pub fn take_streams(&mut self, of: &Plant<'_, Lanes>, lane: usize) {
        self.now.scalars = of.now.scalars.lane(lane);
        let (own, all) = (&mut self.scratch, &of.scratch);
        own.pickup_k = all.pickup_k.lane(lane);
        own.sensor_reading_k = all.sensor_reading_k.lane(lane);
        let (turbine_k, turbine_w) = &all.turbine_in;
        own.turbine_in = (turbine_k.lane(lane), turbine_w.lane(lane));
        own.air.valve_k = all.air.valve_k.lane(lane);
        own.air.sensor_air_k = all.air.sensor_air_k.lane(lane);
    }

    /// Takes over temperatures of nodes and gas likewise.
    pub fn take_temperatures(&mut self, of: &Plant<'_, Lanes>, lane: usize) {
        let (own, all) = (&mut self.scratch, &of.scratch);
        for (own, all) in [
            (&mut own.node_k, &all.node_k),
            (&mut own.gas.in_k, &all.gas.in_k),
            (&mut own.gas.out_k, &all.gas.out_k),
        ] {
            own.clear();
            own.extend(all.iter().map(|k| k.lane(lane)));
        }
    }
}

impl<N: Number> System<N> for Plant<'_, N> {
    fn len(&self) -> usize {
        self.circuit.states()
    }

    fn rates(&mut self, t: f64, y: &[N], dy: &mut [N]) {
        widest(
            #[inline(always)]
            || {
                self.conditions(t);
                self.circuit.rates(&self.now, y, dy, &mut self.scratch);
            },
        );
    }

    fn implicit_states(&self) -> usize {
        self.circuit.nodes
    }

    fn couplings(&self) -> Vec<(usize, usize)> {
        self.couplings.pairs()
    }

    fn coupling_rates(&mut self, _t: f64, _y: &[N], out: &mut [N]) {
        widest(
            #[inline(always)]
            || {
                self.couplings
                    .rates(self.circuit, &self.now, &self.scratch, out);
            },
        );
    }

    /// Where air turns round or begins to mix. Several networks side by side do so at times of their own and stop at none
    /// of them.
    fn next_kink(&self, t: f64, end: f64) -> f64 {
        let (t0, t1) = self.span_s;
        let share = |t: f64| (t - t0) / (t1 - t0);
        if N::LANES > 1 || t1 <= t0 {
            return end;
        }
        let (from, to, until) = (&self.from, &self.to, share(end));
        let kink = self.circuit.next_kink(from, to, share(t), until);
        if kink < until {
            t0 + (t1 - t0) * kink
        } else {
            end
        }
    }

    fn tolerance_scale(&self, i: usize) -> f64 {
        // the ledger has no say in the step: its sums are as exact as the temperatures
        if i < self.circuit.nodes { 1.0 } else { 1e3 }
    }

    fn state_name(&self, i: usize) -> String {
        self.nodes
            .get(i)
            .map_or_else(|| format!("ledger {i}"), |n| n.name.clone())
    }
}
