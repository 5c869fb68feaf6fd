//! View factors of simple shapes, and closing an enclosure whose view factors are only roughly known.

use nalgebra::{DMatrix, DVector};
use std::f64::consts::{PI, TAU};
use thiserror::Error;

/// Equal, opposite, parallel rectangles `width` by `depth` at `distance` (same unit).
///
/// Source: Incropera & DeWitt, table 13.2 (from memory); Howell's catalogue, C-11.
pub fn parallel_rectangles(width: f64, depth: f64, distance: f64) -> f64 {
    let (x, y) = (width / distance, depth / distance);
    let (x2, y2) = (1.0 + x * x, 1.0 + y * y);
    let (rx, ry) = (x2.sqrt(), y2.sqrt());
    2.0 / (PI * x * y)
        * ((x2 * y2 / (x2 + y2 - 1.0)).sqrt().ln()
            + x * ry * (x / ry).atan()
            + y * rx * (y / rx).atan()
            - x * x.atan()
            - y * y.atan())
}

/// Rectangle of `depth_1` to a perpendicular one of `depth_2` that shares an edge of length `edge` (same unit).
///
/// Source: Incropera & DeWitt, table 13.2 (from memory); Howell's catalogue, C-14.
pub fn perpendicular_rectangles(edge: f64, depth_1: f64, depth_2: f64) -> f64 {
    let (w, h) = (depth_1 / edge, depth_2 / edge);
    let (w2, h2) = (w * w, h * h);
    let diagonal = (h2 + w2).sqrt();
    let all = 1.0 + w2 + h2;
    let log = ((1.0 + w2) * (1.0 + h2) / all).ln()
        + w2 * (w2 * all / ((1.0 + w2) * (w2 + h2))).ln()
        + h2 * (h2 * all / ((1.0 + h2) * (h2 + w2))).ln();
    (w * (1.0 / w).atan() + h * (1.0 / h).atan() - diagonal * (1.0 / diagonal).atan() + 0.25 * log)
        / (PI * w)
}

/// Disc of `radius_1` to a coaxial parallel disc of `radius_2` at `distance` (same unit).
///
/// Source: Incropera & DeWitt, table 13.2 (from memory); Howell's catalogue, C-41.
pub fn coaxial_discs(radius_1: f64, radius_2: f64, distance: f64) -> f64 {
    let (r1, r2) = (radius_1 / distance, radius_2 / distance);
    let s = 1.0 + (1.0 + r2 * r2) / (r1 * r1);
    let q = radius_2 / radius_1;
    // The smaller root of F^2 - s F + q^2, written so that small discs don't cancel.
    2.0 * q * q / (s + (s * s - 4.0 * q * q).sqrt())
}

/// Long concentric cylinders, inner radius `inner`, outer radius `outer` (same unit).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ConcentricCylinders {
    /// Inner surface to outer surface.
    pub inner_to_outer: f64,
    /// Outer surface to inner surface.
    pub outer_to_inner: f64,
    /// Outer surface to itself.
    pub outer_to_outer: f64,
}

/// View factors of long concentric cylinders. Source: reciprocity and closure; Incropera & DeWitt, section 13.1.
pub fn concentric_cylinders(inner: f64, outer: f64) -> ConcentricCylinders {
    let outer_to_inner = inner / outer;
    ConcentricCylinders {
        inner_to_outer: 1.0,
        outer_to_inner,
        outer_to_outer: 1.0 - outer_to_inner,
    }
}

/// Long cylinder to a parallel strip that reaches from `from` to `to` sideways of its axis, `distance` from the axis (same unit).
///
/// The cylinder lies wholly on one side of the strip's plane. Source: Incropera & DeWitt, table 13.1 (from memory), turned round by reciprocity.
pub fn cylinder_to_strip(from: f64, to: f64, distance: f64) -> f64 {
    ((to / distance).atan() - (from / distance).atan()) / TAU
}

/// A view factor known from elsewhere, kept as it is by [`close`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FixedViewFactor {
    /// Surface that looks.
    pub from: usize,
    /// Surface that is seen; may equal `from` for a hollow surface.
    pub to: usize,
    /// View factor [-].
    pub view_factor: f64,
}

