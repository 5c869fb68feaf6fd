//! Physical constants, each with its source. They stand nowhere else.

/// Stefan-Boltzmann constant [W/m2/K4], CODATA 2018 (exact since the SI of 2019).
pub const STEFAN_BOLTZMANN_W_M2K4: f64 = 5.670_374_419e-8;
/// Molar gas constant [J/mol/K], CODATA 2018 (exact since the SI of 2019).
pub const GAS_CONSTANT_J_MOLK: f64 = 8.314_462_618;
/// Standard gravity [m/s2], CGPM 1901.
pub const GRAVITY_M_S2: f64 = 9.806_65;
/// Molar mass of dry air [kg/mol], US Standard Atmosphere 1976, table 3 sum.
pub const AIR_MOLAR_MASS_KG_MOL: f64 = 0.028_964_4;
/// Specific gas constant of dry air [J/kg/K].
pub const AIR_GAS_CONSTANT_J_KGK: f64 = GAS_CONSTANT_J_MOLK / AIR_MOLAR_MASS_KG_MOL;
/// Molar mass of water [kg/mol], CODATA-based, as in ASHRAE Fundamentals 2017 ch. 1.
pub const WATER_MOLAR_MASS_KG_MOL: f64 = 0.018_015_268;
/// Reference temperature of all enthalpies [K]: 25 degC.
pub const REFERENCE_TEMPERATURE_K: f64 = 298.15;
/// 0 degC [K], SI definition.
pub const ZERO_CELSIUS_K: f64 = 273.15;
