//! Intake air on its way from the pickup to the valve.

use super::node::NodeIndex;
use crate::constants::DRY_AIR_GAS_CONSTANT_J_KG_K;
use crate::number::{Number, side_by_side};
use crate::physics::air;
use crate::physics::convection::internal;
use crate::physics::functions::{exponential, power};
use crate::physics::pipe_flow::{TURBULENT_START, friction_petukhov};
use crate::sheet::build::IntakePlace;

/// Air flow below which the intake stands still [kg/s].
pub const STILL_KG_S: f64 = 1e-7;

/// A duct as the stream sees it.
#[derive(Debug, Clone)]
pub struct DuctElement<N = f64> {
    /// Place on the route.
    pub place: IntakePlace,
    /// Wall node.
    pub wall: NodeIndex,
    /// Hydraulic diameter [m].
    pub bore_m: N,
    /// Inner area [m2].
    pub area_m2: N,
    /// Factor on the heat transfer.
    pub factor: N,
    /// Air in it [m3].
    pub volume_m3: N,
}
side_by_side!(DuctElement {
    numbers: [bore_m, area_m2, factor, volume_m3],
    same: [place, wall],
});

/// Charge cooler as the stream sees it.
#[derive(Debug, Clone)]
pub struct CoolerElement<N = f64> {
    /// Core nodes in charge flow order.
    pub core: Vec<NodeIndex>,
    /// Charge side conductance at 0.1 kg/s [W/K].
    pub charge_w_k: N,
}
side_by_side!(CoolerElement {
    numbers: [charge_w_k],
    same: [core]
});

/// The intake route.
#[derive(Debug, Clone)]
pub struct Route<N = f64> {
    /// Ducts in flow order.
    pub ducts: Vec<DuctElement<N>>,
    /// Compressor housing, if any.
    pub compressor: Option<(NodeIndex, N)>,
    /// Charge cooler, if any.
    pub cooler: Option<CoolerElement<N>>,
    /// Head node and conductance to the charge in the ports at 0.05 kg/s [W/K].
    pub port: (NodeIndex, N),
    /// Duct after which the sensor sits; `None`: after the cooler.
    pub sensor_after: Option<usize>,
}
side_by_side!(Route {
    numbers: [ducts, compressor, cooler, port],
    same: [sensor_after],
});

/// What drives the intake air at an instant.
#[derive(Debug, Clone, Copy)]
pub struct AirDrive<N = f64> {
    /// Air flow [kg/s].
    pub flow_kg_s: N,
    /// Temperature at the pickup [K].
    pub pickup_k: N,
    /// Compressor temperature rise over inlet temperature: `T2 = T1 (1 + rise)`.
    pub compression_rise: N,
    /// Change of pressure between compressor and throttle [Pa/s].
    pub boost_rate_pa_s: N,
    /// Change of pressure in the plenum [Pa/s].
    pub plenum_rate_pa_s: N,
}

/// Temperatures and heat along the route.
#[derive(Debug, Clone, Default)]
pub struct AirPath<N = f64> {
    /// Out of each duct [K].
    pub duct_out_k: Vec<N>,
    /// Wall to air in each duct [W].
    pub duct_to_air_w: Vec<N>,
    /// Derivative by wall temperature of each [W/K].
    pub duct_by_wall: Vec<N>,
    /// Compressor housing to air [W].
    pub housing_to_air_w: N,
    /// Work that rising pressure does on the air in ducts and plenum, less what falling pressure takes [W].
    pub squeezed_w: N,
    /// Compressor work on the air [W].
    pub compressor_w: N,
    /// Out of the compressor [K].
    pub compressor_out_k: N,
    /// Charge to each core segment [W].
    pub charge_to_core_w: Vec<N>,
    /// Derivative by core temperature of each [W/K], negative.
    pub core_by_wall: Vec<N>,
    /// Out of the cooler [K].
    pub cooler_out_k: N,
    /// Air at the sensor [K].
    pub sensor_air_k: N,
    /// Head to charge in the ports [W].
    pub port_to_air_w: N,
    /// At the valve [K].
    pub valve_k: N,
}

/// Flow exponent of turbulent convection in passages (Dittus-Boelter).
const FLOW_EXPONENT: f64 = 0.8;

/// A piece of the route where air exchanges heat with a wall.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Passage {
    /// Duct by index.
    Duct(usize),
    /// Compressor housing.
    Housing,
    /// A core segment of the charge cooler.
    Core,
    /// Ports of the head.
    Port,
}

/// Conductances that follow the flow alone [W/K].
#[derive(Debug, Clone, Copy)]
pub struct FlowConductances<N = f64> {
    housing: N,
    core: N,
    port: N,
}

/// Air on its way: temperature [K] and enthalpy [J/kg].
#[derive(Debug, Clone, Copy)]
struct Air<N> {
    t_k: N,
    j_kg: N,
}

impl<N: Number> Air<N> {
    #[inline(always)]
    fn new(t_k: N) -> Self {
        let j_kg = air::enthalpy(t_k);
        Self { t_k, j_kg }
    }

