//! Checks a sheet's text against the schema and finds every problem in one go.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

use serde_json::Value as Schema;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::problem::{Problem, mean_or_list, nearest};
use super::units::{foreign_key, short, slip_hint, unit_of};
use super::words::{Node, choices, kind_of, number, type_hint, wanted};

/// Where each key of the sheet stands.
pub(crate) type Places = BTreeMap<String, Place>;

/// Place of a key in the text.
#[derive(Debug, Clone, Default)]
pub(crate) struct Place {
    /// Line, from 1.
    pub line: usize,
    /// Column, from 1.
    pub column: usize,
    /// Value as written; empty for tables.
    pub value: String,
}

/// What the check found.
pub(crate) struct Checked {
    /// Problems, in the order of the walk.
    pub problems: Vec<Problem>,
    /// Places of all keys.
    pub places: Places,
}

/// Checks `text` against `schema`.
pub(crate) fn check(text: &str, schema: &Schema) -> Checked {
    let (table, errors) = DeTable::parse_recoverable(text);
    check_table(text, table.get_ref(), &errors, schema)
}

/// Place of a piece of text, with what is written there.
pub(crate) fn place_in(text: &str, span: &Range<usize>) -> Place {
    let walker = Walker {
        text,
        line_starts: line_starts(text),
        defs: None,
        problems: Vec::new(),
        places: Places::new(),
    };
    Place {
        value: walker.written(span),
        ..walker.place(span)
    }
}

/// Checks what was read from `text`, with the errors of the reading.
pub(crate) fn check_table(
    text: &str,
    table: &DeTable<'_>,
    errors: &[toml::de::Error],
    schema: &Schema,
) -> Checked {
    let mut walker = Walker {
        text,
        line_starts: line_starts(text),
        defs: schema.get("$defs"),
        problems: Vec::new(),
        places: Places::new(),
    };
    for error in errors {
        let place = walker.place(&error.span().unwrap_or(0..0));
        let hint = "text needs \"quotes\", numbers a point and no unit, each key its own line";
        let message = format!("not valid TOML: {}", error.message().replace('\n', ", "));
        walker.push(&place, "", String::new(), message, hint.to_owned());
    }
    let top = Place {
        line: 1,
        column: 1,
        value: String::new(),
    };
    // A broken text loses keys: what seems to be missing may stand in the broken part.
    let complete = errors.is_empty();
    walker.table(
        &Node {
            schema,
            limits: None,
        },
        table,
        "",
        &top,
        complete,
    );
    // Where a line can't be read, what was made of it says nothing.
    let broken: BTreeSet<usize> = walker.problems[..errors.len()]
        .iter()
        .map(|p| p.line)
        .collect();
    let mut index = 0;
    walker.problems.retain(|p| {
        index += 1;
        index <= errors.len() || !broken.contains(&p.line)
    });
    Checked {
        problems: walker.problems,
        places: walker.places,
    }
}

struct Walker<'t, 's> {
    text: &'t str,
    line_starts: Vec<usize>,
    defs: Option<&'s Schema>,
    problems: Vec<Problem>,
    places: Places,
}

fn line_starts(text: &str) -> Vec<usize> {
    std::iter::once(0)
        .chain(text.match_indices('\n').map(|(i, _)| i + 1))
        .collect()
}

/// Path of a key inside a table.
pub(crate) fn join(path: &str, key: &str) -> String {
    if path.is_empty() {
        key.to_owned()
    } else {
        format!("{path}.{key}")
    }
}

