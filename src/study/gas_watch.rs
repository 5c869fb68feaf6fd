//! Watches the gas in the exhaust of a car, or of several side by side: temperature, speed and pressure drop in each part.

use crate::network::conditions::Conditions;
use crate::network::exhaust::{GasPath, Segment, branch_share};
use crate::network::rates::Circuit;
use crate::number::{Choice, Lanes, Number, widest};
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
    drops_pa: Vec<N>,
    turbine: Option<usize>,
}

impl<N: Number> GasWatch<N> {
    /// Of a circuit with so many exhaust parts; it has seen nothing yet.
    pub fn new(circuit: &Circuit<N>, parts: usize) -> Self {
        Self {
            parts: vec![GasPeaks::default(); parts],
            re: vec![N::default(); circuit.segments.len()],
            drops_pa: vec![N::default(); parts],
            turbine: circuit.turbine(),
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
        let ahead_pa = manifold_pa.max(circuit.pressure_pa);
        self.drops_pa.fill(zero);
        let states = path.in_k.iter().zip(&path.out_k).zip(&mut self.re);
        for (i, (segment, ((&in_k, &out_k), re))) in circuit.segments.iter().zip(states).enumerate()
        {
            let ahead = self.turbine.is_some_and(|t| i <= t);
            let pressure = if ahead { ahead_pa } else { circuit.pressure_pa };
            let mean_k = (in_k + out_k) * 0.5;
            let flow = PipeFlow::of(segment, flow_kg_s, &gas, mean_k, pressure);
            *re = flow.re;
            let peaks = &mut self.parts[segment.part];
            peaks.gas_k = runs.choose(in_k, zero).max(peaks.gas_k);
            // a brick or a wheel is no empty pipe
            if !matches!(segment.kind, ExhaustKind::Catalyst | ExhaustKind::Turbine) {
                peaks.speed_m_s = runs.choose(flow.speed_m_s, zero).max(peaks.speed_m_s);
                self.drops_pa[segment.part] += runs.choose(flow.drop_pa, zero);
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

/// Speed, Reynolds number and pressure drop of the gas in a segment.
pub(super) struct PipeFlow<N = f64> {
    pub speed_m_s: N,
    re: N,
    pub drop_pa: N,
}

impl<N: Number> PipeFlow<N> {
    #[inline(always)]
    pub fn of(
        segment: &Segment<N>,
        flow_kg_s: N,
        gas: &ExhaustGas<N>,
        gas_k: N,
        pressure_pa: N,
    ) -> Self {
        use std::f64::consts::PI;
        let per_pipe = flow_kg_s * branch_share(segment.branch) / segment.count;
        let density = gas.density(gas_k, pressure_pa);
        let area = segment.bore_m * segment.bore_m * (0.25 * PI);
        let speed_m_s = per_pipe / (density * area);
        let re = density * speed_m_s * segment.bore_m / gas.viscosity(gas_k);
        let length = segment.area_m2 / (segment.bore_m * segment.count * PI);
        let drop_pa = pipe_flow::pressure_drop(
            pipe_flow::friction_pipe(re, WALL_ROUGHNESS),
            length,
            segment.bore_m,
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
