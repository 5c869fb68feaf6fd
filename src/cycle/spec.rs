//! Phases as a sheet writes them, and their conversion to a trace.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::error::{CycleError, Problem};
use super::pattern::Pattern;
use super::types::{
    Cycle, EngineState, FASTEST_M_S, FASTEST_RPM, LONGEST_CYCLE_S, Load, Phase, PhaseKind, Point,
    Start, ZERO_CELSIUS_K,
};

/// Acceleration from one phase's speed to the next, m/s2. Estimate of a brisk driver.
const JOIN_ACCELERATION_M_S2: f64 = 1.5;
/// Braking from one phase's speed to the next, m/s2. Estimate of ordinary braking.
const JOIN_BRAKING_M_S2: f64 = 2.0;
/// Steepest change of speed a sheet may ask for, m/s2: about the grip of a sports tyre (estimate).
const GRIP_M_S2: f64 = 12.0;
/// Shorter than this, s, two times are one: it is far above the rounding of sums of times.
const SHORTEST_STEP_S: f64 = 1e-6;
/// Most laps in one phase.
const MOST_LAPS: u32 = 1000;
/// Most points a phase may expand to.
const MOST_POINTS: f64 = 200_000.0;

/// A cycle as written in TOML.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CycleSpec {
    /// Title for reports.
    #[serde(default)]
    pub title: String,
    /// Where it comes from.
    #[serde(default)]
    pub source: String,
    /// State of the car at the start: cold, or warm from a drive.
    #[serde(default)]
    pub start: Start,
    /// The phases in order.
    #[serde(default)]
    pub phases: Vec<PhaseSpec>,
}

/// One phase as written in TOML. Speed is constant (`speed_kmh`), a ramp (`speed_kmh` and `to_speed_kmh`), a built-in
/// `pattern`, or an own `trace`; the last two repeat. Load is road load unless one of the load keys is given.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PhaseSpec {
    /// What the phase is.
    pub kind: PhaseKind,
    /// Name for reports.
    #[serde(default)]
    pub name: String,
    /// Length, s.
    pub duration_s: Option<f64>,
    /// Length, min, instead of `duration_s`.
    pub duration_min: Option<f64>,
    /// Speed, km/h.
    pub speed_kmh: Option<f64>,
    /// Speed at the end of the phase, km/h, if it changes evenly.
    pub to_speed_kmh: Option<f64>,
    /// Built-in speed pattern, repeated.
    pub pattern: Option<Pattern>,
    /// Own speed pattern, repeated: pairs of seconds (from 0) and km/h.
    #[serde(default)]
    pub trace: Vec<[f64; 2]>,
    /// Number of times the pattern or trace is driven, instead of a duration.
    pub laps: Option<u32>,
    /// Grade, % (rise over run; negative is downhill).
    pub grade_percent: Option<f64>,
    /// Engine speed, 1/min; without it the gearing decides.
    pub rpm: Option<f64>,
    /// Share of full-load torque, %; needs `rpm`.
    pub load_percent: Option<f64>,
    /// Brake power, kW.
    pub power_kw: Option<f64>,
    /// Manifold absolute pressure, kPa; needs `rpm`.
    pub map_kpa: Option<f64>,
    /// Ambient temperature, degrees Celsius, if it differs from the day's.
    pub ambient_c: Option<f64>,
    /// Head wind, m/s.
    pub wind_m_s: Option<f64>,
    /// Bonnet open.
    #[serde(default)]
    pub bonnet_open: bool,
}

impl PhaseSpec {
    /// An otherwise empty phase of this kind.
    pub fn new(kind: PhaseKind) -> Self {
        Self {
            kind,
            name: String::new(),
            duration_s: None,
            duration_min: None,
            speed_kmh: None,
            to_speed_kmh: None,
            pattern: None,
            trace: Vec::new(),
            laps: None,
            grade_percent: None,
            rpm: None,
            load_percent: None,
            power_kw: None,
            map_kpa: None,
            ambient_c: None,
            wind_m_s: None,
            bonnet_open: false,
        }
    }

    /// Everything wrong with this phase by itself; `place` is its key path, such as `cycle.phases[2]`.
    pub fn problems(&self, place: &str) -> Vec<Problem> {
        let mut found = Vec::new();
        self.check_numbers(place, &mut found);
        self.check_speed(place, &mut found);
        self.check_length(place, &mut found);
        if !self.trace.is_empty() {
            check_trace(&format!("{place}.trace"), &self.trace, &mut found);
        }
        found
    }

