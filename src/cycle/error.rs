//! Errors and warnings about cycles, all of one input at once.

use std::fmt;

/// Problems shown before the rest is only counted.
const SHOWN: usize = 20;

/// One thing wrong with a cycle, a sheet phase or a log.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// Key path, or line and column.
    pub place: String,
    /// The value found.
    pub value: String,
    /// What was expected of it.
    pub limit: String,
    /// A way out; may be empty.
    pub hint: String,
}

impl Problem {
    /// A problem at `place`.
    pub fn new(
        place: impl Into<String>,
        value: impl fmt::Display,
        limit: impl Into<String>,
        hint: impl Into<String>,
    ) -> Self {
        Self {
            place: place.into(),
            value: value.to_string(),
            limit: limit.into(),
            hint: hint.into(),
        }
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} = {}: {}", self.place, self.value, self.limit)?;
        if !self.hint.is_empty() {
            write!(f, "; hint: {}", self.hint)?;
        }
        Ok(())
    }
}

/// All problems of one input, in the order found. Displays the first twenty and counts the others.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problems(pub Vec<Problem>);

impl fmt::Display for Problems {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, problem) in self.0.iter().take(SHOWN).enumerate() {
            if i > 0 {
                writeln!(f)?;
            }
            write!(f, "{problem}")?;
        }
        if self.0.len() > SHOWN {
            write!(f, "\nand {} more", self.0.len() - SHOWN)?;
        }
        Ok(())
    }
}

/// Why there is no cycle.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum CycleError {
    /// The input has problems; all of them are listed.
    #[error("cycle \"{name}\" can't be used\n{problems}")]
    Invalid {
        /// Name of the cycle or file.
        name: String,
        /// Everything found.
        problems: Problems,
    },
    /// No built-in cycle has this name.
    #[error("unknown cycle \"{name}\"; hint: {}", near_text(near))]
    UnknownName {
        /// The name asked for.
        name: String,
        /// Names that look alike, best first; all names if none does.
        near: Vec<&'static str>,
    },
    /// The file can't be read.
    #[error("cycle file {name} can't be read: {source}")]
    Read {
        /// File name.
        name: String,
        /// What the system says.
        source: std::io::Error,
    },
    /// The cycle's TOML can't be parsed.
    #[error("cycle \"{name}\" isn't a cycle description: {source}")]
    Parse {
        /// Name of the cycle.
        name: String,
        /// What the parser says.
        source: Box<toml::de::Error>,
    },
}

impl CycleError {
    /// Wraps a list of problems.
    pub(crate) fn invalid(name: &str, problems: Vec<Problem>) -> Self {
        Self::Invalid {
            name: name.to_owned(),
            problems: Problems(problems),
        }
    }

    /// The problems behind this error, if it is about values.
    pub fn problems(&self) -> &[Problem] {
        match self {
            Self::Invalid { problems, .. } => &problems.0,
            _ => &[],
        }
    }
}

fn near_text(near: &[&str]) -> String {
    format!("did you mean {}", near.join(", "))
}

/// Something odd in a trace that doesn't stop it from being used.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum CycleWarning {
    /// Nothing was logged for longer than ten seconds; the values in between are interpolated.
    Gap {
        /// Line of the row after the gap.
        line: u64,
        /// Length of the gap, s.
        gap_s: f64,
    },
    /// A column was present but can't be used without `rpm`.
    NeedsRpm {
        /// Column name.
        column: &'static str,
    },
    /// A column holds no value at all.
    EmptyColumn {
        /// Column name.
        column: &'static str,
    },
    /// An ignored column looks like one we know.
    LooksLike {
        /// Name in the file.
        column: String,
        /// The known name.
        known: &'static str,
    },
    /// The speed changes faster than tyres allow.
    Jump {
        /// Line of the row after the jump.
        line: u64,
        /// Acceleration, m/s2.
        acceleration_m_s2: f64,
    },
}

impl fmt::Display for CycleWarning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Gap { line, gap_s } => write!(
                f,
                "nothing logged for {gap_s:.1} s before line {line}; interpolated"
            ),
            Self::NeedsRpm { column } => {
                write!(f, "column {column} isn't used, it needs a column rpm")
            }
            Self::EmptyColumn { column } => write!(f, "column {column} has no values"),
            Self::LooksLike { column, known } => {
                write!(f, "column \"{column}\" is ignored; did you mean {known}")
            }
            Self::Jump {
                line,
                acceleration_m_s2,
            } => write!(
                f,
                "speed changes by {acceleration_m_s2:.1} m/s2 before line {line}, more than tyres allow"
            ),
        }
    }
}
