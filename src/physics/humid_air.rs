//! Moist air as a mixture of ideal gases. ASHRAE Handbook Fundamentals 2017, ch. 1 (equation numbers from psychrolib 2.5.0).

use super::range::Range;
use crate::constants::{
    DRY_AIR_GAS_CONSTANT_J_KG_K, WATER_TO_AIR_MASS_RATIO, WATER_TRIPLE_POINT_K, ZERO_CELSIUS_K,
};

/// Range of [`saturation_pressure`].
pub const SATURATION_PRESSURE_RANGE: Range = Range {
    name: "water saturation pressure",
    quantity: "temperature [K]",
    min: 173.15,
    max: 473.15,
    source: "ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 5 and 6",
};

/// Specific heat of water vapour over that of dry air near 300 K [-]: 1.86 over 1.006 kJ/kg/K (ASHRAE 2017, ch. 1, eq. 29-30).
const VAPOUR_TO_AIR_SPECIFIC_HEAT: f64 = 1.86 / 1.006;

/// Saturation pressure of water [Pa] at `t_k` [K], over ice below the triple point.
///
/// Source: Hyland & Wexler 1983, as ASHRAE 2017, ch. 1, eq. 5 and 6.
#[inline]
pub fn saturation_pressure(t_k: f64) -> f64 {
    let t = t_k;
    let ln = if t <= WATER_TRIPLE_POINT_K {
        -5.6745359e3 / t
            + 6.3925247
            + t * (-9.677843e-3 + t * (6.2215701e-7 + t * (2.0747825e-9 - t * 9.484024e-13)))
            + 4.1635019 * t.ln()
    } else {
        -5.8002206e3 / t
            + 1.3914993
            + t * (-4.8640239e-2 + t * (4.1764768e-5 - t * 1.4452093e-8))
            + 6.5459673 * t.ln()
    };
    ln.exp()
}

/// Vapour pressure [Pa] at `t_k` [K] and relative humidity `rh` [0-1]. ASHRAE 2017, ch. 1, eq. 22.
#[inline]
pub fn vapour_pressure(t_k: f64, rh: f64) -> f64 {
    rh * saturation_pressure(t_k)
}

/// Partial pressure of the dry air [Pa] at `t_k` [K], relative humidity `rh` [0-1] and total pressure `p_pa` [Pa].
#[inline]
pub fn dry_air_partial_pressure(t_k: f64, rh: f64, p_pa: f64) -> f64 {
    p_pa - vapour_pressure(t_k, rh)
}

/// Humidity ratio [kg water / kg dry air] at `t_k` [K], relative humidity `rh` [0-1] and pressure `p_pa` [Pa].
///
/// ASHRAE 2017, ch. 1, eq. 20. Meaningless where the vapour pressure reaches the total pressure.
#[inline]
pub fn humidity_ratio(t_k: f64, rh: f64, p_pa: f64) -> f64 {
    let pv = vapour_pressure(t_k, rh);
    WATER_TO_AIR_MASS_RATIO * pv / (p_pa - pv)
}

/// Density of moist air [kg/m3], water included, at `t_k` [K], humidity ratio `w` [kg/kg dry] and pressure `p_pa` [Pa].
///
/// ASHRAE 2017, ch. 1, eq. 11 and 26.
#[inline]
pub fn moist_density(t_k: f64, w: f64, p_pa: f64) -> f64 {
    p_pa * (1.0 + w) / (DRY_AIR_GAS_CONSTANT_J_KG_K * t_k * (1.0 + w / WATER_TO_AIR_MASS_RATIO))
}

/// Dew point [K] (frost point below the triple point) of air at `t_k` [K] and relative humidity `rh` [0-1].
///
/// Bisection of [`saturation_pressure`] over its range; completely dry air gives the lower end, 173.15 K.
pub fn dew_point(t_k: f64, rh: f64) -> f64 {
    let pv = vapour_pressure(t_k, rh);
    if pv.is_nan() {
        return f64::NAN;
    }
    let (mut low, mut high) = (SATURATION_PRESSURE_RANGE.min, SATURATION_PRESSURE_RANGE.max);
    for _ in 0..60 {
        let mid = 0.5 * (low + high);
        if saturation_pressure(mid) < pv {
            low = mid;
        } else {
            high = mid;
        }
    }
    0.5 * (low + high)
}

/// Specific heat of moist air per kg of moist air over that of dry air [-], humidity ratio `w` [kg/kg dry].
///
/// ASHRAE 2017, ch. 1, eq. 29-30: 1.006 for air and 1.86 kJ/kg/K for vapour.
#[inline]
pub fn specific_heat_ratio_to_dry(w: f64) -> f64 {
    (1.0 + w * VAPOUR_TO_AIR_SPECIFIC_HEAT) / (1.0 + w)
}

/// Dew point in degrees Celsius, for the sky temperature.
#[inline]
pub(super) fn dew_point_c(t_k: f64, rh: f64) -> f64 {
    dew_point(t_k, rh) - ZERO_CELSIUS_K
}
