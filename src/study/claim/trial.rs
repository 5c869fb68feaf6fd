//! The car bare and treated, at a point, with likely or drawn numbers and, where asked, another layer.

use super::input::{Claim, Known, LayerKnown};
use super::point::{At, PointState, Warmth, solve_at};
use crate::sheet::build::{Build, Layer, Treatment};
use crate::sheet::{Chooser, Input, OptionSpec, Sheet, SheetError, triangular_quantile};
use crate::study::latin_hypercube::LatinHypercube;
use crate::study::run::RunError;

/// Temperature at which a stated conductivity is taken to hold where it has no slope [K].
pub const REFERENCE_K: f64 = 300.0;

/// Where numbers come from.
#[derive(Debug, Clone, Copy)]
pub enum Numbers<'a> {
    /// Likely values.
    Likely,
    /// A draw.
    Draw(&'a LatinHypercube, usize),
}

impl Numbers<'_> {
    fn quantile(self, key: &str) -> Option<f64> {
        match self {
            Self::Likely => None,
            Self::Draw(cube, draw) => Some(cube.quantile(key, draw)),
        }
    }

    /// A number between low and high, likely in the middle.
    #[must_use]
    pub fn pick(self, key: &str, range: Input) -> f64 {
        match self.quantile(key) {
            Some(q) => triangular_quantile(range.low, range.likely, range.high, q),
            None => range.likely,
        }
    }
}

/// Properties of the layer put in place of its own.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Other {
    /// Conductivity at all temperatures [W/m/K].
    pub conductivity_w_mk: Option<f64>,
    /// Emissivity of the outer face [-].
    pub emissivity: Option<f64>,
    /// Thickness [m].
    pub thickness_m: Option<f64>,
    /// Share of the part that is covered [-].
    pub coverage: Option<f64>,
}

/// One car: its build and its state.
#[derive(Debug, Clone)]
pub struct Side {
    /// Build.
    pub build: Build,
    /// State at the point.
    pub state: PointState,
    /// Where the next solution starts.
    pub warmth: Warmth,
}

/// The sheet with and without the treatment, ready for trials.
#[derive(Debug, Clone)]
pub struct Trials {
    bare: Sheet,
    /// With a treatment of the catalogue.
    treated: Option<Sheet>,
    layer: Option<LayerKnown>,
    /// Treated parts.
    pub parts: Vec<usize>,
}

impl Trials {
    /// Prepares a claim on a sheet. What is on the treated parts is taken off first.
    ///
    /// # Errors
    /// When the treatment doesn't suit a part that is named.
    pub fn new(sheet: &Sheet, claim: &Claim) -> Result<Self, SheetError> {
        let build = sheet.settle(&mut Chooser::Likely)?.build;
        let in_bay = |i: usize| build.exhaust[i].zone.is_some();
        let all = 0..build.exhaust.len();
        let mut parts: Vec<usize> = match &claim.part {
            Some(name) => all.filter(|&i| build.exhaust[i].name == *name).collect(),
            None => all.filter(|&i| in_bay(i)).collect(),
        };
        if let (Known::Catalogue(id), None) = (&claim.known, &claim.part) {
            let suits = |i: &usize| {
                let kind = build.exhaust[*i].kind.name();
                crate::materials::treatment(id).is_some_and(|t| t.suits.iter().any(|s| s == kind))
            };
            parts.retain(suits);
        }
        let names = || parts.iter().map(|&i| build.exhaust[i].name.clone());
        let bare =
            sheet.with_option(&OptionSpec::treating("bare", names().map(|n| (n, "bare"))))?;
        let (treated, layer) = match &claim.known {
            Known::Catalogue(id) => {
                let option = OptionSpec::treating(id, names().map(|n| (n, id.clone())));
                (Some(sheet.with_option(&option)?), None)
            }
            Known::Layer(layer) => (None, Some(layer.clone())),
        };
        Ok(Self {
            bare,
            treated,
            layer,
            parts,
        })
    }

    /// Keys that are drawn.
    ///
    /// # Errors
    /// None for a sheet that has been checked.
    pub fn keys(&self) -> Result<Vec<String>, SheetError> {
        let mut keys: Vec<String> = OWN_KEYS.iter().map(|k| (*k).to_owned()).collect();
        for sheet in std::iter::once(&self.bare).chain(&self.treated) {
            let settled = sheet.settle(&mut Chooser::Likely)?;
            keys.extend(settled.uncertain.into_iter().map(|u| u.key));
        }
        Ok(keys)
    }

    fn settle(sheet: &Sheet, numbers: Numbers) -> Result<Build, SheetError> {
        let mut chooser = match numbers {
            Numbers::Likely => Chooser::Likely,
            Numbers::Draw(cube, draw) => {
                Chooser::Draw(Box::new(move |key| cube.quantile(key, draw)))
            }
        };
        Ok(sheet.settle(&mut chooser)?.build)
    }

    /// The car without the treatment.
    ///
    /// # Errors
    /// When it can't be solved.
    pub fn bare(&self, at: At, numbers: Numbers, start: Option<&Warmth>) -> Result<Side, RunError> {
        let build = Self::settle(&self.bare, numbers)?;
        let (state, warmth) = solve_at(&build, at, start)?;
        Ok(Side {
            build,
            state,
            warmth,
        })
    }

