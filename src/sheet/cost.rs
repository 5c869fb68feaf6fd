//! What treatments and measures cost and weigh, and what to beware of.

use crate::materials::{Family, Ranged};

use super::input::Input;

/// A price with its range. The unit is EUR as an example; all of a sheet must share one.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Price {
    /// Low end.
    pub low: f64,
    /// Most likely.
    pub likely: f64,
    /// High end.
    pub high: f64,
}

impl Price {
    /// The price times a number.
    #[must_use]
    pub fn times(self, factor: f64) -> Self {
        Self {
            low: self.low * factor,
            likely: self.likely * factor,
            high: self.high * factor,
        }
    }

    /// Both together, low with low and high with high.
    #[must_use]
    pub fn plus(self, other: Self) -> Self {
        Self {
            low: self.low + other.low,
            likely: self.likely + other.likely,
            high: self.high + other.high,
        }
    }
}

impl From<&Ranged> for Price {
    fn from(r: &Ranged) -> Self {
        Self {
            low: r.low,
            likely: r.likely,
            high: r.high,
        }
    }
}

impl From<Input> for Price {
    fn from(i: Input) -> Self {
        Self {
            low: i.low,
            likely: i.likely,
            high: i.high,
        }
    }
}

/// What an option adds to the car as the sheet has it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Cost {
    /// Price [EUR, as an example].
    pub price: Price,
    /// Mass [kg].
    pub mass_kg: f64,
}

/// A treatment on a part.
#[derive(Debug, Clone, PartialEq)]
pub struct Fitted {
    /// Part.
    pub part: String,
    /// Id of the treatment.
    pub treatment: String,
    /// Its name for people.
    pub name: String,
    /// Family.
    pub family: Family,
    /// What a season of use has done to it; empty when new.
    pub wear: String,
    /// Area of the part beneath it [m2].
    pub area_m2: f64,
    /// Share of the part that it covers [-].
    pub coverage: f64,
    /// Mass of its layers [kg].
    pub mass_kg: f64,
    /// Price [EUR, as an example].
    pub price: Price,
    /// What it may do to people, cars and workshops.
    pub hazards: Vec<String>,
}

/// What a hand may meet beside a cool skin.
const BARE_SHARE: &str =
    "Flanges and seams that a treatment leaves bare are as hot as the metal, not as its skin.";

/// Dangers of all that is fitted, each said once.
pub(super) fn cautions(fitted: &[Fitted], measures: &[String]) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    if fitted.iter().any(|f| f.coverage < 1.0) {
        out.push(BARE_SHARE.to_owned());
    }
    for hazard in fitted.iter().flat_map(|f| &f.hazards).chain(measures) {
        if !out.contains(hazard) {
            out.push(hazard.clone());
        }
    }
    out
}
