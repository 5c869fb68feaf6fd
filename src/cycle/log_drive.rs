//! A logged drive from a logger's file: mapped or guessed columns, cleaned channels, and a report
//! of what was read, dropped and why.

use std::collections::BTreeMap;

use super::error::{CycleError, Problem};
use super::log_clean::{self, Frozen};
use super::log_columns::{Taken, take_columns};
use super::log_filter;
use super::log_roles::Role;
use super::log_table::RawTable;
use super::samples::{self, LoadSource};
use super::types::{Cycle, EngineState, LONGEST_CYCLE_S, Load, Point, Start};

/// Rows nearer than this are thinned: nothing in a bay is faster [s].
const NEAREST_S: f64 = 0.9;
/// A longer gap between rows parts the log: what follows isn't compared until it has settled [s].
const GAP_S: f64 = 10.0;
/// Time after the engine starts in which an intake sensor isn't believed [s]: control units
/// correct its lag by flow, and with no flow that correction runs away (seen in logs; estimate).
const AFTER_START_S: f64 = 20.0;
/// The same after a gap [s].
const AFTER_GAP_S: f64 = 120.0;

/// What a user says about a log.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct LogOptions {
    /// Header by role key, as in `[log.columns]`: `sensor_f = "Charge temp"`.
    pub columns: BTreeMap<String, String>,
    /// The day's temperature [K], where the car's own outside sensor isn't to be believed.
    pub ambient_k: Option<f64>,
}

/// A temperature that was logged.
#[derive(Debug, Clone, PartialEq)]
pub struct LoggedChannel {
    /// What it shows.
    pub role: Role,
    /// Times in the cycle [s].
    pub time_s: Vec<f64>,
    /// Values [K].
    pub value_k: Vec<f64>,
    /// Whether each may be compared with a model.
    pub usable: Vec<bool>,
}

/// A logged drive.
#[derive(Debug, Clone, PartialEq)]
pub struct LoggedDrive {
    /// What the car did.
    pub cycle: Cycle,
    /// What was logged beside.
    pub channels: Vec<LoggedChannel>,
    /// Coolant at the start [K].
    pub coolant_start_k: Option<f64>,
    /// How it was read.
    pub report: ImportReport,
}

/// How a column was understood.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ColumnRead {
    /// Header word.
    pub header: String,
    /// Role in words.
    pub role: String,
    /// Unit taken.
    pub unit: String,
    /// How role and unit were found.
    pub how: String,
}

/// What was read, what was dropped and why.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ImportReport {
    /// Rows of the file.
    pub rows: usize,
    /// Rows used.
    pub used_rows: usize,
    /// Columns read.
    pub columns: Vec<ColumnRead>,
    /// Columns not used.
    pub ignored: Vec<String>,
    /// Everything that was dropped, filled, assumed or changed, in words.
    pub notes: Vec<String>,
}

/// Reads a log.
///
/// # Errors
/// When there is no table, no time or no speed in it, a mapped column isn't there, or fewer than
/// two rows can be used.
pub fn import(bytes: &[u8], name: &str, options: &LogOptions) -> Result<LoggedDrive, CycleError> {
    let table = RawTable::read(bytes).map_err(|found| CycleError::invalid(name, found))?;
    let mut report = ImportReport {
        rows: table.rows.len() + table.ragged,
        ..ImportReport::default()
    };
    if table.ragged > 0 {
        let note = format!(
            "{} rows with more or fewer cells than the header dropped",
            table.ragged
        );
        report.notes.push(note);
    }
    if table.preamble > 0 {
        report
            .notes
            .push(format!("{} lines above the header skipped", table.preamble));
    }
    let taken = take_columns(&table, options, &mut report)
        .map_err(|found| CycleError::invalid(name, found))?;
    let rows = Rows::new(taken, &mut report).map_err(|p| CycleError::invalid(name, vec![p]))?;
    rows.finish(name, options, report)
}

/// Rows in order of time, thinned.
struct Rows {
    time_s: Vec<f64>,
    columns: Vec<Taken>,
}

