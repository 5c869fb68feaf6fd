//! Full-load torque against engine speed, from the two points that a data sheet gives.

use super::road::RAD_S_PER_RPM;
use crate::sheet::build::Engine;

/// Share of peak torque at idle speed: turbocharged or diesel, naturally aspirated (estimates).
const SHARE_AT_IDLE: (f64, f64) = (0.45, 0.70);

/// Full-load brake torque [N m] at `rpm`.
///
/// Rises to the peak torque at its engine speed, falls from there as the square of the distance
/// to the torque of rated power, and beyond that along lines of falling power. The shape is an
/// estimate; both given points are met exactly.
pub fn full_load_torque(engine: &Engine, rpm: f64) -> f64 {
    let at_power = engine.power_w / (engine.power_rpm * RAD_S_PER_RPM);
    let boosted = engine.diesel || at_power < 0.9 * engine.torque_nm;
    let low = if boosted {
        SHARE_AT_IDLE.0
    } else {
        SHARE_AT_IDLE.1
    };
    if rpm <= engine.torque_rpm {
        let x = ((rpm - engine.idle_rpm) / (engine.torque_rpm - engine.idle_rpm)).clamp(0.0, 1.0);
        return engine.torque_nm * (low + (1.0 - low) * x * (2.0 - x));
    }
    if rpm <= engine.power_rpm {
        let x = (rpm - engine.torque_rpm) / (engine.power_rpm - engine.torque_rpm);
        return engine.torque_nm + (at_power - engine.torque_nm) * x * x;
    }
    let over = rpm / engine.power_rpm;
    at_power / over * (1.0 - (over - 1.0)).max(0.0)
}
