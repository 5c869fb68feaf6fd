//! Classical Runge-Kutta of order 4 with equal steps: no step control to go wrong, so it checks the others.

use super::error::SolveError;
use super::integrator::{Work, not_finite};
use super::system::{System, first_not_finite};

/// Advances `y` over the interval in the fewest equal steps no longer than `step_s`.
pub(super) fn advance<S: System>(
    step_s: f64,
    step_limit: u64,
    work: &mut Work,
    system: &mut S,
    (t0, t1): (f64, f64),
    y: &mut [f64],
) -> Result<(), SolveError> {
    let n = y.len();
    let span = t1 - t0;
    // The allowance keeps 1 s / 0.1 s at ten steps when the quotient rounds up.
    let count = (span / step_s * (1.0 - 4.0 * f64::EPSILON)).ceil().max(1.0);
    let mut now = y.to_vec();
    let mut stage = vec![0.0; n];
    let mut k = [vec![0.0; n], vec![0.0; n], vec![0.0; n], vec![0.0; n]];
    let h = span / count;
    let time = |steps: f64| (t0 + h * steps).min(t1);
    let mut done = 0.0;
    while done < count {
        if done >= step_limit as f64 {
            rates(system, work, time(done), &now, &mut k[0])?;
            let fastest = (0..n).fold(0, |a, b| if k[0][b].abs() > k[0][a].abs() { b } else { a });
            return Err(SolveError::StepLimit {
                time_s: time(done),
                state: system.state_name(fastest),
                value: now[fastest],
                rate: k[0][fastest],
                steps: step_limit,
                rejected: 0,
            });
        }
        // Kutta 1901: nodes 0, 1/2, 1/2, 1; weights 1/6, 1/3, 1/3, 1/6.
        rates(system, work, time(done), &now, &mut k[0])?;
        for (s, node) in [(1, 0.5), (2, 0.5), (3, 1.0)] {
            for i in 0..n {
                stage[i] = now[i] + h * node * k[s - 1][i];
            }
            let t = if node == 1.0 {
                time(done + 1.0)
            } else {
                time(done + node)
            };
            rates(system, work, t, &stage, &mut k[s])?;
        }
        for i in 0..n {
            now[i] += h / 6.0 * (k[0][i] + 2.0 * k[1][i] + 2.0 * k[2][i] + k[3][i]);
        }
        done += 1.0;
        work.steps += 1;
    }
    if let Some(i) = first_not_finite(&now) {
        return Err(not_finite(system, i, t1, now[i], k[3][i]));
    }
    y.copy_from_slice(&now);
    Ok(())
}

fn rates<S: System>(
    system: &mut S,
    work: &mut Work,
    t: f64,
    y: &[f64],
    dy: &mut [f64],
) -> Result<(), SolveError> {
    system.rates(t, y, dy);
    work.rhs_calls += 1;
    match first_not_finite(dy) {
        Some(i) => Err(not_finite(system, i, t, y[i], dy[i])),
        None => Ok(()),
    }
}
