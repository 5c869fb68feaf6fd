//! Humid air as a mixture of ideal gases.
//!
//! Saturation by Hyland and Wexler 1983 as in ASHRAE Fundamentals 2017, ch. 1, eq. 5 and 6.

use crate::constants::{
    AIR_GAS_CONSTANT_J_KGK, AIR_MOLAR_MASS_KG_MOL, WATER_MOLAR_MASS_KG_MOL, ZERO_CELSIUS_K,
};

/// Specific heat of water vapour near 30 degC [J/kg/K], ASHRAE Fundamentals 2017 ch. 1.
const VAPOUR_SPECIFIC_HEAT: f64 = 1860.0;
/// Specific heat of dry air there [J/kg/K].
const DRY_SPECIFIC_HEAT: f64 = 1006.0;

/// Saturation pressure of water vapour over water, or ice below 0 degC [Pa]; 173 to 473 K.
pub fn saturation_pressure(t_k: f64) -> f64 {
    let t = t_k;
    let ln = if t < ZERO_CELSIUS_K {
        -5.674_535_9e3 / t + 6.392_524_7 - 9.677_843e-3 * t
            + 6.221_570_1e-7 * t * t
            + 2.074_782_5e-9 * t.powi(3)
            - 9.484_024e-13 * t.powi(4)
            + 4.163_501_9 * t.ln()
    } else {
        -5.800_220_6e3 / t + 1.391_499_3 - 4.864_023_9e-2 * t + 4.176_476_8e-5 * t * t
            - 1.445_209_3e-8 * t.powi(3)
            + 6.545_967_3 * t.ln()
    };
    ln.exp()
}

/// Partial pressure of water vapour [Pa] at relative humidity 0 to 1.
pub fn vapour_pressure(t_k: f64, relative_humidity: f64) -> f64 {
    relative_humidity * saturation_pressure(t_k)
}

/// Humidity ratio [kg water per kg dry air].
pub fn humidity_ratio(t_k: f64, relative_humidity: f64, pressure_pa: f64) -> f64 {
    let vapour = vapour_pressure(t_k, relative_humidity).min(0.99 * pressure_pa);
    WATER_MOLAR_MASS_KG_MOL / AIR_MOLAR_MASS_KG_MOL * vapour / (pressure_pa - vapour)
}

/// Density of humid air [kg/m3], water included.
pub fn moist_density(t_k: f64, relative_humidity: f64, pressure_pa: f64) -> f64 {
    let vapour = vapour_pressure(t_k, relative_humidity);
    let light = 1.0 - WATER_MOLAR_MASS_KG_MOL / AIR_MOLAR_MASS_KG_MOL;
    (pressure_pa - light * vapour) / (AIR_GAS_CONSTANT_J_KGK * t_k)
}

/// Density of the dry air in humid air [kg/m3]: what brings oxygen.
pub fn dry_air_density(t_k: f64, relative_humidity: f64, pressure_pa: f64) -> f64 {
    (pressure_pa - vapour_pressure(t_k, relative_humidity)) / (AIR_GAS_CONSTANT_J_KGK * t_k)
}

/// Dew point [K] (frost point below 0 degC), by bisection on the saturation pressure.
pub fn dew_point(t_k: f64, relative_humidity: f64) -> f64 {
    let vapour = vapour_pressure(t_k, relative_humidity.clamp(1e-6, 1.0));
    let (mut low, mut high) = (150.0, t_k);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if saturation_pressure(middle) < vapour {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// Specific heat of humid air per kg of mixture over that of dry air [-].
pub fn specific_heat_ratio_to_dry(humidity_ratio: f64) -> f64 {
    (1.0 + humidity_ratio * VAPOUR_SPECIFIC_HEAT / DRY_SPECIFIC_HEAT) / (1.0 + humidity_ratio)
}
