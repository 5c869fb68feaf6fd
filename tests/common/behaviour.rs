//! What a car does in everyday states, measured on a run: for the table in README and its test.

use baysoak::cycle::{Cycle, EngineState, Phase, PhaseKind, Point, Start};
use baysoak::sheet::{DaySheet, Sheet, builtin};
use baysoak::study::findings::Series;
use baysoak::study::run::{RunOptions, run};

/// The logs come from all seasons of a mild climate: a bright but not a hot day; a breeze of 2.5 m/s
/// in the weather report, which is 1 m/s at the nose of a car among buildings.
const ORDINARY_DAY: &str = "name = \"ordinary day\"
ambient_c = 18
humidity_percent = 60
pressure_kpa = 100
sun_w_m2 = 250
wind_m_s = 1
road_over_ambient_k = 4
";

/// The cold idles were a repeated standing test: taken as indoors.
const STILL_AIR: &str = "name = \"still air\"
ambient_c = 18
humidity_percent = 60
pressure_kpa = 100
sun_w_m2 = 0
wind_m_s = 0
road_over_ambient_k = 0
";

/// One state of a car with what logs show and what the model gives.
pub struct Row {
    pub state: &'static str,
    pub unit: &'static str,
    /// Range that logged cars of this kind show, low and high.
    pub measured: (f64, f64),
    pub model: f64,
}

impl Row {
    pub fn inside(&self) -> bool {
        (self.measured.0..=self.measured.1).contains(&self.model)
    }
}

fn speed_trace(start_s: f64, trace: &[(f64, f64)]) -> Vec<Point> {
    trace
        .iter()
        .map(|&(t, kmh)| Point::road(start_s + t, kmh / 3.6))
        .collect()
}

/// Stop and go with a mean speed of about 14 km/h: 40 s hops to 40 km/h, then 20 s standing.
fn town(seconds: f64) -> Vec<(f64, f64)> {
    let hop = [(12.0, 38.0), (24.0, 38.0), (36.0, 0.0), (60.0, 0.0)];
    repeated(vec![(0.0, 0.0)], &hop, seconds)
}

/// A trace that goes on with a pattern as long as a whole one fits into `seconds`.
fn repeated(mut trace: Vec<(f64, f64)>, pattern: &[(f64, f64)], seconds: f64) -> Vec<(f64, f64)> {
    let end = |trace: &[(f64, f64)]| trace.last().expect("points").0;
    let length = end(pattern);
    let mut t = end(&trace);
    while t + length <= seconds {
        trace.extend(pattern.iter().map(|&(after, kmh)| (t + after, kmh)));
        t += length;
    }
    trace
}

/// Some minutes of town, then a country road: how a trip begins.
fn trip(town_s: f64, seconds: f64) -> Vec<(f64, f64)> {
    let country = [
        (15.0, 60.0),
        (90.0, 70.0),
        (120.0, 50.0),
        (160.0, 60.0),
        (172.0, 0.0),
        (180.0, 0.0),
    ];
    repeated(town(town_s), &country, seconds)
}

struct Drive {
    phases: Vec<Phase>,
    end_s: f64,
}

impl Drive {
    fn new() -> Self {
        Self {
            phases: Vec::new(),
            end_s: 0.0,
        }
    }

    fn then(mut self, name: &str, kind: PhaseKind, trace: &[(f64, f64)]) -> Self {
        let engine = if kind == PhaseKind::KeyOff {
            EngineState::Off
        } else {
            EngineState::Running
        };
        let points = speed_trace(self.end_s, trace);
        self.phases
            .push(Phase::new(name, kind, engine, false, points).expect("a good trace"));
        self.end_s += trace.last().expect("points").0;
        self
    }

    fn cycle(self, start: Start) -> Cycle {
        Cycle {
            name: "states".into(),
            title: "everyday states".into(),
            source: "of our own".into(),
            start,
            phases: self.phases,
        }
    }
}

fn over_ambient(series: &Series) -> Vec<f64> {
    let sensor = series.column("intake:sensor_c").expect("sensor");
    let ambient = series.column("ambient_c").expect("ambient");
    sensor.iter().zip(&ambient).map(|(s, a)| s - a).collect()
}

fn at(series: &Series, rise: &[f64], time_s: f64) -> f64 {
    let i = series.time_s.partition_point(|&t| t < time_s - 1e-6);
    rise[i.min(rise.len() - 1)]
}

fn mean(series: &Series, rise: &[f64], from_s: f64, to_s: f64) -> f64 {
    let inside: Vec<f64> = series
        .time_s
        .iter()
        .zip(rise)
        .filter(|(t, _)| (from_s..=to_s).contains(*t))
        .map(|(_, r)| *r)
        .collect();
    inside.iter().sum::<f64>() / inside.len() as f64
}

/// Seconds after `from_s` until half of the fall to the least value before `to_s` is done.
fn half_time(series: &Series, rise: &[f64], from_s: f64, to_s: f64) -> f64 {
    let window: Vec<(f64, f64)> = series
        .time_s
        .iter()
        .copied()
        .zip(rise.iter().copied())
        .filter(|(t, _)| (from_s..=to_s).contains(t))
        .collect();
    let start = window[0].1;
    let least = window.iter().map(|w| w.1).fold(f64::INFINITY, f64::min);
    let half = 0.5 * (start + least);
    let done = window.iter().find(|w| w.1 <= half).map_or(to_s, |w| w.0);
    done - from_s
}

