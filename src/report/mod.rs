//! Reports: terminal screen, JSON, CSV and pictures, all made from the same findings.
//!
//! Nothing here prints or chooses a file name; each function returns text or writes where it is told.

mod advice_plot;
pub mod advice_terminal;
pub mod claim;
pub mod compare_terminal;
mod compare_text;
pub mod csv;
mod finite;
pub mod fit_screen;
mod grid;
mod hot_day_plot;
pub mod hot_day_terminal;
pub mod html;
pub mod json;
pub mod judge;
mod page;
pub mod plan;
pub mod plot;
mod plot_axes;
mod plot_canvas;
mod plot_differences;
pub mod plot_fit;
mod plot_heat;
mod plot_time;
pub mod rank_terminal;
mod soak_plot;
pub mod soak_terminal;
pub mod terminal;

pub use grid::{Align, clean, grid, wrap};

use anstyle::{AnsiColor, Style};

use crate::study::findings::{Figure, Findings};

/// Styles of the screens.
const STRONG: Style = Style::new().bold();
const ALARM: Style = AnsiColor::Red.on_default().bold();
const QUIET: Style = Style::new().dimmed();
const PLAIN: Style = Style::new();

/// Why a report couldn't be made.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ReportError {
    /// A result isn't a finite number: the run is wrong, and writing it would hide that.
    #[error("result {place} is {value}, which is not a finite number")]
    NotFinite {
        /// Path of the value.
        place: String,
        /// The value.
        value: f64,
    },
    /// A row of the series has the wrong length.
    #[error("row {row} of the series has {got} values where {want} columns are named")]
    Ragged {
        /// Row, from 0.
        row: usize,
        /// Values in it.
        got: usize,
        /// Names.
        want: usize,
    },
    /// JSON text couldn't be made.
    #[error("results can't be written as json: {0}")]
    Json(#[from] serde_json::Error),
    /// CSV couldn't be written.
    #[error("series can't be written as csv: {0}")]
    Csv(#[from] ::csv::Error),
    /// Writing failed.
    #[error("{0}")]
    Io(#[from] std::io::Error),
    /// A picture has nothing to show.
    #[error("nothing to draw in the picture {picture}: {missing} is missing")]
    NothingToDraw {
        /// Name of the picture.
        picture: &'static str,
        /// What isn't there.
        missing: &'static str,
    },
    /// The drawing library failed.
    #[error("drawing failed: {0}")]
    Drawing(String),
}

/// Value of the figure with this id at this place.
pub fn figure<'a>(findings: &'a Findings, id: &str, place: &str) -> Option<&'a Figure> {
    findings
        .figures
        .iter()
        .find(|f| f.id == id && f.place == place)
}

/// All figures with this id, in their order.
pub fn figures_of<'a>(findings: &'a Findings, id: &'a str) -> impl Iterator<Item = &'a Figure> {
    findings.figures.iter().filter(move |f| f.id == id)
}

/// Whether any limit is exceeded.
pub fn over_a_limit(findings: &Findings) -> bool {
    findings.margins.iter().any(|m| m.margin_k < 0.0)
}

/// A change to a tenth, with its sign; nothing is just nothing.
fn signed(change: f64) -> String {
    let text = format!("{change:+.1}");
    match text.as_str() {
        "+0.0" | "-0.0" => "0.0".to_owned(),
        _ => text,
    }
}

/// A number of things, as `1 drive` or `3 drives`.
fn counted(count: usize, thing: &str) -> String {
    let plural = if count == 1 { "" } else { "s" };
    format!("{count} {thing}{plural}")
}

#[cfg(test)]
pub(crate) mod sample;
