//! Air through the bay: a network of zones and openings solved for pressures.
//!
//! Flow through an opening follows the orifice law `m = Cd A sqrt(2 rho dp)` (any hydraulics
//! text, e.g. Idelchik, *Handbook of Hydraulic Resistance*). Ram pressure acts on the outside
//! ends, the fan on the radiator path, and the columns of warm air drive a chimney draught.
//! Zone pressures follow from mass balance by damped Newton steps.

use crate::constants::{DRY_AIR_GAS_CONSTANT_J_KG_K, GRAVITY_M_S2};
use crate::number::{Choice, LANES, Lanes, Number, SideBySide, side_by_side, widest};
use crate::sheet::build::{Bay, OpeningRole};
use crate::solve::SparseLu;

/// Pressure difference below which the orifice law turns linear [Pa]: laminar seepage.
const LAMINAR_PA: f64 = 0.05;
/// Largest mass imbalance accepted [kg/s].
const BALANCE_KG_S: f64 = 1e-7;
/// The same over the largest flow, in units of the last digit: more can't be told.
const BALANCE_DIGITS: f64 = 32.0;
const MOST_ITERATIONS: usize = 60;
/// Times that a step is halved before it is taken as it is.
const MOST_HALVINGS: usize = 20;

/// What drives the air at an instant.
#[derive(Debug, Clone, Copy)]
pub struct Drive<'a, N = f64> {
    /// Road speed [m/s].
    pub speed_m_s: N,
    /// Wind along the car when it stands [m/s].
    pub wind_m_s: N,
    /// Ambient temperature [K].
    pub ambient_k: N,
    /// Ambient pressure [Pa].
    pub pressure_pa: N,
    /// Share of full fan speed.
    pub fan: N,
    /// Bonnet open.
    pub bonnet_open: bool,
    /// Zone temperatures [K].
    pub zone_k: &'a [N],
    /// Air that the engine takes out of each zone [kg/s].
    pub taken_kg_s: &'a [N],
}

/// Air flow through every opening.
#[derive(Debug, Clone, Default)]
pub struct Airflow<N = f64> {
    /// Mass flow from `from` to `to` of each opening [kg/s].
    pub flow_kg_s: Vec<N>,
    /// Largest mass imbalance left [kg/s].
    pub imbalance_kg_s: N,
}

side_by_side!(Airflow {
    numbers: [flow_kg_s, imbalance_kg_s],
    same: []
});

/// An opening and what of it never changes.
#[derive(Debug, Clone)]
struct Gate<N> {
    from: Option<usize>,
    to: Option<usize>,
    role: OpeningRole,
    /// Pressure of the outside end over the car's dynamic pressure [-].
    pressure_coefficient: N,
    /// Height above the road times gravity [m2/s2].
    column_m2_s2: N,
    /// Free area times discharge coefficient [m2].
    area_m2: N,
}
side_by_side!(Gate {
    numbers: [pressure_coefficient, column_m2_s2, area_m2],
    same: [from, to, role],
});

/// An opening under what drives the air at an instant.
#[derive(Debug, Clone, Copy, Default)]
struct Path<N> {
    /// Pressure of the outside at either end, less both columns of air [Pa].
    head_pa: N,
    /// Density of the air at either end [kg/m3].
    density: [N; 2],
    /// Flow over the root of the pressure difference, of air from either end [kg/s/Pa^0.5].
    orifice: [N; 2],
}

/// Pressures of the zones, how they miss a balance, and the way to it.
#[derive(Debug, Clone)]
struct Balance<N> {
    /// Zone pressures [Pa].
    pressure: Vec<N>,
    trial: Vec<N>,
    step: Vec<N>,
    /// Net inflow of each zone [kg/s].
    residual: Vec<N>,
    /// Derivative of the flow through each opening by the pressure difference [kg/s/Pa].
    slope: Vec<N>,
    /// Derivative of the net outflow [kg/s/Pa].
    matrix: SparseLu<N>,
    /// Where each opening's derivative goes with its sign, and where against it.
    places: Vec<(Ends, Ends)>,
}

