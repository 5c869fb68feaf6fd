//! A sheet's text with new ranges, all else as written.

use super::{Chooser, Sheet};

/// A number's new range, in the key's own unit.
#[derive(Debug, Clone, PartialEq)]
pub struct NewRange {
    /// Key path.
    pub key: String,
    /// Low end.
    pub low: f64,
    /// Likely value.
    pub likely: f64,
    /// High end.
    pub high: f64,
}

impl NewRange {
    fn written(&self) -> String {
        let short = |v: f64| {
            let digits = 3 - v.abs().max(1e-12).log10().floor() as i32;
            format!("{v:.*}", usize::try_from(digits.clamp(0, 9)).unwrap_or(0))
        };
        let (low, likely, high) = (short(self.low), short(self.likely), short(self.high));
        format!("{{ low = {low}, likely = {likely}, high = {high} }}")
    }
}

impl Sheet {
    /// The sheet's text with these ranges put in, and the keys for which there is no place: entries
    /// of usual lists that the sheet doesn't write out.
    #[must_use]
    pub fn with_ranges(&self, ranges: &[NewRange], note: &str) -> (String, Vec<String>) {
        let mut text = self.text.clone();
        let mut left_out = Vec::new();
        for range in ranges {
            let new = self
                .put(&text, range, note)
                .filter(|new| self.took(new, range));
            match new {
                Some(new) => text = new,
                None => left_out.push(range.key.clone()),
            }
        }
        (text, left_out)
    }

    /// Whether a text reads, and has the likely value where it should.
    fn took(&self, text: &str, range: &NewRange) -> bool {
        let Ok(sheet) = Self::parse(text, &self.file) else {
            return false;
        };
        let Ok(settled) = sheet.settle(&mut Chooser::Likely) else {
            return false;
        };
        let own = settled.uncertain.iter().find(|u| u.key == range.key);
        let near = |a: f64, b: f64| (a - b).abs() <= 2e-3 * b.abs().max(1e-9);
        own.is_some_and(|u| near(u.likely, range.likely))
    }

    fn put(&self, text: &str, range: &NewRange, note: &str) -> Option<String> {
        let written = range.written();
        if let Some(place) = self.places.get(&range.key).filter(|p| !p.value.is_empty()) {
            // edits keep the number of lines or add whole ones, so the value is looked up anew
            let sheet = Self::parse(text, &self.file).ok()?;
            let now = sheet.places.get(&range.key)?;
            let line_start = line_start(text, now.line)?;
            let at = line_start + text.get(line_start..)?.find(&place.value)?;
            let mut out = text.to_owned();
            out.replace_range(at..at + place.value.len(), &written);
            return Some(out);
        }
        let (table, leaf) = split(&range.key)?;
        let line = format!("{leaf} = {written}    # {note}\n");
        let Some(after) = self.heading(text, &table) else {
            // only a table that stands alone can be added
            return (!table.contains('['))
                .then(|| format!("{}\n\n[{table}]\n{line}", text.trim_end()));
        };
        let mut out = text.to_owned();
        if !out.ends_with('\n') {
            out.push('\n');
        }
        out.insert_str(after, &line);
        Some(out)
    }

    /// Byte after the heading of a table, or after the line that names a list's entry.
    fn heading(&self, text: &str, table: &str) -> Option<usize> {
        let (list, name) = match table.split_once('[') {
            Some((list, rest)) => (list, Some(rest.strip_suffix(']')?)),
            None => (table, None),
        };
        let wanted = match name {
            Some(_) => format!("[[{list}]]"),
            None => format!("[{list}]"),
        };
        let mut inside = false;
        let mut at = 0;
        for line in text.split_inclusive('\n') {
            at += line.len();
            let plain = line.split('#').next().unwrap_or_default().trim();
            if plain.starts_with('[') {
                inside = plain == wanted;
                if inside && name.is_none() {
                    return Some(at);
                }
            } else if inside && let Some(name) = name {
                let own = plain.strip_prefix("name").map(str::trim_start);
                let own = own.and_then(|r| r.strip_prefix('=')).map(str::trim);
                if own == Some(format!("\"{name}\"").as_str()) {
                    return Some(at);
                }
            }
        }
        None
    }
}

