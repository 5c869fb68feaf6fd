//! Metals, and the plastics and rubbers of intake parts, from `data/metals.toml`.

use std::sync::LazyLock;

use serde::Deserialize;

use crate::constants::{REFERENCE_TEMPERATURE_K, ZERO_CELSIUS_K};

mod curve;

pub use curve::Curve;

/// State of a surface, which sets its emissivity.
#[derive(
    Debug,
    Clone,
    Copy,
    PartialEq,
    Eq,
    PartialOrd,
    Ord,
    Deserialize,
    serde::Serialize,
    schemars::JsonSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum Finish {
    /// Bright or polished.
    Polished,
    /// Oxidised in service.
    Oxidised,
    /// Machined or freshly cut.
    Machined,
    /// Painted or lacquered.
    Painted,
    /// Plastic or rubber as made.
    Plastic,
    /// Rusted.
    Rusted,
    /// Aluminised steel.
    Aluminised,
}

impl Finish {
    /// All finishes.
    pub const ALL: [Self; 7] = [
        Self::Polished,
        Self::Oxidised,
        Self::Machined,
        Self::Painted,
        Self::Plastic,
        Self::Rusted,
        Self::Aluminised,
    ];

    /// Emissivity where a material has none of its own: generic values of that finish (estimate).
    fn generic(self) -> Span {
        let (low, likely, high) = match self {
            Self::Polished => (0.07, 0.15, 0.28),
            Self::Oxidised => (0.60, 0.80, 0.95),
            Self::Machined => (0.20, 0.30, 0.44),
            Self::Painted | Self::Plastic => (0.85, 0.90, 0.95),
            Self::Rusted => (0.61, 0.69, 0.80),
            Self::Aluminised => (0.10, 0.20, 0.35),
        };
        Span { low, likely, high }
    }
}

/// A range of a value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// Low end.
    pub low: f64,
    /// Most likely.
    pub likely: f64,
    /// High end.
    pub high: f64,
}

/// A row of `data/metals.toml`.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Row {
    id: String,
    name: String,
    density_kg_m3: f64,
    conductivity_w_mk: Vec<(f64, f64)>,
    specific_heat_j_kgk: Vec<(f64, f64)>,
    max_service_c: f64,
    max_service_source: String,
    expansion_per_k: f64,
    source: String,
    confidence: String,
    emissivity: std::collections::BTreeMap<Finish, [f64; 3]>,
    emissivity_source: String,
}

#[derive(Deserialize)]
struct File {
    material: Vec<Row>,
}

/// A material.
#[derive(Debug)]
pub struct Metal {
    /// Id in sheets.
    pub id: String,
    /// Name.
    pub name: String,
    /// Density [kg/m3].
    pub density_kg_m3: f64,
    /// Highest temperature for long use [K].
    pub max_service_k: f64,
    /// What sets it, with source.
    pub max_service_source: String,
    /// Linear thermal expansion, mean over its use [1/K].
    pub expansion_per_k: f64,
    /// Source of the properties.
    pub source: String,
    /// How sure: `handbook` or `estimate`.
    pub confidence: String,
    /// Source of the emissivities.
    pub emissivity_source: String,
    conductivity: Curve,
    specific_heat: Curve,
    emissivity: std::collections::BTreeMap<Finish, [f64; 3]>,
}

impl Metal {
    fn new(row: Row) -> Self {
        let kelvin = |points: Vec<(f64, f64)>| {
            Curve::new(
                points
                    .into_iter()
                    .map(|(c, v)| (c + ZERO_CELSIUS_K, v))
                    .collect(),
            )
        };
        Self {
            id: row.id,
            name: row.name,
            density_kg_m3: row.density_kg_m3,
            max_service_k: row.max_service_c + ZERO_CELSIUS_K,
            max_service_source: row.max_service_source,
            expansion_per_k: row.expansion_per_k,
            source: row.source,
            confidence: row.confidence,
            emissivity_source: row.emissivity_source,
            conductivity: kelvin(row.conductivity_w_mk),
            specific_heat: kelvin(row.specific_heat_j_kgk),
            emissivity: row.emissivity,
        }
    }

    /// Thermal conductivity [W/m/K]; beyond the table its end value.
    pub fn conductivity(&self, t_k: f64) -> f64 {
        self.conductivity.value(t_k)
    }

    /// Specific heat [J/kg/K]; beyond the table its end value.
    #[inline]
    pub fn specific_heat(&self, t_k: f64) -> f64 {
        self.specific_heat.value(t_k)
    }