impl Rows {
    fn new(mut columns: Vec<Taken>, report: &mut ImportReport) -> Result<Self, Problem> {
        let at = columns
            .iter()
            .position(|c| c.role == Role::Time)
            .unwrap_or(0);
        let times = columns.remove(at).values;
        let driven = columns.iter().position(|c| c.role == Role::Speed);
        let first = driven.and_then(|i| columns[i].values.iter().position(Option::is_some));
        let (mut keep, mut time_s) = (Vec::new(), Vec::new());
        let (mut no_time, mut back, mut thinned, mut day_s) = (0_usize, 0_usize, 0_usize, 0.0);
        let mut before: Option<f64> = None;
        for (row, time) in times.iter().enumerate().skip(first.unwrap_or(0)) {
            let Some(time) = time else {
                no_time += 1;
                continue;
            };
            let mut t = time + day_s;
            if let Some(b) = before {
                // a clock that passes midnight goes on
                if t < b - 43_200.0 && t + 86_400.0 - b < 3_600.0 {
                    day_s += 86_400.0;
                    t += 86_400.0;
                }
                if t <= b {
                    back += 1;
                    continue;
                }
                if t - b < NEAREST_S {
                    thinned += 1;
                    continue;
                }
            }
            before = Some(t);
            keep.push(row);
            time_s.push(t);
        }
        for (count, what) in [
            (first.unwrap_or(0), "rows before the first speed dropped"),
            (no_time, "rows without a time dropped"),
            (back, "rows whose time doesn't rise dropped"),
            (thinned, "rows left out, one a second is enough"),
        ] {
            if count > 0 {
                report.notes.push(format!("{count} {what}"));
            }
        }
        let start = time_s.first().copied().unwrap_or(0.0);
        time_s.iter_mut().for_each(|t| *t -= start);
        let length = time_s.last().copied().unwrap_or(0.0);
        if time_s.len() < 2 || length > LONGEST_CYCLE_S {
            let hint = "a drive needs two rows with time and speed, and is no longer than a day";
            return Err(Problem::new(
                "column for time",
                format!("{} rows, {length} s", time_s.len()),
                "can't be used",
                hint,
            ));
        }
        for column in &mut columns {
            column.values = keep.iter().map(|&r| column.values[r]).collect();
        }
        report.used_rows = keep.len();
        Ok(Self { time_s, columns })
    }

    fn of(&self, role: &Role) -> Option<&Taken> {
        self.columns.iter().find(|c| &c.role == role)
    }

    /// Values with gaps filled by the last one (at the start by the first).
    fn held(&self, role: &Role, report: &mut ImportReport) -> Option<Vec<f64>> {
        let column = self.of(role)?;
        let mut held = column.values.iter().flatten().next().copied()?;
        let mut filled = 0_usize;
        let out = column
            .values
            .iter()
            .map(|v| {
                match v {
                    Some(v) => held = *v,
                    None => filled += 1,
                }
                held
            })
            .collect();
        if filled > 0 {
            report.notes.push(format!(
                "\"{}\": {filled} cells filled with the value before",
                column.header
            ));
        }
        Some(out)
    }

    fn finish(
        self,
        name: &str,
        options: &LogOptions,
        mut report: ImportReport,
    ) -> Result<LoggedDrive, CycleError> {
        let report = &mut report;
        let time_s = self.time_s.clone();
        let speed = self.held(&Role::Speed, report).unwrap_or_default();
        let rpm = self.held(&Role::Rpm, report);
        let flow = self.held(&Role::Flow, report);
        let map = self.held(&Role::Map, report);
        let load = self.held(&Role::Load, report);
        let on = self.held(&Role::EngineOn, report);
        let coolant = self.held(&Role::Coolant, report);
        let logged_ambient = self.held(&Role::Ambient, report);
        let n = time_s.len();
        let mut running: Vec<bool> = (0..n)
            .map(|i| {
                let turns = rpm.as_ref().is_none_or(|r| r[i] >= log_clean::LEAST_RPM);
                let on = on.as_ref().is_none_or(|v| v[i] > 0.5);
                turns && on
            })
            .collect();
        if let (Some(rpm), Some(flow)) = (&rpm, &flow) {
            let dead = log_clean::without_air(&running, flow);
            if dead > 0 {
                report.notes.push(format!(
                    "{dead} rows with {:.0} rpm or more and no air flow: taken as engine off",
                    rpm.iter()
                        .copied()
                        .fold(f64::MAX, f64::min)
                        .max(log_clean::LEAST_RPM)
                ));
                running
                    .iter_mut()
                    .zip(flow)
                    .for_each(|(r, f)| *r &= *f >= log_clean::LEAST_FLOW_KG_S);
            }
        }
        let frozen = log_clean::frozen(&time_s, &[rpm.as_deref(), flow.as_deref(), map.as_deref()]);
        for Frozen { from_s, to_s } in &frozen {
            report.notes.push(format!("engine speed, air flow and pressure stand still from {from_s:.0} to {to_s:.0} s: not compared there"));
        }
        let burning = log_filter::burning(&time_s, &running, map.as_deref());
        report.notes.extend(log_filter::note(&time_s, &burning));
        let (ambient, notes) = log_clean::ambient(
            &time_s,
            &speed,
            logged_ambient.as_deref(),
            options.ambient_k,
        );
        report.notes.extend(notes);
        let source = match (&rpm, &flow, &map, &load) {
            (Some(_), Some(_), _, _) => LoadSource::AirFlow,
            (Some(_), None, Some(_), _) => LoadSource::ManifoldPressure,
            (Some(_), None, None, Some(_)) => LoadSource::FullLoadShare,
            _ => LoadSource::Road,
        };
        report.notes.push(format!(
            "engine load comes from {}",
            match source {
                LoadSource::AirFlow => "air flow",
                LoadSource::ManifoldPressure => "manifold pressure",
                LoadSource::FullLoadShare => "engine load",
                _ => "road load: no load channel with engine speed",
            }
        ));
        let value = |v: &Option<Vec<f64>>, i: usize| v.as_ref().map_or(0.0, |v| v[i]);
        let points: Vec<(EngineState, Point)> = (0..n)
            .map(|i| {
                let state = if running[i] {
                    EngineState::Running
                } else {
                    EngineState::Off
                };
                let load = match source {
                    LoadSource::AirFlow => Load::AirFlow(value(&flow, i)),
                    LoadSource::ManifoldPressure => Load::ManifoldPressure(value(&map, i)),
                    LoadSource::FullLoadShare => Load::FullLoadShare(value(&load, i)),
                    _ => Load::Road,
                };
                let manifold_pa = match source {
                    LoadSource::ManifoldPressure => None,
                    _ => map.as_ref().map(|m| m[i]),
                };
                let point = Point {
                    speed_m_s: speed[i],
                    rpm: rpm.as_ref().map(|r| r[i]),
                    load,
                    coolant_k: coolant.as_ref().map(|c| c[i]),
                    ambient_k: ambient.as_ref().map(|a| a[i]),
                    manifold_pa,
                    filter_burning: burning[i],
                    ..Point::road(time_s[i], speed[i])
                };
                (state, point)
            })
            .collect();
        let phases = samples::phases(&points).map_err(|found| CycleError::invalid(name, found))?;
        let cycle = Cycle::new(name, name, "log", Start::Cold, phases)?;
        let believed = self.believed(&running, &frozen, report);
        let channels = self.channels(&believed, &running, report);
        Ok(LoggedDrive {
            cycle,
            channels,
            coolant_start_k: coolant.map(|c| c[0]),
            report: report.clone(),
        })
    }

