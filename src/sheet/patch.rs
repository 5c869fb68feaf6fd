//! Changes of a sheet by key path: `bay.fan.run_on_s`, `exhaust[downpipe].metal`,
//! `neighbour[kind=loom].emissivity`.
//!
//! A change is made in the parsed text, so that the checks of a sheet see it like any other key.
//! What is put in has the place of the option that asks for it.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeArray, DeTable, DeValue};

use super::problem::mean_or_list;

/// Lists whose usual entries a sheet adjusts by naming them.
const ADJUSTABLE: [&str; 2] = ["opening", "panel"];

/// Why a path can't be followed: what is wrong, and the way out.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Astray {
    /// What is wrong.
    pub message: String,
    /// What to do.
    pub hint: String,
}

impl Astray {
    fn new(message: impl Into<String>, hint: impl Into<String>) -> Self {
        Self {
            message: message.into(),
            hint: hint.into(),
        }
    }
}

/// A key, and the entry of a list that it picks.
#[derive(Debug, PartialEq, Eq)]
struct Step<'p> {
    key: &'p str,
    entry: Option<&'p str>,
}

impl Step<'_> {
    fn picks(&self, entry: &DeTable<'_>) -> bool {
        let text = |key: &str| entry.get(key).and_then(|v| v.get_ref().as_str());
        match self.entry.and_then(|e| e.strip_prefix("kind=")) {
            Some(kind) => text("kind") == Some(kind),
            None => text("name") == self.entry,
        }
    }
}

fn steps(path: &str) -> Option<Vec<Step<'_>>> {
    let mut out = Vec::new();
    let mut rest = path;
    loop {
        let end = rest.find(['.', '[']).unwrap_or(rest.len());
        let (key, after) = rest.split_at(end);
        if key.trim().is_empty() {
            return None;
        }
        let (entry, after) = match after.strip_prefix('[') {
            Some(label) => {
                let (label, after) = label.split_once(']')?;
                (Some(label), after)
            }
            None => (None, after),
        };
        out.push(Step { key, entry });
        match after.strip_prefix('.') {
            Some(more) => rest = more,
            None if after.is_empty() => return Some(out),
            None => return None,
        }
    }
}

/// Puts `value`, as TOML, at `path`, or takes away what is there. Gives the number of places changed.
pub(super) fn put<'t>(
    table: &mut DeTable<'t>,
    path: &str,
    value: Option<&'t str>,
    span: &Range<usize>,
) -> Result<usize, Astray> {
    let hint = "such as bay.fan.run_on_s or exhaust[downpipe].metal, in quotes";
    let steps = steps(path).ok_or_else(|| Astray::new("is not a key path", hint))?;
    if steps.last().is_some_and(|s| s.entry.is_some()) {
        return Err(Astray::new("names an entry, not one of its keys", hint));
    }
    walk(table, &steps, value, span)
}

fn walk<'t>(
    table: &mut DeTable<'t>,
    steps: &[Step<'_>],
    value: Option<&'t str>,
    span: &Range<usize>,
) -> Result<usize, Astray> {
    let Some((step, rest)) = steps.split_first() else {
        return Ok(0);
    };
    if rest.is_empty() {
        let old = table.remove(step.key);
        if let Some(value) = value {
            table.insert(key(step.key, span), graft(value, span)?);
            return Ok(1);
        }
        return Ok(usize::from(old.is_some()));
    }
    if !table.contains_key(step.key) {
        if value.is_none() {
            return Ok(0);
        }
        let empty = match step.entry {
            None => DeValue::Table(DeTable::new()),
            Some(_) => DeValue::Array(DeArray::new()),
        };
        table.insert(key(step.key, span), Spanned::new(span.clone(), empty));
    }
    match (table.get_mut(step.key).map(Spanned::get_mut), step.entry) {
        (Some(DeValue::Table(inner)), None) => walk(inner, rest, value, span),
        (Some(DeValue::Array(list)), Some(label)) => {
            let mut names = Vec::new();
            let mut changed = 0;
            for item in list.iter_mut() {
                let DeValue::Table(entry) = item.get_mut() else {
                    continue;
                };
                if step.picks(entry) {
                    changed += walk(entry, rest, value, span)?;
                }
                let name = entry.get("name").and_then(|v| v.get_ref().as_str());
                names.extend(name.map(str::to_owned));
            }
            let picked = names.iter().any(|n| n == label);
            if changed > 0 || picked || value.is_none() {
                return Ok(changed);
            }
            if label.starts_with("kind=") {
                return Ok(0);
            }
            if !ADJUSTABLE.contains(&step.key) {
                let hint = mean_or_list(label, names.iter().map(String::as_str));
                let message = format!("{} has no entry \"{label}\"", step.key);
                return Err(Astray::new(message, hint));
            }
            let mut entry = DeTable::new();
            let name = DeValue::String(label.to_owned().into());
            entry.insert(key("name", span), Spanned::new(span.clone(), name));
            let changed = walk(&mut entry, rest, value, span)?;
            list.push(Spanned::new(span.clone(), DeValue::Table(entry)));
            Ok(changed)
        }
        (_, None) => {
            let message = format!("{} is a list or a value, not a section", step.key);
            let hint = format!("pick an entry: {}[name]", step.key);
            Err(Astray::new(message, hint))
        }
        (_, Some(_)) => {
            let message = format!("{} is not a list", step.key);
            Err(Astray::new(message, "drop the part in brackets"))
        }
    }
}

