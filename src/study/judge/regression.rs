//! Least squares with residuals that remember: the effect of a change from two logs.
//!
//! The residuals of a temperature log are taken as a first-order autoregression within each log, its memory by restricted
//! likelihood; the rows are freed of it (Prais & Winsten 1954) and fitted again. The interval takes Student's t with
//! Satterthwaite's degrees of freedom, which count how badly a log of an hour tells the memory: such a log holds ten or
//! twenty independent stretches, too few for resampling blocks, whose intervals come out too narrow then.

use nalgebra::{DMatrix, DVector};

use super::stats::student_factor;

/// Most memory from one row to the next that is believed.
const MOST_MEMORY: f64 = 0.93;
/// Fewest degrees of freedom of an interval.
const FEWEST_FREEDOM: f64 = 3.0;
/// Steps in which the memory is searched.
const MEMORY_STEPS: u32 = 31;
/// A column that the ones before it explain to this share of its length adds nothing.
const NOTHING_NEW: f64 = 1e-4;

/// Rows of one log.
#[derive(Debug, Clone, Default)]
pub struct Rows {
    /// Response at each row.
    pub response: Vec<f64>,
    /// Covariates at each row, all of one length.
    pub covariates: Vec<Vec<f64>>,
    /// After the change.
    pub after: bool,
}

/// What the fit says of the change.
#[derive(Debug, Clone, PartialEq)]
pub struct Effect {
    /// Best value.
    pub value: f64,
    /// Interval.
    pub low: f64,
    /// Interval.
    pub high: f64,
    /// Standard error.
    pub error: f64,
    /// Degrees of freedom behind the interval.
    pub freedom: f64,
    /// Memory of the residuals from row to row [-]; `None` where whole drives were compared.
    pub memory: Option<f64>,
    /// Share of the step that the covariates mimic [-]: near 1, load and change can't be told apart.
    pub mimicked: f64,
    /// Scatter of the residuals.
    pub scatter: f64,
}

/// Why there is no effect.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FitError {
    /// Nothing before or nothing after.
    #[error("no log {side} the change")]
    OneSided {
        /// `before` or `after`.
        side: &'static str,
    },
    /// Too few rows.
    #[error("{rows} usable rows for {columns} unknowns: too few")]
    TooFew {
        /// Rows.
        rows: usize,
        /// Unknowns.
        columns: usize,
    },
    /// The covariates change exactly when the part does.
    #[error("load and weather change exactly with the part: nothing can be told apart")]
    Mimicked,
}

/// The change from before to after at equal covariates, with a two-sided interval of `level` (0.9, say).
///
/// With two or more drives on each side, whole drives are compared, so that what differs from day to day is in the
/// interval. With fewer, only the scatter within the logs is.
///
/// # Errors
/// When a side or rows are missing, or the covariates mimic the change.
pub fn effect(logs: &[Rows], level: f64) -> Result<Effect, FitError> {
    let count = |after| logs.iter().filter(|l| l.after == after).count();
    for (after, side) in [(false, "before"), (true, "after")] {
        if count(after) == 0 {
            return Err(FitError::OneSided { side });
        }
    }
    if count(false) >= 2 && count(true) >= 2 {
        by_drive(logs, level)
    } else {
        by_row(logs, level)
    }
}

/// Columns: those given as fixed, then the covariates that add something, centred and scaled.
fn design(logs: &[Rows], fixed: &[Vec<f64>]) -> DMatrix<f64> {
    let rows: usize = logs.iter().map(|l| l.response.len()).sum();
    let width = logs
        .first()
        .and_then(|l| l.covariates.first())
        .map_or(0, Vec::len);
    let mut basis: Vec<DVector<f64>> = Vec::new();
    let mut columns: Vec<DVector<f64>> = Vec::new();
    let mut admit = |column: DVector<f64>, always: bool| {
        let length = column.norm();
        let mut rest = column.clone();
        for b in &basis {
            rest -= b * b.dot(&rest);
        }
        let new = rest.norm();
        if always || (length > 0.0 && new > NOTHING_NEW * length) {
            if new > 0.0 {
                basis.push(rest / new);
            }
            columns.push(column);
        }
    };
    for column in fixed {
        admit(DVector::from_column_slice(column), true);
    }
    for k in 0..width {
        let mut column = DVector::from_iterator(
            rows,
            logs.iter()
                .flat_map(|l| l.covariates.iter().map(move |c| c[k])),
        );
        column.add_scalar_mut(-column.mean());
        let size = column.amax();
        if size > 0.0 {
            admit(column / size, false);
        }
    }
    DMatrix::from_columns(&columns)
}

