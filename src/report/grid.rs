//! Text in columns, wrapped lines, and names made safe to print.

use comfy_table::{CellAlignment, ColumnConstraint, ContentArrangement, Table};

/// Which side a column leans to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Align {
    /// Words, wrapped where they must.
    Left,
    /// A name: to the left, never wrapped.
    Name,
    /// Numbers, never wrapped.
    Right,
}

/// Lines of a plain table no wider than `width`; the first row is the heading. Long words wrap.
pub fn grid(rows: &[Vec<String>], columns: &[Align], width: usize) -> Vec<String> {
    let mut table = Table::new();
    table
        .load_style(comfy_table::presets::NOTHING)
        .set_content_arrangement(ContentArrangement::Dynamic)
        .set_width(u16::try_from(width).unwrap_or(u16::MAX));
    for row in rows {
        table.add_row(row.iter().map(|text| clean(text)).collect::<Vec<_>>());
    }
    for (i, align) in columns.iter().enumerate() {
        if let Some(column) = table.column_mut(i) {
            column.set_padding((0, 2));
            if *align == Align::Right {
                column.set_cell_alignment(CellAlignment::Right);
            }
            if *align != Align::Left {
                column.set_constraint(ColumnConstraint::ContentWidth);
            }
        }
    }
    table
        .lines()
        .map(|line| line.trim_end().to_owned())
        .collect()
}

/// `text` broken at spaces into lines of at most `width` characters; a longer word stands alone.
pub fn wrap(text: &str, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in clean(text).split_whitespace() {
        let last = lines.len() - 1;
        let used = lines[last].chars().count();
        if used > 0 && used + 1 + word.chars().count() > width {
            lines.push(word.to_owned());
        } else {
            if used > 0 {
                lines[last].push(' ');
            }
            lines[last].push_str(word);
        }
    }
    lines
}

/// `text` without control characters: names come from files and must not steer a terminal.
pub fn clean(text: &str) -> String {
    text.chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect()
}

/// `text` cut to `width` characters, with two dots where something is missing.
pub(super) fn clip(text: &str, width: usize) -> String {
    let text = clean(text);
    if text.chars().count() <= width {
        return text;
    }
    let kept: String = text.chars().take(width.saturating_sub(2)).collect();
    format!("{}..", kept.trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_line_up_and_stay_inside_the_width() {
        let rows = [
            vec!["part".into(), "skin".into(), "note".into()],
            vec![
                "runners".into(),
                "612".into(),
                "a long note that has to wrap somewhere".into(),
            ],
        ];
        let lines = grid(&rows, &[Align::Left, Align::Right, Align::Left], 36);
        assert!(lines.len() > 2);
        assert!(lines.iter().all(|l| l.chars().count() <= 36), "{lines:#?}");
        assert_eq!(lines[0].find("skin"), lines[1].find("612").map(|i| i - 1));
    }

    #[test]
    fn wrapping_keeps_every_word() {
        let text = "wrap fibres and coating fumes harm lungs";
        let lines = wrap(text, 12);
        assert_eq!(lines.join(" "), text);
        assert!(lines.iter().all(|l| l.len() <= 12));
        assert_eq!(wrap("", 12), [""]);
    }

    #[test]
    fn escape_sequences_in_names_are_blunted() {
        assert_eq!(clean("a\u{1b}[31mb\nc"), "a [31mb c");
        assert_eq!(clip("a very long part name", 10), "a very l..");
    }
}
