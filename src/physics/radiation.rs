//! Grey diffuse radiation: two surfaces, the sky, and whole enclosures.

use super::humid_air::dew_point_c;
use super::range::Range;
use crate::constants::{STEFAN_BOLTZMANN_W_M2_K4, ZERO_CELSIUS_K};
use nalgebra::{DMatrix, DVector};
use thiserror::Error;

/// Largest accepted mismatch of A_i F_ij against A_j F_ji over A_i, and of a row sum against 1 [-].
const VIEW_FACTOR_TOLERANCE: f64 = 1e-8;

/// Black-body emissive power [W/m2] at `t_k` [K]. Stefan-Boltzmann law.
#[inline]
pub fn black_emissive_power(t_k: f64) -> f64 {
    let t2 = t_k * t_k;
    STEFAN_BOLTZMANN_W_M2_K4 * t2 * t2
}

/// Area times transfer factor [m2] of two surfaces that see only each other and the first not itself: `area_1_m2` inside `area_2_m2` (long
/// concentric cylinders, spheres) or equal areas (parallel plates). Heat [W] = this times the difference of emissive powers.
///
/// Source: Incropera & DeWitt, eq. 13.24-13.27 (from memory). Zero where an emissivity is zero.
#[inline]
pub fn two_surface_exchange_m2(
    area_1_m2: f64,
    emissivity_1: f64,
    area_2_m2: f64,
    emissivity_2: f64,
) -> f64 {
    area_1_m2 / (1.0 / emissivity_1 + area_1_m2 / area_2_m2 * (1.0 / emissivity_2 - 1.0))
}

/// Net flux [W/m2 of the inner surface] between long concentric cylinders of radii `inner_m`, `outer_m` [m].
#[inline]
pub fn concentric_cylinder_flux(
    inner_m: f64,
    inner_emissivity: f64,
    inner_k: f64,
    outer_m: f64,
    outer_emissivity: f64,
    outer_k: f64,
) -> f64 {
    two_surface_exchange_m2(1.0, inner_emissivity, outer_m / inner_m, outer_emissivity)
        * (black_emissive_power(inner_k) - black_emissive_power(outer_k))
}

/// Net flux [W/m2] between large parallel plates.
#[inline]
pub fn parallel_plate_flux(emissivity_1: f64, t_1_k: f64, emissivity_2: f64, t_2_k: f64) -> f64 {
    two_surface_exchange_m2(1.0, emissivity_1, 1.0, emissivity_2)
        * (black_emissive_power(t_1_k) - black_emissive_power(t_2_k))
}

/// Range of [`sky_temperature_swinbank`].
pub const SWINBANK_RANGE: Range = Range {
    name: "Swinbank clear sky temperature",
    quantity: "air temperature [K]",
    min: 258.0,
    max: 310.0,
    source: "Swinbank 1963; limits estimated from the sites of the paper",
};

/// Range of [`sky_temperature`], in dew point.
pub const BERDAHL_MARTIN_RANGE: Range = Range {
    name: "Berdahl-Martin clear sky temperature",
    quantity: "dew point [K]",
    min: 253.15,
    max: 303.15,
    source: "Berdahl & Martin 1984 (from memory)",
};

/// Clear sky temperature [K] from air temperature alone: 0.0552 T^1.5. Source: Swinbank 1963 (from memory).
#[inline]
pub fn sky_temperature_swinbank(air_k: f64) -> f64 {
    0.0552 * air_k * air_k.sqrt()
}

/// Clear sky temperature [K] from air temperature `air_k` [K] and relative humidity `rh` [0-1].
///
/// Emissivity 0.711 + 0.56 (Td/100) + 0.73 (Td/100)^2 with the dew point Td in degC; the hourly cosine term, which averages to zero, is left
/// out. Source: Berdahl & Martin 1984 (from memory). Emissivity is kept within 0-1: far outside its range the square would pass 1.
pub fn sky_temperature(air_k: f64, rh: f64) -> f64 {
    let d = dew_point_c(air_k, rh).clamp(
        BERDAHL_MARTIN_RANGE.min - ZERO_CELSIUS_K,
        BERDAHL_MARTIN_RANGE.max - ZERO_CELSIUS_K,
    ) / 100.0;
    air_k * (0.711 + d * (0.56 + 0.73 * d)).sqrt().sqrt()
}