    fn check_numbers(&self, place: &str, found: &mut Vec<Problem>) {
        let fastest_kmh = FASTEST_M_S * 3.6;
        let longest_min = LONGEST_CYCLE_S / 60.0;
        for (key, value, low, high) in [
            ("duration_s", self.duration_s, 1.0, LONGEST_CYCLE_S),
            ("duration_min", self.duration_min, 1.0 / 60.0, longest_min),
            ("speed_kmh", self.speed_kmh, 0.0, fastest_kmh),
            ("to_speed_kmh", self.to_speed_kmh, 0.0, fastest_kmh),
            ("grade_percent", self.grade_percent, -40.0, 40.0),
            ("rpm", self.rpm, 0.0, FASTEST_RPM),
            ("load_percent", self.load_percent, 0.0, 100.0),
            ("power_kw", self.power_kw, -200.0, 1500.0),
            ("map_kpa", self.map_kpa, 10.0, 600.0),
            ("ambient_c", self.ambient_c, -60.0, 60.0),
            ("wind_m_s", self.wind_m_s, -50.0, 50.0),
        ] {
            if let Some(value) = value
                && !(low..=high).contains(&value)
            {
                let limit = format!("outside {} to {high}", (low * 1000.0).round() / 1000.0);
                found.push(Problem::new(format!("{place}.{key}"), value, limit, ""));
            }
        }
        let loads = [self.load_percent, self.power_kw, self.map_kpa];
        if loads.iter().flatten().count() > 1 {
            let limit = "only one of load_percent, power_kw and map_kpa may be given";
            found.push(Problem::new(place, "several loads", limit, ""));
        }
        if self.rpm.is_none() && (self.load_percent.is_some() || self.map_kpa.is_some()) {
            let limit = "load_percent and map_kpa need an engine speed";
            found.push(Problem::new(
                format!("{place}.rpm"),
                "missing",
                limit,
                "add rpm",
            ));
        }
        if self.kind == PhaseKind::KeyOff
            && (self.rpm.is_some() || loads.iter().any(Option::is_some))
        {
            let limit = "an engine that is off has no speed and no load";
            found.push(Problem::new(place, "key-off with rpm or load", limit, ""));
        }
    }

    fn check_speed(&self, place: &str, found: &mut Vec<Problem>) {
        let ways = [
            self.speed_kmh.is_some(),
            self.pattern.is_some(),
            !self.trace.is_empty(),
        ];
        let count = ways.iter().filter(|given| **given).count();
        let standing = matches!(self.kind, PhaseKind::Stand | PhaseKind::KeyOff);
        if standing {
            let moving = self.speed_kmh.is_some_and(|v| v > 0.0) || count > 1;
            if moving || ways[1] || ways[2] || self.to_speed_kmh.is_some() {
                let limit = "a stand or key-off phase has no speed";
                found.push(Problem::new(
                    format!("{place}.speed_kmh"),
                    "given",
                    limit,
                    "use kind = \"drive\" or \"restart\"",
                ));
            }
        } else if count != 1 {
            found.push(Problem::new(
                format!("{place}.speed_kmh"),
                format!("{count} speeds"),
                "exactly one of speed_kmh, pattern and trace is needed",
                "",
            ));
        } else if self.to_speed_kmh.is_some() && !ways[0] {
            let limit = "a ramp needs speed_kmh as its start";
            found.push(Problem::new(
                format!("{place}.to_speed_kmh"),
                "given",
                limit,
                "",
            ));
        }
    }

    fn check_length(&self, place: &str, found: &mut Vec<Problem>) {
        let lengths = [
            self.duration_s.is_some(),
            self.duration_min.is_some(),
            self.laps.is_some(),
        ];
        let count = lengths.iter().filter(|given| **given).count();
        if count != 1 {
            found.push(Problem::new(
                format!("{place}.duration_s"),
                format!("{count} lengths"),
                "exactly one of duration_s, duration_min and laps is needed",
                "",
            ));
        }
        if let Some(laps) = self.laps {
            let place = format!("{place}.laps");
            if !(1..=MOST_LAPS).contains(&laps) {
                found.push(Problem::new(
                    &place,
                    laps,
                    format!("outside 1 to {MOST_LAPS}"),
                    "",
                ));
            }
            if self.pattern.is_none() && self.trace.is_empty() {
                let limit = "laps need a pattern or a trace";
                found.push(Problem::new(&place, laps, limit, "give duration_min"));
            }
        }
    }

    /// Pattern or trace in s and km/h, if the phase has one.
    fn shape(&self) -> Option<&[[f64; 2]]> {
        match self.pattern {
            Some(pattern) => Some(pattern.points()),
            None if self.trace.is_empty() => None,
            None => Some(&self.trace),
        }
    }