/// Places in a matrix, where there is a zone at an end.
type Ends = [Option<usize>; 2];

/// Fan on the radiator path.
#[derive(Debug, Clone, Copy)]
struct Fan<N> {
    /// Volume flow against nothing [m3/s].
    free_m3_s: N,
    /// Pressure without flow [Pa].
    stall_pa: N,
}
side_by_side!(Fan {
    numbers: [free_m3_s, stall_pa],
    same: []
});

/// Solver for a bay, or for several side by side; keeps the pressures of the last call as its start.
#[derive(Debug, Clone)]
pub struct Ventilation<N = f64> {
    gates: Vec<Gate<N>>,
    fan: Fan<N>,
    paths: Vec<Path<N>>,
    /// Density of the air in each zone and outside [kg/m3], and the root of twice that.
    air: Vec<(N, N)>,
    balance: Balance<N>,
}

impl<N: Number> Balance<N> {
    fn new(pressure: Vec<N>, gates: &[Gate<N>]) -> Self {
        let zones = pressure.len();
        let between: Vec<_> = gates.iter().filter_map(|g| g.from.zip(g.to)).collect();
        let matrix = SparseLu::new(zones, &between);
        let place = |row: Option<usize>, column: Option<usize>| matrix.position(row?, column?);
        let places = gates.iter().map(|g| {
            let [there, back] = [place(g.from, g.to), place(g.to, g.from)];
            ([place(g.from, g.from), place(g.to, g.to)], [there, back])
        });
        let column = vec![N::default(); zones];
        Self {
            places: places.collect(),
            trial: column.clone(),
            step: column.clone(),
            residual: column,
            slope: vec![N::default(); gates.len()],
            pressure,
            matrix,
        }
    }

    /// Newton's step; false when there is none.
    #[inline(always)]
    fn find_step(&mut self) -> bool {
        // a zone without any opening must not stop the rest
        self.matrix.set_diagonal(1e-12);
        for ((own, others), &slope) in self.places.iter().zip(&self.slope) {
            for &at in own.iter().flatten() {
                self.matrix.add_at(at, slope);
            }
            for &at in others.iter().flatten() {
                self.matrix.add_at(at, -slope);
            }
        }
        self.step.copy_from_slice(&self.residual);
        let found = self.matrix.factor();
        self.matrix.solve(&mut self.step);
        found
    }

    /// Largest mass imbalance [kg/s].
    #[inline(always)]
    fn largest(&self) -> N {
        let each = self.residual.iter().map(|r| r.abs());
        each.fold(N::default(), |worst, r| r.max(worst))
    }

    /// Step times what it is to make up for.
    #[inline(always)]
    fn downhill(&self) -> N {
        let products = self.residual.iter().zip(&self.step).map(|(&r, &s)| r * s);
        products.fold(N::default(), N::add)
    }

    /// Flows at the zone pressures on trial, net inflow of each zone, and the derivatives of the flows.
    #[inline(always)]
    fn flow(
        &mut self,
        drive: &Drive<N>,
        (gates, paths, fan): (&[Gate<N>], &[Path<N>], &Fan<N>),
        flows: &mut [N],
    ) {
        for (residual, &taken) in self.residual.iter_mut().zip(drive.taken_kg_s) {
            *residual = -taken;
        }
        let ways = gates.iter().zip(paths).zip(&mut self.slope);
        for (((gate, path), slope), flow) in ways.zip(flows) {
            let pressure = |zone: Option<usize>| zone.map_or(N::default(), |z| self.trial[z]);
            let drop = path.head_pa + (pressure(gate.from) - pressure(gate.to));
            let through_radiator = gate.role == OpeningRole::Radiator;
            // a fan pulls against a small drop: which end is upstream goes by both
            let head = if through_radiator {
                drop + fan.stall_pa * drive.fan * drive.fan
            } else {
                drop
            };
            let back = head.below(N::default());
            let law = back.choose(path.orifice[1], path.orifice[0]);
            (*flow, *slope) = orifice(law, drop);
            if through_radiator {
                let density = back.choose(path.density[1], path.density[0]);
                (*flow, *slope) = fan.flow(gate.area_m2, (*flow, *slope), drop, density, drive.fan);
            }
            if let Some(z) = gate.from {
                self.residual[z] -= *flow;
            }
            if let Some(z) = gate.to {
                self.residual[z] += *flow;
            }
        }
    }
}

