//! The bay as an enclosure of grey diffuse surfaces.
//!
//! View factors that the user gives are kept; the rest follows from areas and a visibility by
//! zone, made reciprocal and closed (see `physics::view_factors`).

use nalgebra::DMatrix;

use super::node::NodeIndex;
use crate::physics::radiation::ExchangeMatrix;
use crate::physics::view_factors::{self, FixedViewFactor};

/// How well surfaces in the same zone see each other.
const SAME_ZONE: f64 = 1.0;
/// In zones with an opening between them: estimate.
const NEXT_ZONE: f64 = 0.30;
/// In zones further apart, through gaps: estimate.
const FAR_ZONE: f64 = 0.03;

/// A radiating surface.
#[derive(Debug, Clone)]
pub struct Surface {
    /// Name as a sheet's `sees` uses it (part, panel or neighbour).
    pub name: String,
    /// Node that carries its temperature.
    pub node: NodeIndex,
    /// Area [m2].
    pub area_m2: f64,
    /// Emissivity [-].
    pub emissivity: f64,
    /// Zone.
    pub zone: usize,
    /// View factors given by the user: (surface name, share).
    pub sees: Vec<(String, f64)>,
}

/// An exchange between two surfaces: area times exchange factor [m2].
#[derive(Debug, Clone, Copy)]
pub struct Exchange {
    /// First surface.
    pub a: usize,
    /// Second surface.
    pub b: usize,
    /// Area times exchange factor [m2].
    pub area_m2: f64,
}

/// Exchange among all pairs, or what can't be closed.
///
/// `adjacent(i, j)` tells whether two zones have an opening between them.
///
/// # Errors
/// When given view factors leave a surface that cannot be closed.
pub fn exchanges(
    surfaces: &[Surface],
    adjacent: impl Fn(usize, usize) -> bool,
) -> Result<Vec<Exchange>, EnclosureError> {
    let n = surfaces.len();
    let areas: Vec<f64> = surfaces.iter().map(|s| s.area_m2).collect();
    let mut weights = DMatrix::zeros(n, n);
    for i in 0..n {
        for j in 0..n {
            if i != j {
                let (a, b) = (surfaces[i].zone, surfaces[j].zone);
                weights[(i, j)] = if a == b {
                    SAME_ZONE
                } else if adjacent(a, b) {
                    NEXT_ZONE
                } else {
                    FAR_ZONE
                };
            }
        }
    }
    let fixed = given_factors(surfaces);
    let factors = view_factors::close(&areas, &weights, &fixed)?;
    let emissivities: Vec<f64> = surfaces.iter().map(|s| s.emissivity).collect();
    let matrix = ExchangeMatrix::new(&areas, &factors, &emissivities)?;
    let mut out = Vec::with_capacity(n * (n - 1) / 2);
    for a in 0..n {
        for b in a + 1..n {
            let area_m2 = matrix.area_factor_m2(a, b);
            if area_m2 > 0.0 && surfaces[a].node != surfaces[b].node {
                out.push(Exchange { a, b, area_m2 });
            }
        }
    }
    Ok(out)
}

/// Given factors by index; a name that stands for several surfaces (segments of a part)
/// is split by area.
fn given_factors(surfaces: &[Surface]) -> Vec<FixedViewFactor> {
    let mut fixed = Vec::new();
    for (i, surface) in surfaces.iter().enumerate() {
        for (name, share) in &surface.sees {
            let seen: Vec<usize> = (0..surfaces.len())
                .filter(|&j| surfaces[j].name == *name)
                .collect();
            let total: f64 = seen.iter().map(|&j| surfaces[j].area_m2).sum();
            for j in seen {
                let twin = fixed
                    .iter()
                    .any(|f: &FixedViewFactor| (f.from, f.to) == (j, i));
                if !twin && j != i {
                    let view_factor = share * surfaces[j].area_m2 / total;
                    fixed.push(FixedViewFactor {
                        from: i,
                        to: j,
                        view_factor,
                    });
                }
            }
        }
    }
    fixed
}

/// Why an enclosure has no exchange.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum EnclosureError {
    /// View factors that can't be closed.
    #[error("view factors: {0}")]
    ViewFactors(#[from] view_factors::CloseError),
    /// Bad exchange matrix.
    #[error("radiation exchange: {0}")]
    Exchange(#[from] crate::physics::radiation::RadiationError),
}
