//! Exhaust gas on its way from the ports to the tail: heat to walls, turbine work, catalyst.

use super::node::NodeIndex;
use super::runs::runs;
use crate::number::{Number, side_by_side, turn_by_turn};
use crate::physics::exhaust_gas::ExhaustGas;
use crate::sheet::build::ExhaustKind;

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

impl<N> Segment<N> {
    /// Whether the turbine takes its work behind it.
    #[inline(always)]
    fn gives_work(&self) -> bool {
        self.last && self.kind == ExhaustKind::Turbine
    }
}

/// The way of the gas along the segments.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct GasWay {
    /// Node that the gas touches in each segment.
    pub walls: Vec<NodeIndex>,
    /// (part, first segment, end) of each part.
    pub parts: Vec<(usize, usize, usize)>,
    runs: Vec<GasRun>,
}

/// Segments in a row that one flow passes.
#[derive(Debug, Clone, PartialEq, Eq)]
struct GasRun {
    first: usize,
    end: usize,
    branch: u8,
    /// Whether the turbine takes its work behind it.
    gives_work: bool,
}

impl GasWay {
    /// Of segments in flow order.
    pub fn new(segments: &[Segment]) -> Self {
        let one_flow = runs(segments, |a, b| a.branch == b.branch && !a.gives_work());
        let parts = runs(segments, |a, b| a.part == b.part);
        Self {
            walls: segments.iter().map(|s| s.wall).collect(),
            parts: parts
                .map(|run| (segments[run.start].part, run.start, run.end))
                .collect(),
            runs: one_flow
                .map(|run| GasRun {
                    first: run.start,
                    end: run.end,
                    branch: segments[run.start].branch,
                    gives_work: segments[run.end - 1].gives_work(),
                })
                .collect(),
        }
    }
}

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

impl<N: Number> GasDrive<N> {
    /// What the turbine takes from the gas [J/kg].
    #[inline(always)]
    fn taken_j_kg(&self) -> N {
        // where gas stands beside lanes in which it flows, nothing is left behind a segment but its wall's temperature
        let divisor = self.flow_kg_s.max(N::of(STILL_KG_S));
        self.turbine_w.max(N::default()) / divisor
    }
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
    /// Behind the exchange with the wall of each segment, ahead of turbine work [K, J/kg].
    reached_k: Vec<N>,
    reached_j_kg: Vec<N>,
    /// Flow times specific heat at the ports [W/K].
    capacity_w_k: N,
    /// Enthalpy flow at the tail relative to the reference temperature [W].
    pub tail_w: N,
}

/// Share of the whole flow in a branch.
pub fn branch_share(branch: u8) -> f64 {
    if branch == 0 { 1.0 } else { 0.5 }
}

impl<N: Number> GasPath<N> {
    /// Marches the gas through all segments at wall temperatures `node_k`.
    ///
    /// `T_out = T_wall + (T_in - T_wall) through`; heat is the enthalpy difference, so the books
    /// close whatever the specific heat does.
    ///
    /// # Arguments
    /// - `left`: share of the difference between gas and wall that is left behind each segment: `exp(-NTU)`
    #[inline(always)]
    pub fn march(
        &mut self,
        way: &GasWay,
        node_k: &[N],
        gas: &ExhaustGas<N>,
        drive: GasDrive<N>,
        left: &[N],
    ) {
        let zero = N::default();
        self.capacity_w_k = zero;
        if drive.flow_kg_s.largest() < STILL_KG_S {
            self.resize(way.walls.len());
            // standing gas takes the wall's temperature and carries nothing
            for (i, &wall) in way.walls.iter().enumerate() {
                self.in_k[i] = node_k[wall];
                self.out_k[i] = node_k[wall];
                self.to_wall_w[i] = zero;
            }
            self.tail_w = zero;
            return;
        }
        self.find_temperatures((way, node_k), gas, drive, left);
        gas.enthalpies(&self.reached_k, &mut self.reached_j_kg);
        self.add_heat(way, gas, drive);
        self.capacity_w_k = drive.flow_kg_s * gas.specific_heat(drive.port_k);
    }

    fn resize(&mut self, segments: usize) {
        for column in [
            &mut self.in_k,
            &mut self.reached_k,
            &mut self.out_k,
            &mut self.reached_j_kg,
            &mut self.to_wall_w,
        ] {
            column.resize(segments, N::default());
        }
    }

