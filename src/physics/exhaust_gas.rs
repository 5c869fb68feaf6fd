//! Burned gas of petrol, diesel and E85, of frozen composition.
//!
//! Stoichiometric products and excess air are blended by mass once; afterwards a property is one polynomial.
//! Fits in T / 1000 K over 230-1600 K to cantera 3.2.0, `gri30.yaml`, mixture-averaged transport, complete products in dry
//! air of N2 0.78084, O2 0.20946, Ar 0.00934, CO2 0.00036 by mole. Largest error measured against cantera over 250-1500 K,
//! lambda 1 to 20, all fuels: specific heat 0.08 %, enthalpy 0.04 %, viscosity 0.38 %, conductivity 0.17 %.
//! The air part is cantera's too; at 1500 K it differs from [`super::air`] by 0.8 % in specific heat and 4 % in conductivity.

use super::polynomial::{
    PropertyFits, antiderivative, guess_from_enthalpy, invert_enthalpy, value,
};
use super::range::Range;
use crate::constants::{MOLAR_GAS_CONSTANT_J_MOL_K, REFERENCE_TEMPERATURE_K};
use crate::number::{Choice, Number};
use serde::{Deserialize, Serialize};

const MIN_K: f64 = 230.0;
const MAX_K: f64 = 1600.0;

/// Range of the fits. Outside it properties keep their end values and enthalpy goes on in a straight line.
pub const EXHAUST_GAS_RANGE: Range = Range {
    name: "exhaust gas properties",
    quantity: "temperature [K]",
    min: MIN_K,
    max: MAX_K,
    source: "fit to cantera 3.2.0 gri30",
};

/// Liquid fuel of the engine.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Fuel {
    /// Petrol as CH1.87.
    Petrol,
    /// Diesel as CH1.80.
    Diesel,
    /// 85 % ethanol and 15 % petrol by volume, as CH2.76O0.392.
    E85,
}

/// Atoms per carbon atom of a fuel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FuelFormula {
    /// Hydrogen atoms per carbon atom.
    pub hydrogen: f64,
    /// Oxygen atoms per carbon atom.
    pub oxygen: f64,
}

impl Fuel {
    /// Every fuel.
    pub const ALL: [Self; 3] = [Self::Petrol, Self::Diesel, Self::E85];

    /// Composition. Source: Heywood 1988, table D.4 (CH1.87 petrol, CH1.8 light diesel), from memory; E85 computed from
    /// ethanol 789 kg/m3 and petrol 745 kg/m3.
    #[inline]
    pub fn formula(self) -> FuelFormula {
        let (hydrogen, oxygen) = match self {
            Self::Petrol => (1.87, 0.0),
            Self::Diesel => (1.80, 0.0),
            Self::E85 => (2.76, 0.392),
        };
        FuelFormula { hydrogen, oxygen }
    }

    /// Air mass per fuel mass at stoichiometry [-], for the dry air named at the top of this file.
    /// Computed from [`Fuel::formula`]; Heywood 1988, table D.4 prints 14.6 for petrol and 14.5 for diesel (from memory).
    #[inline]
    pub fn stoichiometric_ratio(self) -> f64 {
        match self {
            Self::Petrol => 14.604,
            Self::Diesel => 14.504,
            Self::E85 => 9.808,
        }
    }

    /// Lower heating value [J/kg]. Source: Heywood 1988, table D.4 (petrol 44.0, light diesel 42.5, ethanol 26.9 MJ/kg), from
    /// memory; E85 by mass (85.7 % ethanol).
    #[inline]
    pub fn lower_heating_value(self) -> f64 {
        match self {
            Self::Petrol => 44.0e6,
            Self::Diesel => 42.5e6,
            Self::E85 => 29.3e6,
        }
    }
}

/// Fitted properties of one gas, T / 1000 K as argument.
#[derive(Debug, Clone, Copy)]
struct Fit<N = f64> {
    molar_mass_kg_mol: N,
    specific_heat: [N; 7],
    conductivity: [N; 6],
    viscosity: [N; 6],
}

