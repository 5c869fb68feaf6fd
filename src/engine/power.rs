//! Power against intake conditions: standard corrections and the density bound.
//!
//! The formulas are written from memory of the standards; their reference values and limits stand
//! beside them. Using them for a charge tens of kelvin over the outside air is extrapolation.

use crate::physics::humid_air;
use crate::sheet::build::{Day, Engine};

/// Reference dry-air pressure of SAE J1349 and ISO 1585 [Pa].
pub const REFERENCE_DRY_PA: f64 = 99e3;
/// Reference temperature of both [K].
pub const REFERENCE_K: f64 = 298.0;

/// A correction factor and whether it is inside the standard's limits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Correction {
    /// Factor on measured power that gives reference power.
    pub factor: f64,
    /// Inside the limits of the standard.
    pub inside_limits: bool,
}

/// ISO 1585 (also UN R85), spark ignition: `(99/p_dry)^1.2 (T/298)^0.6`, limits 0.93 to 1.07.
pub fn iso_1585_petrol(dry_pa: f64, intake_k: f64) -> Correction {
    let factor = (REFERENCE_DRY_PA / dry_pa).powf(1.2) * (intake_k / REFERENCE_K).powf(0.6);
    Correction {
        factor,
        inside_limits: (0.93..=1.07).contains(&factor),
    }
}

/// ISO 1585, turbocharged diesel: `fa^fm`, `fa = (99/p)^0.7 (T/298)^1.5`, `fm` given, limits 0.9 to 1.1.
pub fn iso_1585_turbo_diesel(dry_pa: f64, intake_k: f64, engine_factor: f64) -> Correction {
    let fa = (REFERENCE_DRY_PA / dry_pa).powf(0.7) * (intake_k / REFERENCE_K).powf(1.5);
    let factor = fa.powf(engine_factor);
    Correction {
        factor,
        inside_limits: (0.9..=1.1).contains(&factor),
    }
}

/// SAE J1349 (2004, 2008), spark ignition, 85 % mechanical efficiency:
/// `1.18 (99/p_dry) sqrt(T/298) - 0.18`, limits 15 to 35 degC and 90 to 105 kPa.
pub fn sae_j1349_petrol(dry_pa: f64, intake_k: f64) -> Correction {
    let factor = 1.18 * (REFERENCE_DRY_PA / dry_pa) * (intake_k / REFERENCE_K).sqrt() - 0.18;
    let inside = (288.0..=308.15).contains(&intake_k) && (90e3..=105e3).contains(&dry_pa);
    Correction {
        factor,
        inside_limits: inside,
    }
}

/// DIN 70020: `(101.3/p) sqrt(T/293)`, p not dried.
pub fn din_70020(pressure_pa: f64, intake_k: f64) -> f64 {
    101_300.0 / pressure_pa * (intake_k / 293.0).sqrt()
}

/// A standard correction of measured power.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standard {
    /// ISO 1585, also UN R85.
    Iso1585,
    /// SAE J1349.
    SaeJ1349,
    /// DIN 70020.
    Din70020,
}

impl Standard {
    /// Every one.
    pub const ALL: [Self; 3] = [Self::Iso1585, Self::SaeJ1349, Self::Din70020];

    /// Name.
    pub fn name(self) -> &'static str {
        match self {
            Self::Iso1585 => "ISO 1585",
            Self::SaeJ1349 => "SAE J1349",
            Self::Din70020 => "DIN 70020",
        }
    }

    /// Where it holds, for people.
    pub fn limits(self, diesel: bool) -> &'static str {
        match self {
            Self::Din70020 => "it states none",
            _ if diesel => "factor 0.9 to 1.1",
            Self::Iso1585 => "factor 0.93 to 1.07",
            Self::SaeJ1349 => "15 to 35 degC and 90 to 105 kPa dry",
        }
    }

    /// The correction for an engine in the air of a day, with the temperature that is put into it
    /// [K]. Diesels are taken as turbocharged, where both international standards have one formula.
    pub fn correction(self, engine: &Engine, day: &Day, intake_k: f64) -> Correction {
        let dry_pa = dry_pressure_pa(day);
        match self {
            Self::Din70020 => Correction {
                factor: din_70020(day.pressure_pa, intake_k),
                inside_limits: true,
            },
            _ if engine.diesel => iso_1585_turbo_diesel(dry_pa, intake_k, MIDDLING_ENGINE_FACTOR),
            Self::Iso1585 => iso_1585_petrol(dry_pa, intake_k),
            Self::SaeJ1349 => sae_j1349_petrol(dry_pa, intake_k),
        }
    }
}

/// Engine factor of ISO 1585 in the middle of its range of 0.2 to 1.2 for usual fuelling (estimate).
const MIDDLING_ENGINE_FACTOR: f64 = 0.3;

/// Exponent on absolute charge temperature in the standard correction: 0.6 for spark ignition;
/// for turbocharged diesels 1.5 times a middling engine factor of 0.3 (ISO 1585).
pub fn standard_exponent(diesel: bool) -> f64 {
    if diesel {
        1.5 * MIDDLING_ENGINE_FACTOR
    } else {
        0.6
    }
}

/// Share of power lost to ignition retard with a charge at `valve_k` [K], by the sheet's rule
/// (common practice, no source; off unless the sheet switches it on), at most all of it.
pub fn retard_share(engine: &Engine, valve_k: f64) -> f64 {
    (engine.retard_share_per_k * (valve_k - engine.retard_above_k).max(0.0)).min(1.0)
}

/// Dry-air pressure of a day [Pa].
pub fn dry_pressure_pa(day: &Day) -> f64 {
    day.pressure_pa - humid_air::vapour_pressure(day.ambient_k, day.humidity)
}

/// Share of dry air in a day's air [mol/mol]: it stays through compression and warming.
pub fn dry_share(day: &Day) -> f64 {
    dry_pressure_pa(day) / day.pressure_pa
}

/// Power of this day's outside air relative to the reference day, by the standard correction.
pub fn day_power_ratio(engine: &Engine, day: &Day) -> f64 {
    let dry = dry_pressure_pa(day);
    if engine.diesel {
        1.0 / iso_1585_turbo_diesel(dry, day.ambient_k, MIDDLING_ENGINE_FACTOR).factor
    } else {
        1.0 / iso_1585_petrol(dry, day.ambient_k).factor
    }
}