    /// Heat stored relative to 298.15 K [J/kg]: the exact integral of [`Metal::specific_heat`].
    pub fn internal_energy(&self, t_k: f64) -> f64 {
        self.specific_heat.integral(t_k) - self.specific_heat.integral(REFERENCE_TEMPERATURE_K)
    }

    /// Total hemispherical emissivity with a finish; the finish's generic value where the material
    /// has none of its own.
    pub fn emissivity(&self, finish: Finish) -> Span {
        self.emissivity.get(&finish).map_or_else(
            || finish.generic(),
            |&[low, likely, high]| Span { low, likely, high },
        )
    }
}

/// A name that is not in the table.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("unknown material `{name}`\n  hint: {}", self.hint())]
pub struct UnknownName {
    /// The name asked for.
    pub name: String,
    /// Names like it, nearest first.
    pub near: Vec<String>,
}

impl UnknownName {
    /// A way out.
    pub fn hint(&self) -> String {
        match self.near.as_slice() {
            [] => "`baysoak list metals` shows all".to_owned(),
            near => format!(
                "did you mean {}? `baysoak list metals` shows all",
                near.join(" or ")
            ),
        }
    }
}

static TABLE: LazyLock<Vec<Metal>> = LazyLock::new(|| {
    // the file is part of the program; a unit test reads it, so a fault can't be shipped
    toml::from_str::<File>(include_str!("../../data/metals.toml"))
        .map(|file| file.material.into_iter().map(Metal::new).collect())
        .unwrap_or_default()
});

/// All materials.
pub fn metals() -> &'static [Metal] {
    &TABLE
}

/// A material by its exact id.
///
/// # Errors
/// With near names when there is none.
pub fn metal(id: &str) -> Result<&'static Metal, UnknownName> {
    metals().iter().find(|m| m.id == id).ok_or_else(|| {
        let mut near: Vec<(f64, &str)> = metals()
            .iter()
            .map(|m| (strsim::jaro_winkler(&m.id, id), m.id.as_str()))
            .collect();
        near.sort_by(|a, b| b.0.total_cmp(&a.0));
        let near = near
            .into_iter()
            .filter(|n| n.0 > 0.75)
            .take(3)
            .map(|n| n.1.to_owned());
        UnknownName {
            name: id.to_owned(),
            near: near.collect(),
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_is_plausible_and_has_its_sources() {
        let file: File = toml::from_str(include_str!("../../data/metals.toml")).expect("reads");
        assert!(file.material.len() >= 16);
        for row in &file.material {
            for text in [&row.source, &row.max_service_source, &row.emissivity_source] {
                assert!(text.len() > 5, "{}: source missing", row.id);
            }
            assert!(
                ["handbook", "estimate"].contains(&row.confidence.as_str()),
                "{}",
                row.id
            );
            assert!((900.0..9000.0).contains(&row.density_kg_m3), "{}", row.id);
            assert!((5e-6..300e-6).contains(&row.expansion_per_k), "{}", row.id);
            for curve in [&row.conductivity_w_mk, &row.specific_heat_j_kgk] {
                assert!(
                    curve.windows(2).all(|w| w[0].0 < w[1].0),
                    "{}: order",
                    row.id
                );
            }
            assert!(
                row.conductivity_w_mk
                    .iter()
                    .all(|p| (0.01..500.0).contains(&p.1))
            );
            assert!(
                row.specific_heat_j_kgk
                    .iter()
                    .all(|p| (300.0..2500.0).contains(&p.1))
            );
            for e in row.emissivity.values() {
                assert!(
                    0.0 < e[0] && e[0] <= e[1] && e[1] <= e[2] && e[2] <= 1.0,
                    "{}",
                    row.id
                );
            }
        }
    }

    #[test]
    fn stored_heat_is_the_integral_of_specific_heat() {
        for m in metals() {
            for t in [250.0, 310.0, 700.0, 990.0, 1200.0] {
                let step = 0.01;
                let slope =
                    (m.internal_energy(t + step) - m.internal_energy(t - step)) / (2.0 * step);
                approx::assert_relative_eq!(slope, m.specific_heat(t), max_relative = 1e-6);
            }
        }
    }

    #[test]
    fn a_misspelt_name_gets_near_ones() {
        let error = metal("stainles-304").expect_err("unknown");
        assert_eq!(
            error.near.first().map(String::as_str),
            Some("stainless-304")
        );
        assert!(error.to_string().contains("did you mean stainless-304"));
    }
}