const AIR: Fit = Fit {
    molar_mass_kg_mol: 28.96573e-3,
    specific_heat: [
        912.7807590,
        781.9439960,
        -2908.940940,
        5836.619590,
        -5558.894150,
        2518.908630,
        -440.2563310,
    ],
    conductivity: [
        7.323498860e-3,
        6.018498610e-2,
        1.876868830e-2,
        -2.949066930e-2,
        1.558887260e-2,
        -3.085750450e-3,
    ],
    viscosity: [
        2.646226760e-7,
        7.970068610e-5,
        -7.848923930e-5,
        6.613476400e-5,
        -3.021831270e-5,
        5.596315080e-6,
    ],
};
const PETROL: Fit = Fit {
    molar_mass_kg_mol: 29.01316e-3,
    specific_heat: [
        879.7115050,
        1195.647940,
        -3390.337410,
        5998.644720,
        -5354.143480,
        2326.018380,
        -394.1617030,
    ],
    conductivity: [
        2.003757670e-3,
        8.180613910e-2,
        -2.586994420e-2,
        2.929895900e-2,
        -1.796185020e-2,
        3.970325500e-3,
    ],
    viscosity: [
        -4.072143100e-7,
        7.084497220e-5,
        -5.837813430e-5,
        4.553452820e-5,
        -2.001131800e-5,
        3.624449500e-6,
    ],
};
const DIESEL: Fit = Fit {
    molar_mass_kg_mol: 29.07299e-3,
    specific_heat: [
        876.3990950,
        1202.511130,
        -3403.618930,
        6012.872690,
        -5364.092900,
        2330.006930,
        -394.8335750,
    ],
    conductivity: [
        2.042402660e-3,
        8.145527100e-2,
        -2.502191360e-2,
        2.807613490e-2,
        -1.723957920e-2,
        3.815150010e-3,
    ],
    viscosity: [
        -4.194118940e-7,
        7.102660070e-5,
        -5.875869580e-5,
        4.589832920e-5,
        -2.018528780e-5,
        3.657417210e-6,
    ],
};
const E85: Fit = Fit {
    molar_mass_kg_mol: 28.39220e-3,
    specific_heat: [
        919.2334360,
        1098.197120,
        -3084.258740,
        5535.120530,
        -4964.946500,
        2158.510380,
        -365.4471640,
    ],
    conductivity: [
        1.178105970e-3,
        8.691550210e-2,
        -3.686550830e-2,
        4.545528880e-2,
        -2.759004210e-2,
        6.048815030e-3,
    ],
    viscosity: [
        -3.182971300e-7,
        6.813241030e-5,
        -5.238146840e-5,
        3.970130610e-5,
        -1.719986150e-5,
        3.089506420e-6,
    ],
};

/// Properties of one exhaust gas.
#[derive(Debug, Clone, Copy)]
pub struct ExhaustGas<N = f64> {
    fit: Fit<N>,
    gas_constant_j_kg_k: N,
    /// Of the specific heat's antiderivative, over temperature in kelvin.
    antiderivative: [N; 7],
    enthalpy_at_reference: N,
}

impl<N: Number> ExhaustGas<N> {
    /// Gas of `fuel` burned with `lambda` times the stoichiometric air [-].
    ///
    /// From 1 up: complete products plus excess air. Below 1, or not a number: stoichiometric products (CO and H2 of a rich burn
    /// are left out). Infinite: air.
    #[inline(always)]
    pub fn new(fuel: Fuel, lambda: N) -> Self {
        let products = match fuel {
            Fuel::Petrol => &PETROL,
            Fuel::Diesel => &DIESEL,
            Fuel::E85 => &E85,
        };
        let ratio = fuel.stoichiometric_ratio();
        let (zero, one) = (N::of(0.0), N::of(1.0));
        let lean = (lambda - 1.0) * ratio / (lambda * ratio + 1.0);
        // the quotient of two infinities is no number
        let lean = lambda.below(N::of(f64::INFINITY)).choose(lean, one);
        Self::blend(products, one.below(lambda).choose(lean, zero))
    }

    #[inline(always)]
    fn blend(products: &Fit, w: N) -> Self {
        let rest = N::of(1.0) - w;
        let mix = |products: f64, air: f64| rest * products + w * air;
        let moles = rest / products.molar_mass_kg_mol + w / AIR.molar_mass_kg_mol;
        let fit = Fit {
            molar_mass_kg_mol: N::of(1.0) / moles,
            specific_heat: std::array::from_fn(|i| {
                mix(products.specific_heat[i], AIR.specific_heat[i])
            }),
            conductivity: std::array::from_fn(|i| {
                mix(products.conductivity[i], AIR.conductivity[i])
            }),
            viscosity: std::array::from_fn(|i| mix(products.viscosity[i], AIR.viscosity[i])),
        };
        let antiderivative = antiderivative(&fit.specific_heat);
        let reference = N::of(REFERENCE_TEMPERATURE_K * 1e-3);
        Self {
            gas_constant_j_kg_k: moles * MOLAR_GAS_CONSTANT_J_MOL_K,
            enthalpy_at_reference: value(&antiderivative, reference) * reference,
            antiderivative,
            fit,
        }
    }

    #[inline(always)]
    fn x(t_k: N) -> N {
        t_k.clamp(MIN_K, MAX_K) * 1e-3
    }

    /// Specific heat at constant pressure [J/kg/K] at `t_k` [K].
    #[inline(always)]
    pub fn specific_heat(&self, t_k: N) -> N {
        value(&self.fit.specific_heat, Self::x(t_k))
    }

    /// Enthalpy [J/kg] relative to 298.15 K: the exact integral of [`ExhaustGas::specific_heat`].
    #[inline(always)]
    pub fn enthalpy(&self, t_k: N) -> N {
        let held_k = t_k.clamp(MIN_K, MAX_K);
        let x = held_k * 1e-3;
        let inside = value(&self.antiderivative, x) * x - self.enthalpy_at_reference;
        if t_k.differs(held_k) {
            return inside + value(&self.fit.specific_heat, x) * (t_k - held_k);
        }
        inside
    }

