//! Treatments: from the catalogue or the sheet to layers in SI.
//!
//! Properties of a layer material have one key for all treatments that use it, so that draws give
//! one turn and two turns of tape the same tape.

use std::collections::BTreeMap;

use crate::materials::{
    self, Family, LayerMaterial, LayerSpec, Ranged, Season, Side, layer_material,
};
use crate::sheet::build::{Gap, Layer, Treatment};
use crate::sheet::check::entry;
use crate::sheet::cost::Price;
use crate::sheet::input::Input;
use crate::sheet::problem::mean_or_list;
use crate::sheet::raw::{Age, ExhaustSheet, LayerSheet, PartKind, SeasonSheet, TreatmentSheet};
use crate::sheet::resolve::{Taker, guess};

/// Source of what the sheet states itself.
const SHEET: &str = "build sheet";
/// Temperature at which emissivities are tabled [K].
const EMISSIVITY_AT_K: f64 = 500.0;
/// Temperature for which a sloping emissivity is taken: bare or coated metal under load [K]. The
/// radiosity of the bay is solved once, so that an emissivity is one number.
const EMISSIVITY_FOR_K: f64 = 750.0;

/// A treatment with the materials of its layers and their keys.
#[derive(Debug, Clone)]
struct Spec {
    row: materials::Treatment,
    materials: Vec<(LayerMaterial, String)>,
}

/// A settled layer material.
#[derive(Debug, Clone, Copy)]
struct Stuff {
    conductivity_w_mk: f64,
    slope: f64,
    density_kg_m3: f64,
    specific_heat_j_kgk: f64,
    emissivity: f64,
}

/// A treatment as fitted, with what a buyer wants to know.
#[derive(Debug, Clone)]
pub(super) struct Fitting {
    /// Settled; `None` where the part stays bare.
    pub treatment: Option<Treatment>,
    /// Name for people.
    pub name: String,
    /// Family.
    pub family: Family,
    /// Price per area [EUR/m2].
    pub price_m2: Price,
    /// Price per part [EUR].
    pub price_part: Price,
    /// Dangers.
    pub hazards: Vec<String>,
    /// What a season has done; empty when new.
    pub note: String,
}

/// All treatments of a sheet, settled when first asked for.
pub(super) struct Treatments<'s> {
    sheets: &'s BTreeMap<String, TreatmentSheet>,
    own: BTreeMap<&'s str, Option<Spec>>,
    stuff: BTreeMap<String, Stuff>,
    thicknesses: BTreeMap<String, f64>,
    done: BTreeMap<(String, Age), Fitting>,
}

impl<'s> Treatments<'s> {
    /// Checks the sheet's own treatments.
    pub(super) fn new(sheets: &'s BTreeMap<String, TreatmentSheet>, t: &mut Taker<'_, '_>) -> Self {
        let own = sheets
            .iter()
            .map(|(name, s)| (name.as_str(), own(name, s, t)))
            .collect();
        Self {
            sheets,
            own,
            stuff: BTreeMap::new(),
            thicknesses: BTreeMap::new(),
            done: BTreeMap::new(),
        }
    }

    /// The treatment that a part names, if it names one that is there and suits it.
    pub(super) fn of_part(
        &mut self,
        s: &ExhaustSheet,
        path: &str,
        t: &mut Taker<'_, '_>,
    ) -> Option<Fitting> {
        let Some(name) = &s.treatment else {
            if s.treatment_age.is_some() {
                let hint = "name the treatment, or drop the age".to_owned();
                let key = format!("{path}.treatment_age");
                t.problem(&key, "an age without a treatment", "", hint);
            }
            return None;
        };
        let key = format!("{path}.treatment");
        let spec = match self.own.get(name.as_str()) {
            // what is wrong with it is said at its own place
            Some(own) => own.clone()?,
            None => match named(name) {
                Some(spec) => spec,
                None => {
                    let known = materials::treatments().iter().map(|c| c.id.as_str());
                    let own = self.sheets.keys().map(String::as_str);
                    let hint = mean_or_list(name, own.chain(known));
                    t.problem(&key, "no treatment of this name", "", hint);
                    return None;
                }
            },
        };
        if spec.row.suits.iter().all(|kind| kind != s.kind.word()) {
            let message = format!("is not for a part of kind {}", s.kind.word());
            let kinds = spec.row.suits.join(", ");
            let hint = format!("it suits {kinds}; `baysoak list treatments` shows others");
            t.problem(&key, &message, &kinds, hint);
            return None;
        }
        let age = s.treatment_age.unwrap_or_default();
        let at = (name.clone(), age);
        if !self.done.contains_key(&at) {
            let fitting = self.fitting(&spec, age, t);
            self.done.insert(at.clone(), fitting);
        }
        self.done.get(&at).cloned()
    }

