//! View factors: published configurations, and the closing of an enclosure.

use std::f64::consts::PI;

use nalgebra::DMatrix;

/// Two equal parallel rectangles `width_m` by `height_m`, `gap_m` apart.
///
/// Howell's catalogue C-11; Incropera 6th ed., table 13.2.
pub fn parallel_rectangles(width_m: f64, height_m: f64, gap_m: f64) -> f64 {
    let (x, y) = (width_m / gap_m, height_m / gap_m);
    let (x1, y1) = (1.0 + x * x, 1.0 + y * y);
    let sum = 0.5 * (x1 * y1 / (1.0 + x * x + y * y)).ln()
        + x * y1.sqrt() * (x / y1.sqrt()).atan()
        + y * x1.sqrt() * (y / x1.sqrt()).atan()
        - x * x.atan()
        - y * y.atan();
    2.0 * sum / (PI * x * y)
}

/// From a rectangle `edge_m` by `own_m` to one `edge_m` by `other_m` at right angles, sharing the
/// edge.
///
/// Howell's catalogue C-14; Incropera 6th ed., table 13.2.
pub fn perpendicular_rectangles(edge_m: f64, own_m: f64, other_m: f64) -> f64 {
    let (w, h) = (own_m / edge_m, other_m / edge_m);
    let (w2, h2) = (w * w, h * h);
    let hypotenuse = (h2 + w2).sqrt();
    let a = (1.0 + w2) * (1.0 + h2) / (1.0 + w2 + h2);
    let b = w2 * (1.0 + w2 + h2) / ((1.0 + w2) * (w2 + h2));
    let c = h2 * (1.0 + h2 + w2) / ((1.0 + h2) * (h2 + w2));
    let sum = w * (1.0 / w).atan() + h * (1.0 / h).atan() - hypotenuse * (1.0 / hypotenuse).atan()
        + 0.25 * (a.ln() + w2 * b.ln() + h2 * c.ln());
    sum / (PI * w)
}

/// From a disc of radius `own_m` to a coaxial parallel one of radius `other_m`, `gap_m` apart.
///
/// Howell's catalogue C-41; Incropera 6th ed., table 13.2.
pub fn coaxial_discs(own_m: f64, other_m: f64, gap_m: f64) -> f64 {
    let (ri, rj) = (own_m / gap_m, other_m / gap_m);
    let s = 1.0 + (1.0 + rj * rj) / (ri * ri);
    let ratio = rj / ri;
    0.5 * (s - (s * s - 4.0 * ratio * ratio).sqrt())
}

/// From a long cylinder of radius `radius_m` to a parallel strip that reaches from `from_m` to
/// `to_m` beside the foot of its axis, `distance_m` below the axis.
///
/// `[atan(to/d) - atan(from/d)] / (2 pi)` (Incropera 6th ed., table 13.1).
pub fn cylinder_to_strip(distance_m: f64, from_m: f64, to_m: f64) -> f64 {
    ((to_m / distance_m).atan() - (from_m / distance_m).atan()) / (2.0 * PI)
}

/// Between two long parallel cylinders of equal radius, axes `axes_m` apart.
///
/// `[sqrt(X^2 - 1) + asin(1/X) - X] / pi`, `X = axes / (2 r)` (Hottel's crossed strings; Howell's
/// catalogue C-63).
pub fn parallel_cylinders(radius_m: f64, axes_m: f64) -> f64 {
    let x = axes_m / (2.0 * radius_m);
    ((x * x - 1.0).max(0.0).sqrt() + (1.0 / x).asin() - x) / PI
}

/// Why view factors can't be closed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ViewFactorError {
    /// Given shares of a surface exceed 1.
    #[error(
        "surface {surface}: given view factors sum to {sum}, above 1 (counting what other surfaces see of it)"
    )]
    TooMuchGiven {
        /// Index.
        surface: usize,
        /// Sum of the given shares.
        sum: f64,
    },
    /// A surface is larger than all that it can see.
    #[error(
        "surface {surface} of {area_m2} m2 sees too little area to close its view factors: row sum {sum}"
    )]
    CannotClose {
        /// Index.
        surface: usize,
        /// Area [m2].
        area_m2: f64,
        /// Row sum reached.
        sum: f64,
    },
}

/// Rounds of scaling before giving up.
const MOST_ROUNDS: usize = 20_000;
/// Largest departure of a row sum from 1.
const CLOSED: f64 = 1e-10;

/// Makes a reciprocal and closed set of view factors from visibility weights.
///
/// `weights`: symmetric, not negative; how well two surfaces see each other. `given`: pairs
/// `(i, j, F_ij)` that are kept exactly (with their reciprocal twin). The rest is
/// `S_ij = d_i w_ij A_i A_j d_j` with scales `d` such that the rows of `S` sum to what each area
/// has left (symmetric matrix balancing, Sinkhorn and Knopp 1967).
///
/// # Errors
/// When given shares exceed 1 or a surface can't be closed.
pub fn close(
    areas_m2: &[f64],
    weights: &DMatrix<f64>,
    given: &[(usize, usize, f64)],
) -> Result<DMatrix<f64>, ViewFactorError> {
    let n = areas_m2.len();
    let mut kept = DMatrix::zeros(n, n);
    let mut open = DMatrix::from_fn(n, n, |i, j| {
        if i == j {
            0.0
        } else {
            weights[(i, j)] * areas_m2[i] * areas_m2[j]
        }
    });
    for &(i, j, share) in given {
        kept[(i, j)] = areas_m2[i] * share;
        kept[(j, i)] = areas_m2[i] * share;
        open[(i, j)] = 0.0;
        open[(j, i)] = 0.0;
    }
    let left: Vec<f64> = (0..n).map(|i| areas_m2[i] - kept.row(i).sum()).collect();
    for i in 0..n {
        if left[i] < -1e-9 * areas_m2[i] {
            return Err(ViewFactorError::TooMuchGiven {
                surface: i,
                sum: 1.0 - left[i] / areas_m2[i],
            });
        }
    }
    let mut scale = vec![1.0_f64; n];
    let row = |scale: &[f64], i: usize| -> f64 {
        (0..n).map(|j| open[(i, j)] * scale[j]).sum::<f64>() * scale[i]
    };
    for _ in 0..MOST_ROUNDS {
        let mut worst = 0.0_f64;
        for i in 0..n {
            let sum = row(&scale, i);
            if left[i] <= 0.0 {
                scale[i] = 0.0;
            } else if sum > 0.0 {
                worst = worst.max((sum / left[i] - 1.0).abs() * left[i] / areas_m2[i]);
                scale[i] *= (left[i] / sum).sqrt();
            }
        }
        if worst < CLOSED {
            break;
        }
    }
    let mut factors = DMatrix::zeros(n, n);
    for i in 0..n {
        for j in 0..n {
            factors[(i, j)] = (kept[(i, j)] + scale[i] * open[(i, j)] * scale[j]) / areas_m2[i];
        }
        let sum: f64 = factors.row(i).sum();
        if (sum - 1.0).abs() > 1e3 * CLOSED {
            return Err(ViewFactorError::CannotClose {
                surface: i,
                area_m2: areas_m2[i],
                sum,
            });
        }
    }
    Ok(factors)
}