    /// The same of several temperatures at once.
    #[inline(always)]
    pub fn enthalpies(&self, t_k: &[N], out: &mut [N]) {
        let (low, high) = (N::of(MIN_K), N::of(MAX_K));
        let mut outside = N::Choice::NEVER;
        for (h, &t_k) in out.iter_mut().zip(t_k) {
            outside = outside.or(t_k.leaves(low, high));
            let x = t_k * 1e-3;
            *h = value(&self.antiderivative, x) * x - self.enthalpy_at_reference;
        }
        if outside.any() {
            for (h, &t_k) in out.iter_mut().zip(t_k) {
                *h = self.enthalpy(t_k);
            }
        }
    }

    /// Temperature [K] at which [`ExhaustGas::enthalpy`] is `h` [J/kg]; answers lie between 1 K and 10000 K.
    #[inline(always)]
    pub fn temperature_from_enthalpy(&self, h: N) -> N {
        self.temperature_near(h, guess_from_enthalpy(h))
    }

    /// The same, faster the closer the answer is to `guess_k` [K].
    #[inline(always)]
    pub fn temperature_near(&self, h: N, guess_k: N) -> N {
        invert_enthalpy(
            h,
            guess_k,
            #[inline(always)]
            |t| self.enthalpy(t),
            #[inline(always)]
            |t| self.specific_heat(t),
        )
    }

    /// Dynamic viscosity [Pa s] at `t_k` [K].
    #[inline(always)]
    pub fn viscosity(&self, t_k: N) -> N {
        value(&self.fit.viscosity, Self::x(t_k))
    }

    /// Thermal conductivity [W/m/K] at `t_k` [K].
    #[inline(always)]
    pub fn conductivity(&self, t_k: N) -> N {
        value(&self.fit.conductivity, Self::x(t_k))
    }

    /// Prandtl number [-] at `t_k` [K].
    #[inline(always)]
    pub fn prandtl(&self, t_k: N) -> N {
        self.specific_heat(t_k) * self.viscosity(t_k) / self.conductivity(t_k)
    }

    /// Molar mass [kg/mol].
    #[inline(always)]
    pub fn molar_mass(&self) -> N {
        self.fit.molar_mass_kg_mol
    }

    /// Specific gas constant [J/kg/K].
    #[inline(always)]
    pub fn gas_constant(&self) -> N {
        self.gas_constant_j_kg_k
    }

    /// Density [kg/m3] at `t_k` [K] and `p_pa` [Pa], ideal gas law.
    #[inline(always)]
    pub fn density(&self, t_k: N, p_pa: N) -> N {
        p_pa / (self.gas_constant_j_kg_k * t_k)
    }
}

impl ExhaustGas {
    /// The fits themselves.
    pub fn fits(&self) -> PropertyFits {
        PropertyFits {
            range_k: [MIN_K, MAX_K],
            specific_heat_j_kg_k: self.fit.specific_heat.to_vec(),
            conductivity_w_m_k: self.fit.conductivity.to_vec(),
            viscosity_pa_s: self.fit.viscosity.to_vec(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn enthalpy_is_the_integral_of_specific_heat_and_inverts() {
        for fuel in Fuel::ALL {
            for lambda in [0.9, 1.0, 1.7, 5.0, f64::INFINITY] {
                let gas = ExhaustGas::new(fuel, lambda);
                assert!(gas.enthalpy(REFERENCE_TEMPERATURE_K).abs() < 1e-6);
                for t in [200.0, 300.0, 900.0, 1500.0, 1900.0] {
                    let slope = (gas.enthalpy(t + 0.01) - gas.enthalpy(t - 0.01)) / 0.02;
                    assert!((slope / gas.specific_heat(t) - 1.0).abs() < 1e-6);
                    assert!((gas.temperature_from_enthalpy(gas.enthalpy(t)) - t).abs() < 1e-6);
                }
            }
        }
    }

    #[test]
    fn stoichiometric_ratio_follows_from_the_formula() {
        for fuel in Fuel::ALL {
            let FuelFormula { hydrogen, oxygen } = fuel.formula();
            let air_moles = (1.0 + hydrogen / 4.0 - oxygen / 2.0) / 0.20946;
            let fuel_mass = 12.011 + 1.008 * hydrogen + 15.999 * oxygen;
            let ratio = air_moles * 28.96573 / fuel_mass;
            assert!(
                (ratio / fuel.stoichiometric_ratio() - 1.0).abs() < 1e-4,
                "{fuel:?}"
            );
        }
    }

    #[test]
    fn lean_limit_is_air_and_rich_is_stoichiometric() {
        let far = ExhaustGas::new(Fuel::Diesel, 1e9);
        let air = ExhaustGas::new(Fuel::Petrol, f64::INFINITY);
        assert!((far.specific_heat(700.0) / air.specific_heat(700.0) - 1.0).abs() < 1e-6);
        let rich = ExhaustGas::new(Fuel::Petrol, 0.8);
        let even = ExhaustGas::new(Fuel::Petrol, 1.0);
        assert_eq!(rich.specific_heat(700.0), even.specific_heat(700.0));
    }
}
