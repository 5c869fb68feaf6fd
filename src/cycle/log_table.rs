//! A logger's file as it is: header words and cells, whatever the separator, comma or preamble.

use super::columns::text_of;
use super::error::Problem;
use super::log::separator;

/// Rows looked at for the header: loggers put a few lines about themselves first.
const PREAMBLE_ROWS: usize = 40;
/// Share of words in a header row that aren't numbers.
const WORDS_IN_HEADER: f64 = 0.6;

/// Cells of a file. What isn't a number is NaN inside this module's table only, never further.
pub(super) struct RawTable {
    /// Header words.
    pub(super) headers: Vec<String>,
    /// Text of the row below the header, where that holds units.
    pub(super) units: Vec<String>,
    /// One row each: line, cells.
    pub(super) rows: Vec<(u64, Vec<Cell>)>,
    /// Rows of another length than the header.
    pub(super) ragged: usize,
    /// Rows above the header.
    pub(super) preamble: usize,
}

/// A cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Cell {
    Empty,
    Number(f64),
    /// Neither empty nor a finite number.
    Word,
}

impl RawTable {
    /// Reads the text.
    pub(super) fn read(bytes: &[u8]) -> Result<Self, Vec<Problem>> {
        if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
            let hint = "save it as UTF-8";
            return Err(vec![Problem::new("file", "UTF-16", "not CSV text", hint)]);
        }
        let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
        let separator = separator(bytes);
        let decimal_comma = separator != b',';
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .comment(Some(b'#'))
            .delimiter(separator)
            .from_reader(bytes);
        let mut first: Vec<(u64, Vec<String>)> = Vec::new();
        let mut table: Option<Self> = None;
        let mut record = csv::ByteRecord::new();
        loop {
            match reader.read_byte_record(&mut record) {
                Ok(true) => {}
                Ok(false) => break,
                Err(e) => return Err(vec![Problem::new("file", "CSV", e.to_string(), "")]),
            }
            let line = record.position().map_or(0, csv::Position::line);
            match &mut table {
                Some(table) => table.push(line, &record, decimal_comma),
                None => {
                    let texts = record.iter().map(|c| text_of(c).trim().to_owned());
                    first.push((line, texts.collect()));
                    if first.len() > PREAMBLE_ROWS {
                        break;
                    }
                    table = Self::headed(&first, decimal_comma);
                }
            }
        }
        let none = || {
            let limit = "no row of names with numbers below";
            let hint = "the first line must name the columns: time_s,speed_kmh,rpm";
            vec![Problem::new("file", "no header", limit, hint)]
        };
        let mut table = table.ok_or_else(none)?;
        // a row may end in an empty cell that the header lacks, or the other way round
        table
            .headers
            .iter_mut()
            .for_each(|h| *h = h.trim().to_owned());
        Ok(table)
    }

    /// A table once the header is known: the row of words right above the first row of numbers.
    fn headed(rows: &[(u64, Vec<String>)], decimal_comma: bool) -> Option<Self> {
        let (_, last) = rows.last()?;
        let filled = last.iter().filter(|c| !c.is_empty()).count();
        let numbers = last
            .iter()
            .filter(|c| matches!(cell(c, decimal_comma), Cell::Number(_)))
            .count();
        if numbers < 2 && !(numbers == 1 && last.len() > 1) || 2 * numbers < filled {
            return None;
        }
        let is_words = |row: &[String]| {
            let words = row
                .iter()
                .filter(|c| matches!(cell(c, decimal_comma), Cell::Word))
                .count();
            row.len() == last.len() && words as f64 >= WORDS_IN_HEADER * row.len() as f64
        };
        let above = rows.len().checked_sub(2)?;
        let (_, nearest) = &rows[above];
        if !is_words(nearest) {
            return None;
        }
        // units on a row of their own are short and unlike names
        let second = above
            .checked_sub(1)
            .map(|i| &rows[i].1)
            .filter(|row| is_words(row));
        let short = nearest.iter().all(|w| w.chars().count() <= 8);
        let (headers, units, preamble) = match second {
            Some(names) if short => (names.clone(), nearest.clone(), above - 1),
            _ => (nearest.clone(), Vec::new(), above),
        };
        let mut table = Self {
            headers,
            units,
            rows: Vec::new(),
            ragged: 0,
            preamble,
        };
        let (line, cells) = rows.last()?;
        let cells = cells.iter().map(|c| cell(c, decimal_comma)).collect();
        table.rows.push((*line, cells));
        Some(table)
    }

    fn push(&mut self, line: u64, record: &csv::ByteRecord, decimal_comma: bool) {
        if record.iter().all(|c| c.trim_ascii().is_empty()) {
            return;
        }
        if record.len() != self.headers.len() {
            self.ragged += 1;
            return;
        }
        let cells = record.iter().map(|c| cell(&text_of(c), decimal_comma));
        self.rows.push((line, cells.collect()));
    }
}

fn cell(text: &str, decimal_comma: bool) -> Cell {
    let text = text.trim();
    if text.is_empty() || matches!(text, "-" | "--") {
        return Cell::Empty;
    }
    let text = if decimal_comma && text.matches(',').count() == 1 && !text.contains('.') {
        text.replace(',', ".")
    } else {
        text.to_owned()
    };
    match text.parse::<f64>() {
        Ok(v) if v.is_finite() => Cell::Number(v),
        Ok(_) => Cell::Word,
        Err(_) => clock(&text).map_or(Cell::Word, Cell::Number),
    }
}

/// Seconds of the day from `hh:mm:ss`, with or without a date ahead.
fn clock(text: &str) -> Option<f64> {
    let time = text.rsplit(['T', ' ']).next()?.trim_end_matches('Z');
    let mut parts = time.split(':');
    let mut seconds = 0.0;
    let count = time.matches(':').count();
    if !(1..=2).contains(&count) {
        return None;
    }
    for _ in 0..=count {
        let part: f64 = parts.next()?.parse().ok()?;
        if !(0.0..60.0).contains(&part) && seconds > 0.0 || !part.is_finite() || part < 0.0 {
            return None;
        }
        seconds = 60.0 * seconds + part;
    }
    // hh:mm has no seconds
    Some(if count == 1 { 60.0 * seconds } else { seconds })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clock_times_become_seconds_of_the_day() {
        assert_eq!(clock("01:02:03.5"), Some(3723.5));
        assert_eq!(clock("2020-05-01T01:02:03Z"), Some(3723.0));
        assert_eq!(clock("1:70:00"), None);
        assert_eq!(clock("abc"), None);
    }

    #[test]
    fn a_header_is_found_below_a_preamble_and_above_units() {
        let text = "Logger 3\nSerial,12\nTime,Speed,RPM\ns,km/h,1/min\n0,1,2\n1,2,3\n";
        let table = RawTable::read(text.as_bytes()).unwrap_or_else(|_| panic!("no table"));
        assert_eq!(table.headers, ["Time", "Speed", "RPM"]);
        assert_eq!(table.units, ["s", "km/h", "1/min"]);
        assert_eq!((table.rows.len(), table.preamble), (2, 2));
    }
}
