//! Points of driving at which numbers are taken.

use crate::cycle::{Builtin, CycleError, Demand, EngineState, Interval, Load};
use crate::sheet::build::Build;

/// Where on the map of driving a number is taken.
#[derive(
    Debug,
    Clone,
    Copy,
    PartialEq,
    Eq,
    Hash,
    PartialOrd,
    Ord,
    serde::Serialize,
    serde::Deserialize,
    schemars::JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum At {
    /// Steady 80 km/h on the flat.
    Country,
    /// Steady 130 km/h on the flat.
    Motorway,
    /// Steady 100 km/h up a long hill with a trailer: 60 % of full torque at 60 % of rated speed.
    Hill,
    /// Half a minute of full load after a motorway drive: mean of its last 15 s.
    FullLoad,
    /// Standing with the engine idling, mean of minutes 5 to 10 after a motorway drive.
    Idle,
    /// Parked, mean of minutes 5 to 10 after a motorway drive.
    KeyOff,
    /// The built-in town cycle, mean of its second half.
    Town,
    /// The built-in track session, mean of the second half of its laps.
    Track,
}

impl At {
    /// All points.
    pub const ALL: [Self; 8] = [
        Self::Country,
        Self::Motorway,
        Self::Hill,
        Self::FullLoad,
        Self::Idle,
        Self::KeyOff,
        Self::Town,
        Self::Track,
    ];

    /// Words for it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Country => "steady 80 km/h",
            Self::Motorway => "steady 130 km/h",
            Self::Hill => "steady 100 km/h uphill with a trailer",
            Self::FullLoad => "half a minute of full load after a motorway drive",
            Self::Idle => "idling, 5 to 10 min after a motorway drive",
            Self::KeyOff => "parked, 5 to 10 min after a motorway drive",
            Self::Town => "town, 10 to 20 min after a country drive",
            Self::Track => "track, second half of eight laps",
        }
    }

    /// As written in a file.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Country => "country",
            Self::Motorway => "motorway",
            Self::Hill => "hill",
            Self::FullLoad => "full-load",
            Self::Idle => "idle",
            Self::KeyOff => "key-off",
            Self::Town => "town",
            Self::Track => "track",
        }
    }

    pub(super) fn steady_demand(self, build: &Build) -> Demand {
        let (speed_kmh, load) = match self {
            Self::Country | Self::Town | Self::Track => (80.0, Load::Road),
            Self::Hill => (100.0, Load::FullLoadShare(0.6)),
            Self::Motorway | Self::FullLoad | Self::Idle | Self::KeyOff => (130.0, Load::Road),
        };
        Demand {
            speed_m_s: speed_kmh / 3.6,
            acceleration_m_s2: 0.0,
            grade: 0.0,
            rpm: (self == Self::Hill).then_some(0.6 * build.engine.power_rpm),
            load,
            engine: EngineState::Running,
            bonnet_open: false,
            coolant_k: None,
            ambient_k: None,
            wind_m_s: None,
            manifold_pa: None,
            filter_burning: false,
        }
    }

    /// What follows the steady drive.
    pub(super) fn afterwards(self, build: &Build) -> Result<Option<After>, CycleError> {
        let drive = self.steady_demand(build);
        let stand = |engine| {
            let demand = Demand {
                speed_m_s: 0.0,
                engine,
                ..drive
            };
            After::held(demand, 600.0, 300.0, 5.0)
        };
        Ok(match self {
            Self::Country | Self::Motorway | Self::Hill => None,
            Self::Idle => Some(stand(EngineState::Running)),
            Self::KeyOff => Some(stand(EngineState::Off)),
            Self::FullLoad => {
                let demand = Demand {
                    rpm: Some(0.9 * build.engine.power_rpm),
                    load: Load::FullLoadShare(1.0),
                    ..drive
                };
                Some(After::held(demand, 30.0, 15.0, 1.0))
            }
            Self::Town => After::driven(Builtin::Town, "town")?,
            Self::Track => After::driven(Builtin::Track, "laps")?,
        })
    }
}

/// What follows a steady drive, and from when on means are taken.
pub(super) struct After {
    pub intervals: Vec<Interval>,
    pub mean_from_s: f64,
}

impl After {
    /// One demand for a while, in ticks; mean over its last part.
    fn held(demand: Demand, lasts_s: f64, mean_s: f64, tick_s: f64) -> Self {
        let count = (lasts_s / tick_s).round() as usize;
        let interval = |i: usize| Interval {
            start_s: i as f64 * tick_s,
            end_s: (i + 1) as f64 * tick_s,
            phase: 0,
            from: demand,
            to: demand,
        };
        Self {
            intervals: (0..count).map(interval).collect(),
            mean_from_s: lasts_s - mean_s,
        }
    }

    /// A cycle up to the end of a phase; mean over that phase's second half.
    fn driven(cycle: Builtin, phase: &str) -> Result<Option<Self>, CycleError> {
        let cycle = cycle.cycle()?;
        let Some(own) = cycle.phases.iter().find(|p| p.name == phase) else {
            return Ok(None);
        };
        let mut intervals = cycle.ticks();
        intervals.retain(|i| i.end_s <= own.end_s);
        Ok(Some(Self {
            intervals,
            mean_from_s: 0.5 * (own.start_s + own.end_s),
        }))
    }
}
