//! Intake air on its way from the pickup to the valve.

use super::node::NodeIndex;
use crate::constants::DRY_AIR_GAS_CONSTANT_J_KG_K;
use crate::physics::air;
use crate::physics::convection::internal;
use crate::physics::pipe_flow::{TURBULENT_START, friction_petukhov};
use crate::sheet::build::IntakePlace;

/// Air flow below which the intake stands still [kg/s].
pub const STILL_KG_S: f64 = 1e-7;

/// A duct as the stream sees it.
#[derive(Debug, Clone)]
pub struct DuctElement {
    /// Place on the route.
    pub place: IntakePlace,
    /// Wall node.
    pub wall: NodeIndex,
    /// Hydraulic diameter [m].
    pub bore_m: f64,
    /// Inner area [m2].
    pub area_m2: f64,
    /// Factor on the heat transfer.
    pub factor: f64,
    /// Air in it [m3].
    pub volume_m3: f64,
}

/// Charge cooler as the stream sees it.
#[derive(Debug, Clone)]
pub struct CoolerElement {
    /// Core nodes in charge flow order.
    pub core: Vec<NodeIndex>,
    /// Charge side conductance at 0.1 kg/s [W/K].
    pub charge_w_k: f64,
}

/// The intake route.
#[derive(Debug, Clone)]
pub struct Route {
    /// Ducts in flow order.
    pub ducts: Vec<DuctElement>,
    /// Compressor housing, if any.
    pub compressor: Option<(NodeIndex, f64)>,
    /// Charge cooler, if any.
    pub cooler: Option<CoolerElement>,
    /// Head node and conductance to the charge in the ports at 0.05 kg/s [W/K].
    pub port: (NodeIndex, f64),
    /// Duct after which the sensor sits; `None`: after the cooler.
    pub sensor_after: Option<usize>,
}

/// What drives the intake air at an instant.
#[derive(Debug, Clone, Copy)]
pub struct AirDrive {
    /// Air flow [kg/s].
    pub flow_kg_s: f64,
    /// Temperature at the pickup [K].
    pub pickup_k: f64,
    /// Compressor temperature rise over inlet temperature: `T2 = T1 (1 + rise)`.
    pub compression_rise: f64,
    /// Change of pressure between compressor and throttle [Pa/s].
    pub boost_rate_pa_s: f64,
    /// Change of pressure in the plenum [Pa/s].
    pub plenum_rate_pa_s: f64,
}

