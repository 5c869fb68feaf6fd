//! Air through the bay: a network of zones and openings solved for pressures.
//!
//! Flow through an opening follows the orifice law `m = Cd A sqrt(2 rho dp)` (any hydraulics
//! text, e.g. Idelchik, *Handbook of Hydraulic Resistance*). Ram pressure acts on the outside
//! ends, the fan on the radiator path, and the columns of warm air drive a chimney draught.
//! Zone pressures follow from mass balance by damped Newton steps.

use nalgebra::{DMatrix, DVector};

use crate::constants::{DRY_AIR_GAS_CONSTANT_J_KG_K, GRAVITY_M_S2};
use crate::sheet::build::{Bay, Opening, OpeningRole};

/// Pressure difference below which the orifice law turns linear [Pa]: laminar seepage.
const LAMINAR_PA: f64 = 0.05;
/// Largest mass imbalance accepted [kg/s].
const BALANCE_KG_S: f64 = 1e-7;
const MOST_ITERATIONS: usize = 60;

/// What drives the air at an instant.
#[derive(Debug, Clone, Copy)]
pub struct Drive<'a> {
    /// Road speed [m/s].
    pub speed_m_s: f64,
    /// Wind along the car when it stands [m/s].
    pub wind_m_s: f64,
    /// Ambient temperature [K].
    pub ambient_k: f64,
    /// Ambient pressure [Pa].
    pub pressure_pa: f64,
    /// Share of full fan speed.
    pub fan: f64,
    /// Bonnet open.
    pub bonnet_open: bool,
    /// Zone temperatures [K].
    pub zone_k: &'a [f64],
    /// Air that the engine takes out of each zone [kg/s].
    pub taken_kg_s: &'a [f64],
}

/// Air flow through every opening.
#[derive(Debug, Clone, Default)]
pub struct Airflow {
    /// Mass flow from `from` to `to` of each opening [kg/s].
    pub flow_kg_s: Vec<f64>,
    /// Largest mass imbalance left [kg/s].
    pub imbalance_kg_s: f64,
}

/// Solver for a bay; keeps the pressures of the last call as its start.
#[derive(Debug, Clone)]
pub struct Ventilation {
    openings: Vec<Opening>,
    radiator_face_m2: f64,
    radiator_loss: f64,
    fan_free_m3_s: f64,
    fan_stall_pa: f64,
    zones: usize,
    last_pa: Vec<f64>,
}

impl Ventilation {
    /// For a bay.
    pub fn new(bay: &Bay) -> Self {
        Self {
            openings: bay.openings.clone(),
            radiator_face_m2: bay.radiator.face_m2,
            radiator_loss: bay.radiator.loss_coefficient,
            fan_free_m3_s: bay.fan.free_flow_m3_s,
            fan_stall_pa: bay.fan.stall_pressure_pa,
            zones: bay.zones.len(),
            last_pa: vec![0.0; bay.zones.len()],
        }
    }

    /// Openings in the order of the flows.
    pub fn openings(&self) -> &[Opening] {
        &self.openings
    }

    /// Mass flow through an opening and its derivative by the pressure difference.
    fn flow(&self, opening: &Opening, drop_pa: f64, density: f64, drive: &Drive) -> (f64, f64) {
        match opening.role {
            OpeningRole::BonnetOpen if !drive.bonnet_open => (0.0, 0.0),
            OpeningRole::Radiator => self.radiator_flow(drop_pa, density, drive.fan),
            _ => orifice(opening.discharge * opening.area_m2, drop_pa, density),
        }
    }

    /// Radiator path: core loss against pressure difference plus fan.
    ///
    /// The fan's line falls from stall pressure to zero at free flow; a fan overrun by ram air
    /// neither helps nor brakes.
    fn radiator_flow(&self, drop_pa: f64, density: f64, fan: f64) -> (f64, f64) {
        let area = self.radiator_face_m2 / self.radiator_loss.sqrt();
        let (without, slope) = orifice(area, drop_pa, density);
        if fan <= 0.0 {
            return (without, slope);
        }
        let free = self.fan_free_m3_s * fan;
        let stall = self.fan_stall_pa * fan * fan;
        if without / density >= free {
            return (without, slope);
        }
        // rho q|q| / (2 A^2) = drop + stall (1 - q / free), a quadratic in the volume flow q
        let a = density / (2.0 * area * area);
        let b = stall / free;
        let head = drop_pa + stall;
        let q = if head >= 0.0 {
            ((b * b + 4.0 * a * head).sqrt() - b) / (2.0 * a)
        } else {
            -((b * b - 4.0 * a * head).sqrt() - b) / (2.0 * a)
        };
        (density * q, density / (2.0 * a * q.abs() + b))
    }

