//! Nodes of the schema, kinds of values, and words for both.

use serde_json::Value as Schema;
use toml::de::DeValue;

use super::units::unit_of;

/// A schema node with the limits that its field adds.
#[derive(Clone, Copy)]
pub(super) struct Node<'s> {
    pub(super) schema: &'s Schema,
    pub(super) limits: Option<(f64, f64)>,
}

impl<'s> Node<'s> {
    pub(super) fn get(&self, key: &str) -> Option<&'s Schema> {
        self.schema.get(key)
    }

    pub(super) fn is(&self, kind: &str) -> bool {
        match self.get("type") {
            Some(Schema::String(one)) => one == kind,
            Some(Schema::Array(many)) => many.iter().any(|t| t == kind),
            _ => false,
        }
    }
}

pub(super) fn kind_of(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "text",
        DeValue::Integer(_) | DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

pub(super) fn number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(i) => i64::from_str_radix(i.as_str(), i.radix())
            .ok()
            .map(|v| v as f64),
        DeValue::Float(f) => f.as_str().parse().ok(),
        _ => None,
    }
}

pub(super) fn choices<'s>(node: &Node<'s>) -> Option<Vec<&'s str>> {
    if let Some(list) = node.get("enum").and_then(Schema::as_array) {
        return Some(list.iter().filter_map(Schema::as_str).collect());
    }
    let list = node.get("oneOf").and_then(Schema::as_array)?;
    list.iter()
        .map(|s| s.get("const").and_then(Schema::as_str))
        .collect()
}

pub(super) fn wanted(node: &Node<'_>) -> &'static str {
    if node.is("object") {
        "a table"
    } else if node.is("array") {
        "a list"
    } else if node.is("boolean") {
        "true or false"
    } else if node.is("integer") {
        "a whole number"
    } else if node.is("number") {
        "a number"
    } else {
        "text"
    }
}

pub(super) fn type_hint(node: &Node<'_>, value: &DeValue<'_>, path: &str) -> String {
    let last = path.rsplit('.').next().unwrap_or(path);
    match value {
        DeValue::String(_) if !node.is("object") && !node.is("array") => {
            let unit = unit_of(path).symbol;
            if unit.is_empty() {
                "write it without quotes".to_owned()
            } else {
                format!("write the bare number in {unit}, without quotes or unit")
            }
        }
        DeValue::Table(_) if node.is("array") => format!("write [[{path}]], one for each"),
        _ if node.is("array") => format!("write {last} = [..] or [[{path}]]"),
        // an entry of a list is reached by the list's own name: [exhaust.layer], not [exhaust[x].layer]
        _ if node.is("object") => format!("write [{}] with its keys below it", heading(path)),
        _ if node.is("string") => "put it in \"quotes\"".to_owned(),
        _ if node.is("integer") => "write a whole number such as 4".to_owned(),
        _ if node.is("boolean") => "write true or false without quotes".to_owned(),
        _ => "write a number such as 1.6, or { low = 1.4, likely = 1.6, high = 2.0 }".to_owned(),
    }
}

/// A key path as a TOML heading: list entries lose their labels.
pub(super) fn heading(path: &str) -> String {
    let mut depth = 0;
    path.chars()
        .filter(|c| {
            match c {
                '[' => depth += 1,
                ']' => depth -= 1,
                _ => return depth == 0,
            }
            false
        })
        .collect()
}