    fn engine(&self) -> EngineState {
        match self.kind {
            PhaseKind::KeyOff => EngineState::Off,
            _ => EngineState::Running,
        }
    }

    fn load(&self) -> Load {
        if let Some(kw) = self.power_kw {
            Load::Power(kw * 1e3)
        } else if let Some(kpa) = self.map_kpa {
            Load::ManifoldPressure(kpa * 1e3)
        } else if let Some(percent) = self.load_percent {
            Load::FullLoadShare(percent / 100.0)
        } else {
            Load::Road
        }
    }

    /// Speeds of this phase from its own 0 s, entered at `before_m_s`; `Err` holds the time the joining ramp needs.
    fn speeds(&self, before_m_s: Option<f64>) -> Result<Vec<[f64; 2]>, f64> {
        let first_kmh = match self.shape() {
            Some(shape) => shape.first().map_or(0.0, |p| p[1]),
            None => self.speed_kmh.unwrap_or(0.0),
        };
        let first = first_kmh / 3.6;
        let before = before_m_s.unwrap_or(first);
        let mut join_s = join_time_s(before, first);
        let mut out = vec![[0.0, before]];
        if join_s > SHORTEST_STEP_S {
            out.push([join_s, first]);
        } else {
            join_s = 0.0;
        }
        let asked_s = self.duration_s.or(self.duration_min.map(|min| min * 60.0));
        let Some(shape) = self.shape() else {
            let end_s = asked_s.unwrap_or(0.0);
            if join_s >= end_s {
                return Err(join_s);
            }
            let last = self.to_speed_kmh.map_or(first, |kmh| kmh / 3.6);
            out.push([end_s, last]);
            return Ok(out);
        };
        let period_s = shape.last().map_or(0.0, |p| p[0]);
        let end_s = asked_s.unwrap_or(join_s + period_s * f64::from(self.laps.unwrap_or(1)));
        if join_s >= end_s {
            return Err(join_s);
        }
        let mut lap = 0.0;
        loop {
            for pair in shape.windows(2) {
                let time_s = join_s + lap * period_s + pair[1][0];
                let speed = pair[1][1] / 3.6;
                if time_s >= end_s - SHORTEST_STEP_S {
                    let past = ((time_s - end_s) / (pair[1][0] - pair[0][0])).max(0.0);
                    let share = 1.0 - past;
                    let from = pair[0][1] / 3.6;
                    out.push([end_s, from + share * (speed - from)]);
                    return Ok(out);
                }
                out.push([time_s, speed]);
            }
            lap += 1.0;
        }
    }

    /// Points an expansion would have, about.
    fn point_count(&self) -> f64 {
        let Some(shape) = self.shape() else {
            return 2.0;
        };
        let period_s = shape.last().map_or(1.0, |p| p[0]);
        let asked_s = self.duration_s.or(self.duration_min.map(|min| min * 60.0));
        let laps = asked_s.map_or(self.laps.map_or(1.0, f64::from), |s| s / period_s);
        laps * shape.len() as f64
    }
}

fn join_time_s(from_m_s: f64, to_m_s: f64) -> f64 {
    let rise = to_m_s - from_m_s;
    (rise / JOIN_ACCELERATION_M_S2).max(-rise / JOIN_BRAKING_M_S2)
}

fn check_trace(place: &str, trace: &[[f64; 2]], found: &mut Vec<Problem>) {
    let fastest_kmh = FASTEST_M_S * 3.6;
    if trace.len() < 2 {
        found.push(Problem::new(place, trace.len(), "at least 2 pairs", ""));
    }
    for (i, [time_s, kmh]) in trace.iter().copied().enumerate() {
        let here = format!("{place}[{i}]");
        if !(0.0..=LONGEST_CYCLE_S).contains(&time_s) {
            let limit = format!("time outside 0 to {LONGEST_CYCLE_S} s");
            found.push(Problem::new(&here, time_s, limit, ""));
        }
        if !(0.0..=fastest_kmh).contains(&kmh) {
            let limit = format!("speed outside 0 to {fastest_kmh} km/h");
            found.push(Problem::new(&here, kmh, limit, ""));
        }
        match i.checked_sub(1).and_then(|j| trace.get(j)) {
            None if time_s > 0.0 => {
                found.push(Problem::new(here, time_s, "must start at 0 s", ""));
            }
            None => {}
            Some([before_s, _]) if time_s <= *before_s => {
                let limit = format!("time does not rise after {before_s} s");
                found.push(Problem::new(here, time_s, limit, ""));
            }
            Some([before_s, before_kmh]) => {
                let slope = (kmh - before_kmh) / 3.6 / (time_s - before_s);
                if slope.abs() > GRIP_M_S2 {
                    let value = format!("{slope:.1} m/s2");
                    let limit = format!("more than tyres allow, {GRIP_M_S2} m/s2");
                    found.push(Problem::new(here, value, limit, "give it more time"));
                }
            }
        }
    }
    if let (Some([_, first]), Some([_, last])) = (trace.first(), trace.last())
        && (first - last).abs() > 1e-9
    {
        let limit = format!("last speed must be the first, {first} km/h, as the trace repeats");
        found.push(Problem::new(place, last, limit, ""));
    }
}

