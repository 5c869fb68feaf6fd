//! What is on a part, settled.

use std::f64::consts::PI;

use crate::materials::Family;
use crate::physics::conduction::linear_conductivity;

/// A treatment on a part.
#[derive(Debug, Clone)]
pub struct Treatment {
    /// Id in the catalogue or in the sheet.
    pub id: String,
    /// Name for reports.
    pub name: String,
    /// Family.
    pub family: Family,
    /// Layers between metal and gas, from the metal on.
    pub inside: Vec<Layer>,
    /// Layers outside, from the metal on.
    pub outside: Vec<Layer>,
    /// Emissivity of the metal's face where the treatment has no outside layer [-].
    pub finish: Option<f64>,
    /// Share of the outside that it covers [-].
    pub coverage: f64,
    /// Highest temperature in service [K], if known: of the metal beneath, or of a shield itself.
    pub max_service_k: Option<f64>,
    /// Where that limit comes from.
    pub limit_source: String,
}

impl Treatment {
    /// Outside layers of one part only, covering all of it.
    #[must_use]
    pub fn of_layers(name: &str, outside: Vec<Layer>) -> Self {
        Self {
            id: name.to_owned(),
            name: name.to_owned(),
            family: Family::Wrap,
            inside: Vec::new(),
            outside,
            finish: None,
            coverage: 1.0,
            max_service_k: None,
            limit_source: String::new(),
        }
    }

    /// Outside layers, each with the distance of its inner face from the metal [m].
    pub fn shells(&self) -> impl Iterator<Item = (&Layer, f64)> {
        self.outside.iter().scan(0.0, |from_metal_m, layer| {
            let inner_m = *from_metal_m + layer.gap.map_or(0.0, |g| g.width_m);
            *from_metal_m = inner_m + layer.thickness_m;
            Some((layer, inner_m))
        })
    }

    /// Thermal resistance of the inside layers per area [m2 K/W], at `mean_k` [K].
    #[must_use]
    pub fn lining_m2k_w(&self, mean_k: f64) -> f64 {
        let resistance = |l: &Layer| l.thickness_m / l.conductivity(mean_k);
        self.inside.iter().map(resistance).sum()
    }

    /// Whether its service limit is that of its own skin, not of the face at the metal.
    #[must_use]
    pub fn limit_at_skin(&self) -> bool {
        self.family == Family::Shield
    }
}

/// One layer of a treatment.
#[derive(Debug, Clone)]
pub struct Layer {
    /// Name for reports.
    pub name: String,
    /// Thickness [m].
    pub thickness_m: f64,
    /// Conductivity at 300 K [W/m/K].
    pub conductivity_w_mk: f64,
    /// Rise of conductivity per kelvin above 300 K [W/m/K2].
    pub conductivity_slope: f64,
    /// Density [kg/m3].
    pub density_kg_m3: f64,
    /// Specific heat [J/kg/K].
    pub specific_heat_j_kgk: f64,
    /// Emissivity of its outer face [-].
    pub emissivity: f64,
    /// Air gap beneath it, if any.
    pub gap: Option<Gap>,
}

impl Layer {
    /// Conductivity [W/m/K] at a mean temperature [K].
    #[must_use]
    pub fn conductivity(&self, mean_k: f64) -> f64 {
        linear_conductivity(self.conductivity_w_mk, self.conductivity_slope, mean_k)
    }

    /// Mass of one metre of a hollow cylinder of it [kg/m], inner radius `inner_m` [m].
    #[must_use]
    pub fn mass_per_length_kg_m(&self, inner_m: f64) -> f64 {
        let section = PI * self.thickness_m * (2.0 * inner_m + self.thickness_m);
        self.density_kg_m3 * section
    }
}

/// Air gap beneath a layer.
#[derive(Debug, Clone, Copy)]
pub struct Gap {
    /// Width [m].
    pub width_m: f64,
    /// Emissivity of the layer's face towards the gap [-].
    pub back_emissivity: f64,
    /// Share of the free surface's convection that goes on at the faces of the gap [-].
    pub vented: f64,
}