impl<N: Number> Fan<N> {
    /// Radiator path: core loss against pressure difference plus fan; flow [kg/s] and its derivative by `drop_pa`.
    ///
    /// The fan's line falls from stall pressure to zero at free flow; a fan overrun by ram air
    /// neither helps nor brakes.
    #[inline(always)]
    fn flow(
        &self,
        area_m2: N,
        (without, slope): (N, N),
        drop_pa: N,
        density: N,
        share: N,
    ) -> (N, N) {
        if share.largest() <= 0.0 {
            return (without, slope);
        }
        let free = self.free_m3_s * share;
        let stall = self.stall_pa * share * share;
        // rho q|q| / (2 A^2) = drop + stall (1 - q / free), a quadratic in the volume flow q
        let a = density / (area_m2 * area_m2 * 2.0);
        let b = stall / free;
        let head = drop_pa + stall;
        let q = head * 2.0 / (b + (b * b + a * head.abs() * 4.0).sqrt());
        let overrun = (free * density).not_above(without);
        let stands = share.not_above(N::default()).or(overrun);
        (
            stands.choose(without, density * q),
            stands.choose(slope, density / (a * q.abs() * 2.0 + b)),
        )
    }
}

impl Ventilation {
    /// For a bay.
    pub fn new(bay: &Bay) -> Self {
        let radiator = &bay.radiator;
        let gates = bay.openings.iter().map(|o| Gate {
            from: o.from,
            to: o.to,
            role: o.role,
            pressure_coefficient: o.pressure_coefficient,
            column_m2_s2: GRAVITY_M_S2 * o.height_m,
            area_m2: match o.role {
                OpeningRole::Radiator => radiator.face_m2 / radiator.loss_coefficient.sqrt(),
                _ => o.discharge * o.area_m2,
            },
        });
        let fan = Fan {
            free_m3_s: bay.fan.free_flow_m3_s,
            stall_pa: bay.fan.stall_pressure_pa,
        };
        Self::of(gates.collect(), fan, vec![0.0; bay.zones.len()])
    }

    /// Takes over the pressures of a lane.
    pub fn take_lane(&mut self, of: &Ventilation<Lanes>, lane: usize) {
        let pressures = self.balance.pressure.iter_mut();
        for (own, all) in pressures.zip(&of.balance.pressure) {
            *own = all.lane(lane);
        }
    }
}

impl SideBySide for Ventilation {
    type Wide = Ventilation<Lanes>;

    fn side_by_side(each: [&Self; LANES]) -> Option<Self::Wide> {
        Some(Ventilation::of(
            SideBySide::side_by_side(each.map(|v| &v.gates))?,
            SideBySide::side_by_side(each.map(|v| &v.fan))?,
            SideBySide::side_by_side(each.map(|v| &v.balance.pressure))?,
        ))
    }
}

impl<N: Number> Ventilation<N> {
    fn of(gates: Vec<Gate<N>>, fan: Fan<N>, pressure: Vec<N>) -> Self {
        Self {
            fan,
            paths: vec![Path::default(); gates.len()],
            air: Vec::new(),
            balance: Balance::new(pressure, &gates),
            gates,
        }
    }

