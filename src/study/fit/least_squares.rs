//! Least squares inside bounds, on residuals that someone else computes.
//!
//! The search is Levenberg and Marquardt's (crate `levenberg-marquardt`, a port of MINPACK; Moré
//! 1978). Bounds are kept by a change of variable, `x = low + (high - low) / (1 + exp(-u))`, on the
//! logarithm where a range spans more than [`DECADE`].

use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::storage::Owned;
use nalgebra::{DMatrix, DVector, Dyn};

/// Ranges wider than this factor are searched on their logarithm.
const DECADE: f64 = 5.0;
/// Nearest to a bound that a search starts, as a share of the range: on the bound the slope is lost.
const OFF_BOUND: f64 = 0.02;

/// Residuals as functions of parameters.
pub trait Residuals {
    /// Residuals at each of several parameter vectors, or why there are none.
    ///
    /// Several at once, so that they may be computed side by side.
    ///
    /// # Errors
    /// In words, for each vector by itself.
    fn at(&self, points: &[Vec<f64>]) -> Vec<Result<Vec<f64>, String>>;
}

/// A parameter that is searched.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounds {
    /// Least value.
    pub low: f64,
    /// Greatest value.
    pub high: f64,
}

impl Bounds {
    fn logarithmic(&self) -> bool {
        self.low > 0.0 && self.high / self.low > DECADE
    }

    /// How far up its range `x` lies, 0 to 1.
    fn share(&self, x: f64) -> f64 {
        let (low, high, x) = if self.logarithmic() {
            (self.low.ln(), self.high.ln(), x.max(self.low).ln())
        } else {
            (self.low, self.high, x)
        };
        ((x - low) / (high - low)).clamp(0.0, 1.0)
    }

    /// The free variable that stands for `x`.
    fn inward(&self, x: f64) -> f64 {
        let share = self.share(x).clamp(OFF_BOUND, 1.0 - OFF_BOUND);
        (share / (1.0 - share)).ln()
    }

    fn outward(&self, u: f64) -> f64 {
        self.at_share(1.0 / (1.0 + (-u).exp()))
    }

    fn at_share(&self, share: f64) -> f64 {
        if self.logarithmic() {
            (self.low.ln() + share * (self.high / self.low).ln()).exp()
        } else {
            self.low + share * (self.high - self.low)
        }
    }
}

/// How to search.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Search {
    /// Step of the free variable for slopes: large against the noise of the residuals, small against 1.
    pub step: f64,
    /// Slopes from either side: exact to second order, at twice the cost.
    pub central: bool,
    /// Relative change of sum of squares or of parameters that ends the search.
    pub tolerance: f64,
    /// Evaluations before it gives up, in multiples of parameters plus one.
    pub patience: usize,
}

/// Where a search ended.
#[derive(Debug, Clone)]
pub struct Minimum {
    /// Parameters.
    pub x: Vec<f64>,
    /// Residuals there.
    pub residuals: Vec<f64>,
    /// Slopes of the residuals by the parameters themselves, one column each.
    pub jacobian: DMatrix<f64>,
    /// Half the sum of squares.
    pub cost: f64,
    /// Whether the search came to rest by itself.
    pub settled: bool,
    /// Parameter vectors looked at, those for slopes included.
    pub evaluations: usize,
}

struct Problem<'a> {
    residuals: &'a dyn Residuals,
    bounds: &'a [Bounds],
    search: Search,
    u: DVector<f64>,
    here: Option<DVector<f64>>,
    failure: Option<String>,
    evaluations: std::cell::Cell<usize>,
}

