//! 10, 50 and 90 % points of a sample.

use serde::Serialize;

/// 10, 50 and 90 % points.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Band {
    /// 10 % point.
    pub low: f64,
    /// 50 % point.
    pub median: f64,
    /// 90 % point.
    pub high: f64,
}

/// Why a sample has no percentiles.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SampleError {
    /// Nothing there.
    #[error("a sample without values has no percentiles")]
    Empty,
    /// Not a number: sorted in, it would pass for a large value.
    #[error("value {index} of a sample is {value}, which is not a finite number")]
    NotFinite {
        /// Place in the sample, from 0.
        index: usize,
        /// The value.
        value: f64,
    },
}

impl Band {
    /// The band of a sample.
    ///
    /// ```
    /// use baysoak::study::bands::Band;
    /// let band = Band::of(&[3.0, 1.0, 2.0, 5.0, 4.0])?;
    /// assert_eq!(band.median, 3.0);
    /// assert!((band.low - 1.4).abs() < 1e-12 && (band.high - 4.6).abs() < 1e-12);
    /// # Ok::<(), baysoak::study::bands::SampleError>(())
    /// ```
    ///
    /// # Errors
    /// An empty sample, or a value that isn't finite.
    pub fn of(values: &[f64]) -> Result<Self, SampleError> {
        let sorted = sorted(values)?;
        Ok(Self {
            low: between(&sorted, 0.1),
            median: between(&sorted, 0.5),
            high: between(&sorted, 0.9),
        })
    }

    /// From 10 to 90 %.
    pub fn width(&self) -> f64 {
        self.high - self.low
    }
}

/// The values in order.
fn sorted(values: &[f64]) -> Result<Vec<f64>, SampleError> {
    if values.is_empty() {
        return Err(SampleError::Empty);
    }
    if let Some(index) = values.iter().position(|v| !v.is_finite()) {
        let value = values[index];
        return Err(SampleError::NotFinite { index, value });
    }
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    Ok(sorted)
}

/// Quantile of sorted values, straight between neighbours (type 7 of Hyndman and Fan 1996, The
/// American Statistician 50, 361).
fn between(sorted: &[f64], q: f64) -> f64 {
    let place = q * (sorted.len() - 1) as f64;
    let below = place.floor() as usize;
    let above = (below + 1).min(sorted.len() - 1);
    sorted[below] + (place - below as f64) * (sorted[above] - sorted[below])
}

/// Share of a sample that has the sign of `expected` [-]; `None` for an empty sample. A difference
/// of exactly nothing has neither sign and counts half.
pub fn share_of_sign(values: &[f64], expected: f64) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let score: f64 = values
        .iter()
        .map(|v| match (v * expected).partial_cmp(&0.0) {
            Some(std::cmp::Ordering::Greater) => 1.0,
            Some(std::cmp::Ordering::Equal) => 0.5,
            _ => 0.0,
        })
        .sum();
    Some(score / values.len() as f64)
}
