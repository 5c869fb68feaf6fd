//! Transfer units of the exhaust gas in each segment, laid out for speed: numbers in columns, all segments of
//! a kind at once.

use super::exhaust::{STILL_KG_S, Segment, branch_share};
use super::runs::runs;
use crate::number::{Number, side_by_side, turn_by_turn};
use crate::physics::convection::internal;
use crate::physics::exhaust_gas::ExhaustGas;
use crate::physics::pipe_flow::{TURBULENT_START, friction_petukhov};
use crate::sheet::build::ExhaustKind;

/// Enhancement of far pipes over steady flow: bends and leftover pulsation.
/// Wendland 1993 (SAE 931085) for the idea, 1.3 from memory.
const FAR_PIPE_FACTOR: f64 = 1.3;
/// Number of transfer units of a catalyst brick: gas and brick leave equal.
const BRICK_NTU: f64 = 6.0;

/// What the gas obeys in a segment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Law {
    /// Near the engine: the pulsating-flow fit of Depcik and Assanis 2002.
    Pulsating,
    /// Far pipes: the steady pipe law times [`FAR_PIPE_FACTOR`].
    Pipe,
    /// A catalyst brick.
    Brick,
}

impl Law {
    fn of(kind: ExhaustKind) -> Self {
        match kind {
            ExhaustKind::Runner
            | ExhaustKind::Collector
            | ExhaustKind::Link
            | ExhaustKind::Turbine => Self::Pulsating,
            ExhaustKind::Downpipe | ExhaustKind::Pipe => Self::Pipe,
            ExhaustKind::Catalyst => Self::Brick,
        }
    }
}

/// Gas films of all segments, in flow order.
#[derive(Debug, Clone, Default)]
pub struct GasFilms<N = f64> {
    /// Share of the whole flow.
    share: Vec<N>,
    /// Reynolds number times viscosity over the whole flow [1/m].
    re_mu_per_kg_s: Vec<N>,
    /// Factor on the heat transfer over the bore [1/m].
    factor_per_m: Vec<N>,
    /// Inner area [m2].
    area_m2: Vec<N>,
    /// Resistance of what lines it [m2 K/W].
    lining_m2k_w: Vec<N>,
    /// (law, first segment, end) of those in a row that obey the same.
    runs: Vec<(Law, usize, usize)>,
}
side_by_side!(GasFilms {
    numbers: [share, re_mu_per_kg_s, factor_per_m, area_m2, lining_m2k_w],
    same: [runs],
});

/// Gas along the films, what they make of it, and work space.
#[derive(Debug, Clone, Default)]
pub struct FilmScratch<N = f64> {
    /// Gas into each segment, and the wall there [K].
    pub gas_k: Vec<N>,
    /// See there.
    pub wall_k: Vec<N>,
    /// Transfer units of each segment as they were found last, and the flow then [-, kg/s].
    pub units: Vec<N>,
    /// See there.
    pub flow_kg_s: N,
    reynolds: Vec<N>,
    prandtl: Vec<N>,
    conductivity: Vec<N>,
    /// Flow times specific heat of the gas [W/K].
    capacity: Vec<N>,
}

impl GasFilms {
    /// Of segments in flow order.
    pub fn new(segments: &[Segment]) -> Self {
        let column = |of: &dyn Fn(&Segment) -> f64| segments.iter().map(of).collect();
        let alike = |a: &Segment, b: &Segment| Law::of(a.kind) == Law::of(b.kind);
        Self {
            share: column(&|s| branch_share(s.branch)),
            re_mu_per_kg_s: column(&|s| {
                branch_share(s.branch) / s.count * 4.0 / (s.bore_m * std::f64::consts::PI)
            }),
            factor_per_m: column(&|s| s.gas_factor / s.bore_m),
            area_m2: column(&|s| s.area_m2),
            lining_m2k_w: column(&|s| s.lining_m2k_w),
            runs: runs(segments, alike)
                .map(|run| (Law::of(segments[run.start].kind), run.start, run.end))
                .collect(),
        }
    }
}

