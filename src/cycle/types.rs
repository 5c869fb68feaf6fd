//! Points, phases, intervals and the cycle itself. SI throughout: m/s, s, K, Pa, W.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::error::{CycleError, Problem};

/// Longest cycle, s: a day. Estimate; keeps the number of intervals in bounds.
pub(crate) const LONGEST_CYCLE_S: f64 = 86_400.0;
/// Shortest control tick `intervals` will honour, s, for the same reason.
const SHORTEST_TICK_S: f64 = 0.05;
/// Fastest speed, m/s (450 km/h). Estimate: above any road car.
pub(crate) const FASTEST_M_S: f64 = 125.0;
/// Fastest engine speed, 1/min. Estimate: above any road or race engine.
pub(crate) const FASTEST_RPM: f64 = 20_000.0;
/// Zero degrees Celsius, K (definition of the Celsius scale, SI brochure 2019).
pub(crate) use crate::constants::ZERO_CELSIUS_K;

/// What drives the engine at a point. Without meaning while the engine is off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Load {
    /// Road load from speed, acceleration and grade.
    Road,
    /// Brake power asked for, W.
    Power(f64),
    /// Manifold absolute pressure, Pa.
    ManifoldPressure(f64),
    /// Air mass flow, kg/s (logged).
    AirFlow(f64),
    /// Share of the full-load torque at this rpm, 0 to 1.
    FullLoadShare(f64),
}

impl Load {
    /// Value a share `x` of the way to `other`; both must be of one variant, else `self` is held.
    fn towards(self, other: Self, x: f64) -> Self {
        match (self, other) {
            (Self::Power(a), Self::Power(b)) => Self::Power(mix(a, b, x)),
            (Self::ManifoldPressure(a), Self::ManifoldPressure(b)) => {
                Self::ManifoldPressure(mix(a, b, x))
            }
            (Self::AirFlow(a), Self::AirFlow(b)) => Self::AirFlow(mix(a, b, x)),
            (Self::FullLoadShare(a), Self::FullLoadShare(b)) => Self::FullLoadShare(mix(a, b, x)),
            _ => self,
        }
    }

    fn same_kind(&self, other: &Self) -> bool {
        std::mem::discriminant(self) == std::mem::discriminant(other)
    }

    /// The number, its plausible range and its unit.
    fn checked(&self) -> Option<(f64, f64, f64, &'static str)> {
        match *self {
            Self::Road => None,
            Self::Power(w) => Some((w, -2e5, 1.5e6, "W")),
            Self::ManifoldPressure(pa) => Some((pa, 1e4, 6e5, "Pa")),
            Self::AirFlow(kg_s) => Some((kg_s, 0.0, 2.0, "kg/s")),
            Self::FullLoadShare(share) => Some((share, 0.0, 1.0, "share of full load")),
        }
    }
}

/// Whether the engine turns.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EngineState {
    /// Running.
    Running,
    /// Stopped: no exhaust, no intake air.
    Off,
}

/// What a phase is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum PhaseKind {
    /// Driving.
    Drive,
    /// Standing, engine running (or stopped for a moment at a light).
    Stand,
    /// Parked with the engine off: the soak.
    KeyOff,
    /// The drive or idle after a key-off.
    Restart,
}

impl PhaseKind {
    /// Word for it in sheets and reports.
    pub fn name(self) -> &'static str {
        match self {
            Self::Drive => "drive",
            Self::Stand => "stand",
            Self::KeyOff => "key-off",
            Self::Restart => "restart",
        }
    }
}

/// One point of a trace.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Time from the start of the cycle, s.
    pub time_s: f64,
    /// Road speed, m/s.
    pub speed_m_s: f64,
    /// Grade, rise over run.
    pub grade: f64,
    /// Engine speed, 1/min, where the cycle gives it.
    pub rpm: Option<f64>,
    /// Engine load.
    pub load: Load,
    /// Coolant temperature, K, where logged.
    pub coolant_k: Option<f64>,
    /// Ambient temperature, K, where logged.
    pub ambient_k: Option<f64>,
    /// Head wind, m/s, where given.
    pub wind_m_s: Option<f64>,
    /// Manifold pressure, Pa, where logged beside another measure of load.
    pub manifold_pa: Option<f64>,
    /// A diesel burns its particulate filter clean from here on: late injection heats the exhaust.
    pub filter_burning: bool,
}

