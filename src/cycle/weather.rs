//! Hourly weather from CSV.

use std::io::Read;

use super::columns::text_of;
use super::error::{Problem, Problems};

/// Most hours in a file: a year and a day.
const MOST_HOURS: usize = 8784;
/// Largest file read, bytes.
const LARGEST_FILE: u64 = 16 << 20;

/// Weather of an hour; what a file leaves out stays as on the sheet's day.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Hour {
    /// Hour from the start of the first day [h].
    pub hour: f64,
    /// Ambient [degC].
    pub ambient_c: f64,
    /// Relative humidity [%].
    pub humidity_percent: f64,
    /// Pressure [kPa].
    pub pressure_kpa: Option<f64>,
    /// Sun on a horizontal surface [W/m2].
    pub sun_w_m2: Option<f64>,
    /// Wind, 10 m above open ground as weather services give it [m/s].
    pub wind_m_s: Option<f64>,
}

/// Why there is no weather: everything wrong, with lines.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("weather \"{name}\" can't be used\n{problems}")]
pub struct WeatherError {
    /// Name of the file.
    pub name: String,
    /// Everything found.
    pub problems: Problems,
}

/// Name, least, most, unit, needed.
const COLUMNS: [(&str, f64, f64, &str, bool); 6] = [
    ("hour", 0.0, 8784.0, "h", true),
    ("ambient_c", -50.0, 60.0, "degC", true),
    ("humidity_percent", 0.0, 100.0, "%", true),
    ("pressure_kpa", 50.0, 110.0, "kPa", false),
    ("sun_w_m2", 0.0, 1400.0, "W/m2", false),
    ("wind_m_s", 0.0, 60.0, "m/s", false),
];

/// Reads hourly weather: columns `hour`, `ambient_c`, `humidity_percent`, and where there are
/// `pressure_kpa`, `sun_w_m2`, `wind_m_s` (10 m above open ground); others are ignored.
///
/// ```
/// let text = "hour,ambient_c,humidity_percent\n14,36.5,22\n15,37,20\n";
/// let hours = baysoak::cycle::read_weather(text.as_bytes(), "text")?;
/// assert_eq!(hours[1].ambient_c, 37.0);
/// # Ok::<(), baysoak::cycle::WeatherError>(())
/// ```
///
/// # Errors
/// Everything that is wrong in the text, with line and column.
pub fn read_weather(reader: impl Read, name: &str) -> Result<Vec<Hour>, WeatherError> {
    let mut problems = Vec::new();
    let mut bytes = Vec::new();
    let mut hours = Vec::new();
    match reader.take(LARGEST_FILE + 1).read_to_end(&mut bytes) {
        Ok(n) if n as u64 > LARGEST_FILE => {
            problems.push(Problem::new("file", "too large", "above 16 MB", ""));
        }
        Ok(_) => read(&bytes, &mut hours, &mut problems),
        Err(e) => problems.push(Problem::new("file", "unreadable", e.to_string(), "")),
    }
    if hours.is_empty() && problems.is_empty() {
        problems.push(Problem::new("file", "no hours", "at least 1 needed", ""));
    }
    if hours.len() > MOST_HOURS {
        let limit = format!("above {MOST_HOURS}");
        problems.push(Problem::new(
            "file",
            hours.len(),
            limit,
            "cut out the days that matter",
        ));
    }
    if problems.is_empty() {
        return Ok(hours);
    }
    Err(WeatherError {
        name: name.to_owned(),
        problems: Problems(problems),
    })
}