    /// Temperatures of a gas that flows: into each segment, behind the exchange with its wall, and out of it.
    #[inline(always)]
    pub fn find_temperatures(
        &mut self,
        (way, node_k): (&GasWay, &[N]),
        gas: &ExhaustGas<N>,
        drive: GasDrive<N>,
        left: &[N],
    ) {
        self.resize(way.walls.len());
        let (port_k, taken_j_kg) = (drive.port_k, drive.taken_j_kg());
        let works = taken_j_kg.largest() > 0.0;
        let mut branches = Branches::new(port_k);
        for run in &way.runs {
            let mut t = branches.enter(
                run.branch,
                #[inline(always)]
                |a, b| {
                    let h = (gas.enthalpy(a) + gas.enthalpy(b)) * 0.5;
                    gas.temperature_near(h, (a + b) * 0.5)
                },
            );
            let of_run = run.first..run.end;
            let columns = self.in_k[of_run.clone()]
                .iter_mut()
                .zip(&mut self.reached_k[of_run.clone()])
                .zip(&mut self.out_k[of_run.clone()])
                .zip(way.walls[of_run.clone()].iter().zip(&left[of_run]));
            for (((in_k, reached_k), out_k), (&wall, &left)) in columns {
                let wall_k = node_k[wall];
                *in_k = t;
                // the temperature before comes in last: the next segment waits for it
                t = t * left + (wall_k - wall_k * left);
                (*reached_k, *out_k) = (t, t);
            }
            if works && run.gives_work {
                let h = gas.enthalpy(t) - taken_j_kg;
                t = gas.temperature_near(h, t - taken_j_kg / ABOUT_J_KG_K);
                self.out_k[run.end - 1] = t;
            }
            branches.leave(run.branch, t);
        }
    }

    /// Heat to the walls, from the enthalpies reached.
    #[inline(always)]
    fn add_heat(&mut self, way: &GasWay, gas: &ExhaustGas<N>, drive: GasDrive<N>) {
        let taken_j_kg = drive.taken_j_kg();
        let mut branches = Branches::new(gas.enthalpy(drive.port_k));
        for run in &way.runs {
            let entered_j_kg = branches.enter(run.branch, middle);
            let flow_kg_s = drive.flow_kg_s * branch_share(run.branch);
            let reached = &self.reached_j_kg[run.first..run.end];
            let (Some(&first), Some(&last)) = (reached.first(), reached.last()) else {
                continue;
            };
            let to_wall_w = &mut self.to_wall_w[run.first..run.end];
            to_wall_w[0] = flow_kg_s * (entered_j_kg - first);
            for (to_wall_w, ends) in to_wall_w[1..].iter_mut().zip(reached.windows(2)) {
                turn_by_turn::<N>();
                *to_wall_w = flow_kg_s * (ends[0] - ends[1]);
            }
            let given = if run.gives_work {
                taken_j_kg
            } else {
                N::default()
            };
            branches.leave(run.branch, last - given);
        }
        self.tail_w = drive.flow_kg_s * branches.enter(0, middle);
    }

    /// Derivative of the heat to the wall of a segment by the wall's temperature [W/K], negative; good enough for a
    /// derivative with the specific heat at the ports all along the way.
    #[inline(always)]
    pub fn by_wall(&self, segment: &Segment<N>, through: N) -> N {
        self.capacity_w_k * branch_share(segment.branch) * (through - 1.0)
    }
}

#[inline(always)]
fn middle<N: Number>(a: N, b: N) -> N {
    (a + b) * 0.5
}

/// A quantity of the gas where it splits into two branches and comes together again.
struct Branches<N> {
    whole: N,
    halves: [N; 2],
    split: bool,
}

impl<N: Number> Branches<N> {
    fn new(whole: N) -> Self {
        Self {
            whole,
            halves: [whole; 2],
            split: false,
        }
    }

    /// What enters a segment of a branch; `mix` makes one of both halves.
    #[inline(always)]
    fn enter(&mut self, branch: u8, mix: impl Fn(N, N) -> N) -> N {
        match branch {
            0 => {
                if self.split {
                    self.whole = mix(self.halves[0], self.halves[1]);
                    self.split = false;
                }
                self.whole
            }
            _ => {
                if !self.split {
                    self.halves = [self.whole; 2];
                    self.split = true;
                }
                self.halves[usize::from(branch == 2)]
            }
        }
    }

    /// Notes what leaves it.
    #[inline(always)]
    fn leave(&mut self, branch: u8, out: N) {
        if branch == 0 {
            self.whole = out;
        } else {
            self.halves[usize::from(branch == 2)] = out;
        }
    }
}
