//! Control ticks: the stretches of time for which a run settles engine, fan and air.

use super::types::{Cycle, EngineState, Interval, PhaseKind, Point};

/// Longest tick [s].
const LONGEST_S: f64 = 5.0;
/// Parked with the engine off everything moves ever more slowly: seconds since the phase began, and the longest tick
/// from then on [s]. Each divides a minute, so that whole minutes remain ends of ticks.
const PARKED_S: [(f64, f64); 2] = [(300.0, 10.0), (600.0, 20.0)];
/// Times closer than this are the same [s].
const SAME_S: f64 = 1e-9;

impl Cycle {
    /// Consecutive intervals that cover the cycle and never cross a point or a phase edge: of at most 5 s, and up to
    /// 20 s when the car has been parked for ten minutes.
    pub fn ticks(&self) -> Vec<Interval> {
        let mut out: Vec<Interval> = Vec::new();
        for next in self.intervals(LONGEST_S) {
            match out.last_mut() {
                Some(last) if self.is_one_tick(last, &next) => {
                    (last.end_s, last.to) = (next.end_s, next.to);
                }
                _ => out.push(next),
            }
        }
        out
    }

    fn is_one_tick(&self, last: &Interval, next: &Interval) -> bool {
        let Some(phase) = self.phases.get(last.phase) else {
            return false;
        };
        let off = [last.from.engine, next.to.engine] == [EngineState::Off; 2];
        let parked = phase.kind == PhaseKind::KeyOff && last.phase == next.phase && off;
        let since_s = last.start_s - phase.start_s + SAME_S;
        let longest = PARKED_S.iter().rev().find(|(from_s, _)| since_s >= *from_s);
        let fits = longest.is_some_and(|(_, s)| next.end_s - last.start_s <= s + SAME_S);
        let points = phase.points();
        let from = points.partition_point(|p| p.time_s < next.start_s - SAME_S);
        let apart = |p: &Point| p.time_s > next.start_s + SAME_S;
        parked && fits && points.get(from).is_none_or(apart)
    }
}
