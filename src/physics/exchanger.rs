//! Effectiveness of heat exchangers from their number of transfer units.
//!
//! Kays and London 1984; Incropera 6th ed., table 11.3. `ntu = UA / C_min`, `ratio = C_min / C_max`.

/// Flow arrangement.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Arrangement {
    /// Against each other.
    Counterflow,
    /// Side by side.
    ParallelFlow,
    /// Crossflow, both fluids unmixed; the usual approximate formula.
    CrossflowUnmixed,
    /// Crossflow, the fluid with the smaller capacity rate mixed.
    CrossflowMinMixed,
    /// Crossflow, the fluid with the larger capacity rate mixed.
    CrossflowMaxMixed,
    /// One side at constant temperature.
    SingleStream,
}

impl Arrangement {
    /// All arrangements.
    pub const ALL: [Self; 6] = [
        Self::Counterflow,
        Self::ParallelFlow,
        Self::CrossflowUnmixed,
        Self::CrossflowMinMixed,
        Self::CrossflowMaxMixed,
        Self::SingleStream,
    ];

    /// Effectiveness [-], 0 to 1.
    ///
    /// # Example
    /// ```
    /// use baysoak::physics::exchanger::Arrangement;
    /// let e = Arrangement::Counterflow.effectiveness(2.0, 0.6);
    /// assert!((e - 0.753928).abs() < 1e-6); // ht 1.2.0
    /// ```
    pub fn effectiveness(self, ntu: f64, ratio: f64) -> f64 {
        let r = ratio.clamp(0.0, 1.0);
        if r < 1e-9 || self == Self::SingleStream {
            return 1.0 - (-ntu).exp();
        }
        match self {
            Self::Counterflow if (1.0 - r).abs() < 1e-9 => ntu / (1.0 + ntu),
            Self::Counterflow => {
                let e = (-ntu * (1.0 - r)).exp();
                (1.0 - e) / (1.0 - r * e)
            }
            Self::ParallelFlow => (1.0 - (-ntu * (1.0 + r)).exp()) / (1.0 + r),
            Self::CrossflowUnmixed => {
                let inner = ((-r * ntu.powf(0.78)).exp() - 1.0) * ntu.powf(0.22) / r;
                1.0 - inner.exp()
            }
            Self::CrossflowMaxMixed => (1.0 - (-r * (1.0 - (-ntu).exp())).exp()) / r,
            Self::CrossflowMinMixed => 1.0 - (-(1.0 - (-r * ntu).exp()) / r).exp(),
            Self::SingleStream => 1.0 - (-ntu).exp(),
        }
    }

    /// Number of transfer units for an effectiveness, by bisection; `None` when out of reach.
    pub fn transfer_units(self, effectiveness: f64, ratio: f64) -> Option<f64> {
        let (mut low, mut high) = (0.0, 1e3);
        if !(0.0..1.0).contains(&effectiveness) || self.effectiveness(high, ratio) < effectiveness {
            return None;
        }
        for _ in 0..200 {
            let middle = 0.5 * (low + high);
            if self.effectiveness(middle, ratio) < effectiveness {
                low = middle;
            } else {
                high = middle;
            }
        }
        Some(0.5 * (low + high))
    }
}