    /// Passes a wall: heat from the wall [W], and its derivative by wall temperature [W/K].
    #[inline(always)]
    fn pass(&mut self, flow: N, wall_k: N, through: N) -> (N, N) {
        let capacity = flow * air::specific_heat((self.t_k + wall_k) * 0.5);
        let out = Self::new(wall_k + (self.t_k - wall_k) * through);
        let heat = flow * (out.j_kg - self.j_kg);
        *self = out;
        (heat, capacity * (N::of(1.0) - through))
    }
}

/// Largest change of temperature by a change of pressure [K]: about that of 100 to 40 kPa, so that
/// a flow near zero can't run away with the quasi-steady form.
const MOST_SQUEEZE_K: f64 = 60.0;

/// Air after a volume whose pressure changes: `V dp/dt = m (h_out - h_in)`.
///
/// # Source
/// First law for an open volume at constant mass storage per pressure, `d(mu) + pdV` written with
/// enthalpies (any thermodynamics text, filling and emptying); quasi-steady, as the air stays for
/// less than a second. In the cooler's core the air gives this heat to the fins at once; left out.
#[inline(always)]
fn squeeze<N: Number>(flow_kg_s: N, air_k: N, volume_m3: N, rate_pa_s: N) -> N {
    // where air stands beside lanes in which it flows, what comes of it carries nothing
    let flow_kg_s = flow_kg_s.max(N::of(STILL_KG_S));
    let by_k = volume_m3 * rate_pa_s / (flow_kg_s * air::specific_heat(air_k));
    air_k + by_k.clamp(-MOST_SQUEEZE_K, MOST_SQUEEZE_K)
}

impl<N: Number> Route<N> {
    /// Number of places in a list of transfer, see [`Route::place`].
    pub fn places(&self) -> usize {
        self.ducts.len() + 3
    }

    /// Place of a passage in a list of transfer.
    #[inline]
    pub fn place(&self, passage: Passage) -> usize {
        match passage {
            Passage::Duct(i) => i,
            Passage::Housing => self.ducts.len(),
            Passage::Core => self.ducts.len() + 1,
            Passage::Port => self.ducts.len() + 2,
        }
    }

    /// Inner conductance of a duct [W/K].
    #[inline(always)]
    fn duct_conductance(duct: &DuctElement<N>, flow: N, air_k: N) -> N {
        let mu = air::viscosity(air_k);
        let re = flow * 4.0 / (duct.bore_m * std::f64::consts::PI * mu);
        let friction = friction_petukhov(re.max(N::of(TURBULENT_START)));
        let nusselt = internal::nusselt_pipe(re, air::prandtl(air_k), friction);
        duct.factor * nusselt * air::conductivity(air_k) / duct.bore_m * duct.area_m2
    }

    /// Conductances that follow the flow alone.
    #[inline(always)]
    pub fn conductances(&self, flow_kg_s: N) -> FlowConductances<N> {
        let power = power(flow_kg_s / 0.05, FLOW_EXPONENT);
        let zero = N::default();
        let core = self
            .cooler
            .as_ref()
            .map_or(zero, |c| c.charge_w_k / c.core.len() as f64);
        FlowConductances {
            housing: self.compressor.map_or(zero, |c| c.1) * power,
            core: core * power * 0.5f64.powf(FLOW_EXPONENT),
            port: self.port.1 * power,
        }
    }

    /// Share of the difference between air and wall that is left behind a passage; what stands is taken to
    /// creep.
    #[inline(always)]
    pub fn through(
        &self,
        passage: Passage,
        by_flow: &FlowConductances<N>,
        flow_kg_s: N,
        t_in: N,
        wall_k: N,
    ) -> N {
        let conductance = match passage {
            Passage::Duct(i) => Self::duct_conductance(&self.ducts[i], flow_kg_s, t_in),
            Passage::Housing => by_flow.housing,
            Passage::Core => by_flow.core,
            Passage::Port => by_flow.port,
        };
        let flow = flow_kg_s.max(N::of(STILL_KG_S));
        let capacity = flow * air::specific_heat((t_in + wall_k) * 0.5);
        exponential(-conductance / capacity)
    }

