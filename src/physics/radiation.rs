//! Thermal radiation between grey diffuse surfaces.

use nalgebra::DMatrix;

use crate::constants::STEFAN_BOLTZMANN_W_M2K4;

/// Largest departure from reciprocity and closure accepted in view factors, relative.
const TOLERANCE: f64 = 1e-6;

/// Net flux between two long concentric cylinders per inner area [W/m2].
///
/// `sigma (T1^4 - T2^4) / [1/e1 + r1/r2 (1/e2 - 1)]` (Incropera 6th ed., eq. 13.20). With
/// `inner_m / outer_m = 1` it is the form for parallel plates.
pub fn concentric_flux(
    (inner_k, inner_emissivity, inner_m): (f64, f64, f64),
    (outer_k, outer_emissivity, outer_m): (f64, f64, f64),
) -> f64 {
    let resistance = 1.0 / inner_emissivity + inner_m / outer_m * (1.0 / outer_emissivity - 1.0);
    STEFAN_BOLTZMANN_W_M2K4 * (inner_k.powi(4) - outer_k.powi(4)) / resistance
}

/// Effective temperature of a clear sky [K]: emissivity from the dew point,
/// `0.711 + 0.0056 t + 7.3e-5 t^2`, `t` in degC.
///
/// # Source
/// Berdahl and Martin 1984, Solar Energy 32, 663 (from memory), without the hourly term.
pub fn sky_temperature(ambient_k: f64, dew_point_k: f64) -> f64 {
    let t = (dew_point_k - crate::constants::ZERO_CELSIUS_K).clamp(-30.0, 30.0);
    ambient_k * (0.711 + 0.0056 * t + 7.3e-5 * t * t).sqrt().sqrt()
}

/// Why an enclosure has no exchange matrix.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ExchangeError {
    /// Sizes differ.
    #[error(
        "{areas} areas, {emissivities} emissivities and a {rows} x {columns} matrix of view factors don't fit"
    )]
    Sizes {
        /// Number of areas.
        areas: usize,
        /// Number of emissivities.
        emissivities: usize,
        /// Rows of the view factors.
        rows: usize,
        /// Columns of the view factors.
        columns: usize,
    },
    /// An area or emissivity is out of bounds.
    #[error("surface {surface}: {what} {value} is outside {limit}")]
    BadSurface {
        /// Index of the surface.
        surface: usize,
        /// Area or emissivity.
        what: &'static str,
        /// Its value.
        value: f64,
        /// Limit in words.
        limit: &'static str,
    },
    /// A row of view factors doesn't sum to 1.
    #[error("view factors of surface {surface} sum to {sum}, not 1")]
    NotClosed {
        /// Index of the surface.
        surface: usize,
        /// Sum of its row.
        sum: f64,
    },
    /// `A_i F_ij` differs from `A_j F_ji`.
    #[error(
        "view factors of surfaces {a} and {b} are not reciprocal: {a_side} m2 against {b_side} m2"
    )]
    NotReciprocal {
        /// First surface.
        a: usize,
        /// Second surface.
        b: usize,
        /// `A_a F_ab` [m2].
        a_side: f64,
        /// `A_b F_ba` [m2].
        b_side: f64,
    },
    /// The radiosity system is singular.
    #[error("the radiosity system has no solution")]
    Singular,
}

/// Symmetric matrix of area times exchange factor: `q_ij = sigma M_ij (T_i^4 - T_j^4)`.
#[derive(Debug, Clone, PartialEq)]
pub struct ExchangeMatrix(DMatrix<f64>);

impl ExchangeMatrix {
    /// Solves the radiosity system of an enclosure once.
    ///
    /// `M_ij = A_i e_i e_j [(I - F rho)^-1 F]_ij` with `rho = 1 - e` (Hottel and Sarofim 1967,
    /// total exchange areas). Rows of `M / A` sum to the emissivity in a closed enclosure.
    ///
    /// # Errors
    /// When sizes differ, numbers are out of bounds, or the view factors are not closed or not
    /// reciprocal.
    pub fn new(
        areas_m2: &[f64],
        view_factors: &DMatrix<f64>,
        emissivities: &[f64],
    ) -> Result<Self, ExchangeError> {
        let n = areas_m2.len();
        check(areas_m2, view_factors, emissivities)?;
        let mut system = DMatrix::identity(n, n);
        for i in 0..n {
            for j in 0..n {
                system[(i, j)] -= view_factors[(i, j)] * (1.0 - emissivities[j]);
            }
        }
        let reached = system
            .lu()
            .solve(view_factors)
            .ok_or(ExchangeError::Singular)?;
        Ok(Self(DMatrix::from_fn(n, n, |i, j| {
            // the mean of both sides is exactly symmetric
            let side = |i: usize, j: usize| {
                areas_m2[i] * emissivities[i] * emissivities[j] * reached[(i, j)]
            };
            0.5 * (side(i, j) + side(j, i))
        })))
    }

    /// Area times exchange factor between two surfaces [m2].
    pub fn get(&self, i: usize, j: usize) -> f64 {
        self.0[(i, j)]
    }

    /// Net heat leaving each surface [W] at the given temperatures [K].
    pub fn net_heat_w(&self, temperatures_k: &[f64]) -> Vec<f64> {
        let fourth: Vec<f64> = temperatures_k.iter().map(|t| t.powi(4)).collect();
        (0..fourth.len())
            .map(|i| {
                let sum: f64 = (0..fourth.len())
                    .map(|j| self.0[(i, j)] * (fourth[i] - fourth[j]))
                    .sum();
                STEFAN_BOLTZMANN_W_M2K4 * sum
            })
            .collect()
    }
}

fn check(areas: &[f64], f: &DMatrix<f64>, emissivities: &[f64]) -> Result<(), ExchangeError> {
    let n = areas.len();
    if emissivities.len() != n || f.nrows() != n || f.ncols() != n {
        return Err(ExchangeError::Sizes {
            areas: n,
            emissivities: emissivities.len(),
            rows: f.nrows(),
            columns: f.ncols(),
        });
    }
    let bad = |surface, what, value, limit| {
        Err(ExchangeError::BadSurface {
            surface,
            what,
            value,
            limit,
        })
    };
    for i in 0..n {
        if !(areas[i] > 0.0 && areas[i].is_finite()) {
            return bad(i, "area", areas[i], "above 0 m2");
        }
        if !(emissivities[i] > 0.0 && emissivities[i] <= 1.0) {
            return bad(i, "emissivity", emissivities[i], "0 to 1, 0 left out");
        }
        let sum: f64 = f.row(i).sum();
        if !approx::relative_eq!(sum, 1.0, max_relative = TOLERANCE) {
            return Err(ExchangeError::NotClosed { surface: i, sum });
        }
        for j in 0..i {
            let (a_side, b_side) = (areas[i] * f[(i, j)], areas[j] * f[(j, i)]);
            let scale = areas[i].min(areas[j]);
            if !approx::relative_eq!(
                a_side,
                b_side,
                max_relative = TOLERANCE,
                epsilon = TOLERANCE * scale
            ) {
                return Err(ExchangeError::NotReciprocal {
                    a: i,
                    b: j,
                    a_side,
                    b_side,
                });
            }
        }
    }
    Ok(())
}