/// Why [`close`] failed. Surfaces count from zero.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum CloseError {
    /// Sizes disagree or an index doesn't exist.
    #[error(
        "view factors: {areas} areas do not fit a {rows} x {columns} weight matrix or a fixed pair names a surface that is not there"
    )]
    Sizes {
        /// Number of areas.
        areas: usize,
        /// Rows of the weights.
        rows: usize,
        /// Columns of the weights.
        columns: usize,
    },
    /// An area that is not a positive number.
    #[error("view factors, surface {surface}: area {value} m2 is not a positive number")]
    Area {
        /// Surface.
        surface: usize,
        /// Value given.
        value: f64,
    },
    /// A weight that is negative, not finite, or differs between the two directions.
    #[error(
        "view factors, surfaces {surface} and {other}: visibility weight {value} must be a number from 0 up, equal both ways"
    )]
    Weight {
        /// Surface.
        surface: usize,
        /// Other surface.
        other: usize,
        /// Value given.
        value: f64,
    },
    /// A fixed view factor outside 0-1, or a pair fixed twice.
    #[error(
        "view factors, surfaces {surface} and {other}: fixed view factor {value} is not between 0 and 1, or the pair is fixed twice"
    )]
    Fixed {
        /// Surface.
        surface: usize,
        /// Other surface.
        other: usize,
        /// Value given.
        value: f64,
    },
    /// Fixed pairs ask for more than the surface has.
    #[error(
        "view factors, surface {surface}: fixed pairs take {fixed_m2} m2, more than its area {area_m2} m2"
    )]
    FixedTooLarge {
        /// Surface.
        surface: usize,
        /// Sum of A_i F_ij over its fixed pairs.
        fixed_m2: f64,
        /// Its area.
        area_m2: f64,
    },
    /// A surface bigger than everything it can see.
    #[error(
        "view factors, surface {surface}: it has {area_m2} m2 to place but sees only {seen_m2} m2 of other surfaces"
    )]
    SeesTooLittle {
        /// Surface.
        surface: usize,
        /// Area left after its fixed pairs.
        area_m2: f64,
        /// Area left of all surfaces it has a weight with.
        seen_m2: f64,
    },
    /// No scaling closes the set; groups of surfaces don't match.
    #[error(
        "view factors, surface {surface}: cannot be closed, {residual} of its area is left over"
    )]
    NotConverged {
        /// Surface with the largest mismatch.
        surface: usize,
        /// Mismatch over area [-].
        residual: f64,
    },
}

/// Row sums agree with 1 to this [-].
pub(super) const CLOSURE: f64 = 1e-10;

/// Makes reciprocal, closed view factors F from rough knowledge.
///
/// `weights` w_ij (symmetric, not negative) say how well two surfaces see each other per area of each. The result has
/// `A_i F_ij = d_i w_ij A_i A_j d_j` with d > 0 such that every row of F sums to 1 within 1e-10 (symmetric matrix balancing, Sinkhorn &
/// Knopp 1967). Pairs in `fixed` are kept exactly and take no part. No surface sees itself unless that is fixed.
///
/// # Errors
/// When an input is unusable or no such set exists; the surface that can't be closed is named.
pub fn close(
    areas_m2: &[f64],
    weights: &DMatrix<f64>,
    fixed: &[FixedViewFactor],
) -> Result<DMatrix<f64>, CloseError> {
    let n = areas_m2.len();
    let sizes = CloseError::Sizes {
        areas: n,
        rows: weights.nrows(),
        columns: weights.ncols(),
    };
    if weights.nrows() != n
        || weights.ncols() != n
        || fixed.iter().any(|p| p.from >= n || p.to >= n)
    {
        return Err(sizes);
    }
    for (surface, &value) in areas_m2.iter().enumerate() {
        if !(value.is_finite() && value > 0.0) {
            return Err(CloseError::Area { surface, value });
        }
    }
    let (kept, is_fixed) = place_fixed(areas_m2, fixed)?;
    let mut rest = DVector::from_fn(n, |i, _| areas_m2[i] - kept.row(i).sum());
    for surface in 0..n {
        if rest[surface] < -CLOSURE * areas_m2[surface] {
            return Err(CloseError::FixedTooLarge {
                surface,
                fixed_m2: kept.row(surface).sum(),
                area_m2: areas_m2[surface],
            });
        }
        if rest[surface] <= CLOSURE * areas_m2[surface] {
            rest[surface] = 0.0;
        }
    }
    let mut kernel = DMatrix::zeros(n, n);
    for i in 0..n {
        for j in 0..n {
            let value = weights[(i, j)];
            let back = weights[(j, i)];
            let equal = (value - back).abs() <= 1e-12 * value.abs();
            if !(value.is_finite() && value >= 0.0 && equal) {
                return Err(CloseError::Weight {
                    surface: i,
                    other: j,
                    value,
                });
            }
            if i != j && !is_fixed[(i, j)] && rest[i] > 0.0 && rest[j] > 0.0 {
                kernel[(i, j)] = 0.5 * (value + back) * areas_m2[i] * areas_m2[j];
            }
        }
    }
    for surface in 0..n {
        let seen_m2: f64 = (0..n)
            .filter(|&j| kernel[(surface, j)] > 0.0)
            .map(|j| rest[j])
            .sum();
        if rest[surface] > seen_m2 * (1.0 + CLOSURE) {
            return Err(CloseError::SeesTooLittle {
                surface,
                area_m2: rest[surface],
                seen_m2,
            });
        }
    }
    let scaled = balance(&kernel, &rest, areas_m2)?;
    Ok(DMatrix::from_fn(n, n, |i, j| {
        (kept[(i, j)] + scaled[(i, j)]) / areas_m2[i]
    }))
}

