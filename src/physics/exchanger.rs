//! Heat exchangers by effectiveness and number of transfer units.
//!
//! `ntu` = UA / Cmin [-], `cr` = Cmin / Cmax [-] from 0 to 1. Formulas: Kays & London 1984; Incropera & DeWitt, table 11.3 (from memory).

/// How the two streams pass each other.
#[derive(
    Debug,
    Clone,
    Copy,
    PartialEq,
    Eq,
    Hash,
    serde::Serialize,
    serde::Deserialize,
    schemars::JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum FlowArrangement {
    /// Opposite directions.
    Counterflow,
    /// Same direction.
    Parallel,
    /// Across each other, neither mixed (finned core). The approximation of Incropera & DeWitt,
    /// eq. 11.32: within 4 % of the exact integral (worst at Cr 1, NTU 0.3, where it is low), NTU 0.1-5.
    CrossflowUnmixed,
    /// Across each other, the stream with the smaller capacity rate mixed.
    CrossflowCminMixed,
    /// Across each other, the stream with the larger capacity rate mixed.
    CrossflowCmaxMixed,
    /// One stream keeps its temperature (Cr = 0; `cr` is not used).
    SingleStream,
}

/// Below this capacity ratio the single-stream limit is used: the formulas divide by it.
const SMALL_RATIO: f64 = 1e-9;
/// Largest number of transfer units searched.
const MAX_NTU: f64 = 1e4;

impl FlowArrangement {
    /// Every arrangement.
    pub const ALL: [Self; 6] = [
        Self::Counterflow,
        Self::Parallel,
        Self::CrossflowUnmixed,
        Self::CrossflowCminMixed,
        Self::CrossflowCmaxMixed,
        Self::SingleStream,
    ];

    /// Effectiveness [0-1] at `ntu` [-] and capacity ratio `cr` [0-1].
    #[inline]
    pub fn effectiveness(self, ntu: f64, cr: f64) -> f64 {
        if ntu <= 0.0 {
            return 0.0;
        }
        if cr < SMALL_RATIO {
            return single_stream(ntu);
        }
        match self {
            Self::Counterflow => counterflow(ntu, cr),
            Self::Parallel => -(-ntu * (1.0 + cr)).exp_m1() / (1.0 + cr),
            Self::CrossflowUnmixed => {
                let inner = (-cr * ntu.powf(0.78)).exp_m1();
                -(inner * ntu.powf(0.22) / cr).exp_m1()
            }
            Self::CrossflowCminMixed => -((-cr * ntu).exp_m1() / cr).exp_m1(),
            Self::CrossflowCmaxMixed => -(cr * (-ntu).exp_m1()).exp_m1() / cr,
            Self::SingleStream => single_stream(ntu),
        }
    }

    /// Number of transfer units [-] that gives `effectiveness` at capacity ratio `cr`, by bisection.
    ///
    /// `None` where no exchanger of this arrangement reaches it (or not with fewer than 10000 units), or an argument is not a number in
    /// its range.
    pub fn ntu(self, effectiveness: f64, cr: f64) -> Option<f64> {
        if !(0.0..1.0).contains(&effectiveness) || !(0.0..=1.0).contains(&cr) {
            return None;
        }
        let mut high = 1.0;
        while self.effectiveness(high, cr) < effectiveness {
            high *= 2.0;
            if high > MAX_NTU {
                return None;
            }
        }
        let mut low = 0.0;
        for _ in 0..100 {
            let mid = 0.5 * (low + high);
            if self.effectiveness(mid, cr) < effectiveness {
                low = mid;
            } else {
                high = mid;
            }
        }
        Some(0.5 * (low + high))
    }
}

#[inline]
fn single_stream(ntu: f64) -> f64 {
    -(-ntu).exp_m1()
}

#[inline]
fn counterflow(ntu: f64, cr: f64) -> f64 {
    // Near balance both terms vanish; the limit is NTU / (1 + NTU).
    if (1.0 - cr) * ntu < 1e-9 {
        return ntu / (1.0 + ntu);
    }
    let e = (-ntu * (1.0 - cr)).exp_m1();
    -e / (1.0 - cr - cr * e)
}
