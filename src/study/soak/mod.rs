//! After key-off: minute by minute what heats up, when it peaks, when it may be touched; and the
//! restart: how long the intake takes to lose its heat, and what power there is meanwhile.

mod parking;
mod watched;

use serde::Serialize;

pub use self::parking::{Gentle, Parking, fan_run_on, parked, usual_drive};

use self::watched::{Source, Watched, watched};
use super::findings::{Audit, CycleId, DayId, Margin, Program, RunResult, SCHEMA, SheetId};
use super::full_throttle::FullThrottle;
use super::run::{Moment, RunError, RunOptions, run_probed};
use crate::cycle::{Cycle, PhaseKind};
use crate::quantity::celsius;
use crate::sheet::raw::NeighbourKind;
use crate::sheet::{Chooser, Settled, Sheet};

/// Times after the restart at which full throttle is asked for [s]; then every minute.
const EARLY_S: [f64; 3] = [5.0, 15.0, 30.0];

/// An excess smaller than this drowns in the ups and downs of driving [K].
const LEAST_EXCESS_K: f64 = 5.0;

/// What a soak and its restart gave.
#[derive(Debug, Clone, Serialize)]
pub struct Soak {
    /// Version of this shape.
    pub schema: u32,
    /// Program.
    pub program: Program,
    /// Build sheet.
    pub sheet: SheetId,
    /// Drive before it.
    pub cycle: CycleId,
    /// Weather.
    pub day: DayId,
    /// How the car is parked.
    pub parked: ParkedId,
    /// Minutes after key-off of each temperature.
    pub minutes: Vec<f64>,
    /// What is watched.
    pub items: Vec<Item>,
    /// The restart; null without one.
    pub restart: Option<Restart>,
    /// Margins to limits over drive, soak and restart.
    pub margins: Vec<Margin>,
    /// Kinds of part that mind a soak and that the sheet does not name.
    pub not_named: Vec<String>,
    /// Warnings.
    pub warnings: Vec<String>,
    /// Energy balance.
    pub audit: Audit,
}

/// How the car is parked.
#[derive(Debug, Clone, Serialize)]
pub struct ParkedId {
    /// Key-off, min.
    pub minutes: f64,
    /// Bonnet open.
    pub bonnet_open: bool,
    /// Wind, m/s.
    pub wind_m_s: f64,
    /// Sun on a horizontal surface, W/m2.
    pub sun_w_m2: f64,
    /// Fan run-on, s.
    pub fan_run_on_s: f64,
}

/// Something that is watched.
#[derive(Debug, Clone, Serialize)]
pub struct Item {
    /// Name.
    pub name: String,
    /// `intake`, `fluid`, `nearby part`, `exhaust` or `panel`.
    pub group: String,
    /// At key-off, degC.
    pub start_c: f64,
    /// Peak after key-off, degC.
    pub peak_c: f64,
    /// Minutes from key-off to the peak.
    pub peak_min: f64,
    /// Limit, degC; null where there is none.
    pub limit_c: Option<f64>,
    /// Minutes over it.
    pub over_min: f64,
    /// When a touch of a second no longer burns.
    pub touch: Touch,
    /// When a grip of ten seconds no longer burns.
    pub grip: Touch,
    /// Every minute, degC.
    pub temperatures_c: Vec<f64>,
}

/// When a hand may meet something.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "is", rename_all = "snake_case")]
pub enum Touch {
    /// Nobody touches it, or it has no threshold.
    NotTouched,
    /// From so many minutes after key-off; 0 where it never burns.
    After {
        /// Minutes.
        minutes: f64,
    },
    /// Still too hot at the end.
    NotYet,
}

/// The restart.
#[derive(Debug, Clone, Serialize)]
pub struct Restart {
    /// What the sensor says.
    pub sensor: Fall,
    /// The charge at the valve.
    pub valve: Fall,
    /// Full throttle, if it is asked for.
    pub power: Vec<PowerAt>,
    /// The intake over ambient.
    pub rises: Vec<RiseAt>,
}

/// Intake over ambient at a time.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct RiseAt {
    /// Seconds after the restart.
    pub time_s: f64,
    /// Sensor, K.
    pub sensor_k: f64,
    /// Charge at the valve, K.
    pub valve_k: f64,
}

/// How an excess falls away.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct Fall {
    /// Over ambient at the restart, K.
    pub start_rise_k: f64,
    /// Over ambient at its least in the drive that follows, K.
    pub least_rise_k: f64,
    /// Seconds until half of the difference is gone; null where there is next to none.
    pub half_s: Option<f64>,
    /// Seconds until nine tenths of it are gone.
    pub nine_tenths_s: Option<f64>,
}