fn key(name: &str, span: &Range<usize>) -> Spanned<std::borrow::Cow<'static, str>> {
    Spanned::new(span.clone(), name.to_owned().into())
}

/// A value read from TOML, with one place for all that is in it.
fn graft<'t>(written: &'t str, span: &Range<usize>) -> Result<Spanned<DeValue<'t>>, Astray> {
    let read = DeValue::parse(written);
    let read = read.map_err(|e| Astray::new(format!("is no value: {}", e.message()), ""))?;
    Ok(placed(read.into_inner(), span))
}

fn placed<'t>(value: DeValue<'t>, span: &Range<usize>) -> Spanned<DeValue<'t>> {
    let value = match value {
        DeValue::Array(list) => {
            let items = list.iter().map(|v| placed(v.get_ref().clone(), span));
            DeValue::Array(items.collect())
        }
        DeValue::Table(map) => {
            let entries = map.iter().map(|(k, v)| {
                let name = Spanned::new(span.clone(), k.get_ref().clone());
                (name, placed(v.get_ref().clone(), span))
            });
            DeValue::Table(entries.collect())
        }
        plain => plain,
    };
    Spanned::new(span.clone(), value)
}

/// A value as TOML on one line.
pub(super) fn written(value: &toml::Value) -> String {
    match value {
        toml::Value::String(s) => quoted(s),
        toml::Value::Integer(i) => i.to_string(),
        toml::Value::Float(f) if f.is_nan() => "nan".to_owned(),
        toml::Value::Float(f) => format!("{f:?}"),
        toml::Value::Boolean(b) => b.to_string(),
        toml::Value::Datetime(d) => d.to_string(),
        toml::Value::Array(list) => {
            let items: Vec<String> = list.iter().map(written).collect();
            format!("[{}]", items.join(", "))
        }
        toml::Value::Table(map) => {
            let entries = map
                .iter()
                .map(|(k, v)| format!("{} = {}", quoted(k), written(v)));
            format!("{{ {} }}", entries.collect::<Vec<_>>().join(", "))
        }
    }
}

/// A basic string of TOML.
pub(super) fn quoted(text: &str) -> String {
    let escaped = text.chars().map(|c| match c {
        '"' => "\\\"".to_owned(),
        '\\' => "\\\\".to_owned(),
        c if c.is_control() => format!("\\u{:04X}", u32::from(c)),
        c => c.to_string(),
    });
    format!("\"{}\"", escaped.collect::<String>())
}

/// Changes as pairs of path and value: tables are opened up until a value, a list or a range.
pub(super) fn leaves<'v>(
    path: &str,
    value: &'v toml::Value,
    out: &mut Vec<(String, &'v toml::Value)>,
) {
    match value {
        toml::Value::Table(map) if !map.contains_key("likely") => {
            for (name, inner) in map {
                leaves(&format!("{path}.{name}"), inner, out);
            }
        }
        _ => out.push((path.to_owned(), value)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn patched(text: &str, path: &str, value: Option<f64>) -> Result<String, Astray> {
        let value = value.map(|v| written(&toml::Value::Float(v)));
        let mut table = DeTable::parse(text).unwrap().into_inner();
        let n = put(&mut table, path, value.as_deref(), &(0..0))?;
        Ok(format!("{n} {table:?}"))
    }

    #[test]
    fn what_is_written_reads_back() {
        let text =
            "a = [1, 2.5e-7, -inf, true, \"q\\\"\\\\\\n\\u007f\"]\n\"b c\" = { d = 1979-05-27 }\n";
        let value: toml::Value = toml::from_str(text).unwrap();
        let again: toml::Value = toml::from_str(&format!("x = {}", written(&value))).unwrap();
        assert_eq!(again["x"], value);
    }

    #[test]
    fn paths_reach_keys_entries_and_kinds() {
        let text = "[[a]]\nname = \"x y\"\nkind = \"k\"\n[[a]]\nname = \"z\"\nkind = \"k\"\n";
        assert!(
            patched(text, "a[x y].b", Some(1.0))
                .unwrap()
                .starts_with("1 ")
        );
        assert!(
            patched(text, "a[kind=k].b", Some(1.0))
                .unwrap()
                .starts_with("2 ")
        );
        assert!(
            patched(text, "a[kind=l].b", Some(1.0))
                .unwrap()
                .starts_with("0 ")
        );
        assert!(patched(text, "b.c.d", Some(1.0)).unwrap().starts_with("1 "));
        assert!(
            patched(text, "bay.opening[new].d", Some(1.0))
                .unwrap()
                .contains("new")
        );
        assert!(
            patched(text, "a[kind=k].kind", None)
                .unwrap()
                .starts_with("2 ")
        );
        let near = patched(text, "a[xy].b", Some(1.0)).unwrap_err();
        assert_eq!(near.hint, "did you mean x y?");
        for bad in ["", "a..b", "a[x", "a[x]y", "a[z]", "a.b", ".a"] {
            assert!(patched(text, bad, Some(1.0)).is_err(), "{bad}");
        }
    }
}
