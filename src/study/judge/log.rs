//! Logs with measured temperatures beside the drive.

use std::io::Read;

use crate::constants::ZERO_CELSIUS_K;
use crate::cycle::{Cycle, CycleError, EngineState, Load, Start, read_csv};

/// Plausible readings of a thermocouple [degC].
const PLAUSIBLE_C: (f64, f64) = (-60.0, 1400.0);
/// A channel that begins this far above outside air belongs to a warm car [K] (estimate; sun alone makes less).
const WARM_CHANNEL_K: f64 = 25.0;
/// Largest log read, bytes.
const LARGEST: u64 = 64 << 20;

/// A drive and what was measured on it.
#[derive(Debug, Clone)]
pub struct MeasuredLog {
    /// File name.
    pub name: String,
    /// The drive.
    pub cycle: Cycle,
    /// Time from the start of the drive [s].
    pub time_s: Vec<f64>,
    /// Measured channel by name: temperatures [K]; `None` where nothing was logged.
    pub channels: Vec<(String, Vec<Option<f64>>)>,
}

/// Why a log can't be judged.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum LogError {
    /// The drive can't be read.
    #[error(transparent)]
    Cycle(#[from] CycleError),
    /// The file can't be read.
    #[error("{name}: can't read: {source}")]
    Io {
        /// File name.
        name: String,
        /// What the system says.
        source: std::io::Error,
    },
    /// Cells that aren't temperatures; all of them.
    #[error("{name}: {}", .problems.join("\n"))]
    Cells {
        /// File name.
        name: String,
        /// Each with line and column.
        problems: Vec<String>,
    },
    /// The channel isn't there.
    #[error("{name}: no column {channel}\n  hint: temperatures end in _c; there is: {}", .there.join(", "))]
    NoChannel {
        /// File name.
        name: String,
        /// Asked for.
        channel: String,
        /// Columns that are there.
        there: Vec<String>,
    },
}

impl MeasuredLog {
    /// Reads a CSV: the columns of a drive cycle, and every further column whose name ends in `_c`.
    ///
    /// # Errors
    /// What [`read_csv`] finds, and cells that aren't plausible temperatures.
    pub fn read(mut reader: impl Read, name: &str) -> Result<Self, LogError> {
        let mut bytes = Vec::new();
        reader
            .by_ref()
            .take(LARGEST)
            .read_to_end(&mut bytes)
            .map_err(|source| LogError::Io {
                name: name.to_owned(),
                source,
            })?;
        let (cycle, report) = read_csv(bytes.as_slice(), name)?;
        let measured = |word: &String| word.ends_with("_c");
        let wanted: Vec<String> = report
            .ignored
            .iter()
            .filter(|w| measured(w))
            .cloned()
            .collect();
        let (time_s, channels) = columns(&bytes, &wanted, name)?;
        Ok(Self {
            name: name.to_owned(),
            cycle: started(cycle, &channels),
            time_s: time_s.iter().map(|t| t - report.time_offset_s).collect(),
            channels,
        })
    }

    /// The readings of a channel [K].
    ///
    /// # Errors
    /// When there is no such column.
    pub fn channel(&self, channel: &str) -> Result<&[Option<f64>], LogError> {
        let found = self.channels.iter().find(|(n, _)| n == channel);
        found
            .map(|(_, v)| v.as_slice())
            .ok_or_else(|| LogError::NoChannel {
                name: self.name.clone(),
                channel: channel.to_owned(),
                there: self.channels.iter().map(|(n, _)| n.clone()).collect(),
            })
    }

    /// Outside air at a time [K], where logged.
    #[must_use]
    pub fn ambient_k(&self, time_s: f64) -> Option<f64> {
        self.cycle.at(time_s)?.ambient_k
    }