impl Point {
    /// A point of a speed trace on the flat, under road load.
    pub fn road(time_s: f64, speed_m_s: f64) -> Self {
        Self {
            time_s,
            speed_m_s,
            grade: 0.0,
            rpm: None,
            load: Load::Road,
            coolant_k: None,
            ambient_k: None,
            wind_m_s: None,
            manifold_pa: None,
            filter_burning: false,
        }
    }

    /// The point at `time_s` on the straight line from `self` to `next`.
    pub(crate) fn between(&self, next: &Self, time_s: f64) -> Self {
        let span = next.time_s - self.time_s;
        let x = if span > 0.0 {
            ((time_s - self.time_s) / span).clamp(0.0, 1.0)
        } else {
            0.0
        };
        let both = |a: Option<f64>, b: Option<f64>| Some(mix(a?, b?, x));
        Self {
            time_s,
            speed_m_s: mix(self.speed_m_s, next.speed_m_s, x),
            grade: mix(self.grade, next.grade, x),
            rpm: both(self.rpm, next.rpm),
            load: self.load.towards(next.load, x),
            coolant_k: both(self.coolant_k, next.coolant_k),
            ambient_k: both(self.ambient_k, next.ambient_k),
            wind_m_s: both(self.wind_m_s, next.wind_m_s),
            manifold_pa: both(self.manifold_pa, next.manifold_pa),
            filter_burning: self.filter_burning,
        }
    }
}

/// Exact at both ends, unlike `a + x (b - a)`.
fn mix(a: f64, b: f64, x: f64) -> f64 {
    a * (1.0 - x) + b * x
}

/// A stretch of the cycle with one engine state.
#[derive(Debug, Clone, PartialEq)]
pub struct Phase {
    /// Name for reports.
    pub name: String,
    /// What it is for.
    pub kind: PhaseKind,
    /// Start, s.
    pub start_s: f64,
    /// End, s.
    pub end_s: f64,
    /// Engine running or off.
    pub engine: EngineState,
    /// Bonnet open.
    pub bonnet_open: bool,
    points: Vec<Point>,
}

impl Phase {
    /// A phase through these points; it starts at the first and ends at the last.
    ///
    /// # Errors
    /// All problems: fewer than two points, time that doesn't rise, numbers that aren't finite or plausible,
    /// neighbours with loads of different kinds, values given at some points only.
    pub fn new(
        name: &str,
        kind: PhaseKind,
        engine: EngineState,
        bonnet_open: bool,
        points: Vec<Point>,
    ) -> Result<Self, Vec<Problem>> {
        let problems = point_problems(name, &points);
        match (problems.is_empty(), points.first(), points.last()) {
            (true, Some(first), Some(last)) => Ok(Self {
                name: name.to_owned(),
                kind,
                start_s: first.time_s,
                end_s: last.time_s,
                engine,
                bonnet_open,
                points,
            }),
            _ => Err(problems),
        }
    }

    /// The points, in order of time.
    pub fn points(&self) -> &[Point] {
        &self.points
    }

    /// Distance driven, m: the trace integrated, trapezium by trapezium (exact for straight pieces).
    pub fn distance_m(&self) -> f64 {
        self.points
            .windows(2)
            .map(|w| (w[1].time_s - w[0].time_s) * (w[0].speed_m_s + w[1].speed_m_s) / 2.0)
            .sum()
    }

    fn demand(&self, point: &Point, acceleration_m_s2: f64) -> Demand {
        Demand {
            speed_m_s: point.speed_m_s,
            acceleration_m_s2,
            grade: point.grade,
            rpm: point.rpm,
            load: point.load,
            engine: self.engine,
            bonnet_open: self.bonnet_open,
            coolant_k: point.coolant_k,
            ambient_k: point.ambient_k,
            wind_m_s: point.wind_m_s,
            manifold_pa: point.manifold_pa,
            filter_burning: point.filter_burning,
        }
    }
}