/// Why an [`ExchangeMatrix`] could not be made. Rows count from zero.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum RadiationError {
    /// Lengths of the inputs disagree.
    #[error(
        "radiation enclosure: {areas} areas, {emissivities} emissivities and a {rows} x {columns} view factor matrix do not fit"
    )]
    Sizes {
        /// Number of areas.
        areas: usize,
        /// Number of emissivities.
        emissivities: usize,
        /// Rows of the view factor matrix.
        rows: usize,
        /// Columns of the view factor matrix.
        columns: usize,
    },
    /// An area that is not a positive number.
    #[error("radiation enclosure, surface {row}: area {value} m2 is not a positive number")]
    Area {
        /// Surface.
        row: usize,
        /// Value given.
        value: f64,
    },
    /// An emissivity outside 0-1.
    #[error("radiation enclosure, surface {row}: emissivity {value} is not between 0 and 1")]
    Emissivity {
        /// Surface.
        row: usize,
        /// Value given.
        value: f64,
    },
    /// A view factor outside 0-1.
    #[error(
        "radiation enclosure, surface {row} to {column}: view factor {value} is not between 0 and 1"
    )]
    ViewFactor {
        /// Surface that looks.
        row: usize,
        /// Surface that is seen.
        column: usize,
        /// Value given.
        value: f64,
    },
    /// A row that doesn't sum to 1.
    #[error("radiation enclosure, surface {row}: view factors sum to {sum}, not 1")]
    NotClosed {
        /// Surface.
        row: usize,
        /// Its row sum.
        sum: f64,
    },
    /// A pair with different area times view factor in the two directions.
    #[error(
        "radiation enclosure, surfaces {row} and {column}: area times view factor is {forward_m2} m2 one way and {backward_m2} m2 back"
    )]
    NotReciprocal {
        /// First surface.
        row: usize,
        /// Second surface.
        column: usize,
        /// A_i F_ij.
        forward_m2: f64,
        /// A_j F_ji.
        backward_m2: f64,
    },
    /// All surfaces that see each other reflect everything.
    #[error(
        "radiation enclosure of {surfaces} surfaces has no solution: a group of surfaces absorbs nothing"
    )]
    Singular {
        /// Number of surfaces.
        surfaces: usize,
    },
}

/// Symmetric matrix M [m2] with `q_ij = sigma M_ij (T_i^4 - T_j^4)`, all reflections included.
///
/// Radiosity J = eps E + rho F J. A surface i sends out A_i eps_i E_i; the part that ends up absorbed in j after any number of
/// reflections is B_ij = [(I - F rho)^-1 F]_ij eps_j (Gebhart 1961). So M_ij = A_i eps_i B_ij, with row sums A_i eps_i.
#[derive(Debug, Clone, PartialEq)]
pub struct ExchangeMatrix {
    matrix: DMatrix<f64>,
}

impl ExchangeMatrix {
    /// Solves the enclosure of surfaces with `areas_m2` [m2], `view_factors` F_ij [-] and `emissivities` [0-1].
    ///
    /// # Errors
    /// When sizes differ, a value is out of range, or `view_factors` is not reciprocal and closed; the surface is named.
    pub fn new(
        areas_m2: &[f64],
        view_factors: &DMatrix<f64>,
        emissivities: &[f64],
    ) -> Result<Self, RadiationError> {
        check_enclosure(areas_m2, view_factors, emissivities)?;
        let n = areas_m2.len();
        let mut system = DMatrix::identity(n, n);
        for j in 0..n {
            let reflectivity = 1.0 - emissivities[j];
            for i in 0..n {
                system[(i, j)] -= view_factors[(i, j)] * reflectivity;
            }
        }
        let singular = RadiationError::Singular { surfaces: n };
        let solved = system
            .lu()
            .solve(view_factors)
            .ok_or_else(|| singular.clone())?;
        let full = DMatrix::from_fn(n, n, |i, j| {
            areas_m2[i] * emissivities[i] * emissivities[j] * solved[(i, j)]
        });
        // A nearly singular system passes the LU but breaks the row sums.
        let closes = (0..n).all(|i| {
            let want = areas_m2[i] * emissivities[i];
            (full.row(i).sum() - want).abs() <= 1e-6 * areas_m2[i]
        });
        if !closes {
            return Err(singular);
        }
        Ok(Self::symmetric(full))
    }