/// Temperatures and heat along the route.
#[derive(Debug, Clone, Default)]
pub struct AirPath {
    /// Out of each duct [K].
    pub duct_out_k: Vec<f64>,
    /// Wall to air in each duct [W].
    pub duct_to_air_w: Vec<f64>,
    /// Derivative by wall temperature of each [W/K].
    pub duct_by_wall: Vec<f64>,
    /// Compressor housing to air [W].
    pub housing_to_air_w: f64,
    /// Work that rising pressure does on the air in ducts and plenum, less what falling pressure takes [W].
    pub squeezed_w: f64,
    /// Compressor work on the air [W].
    pub compressor_w: f64,
    /// Out of the compressor [K].
    pub compressor_out_k: f64,
    /// Charge to each core segment [W].
    pub charge_to_core_w: Vec<f64>,
    /// Derivative by core temperature of each [W/K], negative.
    pub core_by_wall: Vec<f64>,
    /// Out of the cooler [K].
    pub cooler_out_k: f64,
    /// Air at the sensor [K].
    pub sensor_air_k: f64,
    /// Head to charge in the ports [W].
    pub port_to_air_w: f64,
    /// At the valve [K].
    pub valve_k: f64,
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
pub struct FlowConductances {
    housing: f64,
    core: f64,
    port: f64,
}

/// Air passing a wall: outlet temperature, heat from the wall, derivative by wall temperature.
#[inline]
fn pass(flow: f64, t_in: f64, wall_k: f64, through: f64) -> (f64, f64, f64) {
    let capacity = flow * air::specific_heat(0.5 * (t_in + wall_k));
    let t_out = wall_k + (t_in - wall_k) * through;
    let heat = flow * (air::enthalpy(t_out) - air::enthalpy(t_in));
    (t_out, heat, capacity * (1.0 - through))
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
fn squeeze(flow_kg_s: f64, air_k: f64, volume_m3: f64, rate_pa_s: f64) -> f64 {
    let by_k = volume_m3 * rate_pa_s / (flow_kg_s * air::specific_heat(air_k));
    air_k + by_k.clamp(-MOST_SQUEEZE_K, MOST_SQUEEZE_K)
}

impl Route {
    /// Inner conductance of a duct [W/K].
    fn duct_conductance(duct: &DuctElement, flow: f64, air_k: f64) -> f64 {
        let mu = air::viscosity(air_k);
        let re = 4.0 * flow / (std::f64::consts::PI * duct.bore_m * mu);
        let nusselt = internal::nusselt_pipe(
            re,
            air::prandtl(air_k),
            friction_petukhov(re.max(TURBULENT_START)),
        );
        duct.factor * nusselt * air::conductivity(air_k) / duct.bore_m * duct.area_m2
    }

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

    /// Conductances that follow the flow alone.
    pub fn conductances(&self, flow_kg_s: f64) -> FlowConductances {
        let power = (flow_kg_s.max(0.0) / 0.05).powf(FLOW_EXPONENT);
        let cooler = self.cooler.as_ref();
        let core = cooler.map_or(0.0, |c| c.charge_w_k / c.core.len() as f64);
        FlowConductances {
            housing: self.compressor.map_or(0.0, |c| c.1) * power,
            core: core * power * 0.5f64.powf(FLOW_EXPONENT),
            port: self.port.1 * power,
        }
    }

    /// Share of the difference between air and wall that is left behind a passage.
    pub fn through(
        &self,
        passage: Passage,
        by_flow: &FlowConductances,
        flow_kg_s: f64,
        t_in: f64,
        wall_k: f64,
    ) -> f64 {
        let conductance = match passage {
            Passage::Duct(i) => Self::duct_conductance(&self.ducts[i], flow_kg_s, t_in),
            Passage::Housing => by_flow.housing,
            Passage::Core => by_flow.core,
            Passage::Port => by_flow.port,
        };
        let capacity = flow_kg_s * air::specific_heat(0.5 * (t_in + wall_k));
        (-conductance / capacity).exp()
    }

    /// Marches the air along the route at wall temperatures `node_k`.
    ///
    /// # Arguments
    /// - `through`: share of the difference between air and wall that is left behind a passage, from
    ///   the passage, air and wall temperature
    pub fn march(
        &self,
        node_k: &[f64],
        drive: AirDrive,
        path: &mut AirPath,
        mut through: impl FnMut(Passage, f64, f64) -> f64,
    ) {
        let n = self.ducts.len();
        path.duct_out_k.resize(n, 0.0);
        path.duct_to_air_w.resize(n, 0.0);
        path.duct_by_wall.resize(n, 0.0);
        let cores = self.cooler.as_ref().map_or(0, |c| c.core.len());
        path.charge_to_core_w.resize(cores, 0.0);
        path.core_by_wall.resize(cores, 0.0);
        if drive.flow_kg_s < STILL_KG_S {
            self.stand_still(node_k, drive, path);
            return;
        }
        let mut t = drive.pickup_k;
        t = self.run_ducts(
            IntakePlace::BeforeCompressor,
            t,
            node_k,
            drive,
            path,
            &mut through,
        );
        (path.compressor_w, path.housing_to_air_w) = (0.0, 0.0);
        path.squeezed_w = 0.0;
        if let Some((housing, _)) = self.compressor {
            let t2 = t * (1.0 + drive.compression_rise);
            path.compressor_w = drive.flow_kg_s * (air::enthalpy(t2) - air::enthalpy(t));
            let left = through(Passage::Housing, t2, node_k[housing]);
            (t, path.housing_to_air_w, _) = pass(drive.flow_kg_s, t2, node_k[housing], left);
        }
        path.compressor_out_k = t;
        t = self.run_ducts(IntakePlace::HotSide, t, node_k, drive, path, &mut through);
        if let Some(cooler) = &self.cooler {
            for (i, &node) in cooler.core.iter().enumerate() {
                let left = through(Passage::Core, t, node_k[node]);
                let (out, heat, slope) = pass(drive.flow_kg_s, t, node_k[node], left);
                t = out;
                path.charge_to_core_w[i] = -heat;
                path.core_by_wall[i] = -slope;
            }
        }
        path.cooler_out_k = t;
        t = self.run_ducts(IntakePlace::ColdSide, t, node_k, drive, path, &mut through);
        t = self.run_ducts(IntakePlace::Plenum, t, node_k, drive, path, &mut through);
        let (head, _) = self.port;
        let left = through(Passage::Port, t, node_k[head]);
        (t, path.port_to_air_w, _) = pass(drive.flow_kg_s, t, node_k[head], left);
        path.valve_k = t;
        path.sensor_air_k = self
            .sensor_after
            .map_or(path.cooler_out_k, |d| path.duct_out_k[d]);
    }

    fn run_ducts(
        &self,
        place: IntakePlace,
        mut t: f64,
        node_k: &[f64],
        drive: AirDrive,
        path: &mut AirPath,
        through: &mut impl FnMut(Passage, f64, f64) -> f64,
    ) -> f64 {
        for (i, duct) in self
            .ducts
            .iter()
            .enumerate()
            .filter(|(_, d)| d.place == place)
        {
            let left = through(Passage::Duct(i), t, node_k[duct.wall]);
            (t, path.duct_to_air_w[i], path.duct_by_wall[i]) =
                pass(drive.flow_kg_s, t, node_k[duct.wall], left);
            let rate_pa_s = match place {
                IntakePlace::BeforeCompressor => 0.0,
                IntakePlace::HotSide | IntakePlace::ColdSide => drive.boost_rate_pa_s,
                IntakePlace::Plenum => drive.plenum_rate_pa_s,
            };
            let squeezed = squeeze(drive.flow_kg_s, t, duct.volume_m3, rate_pa_s);
            path.squeezed_w += drive.flow_kg_s * (air::enthalpy(squeezed) - air::enthalpy(t));
            t = squeezed;
            path.duct_out_k[i] = t;
        }
        t
    }

    /// Without flow the air in each piece takes its wall's temperature and carries nothing.
    fn stand_still(&self, node_k: &[f64], drive: AirDrive, path: &mut AirPath) {
        for (i, duct) in self.ducts.iter().enumerate() {
            path.duct_out_k[i] = node_k[duct.wall];
        }
        path.duct_to_air_w.fill(0.0);
        path.duct_by_wall.fill(0.0);
        path.charge_to_core_w.fill(0.0);
        path.core_by_wall.fill(0.0);
        path.compressor_w = 0.0;
        path.squeezed_w = 0.0;
        path.housing_to_air_w = 0.0;
        path.port_to_air_w = 0.0;
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
    pub fn sensor_speed(&self, flow_kg_s: f64, air_k: f64, pressure_pa: f64) -> f64 {
        let bore = self.sensor_after.map_or_else(
            || self.ducts.last().map_or(0.06, |d| d.bore_m),
            |d| self.ducts[d].bore_m,
        );
        let area = 0.25 * std::f64::consts::PI * bore * bore;
        flow_kg_s * DRY_AIR_GAS_CONSTANT_J_KG_K * air_k / (pressure_pa * area)
    }
}
