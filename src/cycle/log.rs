//! Traces and logs from CSV.

use std::io::Read;
use std::path::Path;

use super::columns::{Column, Row, text_of};
use super::error::{CycleError, CycleWarning, Problem};
use super::samples::{LoadSource, engine, phases, point};
use super::types::{Cycle, EngineState, LONGEST_CYCLE_S, Point, Start};

/// Largest file read, bytes. Estimate: a day at 50 Hz is below.
const LARGEST_FILE: u64 = 256 << 20;
/// Longer gaps between rows than this are warned of, s.
const GAP_S: f64 = 10.0;
/// Steepest change of speed without a warning, m/s2 (estimate: 1.5 g).
const JUMP_M_S2: f64 = 15.0;
/// Coolant at least this hot at the first row means a warm start, K (estimate: the thermostat is near).
const WARM_COOLANT_K: f64 = 343.15;

/// How a log was read.
#[derive(Debug, Clone, PartialEq)]
pub struct LogReport {
    /// Rows used.
    pub rows: usize,
    /// Rows before the first speed, or without any value, left out.
    pub skipped_rows: usize,
    /// Empty cells filled with the last value (or, at the start, the first).
    pub filled_cells: usize,
    /// Time in the file at which the cycle starts, s: cycle time + this = log time.
    pub time_offset_s: f64,
    /// Which column drives the engine.
    pub load: LoadSource,
    /// Columns of the file that aren't used.
    pub ignored: Vec<String>,
    /// What to know before trusting the trace.
    pub warnings: Vec<CycleWarning>,
}

/// Reads a trace or log from a CSV file.
///
/// # Errors
/// The file can't be read, or everything that is wrong in it, with line and column.
pub fn from_csv(path: &Path, name: &str) -> Result<Cycle, CycleError> {
    let file = std::fs::File::open(path).map_err(|source| CycleError::Read {
        name: path.display().to_string(),
        source,
    })?;
    read_csv(file, name).map(|(cycle, _)| cycle)
}

/// Reads a trace or log in CSV and says how it was understood. Columns: `time_s`, `speed_kmh`, and optionally
/// `grade_percent, rpm, load_percent, map_kpa, maf_gs, power_kw, ambient_c` (or `amb_c`), `coolant_c` (or `ect_c`),
/// `engine_on`. The cycle starts at the first row with a speed. The engine is off where `engine_on` is 0 or `rpm` is
/// below 1.
///
/// # Errors
/// The reader fails, or everything that is wrong in the text, with line and column.
pub fn read_csv(reader: impl Read, name: &str) -> Result<(Cycle, LogReport), CycleError> {
    let mut bytes = Vec::new();
    reader
        .take(LARGEST_FILE + 1)
        .read_to_end(&mut bytes)
        .map_err(|source| CycleError::Read {
            name: name.to_owned(),
            source,
        })?;
    if bytes.len() as u64 > LARGEST_FILE {
        let limit = format!("larger than {} MB", LARGEST_FILE >> 20);
        let problem = Problem::new(
            "file",
            "its size",
            limit,
            "thin the log out, 1 Hz is enough",
        );
        return Err(CycleError::invalid(name, vec![problem]));
    }
    let table = Table::read(&bytes).map_err(|problems| CycleError::invalid(name, problems))?;
    table.cycle(name)
}

struct Table {
    rows: Vec<Row>,
    columns: Vec<Option<Column>>,
    ignored: Vec<String>,
    warnings: Vec<CycleWarning>,
    skipped_rows: usize,
    filled_cells: usize,
}

