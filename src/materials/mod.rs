//! Metals and duct materials, treatments, limits: ranges and sources, read from `data` at first use.

mod curve;
mod limits;
mod table;
mod treatments;

pub use curve::Curve;
pub use limits::{Limit, limit, limit_k, limit_source, limits, limits_of_metal};
pub use table::{MetalTableError, parse_metals};
pub use treatments::*;

use serde::{Deserialize, Serialize};
use std::sync::LazyLock;
use thiserror::Error;

/// How far a value can be trusted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Confidence {
    /// Handbook value for this very material.
    High,
    /// Handbook value for a near relative, or from memory with some doubt.
    Medium,
    /// Estimate.
    Low,
}

/// What kind of material a row is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    /// Cast or wrought metal.
    Metal,
    /// Thermoplastic.
    Plastic,
    /// Elastomer.
    Rubber,
    /// Glass.
    Glass,
}

/// Condition of a surface.
#[derive(
    Debug,
    Clone,
    Copy,
    PartialEq,
    Eq,
    PartialOrd,
    Ord,
    Hash,
    Serialize,
    Deserialize,
    schemars::JsonSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum Finish {
    /// Bright and clean.
    Polished,
    /// With the oxide of hot service.
    Oxidised,
    /// Turned, milled or as rolled, without oxide.
    Machined,
    /// Ordinary or heat-resistant paint, any colour.
    Painted,
    /// Bare plastic, rubber or glass.
    Plastic,
    /// Red rust.
    Rusted,
    /// Hot-dip aluminised.
    Aluminised,
}

impl Finish {
    /// Every finish.
    pub const ALL: [Self; 7] = [
        Self::Polished,
        Self::Oxidised,
        Self::Machined,
        Self::Painted,
        Self::Plastic,
        Self::Rusted,
        Self::Aluminised,
    ];
}

/// One number with its provenance.
#[derive(Debug, Clone, PartialEq)]
pub struct Sourced {
    /// Value, in the unit its field names.
    pub value: f64,
    /// Lowest and highest temperature [K] the value holds for.
    pub range_k: [f64; 2],
    /// Where it comes from.
    pub source: String,
    /// How far it can be trusted.
    pub confidence: Confidence,
}

/// Total hemispherical emissivity of one finish [-].
#[derive(Debug, Clone, PartialEq)]
pub struct Emissivity {
    /// Surface condition.
    pub finish: Finish,
    /// Low end.
    pub low: f64,
    /// Most likely.
    pub likely: f64,
    /// High end.
    pub high: f64,
    /// Temperature range of the value [K].
    pub range_k: [f64; 2],
    /// Where it comes from.
    pub source: String,
    /// How far it can be trusted.
    pub confidence: Confidence,
}

/// A metal or duct material.
#[derive(Debug, Clone)]
pub struct Metal {
    /// Exact id used in build sheets.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// Kind of material.
    pub kind: Kind,
    /// Density [kg/m3].
    pub density_kg_m3: Sourced,
    /// Highest service temperature [K]: scaling for metals, ageing for plastics and rubber.
    pub max_service_k: Sourced,
    /// Mean linear expansion coefficient over its range [1/K].
    pub expansion_per_k: Sourced,
    /// Thermal conductivity curve [W/m/K].
    pub conductivity_w_m_k: Curve,
    /// Specific heat curve [J/kg/K].
    pub specific_heat_j_kg_k: Curve,
    /// Emissivities by finish.
    pub emissivities: Vec<Emissivity>,
}

impl Metal {
    /// Thermal conductivity [W/m/K] at `t_k` [K]; the end values hold outside the table.
    #[inline]
    pub fn conductivity(&self, t_k: f64) -> f64 {
        self.conductivity_w_m_k.value(t_k)
    }

    /// Specific heat [J/kg/K] at `t_k` [K]; the end values hold outside the table.
    #[inline]
    pub fn specific_heat(&self, t_k: f64) -> f64 {
        self.specific_heat_j_kg_k.value(t_k)
    }

    /// Table of the specific heat: (temperature [K], J/kg/K), straight between and level beyond.
    pub fn specific_heat_points(&self) -> &[(f64, f64)] {
        self.specific_heat_j_kg_k.points()
    }

    /// Internal energy [J/kg] relative to 298.15 K: the exact integral of [`Metal::specific_heat`].
    #[inline]
    pub fn internal_energy(&self, t_k: f64) -> f64 {
        self.specific_heat_j_kg_k.integral(t_k)
    }

    /// Emissivity of a finish, or `None` where that finish makes no sense for this material.
    pub fn emissivity(&self, finish: Finish) -> Option<&Emissivity> {
        self.emissivities.iter().find(|e| e.finish == finish)
    }