    /// Marches the air along the route at wall temperatures `node_k`.
    ///
    /// # Arguments
    /// - `through`: share of the difference between air and wall that is left behind a passage, from
    ///   the passage, air and wall temperature
    #[inline(always)]
    pub fn march(
        &self,
        node_k: &[N],
        drive: AirDrive<N>,
        path: &mut AirPath<N>,
        mut through: impl FnMut(Passage, N, N) -> N,
    ) {
        let (n, zero) = (self.ducts.len(), N::default());
        path.duct_out_k.resize(n, zero);
        path.duct_to_air_w.resize(n, zero);
        path.duct_by_wall.resize(n, zero);
        let cores = self.cooler.as_ref().map_or(0, |c| c.core.len());
        path.charge_to_core_w.resize(cores, zero);
        path.core_by_wall.resize(cores, zero);
        if drive.flow_kg_s.largest() < STILL_KG_S {
            self.stand_still(node_k, drive, path);
            return;
        }
        let (flow, mut air) = (drive.flow_kg_s, Air::new(drive.pickup_k));
        let before = IntakePlace::BeforeCompressor;
        self.run_ducts(before, &mut air, node_k, drive, path, &mut through);
        (path.compressor_w, path.housing_to_air_w) = (zero, zero);
        path.squeezed_w = zero;
        if let Some((housing, _)) = self.compressor {
            let compressed = Air::new(air.t_k * (drive.compression_rise + 1.0));
            path.compressor_w = flow * (compressed.j_kg - air.j_kg);
            air = compressed;
            let left = through(Passage::Housing, air.t_k, node_k[housing]);
            (path.housing_to_air_w, _) = air.pass(flow, node_k[housing], left);
        }
        path.compressor_out_k = air.t_k;
        let hot = IntakePlace::HotSide;
        self.run_ducts(hot, &mut air, node_k, drive, path, &mut through);
        if let Some(cooler) = &self.cooler {
            for (i, &node) in cooler.core.iter().enumerate() {
                let left = through(Passage::Core, air.t_k, node_k[node]);
                let (heat, slope) = air.pass(flow, node_k[node], left);
                path.charge_to_core_w[i] = -heat;
                path.core_by_wall[i] = -slope;
            }
        }
        path.cooler_out_k = air.t_k;
        for place in [IntakePlace::ColdSide, IntakePlace::Plenum] {
            self.run_ducts(place, &mut air, node_k, drive, path, &mut through);
        }
        let (head, _) = self.port;
        let left = through(Passage::Port, air.t_k, node_k[head]);
        (path.port_to_air_w, _) = air.pass(flow, node_k[head], left);
        path.valve_k = air.t_k;
        path.sensor_air_k = self
            .sensor_after
            .map_or(path.cooler_out_k, |d| path.duct_out_k[d]);
    }

    #[inline(always)]
    fn run_ducts(
        &self,
        place: IntakePlace,
        air: &mut Air<N>,
        node_k: &[N],
        drive: AirDrive<N>,
        path: &mut AirPath<N>,
        through: &mut impl FnMut(Passage, N, N) -> N,
    ) {
        let flow = drive.flow_kg_s;
        for (i, duct) in self
            .ducts
            .iter()
            .enumerate()
            .filter(|(_, d)| d.place == place)
        {
            let wall_k = node_k[duct.wall];
            let left = through(Passage::Duct(i), air.t_k, wall_k);
            (path.duct_to_air_w[i], path.duct_by_wall[i]) = air.pass(flow, wall_k, left);
            let rate_pa_s = match place {
                IntakePlace::BeforeCompressor => None,
                IntakePlace::HotSide | IntakePlace::ColdSide => Some(drive.boost_rate_pa_s),
                IntakePlace::Plenum => Some(drive.plenum_rate_pa_s),
            };
            if let Some(rate_pa_s) = rate_pa_s {
                let squeezed = Air::new(squeeze(flow, air.t_k, duct.volume_m3, rate_pa_s));
                path.squeezed_w += flow * (squeezed.j_kg - air.j_kg);
                *air = squeezed;
            }
            path.duct_out_k[i] = air.t_k;
        }
    }

    /// Without flow the air in each piece takes its wall's temperature and carries nothing.
    #[inline(always)]
    fn stand_still(&self, node_k: &[N], drive: AirDrive<N>, path: &mut AirPath<N>) {
        let zero = N::default();
        for (i, duct) in self.ducts.iter().enumerate() {
            path.duct_out_k[i] = node_k[duct.wall];
        }
        path.duct_to_air_w.fill(zero);
        path.duct_by_wall.fill(zero);
        path.charge_to_core_w.fill(zero);
        path.core_by_wall.fill(zero);
        path.compressor_w = zero;
        path.squeezed_w = zero;
        path.housing_to_air_w = zero;
        path.port_to_air_w = zero;
        path.compressor_out_k = self
            .compressor
            .map_or(drive.pickup_k, |(node, _)| node_k[node]);
        path.cooler_out_k = match &self.cooler {
            Some(c) => c.core.last().map_or(drive.pickup_k, |&node| node_k[node]),
            None => path.compressor_out_k,
        };
        path.valve_k = node_k[self.port.0];
        path.sensor_air_k = self
            .sensor_after
            .map_or(path.cooler_out_k, |d| path.duct_out_k[d]);
    }

    /// Air speed at the sensor [m/s] at `pressure_pa`.
    #[inline(always)]
    pub fn sensor_speed(&self, flow_kg_s: N, air_k: N, pressure_pa: N) -> N {
        let bore = self.sensor_after.map_or_else(
            || self.ducts.last().map_or(N::of(0.06), |d| d.bore_m),
            |d| self.ducts[d].bore_m,
        );
        let area = bore * (0.25 * std::f64::consts::PI) * bore;
        flow_kg_s * DRY_AIR_GAS_CONSTANT_J_KG_K * air_k / (pressure_pa * area)
    }
}