/// Full throttle at a time.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct PowerAt {
    /// Seconds after the restart.
    pub time_s: f64,
    /// Charge at the valve, degC.
    pub charge_c: f64,
    /// Power by density, % of the rating.
    pub density_percent: f64,
    /// Power by the standard correction's exponent, % of the rating.
    pub standard_percent: f64,
}

impl Soak {
    /// An item by name.
    pub fn item(&self, name: &str) -> Option<&Item> {
        self.items.iter().find(|i| i.name == name)
    }
}

/// A watched thing's course after key-off.
struct Course {
    watched: Watched,
    /// Seconds after key-off and temperature [K].
    points: Vec<(f64, f64)>,
}

impl Course {
    /// The last time that it falls to `limit_k` [s]: `None` where it is still above.
    fn below_from_s(&self, limit_k: f64) -> Option<f64> {
        let above = self.points.iter().rposition(|p| p.1 >= limit_k);
        let Some(i) = above else { return Some(0.0) };
        let (a, b) = (self.points[i], *self.points.get(i + 1)?);
        Some(a.0 + (b.0 - a.0) * (a.1 - limit_k) / (a.1 - b.1))
    }

    fn over_s(&self, limit_k: f64) -> f64 {
        let mut watch = super::watch::Watch::new(limit_k);
        for w in self.points.windows(2) {
            watch.add(w[0].1, w[1].1, w[1].0 - w[0].0);
        }
        watch.over_s
    }

    fn touch(&self, limit_k: f64) -> Touch {
        if limit_k.is_infinite() {
            return Touch::NotTouched;
        }
        self.below_from_s(limit_k)
            .map_or(Touch::NotYet, |s| Touch::After { minutes: s / 60.0 })
    }

    fn item(&self) -> Item {
        let start = self.points.first().map_or(f64::NAN, |p| p.1);
        let hotter = |a: (f64, f64), b: &(f64, f64)| if b.1 > a.1 { *b } else { a };
        let peak = self.points.iter().fold((0.0, f64::NEG_INFINITY), hotter);
        let (touch_k, grip_k) = self.watched.surface.burns_k();
        let limit_k = self.watched.limit_k;
        Item {
            name: self.watched.name.clone(),
            group: self.watched.group.into(),
            start_c: celsius(start),
            peak_c: celsius(peak.1),
            peak_min: peak.0 / 60.0,
            limit_c: limit_k.is_finite().then(|| celsius(limit_k)),
            over_min: self.over_s(limit_k) / 60.0,
            touch: self.touch(touch_k),
            grip: self.touch(grip_k),
            temperatures_c: self
                .points
                .iter()
                .filter(|p| on_minute(p.0))
                .map(|p| celsius(p.1))
                .collect(),
        }
    }
}

/// Whether a time is a whole minute; control ticks end there.
fn on_minute(time_s: f64) -> bool {
    let off = time_s.rem_euclid(60.0);
    off.min(60.0 - off) < 1e-3
}

/// Everything noted while the run goes on.
struct Notes<'s> {
    settled: &'s Settled,
    off_s: f64,
    on_s: f64,
    courses: Vec<Course>,
    /// Seconds after the restart, sensor and valve over ambient [K].
    restart: Vec<(f64, [f64; 2])>,
    power: Vec<PowerAt>,
}

impl Notes<'_> {
    fn add(&mut self, moment: &Moment) {
        if self.courses.is_empty() {
            let found = watched(&self.settled.build, moment.network);
            self.courses = found
                .into_iter()
                .map(|watched| Course {
                    watched,
                    points: Vec::new(),
                })
                .collect();
        }
        let time_s = moment.interval.end_s;
        if time_s >= self.off_s - 1e-9 && time_s <= self.on_s + 1e-9 {
            for course in &mut self.courses {
                let k = match &course.watched.source {
                    Source::Nodes(nodes) => nodes
                        .iter()
                        .map(|&n| moment.y[n])
                        .fold(f64::NEG_INFINITY, f64::max),
                    Source::SensorAir => moment.scratch.air.sensor_air_k,
                };
                course.points.push((time_s - self.off_s, k));
            }
        }
        if time_s > self.on_s - 1e-9 {
            self.add_restart(time_s - self.on_s, moment);
        }
    }

    fn add_restart(&mut self, since_s: f64, moment: &Moment) {
        let build = &self.settled.build;
        let ambient_k = moment.interval.to.ambient_k.unwrap_or(build.day.ambient_k);
        let rises = [
            moment.y[moment.network.circuit.roles.sensor] - ambient_k,
            moment.scratch.air.valve_k - ambient_k,
        ];
        self.restart.push((since_s, rises));
        let done = self.power.len();
        let next = EARLY_S
            .get(done)
            .copied()
            .unwrap_or(60.0 * (done + 1).saturating_sub(EARLY_S.len()) as f64);
        if since_s >= next - 1e-9 {
            let found = FullThrottle::at(build, moment);
            let percent = |w: f64| 100.0 * w / build.engine.power_w;
            self.power.push(PowerAt {
                time_s: since_s,
                charge_c: celsius(found.charge_k),
                density_percent: percent(found.load.density_w),
                standard_percent: percent(found.load.standard_w),
            });
        }
    }

    fn rises(&self) -> Vec<RiseAt> {
        let all = self.restart.iter().skip(1);
        all.map(|&(time_s, [sensor_k, valve_k])| RiseAt {
            time_s,
            sensor_k,
            valve_k,
        })
        .collect()
    }

    /// How one of the two rises falls; the first entry is the state at the restart.
    fn fall(&self, which: usize) -> Option<Fall> {
        // what stood at the valve is gone with the first turn: the first charge that flows counts
        let skip = which;
        let (_, start) = self.restart.get(skip)?;
        let rises = || self.restart.iter().skip(skip).map(|(t, r)| (*t, r[which]));
        let least = rises().map(|(_, r)| r).fold(f64::INFINITY, f64::min);
        let start = start[which];
        let gone = |share: f64| {
            let to = start - share * (start - least);
            let below = rises().find(|(t, r)| *t > 0.0 && *r <= to + 1e-9);
            below
                .filter(|_| start - least > LEAST_EXCESS_K)
                .map(|(t, _)| t)
        };
        Some(Fall {
            start_rise_k: start,
            least_rise_k: least,
            half_s: gone(0.5),
            nine_tenths_s: gone(0.9),
        })
    }
}

