//! Links: heat flows between two nodes. One list serves rates, Jacobian and ledger.

use super::node::NodeIndex;
use crate::constants::STEFAN_BOLTZMANN_W_M2_K4;
use crate::number::Number;
use crate::physics::air;
use crate::physics::conduction;
use crate::physics::convection::{annulus, crossflow, mixed, natural, plate};
use crate::physics::functions::power;
use crate::physics::range::Range;

/// What a link is reckoned with before anything is known of the day: parts at 500 degC in moving air, a
/// fast engine (estimates).
const HARD_DAY_K: f64 = 773.15;
const HARD_DAY_W_M2_K: f64 = 30.0;
const HARD_DAY_RPM: f64 = 5000.0;

/// Shape that decides the convection correlation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shape {
    /// Horizontal cylinder of this outer diameter [m].
    Cylinder(f64),
    /// Vertical plate of this length [m].
    Plate(f64),
}

/// Where a surface takes its air speed from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum AirSpeed {
    /// Speed in a bay zone times a factor.
    Zone(usize, f64),
    /// Outside: road speed times a factor, or the wind when that is more.
    Outside(f64),
}

/// What pumps a fluid-to-wall conductance up and down.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pump {
    /// Coolant pump, by engine speed.
    Coolant,
    /// Oil pump, by engine speed.
    Oil,
}

/// How heat flows along a link.
#[derive(Debug, Clone, PartialEq)]
pub enum Law {
    /// Constant conductance [W/K]: contact, flange, wall.
    Conductance(f64),
    /// Through a layer whose conductivity is linear in its mean temperature:
    /// `shape_m * (k0 + k1 (T_mean - 300 K))`.
    Layer {
        /// Conduction shape factor [m]: area over thickness, or the cylinder form.
        shape_m: f64,
        /// Conductivity at 300 K [W/m/K].
        k0: f64,
        /// Rise per kelvin [W/m/K2].
        k1: f64,
    },
    /// Mixed convection from a surface (`from`) to air (`to`).
    Convection {
        /// Shape.
        shape: Shape,
        /// Area [m2].
        area_m2: f64,
        /// Air speed.
        speed: AirSpeed,
    },
    /// Conduction and natural convection through the air between two long concentric cylinders.
    Gap {
        /// Effective length of the gap, see [`annulus::effective_length`] [m].
        effective_m: f64,
        /// Conduction shape factor [m].
        shape_m: f64,
    },
    /// Grey radiation, `area_m2` being area times exchange factor [m2].
    Radiation {
        /// Area times exchange factor [m2].
        area_m2: f64,
    },
    /// Conductance that follows a pump: `running_w_k` at 2000 rpm, `still_w_k` with the engine off.
    Pumped {
        /// At 2000 rpm [W/K].
        running_w_k: f64,
        /// Engine off [W/K].
        still_w_k: f64,
        /// Which pump.
        pump: Pump,
    },
}

/// Cause of a heat flow, for reports.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cause {
    /// Through solids and contacts.
    Conduction,
    /// To air.
    Convection,
    /// By radiation.
    Radiation,
    /// With a pumped liquid.
    Liquid,
}

impl Cause {
    /// Name for reports.
    pub fn name(self) -> &'static str {
        match self {
            Self::Conduction => "conduction",
            Self::Convection => "convection",
            Self::Radiation => "radiation",
            Self::Liquid => "liquid",
        }
    }
}

/// A heat flow between two nodes.
#[derive(Debug, Clone, PartialEq)]
pub struct Link {
    /// Heat flows from here when it is hotter.
    pub from: NodeIndex,
    /// To here.
    pub to: NodeIndex,
    /// Law.
    pub law: Law,
}

/// What links need to know beyond temperatures.
#[derive(Debug, Clone, Copy)]
pub struct Surroundings<'a> {
    /// Air speed in each zone [m/s].
    pub zone_speed_m_s: &'a [f64],
    /// Road speed [m/s].
    pub road_speed_m_s: f64,
    /// Wind [m/s].
    pub wind_m_s: f64,
    /// Ambient pressure [Pa].
    pub pressure_pa: f64,
    /// Engine speed [rpm], 0 when off.
    pub rpm: f64,
}

