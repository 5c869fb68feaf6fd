//! Treatments of hot parts by generic kind, read from `data/treatments.toml` at first use.

use std::sync::LazyLock;

use serde::Deserialize;
use thiserror::Error;

/// A number with its range and where it comes from, in the unit its field names.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Ranged {
    /// Low end.
    pub low: f64,
    /// Most likely.
    pub likely: f64,
    /// High end.
    pub high: f64,
    /// Where it comes from.
    pub source: String,
}

impl Ranged {
    /// Whether it is finite, in order and sourced.
    fn sound(&self) -> bool {
        [self.low, self.likely, self.high]
            .iter()
            .all(|v| v.is_finite())
            && self.low <= self.likely
            && self.likely <= self.high
            && !self.source.trim().is_empty()
    }
}

/// What kind of treatment it is.
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
pub enum Family {
    /// Metal without anything on it.
    Bare,
    /// Thin sprayed layer.
    Coat,
    /// Thin layer that works by its emissivity.
    Finish,
    /// Fibre tape wound on.
    Wrap,
    /// Fitted blanket with a face.
    Jacket,
    /// Sheet held off by an air gap.
    Shield,
}

impl Family {
    /// Every family.
    pub const ALL: [Self; 6] = [
        Self::Bare,
        Self::Coat,
        Self::Finish,
        Self::Wrap,
        Self::Jacket,
        Self::Shield,
    ];

    /// As written in a sheet.
    pub fn name(self) -> &'static str {
        match self {
            Self::Bare => "bare",
            Self::Coat => "coat",
            Self::Finish => "finish",
            Self::Wrap => "wrap",
            Self::Jacket => "jacket",
            Self::Shield => "shield",
        }
    }

    /// What all treatments of the family may do to people, cars and workshops.
    pub fn hazards(self) -> &'static [String] {
        let row = CATALOGUE.family.iter().find(|f| f.id == self);
        row.map_or(&[], |f| &f.hazards)
    }
}

/// Side of the metal a layer is on.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize, serde::Serialize, schemars::JsonSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum Side {
    /// Towards the bay.
    #[default]
    Outside,
    /// Towards the gas.
    Inside,
}

/// What layers are made of.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LayerMaterial {
    /// Exact id.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// Usual thickness of one layer [mm].
    pub thickness_mm: Ranged,
    /// Conductivity at 300 K [W/m/K].
    pub conductivity_w_mk: Ranged,
    /// Rise of conductivity per kelvin above 300 K [W/m/K2].
    pub conductivity_slope_w_mk2: Ranged,
    /// Density [kg/m3].
    pub density_kg_m3: Ranged,
    /// Specific heat [J/kg/K].
    pub specific_heat_j_kgk: Ranged,
    /// Total hemispherical emissivity of its face at 500 K [-].
    pub emissivity: Ranged,
    /// Rise of emissivity per kelvin above 500 K [1/K].
    pub emissivity_slope_per_k: Option<Ranged>,
}

/// One layer of a treatment.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LayerSpec {
    /// Name for reports; the material's id where absent.
    pub name: Option<String>,
    /// Id of its material.
    pub material: String,
    /// Side of the metal.
    #[serde(default)]
    pub side: Side,
    /// Thickness of one turn; the material's where absent [mm].
    pub thickness_mm: Option<Ranged>,
    /// Turns of tape.
    #[serde(default = "one")]
    pub turns: u32,
    /// Overlap of tape, share of its width [-].
    pub overlap: Option<Ranged>,
    /// Air gap beneath it [mm].
    pub gap_mm: Option<Ranged>,
    /// Emissivity of its face towards the gap [-].
    pub back_emissivity: Option<Ranged>,
    /// Share of free convection left on the faces of the gap, which is open at its edges [-].
    pub vented: Option<Ranged>,
}

fn one() -> u32 {
    1
}

/// What a season of use changes.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Season {
    /// What happened to it, in words.
    pub note: String,
    /// Factor on the conductivity of all layers [-].
    pub conductivity_factor: Option<Ranged>,
    /// Emissivity of the outer face [-].
    pub emissivity: Option<Ranged>,
    /// Emissivity of faces towards gaps [-].
    pub back_emissivity: Option<Ranged>,
    /// Share of the part that is still covered [-].
    pub coverage: Option<Ranged>,
}