struct Fit {
    beta: DVector<f64>,
    /// Inverse of the normal matrix.
    inverse: DMatrix<f64>,
    /// Residuals of the rows as handed in.
    squares: f64,
}

fn least_squares(x: &DMatrix<f64>, y: &DVector<f64>) -> Option<Fit> {
    let inverse = (x.transpose() * x).cholesky()?.inverse();
    let beta = &inverse * x.transpose() * y;
    let squares = (y - x * &beta).norm_squared();
    Some(Fit {
        beta,
        inverse,
        squares,
    })
}

/// Frees rows of their memory, log by log.
fn whitened(
    x: &DMatrix<f64>,
    y: &DVector<f64>,
    lengths: &[usize],
    memory: f64,
) -> (DMatrix<f64>, DVector<f64>) {
    let (mut wx, mut wy) = (x.clone(), y.clone());
    let mut start = 0;
    for &length in lengths {
        for i in (start..start + length).rev() {
            if i == start {
                let first = (1.0 - memory * memory).sqrt();
                wy[i] *= first;
                wx.row_mut(i).scale_mut(first);
            } else {
                wy[i] -= memory * y[i - 1];
                let before = x.row(i - 1) * memory;
                let mut row = wx.row_mut(i);
                row -= before;
            }
        }
        start += length;
    }
    (wx, wy)
}

/// A fit at a given memory, with what the choice of the memory needs.
struct Remembering {
    fit: Fit,
    /// Restricted log-likelihood, but for a constant.
    likelihood: f64,
}

impl Remembering {
    /// `None`: columns that can't be told apart.
    fn at(x: &DMatrix<f64>, y: &DVector<f64>, lengths: &[usize], memory: f64) -> Option<Self> {
        let (wx, wy) = whitened(x, y, lengths, memory);
        let fit = least_squares(&wx, &wy)?;
        let left = (x.nrows() - x.ncols()) as f64;
        // determinants of the whitening (its first rows) and of the fitted columns
        let firsts = lengths.len() as f64 * (1.0 - memory * memory).ln();
        let columns = fit.inverse.determinant().ln();
        let likelihood = 0.5 * (firsts + columns - left * fit.squares.max(f64::MIN_POSITIVE).ln());
        Some(Self { fit, likelihood })
    }

    /// Logarithm of the squared standard error of the step, but for a constant.
    fn error(&self) -> f64 {
        (self.fit.squares * self.fit.inverse[(1, 1)]).ln()
    }
}

/// Memory from row to row of highest restricted likelihood, and the spread of the squared standard error that its own
/// uncertainty makes, as a variance of the logarithm.
///
/// # Source
/// Patterson and Thompson 1971 for the likelihood, Satterthwaite 1946 for the degrees of freedom by the delta method.
fn memory_of(x: &DMatrix<f64>, y: &DVector<f64>, lengths: &[usize]) -> Option<(f64, f64)> {
    let mut best = (0.0, f64::NEG_INFINITY);
    for i in 0..=MEMORY_STEPS {
        let memory = MOST_MEMORY * f64::from(i) / f64::from(MEMORY_STEPS);
        let likelihood = Remembering::at(x, y, lengths, memory)?.likelihood;
        if likelihood > best.1 {
            best = (memory, likelihood);
        }
    }
    let step = MOST_MEMORY / f64::from(MEMORY_STEPS);
    let middle = best.0.clamp(step, MOST_MEMORY - step);
    let at = |memory| Remembering::at(x, y, lengths, memory);
    let (low, here, high) = (at(middle - step)?, at(middle)?, at(middle + step)?);
    let slope = (high.error() - low.error()) / (2.0 * step);
    let slant = (high.likelihood - low.likelihood) / (2.0 * step);
    let bend = -(high.likelihood - 2.0 * here.likelihood + low.likelihood) / (step * step);
    if bend <= 0.0 {
        return Some((best.0, f64::INFINITY));
    }
    let memory = (middle + slant / bend).clamp(best.0 - step, best.0 + step);
    Some((memory.clamp(0.0, MOST_MEMORY), slope * slope / bend))
}