fn read(bytes: &[u8], hours: &mut Vec<Hour>, problems: &mut Vec<Problem>) {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let mut reader = csv::ReaderBuilder::new().flexible(true).from_reader(bytes);
    let header: Vec<String> = match reader.byte_headers() {
        Ok(found) => found
            .iter()
            .map(|h| text_of(h).trim().to_lowercase())
            .collect(),
        Err(e) => {
            problems.push(Problem::new("line 1", "unreadable", e.to_string(), ""));
            return;
        }
    };
    let place: Vec<Option<usize>> = COLUMNS
        .iter()
        .map(|c| header.iter().position(|h| h == c.0))
        .collect();
    for ((name, .., needed), at) in COLUMNS.iter().zip(&place) {
        if *needed && at.is_none() {
            let hint =
                "the first line names the columns, with units: hour,ambient_c,humidity_percent";
            problems.push(Problem::new(
                format!("line 1, column {name}"),
                "missing",
                "needed",
                hint,
            ));
        }
    }
    let mut before: Option<f64> = None;
    for record in reader.byte_records() {
        let record = match record {
            Ok(record) => record,
            Err(e) => {
                problems.push(Problem::new("file", "unreadable", e.to_string(), ""));
                return;
            }
        };
        let line = record.position().map_or(0, csv::Position::line);
        if record.iter().all(|cell| cell.trim_ascii().is_empty()) {
            continue;
        }
        let mut values = [None; COLUMNS.len()];
        for (i, at) in place.iter().enumerate() {
            if let Some(at) = at {
                values[i] = number(record.get(*at), i, line, problems);
            }
        }
        if let (Some(now), Some(last)) = (values[0], before)
            && now <= last
        {
            let limit = format!("hours must rise, the row before has {last}");
            problems.push(Problem::new(
                format!("line {line}, column hour"),
                now,
                limit,
                "sort the rows by time",
            ));
        }
        before = values[0].or(before);
        let [hour, ambient, humidity, pressure_kpa, sun_w_m2, wind_m_s] = values;
        hours.push(Hour {
            hour: hour.unwrap_or_default(),
            ambient_c: ambient.unwrap_or_default(),
            humidity_percent: humidity.unwrap_or_default(),
            pressure_kpa,
            sun_w_m2,
            wind_m_s,
        });
    }
}

/// The number in a cell; `None` with a problem, or for an empty cell of an optional column.
fn number(
    cell: Option<&[u8]>,
    column: usize,
    line: u64,
    problems: &mut Vec<Problem>,
) -> Option<f64> {
    let (name, low, high, unit, needed) = COLUMNS[column];
    let place = || format!("line {line}, column {name}");
    let text = cell.map(text_of).unwrap_or_default();
    let text = text.trim();
    if text.is_empty() {
        if needed {
            problems.push(Problem::new(place(), "empty", "every row needs it", ""));
        }
        return None;
    }
    let quoted = format!("\"{}\"", text.chars().take(40).collect::<String>());
    let Ok(value) = text.parse::<f64>() else {
        problems.push(Problem::new(
            place(),
            quoted,
            "not a number",
            "a point for the decimal, commas between columns",
        ));
        return None;
    };
    if !(low..=high).contains(&value) {
        let hint = match name {
            "pressure_kpa" => "1013 hPa are 101.3 kPa, at the place itself, not at sea level",
            "hour" => "count the hours from the start of the first day",
            _ => "",
        };
        problems.push(Problem::new(
            place(),
            quoted,
            format!("outside {low} to {high} {unit}"),
            hint,
        ));
        return None;
    }
    Some(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_problems_come_with_their_lines() {
        let text = "hour,ambient_c,humidity_percent,pressure_kpa\n\
                    1,20,50,100\n\
                    1,abc,50,100\n\
                    3,20,150,1013\n\
                    4,,nan,\n";
        let error = read_weather(text.as_bytes(), "w.csv").unwrap_err();
        let told = error.to_string();
        for part in [
            "w.csv",
            "line 3, column hour",
            "line 3, column ambient_c = \"abc\"",
            "line 4, column humidity_percent = \"150\"",
            "line 4, column pressure_kpa = \"1013\"",
            "101.3 kPa",
            "line 5, column ambient_c = empty",
            "line 5, column humidity_percent = \"nan\"",
        ] {
            assert!(told.contains(part), "no {part} in\n{told}");
        }
        assert_eq!(error.problems.0.len(), 6);
    }

    #[test]
    fn missing_columns_and_empty_files_are_told() {
        let told = |text: &str| read_weather(text.as_bytes(), "w").unwrap_err().to_string();
        assert!(told("hour,temp\n1,2\n").contains("column ambient_c = missing"));
        assert!(told("hour,ambient_c,humidity_percent\n").contains("no hours"));
        assert!(told("").contains("missing"));
    }
}
