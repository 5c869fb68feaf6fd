//! Ticks: the intervals of a run, at whose ends a controller looks and decides.

use super::types::{Cycle, EngineState, Interval, Phase, PhaseKind, Point};

/// Longest tick [s].
const LONGEST_S: f64 = 5.0;
/// Most that the road speed changes in a tick [m/s]: power follows its cube, while drivers are straight lines between the
/// ends of a tick.
const MOST_CHANGE_M_S: f64 = 5.0;
/// Parked with the engine off everything moves ever more slowly: seconds since the phase began, and the longest tick
/// from then on [s]. Each divides a minute, so that whole minutes remain ends of ticks.
const PARKED_S: [(f64, f64); 3] = [(60.0, 10.0), (300.0, 20.0), (600.0, 30.0)];
/// The same at cruise, since the last point of the trace.
const CRUISE_S: [(f64, f64); 2] = [(3.0, 10.0), (30.0, 20.0)];
/// A car cruises from that speed on, and while it changes no more than that in a tick [m/s].
const CRUISE_M_S: (f64, f64) = (5.0, 1.0);
/// Times closer than this are the same [s].
const SAME_S: f64 = 1e-9;

impl Cycle {
    /// Consecutive intervals that cover the cycle and never cross a point or a phase edge: of at most 5 s and 5 m/s, up
    /// to 20 s at cruise, and up to 30 s when the car has been parked for ten minutes.
    pub fn ticks(&self) -> Vec<Interval> {
        let parts = |a: &Point, b: &Point| {
            let change_m_s = (b.speed_m_s - a.speed_m_s).abs();
            ((b.time_s - a.time_s) / LONGEST_S).max(change_m_s / MOST_CHANGE_M_S)
        };
        let points = self.phases.iter().map(|phase| phase.points().len()).sum();
        let mut out: Vec<Interval> = Vec::with_capacity(points);
        self.cut(parts, |next| match out.last_mut() {
            Some(last) if self.is_one_tick(last, &next) => {
                (last.end_s, last.to) = (next.end_s, next.to);
            }
            _ => out.push(next),
        });
        out
    }

    fn is_one_tick(&self, last: &Interval, next: &Interval) -> bool {
        let Some(phase) = self.phases.get(last.phase) else {
            return false;
        };
        let point = |time_s: f64| last_point_s(phase, time_s);
        if last.phase != next.phase || point(next.start_s) > last.start_s + SAME_S {
            return false;
        }
        let engines = [last.from.engine, next.to.engine];
        let speeds = [last.from.speed_m_s, next.to.speed_m_s];
        let cruises = speeds[0].min(speeds[1]) >= CRUISE_M_S.0
            && (speeds[0] - speeds[1]).abs() <= CRUISE_M_S.1;
        let (since_s, allowed): (f64, &[(f64, f64)]) =
            if phase.kind == PhaseKind::KeyOff && engines == [EngineState::Off; 2] {
                (last.start_s - phase.start_s, &PARKED_S)
            } else if engines == [EngineState::Running; 2] && cruises {
                (last.start_s - point(last.start_s), &CRUISE_S)
            } else {
                return false;
            };
        let longest = allowed.iter().rev().find(|a| since_s + SAME_S >= a.0);
        longest.is_some_and(|(_, s)| next.end_s - last.start_s <= s + SAME_S)
    }
}

/// The last point of a phase up to a time [s].
fn last_point_s(phase: &Phase, time_s: f64) -> f64 {
    let points = phase.points();
    let after = points.partition_point(|p| p.time_s <= time_s + SAME_S);
    points
        .get(after.saturating_sub(1))
        .map_or(phase.start_s, |p| p.time_s)
}
