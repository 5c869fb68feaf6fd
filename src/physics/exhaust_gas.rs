//! Burned gas by fuel and mixture, 250 to 1500 K, frozen composition.
//!
//! Stoichiometric products from cantera 3.2.0 with gri30 (mixture-averaged transport), air with
//! 0.93 % argon; fit errors over 230 to 1600 K: specific heat 0.09 %, viscosity 0.11 %,
//! conductivity 0.3 %. A lean mixture is products plus excess air blended by mass, which adds at
//! most 0.6 % on specific heat, 0.7 % on viscosity and 3.2 % on conductivity up to lambda 5.

use serde::{Deserialize, Serialize};

use super::{air, polynomial};
use crate::constants::{AIR_MOLAR_MASS_KG_MOL, GAS_CONSTANT_J_MOLK};

/// Fuel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Fuel {
    /// Petrol, CH1.87.
    Petrol,
    /// Diesel, CH1.80.
    Diesel,
    /// 85 % ethanol by volume in petrol, CH2.76 O0.39.
    E85,
}

/// Fitted products of one fuel.
struct Products {
    specific_heat: [f64; 7],
    conductivity: [f64; 6],
    viscosity: [f64; 6],
    molar_mass_kg_mol: f64,
    stoichiometric_ratio: f64,
    lower_heating_value_j_kg: f64,
}

// Ratios follow from the composition and air with 20.946 % oxygen; heating values from memory of
// Heywood 1988, table D.4 (petrol 44.0, diesel 42.5 MJ/kg) and by mass mixing for E85
// (ethanol 26.9 MJ/kg).
const PETROL: Products = Products {
    specific_heat: [
        879.711_505,
        1195.647_94,
        -3390.337_41,
        5998.644_72,
        -5354.143_48,
        2326.018_38,
        -394.161_703,
    ],
    conductivity: [
        0.002_003_757_67,
        0.081_806_139_1,
        -0.025_869_944_2,
        0.029_298_959,
        -0.017_961_850_2,
        0.003_970_325_5,
    ],
    viscosity: [
        -4.072_143_1e-7,
        7.084_497_22e-5,
        -5.837_813_43e-5,
        4.553_452_82e-5,
        -2.001_131_8e-5,
        3.624_449_5e-6,
    ],
    molar_mass_kg_mol: 0.029_013_2,
    stoichiometric_ratio: 14.604,
    lower_heating_value_j_kg: 43.5e6,
};
const DIESEL: Products = Products {
    specific_heat: [
        876.399_095,
        1202.511_13,
        -3403.618_93,
        6012.872_69,
        -5364.092_9,
        2330.006_93,
        -394.833_575,
    ],
    conductivity: [
        0.002_042_402_66,
        0.081_455_271,
        -0.025_021_913_6,
        0.028_076_134_9,
        -0.017_239_579_2,
        0.003_815_150_01,
    ],
    viscosity: [
        -4.194_118_94e-7,
        7.102_660_07e-5,
        -5.875_869_58e-5,
        4.589_832_92e-5,
        -2.018_528_78e-5,
        3.657_417_21e-6,
    ],
    molar_mass_kg_mol: 0.029_073_0,
    stoichiometric_ratio: 14.504,
    lower_heating_value_j_kg: 42.5e6,
};
const E85: Products = Products {
    specific_heat: [
        919.041_357,
        1098.583_33,
        -3084.914_99,
        5535.718_51,
        -4965.314_28,
        2158.648_92,
        -365.470_119,
    ],
    conductivity: [
        0.001_179_993_32,
        0.086_896_335_5,
        -0.036_817_706_2,
        0.045_386_702_9,
        -0.027_549_585_8,
        0.006_040_123_82,
    ],
    viscosity: [
        -3.190_190_72e-7,
        6.814_197e-5,
        -5.240_096_51e-5,
        3.971_969_16e-5,
        -1.720_859_1e-5,
        3.091_154_42e-6,
    ],
    molar_mass_kg_mol: 0.028_395_6,
    stoichiometric_ratio: 9.802,
    lower_heating_value_j_kg: 29.3e6,
};

