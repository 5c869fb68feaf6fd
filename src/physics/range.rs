//! The range in which a correlation was published or fitted, in a form a program can read.

/// Valid range of one argument of a correlation, both ends included.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// Name of the correlation.
    pub name: &'static str,
    /// Argument the limits apply to, with unit.
    pub quantity: &'static str,
    /// Lower limit, in the unit of `quantity`.
    pub min: f64,
    /// Upper limit, in the unit of `quantity`.
    pub max: f64,
    /// Where the limits come from.
    pub source: &'static str,
}

/// Result of [`Range::check`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum RangeCheck {
    /// Within the limits.
    Inside,
    /// Under the lower limit, or not a number.
    Below {
        /// Value that was checked.
        value: f64,
        /// Limit it is under.
        limit: f64,
    },
    /// Over the upper limit.
    Above {
        /// Value that was checked.
        value: f64,
        /// Limit it is over.
        limit: f64,
    },
}

impl Range {
    /// Compares `value` with the limits. NaN counts as below, so it can't pass for inside.
    #[inline]
    pub fn check(&self, value: f64) -> RangeCheck {
        if value > self.max {
            RangeCheck::Above {
                value,
                limit: self.max,
            }
        } else if value >= self.min {
            RangeCheck::Inside
        } else {
            RangeCheck::Below {
                value,
                limit: self.min,
            }
        }
    }

    /// True when `value` is within the limits.
    #[inline]
    pub fn contains(&self, value: f64) -> bool {
        self.check(value) == RangeCheck::Inside
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const R: Range = Range {
        name: "x",
        quantity: "re",
        min: 1.0,
        max: 2.0,
        source: "none",
    };

    #[test]
    fn limits_are_inside_and_nan_is_not() {
        assert_eq!(R.check(1.0), RangeCheck::Inside);
        assert_eq!(R.check(2.0), RangeCheck::Inside);
        assert!(matches!(R.check(0.9), RangeCheck::Below { .. }));
        assert!(matches!(R.check(2.1), RangeCheck::Above { .. }));
        assert!(!R.contains(f64::NAN));
    }
}