    /// Every distinct source behind this row.
    pub fn sources(&self) -> Vec<&str> {
        let mut all: Vec<&str> = [
            &self.density_kg_m3,
            &self.max_service_k,
            &self.expansion_per_k,
        ]
        .into_iter()
        .map(|s| s.source.as_str())
        .chain([
            self.conductivity_w_m_k.source(),
            self.specific_heat_j_kg_k.source(),
        ])
        .chain(self.emissivities.iter().map(|e| e.source.as_str()))
        .collect();
        all.sort_unstable();
        all.dedup();
        all
    }
}

/// A material id that isn't in the table.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("unknown material \"{name}\"{}", hint(near))]
pub struct UnknownName {
    /// What was asked for.
    pub name: String,
    /// Ids that look like it, nearest first.
    pub near: Vec<String>,
}

fn hint(near: &[String]) -> String {
    if near.is_empty() {
        String::new()
    } else {
        format!("; did you mean {}", near.join(" or "))
    }
}

// A test reads the same text with `parse_metals`, so a table that doesn't parse can't ship as an empty list.
static METALS: LazyLock<Vec<Metal>> =
    LazyLock::new(|| parse_metals(include_str!("../../data/metals.toml")).unwrap_or_default());

/// Every material, in the order of the table.
pub fn metals() -> &'static [Metal] {
    &METALS
}

/// The material with this exact id.
///
/// # Errors
/// [`UnknownName`], with near ids.
pub fn metal(id: &str) -> Result<&'static Metal, UnknownName> {
    METALS
        .iter()
        .find(|m| m.id == id)
        .ok_or_else(|| UnknownName {
            name: id.to_owned(),
            near: near_ids(id),
        })
}

fn near_ids(id: &str) -> Vec<String> {
    const ALIKE: f64 = 0.75;
    const AT_MOST: usize = 3;
    let mut scored: Vec<(f64, &str)> = METALS
        .iter()
        .map(|m| (strsim::jaro_winkler(id, &m.id), m.id.as_str()))
        .filter(|(score, _)| *score >= ALIKE)
        .collect();
    scored.sort_by(|a, b| b.0.total_cmp(&a.0));
    scored
        .into_iter()
        .take(AT_MOST)
        .map(|(_, id)| id.to_owned())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_has_sources_and_plausible_values() {
        let table = parse_metals(include_str!("../../data/metals.toml")).unwrap();
        assert!(table.len() >= 17);
        for m in &table {
            let id = &m.id;
            assert!(
                m.sources().iter().all(|s| s.trim().len() > 8),
                "{id}: thin source"
            );
            assert!(
                (800.0..10_000.0).contains(&m.density_kg_m3.value),
                "{id} density"
            );
            assert!(
                (330.0..1400.0).contains(&m.max_service_k.value),
                "{id} service"
            );
            assert!(
                (5e-6..400e-6).contains(&m.expansion_per_k.value),
                "{id} expansion"
            );
            for &(t, k) in m.conductivity_w_m_k.points() {
                assert!(
                    (200.0..1500.0).contains(&t) && (0.01..500.0).contains(&k),
                    "{id} k {k} at {t}"
                );
            }
            for &(t, c) in m.specific_heat_j_kg_k.points() {
                assert!(
                    (200.0..1500.0).contains(&t) && (350.0..3000.0).contains(&c),
                    "{id} cp {c} at {t}"
                );
            }
            assert!(!m.emissivities.is_empty(), "{id} has no emissivity");
            for e in &m.emissivities {
                assert!(
                    0.02 <= e.low && e.low <= e.likely && e.likely <= e.high && e.high <= 0.98,
                    "{id}"
                );
            }
            let plastic = m.emissivity(Finish::Plastic).is_some();
            assert_eq!(plastic, m.kind != Kind::Metal, "{id}");
        }
    }

    #[test]
    fn internal_energy_is_the_integral_of_specific_heat() {
        for m in metals() {
            assert!(m.internal_energy(298.15).abs() < 1e-9);
            for t in [240.0, 310.0, 555.0, 900.0, 1600.0] {
                let slope = (m.internal_energy(t + 1e-3) - m.internal_energy(t - 1e-3)) / 2e-3;
                assert!(
                    (slope / m.specific_heat(t) - 1.0).abs() < 1e-5,
                    "{} {t}",
                    m.id
                );
            }
        }
    }

    #[test]
    fn a_misspelt_id_names_its_neighbours() {
        let e = metal("stainles-304").unwrap_err();
        assert_eq!(e.near[0], "stainless-304");
        assert!(e.to_string().contains("did you mean stainless-304"));
        assert!(metal("zzzz").unwrap_err().near.is_empty());
    }
}