impl Surroundings<'_> {
    fn speed(&self, source: AirSpeed) -> f64 {
        match source {
            AirSpeed::Zone(zone, factor) => self.zone_speed_m_s[zone] * factor,
            AirSpeed::Outside(factor) => (self.road_speed_m_s * factor).hypot(self.wind_m_s),
        }
    }
}

/// Dimensionless groups of a surface in air, film properties.
#[derive(Debug, Clone, Copy)]
struct Groups<N> {
    rayleigh: N,
    reynolds: N,
    prandtl: N,
    conductivity: N,
    length_m: N,
}

impl<N: Number> Groups<N> {
    #[inline(always)]
    fn new(length_m: N, surface_k: N, air_k: N, speed_m_s: N, pressure_pa: N) -> Self {
        let film_k = (surface_k + air_k) * 0.5;
        let nu = air::kinematic_viscosity(film_k, pressure_pa);
        let prandtl = air::prandtl(film_k);
        Self {
            rayleigh: natural::rayleigh(surface_k, air_k, length_m, nu, prandtl),
            reynolds: speed_m_s * length_m / nu,
            prandtl,
            conductivity: air::conductivity(film_k),
            length_m,
        }
    }

    #[inline(always)]
    fn coefficient(&self, natural: N, forced: N) -> N {
        mixed::combine(natural, forced) * self.conductivity / self.length_m
    }
}

/// Mean coefficient of mixed convection [W/m2/K] at a horizontal cylinder, film properties.
///
/// Natural and forced parts combine as the cube rule (physics::convection::mixed).
#[inline(always)]
pub fn cylinder_coefficient<N: Number>(
    length_m: N,
    surface_k: N,
    air_k: N,
    speed_m_s: N,
    pressure_pa: N,
) -> N {
    let g = Groups::new(length_m, surface_k, air_k, speed_m_s, pressure_pa);
    g.coefficient(
        natural::nusselt_horizontal_cylinder_gas(g.rayleigh, g.prandtl),
        crossflow::nusselt_gas(g.reynolds, g.prandtl),
    )
}

/// The same at a vertical plate: laminar along it up to transition, the mixed average beyond.
#[inline(always)]
pub fn plate_coefficient<N: Number>(
    length_m: N,
    surface_k: N,
    air_k: N,
    speed_m_s: N,
    pressure_pa: N,
) -> N {
    let g = Groups::new(length_m, surface_k, air_k, speed_m_s, pressure_pa);
    g.coefficient(
        natural::nusselt_vertical_plate_gas(g.rayleigh, g.prandtl),
        plate::nusselt_gas(g.reynolds, g.prandtl),
    )
}

/// Rayleigh and Reynolds number of a surface in air, film properties.
#[inline(always)]
pub(super) fn rayleigh_and_reynolds<N: Number>(
    length_m: N,
    surface_k: N,
    air_k: N,
    speed_m_s: N,
    pressure_pa: N,
) -> (N, N) {
    let g = Groups::new(length_m, surface_k, air_k, speed_m_s, pressure_pa);
    (g.rayleigh, g.reynolds)
}