fn series(sheet: &Sheet, cycle: &Cycle, day: &str) -> Series {
    let day = DaySheet::parse(day, "day").expect("a good day");
    let sheet = sheet.clone().with_day(day);
    run(&sheet, cycle, &RunOptions::default(), &mut |_| {})
        .expect("a good run")
        .series
}

/// Runs the states and compares with the bands of logged cars of its kind.
///
/// Bands: statistics over several open logs, about 190 h, as p10 and p90 or as the spread of the
/// events named. `cooled`: turbocharged with a charge cooler.
pub fn rows(build: &str, cooled: bool) -> Vec<Row> {
    let sheet = builtin(build).expect("built in");
    // with a trailer nobody drives 120
    let fast = if build == "tow-diesel" { 90.0 } else { 120.0 };
    let motorway = [(0.0, 0.0), (40.0, fast), (1200.0, fast), (1240.0, 0.0)];
    let cycle = Drive::new()
        .then("motorway", PhaseKind::Drive, &motorway)
        .then("town", PhaseKind::Drive, &town(1200.0))
        .then("idle", PhaseKind::Stand, &[(0.0, 0.0), (600.0, 0.0)])
        .then(
            "pull away",
            PhaseKind::Drive,
            &[(0.0, 0.0), (15.0, 60.0), (590.0, 60.0), (600.0, 0.0)],
        )
        .then("town", PhaseKind::Drive, &town(600.0))
        .then("parked", PhaseKind::KeyOff, &[(0.0, 0.0), (1800.0, 0.0)])
        .then("restart", PhaseKind::Restart, &trip(180.0, 1440.0))
        .cycle(Start::Warm);
    let start: Vec<f64> = cycle.phases.iter().map(|p| p.start_s).collect();
    let end: Vec<f64> = cycle.phases.iter().map(|p| p.end_s).collect();
    let s = series(&sheet, &cycle, ORDINARY_DAY);
    let rise = over_ambient(&s);
    let band = |na: (f64, f64), turbo: (f64, f64)| if cooled { turbo } else { na };
    let mut rows = vec![
        Row {
            state: "steady motorway",
            unit: "K over ambient",
            measured: band((7.0, 13.0), (3.0, 8.0)),
            model: mean(&s, &rise, start[0] + 900.0, start[0] + 1190.0),
        },
        Row {
            state: "town below 20 km/h",
            unit: "K over ambient",
            measured: band((9.0, 27.0), (6.0, 17.0)),
            model: mean(&s, &rise, start[1] + 600.0, end[1]),
        },
        Row {
            state: "idle, warm, after 60 s",
            unit: "K over ambient",
            measured: band((9.0, 32.0), (12.0, 18.0)),
            model: at(&s, &rise, start[2] + 60.0),
        },
        Row {
            state: "pull-away, half of the drop gone",
            unit: "s",
            measured: (26.0, 240.0),
            model: half_time(&s, &rise, start[3], end[3] - 20.0),
        },
    ];
    if !cooled {
        rows.extend([
            Row {
                state: "10 min idle, end",
                unit: "K over ambient",
                measured: (24.0, 42.0),
                model: at(&s, &rise, end[2] - 1.0),
            },
            Row {
                state: "30 min key-off, against switch-off",
                unit: "K",
                measured: (4.0, 16.0),
                model: at(&s, &rise, end[5] - 1.0) - at(&s, &rise, start[5] - 1.0),
            },
            Row {
                state: "at the restart",
                unit: "K over ambient",
                measured: (12.0, 33.0),
                model: at(&s, &rise, end[5] - 1.0),
            },
            Row {
                state: "after the restart, half of the drop gone",
                unit: "s",
                measured: (128.0, 560.0),
                model: half_time(&s, &rise, start[6] + 1.0, end[6]),
            },
        ]);
        rows.extend(idle_from_cold(&sheet));
    }
    rows
}

/// Fifteen minutes of idle after a night: 15 repeats on one car, standard deviation 1 to 2 K, taken
/// as plus and minus 2 sd.
pub fn idle_from_cold(sheet: &Sheet) -> Vec<Row> {
    let stand = [(0.0, 0.0), (920.0, 0.0)];
    let cold = Drive::new()
        .then("idle from cold", PhaseKind::Stand, &stand)
        .cycle(Start::Cold);
    let s = series(sheet, &cold, STILL_AIR);
    let rise = over_ambient(&s);
    [
        (5.0, "idle from cold, 5 min", 7.5),
        (10.0, "idle from cold, 10 min", 15.0),
        (15.0, "idle from cold, 15 min", 22.0),
    ]
    .map(|(minutes, state, k)| Row {
        state,
        unit: "K over the start",
        measured: (k - 4.0, k + 4.0),
        model: at(&s, &rise, minutes * 60.0),
    })
    .into()
}

/// The built-in builds with a charge cooler or without.
pub const BUILDS: [(&str, bool); 3] = [("demo", true), ("tow-diesel", true), ("v8", false)];

/// The rows of all builds as the table that README holds.
pub fn table() -> String {
    let mut table =
        String::from("| build | state | unit | logged cars | model |\n|---|---|---|---|---|\n");
    for (build, cooled) in BUILDS {
        for row in rows(build, cooled) {
            let (low, high) = row.measured;
            let mark = if row.inside() { "" } else { " (outside)" };
            table += &format!(
                "| {build} | {} | {} | {low:.0} to {high:.0} | {:.0}{mark} |\n",
                row.state, row.unit, row.model
            );
        }
    }
    table
}
