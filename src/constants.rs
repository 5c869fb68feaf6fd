//! Physical constants, each with its source. They appear nowhere else as literals.

/// Stefan-Boltzmann constant [W/m2/K4]. Source: CODATA 2018 (exact since the 2019 SI).
pub const STEFAN_BOLTZMANN_W_M2_K4: f64 = 5.670374419e-8;

/// Second radiation constant h c / k [m K]. Source: CODATA 2018 (exact since the 2019 SI).
pub const SECOND_RADIATION_CONSTANT_M_K: f64 = 1.438776877e-2;

/// Molar gas constant [J/mol/K]. Source: CODATA 2018 (exact since the 2019 SI).
pub const MOLAR_GAS_CONSTANT_J_MOL_K: f64 = 8.314462618;

/// Standard acceleration of gravity [m/s2]. Source: 3rd CGPM, 1901.
pub const GRAVITY_M_S2: f64 = 9.80665;

/// Zero degrees Celsius [K]. Source: definition of the Celsius scale, SI brochure.
pub const ZERO_CELSIUS_K: f64 = 273.15;

/// Reference temperature of every enthalpy and internal energy here [K].
/// Source: usual thermochemical reference state, 25 degC.
pub const REFERENCE_TEMPERATURE_K: f64 = 298.15;

/// Standard atmosphere [Pa]. Source: 10th CGPM, 1954.
pub const STANDARD_PRESSURE_PA: f64 = 101_325.0;

/// Sea-level temperature of the standard atmosphere [K]. Source: US Standard Atmosphere 1976, table 2.
pub const STANDARD_ATMOSPHERE_TEMPERATURE_K: f64 = 288.15;

/// Lapse rate below 11 km of geopotential altitude [K/m]. Source: US Standard Atmosphere 1976, table 4.
pub const STANDARD_ATMOSPHERE_LAPSE_K_M: f64 = 6.5e-3;

/// Effective earth radius for geopotential altitude [m]. Source: US Standard Atmosphere 1976.
pub const EARTH_RADIUS_M: f64 = 6_356_766.0;

/// Molar gas constant used by the 1976 atmosphere [J/mol/K]. Source: US Standard Atmosphere 1976, table 2.
pub const ATMOSPHERE_1976_GAS_CONSTANT_J_MOL_K: f64 = 8.31432;

/// Molar mass of sea-level air in the 1976 atmosphere [kg/mol]. Source: US Standard Atmosphere 1976, table 2.
pub const ATMOSPHERE_1976_MOLAR_MASS_KG_MOL: f64 = 28.9644e-3;

/// Molar mass of dry air [kg/mol]. Source: Lemmon, Jacobsen, Penoncello & Friend 2000, as CoolProp 8.0.0 prints it.
pub const DRY_AIR_MOLAR_MASS_KG_MOL: f64 = 28.96546e-3;

/// Molar mass of water [kg/mol]. Source: ASHRAE Handbook Fundamentals 2017, ch. 1 (18.015268 g/mol), from memory.
pub const WATER_MOLAR_MASS_KG_MOL: f64 = 18.015268e-3;

/// Specific gas constant of dry air [J/kg/K], from the two constants above.
pub const DRY_AIR_GAS_CONSTANT_J_KG_K: f64 = MOLAR_GAS_CONSTANT_J_MOL_K / DRY_AIR_MOLAR_MASS_KG_MOL;

/// Molar mass ratio of water to dry air [-]. Source: ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 20.
pub const WATER_TO_AIR_MASS_RATIO: f64 = 0.621945;

/// Triple point of water [K]. Source: SI before 2019, still the fixed point of ITS-90.
pub const WATER_TRIPLE_POINT_K: f64 = 273.16;