/// Ranges of the correlations at a horizontal cylinder in air, and the values that they get.
///
/// Flow too slow for a forced correlation does not count: natural convection decides there.
#[inline(always)]
pub(super) fn cylinder_ranges(rayleigh: f64, reynolds: f64) -> [Option<(&'static Range, f64)>; 2] {
    [
        Some((&natural::HORIZONTAL_CYLINDER_RANGE, rayleigh)),
        (reynolds > 1.0).then_some((&crossflow::CROSSFLOW_GAS_RANGE, reynolds)),
    ]
}

/// The same at a vertical plate.
#[inline(always)]
pub(super) fn plate_ranges(rayleigh: f64, reynolds: f64) -> [Option<(&'static Range, f64)>; 2] {
    [
        Some((&natural::VERTICAL_PLATE_RANGE, rayleigh)),
        (reynolds > plate::PLATE_LAMINAR_RANGE.max)
            .then_some((&plate::PLATE_MIXED_RANGE, reynolds)),
    ]
}

/// Mean coefficient of mixed convection [W/m2/K] at a surface of this shape.
pub fn coefficient(
    shape: Shape,
    surface_k: f64,
    air_k: f64,
    speed_m_s: f64,
    pressure_pa: f64,
) -> f64 {
    match shape {
        Shape::Cylinder(m) => cylinder_coefficient(m, surface_k, air_k, speed_m_s, pressure_pa),
        Shape::Plate(m) => plate_coefficient(m, surface_k, air_k, speed_m_s, pressure_pa),
    }
}

/// Factor of a pumped conductance on its value at 2000 rpm: flow rises with engine speed and
/// turbulent convection with flow to the 0.8 (Dittus-Boelter exponent).
#[inline(always)]
pub fn pump_factor<N: Number>(rpm: N) -> N {
    power(rpm / 2000.0, 0.8)
}

impl Link {
    /// Heat along the link [W] at temperatures `from_k` and `to_k`, one link at a time: what
    /// [`LinkPlan`](super::link_plan::LinkPlan) and the radiation do for all of them must agree.
    pub fn watts(&self, from_k: f64, to_k: f64, around: &Surroundings) -> f64 {
        let difference_k = from_k - to_k;
        match &self.law {
            Law::Conductance(w_k) => w_k * difference_k,
            Law::Layer { shape_m, k0, k1 } => {
                let mean_k = 0.5 * (from_k + to_k);
                shape_m * conduction::linear_conductivity(*k0, *k1, mean_k) * difference_k
            }
            Law::Convection {
                shape,
                area_m2,
                speed,
            } => {
                let v = around.speed(*speed);
                let h = coefficient(*shape, from_k, to_k, v, around.pressure_pa);
                h * area_m2 * difference_k
            }
            Law::Gap {
                effective_m,
                shape_m,
            } => {
                let faces_k = [from_k, to_k];
                let k = annulus::effective_conductivity(*effective_m, faces_k, around.pressure_pa);
                k * shape_m * difference_k
            }
            Law::Radiation { area_m2 } => {
                STEFAN_BOLTZMANN_W_M2_K4 * area_m2 * (from_k.powi(4) - to_k.powi(4))
            }
            Law::Pumped {
                running_w_k,
                still_w_k,
                ..
            } => (still_w_k + running_w_k * pump_factor(around.rpm)) * difference_k,
        }
    }

    /// Conductance on a hard day [W/K], to tell strong links from weak ones; radiation has none of its own.
    pub fn hard_day_w_k(&self) -> f64 {
        match self.law {
            Law::Conductance(w_k) => w_k,
            Law::Layer { shape_m, k0, k1 } => {
                shape_m * conduction::linear_conductivity(k0, k1, HARD_DAY_K)
            }
            Law::Gap { shape_m, .. } => shape_m * air::conductivity(HARD_DAY_K),
            Law::Convection { area_m2, .. } => HARD_DAY_W_M2_K * area_m2,
            Law::Pumped {
                running_w_k,
                still_w_k,
                ..
            } => still_w_k + running_w_k * pump_factor(HARD_DAY_RPM),
            Law::Radiation { .. } => 0.0,
        }
    }

    /// Cause of the flow.
    pub fn cause(&self) -> Cause {
        match self.law {
            Law::Conductance(_) | Law::Layer { .. } => Cause::Conduction,
            Law::Convection { .. } | Law::Gap { .. } => Cause::Convection,
            Law::Radiation { .. } => Cause::Radiation,
            Law::Pumped { .. } => Cause::Liquid,
        }
    }
}
