//! Dry air near atmospheric pressure.
//!
//! Polynomials in T / 1000 K fitted (relative least squares) to CoolProp 8.0.0 `Air` at 101325 Pa, 200-1500 K:
//! Lemmon, Jacobsen, Penoncello & Friend 2000 (equation of state), Lemmon & Jacobsen 2004 (transport).
//! Largest fit error measured over 230-1300 K: specific heat 0.03 %, conductivity 0.03 %, viscosity 0.04 %;
//! over 200-1500 K: 0.10 %, 0.12 %, 0.17 %.
//!
//! Outside [`AIR_RANGE`] the properties keep their end values and enthalpy goes on in a straight line, so it stays
//! the exact integral of the specific heat and rises everywhere.

use super::polynomial::{
    PropertyFits, antiderivative, guess_from_enthalpy, invert_enthalpy, value,
};
use super::range::Range;
use crate::constants::{DRY_AIR_GAS_CONSTANT_J_KG_K, REFERENCE_TEMPERATURE_K};
use crate::number::Number;

const MIN_K: f64 = 200.0;
const MAX_K: f64 = 1500.0;

/// Range of the fits.
pub const AIR_RANGE: Range = Range {
    name: "dry air properties",
    quantity: "temperature [K]",
    min: MIN_K,
    max: MAX_K,
    source: "fit to CoolProp 8.0.0 Air at 101325 Pa",
};

const SPECIFIC_HEAT: [f64; 7] = [
    1033.08285,
    -159.561706,
    -107.7149,
    1770.61239,
    -2512.48918,
    1401.99737,
    -284.825574,
];
const CONDUCTIVITY: [f64; 6] = [
    -5.88213376e-4,
    0.110217545,
    -0.0860022502,
    0.0698786506,
    -0.0319462227,
    6.12364047e-3,
];
const VISCOSITY: [f64; 6] = [
    1.56005009e-7,
    7.82539145e-5,
    -7.19273175e-5,
    5.84700335e-5,
    -2.68175165e-5,
    5.14971724e-6,
];

/// The fits themselves.
pub fn fits() -> PropertyFits {
    PropertyFits {
        range_k: [MIN_K, MAX_K],
        specific_heat_j_kg_k: SPECIFIC_HEAT.to_vec(),
        conductivity_w_m_k: CONDUCTIVITY.to_vec(),
        viscosity_pa_s: VISCOSITY.to_vec(),
    }
}

#[inline(always)]
fn x<N: Number>(t_k: N) -> N {
    t_k.clamp(MIN_K, MAX_K) * 1e-3
}

/// Specific heat at constant pressure [J/kg/K] at `t_k` [K].
#[inline(always)]
pub fn specific_heat<N: Number>(t_k: N) -> N {
    value(&SPECIFIC_HEAT, x(t_k))
}

/// Enthalpy [J/kg] relative to 298.15 K: the exact integral of [`specific_heat`].
#[inline(always)]
pub fn enthalpy<N: Number>(t_k: N) -> N {
    let held_k = t_k.clamp(MIN_K, MAX_K);
    let x = held_k * 1e-3;
    let coefficients = antiderivative(&SPECIFIC_HEAT);
    let reference = REFERENCE_TEMPERATURE_K * 1e-3;
    let inside = value(&coefficients, x) * x - value(&coefficients, reference) * reference;
    // one number is rarely outside; of several at once it is dearer to ask
    if N::LANES == 1 && !t_k.differs(held_k) {
        return inside;
    }
    // there the last specific heat holds on
    inside + value(&SPECIFIC_HEAT, x) * (t_k - held_k)
}

/// Temperature [K] at which [`enthalpy`] is `h` [J/kg]; answers lie between 1 K and 10000 K.
#[inline]
pub fn temperature_from_enthalpy<N: Number>(h: N) -> N {
    temperature_near(h, guess_from_enthalpy(h))
}

/// The same, faster the closer the answer is to `guess_k` [K].
#[inline(always)]
pub fn temperature_near<N: Number>(h: N, guess_k: N) -> N {
    invert_enthalpy(
        h,
        guess_k,
        #[inline(always)]
        |t| enthalpy(t),
        #[inline(always)]
        |t| specific_heat(t),
    )
}

/// Thermal conductivity [W/m/K] at `t_k` [K].
#[inline(always)]
pub fn conductivity<N: Number>(t_k: N) -> N {
    value(&CONDUCTIVITY, x(t_k))
}

/// Dynamic viscosity [Pa s] at `t_k` [K].
#[inline(always)]
pub fn viscosity<N: Number>(t_k: N) -> N {
    value(&VISCOSITY, x(t_k))
}

/// Prandtl number [-] at `t_k` [K].
#[inline(always)]
pub fn prandtl<N: Number>(t_k: N) -> N {
    specific_heat(t_k) * viscosity(t_k) / conductivity(t_k)
}

/// Density [kg/m3] at `t_k` [K] and `p_pa` [Pa], ideal gas law (within 0.1 % from 250 K up at 1 bar).
#[inline(always)]
pub fn density<N: Number>(t_k: N, p_pa: N) -> N {
    p_pa / (t_k * DRY_AIR_GAS_CONSTANT_J_KG_K)
}

/// Kinematic viscosity [m2/s] at `t_k` [K] and `p_pa` [Pa].
#[inline(always)]
pub fn kinematic_viscosity<N: Number>(t_k: N, p_pa: N) -> N {
    viscosity(t_k) / density(t_k, p_pa)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn enthalpy_is_the_integral_of_specific_heat_everywhere() {
        for t in [150.0, 230.0, 298.15, 600.0, 1300.0, 1700.0] {
            let d = 0.01;
            let slope = (enthalpy(t + d) - enthalpy(t - d)) / (2.0 * d);
            assert!((slope / specific_heat(t) - 1.0).abs() < 1e-6, "{t}");
        }
        assert!(enthalpy(REFERENCE_TEMPERATURE_K).abs() < 1e-6);
    }

    #[test]
    fn temperature_comes_back_from_enthalpy() {
        for t in [120.0, 233.0, 298.15, 450.0, 1234.5, 2500.0] {
            assert!(
                (temperature_from_enthalpy(enthalpy(t)) - t).abs() < 1e-6,
                "{t}"
            );
        }
        assert!(temperature_from_enthalpy(f64::NAN).is_nan());
        assert!(temperature_from_enthalpy(f64::INFINITY).is_finite());
    }
}
