//! Values against temperature: straight lines between points.

/// A piecewise linear curve, constant beyond its ends.
#[derive(Debug, Clone)]
pub struct Curve {
    points: Vec<(f64, f64)>,
    /// Integral from the first point to each point.
    sums: Vec<f64>,
}

impl Curve {
    /// A curve through points in rising order of temperature [K]; no points give zero everywhere.
    pub fn new(points: Vec<(f64, f64)>) -> Self {
        let mut sums = Vec::with_capacity(points.len());
        let mut sum = 0.0;
        for (i, p) in points.iter().enumerate() {
            if let Some(before) = i.checked_sub(1).map(|j| points[j]) {
                sum += 0.5 * (before.1 + p.1) * (p.0 - before.0);
            }
            sums.push(sum);
        }
        Self { points, sums }
    }

    /// Value at `t_k`.
    #[inline]
    pub fn value(&self, t_k: f64) -> f64 {
        let after = self.points.iter().position(|p| p.0 > t_k);
        match after {
            Some(0) => self.points[0].1,
            Some(i) => {
                let (a, b) = (self.points[i - 1], self.points[i]);
                a.1 + (b.1 - a.1) * (t_k - a.0) / (b.0 - a.0)
            }
            None => self.points.last().map_or(0.0, |p| p.1),
        }
    }

    /// Integral from the first point to `t_k`.
    pub fn integral(&self, t_k: f64) -> f64 {
        let after = self.points.iter().position(|p| p.0 > t_k);
        let (i, value) = match after {
            Some(0) => return self.points[0].1 * (t_k - self.points[0].0),
            Some(i) => (i - 1, self.value(t_k)),
            None if self.points.is_empty() => return 0.0,
            None => (self.points.len() - 1, self.points[self.points.len() - 1].1),
        };
        self.sums[i] + 0.5 * (self.points[i].1 + value) * (t_k - self.points[i].0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verify_value_and_integral_of_a_ramp() {
        let ramp = Curve::new(vec![(300.0, 2.0), (400.0, 4.0)]);
        for (t, value, integral) in [
            (350.0, 3.0, 125.0),
            (400.0, 4.0, 300.0),
            (450.0, 4.0, 500.0),
            (250.0, 2.0, -100.0),
        ] {
            assert!((ramp.value(t) - value).abs() < 1e-12);
            assert!((ramp.integral(t) - integral).abs() < 1e-12);
        }
    }
}
