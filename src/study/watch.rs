//! Means, peaks and times over limits.

use crate::number::{Number, side_by_side};

/// Time integral and peak of a quantity.
#[derive(Debug, Clone, Copy)]
pub struct Trend {
    /// Integral over time.
    pub integral: f64,
    /// Time covered [s].
    pub seconds: f64,
    /// Largest value.
    pub peak: f64,
}

impl Default for Trend {
    fn default() -> Self {
        Self {
            integral: 0.0,
            seconds: 0.0,
            peak: f64::NEG_INFINITY,
        }
    }
}

impl Trend {
    /// Adds a stretch between two values.
    pub fn add(&mut self, a: f64, b: f64, seconds: f64) {
        self.integral += 0.5 * (a + b) * seconds;
        self.seconds += seconds;
        self.peak = self.peak.max(a).max(b);
    }

    /// Mean, or `None` when no time was covered.
    pub fn mean(&self) -> Option<f64> {
        (self.seconds > 0.0).then(|| self.integral / self.seconds)
    }
}

/// Peak and time over a limit.
#[derive(Debug, Clone, Copy, Default)]
pub struct Watch<N = f64> {
    /// Limit [K]; infinite for none.
    pub limit_k: N,
    /// Peak [K].
    pub peak_k: N,
    /// Time over the limit [s].
    pub over_s: N,
}
side_by_side!(Watch {
    numbers: [limit_k, peak_k, over_s],
    same: [],
});

impl Watch {
    /// A watch on a limit.
    pub fn new(limit_k: f64) -> Self {
        Self {
            limit_k,
            peak_k: 0.0,
            over_s: 0.0,
        }
    }
}

impl<N: Number> Watch<N> {
    /// Adds a stretch between two temperatures, straight between them.
    #[inline(always)]
    pub fn add(&mut self, a: N, b: N, seconds: f64) {
        let (low, high) = (a.min(b), a.max(b));
        self.peak_k = self.peak_k.max(high);
        let span = (high - low).max(N::of(N::SMALLEST));
        let share = ((high - self.limit_k) / span).clamp(0.0, 1.0);
        self.over_s += share * seconds;
    }

    /// What was seen in a lane.
    pub fn lane(&self, lane: usize) -> Watch {
        Watch {
            limit_k: self.limit_k.lane(lane),
            peak_k: self.peak_k.lane(lane),
            over_s: self.over_s.lane(lane),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verify_time_over_a_limit_on_a_ramp() {
        let mut watch = Watch::new(400.0);
        watch.add(300.0, 500.0, 10.0);
        watch.add(500.0, 450.0, 3.0);
        watch.add(390.0, 380.0, 7.0);
        assert!((watch.over_s - 8.0).abs() < 1e-12);
        assert!((watch.peak_k - 500.0).abs() < 1e-12);
    }

    #[test]
    fn verify_mean_of_a_ramp() {
        let mut trend = Trend::default();
        assert_eq!(trend.mean(), None);
        trend.add(0.0, 2.0, 5.0);
        trend.add(2.0, 2.0, 5.0);
        assert!(trend.mean().is_some_and(|m| (m - 1.5).abs() < 1e-12));
    }
}
