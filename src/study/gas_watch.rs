//! Watches the gas in the exhaust of a car, or of several side by side: temperature, speed and pressure drop in each part.

use std::f64::consts::PI;

use crate::network::conditions::Conditions;
use crate::network::exhaust::{GasPath, Segment, branch_share};
use crate::network::rates::Circuit;
use crate::number::{Choice, Lanes, Number, turn_by_turn, widest};
use crate::physics::exhaust_gas::ExhaustGas;
use crate::physics::pipe_flow;
use crate::sheet::build::ExhaustKind;

/// Roughness over bore of a used exhaust pipe (estimate: 0.05 mm in 40 mm).
const WALL_ROUGHNESS: f64 = 1.2e-3;

/// Largest values that the gas in a part has come to.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct GasPeaks<N = f64> {
    /// Going in [K].
    pub gas_k: N,
    /// Speed [m/s].
    pub speed_m_s: N,
    /// Pressure drop by wall friction [Pa].
    pub drop_pa: N,
}

/// Watches the gas.
#[derive(Debug)]
pub(super) struct GasWatch<N = f64> {
    /// Of each exhaust part.
    pub parts: Vec<GasPeaks<N>>,
    /// Reynolds number in each segment, as seen last.
    pub re: Vec<N>,
    /// Pipe of each segment, and 1 where it lies ahead of the wheel of a turbine, else 0.
    pipes: Vec<(Pipe<N>, N)>,
    /// Speed and pressure drop in each segment, as seen last [m/s, Pa].
    flows: Vec<(N, N)>,
    drops_pa: Vec<N>,
}

impl<N: Number> GasWatch<N> {
    /// Of a circuit with so many exhaust parts; it has seen nothing yet.
    pub fn new(circuit: &Circuit<N>, parts: usize) -> Self {
        let segments = &circuit.segments;
        let ahead = circuit.turbine().map_or(0, |turbine| turbine + 1);
        let pipes = segments.iter().enumerate();
        Self {
            parts: vec![GasPeaks::default(); parts],
            re: vec![N::default(); segments.len()],
            pipes: pipes
                .map(|(i, s)| (Pipe::of(s), N::of(f64::from(i < ahead))))
                .collect(),
            flows: vec![Default::default(); segments.len()],
            drops_pa: vec![N::default(); parts],
        }
    }

    /// Looks at the gas on its way under conditions `c`; `manifold_pa` is the pressure of the charge.
    pub fn look(
        &mut self,
        circuit: &Circuit<N>,
        c: &Conditions<N>,
        path: &GasPath<N>,
        manifold_pa: N,
    ) {
        if c.scalars.running.largest() > 0.0 {
            widest(
                #[inline(always)]
                || self.look_at_flow(circuit, c, path, manifold_pa),
            );
        }
    }

    #[inline(always)]
    fn look_at_flow(
        &mut self,
        circuit: &Circuit<N>,
        c: &Conditions<N>,
        path: &GasPath<N>,
        manifold_pa: N,
    ) {
        let gas = circuit.gas(c);
        let (flow_kg_s, zero) = (c.scalars.exhaust_kg_s, N::default());
        let runs = zero.below(c.scalars.running);
        // ahead of a turbine the gas stands at about manifold pressure
        let outside_pa = circuit.pressure_pa;
        let over_pa = manifold_pa.max(outside_pa) - outside_pa;
        // a loop without choices of its own, so that a compiler takes several segments at once
        let states = path.in_k.iter().zip(&path.out_k).zip(&self.pipes);
        let out = self.re.iter_mut().zip(&mut self.flows);
        for (((&in_k, &out_k), (pipe, ahead)), (re, seen)) in states.zip(out) {
            turn_by_turn::<N>();
            let pressure_pa = outside_pa + over_pa * *ahead;
            let flow = PipeFlow::of(pipe, flow_kg_s, &gas, (in_k + out_k) * 0.5, pressure_pa);
            *re = flow.re;
            *seen = (flow.speed_m_s, flow.drop_pa);
        }
        self.drops_pa.fill(zero);
        let seen = path.in_k.iter().zip(&self.flows);
        for (segment, (&in_k, &(speed_m_s, drop_pa))) in circuit.segments.iter().zip(seen) {
            let peaks = &mut self.parts[segment.part];
            peaks.gas_k = runs.choose(in_k, zero).max(peaks.gas_k);
            // a brick or a wheel is no empty pipe
            if !matches!(segment.kind, ExhaustKind::Catalyst | ExhaustKind::Turbine) {
                peaks.speed_m_s = runs.choose(speed_m_s, zero).max(peaks.speed_m_s);
                self.drops_pa[segment.part] += runs.choose(drop_pa, zero);
            }
        }
        for (peaks, &drop_pa) in self.parts.iter_mut().zip(&self.drops_pa) {
            peaks.drop_pa = drop_pa.max(peaks.drop_pa);
        }
    }
}

impl GasWatch {
    /// Takes over what was seen in a lane.
    pub fn take_lane(&mut self, of: &GasWatch<Lanes>, lane: usize) {
        for (own, all) in self.parts.iter_mut().zip(&of.parts) {
            *own = GasPeaks {
                gas_k: all.gas_k.lane(lane),
                speed_m_s: all.speed_m_s.lane(lane),
                drop_pa: all.drop_pa.lane(lane),
            };
        }
    }
}

/// What the gas of a segment flows through.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pipe<N = f64> {
    /// Share of the whole flow.
    share: N,
    bore_m: N,
    length_m: N,
}

impl<N: Number> Pipe<N> {
    pub fn of(segment: &Segment<N>) -> Self {
        let around_m = segment.bore_m * segment.count * PI;
        Self {
            share: N::of(branch_share(segment.branch)) / segment.count,
            bore_m: segment.bore_m,
            length_m: segment.area_m2 / around_m,
        }
    }
}

/// Speed, Reynolds number and pressure drop of the gas in a pipe.
pub(super) struct PipeFlow<N = f64> {
    pub speed_m_s: N,
    re: N,
    pub drop_pa: N,
}

impl<N: Number> PipeFlow<N> {
    #[inline(always)]
    pub fn of(pipe: &Pipe<N>, flow_kg_s: N, gas: &ExhaustGas<N>, gas_k: N, pressure_pa: N) -> Self {
        let density = gas.density(gas_k, pressure_pa);
        let area_m2 = pipe.bore_m * pipe.bore_m * (0.25 * PI);
        let speed_m_s = flow_kg_s * pipe.share / (density * area_m2);
        let re = density * speed_m_s * pipe.bore_m / gas.viscosity(gas_k);
        let drop_pa = pipe_flow::pressure_drop(
            pipe_flow::friction_pipe(re, WALL_ROUGHNESS),
            pipe.length_m,
            pipe.bore_m,
            0.0,
            density,
            speed_m_s,
        );
        Self {
            speed_m_s,
            re,
            drop_pa,
        }
    }
}
