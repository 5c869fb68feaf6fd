//! A drive that ends with the engine off, a soak, and a restart.

use crate::cycle::{
    Cycle, CycleError, CycleSpec, EngineState, Pattern, Phase, PhaseKind, PhaseSpec, Point, Start,
};
use crate::sheet::OptionSpec;

/// Braking at the end of a drive that stops in the middle of things [m/s2] (estimate).
const BRAKING_M_S2: f64 = 2.0;

/// How the car is parked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parking {
    /// Key-off [min].
    pub minutes: f64,
    /// Bonnet open.
    pub bonnet_open: bool,
    /// Wind [m/s]; the day's where none is given.
    pub wind_m_s: Option<f64>,
    /// Town driving after the restart [min]; 0 for none.
    pub restart_min: f64,
}

impl Default for Parking {
    fn default() -> Self {
        Self {
            minutes: 60.0,
            bonnet_open: false,
            wind_m_s: None,
            restart_min: 15.0,
        }
    }
}

/// Gentle running between the drive and key-off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Gentle {
    /// Driving at a steady 50 km/h.
    Drive,
    /// Idling where the car stands.
    Idle,
}

/// An option that lets the fan run on for up to `seconds` after key-off.
pub fn fan_run_on(seconds: f64) -> OptionSpec {
    OptionSpec {
        name: format!("fan runs on {seconds:.0} s"),
        set: [("bay.fan.run_on_s".to_owned(), toml::Value::Float(seconds))].into(),
        ..OptionSpec::default()
    }
}

/// A fast road, then a hill: parked at the top.
///
/// # Errors
/// None that a test has not seen.
pub fn usual_drive() -> Result<Cycle, CycleError> {
    let phase = |name: &str, speed_kmh: f64, minutes: f64, grade: Option<f64>| {
        let mut phase = PhaseSpec::new(PhaseKind::Drive);
        phase.name = name.into();
        phase.speed_kmh = Some(speed_kmh);
        phase.duration_min = Some(minutes);
        phase.grade_percent = grade;
        phase
    };
    CycleSpec {
        title: "8 min at 130 km/h, 5 min at 80 km/h up 7 %".into(),
        source: "own".into(),
        start: Start::Warm,
        phases: vec![
            phase("fast road", 130.0, 8.0, None),
            phase("hill", 80.0, 5.0, Some(7.0)),
        ],
    }
    .cycle("fast road and hill")
}

/// Points, the clock and the phases so far.
struct Builder {
    phases: Vec<Phase>,
    clock_s: f64,
    name: String,
}

impl Builder {
    fn push(
        &mut self,
        (name, kind): (&str, PhaseKind),
        bonnet_open: bool,
        points: &[(f64, f64)],
        wind_m_s: Option<f64>,
    ) -> Result<(), CycleError> {
        let engine = match kind {
            PhaseKind::KeyOff => EngineState::Off,
            _ => EngineState::Running,
        };
        let points: Vec<Point> = points
            .iter()
            .map(|&(t, v)| Point {
                wind_m_s,
                ..Point::road(self.clock_s + t, v)
            })
            .collect();
        let phase = Phase::new(name, kind, engine, bonnet_open, points)
            .map_err(|problems| CycleError::invalid(&self.name, problems))?;
        self.clock_s = phase.end_s;
        self.phases.push(phase);
        Ok(())
    }
}