    /// The car with the treatment, some of its properties replaced.
    ///
    /// # Errors
    /// When it can't be solved.
    pub fn treated(
        &self,
        at: At,
        numbers: Numbers,
        other: Other,
        start: &Warmth,
    ) -> Result<Side, RunError> {
        let mut build = Self::settle(self.treated.as_ref().unwrap_or(&self.bare), numbers)?;
        for &i in &self.parts {
            if let Some(layer) = &self.layer {
                let bare_emissivity = build.exhaust[i].emissivity;
                build.exhaust[i].treatment = Some(one_layer(layer, numbers, bare_emissivity));
            }
            if let Some(treatment) = &mut build.exhaust[i].treatment {
                replace(treatment, other);
            }
        }
        let (state, warmth) = solve_at(&build, at, Some(start))?;
        Ok(Side {
            build,
            state,
            warmth,
        })
    }

    /// The car with all parts in the bay behind 50 mm of what conducts least and radiates least: no treatment does more.
    ///
    /// # Errors
    /// When it can't be solved.
    pub fn sealed(&self, at: At, start: &Warmth) -> Result<Side, RunError> {
        let mut build = Self::settle(&self.bare, Numbers::Likely)?;
        for part in build.exhaust.iter_mut().filter(|p| p.zone.is_some()) {
            let layer = Layer {
                name: "limit".to_owned(),
                thickness_m: 0.05,
                conductivity_w_mk: LEAST_CONDUCTIVITY_W_MK,
                conductivity_slope: 0.0,
                density_kg_m3: 100.0,
                specific_heat_j_kgk: 1000.0,
                emissivity: LEAST_EMISSIVITY,
                gap: None,
            };
            part.treatment = Some(Treatment::of_layers("limit", vec![layer]));
        }
        let (state, warmth) = solve_at(&build, at, Some(start))?;
        Ok(Side {
            build,
            state,
            warmth,
        })
    }

    /// The layer, where the claim states one; its likely properties.
    #[must_use]
    pub fn layer(&self) -> Option<&LayerKnown> {
        self.layer.as_ref()
    }
}

/// Below every solid at ambient pressure: still air is 0.026, the best aerogels 0.015 [W/m/K] (from memory).
pub const LEAST_CONDUCTIVITY_W_MK: f64 = 0.015;
/// Polished gold or silver, clean [-] (Incropera & DeWitt, table A.11, from memory).
pub const LEAST_EMISSIVITY: f64 = 0.03;
/// Blacker than any coat [-].
pub const MOST_EMISSIVITY: f64 = 0.98;
/// Copper [W/m/K] (Incropera & DeWitt, table A.1, from memory).
pub const MOST_CONDUCTIVITY_W_MK: f64 = 400.0;

/// Keys of the claim's own unknowns.
const OWN_KEYS: [&str; 5] = [
    "claim.thickness_mm",
    "claim.conductivity_w_mk",
    "claim.emissivity",
    super::readings::BAND_BEFORE,
    super::readings::BAND_AFTER,
];

fn one_layer(known: &LayerKnown, numbers: Numbers, bare_emissivity: f64) -> Treatment {
    let layer = Layer {
        name: "layer".to_owned(),
        thickness_m: 1e-3 * numbers.pick("claim.thickness_mm", known.thickness_mm),
        conductivity_w_mk: numbers.pick("claim.conductivity_w_mk", known.conductivity_w_mk),
        conductivity_slope: known.slope_w_mk2,
        density_kg_m3: known.density_kg_m3,
        specific_heat_j_kgk: known.specific_heat_j_kgk,
        emissivity: numbers.pick("claim.emissivity", known.emissivity),
        gap: None,
    };
    if known.inside {
        let mut treatment = Treatment::of_layers("layer", Vec::new());
        treatment.inside = vec![layer];
        treatment.finish = Some(bare_emissivity);
        treatment
    } else {
        Treatment::of_layers("layer", vec![layer])
    }
}

/// The layer that holds back most heat.
pub fn main_layer(treatment: &Treatment) -> Option<&Layer> {
    let layers = treatment.outside.iter().chain(&treatment.inside);
    layers.max_by(|a, b| hold(a).total_cmp(&hold(b)))
}

fn hold(layer: &Layer) -> f64 {
    layer.thickness_m / layer.conductivity(REFERENCE_K)
}

fn replace(treatment: &mut Treatment, other: Other) {
    treatment.coverage = other.coverage.unwrap_or(treatment.coverage);
    let layers = treatment
        .outside
        .iter_mut()
        .chain(treatment.inside.iter_mut());
    if let Some(main) = layers.max_by(|a, b| hold(a).total_cmp(&hold(b))) {
        if let Some(k) = other.conductivity_w_mk {
            (main.conductivity_w_mk, main.conductivity_slope) = (k, 0.0);
        }
        if let Some(t) = other.thickness_m {
            main.thickness_m = t;
        }
    }
    if let Some(e) = other.emissivity {
        match treatment.outside.last_mut() {
            Some(face) => face.emissivity = e,
            None => treatment.finish = Some(e),
        }
    }
}
