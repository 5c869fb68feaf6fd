//! From rows of a log to points and phases.

use super::columns::{Column, Row};
use super::error::Problem;
use super::types::{EngineState, Load, Phase, PhaseKind, Point, ZERO_CELSIUS_K};

/// A stop of the engine this long, standing, is a key-off, not a stop at a light, s (estimate).
const KEY_OFF_S: f64 = 180.0;

/// Where the engine load of a log comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LoadSource {
    /// No load column: road load.
    Road,
    /// `power_kw`.
    Power,
    /// `maf_gs` with `rpm`.
    AirFlow,
    /// `map_kpa` with `rpm`.
    ManifoldPressure,
    /// `load_percent` with `rpm`.
    FullLoadShare,
}

pub(super) fn engine(row: &Row) -> EngineState {
    let stalled = row.get(Column::Rpm).is_some_and(|rpm| rpm < 1.0);
    let switched_off = row.get(Column::EngineOn).is_some_and(|on| on < 1.0);
    if stalled || switched_off {
        EngineState::Off
    } else {
        EngineState::Running
    }
}

pub(super) fn point(row: &Row, load: LoadSource, offset_s: f64) -> Point {
    let scaled = |column: Column, factor: f64| row.get(column).unwrap_or(0.0) * factor;
    let kelvin = |column: Column| row.get(column).map(|c| c + ZERO_CELSIUS_K);
    Point {
        time_s: scaled(Column::Time, 1.0) - offset_s,
        speed_m_s: scaled(Column::Speed, 1.0) / 3.6,
        grade: scaled(Column::Grade, 0.01),
        rpm: row.get(Column::Rpm),
        load: match load {
            LoadSource::Road => Load::Road,
            LoadSource::Power => Load::Power(scaled(Column::Power, 1e3)),
            LoadSource::AirFlow => Load::AirFlow(scaled(Column::Maf, 1e-3)),
            LoadSource::ManifoldPressure => Load::ManifoldPressure(scaled(Column::Map, 1e3)),
            LoadSource::FullLoadShare => Load::FullLoadShare(scaled(Column::LoadPercent, 0.01)),
        },
        coolant_k: kelvin(Column::Coolant),
        ambient_k: kelvin(Column::Ambient),
        wind_m_s: None,
        manifold_pa: match load {
            LoadSource::ManifoldPressure => None,
            _ => row.get(Column::Map).map(|kpa| kpa * 1e3),
        },
        filter_burning: false,
    }
}

/// Phases of one engine state each; a stretch between two rows has the state of its first row.
pub(super) fn phases(samples: &[(EngineState, Point)]) -> Result<Vec<Phase>, Vec<Problem>> {
    let mut phases = Vec::new();
    let mut parked = false;
    let mut first = 0;
    while let Some(&(state, _)) = samples.get(first).filter(|_| first + 1 < samples.len()) {
        let run = samples.iter().skip(first).take_while(|s| s.0 == state);
        let after = first + run.count();
        let last = after.min(samples.len() - 1);
        let mut points: Vec<Point> = samples[first..=last].iter().map(|s| s.1).collect();
        let held = samples[after - 1].1;
        if state == EngineState::Off {
            for p in &mut points {
                (p.rpm, p.load, p.manifold_pa) = (None, Load::Road, None);
            }
        } else if let Some(p) = points.last_mut().filter(|_| after < samples.len()) {
            // The edge row already shows the engine off; until then it ran as last logged.
            (p.rpm, p.load, p.manifold_pa) = (held.rpm, held.load, held.manifold_pa);
        }
        let length_s = samples[last].1.time_s - samples[first].1.time_s;
        let stands = points.iter().all(|p| p.speed_m_s < 0.1);
        let kind = match state {
            EngineState::Off if stands && length_s >= KEY_OFF_S => PhaseKind::KeyOff,
            EngineState::Off if stands => PhaseKind::Stand,
            EngineState::Running if parked => PhaseKind::Restart,
            EngineState::Running | EngineState::Off => PhaseKind::Drive,
        };
        parked = kind == PhaseKind::KeyOff;
        let label = match kind {
            PhaseKind::Drive => "drive",
            PhaseKind::Stand => "stand",
            PhaseKind::KeyOff => "key-off",
            PhaseKind::Restart => "restart",
        };
        let label = format!("{label} {}", phases.len() + 1);
        phases.push(Phase::new(&label, kind, state, false, points)?);
        first = last;
        if last + 1 >= samples.len() {
            break;
        }
    }
    Ok(phases)
}
