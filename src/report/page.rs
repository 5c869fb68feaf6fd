//! Text with a gutter: a word on the left, lines beside it.

use anstyle::Style;

use super::grid::{Align, grid, wrap};
use super::{ALARM, PLAIN, STRONG};

/// Columns of the screens of studies: gutter, text beside it, tables.
const GUTTER: usize = 8;
pub(super) const TEXT: usize = 92;
pub(super) const WIDE: usize = GUTTER + TEXT;

/// A screen under way, with ANSI styles.
pub(super) struct Page {
    text: String,
    gutter: usize,
}

impl Default for Page {
    fn default() -> Self {
        Self::new(GUTTER)
    }
}

impl Page {
    /// An empty screen with a gutter of so many columns.
    pub(super) fn new(gutter: usize) -> Self {
        let text = String::new();
        Self { text, gutter }
    }

    /// Lines beside the gutter word; the word only on the first.
    pub(super) fn put(&mut self, word: &str, style: Style, lines: &[String]) {
        for (i, line) in lines.iter().enumerate() {
            self.line(if i == 0 { word } else { "" }, style, line);
        }
    }

    /// One line beside the gutter word.
    pub(super) fn line(&mut self, word: &str, style: Style, line: &str) {
        let pad = " ".repeat(self.gutter.saturating_sub(word.len()));
        let line = format!("{STRONG}{word}{STRONG:#}{pad}{style}{line}{style:#}\n");
        self.text.push_str(&line);
    }

    /// A line across the gutter.
    pub(super) fn whole(&mut self, style: Style, line: &str) {
        self.text.push_str(&format!("{style}{line}{style:#}\n"));
    }

    /// What stands on top: word, whether it alarms, words.
    pub(super) fn headline(&mut self, lines: Vec<(&'static str, bool, String)>) {
        for (word, alarm, words) in lines {
            let style = if alarm { ALARM } else { STRONG };
            self.put(word, style, &wrap(&words, TEXT));
        }
    }

    /// A table across the gutter whose first row is its head.
    pub(super) fn table(&mut self, rows: &[Vec<String>], columns: &[Align]) {
        for (i, line) in grid(rows, columns, WIDE).iter().enumerate() {
            self.whole(if i == 0 { STRONG } else { PLAIN }, line);
        }
    }

    /// An empty line.
    pub(super) fn gap(&mut self) {
        self.text.push('\n');
    }

    pub(super) fn into_text(self) -> String {
        self.text
    }
}