impl Table {
    fn read(bytes: &[u8]) -> Result<Self, Vec<Problem>> {
        if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
            let hint = "save it as UTF-8";
            return Err(vec![Problem::new("file", "UTF-16", "not CSV text", hint)]);
        }
        let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
        let separator = separator(bytes);
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .comment(Some(b'#'))
            .delimiter(separator)
            .from_reader(bytes);
        let mut record = csv::ByteRecord::new();
        let mut problems = Vec::new();
        if !next(&mut reader, &mut record, &mut problems) {
            problems.push(Problem::new(
                "file",
                "no rows",
                "empty",
                "the first line must name the columns: time_s,speed_kmh",
            ));
            return Err(problems);
        }
        let mut table = Self::from_header(&record, &mut problems);
        if !problems.is_empty() {
            return Err(problems);
        }
        while next(&mut reader, &mut record, &mut problems) {
            table.push(&record, separator != b',', &mut problems);
        }
        table.check_time(&mut problems);
        if problems.is_empty() {
            table.fill(&mut problems);
        }
        if problems.is_empty() {
            Ok(table)
        } else {
            Err(problems)
        }
    }

    fn from_header(record: &csv::ByteRecord, problems: &mut Vec<Problem>) -> Self {
        let mut table = Self {
            rows: Vec::new(),
            columns: Vec::new(),
            ignored: Vec::new(),
            warnings: Vec::new(),
            skipped_rows: 0,
            filled_cells: 0,
        };
        let line = record.position().map_or(1, csv::Position::line);
        for cell in record {
            let word = text_of(cell).trim().to_ascii_lowercase();
            let column = Column::from_word(&word);
            if let Some(known) = column
                && table.columns.contains(&column)
            {
                problems.push(Problem::new(
                    format!("line {line}, column {}", known.word()),
                    format!("\"{word}\""),
                    "column given twice",
                    "remove or rename one of them",
                ));
            }
            if column.is_none() {
                if let Some(known) = look_alike(&word) {
                    table.warnings.push(CycleWarning::LooksLike {
                        column: word.clone(),
                        known,
                    });
                }
                table.ignored.push(word);
            }
            table.columns.push(column);
        }
        for needed in [Column::Time, Column::Speed] {
            if !table.columns.contains(&Some(needed)) {
                let near = table
                    .ignored
                    .iter()
                    .find(|word| look_alike(word) == Some(needed.word()));
                let hint = match near {
                    Some(near) => {
                        format!("is \"{near}\" meant? rename it, in the unit of the name")
                    }
                    None => "the first line must name the columns: time_s,speed_kmh".to_owned(),
                };
                problems.push(Problem::new(
                    format!("line {line}, column {}", needed.word()),
                    "missing",
                    "needed",
                    hint,
                ));
            }
        }
        table
    }

    fn push(&mut self, record: &csv::ByteRecord, decimal: bool, problems: &mut Vec<Problem>) {
        let line = record.position().map_or(0, csv::Position::line);
        if record.iter().all(|cell| cell.trim_ascii().is_empty()) {
            self.skipped_rows += 1;
            return;
        }
        if record.len() != self.columns.len() {
            let hint = if decimal || record.len() < self.columns.len() {
                ""
            } else {
                "a decimal comma needs ; between the columns"
            };
            problems.push(Problem::new(
                format!("line {line}"),
                format!("{} cells", record.len()),
                format!("the header has {}", self.columns.len()),
                hint,
            ));
            return;
        }
        let mut row = Row {
            line,
            cells: [None; Column::ALL.len()],
        };
        for (cell, column) in record.iter().zip(&self.columns) {
            let Some(column) = *column else { continue };
            match column.number(&text_of(cell), line, decimal) {
                Ok(value) => row.cells[column as usize] = value,
                Err(problem) => problems.push(problem),
            }
        }
        let time_bad = problems
            .last()
            .is_some_and(|p| p.place == format!("line {line}, column {}", Column::Time.word()));
        if row.get(Column::Time).is_none() && !time_bad {
            problems.push(Problem::new(
                format!("line {line}, column time_s"),
                "empty",
                "every row needs its time",
                "",
            ));
        }
        self.rows.push(row);
    }

    fn check_time(&mut self, problems: &mut Vec<Problem>) {
        let mut before: Option<f64> = None;
        for row in &self.rows {
            let Some(time_s) = row.get(Column::Time) else {
                continue;
            };
            if let Some(before_s) = before {
                if time_s <= before_s {
                    problems.push(Problem::new(
                        format!("line {}, column time_s", row.line),
                        time_s,
                        format!("time must rise, the row before has {before_s}"),
                        "sort the log by time, or split it where the logger restarted",
                    ));
                } else if time_s - before_s > GAP_S {
                    self.warnings.push(CycleWarning::Gap {
                        line: row.line,
                        gap_s: time_s - before_s,
                    });
                }
            }
            before = Some(time_s);
        }
    }

    /// Drops rows before the first speed and fills empty cells, so that each column left has a value in each row.
    fn fill(&mut self, problems: &mut Vec<Problem>) {
        let first = self
            .rows
            .iter()
            .position(|row| row.get(Column::Speed).is_some());
        let first = first.unwrap_or(self.rows.len());
        self.rows.drain(..first);
        self.skipped_rows += first;
        if self.rows.len() < 2 {
            let hint = "a trace needs a time and a speed in each";
            problems.push(Problem::new(
                "file",
                format!("{} rows with a speed", self.rows.len()),
                "at least 2 needed",
                hint,
            ));
            return;
        }
        let length_s = self.length_s();
        if length_s > LONGEST_CYCLE_S {
            problems.push(Problem::new(
                "column time_s",
                format!("{length_s} s"),
                format!("longer than {LONGEST_CYCLE_S} s, a day"),
                "time is in seconds; cut the log to one day",
            ));
        }
        for column in self.columns.iter().flatten() {
            let i = *column as usize;
            let Some(first_value) = self.rows.iter().find_map(|row| row.cells[i]) else {
                self.warnings.push(CycleWarning::EmptyColumn {
                    column: column.word(),
                });
                continue;
            };
            let mut held = first_value;
            for row in &mut self.rows {
                match row.cells[i] {
                    Some(value) => held = value,
                    None => {
                        row.cells[i] = Some(held);
                        self.filled_cells += 1;
                    }
                }
            }
        }
        self.warn_jumps();
    }

    fn length_s(&self) -> f64 {
        let time = |row: Option<&Row>| row.and_then(|r| r.get(Column::Time)).unwrap_or(0.0);
        time(self.rows.last()) - time(self.rows.first())
    }

    fn warn_jumps(&mut self) {
        for pair in self.rows.windows(2) {
            let change = |column: Column| {
                let value = |row: &Row| row.get(column).unwrap_or(0.0);
                value(&pair[1]) - value(&pair[0])
            };
            let acceleration_m_s2 = change(Column::Speed) / 3.6 / change(Column::Time);
            if acceleration_m_s2.abs() > JUMP_M_S2 {
                self.warnings.push(CycleWarning::Jump {
                    line: pair[1].line,
                    acceleration_m_s2,
                });
            }
        }
    }

    /// The load column to use, in order of how directly it gives the engine's air.
    fn load_source(&mut self) -> LoadSource {
        let has = |column: Column| {
            let row = self.rows.first();
            row.is_some_and(|row| row.get(column).is_some())
        };
        let with_rpm = [
            (Column::Maf, LoadSource::AirFlow),
            (Column::Map, LoadSource::ManifoldPressure),
            (Column::LoadPercent, LoadSource::FullLoadShare),
        ];
        if has(Column::Rpm)
            && let Some((_, source)) = with_rpm.into_iter().find(|(column, _)| has(*column))
        {
            return source;
        }
        for (column, _) in with_rpm {
            if has(column) && !has(Column::Rpm) {
                self.warnings.push(CycleWarning::NeedsRpm {
                    column: column.word(),
                });
            }
        }
        if self
            .rows
            .first()
            .is_some_and(|row| row.get(Column::Power).is_some())
        {
            LoadSource::Power
        } else {
            LoadSource::Road
        }
    }

    fn cycle(mut self, name: &str) -> Result<(Cycle, LogReport), CycleError> {
        let load = self.load_source();
        let time = self.rows.first().and_then(|row| row.get(Column::Time));
        let time_offset_s = time.unwrap_or(0.0);
        let samples: Vec<(EngineState, Point)> = self
            .rows
            .iter()
            .map(|row| (engine(row), point(row, load, time_offset_s)))
            .collect();
        let phases = phases(&samples).map_err(|found| CycleError::invalid(name, found))?;
        let coolant_k = samples.first().and_then(|(_, p)| p.coolant_k);
        let start = match coolant_k {
            Some(coolant_k) if coolant_k >= WARM_COOLANT_K => Start::Warm,
            _ => Start::Cold,
        };
        let cycle = Cycle::new(name, name, "CSV file", start, phases)?;
        let report = LogReport {
            rows: self.rows.len(),
            skipped_rows: self.skipped_rows,
            filled_cells: self.filled_cells,
            time_offset_s,
            load,
            ignored: self.ignored,
            warnings: self.warnings,
        };
        Ok((cycle, report))
    }
}