    fn fitting(&mut self, spec: &Spec, age: Age, t: &mut Taker<'_, '_>) -> Fitting {
        let row = &spec.row;
        let season = row.season.as_ref().filter(|_| age == Age::Season);
        let treatment = self.treatment(spec, season, t);
        let does_something = !treatment.inside.is_empty()
            || !treatment.outside.is_empty()
            || treatment.finish.is_some();
        Fitting {
            treatment: does_something.then_some(treatment),
            name: row.name.clone(),
            family: row.family,
            price_m2: price(row.price_eur_m2.as_ref()),
            price_part: price(row.price_eur_part.as_ref()),
            hazards: row.all_hazards().cloned().collect(),
            note: season.map(|s| s.note.clone()).unwrap_or_default(),
        }
    }

    fn treatment(
        &mut self,
        spec: &Spec,
        season: Option<&Season>,
        t: &mut Taker<'_, '_>,
    ) -> Treatment {
        let row = &spec.row;
        let path = format!("treatment.{}", row.id);
        let key = |name: &str| format!("{path}.{name}");
        let aged = |name: &str| format!("{path}.season.{name}");
        let factor = season.and_then(|s| s.conductivity_factor.as_ref());
        let factor = factor.map_or(1.0, |r| number(&aged("conductivity_factor"), r, t));
        let back = season.and_then(|s| s.back_emissivity.as_ref());
        let back = back.map(|r| number(&aged("back_emissivity"), r, t));
        let (mut inside, mut outside) = (Vec::new(), Vec::new());
        for (i, (l, (material, material_key))) in row.layer.iter().zip(&spec.materials).enumerate()
        {
            let name = l.name.clone().unwrap_or_else(|| l.material.clone());
            let place = entry(&key("layer"), Some(&name), i);
            let mut layer = self.layer(l, (material, material_key), &place, t);
            layer.name = name;
            layer.conductivity_w_mk *= factor;
            layer.conductivity_slope *= factor;
            if let (Some(gap), Some(back)) = (&mut layer.gap, back) {
                gap.back_emissivity = back;
            }
            match l.side {
                Side::Inside => inside.push(layer),
                Side::Outside => outside.push(layer),
            }
        }
        let face = match season.and_then(|s| s.emissivity.as_ref()) {
            Some(r) => Some(number(&aged("emissivity"), r, t)),
            None => row
                .emissivity
                .as_ref()
                .map(|r| number(&key("emissivity"), r, t)),
        };
        if let (Some(face), Some(last)) = (face, outside.last_mut()) {
            last.emissivity = face;
        }
        let coverage = match season.and_then(|s| s.coverage.as_ref()) {
            Some(r) => number(&aged("coverage"), r, t),
            None => row
                .coverage
                .as_ref()
                .map_or(1.0, |r| number(&key("coverage"), r, t)),
        };
        Treatment {
            id: row.id.clone(),
            name: row.name.clone(),
            family: row.family,
            inside,
            finish: face.filter(|_| outside.is_empty()),
            outside,
            coverage,
            max_service_k: row
                .max_service_c
                .as_ref()
                .map(|r| number(&key("max_service_c"), r, t)),
            limit_source: row
                .max_service_c
                .as_ref()
                .map(|r| r.source.clone())
                .unwrap_or_default(),
        }
    }

    fn layer(
        &mut self,
        l: &LayerSpec,
        (material, material_key): (&LayerMaterial, &str),
        path: &str,
        t: &mut Taker<'_, '_>,
    ) -> Layer {
        let stuff = *self
            .stuff
            .entry(material_key.to_owned())
            .or_insert_with(|| settle_material(material, material_key, t));
        let thickness_m = match &l.thickness_mm {
            Some(r) => number(&format!("{path}.thickness_mm"), r, t),
            None => *self
                .thicknesses
                .entry(material_key.to_owned())
                .or_insert_with(|| {
                    number(
                        &format!("{material_key}.thickness_mm"),
                        &material.thickness_mm,
                        t,
                    )
                }),
        };
        let overlap = l.overlap.as_ref();
        let overlap = overlap.map_or(0.0, |r| number(&format!("{path}.overlap"), r, t));
        let gap = l.gap_mm.as_ref().map(|width| Gap {
            width_m: number(&format!("{path}.gap_mm"), width, t),
            back_emissivity: l.back_emissivity.as_ref().map_or(stuff.emissivity, |r| {
                number(&format!("{path}.back_emissivity"), r, t)
            }),
            vented: l
                .vented
                .as_ref()
                .map_or(0.0, |r| number(&format!("{path}.vented"), r, t)),
        });
        Layer {
            name: String::new(),
            thickness_m: thickness_m * f64::from(l.turns) / (1.0 - overlap),
            conductivity_w_mk: stuff.conductivity_w_mk,
            conductivity_slope: stuff.slope,
            density_kg_m3: stuff.density_kg_m3,
            specific_heat_j_kgk: stuff.specific_heat_j_kgk,
            emissivity: stuff.emissivity,
            gap,
        }
    }
}