fn point_problems(phase: &str, points: &[Point]) -> Vec<Problem> {
    let mut problems = Vec::new();
    if points.len() < 2 {
        problems.push(Problem::new(
            format!("phase {phase}, points"),
            points.len(),
            "at least 2 needed",
            "",
        ));
    }
    for (i, p) in points.iter().enumerate() {
        let mut check = |what: &str, value: f64, low: f64, high: f64, unit: &str| {
            if !(low..=high).contains(&value) {
                problems.push(Problem::new(
                    format!("phase {phase}, point {}, {what}", i + 1),
                    value,
                    format!("outside {low} to {high} {unit}"),
                    "",
                ));
            }
        };
        check("time_s", p.time_s, 0.0, LONGEST_CYCLE_S, "s");
        check("speed_m_s", p.speed_m_s, 0.0, FASTEST_M_S, "m/s");
        check("grade", p.grade, -0.5, 0.5, "rise over run");
        check("rpm", p.rpm.unwrap_or(0.0), 0.0, FASTEST_RPM, "1/min");
        check("coolant_k", p.coolant_k.unwrap_or(300.0), 200.0, 430.0, "K");
        check("ambient_k", p.ambient_k.unwrap_or(300.0), 200.0, 340.0, "K");
        check("wind_m_s", p.wind_m_s.unwrap_or(0.0), -50.0, 50.0, "m/s");
        check("manifold_pa", p.manifold_pa.unwrap_or(1e5), 1e4, 6e5, "Pa");
        if let Some((value, low, high, unit)) = p.load.checked() {
            check("load", value, low, high, unit);
        }
        let Some(before) = i.checked_sub(1).and_then(|j| points.get(j)) else {
            continue;
        };
        if p.time_s <= before.time_s {
            problems.push(Problem::new(
                format!("phase {phase}, point {}, time_s", i + 1),
                p.time_s,
                format!("does not rise after {}", before.time_s),
                "",
            ));
        }
        if !p.load.same_kind(&before.load) {
            problems.push(Problem::new(
                format!("phase {phase}, point {}, load", i + 1),
                format!("{:?}", p.load),
                format!("not the kind of the point before, {:?}", before.load),
                "start a new phase where the kind of load changes",
            ));
        }
        let known = |q: &Point| {
            [q.rpm, q.coolant_k, q.ambient_k, q.wind_m_s, q.manifold_pa]
                .map(|value: Option<f64>| value.is_some())
        };
        if known(p) != known(before) {
            problems.push(Problem::new(
                format!("phase {phase}, point {}", i + 1),
                "some values",
                "rpm, coolant, ambient, wind and manifold pressure must be given at all points of a phase or at none",
                "",
            ));
        }
    }
    problems
}

/// State of the car when the cycle starts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Start {
    /// Everything at ambient temperature.
    #[default]
    Cold,
    /// Steady state of a drive at 80 km/h on the first point's grade and ambient.
    Warm,
}

/// What the car is asked to do at one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Demand {
    /// Road speed, m/s.
    pub speed_m_s: f64,
    /// Slope of the speed trace in the interval, m/s2.
    pub acceleration_m_s2: f64,
    /// Grade, rise over run.
    pub grade: f64,
    /// Engine speed, 1/min, where given.
    pub rpm: Option<f64>,
    /// Engine load.
    pub load: Load,
    /// Engine running or off.
    pub engine: EngineState,
    /// Bonnet open.
    pub bonnet_open: bool,
    /// Coolant temperature, K, where logged.
    pub coolant_k: Option<f64>,
    /// Ambient temperature, K, where logged.
    pub ambient_k: Option<f64>,
    /// Head wind, m/s, where given.
    pub wind_m_s: Option<f64>,
    /// Manifold pressure, Pa, where logged beside another measure of load.
    pub manifold_pa: Option<f64>,
    /// A diesel burns its particulate filter clean from here on: late injection heats the exhaust.
    pub filter_burning: bool,
}

/// A stretch of time in which every demand is a straight line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Start, s.
    pub start_s: f64,
    /// End, s.
    pub end_s: f64,
    /// Index into `Cycle::phases`.
    pub phase: usize,
    /// Demand just after the start.
    pub from: Demand,
    /// Demand just before the end.
    pub to: Demand,
}

/// A drive cycle.
#[derive(Debug, Clone, PartialEq)]
pub struct Cycle {
    /// Short name, as on the command line.
    pub name: String,
    /// Title for reports.
    pub title: String,
    /// Where it comes from.
    pub source: String,
    /// State at the start.
    pub start: Start,
    /// Phases, each starting where the one before ends.
    pub phases: Vec<Phase>,
}

