//! A serializer that writes nothing and stops at the first number that isn't finite.

use std::fmt::Display;

use serde::ser::{self, Serialize};

use super::ReportError;

/// Walks `value` as serde sees it and checks every float.
pub(super) fn check_finite<T: Serialize + ?Sized>(value: &T) -> Result<(), ReportError> {
    value.serialize(Walk).map_err(|stop| match stop {
        Stop::Number { place, value } => ReportError::NotFinite { place, value },
        Stop::Other(text) => ReportError::Json(ser::Error::custom(text)),
    })
}

/// Why the walk stopped.
#[derive(Debug, thiserror::Error)]
enum Stop {
    /// The place grows on the way out, so that a walk that finds nothing writes no places.
    #[error("{place} is {value}")]
    Number { place: String, value: f64 },
    #[error("{0}")]
    Other(String),
}

impl Stop {
    /// Seen from one level further out.
    fn inside(mut self, outer: impl Display) -> Self {
        if let Self::Number { place, .. } = &mut self {
            let dot = if place.is_empty() || place.starts_with('[') {
                ""
            } else {
                "."
            };
            *place = format!("{outer}{dot}{place}");
        }
        self
    }
}

impl ser::Error for Stop {
    fn custom<T: Display>(text: T) -> Self {
        Self::Other(text.to_string())
    }
}

/// The walk, at a value.
struct Walk;

/// The walk, inside a sequence, map or struct.
#[derive(Default)]
struct Inside {
    index: usize,
    key: String,
}

impl Inside {
    fn item<T: Serialize + ?Sized>(&mut self, value: &T) -> Result<(), Stop> {
        let index = self.index;
        self.index += 1;
        let at = |stop: Stop| stop.inside(format_args!("[{index}]"));
        value.serialize(Walk).map_err(at)
    }

    fn field<T: Serialize + ?Sized>(&mut self, key: &str, value: &T) -> Result<(), Stop> {
        value.serialize(Walk).map_err(|stop| stop.inside(key))
    }
}

/// Types that can't hold a bad number.
macro_rules! harmless {
    ($($name:ident: $kind:ty),*) => {
        $(fn $name(self, _: $kind) -> Result<(), Stop> { Ok(()) })*
    };
}

impl ser::Serializer for Walk {
    type Ok = ();
    type Error = Stop;
    type SerializeSeq = Inside;
    type SerializeTuple = Inside;
    type SerializeTupleStruct = Inside;
    type SerializeTupleVariant = Inside;
    type SerializeMap = Inside;
    type SerializeStruct = Inside;
    type SerializeStructVariant = Inside;

    harmless!(
        serialize_bool: bool, serialize_i8: i8, serialize_i16: i16, serialize_i32: i32,
        serialize_i64: i64, serialize_u8: u8, serialize_u16: u16, serialize_u32: u32,
        serialize_u64: u64, serialize_char: char, serialize_str: &str, serialize_bytes: &[u8],
        serialize_unit_struct: &'static str
    );

    fn serialize_f32(self, value: f32) -> Result<(), Stop> {
        self.serialize_f64(f64::from(value))
    }

    fn serialize_f64(self, value: f64) -> Result<(), Stop> {
        if value.is_finite() {
            return Ok(());
        }
        let place = String::new();
        Err(Stop::Number { place, value })
    }

    fn serialize_none(self) -> Result<(), Stop> {
        Ok(())
    }

    fn serialize_unit(self) -> Result<(), Stop> {
        Ok(())
    }

    fn serialize_some<T: Serialize + ?Sized>(self, value: &T) -> Result<(), Stop> {
        value.serialize(self)
    }

    fn serialize_unit_variant(self, _: &str, _: u32, _: &str) -> Result<(), Stop> {
        Ok(())
    }

    fn serialize_newtype_struct<T: Serialize + ?Sized>(
        self,
        _: &str,
        value: &T,
    ) -> Result<(), Stop> {
        value.serialize(self)
    }