fn place_fixed(
    areas: &[f64],
    fixed: &[FixedViewFactor],
) -> Result<(DMatrix<f64>, DMatrix<bool>), CloseError> {
    let n = areas.len();
    let mut kept = DMatrix::zeros(n, n);
    let mut is_fixed = DMatrix::from_element(n, n, false);
    for p in fixed {
        let (i, j, value) = (p.from, p.to, p.view_factor);
        if !(0.0..=1.0).contains(&value) || is_fixed[(i, j)] {
            return Err(CloseError::Fixed {
                surface: i,
                other: j,
                value,
            });
        }
        kept[(i, j)] = areas[i] * value;
        kept[(j, i)] = kept[(i, j)];
        is_fixed[(i, j)] = true;
        is_fixed[(j, i)] = true;
    }
    Ok((kept, is_fixed))
}

/// Scales symmetric `kernel` to row sums `rest`: damped Sinkhorn passes first, then Newton's method on
/// `min sum_ij K_ij exp(u_i + u_j) / 2 - sum_i rest_i u_i`, a convex problem with the same solution.
fn balance(
    kernel: &DMatrix<f64>,
    rest: &DVector<f64>,
    areas: &[f64],
) -> Result<DMatrix<f64>, CloseError> {
    let n = rest.len();
    // row sums of the scaled kernel: a product of matrix and vector
    let sums = |d: &DVector<f64>| (kernel * d).component_mul(d);
    let worst = |sums: &DVector<f64>| {
        let mut found = (0, 0.0);
        for i in 0..n {
            let miss = (sums[i] - rest[i]).abs() / areas[i];
            // NaN must not pass for a small mismatch.
            if miss.is_nan() || miss > found.1 {
                found = (i, miss);
            }
        }
        found
    };
    // halfway on a logarithmic scale
    let pass = |d: &mut DVector<f64>, row: &DVector<f64>| {
        for i in 0..n {
            if rest[i] > 0.0 {
                d[i] *= (rest[i] / row[i]).sqrt();
            }
        }
    };
    let mut d = DVector::from_fn(n, |i, _| {
        1.0 / kernel.row(i).sum().max(f64::MIN_POSITIVE).sqrt()
    });
    let mut row = sums(&d);
    for _ in 0..50 {
        pass(&mut d, &row);
        row = sums(&d);
        if worst(&row).1 <= CLOSURE * 1e-2 {
            break;
        }
    }
    let cost = |row: &DVector<f64>, u: &DVector<f64>| 0.5 * row.sum() - rest.dot(u);
    let scaled = |d: &DVector<f64>| DMatrix::from_fn(n, n, |i, j| kernel[(i, j)] * d[i] * d[j]);
    let mut u = d.map(f64::ln);
    for _ in 0..200 {
        if worst(&row).1 <= CLOSURE * 1e-2 {
            break;
        }
        let mut hessian = scaled(&d);
        for i in 0..n {
            // The small ridge keeps two-sided (bipartite) sets solvable.
            hessian[(i, i)] += row[i] * (1.0 + 1e-12) + f64::MIN_POSITIVE;
        }
        let gradient = &row - rest;
        let Some(step) = hessian.lu().solve(&gradient) else {
            break;
        };
        let mut factor = (1.0 / step.amax().max(1.0)).min(1.0);
        let before = cost(&row, &u);
        let slope = gradient.dot(&step);
        let mut moved = false;
        for _ in 0..40 {
            let trial = &u - &step * factor;
            let trial_d = trial.map(f64::exp);
            let trial_row = sums(&trial_d);
            if cost(&trial_row, &trial) <= before - 1e-4 * factor * slope + 1e-14 * before.abs() {
                (u, d, row) = (trial, trial_d, trial_row);
                moved = true;
                break;
            }
            factor *= 0.5;
        }
        if !moved {
            break;
        }
    }
    // Newton stops where the cost no longer resolves its steps; balancing closes the last digits
    for _ in 0..500 {
        if worst(&row).1 <= CLOSURE {
            break;
        }
        pass(&mut d, &row);
        row = sums(&d);
    }
    let (surface, residual) = worst(&row);
    if residual <= CLOSURE {
        Ok(scaled(&d))
    } else {
        Err(CloseError::NotConverged { surface, residual })
    }
}