/// Next record; a CSV error becomes a problem and ends the reading.
fn next(
    reader: &mut csv::Reader<&[u8]>,
    record: &mut csv::ByteRecord,
    problems: &mut Vec<Problem>,
) -> bool {
    match reader.read_byte_record(record) {
        Ok(more) => more,
        Err(error) => {
            problems.push(Problem::new("file", "CSV", error.to_string(), ""));
            false
        }
    }
}

/// The separator that occurs most often in the first line that isn't a comment.
pub(super) fn separator(bytes: &[u8]) -> u8 {
    let mut lines = bytes.split(|&b| b == b'\n' || b == b'\r');
    let header = lines.find(|line| !line.trim_ascii().is_empty() && !line.starts_with(b"#"));
    let header = header.unwrap_or_default();
    let count = |separator: u8| header.iter().filter(|&&b| b == separator).count();
    // The last of equals wins in max_by_key, so the comma stands last.
    let candidates = [b'\t', b';', b','].into_iter();
    candidates.max_by_key(|&c| count(c)).unwrap_or(b',')
}

fn look_alike(word: &str) -> Option<&'static str> {
    let known = Column::ALL.map(Column::word).into_iter();
    let scored = known.map(|known| (strsim::jaro_winkler(word, known), known));
    let best = scored.max_by(|a, b| a.0.total_cmp(&b.0));
    best.filter(|(score, _)| *score > 0.86)
        .map(|(_, known)| known)
}
