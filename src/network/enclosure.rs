//! The bay as an enclosure of grey diffuse surfaces.
//!
//! View factors that the user gives are kept; the rest follows from areas and a visibility by
//! zone, made reciprocal and closed (see `physics::view_factors`).

use nalgebra::DMatrix;

use super::node::NodeIndex;
use crate::physics::radiation::ExchangeMatrix;
use crate::physics::view_factors::{self, FixedViewFactor};
use crate::physics::zoned_enclosure::ZonedEnclosure;

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

/// Exchange among surfaces in groups: between two surfaces it is `weight_a * factor * weight_b`,
/// the factor belonging to their groups, plus what is left over.
///
/// Without given view factors the surfaces of a zone see others in proportion to one weight each,
/// and reflections keep that; so a sum over pairs becomes a sum over surfaces.
#[derive(Debug, Clone)]
pub struct Grouped {
    /// Surfaces of each group.
    pub members: Vec<Vec<usize>>,
    /// Weight of each surface [m].
    pub weight: Vec<f64>,
    /// Factor between groups [-], row by row.
    pub factor: Vec<f64>,
    /// What the groups leave over, of either sign.
    pub rest: Vec<Exchange>,
}

/// Exchange that differs from its group's product by less than this share of what both surfaces
/// exchange at most is that product.
const FITS: f64 = 1e-6;

/// Finds the groups: a zone, but a part with given view factors stands by itself.
fn group(surfaces: &[Surface], matrix: &ExchangeMatrix) -> Grouped {
    let n = surfaces.len();
    let given = |s: &Surface| {
        let named = |other: &Surface| other.sees.iter().any(|(name, _)| *name == s.name);
        !s.sees.is_empty() || surfaces.iter().any(named)
    };
    let own: Vec<bool> = surfaces.iter().map(given).collect();
    let alike = |a: usize, b: usize| {
        let (of_a, of_b) = (&surfaces[a], &surfaces[b]);
        of_a.zone == of_b.zone && own[a] == own[b] && (!own[a] || of_a.name == of_b.name)
    };
    let at = |i, j| matrix.area_factor_m2(i, j);
    let total: Vec<f64> = (0..n)
        .map(|i| (0..n).filter(|&j| j != i).map(|j| at(i, j)).sum())
        .collect();
    let mut members: Vec<Vec<usize>> = Vec::new();
    for i in 0..n {
        match members.iter_mut().find(|m| alike(m[0], i)) {
            Some(group) => group.push(i),
            None => members.push(vec![i]),
        }
    }
    let mut weight = total.clone();
    for group in &members {
        // any surface outside the group sees its members in proportion to their weights
        let outside = (0..n).filter(|i| !group.contains(i));
        let least = |k: usize| {
            let seen = group.iter().map(|&i| at(i, k));
            (k, seen.fold(f64::INFINITY, f64::min))
        };
        let seen_from = outside.map(least).max_by(|a, b| a.1.total_cmp(&b.1));
        if let Some((k, _)) = seen_from {
            group.iter().for_each(|&i| weight[i] = at(i, k));
        } else if let [first, second, third, ..] = group[..] {
            // all in one group: by two of its own
            for &i in group.iter().filter(|i| **i != first) {
                weight[i] = at(i, first);
            }
            weight[first] = weight[second] * at(first, third) / at(second, third);
        }
        let sum: f64 = group.iter().map(|&i| weight[i]).sum();
        if sum.is_finite() && sum > 0.0 {
            group.iter().for_each(|&i| weight[i] /= sum);
        } else {
            group.iter().for_each(|&i| weight[i] = 0.0);
        }
    }
    let groups = members.len();
    let mut factor = vec![0.0; groups * groups];
    let mut rest = Vec::new();
    for (g, of_g) in members.iter().enumerate() {
        for (h, of_h) in members.iter().enumerate() {
            let pairs = || of_g.iter().flat_map(|&i| of_h.iter().map(move |&j| (i, j)));
            let (mut exchanged, mut product) = (0.0, 0.0);
            for (i, j) in pairs().filter(|(i, j)| i != j) {
                exchanged += at(i, j);
                product += weight[i] * weight[j];
            }
            let f = if product > 0.0 {
                exchanged / product
            } else {
                0.0
            };
            factor[g * groups + h] = f;
            for (a, b) in pairs().filter(|(a, b)| a < b) {
                let area_m2 = at(a, b) - weight[a] * f * weight[b];
                let differs = area_m2.abs() > FITS * total[a].min(total[b]);
                if differs && surfaces[a].node != surfaces[b].node {
                    rest.push(Exchange { a, b, area_m2 });
                }
            }
        }
    }
    Grouped {
        members,
        weight,
        factor,
        rest,
    }
}

/// Exchange among all pairs, and in groups, or what can't be closed.
///
/// `adjacent(i, j)` tells whether two zones have an opening between them.
///
/// # Errors
/// When given view factors leave a surface that cannot be closed.
pub fn exchanges(
    surfaces: &[Surface],
    adjacent: impl Fn(usize, usize) -> bool,
) -> Result<(Vec<Exchange>, Grouped), EnclosureError> {
    let n = surfaces.len();
    let areas: Vec<f64> = surfaces.iter().map(|s| s.area_m2).collect();
    let zones = surfaces.iter().map(|s| s.zone + 1).max().unwrap_or(0);
    let of_zones = DMatrix::from_fn(zones, zones, |a, b| {
        if a == b {
            SAME_ZONE
        } else if adjacent(a, b) {
            NEXT_ZONE
        } else {
            FAR_ZONE
        }
    });
    let fixed = given_factors(surfaces);
    let emissivities: Vec<f64> = surfaces.iter().map(|s| s.emissivity).collect();
    let zoned = ZonedEnclosure {
        areas_m2: &areas,
        emissivities: &emissivities,
        zones: &surfaces.iter().map(|s| s.zone).collect::<Vec<usize>>(),
        sight: &of_zones,
        fixed: &fixed,
    };
    let matrix = match zoned.exchange() {
        Some(matrix) => matrix,
        None => {
            let weights = DMatrix::from_fn(n, n, |i, j| {
                if i == j {
                    0.0
                } else {
                    of_zones[(surfaces[i].zone, surfaces[j].zone)]
                }
            });
            let factors = view_factors::close(&areas, &weights, &fixed)?;
            ExchangeMatrix::new(&areas, &factors, &emissivities)?
        }
    };
    let mut out = Vec::with_capacity(n * (n - 1) / 2);
    for a in 0..n {
        for b in a + 1..n {
            let area_m2 = matrix.area_factor_m2(a, b);
            if area_m2 > 0.0 && surfaces[a].node != surfaces[b].node {
                out.push(Exchange { a, b, area_m2 });
            }
        }
    }
    Ok((out, group(surfaces, &matrix)))
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