impl CycleSpec {
    /// Everything wrong with the phases one by one; `place` is the key path of the cycle.
    pub fn problems(&self, place: &str) -> Vec<Problem> {
        if self.phases.is_empty() {
            return vec![Problem::new(
                format!("{place}.phases"),
                0,
                "at least 1 needed",
                "",
            )];
        }
        let paths = (0..self.phases.len()).map(|i| format!("{place}.phases[{i}]"));
        let each = self.phases.iter().zip(paths);
        each.flat_map(|(phase, path)| phase.problems(&path))
            .collect()
    }

    /// The cycle. A jump of speed between phases becomes a ramp of 1.5 m/s2 (braking 2 m/s2) at the start of the later
    /// one; before a key-off the car brakes first, which makes the phase before that much longer.
    ///
    /// # Errors
    /// All problems at once, with their key paths.
    pub fn cycle(&self, name: &str) -> Result<Cycle, CycleError> {
        let mut found = self.problems("cycle");
        for (i, spec) in self.phases.iter().enumerate() {
            if spec.point_count() > MOST_POINTS {
                let limit = format!("pattern repeats to more than {MOST_POINTS} points");
                found.push(Problem::new(
                    format!("cycle.phases[{i}]"),
                    spec.point_count(),
                    limit,
                    "",
                ));
            }
        }
        if !found.is_empty() {
            return Err(CycleError::invalid(name, found));
        }
        let mut phases = Vec::new();
        let (mut clock_s, mut before) = (0.0, None);
        for (i, spec) in self.phases.iter().enumerate() {
            let mut speeds = match spec.speeds(before) {
                Ok(speeds) => speeds,
                Err(needs_s) => {
                    found.push(Problem::new(
                        format!("cycle.phases[{i}].duration_s"),
                        "too short",
                        format!("it takes {needs_s:.1} s to reach the speed of this phase"),
                        "make the phase longer",
                    ));
                    continue;
                }
            };
            let key_off_next = self.phases.get(i + 1).is_some_and(|next| {
                next.kind == PhaseKind::KeyOff && spec.kind != PhaseKind::KeyOff
            });
            if let Some([end_s, speed]) = speeds.last().copied()
                && key_off_next
                && speed > 0.0
            {
                speeds.push([end_s + join_time_s(speed, 0.0), 0.0]);
            }
            let slopes = speeds
                .windows(2)
                .map(|w| (w[1][1] - w[0][1]) / (w[1][0] - w[0][0]));
            let steepest = slopes.map(f64::abs).fold(0.0, f64::max);
            if steepest > GRIP_M_S2 {
                found.push(Problem::new(
                    format!("cycle.phases[{i}].to_speed_kmh"),
                    format!("{steepest:.1} m/s2"),
                    format!("more than tyres allow, {GRIP_M_S2} m/s2"),
                    "give it more time",
                ));
            }
            let points = speeds.iter().map(|[time_s, speed_m_s]| Point {
                time_s: clock_s + time_s,
                speed_m_s: *speed_m_s,
                grade: spec.grade_percent.unwrap_or(0.0) / 100.0,
                rpm: spec.rpm,
                load: spec.load(),
                coolant_k: None,
                ambient_k: spec.ambient_c.map(|c| c + ZERO_CELSIUS_K),
                wind_m_s: spec.wind_m_s,
                manifold_pa: None,
                filter_burning: false,
            });
            let label = if spec.name.is_empty() {
                format!("phase {}", i + 1)
            } else {
                spec.name.clone()
            };
            let points: Vec<Point> = points.collect();
            match Phase::new(&label, spec.kind, spec.engine(), spec.bonnet_open, points) {
                Ok(phase) => {
                    clock_s = phase.end_s;
                    before = phase.points().last().map(|p| p.speed_m_s);
                    phases.push(phase);
                }
                Err(problems) => found.extend(problems),
            }
        }
        if !found.is_empty() {
            return Err(CycleError::invalid(name, found));
        }
        Cycle::new(name, &self.title, &self.source, self.start, phases)
    }
}