/// Kinds that a soak is asked about and that the sheet leaves out.
fn not_named(sheet: &Sheet) -> Vec<String> {
    use NeighbourKind::{Boot, BrakeFluid, ClutchFluid, FuelLine, FuelRail, Loom};
    let named = |kind| sheet.raw().neighbour.iter().any(|n| n.kind == Some(kind));
    [BrakeFluid, ClutchFluid, FuelLine, FuelRail, Loom, Boot]
        .into_iter()
        .filter(|kind| !named(*kind))
        .map(|kind| kind.word().to_owned())
        .collect()
}

/// Start and end of the key-off [s].
fn off_times(cycle: &Cycle) -> (f64, f64) {
    let off = cycle.phases.iter().find(|p| p.kind == PhaseKind::KeyOff);
    off.map_or((f64::INFINITY, f64::INFINITY), |p| (p.start_s, p.end_s))
}

/// Drives, parks and starts again. `cycle` is one that [`parked`] has made.
///
/// # Errors
/// When the sheet is bad, the solver gives up or the books don't close.
pub fn soak(sheet: &Sheet, cycle: &Cycle, parking: &Parking) -> Result<Soak, RunError> {
    let settled = sheet.settle(&mut Chooser::Likely)?;
    soak_settled(sheet, &settled, cycle, parking)
}

/// The same of a settled sheet.
///
/// # Errors
/// As [`soak`].
pub fn soak_settled(
    sheet: &Sheet,
    settled: &Settled,
    cycle: &Cycle,
    parking: &Parking,
) -> Result<Soak, RunError> {
    let (off_s, on_s) = off_times(cycle);
    let mut notes = Notes {
        settled,
        off_s,
        on_s,
        courses: Vec::new(),
        restart: Vec::new(),
        power: Vec::new(),
    };
    let options = RunOptions {
        sample_s: f64::INFINITY,
        ..RunOptions::default()
    };
    let mut probe = |moment: &Moment| notes.add(moment);
    let run: RunResult = run_probed(sheet, settled, cycle, &options, &mut probe)?;
    let findings = run.findings;
    let build = &settled.build;
    let restarts = on_s < cycle.duration_s();
    let falls = notes.fall(0).zip(notes.fall(1)).filter(|_| restarts);
    let first = notes.courses.first();
    let minutes = first.map_or_else(Vec::new, |c| {
        let whole = c.points.iter().filter(|p| on_minute(p.0));
        whole.map(|p| (p.0 / 60.0).round()).collect()
    });
    Ok(Soak {
        schema: SCHEMA,
        program: findings.program,
        sheet: findings.sheet,
        cycle: findings.cycle,
        day: findings.day,
        parked: ParkedId {
            minutes: (on_s - off_s) / 60.0,
            bonnet_open: parking.bonnet_open,
            wind_m_s: parking.wind_m_s.unwrap_or(build.day.wind_m_s),
            sun_w_m2: build.day.sun_w_m2,
            fan_run_on_s: build.bay.fan.run_on_s,
        },
        minutes,
        items: notes.courses.iter().map(Course::item).collect(),
        restart: falls.map(|(sensor, valve)| Restart {
            sensor,
            valve,
            rises: notes.rises(),
            power: notes.power,
        }),
        margins: findings.margins,
        not_named: not_named(sheet),
        warnings: findings.warnings,
        audit: findings.audit,
    })
}
