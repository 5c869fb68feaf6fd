//! Forced flow along a flat plate: averages over its length, film properties.

use crate::number::Number;
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

/// Average Nusselt number for gases (Pr 0.65-0.80) by [`nusselt_mixed`] without powers and branches, up to Re 1e8.
///
/// Re^4/5 is s^3 times a fit to s^1/5 with s = Re^1/4 (0.05 % from Re 4.6e5), Pr^1/3 a parabola (0.003 %). The larger of the
/// laminar and the turbulent form counts: they meet within 0.1 % of [`TRANSITION`].
#[inline(always)]
pub fn nusselt_gas<N: Number>(re: N, pr: N) -> N {
    let pr_third = pr * (pr * -0.190_550_21 + 0.689_826_15) + 0.498_385_25;
    let root = re.sqrt();
    let s = root.sqrt();
    let fifth_root = s
        * (s * (s * (s * -7.013_093_60e-9 + 2.322_766_60e-6) - 3.169_291_27e-4) + 2.652_359_32e-2)
        + 1.406_651_44;
    let turbulent = root * 0.037 * s * fifth_root - 871.0;
    (root * 0.664).max(turbulent) * pr_third
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_form_without_powers_agrees() {
        let mut re = 1.0;
        while re < 1e8 {
            for pr in [0.65, 0.7, 0.8] {
                let (fast, full) = (nusselt_gas(re, pr), nusselt_mixed(re, pr));
                assert!((fast / full - 1.0).abs() < 3e-3, "{re} {pr}: {fast} {full}");
            }
            re *= 1.3;
        }
    }
}
