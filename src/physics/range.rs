//! Valid ranges of correlations, readable by machines.

/// Where a correlation holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// Correlation, for messages.
    pub name: &'static str,
    /// Quantity that is bounded, e.g. `Re`.
    pub quantity: &'static str,
    /// Smallest valid value.
    pub min: f64,
    /// Largest valid value.
    pub max: f64,
    /// Source of the range.
    pub source: &'static str,
}

/// Where a value lies against a range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum RangeCheck {
    /// Inside.
    Inside,
    /// Below the smallest valid value (or not a number).
    Below {
        /// The value.
        value: f64,
        /// The limit.
        limit: f64,
    },
    /// Above the largest valid value.
    Above {
        /// The value.
        value: f64,
        /// The limit.
        limit: f64,
    },
}

impl Range {
    /// Checks a value.
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
}