/// The drive up to its first key-off, gentle minutes, the soak and the restart.
///
/// # Errors
/// A drive without a running engine, or a key-off that is too long for a cycle.
pub fn parked(
    drive: &Cycle,
    gentle: Option<(Gentle, f64)>,
    parking: &Parking,
) -> Result<Cycle, CycleError> {
    let before = drive
        .phases
        .iter()
        .take_while(|p| p.kind != PhaseKind::KeyOff);
    let phases: Vec<Phase> = before.cloned().collect();
    let mut built = Builder {
        clock_s: phases.last().map_or(0.0, |p| p.end_s),
        name: drive.name.clone(),
        phases,
    };
    let last = built.phases.last().and_then(|p| p.points().last());
    let mut speed = last.map_or(0.0, |p| p.speed_m_s);
    let drives = |v: f64, to: f64| ((to - v).abs() / BRAKING_M_S2).max(1.0);
    if let Some((Gentle::Drive, minutes)) = gentle.filter(|(_, m)| *m > 0.0) {
        let slow = 50.0 / 3.6;
        let join = drives(speed, slow);
        let points = [(0.0, speed), (join, slow), (join + 60.0 * minutes, slow)];
        built.push(("gentle", PhaseKind::Drive), false, &points, None)?;
        speed = slow;
    }
    if speed > 0.05 {
        let points = [(0.0, speed), (drives(speed, 0.0), 0.0)];
        built.push(("stop", PhaseKind::Drive), false, &points, None)?;
    }
    if let Some((Gentle::Idle, minutes)) = gentle.filter(|(_, m)| *m > 0.0) {
        let points = [(0.0, 0.0), (60.0 * minutes, 0.0)];
        built.push(("idle", PhaseKind::Stand), false, &points, None)?;
    }
    let still = [(0.0, 0.0), (60.0 * parking.minutes, 0.0)];
    let off = ("off", PhaseKind::KeyOff);
    built.push(off, parking.bonnet_open, &still, parking.wind_m_s)?;
    if parking.restart_min > 0.0 {
        let points = town(60.0 * parking.restart_min);
        built.push(("restart", PhaseKind::Restart), false, &points, None)?;
    }
    Cycle::new(
        &drive.name,
        &drive.title,
        &drive.source,
        drive.start,
        built.phases,
    )
}

/// The town pattern for so long [s, m/s].
fn town(seconds: f64) -> Vec<(f64, f64)> {
    let pattern = Pattern::Town.points();
    let period_s = pattern.last().map_or(1.0, |p| p[0]);
    let mut points = vec![(0.0, 0.0)];
    let mut lap_s = 0.0;
    loop {
        for pair in pattern.windows(2) {
            let (from, to) = (pair[0], pair[1]);
            let (start, end) = (lap_s + from[0], lap_s + to[0]);
            if end >= seconds {
                let share = (seconds - start) / (end - start);
                points.push((seconds, (from[1] + share * (to[1] - from[1])) / 3.6));
                return points;
            }
            points.push((end, to[1] / 3.6));
        }
        lap_s += period_s;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_drive_is_stopped_parked_and_started_again() {
        let drive = usual_drive().unwrap();
        let parking = Parking {
            minutes: 20.0,
            bonnet_open: true,
            wind_m_s: Some(1.0),
            restart_min: 5.0,
        };
        for gentle in [None, Some((Gentle::Drive, 2.0)), Some((Gentle::Idle, 2.0))] {
            let cycle = parked(&drive, gentle, &parking).unwrap();
            let off = cycle
                .phases
                .iter()
                .find(|p| p.kind == PhaseKind::KeyOff)
                .unwrap();
            assert!((off.end_s - off.start_s - 1200.0).abs() < 1e-9);
            assert!(off.bonnet_open && off.points().iter().all(|p| p.wind_m_s == Some(1.0)));
            let restart = cycle.phases.last().unwrap();
            assert_eq!(restart.kind, PhaseKind::Restart);
            assert!((restart.end_s - restart.start_s - 300.0).abs() < 1e-9);
            // no jump of speed anywhere
            let points: Vec<&Point> = cycle.phases.iter().flat_map(|p| p.points()).collect();
            assert!(points.windows(2).all(|w| {
                (w[1].speed_m_s - w[0].speed_m_s).abs() <= 12.0 * (w[1].time_s - w[0].time_s) + 1e-9
            }));
        }
    }

    #[test]
    fn a_drive_with_a_key_off_ends_there() {
        let drive = crate::cycle::builtin("soak-restart").unwrap();
        let cycle = parked(&drive, None, &Parking::default()).unwrap();
        let offs = cycle.phases.iter().filter(|p| p.kind == PhaseKind::KeyOff);
        assert_eq!(offs.count(), 1);
    }
}