impl<N: Number> GasFilms<N> {
    /// Number of transfer units of each segment, `hA / (m cp)`, from the gas and the walls that `s` holds, into `s`; what
    /// stands is taken to creep.
    #[inline(always)]
    pub fn transfer_units(&self, flow_kg_s: N, gas: &ExhaustGas<N>, s: &mut FilmScratch<N>) {
        let n = self.share.len();
        for column in [
            &mut s.units,
            &mut s.reynolds,
            &mut s.prandtl,
            &mut s.conductivity,
            &mut s.capacity,
        ] {
            column.resize(n, N::default());
        }
        for &(law, first, end) in &self.runs {
            let of_run = self.columns(first, end);
            match law {
                Law::Brick => s.units[first..end].fill(N::of(BRICK_NTU)),
                Law::Pulsating => of_run.units::<false>(flow_kg_s, gas, (first, s)),
                Law::Pipe => of_run.units::<true>(flow_kg_s, gas, (first, s)),
            }
        }
        s.flow_kg_s = flow_kg_s;
    }

    #[inline(always)]
    fn columns(&self, first: usize, end: usize) -> Columns<'_, N> {
        Columns {
            share: &self.share[first..end],
            re_mu_per_kg_s: &self.re_mu_per_kg_s[first..end],
            factor_per_m: &self.factor_per_m[first..end],
            area_m2: &self.area_m2[first..end],
            lining_m2k_w: &self.lining_m2k_w[first..end],
        }
    }
}

/// Films of segments in a row.
struct Columns<'f, N> {
    share: &'f [N],
    re_mu_per_kg_s: &'f [N],
    factor_per_m: &'f [N],
    area_m2: &'f [N],
    lining_m2k_w: &'f [N],
}

impl<N: Number> Columns<'_, N> {
    /// Written in short loops, so that a compiler takes several segments at once and a processor need not wait for one.
    #[inline(always)]
    fn units<const STEADY: bool>(
        &self,
        flow_kg_s: N,
        gas: &ExhaustGas<N>,
        (first, s): (usize, &mut FilmScratch<N>),
    ) {
        let n = self.share.len();
        let here = first..first + n;
        let (gas_k, wall_k) = (&s.gas_k[here.clone()], &s.wall_k[here.clone()]);
        let out = &mut s.units[here];
        let (re, pr) = (&mut s.reynolds[..n], &mut s.prandtl[..n]);
        let (k, capacity) = (&mut s.conductivity[..n], &mut s.capacity[..n]);
        let flows = flow_kg_s.max(N::of(STILL_KG_S));
        for i in 0..n {
            turn_by_turn::<N>();
            let mean_k = (gas_k[i] + wall_k[i]) * 0.5;
            capacity[i] = flows * self.share[i] * gas.specific_heat(mean_k);
        }
        for i in 0..n {
            turn_by_turn::<N>();
            let mu = gas.viscosity(gas_k[i]);
            k[i] = gas.conductivity(gas_k[i]);
            re[i] = flow_kg_s * self.re_mu_per_kg_s[i] / mu;
            if STEADY {
                pr[i] = gas.specific_heat(gas_k[i]) * mu / k[i];
            }
        }
        for i in 0..n {
            turn_by_turn::<N>();
            // Nusselt number in place of the Reynolds number
            re[i] = if STEADY {
                let friction = friction_petukhov(re[i].max(N::of(TURBULENT_START)));
                internal::nusselt_pipe(re[i], pr[i], friction) * FAR_PIPE_FACTOR
            } else {
                internal::nusselt_pulsating_exhaust(re[i])
            };
        }
        // the laminar value is the floor
        let floor = N::of(internal::nusselt_laminar_wall_temperature());
        for i in 0..n {
            turn_by_turn::<N>();
            let film_w_m2k = self.factor_per_m[i] * re[i].max(floor) * k[i];
            let resistance = N::of(1.0) / film_w_m2k + self.lining_m2k_w[i];
            out[i] = self.area_m2[i] / (resistance * capacity[i]);
        }
    }
}