    /// Solves for all flows.
    ///
    /// Mass imbalance is the slope of a convex function of the pressures (each flow rises with its
    /// pressure difference), so Newton steps that don't overshoot along their own direction
    /// always arrive.
    pub fn solve(&mut self, drive: &Drive, out: &mut Airflow) {
        let n = self.zones;
        out.flow_kg_s.resize(self.openings.len(), 0.0);
        let mut p = DVector::from_column_slice(&self.last_pa);
        let mut residual = DVector::zeros(n);
        let mut matrix = DMatrix::zeros(n, n);
        self.balance(drive, &p, &mut out.flow_kg_s, &mut residual, &mut matrix);
        for _ in 0..MOST_ITERATIONS {
            if residual.amax() < BALANCE_KG_S {
                break;
            }
            for z in 0..n {
                // a zone without any opening must not stop the rest
                matrix[(z, z)] += 1e-12;
            }
            let Some(factor) = matrix.clone().cholesky() else {
                break;
            };
            let step = factor.solve(&residual);
            let downhill = residual.dot(&step);
            let mut share = 1.0;
            loop {
                let trial = &p + share * &step;
                self.balance(
                    drive,
                    &trial,
                    &mut out.flow_kg_s,
                    &mut residual,
                    &mut matrix,
                );
                if residual.dot(&step) >= -0.5 * downhill || share < 1e-6 {
                    p = trial;
                    break;
                }
                share *= 0.5;
            }
        }
        out.imbalance_kg_s = residual.amax();
        self.last_pa.copy_from_slice(p.as_slice());
    }

    /// Flows at zone pressures `p`, net inflow of each zone, and the derivative of net outflow.
    fn balance(
        &self,
        drive: &Drive,
        p: &DVector<f64>,
        flows: &mut [f64],
        residual: &mut DVector<f64>,
        matrix: &mut DMatrix<f64>,
    ) {
        let density = |k: f64| drive.pressure_pa / (DRY_AIR_GAS_CONSTANT_J_KG_K * k);
        let outside = density(drive.ambient_k);
        let speed = drive.speed_m_s.hypot(drive.wind_m_s);
        let dynamic = 0.5 * outside * speed * speed;
        residual.fill(0.0);
        matrix.fill(0.0);
        for (zone, taken) in drive.taken_kg_s.iter().enumerate() {
            residual[zone] -= taken;
        }
        for (opening, flow_out) in self.openings.iter().zip(flows) {
            let end = |zone: Option<usize>| match zone {
                Some(z) => (p[z], density(drive.zone_k[z])),
                None => (opening.pressure_coefficient * dynamic, outside),
            };
            let ((p_from, rho_from), (p_to, rho_to)) = (end(opening.from), end(opening.to));
            let column = GRAVITY_M_S2 * opening.height_m;
            let drop = (p_from - rho_from * column) - (p_to - rho_to * column);
            // a fan pulls against a small drop: which end is upstream goes by both
            let head = match opening.role {
                OpeningRole::Radiator => drop + self.fan_stall_pa * drive.fan * drive.fan,
                _ => drop,
            };
            let upstream = if head >= 0.0 { rho_from } else { rho_to };
            let (flow, slope) = self.flow(opening, drop, upstream, drive);
            *flow_out = flow;
            if let Some(z) = opening.from {
                residual[z] -= flow;
                matrix[(z, z)] += slope;
            }
            if let Some(z) = opening.to {
                residual[z] += flow;
                matrix[(z, z)] += slope;
            }
            if let (Some(a), Some(b)) = (opening.from, opening.to) {
                matrix[(a, b)] -= slope;
                matrix[(b, a)] -= slope;
            }
        }
    }
}

/// Orifice law with a smooth laminar start: flow [kg/s] and its derivative by `drop_pa`.
///
/// `m = A sqrt(2 rho) dp / (dp^2 + d^2)^(1/4)`, which is the square root law beyond a few `d`.
fn orifice(effective_area_m2: f64, drop_pa: f64, density: f64) -> (f64, f64) {
    let root = (drop_pa * drop_pa + LAMINAR_PA * LAMINAR_PA).sqrt();
    let quarter = root.sqrt();
    let c = effective_area_m2 * (2.0 * density).sqrt();
    let flow = c * drop_pa / quarter;
    let slope = c / quarter * (1.0 - 0.5 * drop_pa * drop_pa / (root * root));
    (flow, slope)
}
