//! Situations of a hot day: short drives, and the stretch of each that is looked at.

use crate::cycle::{Cycle, CycleError, CycleSpec, Pattern, PhaseKind, PhaseSpec, Start};

/// Longest key-off before a restart [min].
const LONGEST_SOAK_MIN: f64 = 600.0;

/// A situation to be in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Situation {
    /// 120 km/h for 8 min; the last minute.
    Motorway,
    /// 70 km/h up 6 % for 5 min; the last minute.
    Hill,
    /// Third lap of a track session.
    Track,
    /// Ten minutes of standing after the motorway; the last minute.
    Queue,
    /// Off so long after a drive, then town; the first half minute.
    Restart {
        /// Key-off [min].
        minutes: f64,
    },
}

/// A situation's drive and the stretch that is looked at.
#[derive(Debug, Clone)]
pub struct Course {
    /// Drive.
    pub cycle: Cycle,
    /// Start and end of the stretch [s].
    pub window_s: (f64, f64),
}

impl Situation {
    /// One of each.
    pub const USUAL: [Self; 5] = [
        Self::Motorway,
        Self::Hill,
        Self::Track,
        Self::Queue,
        Self::Restart { minutes: 10.0 },
    ];

    /// The situation that a word names: `motorway`, `hill`, `track`, `queue`, `restart:MINUTES`.
    ///
    /// ```
    /// use baysoak::study::hot_day::Situation;
    /// assert_eq!(Situation::parse("restart:25"), Some(Situation::Restart { minutes: 25.0 }));
    /// assert_eq!(Situation::parse("restart:never"), None);
    /// ```
    pub fn parse(word: &str) -> Option<Self> {
        if let Some(minutes) = word.strip_prefix("restart:") {
            let minutes = minutes.parse().ok()?;
            let known = (1.0..=LONGEST_SOAK_MIN).contains(&minutes);
            return known.then_some(Self::Restart { minutes });
        }
        Self::USUAL.into_iter().find(|s| s.word() == word)
    }

    fn word(self) -> &'static str {
        match self {
            Self::Motorway => "motorway",
            Self::Hill => "hill",
            Self::Track => "track",
            Self::Queue => "queue",
            Self::Restart { .. } => "restart",
        }
    }

    /// Name in results.
    pub fn name(self) -> String {
        match self {
            Self::Restart { minutes } => format!("restart after {minutes} min"),
            other => other.word().to_owned(),
        }
    }

    /// What is driven and looked at, for people.
    pub fn describe(self) -> String {
        match self {
            Self::Motorway => "120 km/h for 8 min, last minute".into(),
            Self::Hill => "70 km/h up 6 % for 5 min, last minute".into(),
            Self::Track => "third lap after the out lap, mean".into(),
            Self::Queue => "standing 10 min after the motorway, last minute".into(),
            Self::Restart { minutes } => {
                format!("motorway, {minutes} min off, first half minute of town")
            }
        }
    }

    /// The drive.
    ///
    /// # Errors
    /// A key-off that is too long for a cycle.
    pub fn course(self) -> Result<Course, CycleError> {
        let fast = || drive("motorway", 120.0, 4.0);
        let (phases, looked_at, seconds, at_end) = match self {
            Self::Motorway => (vec![drive("motorway", 120.0, 8.0)], 0, 60.0, true),
            Self::Hill => {
                let mut hill = drive("hill", 70.0, 5.0);
                hill.grade_percent = Some(6.0);
                (vec![hill], 0, 60.0, true)
            }
            Self::Track => {
                let mut laps = PhaseSpec::new(PhaseKind::Drive);
                laps.name = "laps".into();
                laps.pattern = Some(Pattern::TrackLap);
                laps.laps = Some(3);
                (vec![drive("out lap", 90.0, 1.0), laps], 1, 120.0, true)
            }
            Self::Queue => {
                let mut stand = PhaseSpec::new(PhaseKind::Stand);
                stand.name = "queue".into();
                stand.duration_min = Some(10.0);
                (vec![fast(), stand], 1, 60.0, true)
            }
            Self::Restart { minutes } => {
                let mut off = PhaseSpec::new(PhaseKind::KeyOff);
                off.name = "off".into();
                off.duration_min = Some(minutes);
                let mut town = PhaseSpec::new(PhaseKind::Restart);
                town.name = "restart".into();
                town.pattern = Some(Pattern::Town);
                town.duration_s = Some(30.0);
                (vec![fast(), off, town], 2, 30.0, false)
            }
        };
        let cycle = CycleSpec {
            title: self.describe(),
            source: "own".into(),
            start: Start::Warm,
            phases,
        }
        .cycle(&self.name())?;
        let phase = &cycle.phases[looked_at];
        let window_s = if at_end {
            (phase.end_s - seconds, phase.end_s)
        } else {
            (phase.start_s, phase.start_s + seconds)
        };
        Ok(Course { cycle, window_s })
    }
}

/// A drive at a steady speed.
fn drive(name: &str, speed_kmh: f64, minutes: f64) -> PhaseSpec {
    let mut phase = PhaseSpec::new(PhaseKind::Drive);
    phase.name = name.into();
    phase.speed_kmh = Some(speed_kmh);
    phase.duration_min = Some(minutes);
    phase
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_situation_has_its_drive_and_stretch() {
        for situation in Situation::USUAL {
            let course = situation.course().unwrap();
            let (from, to) = course.window_s;
            assert!(0.0 <= from && from < to && to <= course.cycle.duration_s());
            assert!(!situation.describe().is_empty());
        }
        let long = Situation::Restart {
            minutes: LONGEST_SOAK_MIN,
        };
        assert!(long.course().is_ok());
    }

    #[test]
    fn words_lead_back_to_situations() {
        for situation in &Situation::USUAL[..4] {
            assert_eq!(Situation::parse(&situation.name()), Some(*situation));
        }
        assert_eq!(Situation::parse("restart"), Some(Situation::USUAL[4]));
        for bad in [
            "",
            "track ",
            "restart:",
            "restart:0",
            "restart:NaN",
            "restart:601",
        ] {
            assert_eq!(Situation::parse(bad), None, "{bad}");
        }
    }
}
