//! Cycles that come with the program: two standard traces and a set of our own.

use super::error::CycleError;
use super::log::read_csv;
use super::spec::CycleSpec;
use super::types::{Cycle, EngineState, Phase, PhaseKind, Point, Start};

/// A built-in cycle.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Builtin {
    /// A day with everything: cold start, town, motorway, hill, jam, queue, track, soak, hot restart.
    Day,
    /// WLTC class 3b.
    WltcClass3b,
    /// NEDC.
    Nedc,
    /// Idle from a cold start.
    IdleFromCold,
    /// Steady motorway speed.
    Motorway,
    /// Town.
    Town,
    /// Drive, key-off, restart.
    SoakRestart,
    /// Motorway, then idling in a queue.
    Queue,
    /// Track laps.
    Track,
}

/// What a list of cycles shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Listed {
    /// Name, as [`builtin`] takes it.
    pub name: &'static str,
    /// Title.
    pub title: String,
    /// Where it comes from.
    pub source: String,
    /// Length, s.
    pub duration_s: f64,
}

/// Where a built-in cycle is written down.
enum Text {
    Toml(&'static str),
    Trace(&'static Trace),
}

/// A standard trace and its parts, each ending at a time in s.
struct Trace {
    title: &'static str,
    source: &'static str,
    csv: &'static str,
    parts: &'static [(&'static str, f64)],
}

const WLTC: Trace = Trace {
    title: "WLTC class 3b",
    source: "UN GTR 15 annex 1; Reg. (EU) 2017/1151 annex XXI sub-annex 1",
    csv: include_str!("../../data/cycles/wltc-class3b.csv"),
    parts: &[
        ("low", 589.0),
        ("medium", 1022.0),
        ("high", 1477.0),
        ("extra high", 1800.0),
    ],
};

const NEDC: Trace = Trace {
    title: "NEDC",
    source: "UN R83 annex 4a (type I test)",
    csv: include_str!("../../data/cycles/nedc.csv"),
    parts: &[("urban", 780.0), ("extra-urban", 1180.0)],
};

impl Builtin {
    /// All built-in cycles, in the order of lists.
    pub const ALL: [Self; 9] = [
        Self::Day,
        Self::WltcClass3b,
        Self::Nedc,
        Self::IdleFromCold,
        Self::Motorway,
        Self::Town,
        Self::SoakRestart,
        Self::Queue,
        Self::Track,
    ];

    /// Name, as on the command line.
    pub fn name(self) -> &'static str {
        match self {
            Self::Day => "day",
            Self::WltcClass3b => "wltc-class3b",
            Self::Nedc => "nedc",
            Self::IdleFromCold => "idle-from-cold",
            Self::Motorway => "motorway",
            Self::Town => "town",
            Self::SoakRestart => "soak-restart",
            Self::Queue => "queue",
            Self::Track => "track",
        }
    }

    fn text(self) -> Text {
        match self {
            Self::Day => Text::Toml(include_str!("../../data/cycles/day.toml")),
            Self::WltcClass3b => Text::Trace(&WLTC),
            Self::Nedc => Text::Trace(&NEDC),
            Self::IdleFromCold => Text::Toml(include_str!("../../data/cycles/idle-from-cold.toml")),
            Self::Motorway => Text::Toml(include_str!("../../data/cycles/motorway.toml")),
            Self::Town => Text::Toml(include_str!("../../data/cycles/town.toml")),
            Self::SoakRestart => Text::Toml(include_str!("../../data/cycles/soak-restart.toml")),
            Self::Queue => Text::Toml(include_str!("../../data/cycles/queue.toml")),
            Self::Track => Text::Toml(include_str!("../../data/cycles/track.toml")),
        }
    }

    /// The cycle itself.
    ///
    /// # Errors
    /// None for the data the program is built with; a change to `data/cycles` that breaks a file shows here.
    pub fn cycle(self) -> Result<Cycle, CycleError> {
        match self.text() {
            Text::Toml(text) => {
                let spec: CycleSpec = toml::from_str(text).map_err(|source| CycleError::Parse {
                    name: self.name().to_owned(),
                    source: Box::new(source),
                })?;
                spec.cycle(self.name())
            }
            Text::Trace(trace) => trace.cycle(self.name()),
        }
    }
}

impl Trace {
    fn cycle(&self, name: &str) -> Result<Cycle, CycleError> {
        let (whole, _) = read_csv(self.csv.as_bytes(), name)?;
        let points: Vec<Point> = whole
            .phases
            .iter()
            .flat_map(|p| p.points())
            .copied()
            .collect();
        let mut phases = Vec::new();
        let mut start_s = 0.0;
        for &(label, end_s) in self.parts {
            let part = points
                .iter()
                .filter(|p| (start_s..=end_s).contains(&p.time_s))
                .copied()
                .collect();
            let phase = Phase::new(label, PhaseKind::Drive, EngineState::Running, false, part);
            phases.push(phase.map_err(|problems| CycleError::invalid(name, problems))?);
            start_s = end_s;
        }
        Cycle::new(name, self.title, self.source, Start::Cold, phases)
    }
}

/// The built-in cycle of this name.
///
/// # Errors
/// No cycle has this name; the error lists the names nearest to it.
pub fn builtin(name: &str) -> Result<Cycle, CycleError> {
    match Builtin::ALL.into_iter().find(|b| b.name() == name) {
        Some(found) => found.cycle(),
        None => Err(CycleError::UnknownName {
            name: name.to_owned(),
            near: near(name),
        }),
    }
}

/// Name, title, source and duration of all built-in cycles.
///
/// # Errors
/// As [`Builtin::cycle`].
pub fn builtins() -> Result<Vec<Listed>, CycleError> {
    let listed = Builtin::ALL.into_iter().map(|builtin| {
        let cycle = builtin.cycle()?;
        Ok(Listed {
            name: builtin.name(),
            duration_s: cycle.duration_s(),
            title: cycle.title,
            source: cycle.source,
        })
    });
    listed.collect()
}

/// Up to three names that look like `name`, best first; all names if none does.
fn near(name: &str) -> Vec<&'static str> {
    let lower = name.to_lowercase();
    let score = |b: Builtin| (strsim::jaro_winkler(&lower, b.name()), b.name());
    let mut scored: Vec<(f64, &'static str)> = Builtin::ALL.into_iter().map(score).collect();
    scored.sort_by(|a, b| b.0.total_cmp(&a.0));
    let close: Vec<&'static str> = scored
        .iter()
        .filter(|(score, _)| *score > 0.75)
        .map(|(_, name)| *name)
        .take(3)
        .collect();
    if close.is_empty() {
        Builtin::ALL.into_iter().map(Builtin::name).collect()
    } else {
        close
    }
}
