//! Reading the material table.

use super::{Confidence, Curve, Emissivity, Finish, Kind, Metal, Sourced};
use serde::Deserialize;
use thiserror::Error;

/// Why a material table can't be used.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum MetalTableError {
    /// Not TOML of the expected shape.
    #[error("material table: {message}")]
    Format {
        /// What the TOML reader said.
        message: String,
    },
    /// A value that is missing its source, not finite, not positive or out of order.
    #[error("material table, {id}: {what} has no source or an unusable value")]
    Value {
        /// Row.
        id: String,
        /// Property.
        what: &'static str,
    },
    /// The same id twice.
    #[error("material table: id \"{id}\" appears twice")]
    Twice {
        /// Row.
        id: String,
    },
    /// An emissivity row for a material that isn't in the table.
    #[error("material table: an emissivity row names \"{id}\", which is not in the table")]
    UnknownId {
        /// Name in the row.
        id: String,
    },
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    metal: Vec<MetalRow>,
    emissivity: Vec<EmissivityRow>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct MetalRow {
    id: String,
    name: String,
    kind: Kind,
    density_kg_m3: ValueRow,
    max_service_k: ValueRow,
    expansion_per_k: ValueRow,
    conductivity_w_m_k: CurveRow,
    specific_heat_j_kg_k: CurveRow,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ValueRow {
    value: f64,
    range_k: [f64; 2],
    source: String,
    confidence: Confidence,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct CurveRow {
    points: Vec<(f64, f64)>,
    source: String,
    confidence: Confidence,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct EmissivityRow {
    finish: Finish,
    materials: Vec<String>,
    low: f64,
    likely: f64,
    high: f64,
    range_k: [f64; 2],
    source: String,
    confidence: Confidence,
}

fn rising_range(r: [f64; 2]) -> bool {
    r[0] > 0.0 && r[0] < r[1] && r[1].is_finite()
}

impl ValueRow {
    fn check(self, id: &str, what: &'static str) -> Result<Sourced, MetalTableError> {
        let usable = self.value.is_finite() && self.value > 0.0 && rising_range(self.range_k);
        if !usable || self.source.trim().is_empty() {
            return Err(MetalTableError::Value {
                id: id.to_owned(),
                what,
            });
        }
        Ok(Sourced {
            value: self.value,
            range_k: self.range_k,
            source: self.source,
            confidence: self.confidence,
        })
    }
}

impl CurveRow {
    fn check(self, id: &str, what: &'static str) -> Result<Curve, MetalTableError> {
        let sourced = !self.source.trim().is_empty();
        Curve::new(self.points, self.source, self.confidence)
            .filter(|_| sourced)
            .ok_or_else(|| MetalTableError::Value {
                id: id.to_owned(),
                what,
            })
    }
}

/// Reads a material table in the format of `data/metals.toml`.
///
/// # Errors
/// [`MetalTableError`], naming the row and property.
pub fn parse_metals(text: &str) -> Result<Vec<Metal>, MetalTableError> {
    let file: File = toml::from_str(text).map_err(|e| MetalTableError::Format {
        message: e.message().to_owned(),
    })?;
    let mut metals: Vec<Metal> = Vec::with_capacity(file.metal.len());
    for row in file.metal {
        let id = row.id;
        if metals.iter().any(|m| m.id == id) {
            return Err(MetalTableError::Twice { id });
        }
        metals.push(Metal {
            density_kg_m3: row.density_kg_m3.check(&id, "density_kg_m3")?,
            max_service_k: row.max_service_k.check(&id, "max_service_k")?,
            expansion_per_k: row.expansion_per_k.check(&id, "expansion_per_k")?,
            conductivity_w_m_k: row.conductivity_w_m_k.check(&id, "conductivity_w_m_k")?,
            specific_heat_j_kg_k: row
                .specific_heat_j_kg_k
                .check(&id, "specific_heat_j_kg_k")?,
            name: row.name,
            kind: row.kind,
            emissivities: Vec::new(),
            id,
        });
    }
    for row in file.emissivity {
        attach(&mut metals, &row)?;
    }
    Ok(metals)
}

fn attach(metals: &mut [Metal], row: &EmissivityRow) -> Result<(), MetalTableError> {
    let ordered =
        0.0 < row.low && row.low <= row.likely && row.likely <= row.high && row.high <= 1.0;
    let usable = ordered && rising_range(row.range_k) && !row.source.trim().is_empty();
    for id in &row.materials {
        let Some(metal) = metals.iter_mut().find(|m| &m.id == id) else {
            return Err(MetalTableError::UnknownId { id: id.clone() });
        };
        if !usable || metal.emissivity(row.finish).is_some() {
            return Err(MetalTableError::Value {
                id: id.clone(),
                what: "emissivity",
            });
        }
        metal.emissivities.push(Emissivity {
            finish: row.finish,
            low: row.low,
            likely: row.likely,
            high: row.high,
            range_k: row.range_k,
            source: row.source.clone(),
            confidence: row.confidence,
        });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    const TABLE: &str = include_str!("../../data/metals.toml");

    #[test]
    fn a_row_without_source_is_refused() {
        let given = "source = \"ASM Handbook vol. 1, gray iron; ISO 185 annex (from memory)\"";
        let broken = TABLE.replacen(given, "source = \"\"", 1);
        assert_ne!(broken, TABLE);
        assert!(matches!(
            parse_metals(&broken),
            Err(MetalTableError::Value { .. })
        ));
    }

    #[test]
    fn nan_and_unknown_keys_are_refused() {
        let nan = TABLE.replacen("value = 7200.0", "value = nan", 1);
        assert!(matches!(
            parse_metals(&nan),
            Err(MetalTableError::Value { .. })
        ));
        let key = TABLE.replacen("kind = \"metal\"", "kind = \"metal\"\ncolour = 1", 1);
        assert!(matches!(
            parse_metals(&key),
            Err(MetalTableError::Format { .. })
        ));
    }
}