/// A treatment.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Treatment {
    /// Exact id used in build sheets.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// Family.
    pub family: Family,
    /// Kinds of exhaust parts that it suits, as sheets write them.
    pub suits: Vec<String>,
    /// Layers, from the metal outwards; inside ones from the metal to the gas.
    #[serde(default)]
    pub layer: Vec<LayerSpec>,
    /// Emissivity of the outer face where the outermost material doesn't say it [-].
    pub emissivity: Option<Ranged>,
    /// Share of the part that it covers; all where absent [-].
    pub coverage: Option<Ranged>,
    /// Highest temperature it bears in service, at its hot face; for shields, its own [degC].
    pub max_service_c: Option<Ranged>,
    /// Price per area of the part [EUR/m2].
    pub price_eur_m2: Option<Ranged>,
    /// Price per part on top [EUR].
    pub price_eur_part: Option<Ranged>,
    /// What it may do, beside what its whole family may do.
    #[serde(default)]
    pub hazards: Vec<String>,
    /// What a season of use changes.
    pub season: Option<Season>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct Catalogue {
    material: Vec<LayerMaterial>,
    family: Vec<FamilyRow>,
    treatment: Vec<Treatment>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct FamilyRow {
    id: Family,
    hazards: Vec<String>,
}

/// Why a catalogue of treatments can't be used.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum TreatmentTableError {
    /// Not TOML of the expected shape.
    #[error("treatments: {message}")]
    Format {
        /// What the TOML reader said.
        message: String,
    },
    /// A number without source, not finite or out of order.
    #[error("treatments, {id}: a number has no source or is out of order")]
    Value {
        /// Row.
        id: String,
    },
    /// A material or a dimension that a layer needs is missing.
    #[error("treatments, {id}: {what}")]
    Layer {
        /// Row.
        id: String,
        /// What is missing.
        what: &'static str,
    },
    /// The same id twice.
    #[error("treatments: id \"{id}\" appears twice")]
    Twice {
        /// Row.
        id: String,
    },
}

impl LayerMaterial {
    fn numbers(&self) -> impl Iterator<Item = &Ranged> {
        [
            &self.thickness_mm,
            &self.conductivity_w_mk,
            &self.conductivity_slope_w_mk2,
            &self.density_kg_m3,
            &self.specific_heat_j_kgk,
            &self.emissivity,
        ]
        .into_iter()
        .chain(&self.emissivity_slope_per_k)
    }
}

impl Treatment {
    /// Every number of the row, those of its materials not among them.
    pub fn numbers(&self) -> Vec<&Ranged> {
        let mut all: Vec<&Ranged> = [
            &self.emissivity,
            &self.coverage,
            &self.max_service_c,
            &self.price_eur_m2,
            &self.price_eur_part,
        ]
        .into_iter()
        .flatten()
        .collect();
        for l in &self.layer {
            let own = [
                &l.thickness_mm,
                &l.overlap,
                &l.gap_mm,
                &l.back_emissivity,
                &l.vented,
            ];
            all.extend(own.into_iter().flatten());
        }
        if let Some(s) = &self.season {
            let own = [
                &s.conductivity_factor,
                &s.emissivity,
                &s.back_emissivity,
                &s.coverage,
            ];
            all.extend(own.into_iter().flatten());
        }
        all
    }

    /// Family's dangers, then its own.
    pub fn all_hazards(&self) -> impl Iterator<Item = &String> {
        self.family.hazards().iter().chain(&self.hazards)
    }
}

fn read(text: &str) -> Result<Catalogue, TreatmentTableError> {
    let catalogue: Catalogue = toml::from_str(text).map_err(|e| TreatmentTableError::Format {
        message: e.to_string(),
    })?;
    let mut ids: Vec<&str> = Vec::new();
    for m in &catalogue.material {
        if !m.numbers().all(Ranged::sound) {
            return Err(TreatmentTableError::Value { id: m.id.clone() });
        }
        ids.push(&m.id);
    }
    for t in &catalogue.treatment {
        if !t.numbers().into_iter().all(Ranged::sound) {
            return Err(TreatmentTableError::Value { id: t.id.clone() });
        }
        for l in &t.layer {
            let fault = |what| TreatmentTableError::Layer {
                id: t.id.clone(),
                what,
            };
            if catalogue.material.iter().all(|m| m.id != l.material) {
                return Err(fault("a layer's material is not in the table"));
            }
            if l.gap_mm.is_some() && (l.back_emissivity.is_none() || l.side == Side::Inside) {
                return Err(fault("a gap needs back_emissivity, and is outside"));
            }
        }
        ids.push(&t.id);
    }
    ids.sort_unstable();
    if let Some(twice) = ids.windows(2).find(|w| w[0] == w[1]) {
        let id = twice[0].to_owned();
        return Err(TreatmentTableError::Twice { id });
    }
    Ok(catalogue)
}

/// Checks the text of a catalogue; gives the number of its treatments.
///
/// # Errors
/// The first thing wrong in it.
pub fn check_treatments(text: &str) -> Result<usize, TreatmentTableError> {
    read(text).map(|c| c.treatment.len())
}

// Tests read the same text with `check_treatments`, so a table that doesn't parse can't ship as an empty list.
static CATALOGUE: LazyLock<Catalogue> =
    LazyLock::new(|| read(include_str!("../../data/treatments.toml")).unwrap_or_default());

/// Every treatment, in the order of the table.
pub fn treatments() -> &'static [Treatment] {
    &CATALOGUE.treatment
}

/// The treatment with this exact id.
pub fn treatment(id: &str) -> Option<&'static Treatment> {
    treatments().iter().find(|t| t.id == id)
}

/// Every material of layers.
pub fn layer_materials() -> &'static [LayerMaterial] {
    &CATALOGUE.material
}

/// The layer material with this exact id.
pub fn layer_material(id: &str) -> Option<&'static LayerMaterial> {
    layer_materials().iter().find(|m| m.id == id)
}
