//! What is wrong with a sheet, all of it at once.

use std::fmt;

use thiserror::Error;

/// One thing wrong in a sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    /// Line, from 1.
    pub line: usize,
    /// Column, from 1, in characters.
    pub column: usize,
    /// Key path; list entries carry their name, `exhaust[downpipe].wall_mm`, or their number
    /// from 1 where they have none.
    pub key: String,
    /// The value as written; empty where there is none.
    pub value: String,
    /// The limit that the value breaks, in words; empty where there is none.
    pub limit: String,
    /// What is wrong.
    pub message: String,
    /// What to do about it; may be empty.
    pub hint: String,
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: ", self.line)?;
        if !self.key.is_empty() {
            write!(f, "{}", self.key)?;
            if !self.value.is_empty() {
                write!(f, " = {}", self.value)?;
            }
            f.write_str(": ")?;
        }
        f.write_str(&self.message)?;
        if !self.hint.is_empty() {
            write!(f, "\n  hint: {}", self.hint)?;
        }
        Ok(())
    }
}

/// A sheet that can't be used, with every problem found in it.
#[derive(Debug, Clone, Error)]
#[error("{}", listed(file, problems))]
pub struct SheetError {
    /// File name as given.
    pub file: String,
    /// Problems in line order; never empty.
    pub problems: Vec<Problem>,
}

fn listed(file: &str, problems: &[Problem]) -> String {
    let lines: Vec<String> = problems.iter().map(|p| format!("{file}:{p}")).collect();
    lines.join("\n")
}

impl SheetError {
    /// Sorts the problems by place and drops exact repeats.
    pub(crate) fn new(file: &str, mut problems: Vec<Problem>) -> Self {
        problems.sort_by(|a, b| (a.line, a.column, &a.key).cmp(&(b.line, b.column, &b.key)));
        problems.dedup();
        Self {
            file: file.to_owned(),
            problems,
        }
    }
}

/// The candidate nearest to `name`, if one is near enough to be a slip of the pen.
pub(crate) fn nearest<'a>(
    name: &str,
    candidates: impl Iterator<Item = &'a str>,
) -> Option<&'a str> {
    let wanted = name.to_lowercase();
    candidates
        .map(|c| {
            (
                strsim::normalized_damerau_levenshtein(&wanted, &c.to_lowercase()),
                c,
            )
        })
        .filter(|(score, _)| *score >= 0.6)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, c)| c)
}

/// `did you mean x?`, or the list of what is there.
pub(crate) fn mean_or_list<'a>(
    name: &str,
    candidates: impl Iterator<Item = &'a str> + Clone,
) -> String {
    match nearest(name, candidates.clone()) {
        Some(near) => format!("did you mean {near}?"),
        None => format!("there is: {}", candidates.collect::<Vec<_>>().join(", ")),
    }
}
