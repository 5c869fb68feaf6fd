//! A number in a sheet: `1.6`, or `{ low = 1.4, likely = 1.6, high = 2.0 }`.

use std::borrow::Cow;
use std::fmt;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::{Error, MapAccess, Unexpected, Visitor};
use serde::{Deserialize, Deserializer};

/// A number with its range, in the unit of its key. A plain number has no range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Input {
    /// Lowest value it can have.
    pub low: f64,
    /// Value to use when only one is wanted.
    pub likely: f64,
    /// Highest value it can have.
    pub high: f64,
}

impl Input {
    /// A number without a range.
    #[must_use]
    pub fn point(value: f64) -> Self {
        Self {
            low: value,
            likely: value,
            high: value,
        }
    }

    /// Whether low and high differ.
    #[must_use]
    pub fn is_range(&self) -> bool {
        self.high > self.low
    }
}

struct InputVisitor;

fn finite<E: Error>(value: f64) -> Result<f64, E> {
    if value.is_finite() {
        Ok(value)
    } else {
        Err(E::invalid_value(
            Unexpected::Float(value),
            &"a finite number",
        ))
    }
}

impl<'de> Visitor<'de> for InputVisitor {
    type Value = Input;

    fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.write_str("a number or { low, likely, high }")
    }

    fn visit_f64<E: Error>(self, value: f64) -> Result<Input, E> {
        finite(value).map(Input::point)
    }

    fn visit_i64<E: Error>(self, value: i64) -> Result<Input, E> {
        // A sheet's integers are far below 2^53, where f64 is exact.
        self.visit_f64(value as f64)
    }

    fn visit_u64<E: Error>(self, value: u64) -> Result<Input, E> {
        self.visit_f64(value as f64)
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Input, A::Error> {
        let (mut low, mut likely, mut high) = (None, None, None);
        while let Some(key) = map.next_key::<String>()? {
            let slot = match key.as_str() {
                "low" => &mut low,
                "likely" => &mut likely,
                "high" => &mut high,
                other => return Err(A::Error::unknown_field(other, &["low", "likely", "high"])),
            };
            *slot = Some(finite(map.next_value::<f64>()?)?);
        }
        let low = low.ok_or_else(|| A::Error::missing_field("low"))?;
        let likely = likely.ok_or_else(|| A::Error::missing_field("likely"))?;
        let high = high.ok_or_else(|| A::Error::missing_field("high"))?;
        if low <= likely && likely <= high {
            Ok(Input { low, likely, high })
        } else {
            Err(A::Error::custom("low <= likely <= high does not hold"))
        }
    }
}

impl<'de> Deserialize<'de> for Input {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(InputVisitor)
    }
}

impl JsonSchema for Input {
    fn schema_name() -> Cow<'static, str> {
        "Input".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "description": "a number, or a range { low, likely, high }",
            "anyOf": [
                { "type": "number" },
                {
                    "type": "object",
                    "properties": {
                        "low": { "type": "number" },
                        "likely": { "type": "number" },
                        "high": { "type": "number" }
                    },
                    "required": ["low", "likely", "high"],
                    "additionalProperties": false
                }
            ]
        })
    }
}