impl Cycle {
    /// A cycle of phases that follow each other without gap, from 0 s.
    ///
    /// # Errors
    /// No phase, a first phase that doesn't start at 0 s, or a gap or overlap between phases.
    pub fn new(
        name: &str,
        title: &str,
        source: &str,
        start: Start,
        phases: Vec<Phase>,
    ) -> Result<Self, CycleError> {
        let mut problems = Vec::new();
        if phases.is_empty() {
            problems.push(Problem::new("phases", 0, "at least 1 needed", ""));
        }
        let mut end_s = 0.0;
        for phase in &phases {
            // Exact: the solver's clock has no room for a gap.
            if phase.start_s.total_cmp(&end_s).is_ne() {
                problems.push(Problem::new(
                    format!("phase {}, start_s", phase.name),
                    phase.start_s,
                    format!("must be {end_s}, where the phase before ends"),
                    "",
                ));
            }
            end_s = phase.end_s;
        }
        if !problems.is_empty() {
            return Err(CycleError::invalid(name, problems));
        }
        Ok(Self {
            name: name.to_owned(),
            title: title.to_owned(),
            source: source.to_owned(),
            start,
            phases,
        })
    }

    /// Length of the cycle, s.
    pub fn duration_s(&self) -> f64 {
        self.phases.last().map_or(0.0, |p| p.end_s)
    }

    /// Distance driven, m.
    pub fn distance_m(&self) -> f64 {
        self.phases.iter().map(Phase::distance_m).sum()
    }

    /// Highest speed, m/s.
    pub fn max_speed_m_s(&self) -> f64 {
        let speeds = self.phases.iter().flat_map(|p| &p.points);
        speeds.map(|p| p.speed_m_s).fold(0.0, f64::max)
    }

    /// Demand at a time, s. At a point it is the value just after it, at the end of the cycle the value just before;
    /// times outside are moved to the nearest end. `None` only for a cycle without phases.
    pub fn at(&self, time_s: f64) -> Option<Demand> {
        let index = self.phases.partition_point(|p| p.end_s <= time_s);
        let phase = self.phases.get(index).or(self.phases.last())?;
        let last = phase.points.len().checked_sub(2)?;
        let next = phase.points.partition_point(|p| p.time_s <= time_s);
        let i = next.saturating_sub(1).min(last);
        let (a, b) = (phase.points.get(i)?, phase.points.get(i + 1)?);
        let point = a.between(b, time_s.clamp(a.time_s, b.time_s));
        Some(phase.demand(&point, slope(a, b)))
    }

    /// Consecutive intervals that cover the cycle, never cross a point or a phase edge, and are no longer than
    /// `longest_s` (at least 0.05 s; anything not positive means no limit).
    pub fn intervals(&self, longest_s: f64) -> Vec<Interval> {
        let tick_s = if longest_s > 0.0 {
            longest_s.max(SHORTEST_TICK_S)
        } else {
            f64::INFINITY
        };
        let mut out = Vec::new();
        self.cut(
            |a, b| (b.time_s - a.time_s) / tick_s,
            |interval| out.push(interval),
        );
        out
    }

    /// Shows consecutive intervals that cover the cycle: what lies between two points in at least so many parts.
    pub(super) fn cut(
        &self,
        parts: impl Fn(&Point, &Point) -> f64,
        mut each: impl FnMut(Interval),
    ) {
        for (index, phase) in self.phases.iter().enumerate() {
            for pair in phase.points.windows(2) {
                let (a, b) = (&pair[0], &pair[1]);
                let span_s = b.time_s - a.time_s;
                let parts = parts(a, b).ceil().max(1.0);
                let acceleration = slope(a, b);
                let mut from = *a;
                for k in 1..=(parts as usize) {
                    let to = if k as f64 >= parts {
                        *b
                    } else {
                        a.between(b, a.time_s + span_s * (k as f64 / parts))
                    };
                    each(Interval {
                        start_s: from.time_s,
                        end_s: to.time_s,
                        phase: index,
                        from: phase.demand(&from, acceleration),
                        to: phase.demand(&to, acceleration),
                    });
                    from = to;
                }
            }
        }
    }
}

fn slope(a: &Point, b: &Point) -> f64 {
    (b.speed_m_s - a.speed_m_s) / (b.time_s - a.time_s)
}
