//! Exhaust gas on its way from the ports to the tail: heat to walls, turbine work, catalyst.

use super::node::NodeIndex;
use crate::number::{Choice, Number, side_by_side};
use crate::physics::convection::internal;
use crate::physics::exhaust_gas::ExhaustGas;
use crate::physics::functions::exponential;
use crate::physics::pipe_flow::{TURBULENT_START, friction_petukhov};
use crate::sheet::build::ExhaustKind;

/// Enhancement of far pipes over steady flow: bends and leftover pulsation.
/// Wendland 1993 (SAE 931085) for the idea, 1.3 from memory.
const FAR_PIPE_FACTOR: f64 = 1.3;
/// Number of transfer units of a catalyst brick: gas and brick leave equal.
const BRICK_NTU: f64 = 6.0;
/// Specific heat of the gas [J/kg/K] where only about right is needed: first guesses.
const ABOUT_J_KG_K: f64 = 1150.0;
/// Gas flow below which the exhaust stands still [kg/s].
pub const STILL_KG_S: f64 = 1e-7;

/// One segment of an exhaust element.
#[derive(Debug, Clone)]
pub struct Segment<N = f64> {
    /// Exhaust part it belongs to.
    pub part: usize,
    /// Kind of that part.
    pub kind: ExhaustKind,
    /// 0 whole flow; 1 and 2 halves side by side.
    pub branch: u8,
    /// Node that the gas touches.
    pub wall: NodeIndex,
    /// Pipes side by side.
    pub count: N,
    /// Bore of one [m].
    pub bore_m: N,
    /// Inner area of all [m2].
    pub area_m2: N,
    /// Factor on the heat transfer.
    pub gas_factor: N,
    /// Resistance of what lines it [m2 K/W].
    pub lining_m2k_w: N,
    /// Last segment of its part: turbine work leaves here.
    pub last: bool,
}
side_by_side!(Segment {
    numbers: [count, bore_m, area_m2, gas_factor, lining_m2k_w],
    same: [part, kind, branch, wall, last],
});

/// What drives the gas at an instant.
#[derive(Debug, Clone, Copy)]
pub struct GasDrive<N = f64> {
    /// Exhaust flow [kg/s].
    pub flow_kg_s: N,
    /// Gas temperature at the ports [K].
    pub port_k: N,
    /// Turbine work [W].
    pub turbine_w: N,
}

/// Gas temperatures and heat along the path.
#[derive(Debug, Clone, Default)]
pub struct GasPath<N = f64> {
    /// Into each segment [K].
    pub in_k: Vec<N>,
    /// Out of each segment [K].
    pub out_k: Vec<N>,
    /// To the wall of each segment [W].
    pub to_wall_w: Vec<N>,
    /// Derivative of that by the wall temperature with the specific heat at the ports [W/K], negative.
    pub by_wall: Vec<N>,
    /// Enthalpy flow at the tail relative to the reference temperature [W].
    pub tail_w: N,
}

/// Share of the whole flow in a branch.
pub fn branch_share(branch: u8) -> f64 {
    if branch == 0 { 1.0 } else { 0.5 }
}

/// Gas side coefficient [W/m2/K] in one pipe of a segment.
///
/// Near the engine the pulsating-flow fit of Depcik and Assanis 2002; far pipes the steady pipe
/// law times [`FAR_PIPE_FACTOR`]; the laminar value is the floor.
#[inline(always)]
pub fn gas_coefficient<N: Number>(
    segment: &Segment<N>,
    flow_kg_s: N,
    gas: &ExhaustGas<N>,
    gas_k: N,
) -> N {
    let per_pipe = flow_kg_s * branch_share(segment.branch) / segment.count;
    let mu = gas.viscosity(gas_k);
    let k = gas.conductivity(gas_k);
    let re = per_pipe * 4.0 / (segment.bore_m * std::f64::consts::PI * mu);
    let nusselt = match segment.kind {
        ExhaustKind::Runner | ExhaustKind::Collector | ExhaustKind::Link | ExhaustKind::Turbine => {
            internal::nusselt_pulsating_exhaust(re)
        }
        ExhaustKind::Catalyst | ExhaustKind::Downpipe | ExhaustKind::Pipe => {
            let pr = gas.specific_heat(gas_k) * mu / k;
            let friction = friction_petukhov(re.max(N::of(TURBULENT_START)));
            internal::nusselt_pipe(re, pr, friction) * FAR_PIPE_FACTOR
        }
    };
    let floor = N::of(internal::nusselt_laminar_wall_temperature());
    segment.gas_factor * nusselt.max(floor) * k / segment.bore_m
}