impl<'s> Walker<'_, 's> {
    fn place(&self, span: &Range<usize>) -> Place {
        let start = span.start.min(self.text.len());
        let line = self.line_starts.partition_point(|s| *s <= start).max(1);
        let line_start = self.line_starts.get(line - 1).copied().unwrap_or(0);
        let column = self
            .text
            .get(line_start..start)
            .map_or(1, |s| s.chars().count() + 1);
        Place {
            line,
            column,
            value: String::new(),
        }
    }

    fn written(&self, span: &Range<usize>) -> String {
        let text = self.text.get(span.clone()).unwrap_or("").split_whitespace();
        let text = text.collect::<Vec<_>>().join(" ");
        if text.chars().count() > 60 {
            text.chars().take(57).chain("...".chars()).collect()
        } else {
            text
        }
    }

    fn push(&mut self, place: &Place, key: &str, limit: String, message: String, hint: String) {
        self.problems.push(Problem {
            line: place.line,
            column: place.column,
            key: key.to_owned(),
            value: place.value.clone(),
            limit,
            message,
            hint,
        });
    }

    /// Follows references and the null branch of an optional key. The second part tells whether
    /// the node is an [`super::Input`].
    fn resolve(&self, node: Node<'s>) -> (Node<'s>, bool) {
        let (mut node, mut is_input) = (node, false);
        for _ in 0..8 {
            let bound = |name| node.get(name).and_then(Schema::as_f64);
            if let (Some(min), Some(max)) = (bound("minimum"), bound("maximum")) {
                node.limits = node.limits.or(Some((min, max)));
            }
            let next = if let Some(name) = node.get("$ref").and_then(Schema::as_str) {
                let name = name.rsplit('/').next().unwrap_or(name);
                is_input = name == "Input";
                self.defs.and_then(|d| d.get(name))
            } else if is_input {
                None
            } else {
                node.get("anyOf")
                    .and_then(Schema::as_array)
                    .and_then(|a| a.iter().find(|s| s.get("type").is_none_or(|t| t != "null")))
            };
            let Some(next) = next else { break };
            node = Node {
                schema: next,
                limits: node.limits,
            };
        }
        (node, is_input)
    }

    fn table(&mut self, node: &Node<'s>, t: &DeTable<'_>, path: &str, at: &Place, complete: bool) {
        let Some(properties) = node.get("properties").and_then(Schema::as_object) else {
            return;
        };
        let mut meant = BTreeSet::new();
        let mut entries: Vec<_> = t.iter().collect();
        entries.sort_by_key(|(key, _)| key.span().start);
        for (key, value) in entries {
            let name: &str = key.get_ref().as_ref();
            let full = join(path, name);
            let mut place = self.place(&key.span());
            if !matches!(value.get_ref(), DeValue::Table(_)) {
                place.value = self.written(&value.span());
            }
            if let Some(schema) = properties.get(name) {
                self.places.insert(full.clone(), place.clone());
                self.value(
                    Node {
                        schema,
                        limits: None,
                    },
                    value,
                    &full,
                    &place,
                );
            } else {
                let known = || properties.keys().map(String::as_str);
                let hint = match foreign_key(name, known()) {
                    Some((right, scale, shift)) => {
                        meant.insert(right);
                        let turned = number(value.get_ref())
                            .map(|v| format!(" {right} = {}", short(v * scale + shift)));
                        format!("did you mean {right}?{}", turned.unwrap_or_default())
                    }
                    None => {
                        meant.extend(nearest(name, known()));
                        mean_or_list(name, known())
                    }
                };
                self.push(&place, &full, String::new(), "unknown key".to_owned(), hint);
            }
        }
        if !complete {
            return;
        }
        let required = node.get("required").and_then(Schema::as_array);
        for name in required.into_iter().flatten().filter_map(Schema::as_str) {
            let present = t.keys().any(|k| k.get_ref() == name);
            if present || meant.contains(name) {
                continue;
            }
            let about = properties.get(name).and_then(|p| p.get("description"));
            let about = about.and_then(Schema::as_str).unwrap_or_default();
            let place = Place {
                value: String::new(),
                ..at.clone()
            };
            let hint = format!("{name} is: {}", about.trim_end_matches('.'));
            self.push(
                &place,
                &join(path, name),
                String::new(),
                "missing".to_owned(),
                hint,
            );
        }
    }

    fn value(&mut self, node: Node<'s>, value: &Spanned<DeValue<'_>>, path: &str, at: &Place) {
        let (node, is_input) = self.resolve(node);
        if is_input {
            return self.input(node, value, path, at);
        }
        if let Some(choices) = choices(&node) {
            return self.choice(&choices, value, path, at);
        }
        match value.get_ref() {
            DeValue::Table(t) if node.get("properties").is_some() => {
                self.table(&node, t, path, at, true);
            }
            DeValue::Table(t) if node.is("object") => self.map(&node, t, path),
            DeValue::Array(a) if node.is("array") => {
                let Some(items) = node.get("items") else {
                    return;
                };
                for (i, item) in a.iter().enumerate() {
                    self.item(
                        Node {
                            schema: items,
                            limits: node.limits,
                        },
                        item,
                        path,
                        i,
                    );
                }
            }
            DeValue::Boolean(_) if node.is("boolean") => {}
            DeValue::String(s) if node.is("string") => {
                if s.trim().is_empty() {
                    let hint = "write a word or leave the key out".to_owned();
                    self.push(at, path, String::new(), "is empty".to_owned(), hint);
                }
            }
            DeValue::Integer(_) if node.is("integer") || node.is("number") => {
                self.limits(&node, value.get_ref(), path, at);
            }
            DeValue::Float(_) if node.is("number") => {
                self.limits(&node, value.get_ref(), path, at);
            }
            // Other shapes of schema are left to serde, whose error is reported after the walk.
            _ if node.get("type").is_none() => {}
            other => {
                let wanted = wanted(&node);
                let message = format!("is {}, not {wanted}", kind_of(other));
                self.push(
                    at,
                    path,
                    wanted.to_owned(),
                    message,
                    type_hint(&node, other, path),
                );
            }
        }
    }

    fn item(&mut self, node: Node<'s>, item: &Spanned<DeValue<'_>>, path: &str, index: usize) {
        let name = match item.get_ref() {
            DeValue::Table(t) => {
                t.iter()
                    .find(|(k, _)| k.get_ref() == "name")
                    .and_then(|(_, v)| {
                        if let DeValue::String(s) = v.get_ref() {
                            Some(s.to_string())
                        } else {
                            None
                        }
                    })
            }
            _ => None,
        };
        let full = entry(path, name.as_deref(), index);
        let mut place = self.place(&item.span());
        if !matches!(item.get_ref(), DeValue::Table(_)) {
            place.value = self.written(&item.span());
        }
        if self.places.contains_key(&full) {
            let hint = "give each its own name: reports and other keys go by it".to_owned();
            let message = "a second one of this name".to_owned();
            self.push(&place, &full, String::new(), message, hint);
        }
        self.places
            .entry(full.clone())
            .or_insert_with(|| place.clone());
        self.value(node, item, &full, &place);
    }

    fn map(&mut self, node: &Node<'s>, t: &DeTable<'_>, path: &str) {
        let Some(schema) = node.get("additionalProperties") else {
            return;
        };
        for (key, value) in t.iter() {
            let full = join(path, key.get_ref());
            let place = Place {
                value: self.written(&value.span()),
                ..self.place(&key.span())
            };
            self.places.insert(full.clone(), place.clone());
            self.value(
                Node {
                    schema,
                    limits: node.limits,
                },
                value,
                &full,
                &place,
            );
        }
    }

    fn input(&mut self, node: Node<'s>, value: &Spanned<DeValue<'_>>, path: &str, at: &Place) {
        let DeValue::Table(t) = value.get_ref() else {
            return self.limits(&node, value.get_ref(), path, at);
        };
        let at = Place {
            value: self.written(&value.span()),
            ..at.clone()
        };
        if let Some(place) = self.places.get_mut(path) {
            place.value.clone_from(&at.value);
        }
        let names = ["low", "likely", "high"];
        for (key, _) in t
            .iter()
            .filter(|(k, _)| !names.contains(&k.get_ref().as_ref()))
        {
            let place = self.place(&key.span());
            let full = join(path, key.get_ref());
            let hint = "a range is { low = .., likely = .., high = .. }".to_owned();
            self.push(&place, &full, String::new(), "unknown key".to_owned(), hint);
        }
        let mut seen = Vec::new();
        for name in names {
            let Some((_, v)) = t.iter().find(|(k, _)| k.get_ref() == name) else {
                let hint = "a range is { low = .., likely = .., high = .. }".to_owned();
                self.push(
                    &at,
                    path,
                    String::new(),
                    format!("range without `{name}`"),
                    hint,
                );
                continue;
            };
            self.limits(&node, v.get_ref(), path, &at);
            seen.extend(number(v.get_ref()).filter(|v| v.is_finite()));
        }
        if let [low, likely, high] = seen[..]
            && !(low <= likely && likely <= high)
        {
            let message = "low <= likely <= high does not hold".to_owned();
            let mut sorted = [low, likely, high];
            sorted.sort_by(f64::total_cmp);
            let [a, b, c] = sorted.map(short);
            let hint = format!("in order: {{ low = {a}, likely = {b}, high = {c} }}");
            self.push(&at, path, "low <= likely <= high".to_owned(), message, hint);
        }
    }

    fn limits(&mut self, node: &Node<'s>, value: &DeValue<'_>, path: &str, at: &Place) {
        let Some(v) = number(value) else {
            let message = match value {
                DeValue::Integer(_) => "has too many digits".to_owned(),
                _ => format!("is {}, not a number", kind_of(value)),
            };
            return self.push(
                at,
                path,
                "a number".to_owned(),
                message,
                type_hint(node, value, path),
            );
        };
        if !v.is_finite() {
            let hint = "leave the key out to have it assumed".to_owned();
            let message = "is not a finite number".to_owned();
            return self.push(at, path, "finite".to_owned(), message, hint);
        }
        let Some((min, max)) = node.limits else {
            return;
        };
        let (word, limit) = if v < min {
            ("below", min)
        } else if v > max {
            ("above", max)
        } else {
            return;
        };
        let limit = format!("{} {}", short(limit), unit_of(path).symbol);
        let limit = limit.trim_end().to_owned();
        let hint = slip_hint(path, v, min, max).unwrap_or_else(|| {
            format!(
                "plausible is {} to {} {}",
                short(min),
                short(max),
                unit_of(path).symbol
            )
            .trim_end()
            .to_owned()
        });
        self.push(
            at,
            path,
            limit.clone(),
            format!("{word} the limit of {limit}"),
            hint,
        );
    }

    fn choice(&mut self, choices: &[&str], value: &Spanned<DeValue<'_>>, path: &str, at: &Place) {
        let list = choices.join(", ");
        match value.get_ref() {
            DeValue::String(s) if choices.contains(&s.as_ref()) => {}
            DeValue::String(s) => {
                let hint = mean_or_list(s, choices.iter().copied());
                self.push(at, path, list, "not one of the choices".to_owned(), hint);
            }
            other => {
                let message = format!("is {}, not text", kind_of(other));
                let hint = format!("one of \"{}\"", choices.join("\", \""));
                self.push(at, path, list, message, hint);
            }
        }
    }
}

/// Path of a list entry: by name, else by its number from 1.
pub(crate) fn entry(path: &str, name: Option<&str>, index: usize) -> String {
    match name {
        Some(name) if !name.trim().is_empty() => format!("{path}[{name}]"),
        _ => format!("{path}[{}]", index + 1),
    }
}
