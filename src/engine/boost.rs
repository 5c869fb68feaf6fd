//! Boost control: holds the manifold pressure of the rating, as far as the compressor can.

use super::operating::RATED_AMBIENT_PA;
use crate::sheet::build::Build;

/// Manifold pressure that control and compressor give at full load.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Manifold {
    /// Manifold pressure [Pa].
    pub pressure_pa: f64,
    /// What it would be without a turbocharger: outside air less the intake's loss [Pa].
    pub unboosted_pa: f64,
    /// Boost over that in the air of the rating [Pa]; 0 without a turbocharger.
    pub rated_boost_pa: f64,
    /// The compressor gives out before the pressure of the rating is reached.
    pub compressor_limited: bool,
}

/// Manifold pressure at full load at `rpm` in the air of the build's day.
///
/// The control holds absolute manifold pressure: in thin air the pressure ratio rises until the
/// compressor has no more. Losses go with the square of engine speed; boost does below the speed
/// from which all of it is there (estimates).
pub fn manifold(build: &Build, rpm: f64) -> Manifold {
    let share = (rpm / build.engine.power_rpm).min(1.0);
    let loss_pa = build.intake.pressure_loss_pa * share * share;
    let unboosted_pa = build.day.pressure_pa - loss_pa;
    let Some(turbo) = &build.turbo else {
        return Manifold {
            pressure_pa: unboosted_pa,
            unboosted_pa,
            rated_boost_pa: 0.0,
            compressor_limited: false,
        };
    };
    let spool = (rpm / turbo.boost_rpm).min(1.0);
    let rated_boost_pa = turbo.boost_pa * spool * spool;
    let cooler = build.intake.cooler.as_ref();
    let cooler_pa = cooler.map_or(0.0, |c| c.pressure_loss_pa * share * share);
    let wanted_pa = RATED_AMBIENT_PA - loss_pa + rated_boost_pa;
    let most_pa = turbo.most_pressure_ratio * unboosted_pa - cooler_pa;
    Manifold {
        pressure_pa: wanted_pa.min(most_pa).max(unboosted_pa),
        unboosted_pa,
        rated_boost_pa,
        compressor_limited: most_pa < wanted_pa,
    }
}
