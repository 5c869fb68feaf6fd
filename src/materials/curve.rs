//! A property against temperature: straight lines between table points, with exact integral.

use super::Confidence;
use crate::constants::REFERENCE_TEMPERATURE_K;

/// Piecewise linear property over temperature [K]. Outside the table the end values hold.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    points: Vec<(f64, f64)>,
    /// Integral from the first point to each point.
    sums: Vec<f64>,
    at_reference: f64,
    source: String,
    confidence: Confidence,
}

impl Curve {
    /// A curve through `points` (temperature [K], value); `None` unless temperatures rise and all numbers are finite and positive.
    pub fn new(points: Vec<(f64, f64)>, source: String, confidence: Confidence) -> Option<Self> {
        let positive = |x: f64| x.is_finite() && x > 0.0;
        let usable = !points.is_empty()
            && points.iter().all(|&(t, v)| positive(t) && positive(v))
            && points.windows(2).all(|w| w[0].0 < w[1].0);
        if !usable {
            return None;
        }
        let mut sums = vec![0.0];
        let mut total = 0.0;
        for w in points.windows(2) {
            total += 0.5 * (w[0].1 + w[1].1) * (w[1].0 - w[0].0);
            sums.push(total);
        }
        let mut curve = Self {
            points,
            sums,
            at_reference: 0.0,
            source,
            confidence,
        };
        curve.at_reference = curve.integral(REFERENCE_TEMPERATURE_K);
        Some(curve)
    }

    /// Index of the last point at or below `t_k`, and the value there and at `t_k`.
    #[inline]
    fn locate(&self, t_k: f64) -> (usize, f64) {
        let p = &self.points;
        let after = p.iter().position(|&(t, _)| t > t_k).unwrap_or(p.len());
        if after == 0 {
            (0, p[0].1)
        } else if after == p.len() {
            (after - 1, p[after - 1].1)
        } else {
            let (t0, v0) = p[after - 1];
            let (t1, v1) = p[after];
            (after - 1, v0 + (v1 - v0) * (t_k - t0) / (t1 - t0))
        }
    }

    /// Value at `t_k` [K].
    #[inline]
    pub fn value(&self, t_k: f64) -> f64 {
        self.locate(t_k).1
    }

    /// Integral of the value from 298.15 K to `t_k` [K].
    #[inline]
    pub fn integral(&self, t_k: f64) -> f64 {
        let (i, value) = self.locate(t_k);
        let (t0, v0) = self.points[i];
        self.sums[i] + 0.5 * (v0 + value) * (t_k - t0) - self.at_reference
    }

    /// Table points (temperature [K], value).
    pub fn points(&self) -> &[(f64, f64)] {
        &self.points
    }

    /// First and last temperature of the table [K].
    pub fn range_k(&self) -> [f64; 2] {
        [self.points[0].0, self.points[self.points.len() - 1].0]
    }

    /// Where the table comes from.
    pub fn source(&self) -> &str {
        &self.source
    }

    /// How far it can be trusted.
    pub fn confidence(&self) -> Confidence {
        self.confidence
    }
}