/// One number through the chooser, in SI.
fn number(key: &str, r: &Ranged, t: &mut Taker<'_, '_>) -> f64 {
    if r.source == SHEET {
        let input = Input {
            low: r.low,
            likely: r.likely,
            high: r.high,
        };
        return t.given_si(key, &input);
    }
    t.si(key, None, guess(r.low, r.likely, r.high, r.source.clone()))
}

fn settle_material(m: &LayerMaterial, path: &str, t: &mut Taker<'_, '_>) -> Stuff {
    let mut take = |name: &str, r: &Ranged| number(&format!("{path}.{name}"), r, t);
    let emissivity = take("emissivity", &m.emissivity);
    let slope = m.emissivity_slope_per_k.as_ref();
    let slope = slope.map_or(0.0, |r| take("emissivity_slope_per_k", r));
    Stuff {
        conductivity_w_mk: take("conductivity_w_mk", &m.conductivity_w_mk),
        slope: take("conductivity_slope_w_mk2", &m.conductivity_slope_w_mk2),
        density_kg_m3: take("density_kg_m3", &m.density_kg_m3),
        specific_heat_j_kgk: take("specific_heat_j_kgk", &m.specific_heat_j_kgk),
        emissivity: (emissivity + slope * (EMISSIVITY_FOR_K - EMISSIVITY_AT_K)).clamp(0.02, 1.0),
    }
}

fn price(r: Option<&Ranged>) -> Price {
    r.map_or(Price::default(), Price::from)
}

/// A treatment of the catalogue.
fn named(id: &str) -> Option<Spec> {
    let row = materials::treatment(id)?.clone();
    let materials = row
        .layer
        .iter()
        .map(|l| {
            let material = layer_material(&l.material)?.clone();
            let key = format!("treatment.{}", material.id);
            Some((material, key))
        })
        .collect::<Option<_>>()?;
    Some(Spec { row, materials })
}

fn stated(input: Option<&Input>) -> Option<Ranged> {
    input.map(|i| Ranged {
        low: i.low,
        likely: i.likely,
        high: i.high,
        source: SHEET.to_owned(),
    })
}

fn guessed(low: f64, likely: f64, high: f64, source: &str) -> Ranged {
    Ranged {
        low,
        likely,
        high,
        source: source.to_owned(),
    }
}

/// A treatment that the sheet describes; `None` when it can't be used, with problems.
fn own(name: &str, s: &TreatmentSheet, t: &mut Taker<'_, '_>) -> Option<Spec> {
    let path = format!("treatment.{name}");
    if materials::treatment(name).is_some() || layer_material(name).is_some() {
        let hint =
            "give yours another name; `baysoak list treatments` shows those taken".to_owned();
        t.problem(&path, "this name is in the catalogue", "", hint);
        return None;
    }
    if s.layer.is_empty() && s.emissivity.is_none() {
        let hint = "write [[treatment.NAME.layer]] entries below it, or an emissivity".to_owned();
        t.problem(&path, "has no layer and no emissivity", "", hint);
        return None;
    }
    let mut layers = Vec::new();
    let mut materials = Vec::new();
    for (i, l) in s.layer.iter().enumerate() {
        let label = l.name.clone().unwrap_or_else(|| (i + 1).to_string());
        let place = entry(&format!("{path}.layer"), Some(&label), i);
        let material = own_material(l, &place, t);
        if l.side == Some(Side::Inside) && l.gap_mm.is_some() {
            let hint = "drop gap_mm, or put the layer outside".to_owned();
            t.problem(&format!("{place}.gap_mm"), "a gap inside a pipe", "", hint);
        }
        materials.push((material?, place));
        layers.push(LayerSpec {
            name: Some(label),
            material: l.material.clone().unwrap_or_default(),
            side: l.side.unwrap_or_default(),
            thickness_mm: None,
            turns: l.turns.unwrap_or(1),
            overlap: stated(l.overlap.as_ref()),
            gap_mm: stated(l.gap_mm.as_ref()),
            back_emissivity: stated(l.back_emissivity.as_ref()).or(l
                .gap_mm
                .map(|_| guessed(0.15, 0.35, 0.7, "sheet metal towards heat; estimate"))),
            vented: stated(l.vented.as_ref()).or(l
                .gap_mm
                .map(|_| guessed(0.2, 0.5, 0.9, "open at its edges; estimate"))),
        });
    }
    let gap = s.layer.iter().any(|l| l.gap_mm.is_some());
    let family = s
        .family
        .unwrap_or(if gap { Family::Shield } else { Family::Wrap });
    let suits = s.suits.clone().unwrap_or_else(|| PartKind::ALL.to_vec());
    Some(Spec {
        row: materials::Treatment {
            id: name.to_owned(),
            name: s.name.clone().unwrap_or_else(|| name.to_owned()),
            family,
            suits: suits.iter().map(|k| k.word().to_owned()).collect(),
            layer: layers,
            emissivity: stated(s.emissivity.as_ref()),
            coverage: stated(s.coverage.as_ref()),
            max_service_c: stated(s.max_service_c.as_ref()),
            price_eur_m2: stated(s.price_eur_m2.as_ref()),
            price_eur_part: stated(s.price_eur_part.as_ref()),
            hazards: s.hazards.clone(),
            season: s.season.as_ref().map(season),
        },
        materials,
    })
}