    /// Symmetric by reciprocity; averaging removes the rounding, so no heat is made or lost between a pair.
    pub(super) fn symmetric(full: DMatrix<f64>) -> Self {
        let matrix = (&full + full.transpose()) * 0.5;
        Self { matrix }
    }

    /// Number of surfaces.
    pub fn len(&self) -> usize {
        self.matrix.nrows()
    }

    /// True without surfaces.
    pub fn is_empty(&self) -> bool {
        self.matrix.nrows() == 0
    }

    /// A_i scriptF_ij [m2]; zero for an index that doesn't exist.
    #[inline]
    pub fn area_factor_m2(&self, i: usize, j: usize) -> f64 {
        self.matrix.get((i, j)).copied().unwrap_or(0.0)
    }

    /// The whole matrix [m2].
    pub fn as_matrix(&self) -> &DMatrix<f64> {
        &self.matrix
    }

    /// Net heat [W] from each surface at temperatures `t_k` [K]; missing temperatures count as 0 K.
    pub fn net_heat_w(&self, t_k: &[f64]) -> DVector<f64> {
        let n = self.len();
        let power = DVector::from_fn(n, |i, _| {
            t_k.get(i).map_or(0.0, |&t| black_emissive_power(t))
        });
        DVector::from_fn(n, |i, _| {
            (0..n)
                .map(|j| self.matrix[(i, j)] * (power[i] - power[j]))
                .sum()
        })
    }
}

fn check_enclosure(
    areas: &[f64],
    f: &DMatrix<f64>,
    emissivities: &[f64],
) -> Result<(), RadiationError> {
    let n = areas.len();
    if emissivities.len() != n || f.nrows() != n || f.ncols() != n {
        return Err(RadiationError::Sizes {
            areas: n,
            emissivities: emissivities.len(),
            rows: f.nrows(),
            columns: f.ncols(),
        });
    }
    for (row, &value) in areas.iter().enumerate() {
        if !(value.is_finite() && value > 0.0) {
            return Err(RadiationError::Area { row, value });
        }
    }
    for (row, &value) in emissivities.iter().enumerate() {
        if !(0.0..=1.0).contains(&value) {
            return Err(RadiationError::Emissivity { row, value });
        }
    }
    for row in 0..n {
        for column in 0..n {
            let value = f[(row, column)];
            if !(-VIEW_FACTOR_TOLERANCE..=1.0 + VIEW_FACTOR_TOLERANCE).contains(&value) {
                return Err(RadiationError::ViewFactor { row, column, value });
            }
        }
        let sum = f.row(row).sum();
        if !approx::abs_diff_eq!(sum, 1.0, epsilon = VIEW_FACTOR_TOLERANCE) {
            return Err(RadiationError::NotClosed { row, sum });
        }
    }
    for row in 0..n {
        for column in 0..row {
            let forward_m2 = areas[row] * f[(row, column)];
            let backward_m2 = areas[column] * f[(column, row)];
            let epsilon = VIEW_FACTOR_TOLERANCE * areas[row].min(areas[column]);
            if !approx::abs_diff_eq!(forward_m2, backward_m2, epsilon = epsilon) {
                return Err(RadiationError::NotReciprocal {
                    row,
                    column,
                    forward_m2,
                    backward_m2,
                });
            }
        }
    }
    Ok(())
}