    /// Readies all openings for what drives the air.
    #[inline(always)]
    fn ready(&mut self, drive: &Drive<N>) {
        let (speed, wind) = (drive.speed_m_s, drive.wind_m_s);
        let outside = drive.zone_k.len();
        self.air.clear();
        for &k in drive.zone_k.iter().chain([&drive.ambient_k]) {
            let density = drive.pressure_pa / (k * DRY_AIR_GAS_CONSTANT_J_KG_K);
            self.air.push((density, (density * 2.0).sqrt()));
        }
        let dynamic = self.air[outside].0 * (speed * speed + wind * wind) * 0.5;
        for (gate, path) in self.gates.iter().zip(&mut self.paths) {
            let ram = gate.pressure_coefficient * dynamic;
            let end = |zone: Option<usize>| match zone {
                Some(z) => (N::default(), self.air[z]),
                None => (ram, self.air[outside]),
            };
            let ((p_from, (rho_from, root_from)), (p_to, (rho_to, root_to))) =
                (end(gate.from), end(gate.to));
            let area_m2 = if gate.role == OpeningRole::BonnetOpen && !drive.bonnet_open {
                N::default()
            } else {
                gate.area_m2
            };
            *path = Path {
                head_pa: (p_from - p_to) - (rho_from - rho_to) * gate.column_m2_s2,
                density: [rho_from, rho_to],
                orifice: [area_m2 * root_from, area_m2 * root_to],
            };
        }
    }

    /// Solves for all flows.
    ///
    /// Mass imbalance is the slope of a convex function of the pressures (each flow rises with its
    /// pressure difference), so Newton steps that don't overshoot along their own direction
    /// always arrive.
    pub fn solve(&mut self, drive: &Drive<N>, out: &mut Airflow<N>) {
        out.flow_kg_s.resize(self.gates.len(), N::default());
        widest(
            #[inline(always)]
            || {
                self.ready(drive);
                out.imbalance_kg_s = self.find_balance(drive, &mut out.flow_kg_s);
            },
        );
    }

    #[inline(always)]
    fn find_balance(&mut self, drive: &Drive<N>, flows: &mut [N]) -> N {
        let Self {
            gates,
            fan,
            paths,
            balance: b,
            ..
        } = self;
        // from the pressures of the last call
        b.trial.copy_from_slice(&b.pressure);
        b.flow(drive, (gates, paths, fan), flows);
        for _ in 0..MOST_ITERATIONS {
            let strongest = flows
                .iter()
                .fold(N::default(), |most, flow| flow.abs().max(most));
            let allowed = (strongest * (BALANCE_DIGITS * N::EPSILON)).max(N::of(BALANCE_KG_S));
            if b.largest().not_above(allowed).all() || !b.find_step() {
                break;
            }
            let downhill = b.downhill();
            let mut share = N::of(1.0);
            for _ in 0..=MOST_HALVINGS {
                let states = b.trial.iter_mut().zip(&b.pressure);
                for ((trial, &pressure), &step) in states.zip(&b.step) {
                    *trial = pressure + share * step;
                }
                b.flow(drive, (gates, paths, fan), flows);
                let there = b.largest().not_above(allowed);
                let good = (downhill * -0.5).not_above(b.downhill()).or(there);
                if good.all() {
                    break;
                }
                share = good.choose(share, share * 0.5);
            }
            b.pressure.copy_from_slice(&b.trial);
        }
        b.largest()
    }

    /// Air that flows into each zone [kg/s].
    pub fn into_zones(&self, flows: &[N], out: &mut [N]) {
        out.fill(N::default());
        for (gate, &flow) in self.gates.iter().zip(flows) {
            if gate.from == gate.to {
                continue;
            }
            if let Some(z) = gate.from {
                out[z] += (-flow).max(N::default());
            }
            if let Some(z) = gate.to {
                out[z] += flow.max(N::default());
            }
        }
    }
}

/// Orifice law with a smooth laminar start: flow [kg/s] and its derivative by `drop_pa`; `law`: effective
/// area times the root of twice the density.
///
/// `m = A sqrt(2 rho) dp / (dp^2 + d^2)^(1/4)`, which is the square root law beyond a few `d`.
#[inline(always)]
fn orifice<N: Number>(law: N, drop_pa: N) -> (N, N) {
    let square = drop_pa * drop_pa + LAMINAR_PA * LAMINAR_PA;
    let over_quarter = law / square.sqrt().sqrt();
    let slope = over_quarter * (N::of(1.0) - drop_pa * drop_pa * 0.5 / square);
    (over_quarter * drop_pa, slope)
}