    /// Heat that the engine makes at a time, in a unit of its own for each kind of log, and road speed [m/s].
    #[must_use]
    pub fn drive(&self, time_s: f64) -> (f64, f64) {
        let Some(demand) = self.cycle.at(time_s) else {
            return (0.0, 0.0);
        };
        let speed = demand.speed_m_s;
        if demand.engine == EngineState::Off {
            return (0.0, speed);
        }
        let rpm = demand.rpm.unwrap_or(0.0);
        let heat = match demand.load {
            Load::Power(watts) => watts.max(0.0),
            Load::AirFlow(kg_s) => kg_s,
            Load::ManifoldPressure(pa) => pa * rpm,
            Load::FullLoadShare(share) => share * rpm,
            // rolling, drag and inertia of a middling car (estimate): only its ups and downs matter
            Load::Road => {
                let force = 200.0
                    + 0.4 * speed * speed
                    + 1500.0 * (demand.acceleration_m_s2 + 9.81 * demand.grade);
                (force * speed).max(0.0) + 4e3
            }
        };
        (heat, speed)
    }
}

/// Without a coolant temperature, a channel that begins far above outside air shows that the car was warm.
fn started(mut cycle: Cycle, channels: &[(String, Vec<Option<f64>>)]) -> Cycle {
    let Some(first) = cycle.at(0.0) else {
        return cycle;
    };
    if let (None, Some(ambient_k)) = (first.coolant_k, first.ambient_k) {
        let firsts = channels
            .iter()
            .filter_map(|(_, v)| v.iter().flatten().next());
        if firsts.fold(0.0, |a: f64, b| a.max(*b)) > ambient_k + WARM_CHANNEL_K {
            cycle.start = Start::Warm;
        }
    }
    cycle
}

type Columns = (Vec<f64>, Vec<(String, Vec<Option<f64>>)>);

/// Times and wanted columns of a file that has passed [`read_csv`]: its shape is known to be sound.
fn columns(bytes: &[u8], wanted: &[String], name: &str) -> Result<Columns, LogError> {
    let text =
        String::from_utf8_lossy(bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes)).into_owned();
    let head = text
        .lines()
        .find(|l| !l.trim().is_empty() && !l.starts_with('#'))
        .unwrap_or("");
    let separator = [b'\t', b';']
        .into_iter()
        .find(|&s| head.as_bytes().contains(&s))
        .unwrap_or(b',');
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(separator)
        .comment(Some(b'#'))
        .flexible(true)
        .has_headers(true)
        .from_reader(text.as_bytes());
    let mut problems = Vec::new();
    let headers = reader.headers().cloned().unwrap_or_default();
    let place = |word: &str| {
        headers
            .iter()
            .position(|h| h.trim().eq_ignore_ascii_case(word))
    };
    let time = place("time_s");
    let places: Vec<_> = wanted.iter().map(|w| place(w)).collect();
    let mut time_s = Vec::new();
    let mut channels: Vec<(String, Vec<Option<f64>>)> =
        wanted.iter().map(|w| (w.clone(), Vec::new())).collect();
    for record in reader.records().filter_map(Result::ok) {
        let number = |i: Option<usize>| {
            let cell = record.get(i?)?.trim();
            let swapped = if separator == b',' {
                cell.to_owned()
            } else {
                cell.replace(',', ".")
            };
            (!cell.is_empty()).then(|| {
                swapped
                    .parse::<f64>()
                    .ok()
                    .filter(|v| v.is_finite())
                    .ok_or(swapped)
            })
        };
        let Some(Ok(t)) = number(time) else { continue };
        time_s.push(t);
        for ((word, values), &i) in channels.iter_mut().zip(&places) {
            let line = record.position().map_or(0, csv::Position::line);
            let value = match number(i) {
                None => None,
                Some(Ok(c)) if (PLAUSIBLE_C.0..=PLAUSIBLE_C.1).contains(&c) => {
                    Some(c + ZERO_CELSIUS_K)
                }
                Some(Ok(c)) => {
                    let (low, high) = PLAUSIBLE_C;
                    problems.push(format!(
                        "line {line}, column {word} = {c}: outside {low} to {high} degC"
                    ));
                    None
                }
                Some(Err(cell)) => {
                    problems.push(format!(
                        "line {line}, column {word} = \"{cell}\": not a number"
                    ));
                    None
                }
            };
            values.push(value);
        }
    }
    if problems.is_empty() {
        return Ok((time_s, channels));
    }
    let more = problems.len().saturating_sub(20);
    problems.truncate(20);
    if more > 0 {
        problems.push(format!("and {more} more"));
    }
    Err(LogError::Cells {
        name: name.to_owned(),
        problems,
    })
}