impl Fuel {
    /// All fuels.
    pub const ALL: [Self; 3] = [Self::Petrol, Self::Diesel, Self::E85];

    fn products(self) -> &'static Products {
        match self {
            Self::Petrol => &PETROL,
            Self::Diesel => &DIESEL,
            Self::E85 => &E85,
        }
    }

    /// Air to fuel by mass at lambda 1 [-].
    pub fn stoichiometric_ratio(self) -> f64 {
        self.products().stoichiometric_ratio
    }

    /// Lower heating value [J/kg].
    pub fn lower_heating_value(self) -> f64 {
        self.products().lower_heating_value_j_kg
    }
}

/// Burned gas of a fuel at a mixture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExhaustGas {
    specific_heat: [f64; 7],
    conductivity: [f64; 6],
    viscosity: [f64; 6],
    molar_mass_kg_mol: f64,
}

impl ExhaustGas {
    /// Gas at an air-fuel equivalence ratio; infinite means air.
    ///
    /// On the rich side the stoichiometric products stand in: carbon monoxide and hydrogen change
    /// the specific heat by about 1 % at lambda 0.9.
    pub fn new(fuel: Fuel, lambda: f64) -> Self {
        let products = fuel.products();
        let ratio = products.stoichiometric_ratio;
        let lean = lambda.max(1.0);
        // mass share of excess air; the form without infinity over infinity
        let excess = ratio * (1.0 - 1.0 / lean) / (1.0 / lean + ratio);
        let blend = |burned: f64, fresh: f64| burned + excess * (fresh - burned);
        let mut gas = Self {
            specific_heat: products.specific_heat,
            conductivity: products.conductivity,
            viscosity: products.viscosity,
            molar_mass_kg_mol: 1.0
                / blend(
                    1.0 / products.molar_mass_kg_mol,
                    1.0 / AIR_MOLAR_MASS_KG_MOL,
                ),
        };
        for (c, a) in gas.specific_heat.iter_mut().zip(air::SPECIFIC_HEAT) {
            *c = blend(*c, a);
        }
        for (c, a) in gas.conductivity.iter_mut().zip(air::CONDUCTIVITY) {
            *c = blend(*c, a);
        }
        for (c, a) in gas.viscosity.iter_mut().zip(air::VISCOSITY) {
            *c = blend(*c, a);
        }
        gas
    }

    /// Specific heat at constant pressure [J/kg/K].
    #[inline]
    pub fn specific_heat(&self, t_k: f64) -> f64 {
        polynomial::value(&self.specific_heat, t_k)
    }

    /// Enthalpy relative to 298.15 K [J/kg], water as vapour.
    #[inline]
    pub fn enthalpy(&self, t_k: f64) -> f64 {
        polynomial::integral(&self.specific_heat, t_k)
    }

    /// Temperature [K] at an enthalpy [J/kg].
    pub fn temperature_from_enthalpy(&self, h_j_kg: f64) -> f64 {
        polynomial::invert_integral(&self.specific_heat, h_j_kg, 298.15 + h_j_kg / 1180.0)
    }

    /// Dynamic viscosity [Pa s].
    #[inline]
    pub fn viscosity(&self, t_k: f64) -> f64 {
        polynomial::value(&self.viscosity, t_k)
    }

    /// Thermal conductivity [W/m/K].
    #[inline]
    pub fn conductivity(&self, t_k: f64) -> f64 {
        polynomial::value(&self.conductivity, t_k)
    }

    /// Molar mass [kg/mol].
    pub fn molar_mass(&self) -> f64 {
        self.molar_mass_kg_mol
    }

    /// Density of the ideal gas [kg/m3].
    pub fn density(&self, t_k: f64, pressure_pa: f64) -> f64 {
        pressure_pa * self.molar_mass_kg_mol / (GAS_CONSTANT_J_MOLK * t_k)
    }
}
