//! Logs as rows of half a minute, each with what the operating point explains.

use super::log::{LogError, MeasuredLog};
use super::regression::Rows;
use crate::study::findings::Series;

/// Length of a row: far above a sensor's noise, below what a bay's parts remember [s].
pub const ROW_S: f64 = 30.0;
/// Start of a log that is left out: the filters know nothing of what was before [s].
pub const RUN_IN_S: f64 = 300.0;
/// Memories of a bay: air and thin parts, castings and fluids [s] (estimates).
const MEMORIES_S: [f64; 2] = [60.0, 600.0];
/// Step of the filters [s].
const STEP_S: f64 = 2.0;
/// Road speed that halves what standing does to a bay [m/s] (estimate).
const AIRING_M_S: f64 = 5.0;

/// Rows of one log with the speed of each, for splitting by state.
#[derive(Debug, Clone, Default)]
pub struct Aligned {
    /// Response over outside air where that is logged, and covariates.
    pub rows: Rows,
    /// Mean road speed of each row [m/s].
    pub speed_m_s: Vec<f64>,
    /// Mean reading [K].
    pub mean_k: f64,
    /// Mean outside air [K], where logged.
    pub ambient_k: Option<f64>,
}

/// What stands for the operating point.
#[derive(Debug, Clone, Copy)]
pub enum Explains<'a> {
    /// The log's own heat and speed with two memories, and the lack of draught when standing.
    Log,
    /// The model's prediction of the channel on the same drive: column of a series.
    Model(&'a Series, &'a str),
}

/// Cuts a log into rows.
///
/// # Errors
/// When the channel isn't in the log.
pub fn align(
    log: &MeasuredLog,
    channel: &str,
    after: bool,
    explains: Explains,
) -> Result<Aligned, LogError> {
    let readings = log.channel(channel)?;
    let end_s = log.cycle.duration_s();
    let bins = (end_s / ROW_S).floor() as usize;
    let mut sums = vec![(0.0, 0.0); bins];
    for (&t, reading) in log.time_s.iter().zip(readings) {
        let bin = (t / ROW_S).floor();
        if let (Some(k), true) = (reading, bin >= 0.0)
            && let Some(sum) = sums.get_mut(bin as usize)
        {
            *sum = (sum.0 + k, sum.1 + 1.0);
        }
    }
    let explained = match explains {
        Explains::Log => own(log, bins),
        Explains::Model(series, column) => model(log, series, column, bins),
    };
    let mut out = Aligned::default();
    out.rows.after = after;
    let (mut total, mut ambient_total, mut ambient_known) = (0.0, 0.0, true);
    for (i, &(sum, count)) in sums.iter().enumerate() {
        let middle_s = (i as f64 + 0.5) * ROW_S;
        let Some((covariates, speed)) = explained.get(i) else {
            continue;
        };
        if count < 1.0 || middle_s < RUN_IN_S {
            continue;
        }
        let k = sum / count;
        let ambient = log.ambient_k(middle_s);
        ambient_known &= ambient.is_some();
        total += k;
        ambient_total += ambient.unwrap_or(0.0);
        out.rows.response.push(k - ambient.unwrap_or(0.0));
        out.rows.covariates.push(covariates.clone());
        out.speed_m_s.push(*speed);
    }
    let n = out.speed_m_s.len().max(1) as f64;
    out.mean_k = total / n;
    out.ambient_k = ambient_known.then_some(ambient_total / n);
    Ok(out)
}

type Explained = Vec<(Vec<f64>, f64)>;

/// Heat and speed through filters, and the lack of draught, mean of each row.
fn own(log: &MeasuredLog, bins: usize) -> Explained {
    let per_bin = (ROW_S / STEP_S).round() as usize;
    let inputs = |i: usize| {
        let (heat, speed) = log.drive(i as f64 * STEP_S);
        [heat, speed, 1.0 / (1.0 + speed / AIRING_M_S)]
    };
    let mut state = [inputs(0); MEMORIES_S.len()];
    let mut out = Vec::with_capacity(bins);
    for bin in 0..bins {
        let mut mean = vec![0.0; 3 * MEMORIES_S.len()];
        let mut speed = 0.0;
        for step in 0..per_bin {
            let now = inputs(bin * per_bin + step);
            speed += now[1] / per_bin as f64;
            for (k, memory_s) in MEMORIES_S.iter().enumerate() {
                let weight = 1.0 - (-STEP_S / memory_s).exp();
                for j in 0..3 {
                    state[k][j] += weight * (now[j] - state[k][j]);
                    mean[3 * k + j] += state[k][j] / per_bin as f64;
                }
            }
        }
        out.push((mean, speed));
    }
    out
}

/// The model's temperature over outside air, mean of each row.
fn model(log: &MeasuredLog, series: &Series, column: &str, bins: usize) -> Explained {
    let values = series.column(column).unwrap_or_default();
    let ambient = series.column("ambient_c").unwrap_or_default();
    let mut sums = vec![(0.0, 0.0); bins];
    for ((&t, value), ambient) in series.time_s.iter().zip(values).zip(ambient) {
        if let Some(sum) = sums.get_mut((t / ROW_S).floor().max(0.0) as usize) {
            *sum = (sum.0 + value - ambient, sum.1 + 1.0);
        }
    }
    let each = sums.iter().enumerate().map(|(i, &(sum, count))| {
        let mean: f64 = if count > 0.0 { sum / count } else { 0.0 };
        (vec![mean], log.drive((i as f64 + 0.5) * ROW_S).1)
    });
    each.collect()
}
