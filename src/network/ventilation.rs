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

/// An opening under what drives the air at an instant.
#[derive(Debug, Clone, Copy, Default)]
struct Path {
    /// Pressure of the outside at either end, less both columns of air [Pa].
    head_pa: f64,
    /// Density of the air at either end [kg/m3].
    density: [f64; 2],
    /// Flow over the root of the pressure difference, of air from either end [kg/s/Pa^0.5].
    orifice: [f64; 2],
}

/// Pressures of the zones, how they miss a balance, and the way to it.
#[derive(Debug, Clone)]
struct Balance {
    /// Zone pressures [Pa].
    pressure: DVector<f64>,
    /// Net inflow of each zone [kg/s].
    residual: DVector<f64>,
    /// Derivative of the net outflow [kg/s/Pa].
    matrix: DMatrix<f64>,
    /// The same, to be factored.
    factored: DMatrix<f64>,
    step: DVector<f64>,
    trial: DVector<f64>,
}

impl Balance {
    fn new(zones: usize) -> Self {
        let column = DVector::zeros(zones);
        Self {
            pressure: column.clone(),
            residual: column.clone(),
            matrix: DMatrix::zeros(zones, zones),
            factored: DMatrix::zeros(zones, zones),
            step: column.clone(),
            trial: column,
        }
    }

    /// Newton's step; false when there is none.
    fn find_step(&mut self) -> bool {
        self.factored.copy_from(&self.matrix);
        let Some(factors) = std::mem::take(&mut self.factored).cholesky() else {
            self.factored = self.matrix.clone();
            return false;
        };
        self.step.copy_from(&self.residual);
        factors.solve_mut(&mut self.step);
        self.factored = factors.unpack_dirty();
        true
    }
}

/// Solver for a bay; keeps the pressures of the last call as its start.
#[derive(Debug, Clone)]
pub struct Ventilation {
    openings: Vec<Opening>,
    paths: Vec<Path>,
    balance: Balance,
    radiator_face_m2: f64,
    radiator_loss: f64,
    fan_free_m3_s: f64,
    fan_stall_pa: f64,
}

impl Ventilation {
    /// For a bay.
    pub fn new(bay: &Bay) -> Self {
        Self {
            openings: bay.openings.clone(),
            paths: vec![Path::default(); bay.openings.len()],
            balance: Balance::new(bay.zones.len()),
            radiator_face_m2: bay.radiator.face_m2,
            radiator_loss: bay.radiator.loss_coefficient,
            fan_free_m3_s: bay.fan.free_flow_m3_s,
            fan_stall_pa: bay.fan.stall_pressure_pa,
        }
    }

    /// Openings in the order of the flows.
    pub fn openings(&self) -> &[Opening] {
        &self.openings
    }

    /// Readies all openings for what drives the air.
    fn ready(&mut self, drive: &Drive) {
        let density = |k: f64| drive.pressure_pa / (DRY_AIR_GAS_CONSTANT_J_KG_K * k);
        let outside = density(drive.ambient_k);
        let speed = drive.speed_m_s.hypot(drive.wind_m_s);
        let dynamic = 0.5 * outside * speed * speed;
        for (opening, path) in self.openings.iter().zip(&mut self.paths) {
            let end = |zone: Option<usize>| match zone {
                Some(z) => (0.0, density(drive.zone_k[z])),
                None => (opening.pressure_coefficient * dynamic, outside),
            };
            let ((p_from, rho_from), (p_to, rho_to)) = (end(opening.from), end(opening.to));
            let column = GRAVITY_M_S2 * opening.height_m;
            let area_m2 = match opening.role {
                OpeningRole::BonnetOpen if !drive.bonnet_open => 0.0,
                OpeningRole::Radiator => self.radiator_face_m2 / self.radiator_loss.sqrt(),
                _ => opening.discharge * opening.area_m2,
            };
            *path = Path {
                head_pa: (p_from - rho_from * column) - (p_to - rho_to * column),
                density: [rho_from, rho_to],
                orifice: [rho_from, rho_to].map(|rho| area_m2 * (2.0 * rho).sqrt()),
            };
        }
    }

