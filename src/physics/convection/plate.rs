//! Forced flow along a flat plate: averages over its length, film properties.

use crate::physics::range::Range;

/// Reynolds number of transition [-] (Incropera & DeWitt, section 7.2, from memory).
pub const TRANSITION: f64 = 5e5;

/// Range of [`nusselt_laminar`].
pub const PLATE_LAMINAR_RANGE: Range = Range {
    name: "flat plate, laminar",
    quantity: "Reynolds number on length [-]",
    min: 0.0,
    max: TRANSITION,
    source: "Incropera & DeWitt, eq. 7.30 (from memory)",
};

/// Range of [`nusselt_mixed`].
pub const PLATE_MIXED_RANGE: Range = Range {
    name: "flat plate, laminar then turbulent",
    quantity: "Reynolds number on length [-]",
    min: TRANSITION,
    max: 1e8,
    source: "Incropera & DeWitt, eq. 7.38 (from memory)",
};

/// Range of [`nusselt_turbulent`].
pub const PLATE_TURBULENT_RANGE: Range = Range {
    name: "flat plate, tripped turbulent",
    quantity: "Reynolds number on length [-]",
    min: TRANSITION,
    max: 1e8,
    source: "Incropera & DeWitt, eq. 7.38 with A = 0 (from memory)",
};

/// Average Nusselt number of a laminar plate: 0.664 Re^1/2 Pr^1/3. Source: Pohlhausen 1921; Incropera & DeWitt, eq. 7.30.
#[inline]
pub fn nusselt_laminar(re: f64, pr: f64) -> f64 {
    0.664 * re.sqrt() * pr.cbrt()
}

/// Average Nusselt number of a plate turbulent from its edge: 0.037 Re^4/5 Pr^1/3. Source: Incropera & DeWitt, eq. 7.38, A = 0.
#[inline]
pub fn nusselt_turbulent(re: f64, pr: f64) -> f64 {
    0.037 * re.powf(0.8) * pr.cbrt()
}

/// Average Nusselt number of a plate with transition at Re 5e5; laminar below it, so it is continuous (within 0.1 %).
///
/// Source: Incropera & DeWitt, eq. 7.38: (0.037 Re^4/5 - 871) Pr^1/3.
#[inline]
pub fn nusselt_mixed(re: f64, pr: f64) -> f64 {
    if re <= TRANSITION {
        nusselt_laminar(re, pr)
    } else {
        (0.037 * re.powf(0.8) - 871.0) * pr.cbrt()
    }
}
