//! Flow inside pipes. Reynolds number on the bore, bulk properties.

use crate::number::Number;
use crate::physics::functions::cube_root;
use crate::physics::pipe_flow::{LAMINAR_END, TURBULENT_START};
use crate::physics::range::Range;

/// Fully developed laminar flow, constant wall temperature [-]. Source: Incropera & DeWitt, eq. 8.55 (from memory).
pub const NUSSELT_LAMINAR_WALL_TEMPERATURE: f64 = 3.66;

/// Range of [`nusselt_gnielinski`].
pub const GNIELINSKI_RANGE: Range = Range {
    name: "Gnielinski pipe flow",
    quantity: "Reynolds number [-]",
    min: 3e3,
    max: 5e6,
    source: "Gnielinski 1976; Incropera & DeWitt, eq. 8.62 (from memory)",
};

/// Range of [`nusselt_dittus_boelter_cooling`].
pub const DITTUS_BOELTER_RANGE: Range = Range {
    name: "Dittus-Boelter pipe flow",
    quantity: "Reynolds number [-]",
    min: 1e4,
    max: 1.2e5,
    source: "Winterton 1998 on Dittus & Boelter 1930 (from memory)",
};

/// Range of [`nusselt_pulsating_exhaust`]; the engine data behind the fit, roughly.
pub const PULSATING_EXHAUST_RANGE: Range = Range {
    name: "pulsating exhaust flow",
    quantity: "Reynolds number [-]",
    min: 2e3,
    max: 1e5,
    source: "Depcik & Assanis 2002; limits estimated",
};

/// Range of [`nusselt_hausen`].
pub const HAUSEN_RANGE: Range = Range {
    name: "Hausen developing laminar flow",
    quantity: "Reynolds number [-]",
    min: 0.0,
    max: 2300.0,
    source: "Hausen 1943; Incropera & DeWitt, eq. 8.57 (from memory)",
};

/// Turbulent pipe flow with Darcy `friction` [-]. Source: Gnielinski 1976, eq. 21; Incropera & DeWitt, eq. 8.62.
#[inline(always)]
pub fn nusselt_gnielinski<N: Number>(re: N, pr: N, friction: N) -> N {
    let f8 = friction / 8.0;
    let pr_third = cube_root(pr);
    f8 * (re - 1000.0) * pr / (f8.sqrt() * 12.7 * (pr_third * pr_third - 1.0) + 1.0)
}

/// Turbulent pipe flow being cooled: 0.023 Re^0.8 Pr^0.3. Source: Incropera & DeWitt, eq. 8.60.
#[inline]
pub fn nusselt_dittus_boelter_cooling(re: f64, pr: f64) -> f64 {
    0.023 * re.powf(0.8) * pr.powf(0.3)
}

/// Exhaust of a running engine, pulsation, bends and entry included: 0.07 Re^0.75. Source: Depcik & Assanis 2002 (SAE 2002-01-0372).
#[inline(always)]
pub fn nusselt_pulsating_exhaust<N: Number>(re: N) -> N {
    let root = re.sqrt();
    root * 0.07 * root.sqrt()
}

/// Fully developed laminar flow, constant wall temperature [-].
#[inline]
pub fn nusselt_laminar_wall_temperature() -> f64 {
    NUSSELT_LAMINAR_WALL_TEMPERATURE
}

/// Laminar flow with developing temperature, average over the length; `diameter_over_length` [-].
///
/// Source: Hausen 1943; Incropera & DeWitt, eq. 8.57.
#[inline]
pub fn nusselt_hausen(re: f64, pr: f64, diameter_over_length: f64) -> f64 {
    let graetz = diameter_over_length * re * pr;
    let third = graetz.cbrt();
    NUSSELT_LAMINAR_WALL_TEMPERATURE + 0.0668 * graetz / (1.0 + 0.04 * third * third)
}

/// Duct flow at any Reynolds number with Darcy `friction` [-] at that Reynolds number.
///
/// Up to 2300: 3.66. From 4000: [`nusselt_gnielinski`]. Between: a straight line in Re from 3.66 to Gnielinski's value at Re 4000
/// (Gnielinski 2013), so it is continuous wherever `friction` is.
#[inline(always)]
pub fn nusselt_pipe<N: Number>(re: N, pr: N, friction: N) -> N {
    let share = ((re - LAMINAR_END) / (TURBULENT_START - LAMINAR_END)).clamp(0.0, 1.0);
    let turbulent = nusselt_gnielinski(re.max(N::of(TURBULENT_START)), pr, friction);
    (N::of(1.0) - share) * NUSSELT_LAMINAR_WALL_TEMPERATURE + share * turbulent
}

/// Factor by which a short turbulent pipe exceeds a long one, average over its length: 1 + (D/L)^2/3.
///
/// Source: Hausen 1943, VDI Heat Atlas G1 (from memory). Not for a correlation fitted on short pipes.
#[inline]
pub fn entry_factor(diameter_over_length: f64) -> f64 {
    let third = diameter_over_length.cbrt();
    1.0 + third * third
}