fn line_start(text: &str, line: usize) -> Option<usize> {
    let mut starts = std::iter::once(0).chain(text.match_indices('\n').map(|(i, _)| i + 1));
    starts.nth(line.checked_sub(1)?)
}

/// Table and key: `exhaust[downpipe].wall_mm` is `exhaust[downpipe]`, `wall_mm`.
fn split(key: &str) -> Option<(String, String)> {
    let (table, leaf) = key.rsplit_once('.')?;
    let bare = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '-';
    leaf.chars()
        .all(bare)
        .then(|| (table.to_owned(), leaf.to_owned()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn range(key: &str, low: f64, likely: f64, high: f64) -> NewRange {
        NewRange {
            key: key.into(),
            low,
            likely,
            high,
        }
    }

    #[test]
    fn ranges_go_where_the_key_is_or_would_be_and_the_rest_stays() {
        let sheet = crate::sheet::builtin("demo").unwrap();
        let settled = sheet.settle(&mut Chooser::Likely).unwrap();
        let own = |key: &str| settled.uncertain.iter().find(|u| u.key == key).unwrap();
        // written in the sheet or not, in a table that is there or not, in an entry of a list
        let keys = [
            "intake.sensor.time_constant_s",
            "bay.mixing_share",
            "exhaust[downpipe].emissivity",
        ];
        let ranges: Vec<NewRange> = keys
            .iter()
            .filter_map(|key| settled.uncertain.iter().find(|u| u.key == *key))
            .map(|u| range(&u.key, u.low, 0.5 * (u.low + u.likely), u.likely))
            .collect();
        assert!(ranges.len() >= 2);
        let (text, left_out) = sheet.with_ranges(&ranges, "fitted");
        assert!(left_out.is_empty(), "{left_out:?}");
        let new = Sheet::parse(&text, "new.toml").unwrap();
        let again = new.settle(&mut Chooser::Likely).unwrap().uncertain;
        for r in &ranges {
            let got = again.iter().find(|u| u.key == r.key).unwrap();
            assert!((got.likely - r.likely).abs() < 2e-3 * r.likely, "{got:?}");
            assert!(got.high < own(&r.key).high * 1.001);
        }
        assert_eq!(again.len(), settled.uncertain.len());
        let comments = |t: &str| t.matches('#').count();
        assert!(comments(&text) >= comments(sheet.text.as_str()));
    }

    #[test]
    fn a_written_number_is_replaced_in_its_own_line() {
        let builtin = crate::sheet::builtins()
            .iter()
            .find(|b| b.name == "tow-diesel")
            .unwrap();
        let line = "time_constant_s = { low = 3, likely = 9, high = 20 } # as bought\n";
        let text = format!("{}\n[intake.sensor]\n{line}", builtin.text);
        let sheet = Sheet::parse(&text, "x.toml").unwrap();
        let new = range("intake.sensor.time_constant_s", 5.0, 6.25, 7.5);
        let (text, left_out) = sheet.with_ranges(&[new], "fitted");
        assert!(left_out.is_empty());
        assert!(
            text.contains(
                "time_constant_s = { low = 5.000, likely = 6.250, high = 7.500 } # as bought"
            ),
            "{text}"
        );
    }

    #[test]
    fn a_key_without_a_place_is_left_out() {
        let sheet = crate::sheet::builtin("demo").unwrap();
        let (text, left_out) = sheet.with_ranges(&[range("no[such].key_w", 1.0, 2.0, 3.0)], "");
        assert_eq!(left_out, ["no[such].key_w"]);
        assert_eq!(text, sheet.text);
    }
}