impl Problem<'_> {
    /// Residuals at several points, counted.
    fn look(&self, points: &[Vec<f64>]) -> Vec<Result<Vec<f64>, String>> {
        self.evaluations.set(self.evaluations.get() + points.len());
        self.residuals.at(points)
    }

    fn x(&self, u: &DVector<f64>) -> Vec<f64> {
        self.bounds
            .iter()
            .zip(u.iter())
            .map(|(b, &u)| b.outward(u))
            .collect()
    }

    /// Residuals at points beside the present one, as many at each; none if one of them fails.
    fn beside(&self, points: &[Vec<f64>]) -> Option<Vec<Vec<f64>>> {
        let rows = self.here.as_ref()?.len();
        let found: Result<Vec<Vec<f64>>, String> = self.look(points).into_iter().collect();
        found.ok().filter(|f| f.iter().all(|r| r.len() == rows))
    }

    /// Slopes by the parameters themselves at `x`, from points on either side inside the bounds: a
    /// parameter on its bound has a slope too, where its free variable has none left.
    fn slopes_by_x(&self, x: &[f64]) -> Option<DMatrix<f64>> {
        // as far as the search steps in the middle of a range
        let step = 0.25 * self.search.step;
        let mut points = Vec::with_capacity(2 * x.len());
        for (i, b) in self.bounds.iter().enumerate() {
            let share = b.share(x[i]);
            for beside in [(share + step).min(1.0), (share - step).max(0.0)] {
                let mut point = x.to_vec();
                point[i] = b.at_share(beside);
                points.push(point);
            }
        }
        let found = self.beside(&points)?;
        let rows = self.here.as_ref()?.len();
        Some(DMatrix::from_fn(rows, x.len(), |row, i| {
            let rise = found[2 * i][row] - found[2 * i + 1][row];
            rise / (points[2 * i][i] - points[2 * i + 1][i])
        }))
    }

    /// Slopes by the free variables.
    fn slopes(&self) -> Option<DMatrix<f64>> {
        let here = self.here.as_ref()?;
        let step = self.search.step;
        let signs: &[f64] = if self.search.central {
            &[1.0, -1.0]
        } else {
            &[1.0]
        };
        let mut points = Vec::with_capacity(signs.len() * self.bounds.len());
        for i in 0..self.bounds.len() {
            for sign in signs {
                let mut u = self.u.clone();
                u[i] += sign * step;
                points.push(self.x(&u));
            }
        }
        let found = self.beside(&points)?;
        let mut slopes = DMatrix::zeros(here.len(), self.bounds.len());
        for (i, sides) in found.chunks_exact(signs.len()).enumerate() {
            for row in 0..here.len() {
                slopes[(row, i)] = match sides {
                    [above, below] => (above[row] - below[row]) / (2.0 * step),
                    [above] => (above[row] - here[row]) / step,
                    _ => return None,
                };
            }
        }
        Some(slopes)
    }
}

impl LeastSquaresProblem<f64, Dyn, Dyn> for &mut Problem<'_> {
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;
    type ParameterStorage = Owned<f64, Dyn>;

    fn set_params(&mut self, u: &DVector<f64>) {
        self.u.copy_from(u);
        let x = self.x(u);
        let found = self.look(std::slice::from_ref(&x)).pop();
        self.here = match found {
            Some(Ok(r)) => Some(DVector::from_vec(r)),
            Some(Err(reason)) => {
                self.failure = Some(reason);
                None
            }
            None => None,
        };
    }

    fn params(&self) -> DVector<f64> {
        self.u.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        self.here.clone()
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        self.slopes()
    }
}

/// Searches from one start.
///
/// # Errors
/// Why the residuals can't be had at the start or on the way, in words.
pub fn minimise(
    residuals: &dyn Residuals,
    bounds: &[Bounds],
    start: &[f64],
    search: Search,
) -> Result<Minimum, String> {
    let free = bounds.iter().zip(start).map(|(b, &x)| b.inward(x));
    let mut problem = Problem {
        residuals,
        bounds,
        search,
        u: DVector::from_iterator(bounds.len(), free),
        here: None,
        failure: None,
        evaluations: std::cell::Cell::new(0),
    };
    let u = problem.u.clone();
    (&mut problem).set_params(&u);
    if let Some(reason) = problem.failure.take() {
        return Err(reason);
    }
    let settled = if bounds.is_empty() {
        true
    } else {
        let method = LevenbergMarquardt::new()
            .with_ftol(search.tolerance)
            .with_xtol(search.tolerance)
            .with_gtol(search.tolerance * 1e-2)
            .with_stepbound(1.0)
            .with_patience(search.patience);
        let (_, report) = method.minimize(&mut problem);
        report.termination.was_successful()
    };
    // the last point tried need not be the best: the crate has put the best back
    let u = problem.u.clone();
    (&mut problem).set_params(&u);
    let x = problem.x(&u);
    let slopes = problem.slopes_by_x(&x);
    let (Some(jacobian), Some(here)) = (slopes, problem.here.clone()) else {
        let reason = problem.failure.take();
        return Err(reason.unwrap_or_else(|| "no residuals beside the best point".into()));
    };
    Ok(Minimum {
        x,
        cost: 0.5 * here.norm_squared(),
        residuals: here.as_slice().to_vec(),
        jacobian,
        settled,
        evaluations: problem.evaluations.get(),
    })
}
