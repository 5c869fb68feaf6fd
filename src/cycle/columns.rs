//! The columns a log may have, and how a cell becomes a number.

use super::error::Problem;

/// A column we know.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Column {
    Time,
    Speed,
    Grade,
    Rpm,
    LoadPercent,
    Map,
    Maf,
    Power,
    Ambient,
    Coolant,
    EngineOn,
}

impl Column {
    pub(super) const ALL: [Self; 11] = [
        Self::Time,
        Self::Speed,
        Self::Grade,
        Self::Rpm,
        Self::LoadPercent,
        Self::Map,
        Self::Maf,
        Self::Power,
        Self::Ambient,
        Self::Coolant,
        Self::EngineOn,
    ];

    /// Header word.
    pub(super) fn word(self) -> &'static str {
        match self {
            Self::Time => "time_s",
            Self::Speed => "speed_kmh",
            Self::Grade => "grade_percent",
            Self::Rpm => "rpm",
            Self::LoadPercent => "load_percent",
            Self::Map => "map_kpa",
            Self::Maf => "maf_gs",
            Self::Power => "power_kw",
            Self::Ambient => "ambient_c",
            Self::Coolant => "coolant_c",
            Self::EngineOn => "engine_on",
        }
    }

    /// Column for a header word, loggers' abbreviations included.
    pub(super) fn from_word(word: &str) -> Option<Self> {
        match word {
            "amb_c" => Some(Self::Ambient),
            "ect_c" => Some(Self::Coolant),
            _ => Self::ALL.into_iter().find(|column| column.word() == word),
        }
    }

    /// Plausible values and their unit. Estimates, wide enough for any road car, except where the unit sets them.
    fn range(self) -> (f64, f64, &'static str) {
        match self {
            Self::Time => (-1e12, 1e12, "s"),
            Self::Speed => (0.0, 450.0, "km/h"),
            Self::Grade => (-40.0, 40.0, "%"),
            Self::Rpm => (0.0, 20_000.0, "1/min"),
            Self::LoadPercent => (0.0, 100.0, "%"),
            Self::Map => (10.0, 600.0, "kPa"),
            Self::Maf => (0.0, 2000.0, "g/s"),
            Self::Power => (-200.0, 1500.0, "kW"),
            Self::Ambient => (-60.0, 60.0, "degrees Celsius"),
            Self::Coolant => (-60.0, 150.0, "degrees Celsius"),
            Self::EngineOn => (0.0, 1.0, "(0 off, 1 running)"),
        }
    }

    fn range_hint(self) -> &'static str {
        match self {
            Self::Speed => "speed is in km/h",
            Self::Map => "absolute pressure in kPa: 100 is atmospheric, 1 bar of boost is 200",
            Self::Maf => "air flow is in g/s; kg/h divided by 3.6 is g/s",
            Self::Ambient | Self::Coolant => "temperatures are in degrees Celsius",
            _ => "",
        }
    }

    /// The number in a cell; `None` for an empty one.
    pub(super) fn number(
        self,
        cell: &str,
        line: u64,
        comma_is_decimal: bool,
    ) -> Result<Option<f64>, Problem> {
        let text = cell.trim();
        if text.is_empty() {
            return Ok(None);
        }
        let place = format!("line {line}, column {}", self.word());
        let quoted = format!("\"{}\"", text.chars().take(40).collect::<String>());
        let swapped = comma_is_decimal && text.matches(',').count() == 1 && !text.contains('.');
        let parsed = if swapped {
            text.replace(',', ".").parse::<f64>()
        } else {
            text.parse::<f64>()
        };
        let Ok(value) = parsed else {
            let hint = if text.contains(',') {
                "no thousands separators; a decimal comma needs ; between the columns"
            } else if self == Self::Time && text.contains(':') {
                "time is in seconds, not a clock time"
            } else {
                "leave a cell empty where nothing was logged"
            };
            return Err(Problem::new(place, quoted, "not a number", hint));
        };
        if !value.is_finite() {
            let hint = "leave a cell empty where nothing was logged";
            return Err(Problem::new(place, quoted, "not a finite number", hint));
        }
        let (low, high, unit) = self.range();
        if !(low..=high).contains(&value) {
            let limit = format!("outside {low} to {high} {unit}");
            return Err(Problem::new(place, value, limit, self.range_hint()));
        }
        if self == Self::EngineOn && value > 0.0 && value < 1.0 {
            return Err(Problem::new(place, value, "neither 0 nor 1", ""));
        }
        Ok(Some(value))
    }
}

/// One row of numbers.
pub(super) struct Row {
    /// Line in the file.
    pub(super) line: u64,
    /// A value per column of `Column::ALL`.
    pub(super) cells: [Option<f64>; Column::ALL.len()],
}

impl Row {
    pub(super) fn get(&self, column: Column) -> Option<f64> {
        self.cells[column as usize]
    }
}

/// Text of bytes that are UTF-8, or else Latin-1 / cp1252 (only letters and signs in headers differ between the two).
pub(super) fn text_of(bytes: &[u8]) -> String {
    match std::str::from_utf8(bytes) {
        Ok(text) => text.to_owned(),
        Err(_) => bytes.iter().map(|&b| char::from(b)).collect(),
    }
}
