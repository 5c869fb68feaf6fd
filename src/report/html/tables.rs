//! Tables of a page.

use maud::{Markup, html};

/// A cell.
pub(super) struct Cell {
    text: String,
    /// Small print below.
    below: String,
    number: bool,
    pub alarm: bool,
    pub quiet: bool,
}

impl Cell {
    fn new(text: String, below: String, number: bool) -> Self {
        Self {
            text,
            below,
            number,
            alarm: false,
            quiet: false,
        }
    }

    /// Words, to the left.
    pub fn text(text: &str) -> Self {
        Self::new(text.to_owned(), String::new(), false)
    }

    /// A number, to the right.
    pub fn number(text: String) -> Self {
        Self::new(text, String::new(), true)
    }

    /// A number with its band in small print.
    pub fn banded(text: String, band: String) -> Self {
        Self::new(text, band, true)
    }
}

/// A table with a heading; columns of numbers have their heading to the right too.
pub(super) fn table(heading: &[&str], rows: impl IntoIterator<Item = Vec<Cell>>) -> Markup {
    let rows: Vec<Vec<Cell>> = rows.into_iter().collect();
    let is_number = |i: usize| {
        rows.first()
            .and_then(|r| r.get(i))
            .is_some_and(|c| c.number)
    };
    html! {
        table {
            thead { tr { @for (i, h) in heading.iter().enumerate() { th.n[is_number(i)] { (h) } } } }
            tbody {
                @for row in &rows {
                    tr {
                        @for cell in row {
                            td.n[cell.number].alarm[cell.alarm].quiet[cell.quiet] {
                                (cell.text)
                                @if !cell.below.is_empty() { div.band { (cell.below) } }
                            }
                        }
                    }
                }
            }
        }
    }
}