    /// Rows at which a temperature may be compared at all: not after gaps, not where the logger stood still.
    fn believed(
        &self,
        running: &[bool],
        frozen: &[Frozen],
        report: &mut ImportReport,
    ) -> Vec<bool> {
        let mut gap_end = f64::NEG_INFINITY;
        let mut before = 0.0;
        let mut out = Vec::with_capacity(running.len());
        for &t in &self.time_s {
            if t - before > GAP_S {
                report.notes.push(format!("gap of {:.0} s at {before:.0} s: what follows isn't compared for {AFTER_GAP_S:.0} s", t - before));
                gap_end = t;
            }
            before = t;
            let stands = frozen.iter().any(|f| (f.from_s..=f.to_s).contains(&t));
            out.push(t - gap_end >= AFTER_GAP_S && !stands);
        }
        out
    }

    fn channels(
        &self,
        believed: &[bool],
        running: &[bool],
        report: &mut ImportReport,
    ) -> Vec<LoggedChannel> {
        let flags = self.held(&Role::SensorValid, report);
        let mut out = Vec::new();
        for column in &self.columns {
            let listed = matches!(
                column.role,
                Role::Sensor | Role::Oil | Role::ExhaustGas(_) | Role::Skin(_) | Role::Bay(_)
            );
            if !listed {
                continue;
            }
            let mut channel = LoggedChannel {
                role: column.role.clone(),
                time_s: Vec::new(),
                value_k: Vec::new(),
                usable: Vec::new(),
            };
            let mut started = f64::NEG_INFINITY;
            let mut dropped = 0_usize;
            for (i, value) in column.values.iter().enumerate() {
                if i > 0 && running[i] && !running[i - 1] {
                    started = self.time_s[i];
                }
                let Some(value) = value else { continue };
                let usable = believed[i]
                    && match column.role {
                        Role::Sensor => match &flags {
                            Some(flags) => flags[i] > 0.5 && running[i],
                            None => running[i] && self.time_s[i] - started >= AFTER_START_S,
                        },
                        _ => true,
                    };
                dropped += usize::from(!usable);
                channel.time_s.push(self.time_s[i]);
                channel.value_k.push(*value);
                channel.usable.push(usable);
            }
            if dropped > 0 {
                let why = match (&column.role, &flags) {
                    (Role::Sensor, Some(_)) => "marked invalid, engine off, after a gap or frozen",
                    (Role::Sensor, None) => "engine off, just started, after a gap or frozen",
                    _ => "after a gap or frozen",
                };
                report.notes.push(format!(
                    "\"{}\": {dropped} of {} values not compared ({why})",
                    column.header,
                    channel.time_s.len()
                ));
            }
            out.push(channel);
        }
        out
    }
}