    /// Radiator path: core loss against pressure difference plus fan.
    ///
    /// The fan's line falls from stall pressure to zero at free flow; a fan overrun by ram air
    /// neither helps nor brakes.
    fn radiator_flow(&self, orifice_law: f64, drop_pa: f64, density: f64, fan: f64) -> (f64, f64) {
        let (without, slope) = orifice(orifice_law, drop_pa);
        if fan <= 0.0 {
            return (without, slope);
        }
        let free = self.fan_free_m3_s * fan;
        let stall = self.fan_stall_pa * fan * fan;
        if without / density >= free {
            return (without, slope);
        }
        // rho q|q| / (2 A^2) = drop + stall (1 - q / free), a quadratic in the volume flow q
        let area = self.radiator_face_m2 / self.radiator_loss.sqrt();
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
        self.ready(drive);
        out.flow_kg_s.resize(self.openings.len(), 0.0);
        // from the pressures of the last call
        let mut b = std::mem::replace(&mut self.balance, Balance::new(0));
        b.trial.copy_from(&b.pressure);
        self.flow(drive, &mut b, &mut out.flow_kg_s);
        for _ in 0..MOST_ITERATIONS {
            if b.residual.amax() < BALANCE_KG_S {
                break;
            }
            for z in 0..b.matrix.nrows() {
                // a zone without any opening must not stop the rest
                b.matrix[(z, z)] += 1e-12;
            }
            if !b.find_step() {
                break;
            }
            let downhill = b.residual.dot(&b.step);
            let mut share = 1.0;
            loop {
                b.trial.copy_from(&b.pressure);
                b.trial.axpy(share, &b.step, 1.0);
                self.flow(drive, &mut b, &mut out.flow_kg_s);
                if b.residual.dot(&b.step) >= -0.5 * downhill || share < 1e-6 {
                    b.pressure.copy_from(&b.trial);
                    break;
                }
                share *= 0.5;
            }
        }
        out.imbalance_kg_s = b.residual.amax();
        self.balance = b;
    }

    /// Flows at the zone pressures on trial, net inflow of each zone, and the derivative of net outflow.
    fn flow(&self, drive: &Drive, b: &mut Balance, flows: &mut [f64]) {
        b.residual.fill(0.0);
        b.matrix.fill(0.0);
        for (residual, taken) in b.residual.iter_mut().zip(drive.taken_kg_s) {
            *residual -= taken;
        }
        let ways = self.openings.iter().zip(&self.paths);
        for ((opening, path), flow_out) in ways.zip(flows) {
            let pressure = |zone: Option<usize>| zone.map_or(0.0, |z| b.trial[z]);
            let drop = path.head_pa + (pressure(opening.from) - pressure(opening.to));
            let through_radiator = opening.role == OpeningRole::Radiator;
            // a fan pulls against a small drop: which end is upstream goes by both
            let head = if through_radiator {
                drop + self.fan_stall_pa * drive.fan * drive.fan
            } else {
                drop
            };
            let upstream = usize::from(head < 0.0);
            let (law, density) = (path.orifice[upstream], path.density[upstream]);
            let (flow, slope) = if through_radiator {
                self.radiator_flow(law, drop, density, drive.fan)
            } else {
                orifice(law, drop)
            };
            *flow_out = flow;
            if let Some(z) = opening.from {
                b.residual[z] -= flow;
                b.matrix[(z, z)] += slope;
            }
            if let Some(z) = opening.to {
                b.residual[z] += flow;
                b.matrix[(z, z)] += slope;
            }
            if let (Some(from), Some(to)) = (opening.from, opening.to) {
                b.matrix[(from, to)] -= slope;
                b.matrix[(to, from)] -= slope;
            }
        }
    }
}

/// Orifice law with a smooth laminar start: flow [kg/s] and its derivative by `drop_pa`; `law`: effective
/// area times the root of twice the density.
///
/// `m = A sqrt(2 rho) dp / (dp^2 + d^2)^(1/4)`, which is the square root law beyond a few `d`.
fn orifice(law: f64, drop_pa: f64) -> (f64, f64) {
    let square = drop_pa * drop_pa + LAMINAR_PA * LAMINAR_PA;
    let over_quarter = law / square.sqrt().sqrt();
    let slope = over_quarter * (1.0 - 0.5 * drop_pa * drop_pa / square);
    (over_quarter * drop_pa, slope)
}