/// Share of the difference between gas and wall that is left at the end of a segment:
/// `exp(-hA / (m cp))`; nothing where the gas stands.
#[inline(always)]
pub fn gas_through<N: Number>(
    segment: &Segment<N>,
    flow_kg_s: N,
    gas: &ExhaustGas<N>,
    gas_k: N,
    wall_k: N,
) -> N {
    let left = if segment.kind == ExhaustKind::Catalyst {
        N::of((-BRICK_NTU).exp())
    } else {
        let flow = flow_kg_s.max(N::of(STILL_KG_S)) * branch_share(segment.branch);
        let capacity = flow * gas.specific_heat((gas_k + wall_k) * 0.5);
        let film_m2k_w = N::of(1.0) / gas_coefficient(segment, flow_kg_s, gas, gas_k);
        exponential(-segment.area_m2 / ((film_m2k_w + segment.lining_m2k_w) * capacity))
    };
    flow_kg_s
        .below(N::of(STILL_KG_S))
        .choose(N::default(), left)
}

impl<N: Number> GasPath<N> {
    /// Marches the gas through all segments at wall temperatures `node_k`.
    ///
    /// `T_out = T_wall + (T_in - T_wall) through`; heat is the enthalpy difference, so the books
    /// close whatever the specific heat does.
    ///
    /// # Arguments
    /// - `through`: share of the difference between gas and wall that is left behind a segment, see
    ///   [`gas_through`], from its index, gas and wall temperature
    #[inline(always)]
    pub fn march(
        &mut self,
        segments: &[Segment<N>],
        node_k: &[N],
        gas: &ExhaustGas<N>,
        drive: GasDrive<N>,
        mut through: impl FnMut(usize, N, N) -> N,
    ) {
        let (n, zero) = (segments.len(), N::default());
        self.in_k.resize(n, zero);
        self.out_k.resize(n, zero);
        self.to_wall_w.resize(n, zero);
        self.by_wall.resize(n, zero);
        if drive.flow_kg_s.largest() < STILL_KG_S {
            // standing gas takes the wall's temperature and carries nothing
            for (i, s) in segments.iter().enumerate() {
                self.in_k[i] = node_k[s.wall];
                self.out_k[i] = node_k[s.wall];
                self.to_wall_w[i] = zero;
                self.by_wall[i] = zero;
            }
            self.tail_w = zero;
            return;
        }
        // where gas stands beside lanes in which it flows, nothing is left behind a segment but its wall's temperature
        let divisor = drive.flow_kg_s.max(N::of(STILL_KG_S));
        let mut branch_k = [drive.port_k; 3];
        let mut branch_h = [gas.enthalpy(drive.port_k); 3];
        let mut split = false;
        // good enough for a derivative all along the way
        let cp = gas.specific_heat(drive.port_k);
        for (i, s) in segments.iter().enumerate() {
            let b = usize::from(s.branch);
            match s.branch {
                0 if split => {
                    branch_h[0] = (branch_h[1] + branch_h[2]) * 0.5;
                    let guess_k = (branch_k[1] + branch_k[2]) * 0.5;
                    branch_k[0] = gas.temperature_near(branch_h[0], guess_k);
                    split = false;
                }
                1 | 2 if !split => {
                    (branch_k[1], branch_k[2]) = (branch_k[0], branch_k[0]);
                    (branch_h[1], branch_h[2]) = (branch_h[0], branch_h[0]);
                    split = true;
                }
                _ => {}
            }
            let flow = drive.flow_kg_s * branch_share(s.branch);
            let t_in = branch_k[b];
            let wall_k = node_k[s.wall];
            let through = through(i, t_in, wall_k);
            let mut t_out = wall_k + (t_in - wall_k) * through;
            let mut h_out = gas.enthalpy(t_out);
            self.in_k[i] = t_in;
            self.to_wall_w[i] = flow * (branch_h[b] - h_out);
            self.by_wall[i] = -flow * cp * (N::of(1.0) - through);
            if s.kind == ExhaustKind::Turbine && s.last && drive.turbine_w.largest() > 0.0 {
                let taken = drive.turbine_w.max(zero) / divisor;
                h_out -= taken;
                t_out = gas.temperature_near(h_out, t_out - taken / ABOUT_J_KG_K);
            }
            self.out_k[i] = t_out;
            (branch_k[b], branch_h[b]) = (t_out, h_out);
        }
        self.tail_w = if split {
            drive.flow_kg_s * 0.5 * (branch_h[1] + branch_h[2])
        } else {
            drive.flow_kg_s * branch_h[0]
        };
    }
}