fn season(s: &SeasonSheet) -> Season {
    Season {
        note: s.note.clone().unwrap_or_default(),
        conductivity_factor: stated(s.conductivity_factor.as_ref()),
        emissivity: stated(s.emissivity.as_ref()),
        back_emissivity: stated(s.back_emissivity.as_ref()),
        coverage: stated(s.coverage.as_ref()),
    }
}

/// Material of a layer in the sheet: its own numbers, else those of the material it names, else
/// estimates.
fn own_material(l: &LayerSheet, path: &str, t: &mut Taker<'_, '_>) -> Option<LayerMaterial> {
    let base = match &l.material {
        None => None,
        Some(id) => match layer_material(id) {
            Some(m) => Some(m),
            None => {
                let known = materials::layer_materials().iter().map(|m| m.id.as_str());
                let hint = mean_or_list(id, known);
                t.problem(
                    &format!("{path}.material"),
                    "no layer material of this name",
                    "",
                    hint,
                );
                return None;
            }
        },
    };
    let (thickness, conductivity) = match (
        stated(l.thickness_mm.as_ref()).or(base.map(|m| m.thickness_mm.clone())),
        stated(l.conductivity_w_mk.as_ref()).or(base.map(|m| m.conductivity_w_mk.clone())),
    ) {
        (Some(thickness), Some(conductivity)) => (thickness, conductivity),
        _ => {
            let hint = "from what its maker states, or name a material".to_owned();
            let message = "needs thickness_mm and conductivity_w_mk";
            t.problem(path, message, "", hint);
            return None;
        }
    };
    let or = |given: Option<&Input>, of_base: Option<&Ranged>, fallback: Ranged| {
        stated(given).or(of_base.cloned()).unwrap_or(fallback)
    };
    Some(LayerMaterial {
        id: String::new(),
        name: String::new(),
        thickness_mm: thickness,
        conductivity_w_mk: conductivity,
        conductivity_slope_w_mk2: or(
            l.conductivity_slope_w_mk2.as_ref(),
            base.map(|m| &m.conductivity_slope_w_mk2)
                .filter(|_| l.conductivity_w_mk.is_none()),
            guessed(0.0, 0.0, 0.0, "taken as constant"),
        ),
        density_kg_m3: or(
            l.density_kg_m3.as_ref(),
            base.map(|m| &m.density_kg_m3),
            guessed(150.0, 400.0, 1000.0, "fibre wrap as fitted; estimate"),
        ),
        specific_heat_j_kgk: or(
            l.specific_heat_j_kgk.as_ref(),
            base.map(|m| &m.specific_heat_j_kgk),
            guessed(
                750.0,
                900.0,
                1100.0,
                "glass, basalt or ceramic fibre; estimate",
            ),
        ),
        emissivity: or(
            l.emissivity.as_ref(),
            base.map(|m| &m.emissivity),
            guessed(
                0.7,
                0.85,
                0.95,
                "glass, basalt or silica cloth; emissivity tables",
            ),
        ),
        emissivity_slope_per_k: None,
    })
}