/// Share of the step that the covariates explain.
fn mimicked(x: &DMatrix<f64>) -> f64 {
    let step = x.column(1).into_owned();
    let others = x.clone().remove_column(1);
    let centred = step.norm_squared() - step.mean().powi(2) * step.len() as f64;
    match least_squares(&others, &step) {
        Some(fit) if centred > 0.0 => (1.0 - fit.squares / centred).clamp(0.0, 1.0),
        _ => 1.0,
    }
}

fn by_row(logs: &[Rows], level: f64) -> Result<Effect, FitError> {
    let lengths: Vec<usize> = logs.iter().map(|l| l.response.len()).collect();
    let rows: usize = lengths.iter().sum();
    let step: Vec<f64> = logs
        .iter()
        .flat_map(|l| vec![f64::from(u8::from(l.after)); l.response.len()])
        .collect();
    let x = design(logs, &[vec![1.0; rows], step]);
    let y = DVector::from_iterator(rows, logs.iter().flat_map(|l| l.response.iter().copied()));
    let columns = x.ncols();
    if rows < columns + 4 {
        return Err(FitError::TooFew { rows, columns });
    }
    let mimicked = mimicked(&x);
    let (memory, spread) = memory_of(&x, &y, &lengths).ok_or(FitError::Mimicked)?;
    let fit = Remembering::at(&x, &y, &lengths, memory)
        .ok_or(FitError::Mimicked)?
        .fit;
    let left = (rows - columns) as f64;
    let variance = fit.squares / left;
    let error = (variance * fit.inverse[(1, 1)]).sqrt();
    let freedom = (2.0 / (2.0 / left + spread)).clamp(FEWEST_FREEDOM, left);
    let half = student_factor(level, freedom) * error;
    let value = fit.beta[1];
    Ok(Effect {
        value,
        low: value - half,
        high: value + half,
        error,
        freedom,
        memory: Some(memory),
        mimicked,
        scatter: (variance / (1.0 - memory * memory)).sqrt(),
    })
}

fn by_drive(logs: &[Rows], level: f64) -> Result<Effect, FitError> {
    let rows: usize = logs.iter().map(|l| l.response.len()).sum();
    let drives: Vec<Vec<f64>> = (0..logs.len())
        .map(|d| {
            let each = logs.iter().enumerate();
            each.flat_map(|(i, l)| vec![f64::from(u8::from(i == d)); l.response.len()])
                .collect()
        })
        .collect();
    let x = design(logs, &drives);
    let y = DVector::from_iterator(rows, logs.iter().flat_map(|l| l.response.iter().copied()));
    let columns = x.ncols();
    if rows < columns + 4 || logs.iter().any(|l| l.response.is_empty()) {
        return Err(FitError::TooFew { rows, columns });
    }
    let fit = least_squares(&x, &y).ok_or(FitError::Mimicked)?;
    let side = |after: bool| -> Vec<f64> {
        let own = logs.iter().zip(fit.beta.iter());
        own.filter(|(l, _)| l.after == after)
            .map(|(_, b)| *b)
            .collect()
    };
    let (before, after) = (side(false), side(true));
    let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len() as f64;
    let about = |v: &[f64]| v.iter().map(|b| (b - mean(v)).powi(2)).sum::<f64>();
    let freedom = (logs.len() - 2) as f64;
    let variance = (about(&before) + about(&after)) / freedom;
    let error = (variance * (1.0 / before.len() as f64 + 1.0 / after.len() as f64)).sqrt();
    let half = student_factor(level, freedom) * error;
    let value = mean(&after) - mean(&before);
    Ok(Effect {
        value,
        low: value - half,
        high: value + half,
        error,
        freedom,
        memory: None,
        mimicked: 0.0,
        scatter: variance.sqrt(),
    })
}