    fn serialize_newtype_variant<T: Serialize + ?Sized>(
        self,
        _: &str,
        _: u32,
        variant: &str,
        value: &T,
    ) -> Result<(), Stop> {
        Inside::default().field(variant, value)
    }

    fn serialize_seq(self, _: Option<usize>) -> Result<Inside, Stop> {
        Ok(Inside::default())
    }

    fn serialize_tuple(self, _: usize) -> Result<Inside, Stop> {
        Ok(Inside::default())
    }

    fn serialize_tuple_struct(self, _: &str, _: usize) -> Result<Inside, Stop> {
        Ok(Inside::default())
    }

    fn serialize_tuple_variant(self, _: &str, _: u32, _: &str, _: usize) -> Result<Inside, Stop> {
        Ok(Inside::default())
    }

    fn serialize_map(self, _: Option<usize>) -> Result<Inside, Stop> {
        Ok(Inside::default())
    }

    fn serialize_struct(self, _: &str, _: usize) -> Result<Inside, Stop> {
        Ok(Inside::default())
    }

    fn serialize_struct_variant(self, _: &str, _: u32, _: &str, _: usize) -> Result<Inside, Stop> {
        Ok(Inside::default())
    }
}

/// The list-like kinds differ only in the name of their method.
macro_rules! list {
    ($($kind:ident $method:ident),*) => {
        $(impl ser::$kind for Inside {
            type Ok = ();
            type Error = Stop;
            fn $method<T: Serialize + ?Sized>(&mut self, value: &T) -> Result<(), Stop> {
                self.item(value)
            }
            fn end(self) -> Result<(), Stop> {
                Ok(())
            }
        })*
    };
}

list!(
    SerializeSeq serialize_element,
    SerializeTuple serialize_element,
    SerializeTupleStruct serialize_field,
    SerializeTupleVariant serialize_field
);

/// The struct-like kinds are the same.
macro_rules! record {
    ($($kind:ident),*) => {
        $(impl ser::$kind for Inside {
            type Ok = ();
            type Error = Stop;
            fn serialize_field<T: Serialize + ?Sized>(
                &mut self,
                key: &'static str,
                value: &T,
            ) -> Result<(), Stop> {
                self.field(key, value)
            }
            fn end(self) -> Result<(), Stop> {
                Ok(())
            }
        })*
    };
}

record!(SerializeStruct, SerializeStructVariant);

impl ser::SerializeMap for Inside {
    type Ok = ();
    type Error = Stop;

    fn serialize_key<T: Serialize + ?Sized>(&mut self, key: &T) -> Result<(), Stop> {
        self.key = serde_json::to_value(key)
            .map_err(ser::Error::custom)?
            .as_str()
            .unwrap_or("?")
            .to_owned();
        Ok(())
    }

    fn serialize_value<T: Serialize + ?Sized>(&mut self, value: &T) -> Result<(), Stop> {
        let key = std::mem::take(&mut self.key);
        self.field(&key, value)
    }

    fn end(self) -> Result<(), Stop> {
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use super::*;

    #[test]
    fn names_the_place_in_maps_lists_and_options() {
        let bad = BTreeMap::from([("rise", vec![(1.0, Some(2.0)), (3.0, Some(f64::NAN))])]);
        let error = check_finite(&bad).unwrap_err().to_string();
        assert!(error.contains("rise[1][1]"), "{error}");
        let deeper = vec![BTreeMap::from([(
            "phase",
            BTreeMap::from([("peak", f64::NAN)]),
        )])];
        let error = check_finite(&deeper).unwrap_err().to_string();
        assert!(error.contains("[0].phase.peak"), "{error}");
        let good = BTreeMap::from([("rise", vec![(1.0, Some(2.0)), (3.0, None)])]);
        check_finite(&good).unwrap();
    }
}
