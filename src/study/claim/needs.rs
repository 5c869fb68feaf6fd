//! What would have to be true: the property at which a reading of the claim just holds.

use rayon::prelude::*;
use serde::Serialize;

use super::input::Change;
use super::point::At;
use super::readings::{Reading, Seat, Whose};
use super::trial::{
    LEAST_CONDUCTIVITY_W_MK, LEAST_EMISSIVITY, MOST_CONDUCTIVITY_W_MK, MOST_EMISSIVITY, Numbers,
    Other, Side, Trials, main_layer,
};
use crate::materials::{Ranged, layer_materials};

/// Thinnest and thickest layer that is looked at [m].
const THICKNESS_M: (f64, f64) = (2e-5, 5e-2);
/// Least and most that a treatment covers [-].
const COVERAGE: (f64, f64) = (0.3, 1.0);
/// Values looked at between the ends of a property.
const GRID: usize = 12;
/// Halvings of a bracket.
const HALVINGS: usize = 12;

/// A property of the layer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Property {
    /// Conductivity [W/m/K].
    Conductivity,
    /// Conductivity with the least emissivity there is [W/m/K].
    ConductivityBright,
    /// Emissivity [-].
    Emissivity,
    /// Thickness [m].
    Thickness,
    /// Share of the part that is covered [-].
    Coverage,
}

impl Property {
    /// All, in the order in which they are told.
    pub const ALL: [Self; 5] = [
        Self::Conductivity,
        Self::Emissivity,
        Self::Thickness,
        Self::Coverage,
        Self::ConductivityBright,
    ];

    /// One word for it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Conductivity | Self::ConductivityBright => "conductivity",
            Self::Emissivity => "emissivity",
            Self::Thickness => "thickness",
            Self::Coverage => "coverage",
        }
    }

    /// What materials have, for comparison.
    #[must_use]
    pub fn usual(self) -> Option<String> {
        match self {
            Self::Conductivity | Self::ConductivityBright => Some(conductivities()),
            Self::Emissivity => Some(emissivities()),
            Self::Thickness | Self::Coverage => None,
        }
    }

    fn ends(self) -> (f64, f64) {
        match self {
            Self::Conductivity | Self::ConductivityBright => {
                (LEAST_CONDUCTIVITY_W_MK, MOST_CONDUCTIVITY_W_MK)
            }
            Self::Emissivity => (LEAST_EMISSIVITY, MOST_EMISSIVITY),
            Self::Thickness => THICKNESS_M,
            Self::Coverage => COVERAGE,
        }
    }

    /// Value at a share of the way between the ends: in proportion, but for shares.
    fn at(self, share: f64) -> f64 {
        let (low, high) = self.ends();
        match self {
            Self::Emissivity | Self::Coverage => low + share * (high - low),
            _ => low * (high / low).powf(share),
        }
    }

    fn share_of(self, value: f64) -> f64 {
        let (low, high) = self.ends();
        match self {
            Self::Emissivity | Self::Coverage => (value - low) / (high - low),
            _ => (value / low).ln() / (high / low).ln(),
        }
    }

    /// The layer with this value of the property.
    #[must_use]
    pub fn other(self, value: f64) -> Other {
        let mut other = Other::default();
        match self {
            Self::Conductivity => other.conductivity_w_mk = Some(value),
            Self::ConductivityBright => {
                other.conductivity_w_mk = Some(value);
                other.emissivity = Some(LEAST_EMISSIVITY);
            }
            Self::Emissivity => other.emissivity = Some(value),
            Self::Thickness => other.thickness_m = Some(value),
            Self::Coverage => other.coverage = Some(value),
        }
        other
    }
}

/// What a property must be for a reading to hold, everything else being likely.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Need {
    /// Property.
    pub property: Property,
    /// At most this (or at least, see below), in SI.
    pub value: f64,
    /// Whether the value is an upper end.
    pub at_most: bool,
    /// In words.
    pub words: String,
}

/// The car bare at a point and everything that the layer could make of it.
#[derive(Debug)]
pub struct Reach<'a> {
    trials: &'a Trials,
    at: At,
    whose: Whose<'a>,
    bare: &'a Side,
    /// Property by property, the treated car along its range.
    grids: Vec<(Property, Vec<Side>)>,
    /// Likely value of each property in SI.
    likely: Vec<f64>,
    corners: Vec<Side>,
}

impl<'a> Reach<'a> {
    /// Solves the car along the ranges of all properties. Values at which it can't be solved are left out.
    pub fn new(
        trials: &'a Trials,
        at: At,
        whose: Whose<'a>,
        bare: &'a Side,
        treated: &Side,
    ) -> Self {
        let solve = |other| trials.treated(at, Numbers::Likely, other, &treated.warmth);
        let tasks: Vec<(Property, f64)> = Property::ALL
            .iter()
            .flat_map(|&p| (0..=GRID).map(move |i| (p, p.at(i as f64 / GRID as f64))))
            .collect();
        let solved: Vec<_> = tasks
            .par_iter()
            .map(|&(p, value)| solve(p.other(value)).ok())
            .collect();
        let grid = |p: Property| {
            let own = tasks.iter().zip(&solved).filter(|((q, _), _)| *q == p);
            own.filter_map(|(_, side)| side.clone()).collect::<Vec<_>>()
        };
        let grids = Property::ALL.map(|p| (p, grid(p)));
        let corners = [
            (LEAST_CONDUCTIVITY_W_MK, LEAST_EMISSIVITY),
            (LEAST_CONDUCTIVITY_W_MK, MOST_EMISSIVITY),
            (MOST_CONDUCTIVITY_W_MK, LEAST_EMISSIVITY),
            (MOST_CONDUCTIVITY_W_MK, MOST_EMISSIVITY),
        ];
        let corners = corners.par_iter().filter_map(|&(k, e)| {
            let other = Other {
                conductivity_w_mk: Some(k),
                emissivity: Some(e),
                coverage: Some(1.0),
                thickness_m: None,
            };
            solve(other).ok()
        });
        let on_part = treated.build.exhaust[whose.part].treatment.as_ref();
        let main = on_part.and_then(main_layer);
        let face = on_part.and_then(|t| t.outside.last()).map(|l| l.emissivity);
        let likely = Property::ALL.map(|p| match p {
            Property::Conductivity | Property::ConductivityBright => {
                main.map_or(1.0, |l| l.conductivity_w_mk)
            }
            Property::Emissivity => face.unwrap_or(0.8),
            Property::Thickness => main.map_or(1e-3, |l| l.thickness_m),
            Property::Coverage => on_part.map_or(1.0, |t| t.coverage),
        });
        Self {
            trials,
            at,
            whose,
            bare,
            grids: grids.into_iter().collect(),
            likely: likely.to_vec(),
            corners: corners.collect(),
        }
    }

    fn seat<'s>(&self, side: &'s Side) -> Seat<'s>
    where
        'a: 's,
    {
        Seat {
            side,
            whose: self.whose,
            numbers: Numbers::Likely,
        }
    }

    fn value(&self, reading: Reading, side: &Side) -> f64 {
        reading.value(&self.seat(self.bare), &self.seat(side))
    }

    /// Least and most that any layer as thick as stated can make of a reading, in its own unit.
    #[must_use]
    pub fn range(&self, reading: Reading) -> Option<(f64, f64)> {
        let grid = self.grids.iter().filter(|(p, _)| *p != Property::Thickness);
        let sides = grid.flat_map(|(_, sides)| sides).chain(&self.corners);
        let values: Vec<f64> = sides.map(|s| self.value(reading, s)).collect();
        let low = values.iter().copied().reduce(f64::min)?;
        let high = values.iter().copied().reduce(f64::max)?;
        Some((low, high))
    }

    /// What each property would have to be for the reading to hold; empty where none alone can do it.
    #[must_use]
    pub fn needs(&self, reading: Reading, change: Change) -> Vec<Need> {
        let mut found: Vec<Need> = Vec::new();
        for (i, (property, sides)) in self.grids.iter().enumerate() {
            // both together only where neither alone will do
            let alone = [Property::Conductivity, Property::Emissivity];
            if *property == Property::ConductivityBright
                && found.iter().any(|n| alone.contains(&n.property))
            {
                continue;
            }
            if let Some((value, at_most)) =
                self.crossing(*property, sides, self.likely[i], reading, change)
                // covering less cools the metal, and so the skin of the rest: nobody means that
                && !(*property == Property::Coverage && at_most)
            {
                found.push(Need {
                    property: *property,
                    value,
                    at_most,
                    words: words(*property, value, at_most),
                });
            }
        }
        found
    }

    /// Where the margin changes sign, nearest to the likely value.
    fn crossing(
        &self,
        property: Property,
        sides: &[Side],
        likely: f64,
        reading: Reading,
        change: Change,
    ) -> Option<(f64, bool)> {
        if sides.len() != GRID + 1 {
            return None;
        }
        let margin = |side: &Side| {
            let (reached, wanted) = reading.reach(self.value(reading, side), change);
            reached - wanted
        };
        let margins: Vec<f64> = sides.iter().map(margin).collect();
        let here = property.share_of(likely) * GRID as f64;
        let brackets = (0..GRID).filter(|&i| (margins[i] >= 0.0) != (margins[i + 1] >= 0.0));
        let nearest = brackets.min_by(|&a, &b| {
            let far = |i: usize| (i as f64 + 0.5 - here).abs();
            far(a).total_cmp(&far(b))
        })?;
        let at_most = margins[nearest] >= 0.0;
        let (mut low, mut high) = (
            nearest as f64 / GRID as f64,
            (nearest + 1) as f64 / GRID as f64,
        );
        for _ in 0..HALVINGS {
            let middle = 0.5 * (low + high);
            let other = property.other(property.at(middle));
            let side = self
                .trials
                .treated(self.at, Numbers::Likely, other, &sides[nearest].warmth)
                .ok()?;
            if (margin(&side) >= 0.0) == at_most {
                low = middle;
            } else {
                high = middle;
            }
        }
        // the end at which it holds
        let share = if at_most { low } else { high };
        Some((property.at(share), at_most))
    }
}

fn words(property: Property, value: f64, at_most: bool) -> String {
    let side = if at_most { "at most" } else { "at least" };
    match property {
        Property::Conductivity => format!("conductivity {side} {} W/m/K", figures(value)),
        Property::ConductivityBright => format!(
            "conductivity {side} {} W/m/K and a mirror's emissivity of {LEAST_EMISSIVITY} at once",
            figures(value)
        ),
        Property::Emissivity => format!("emissivity {side} {value:.2}"),
        Property::Thickness => format!("thickness {side} {} mm", figures(1e3 * value)),
        Property::Coverage => format!("{side} {:.1} % of the part covered", 100.0 * value),
    }
}

/// Two significant figures.
pub(super) fn figures(value: f64) -> String {
    let rounded: f64 = format!("{value:.1e}").parse().unwrap_or(value);
    rounded.to_string()
}

fn listed(ids: &[&str], number: fn(&crate::materials::LayerMaterial) -> &Ranged) -> String {
    let rows = layer_materials()
        .iter()
        .filter(|m| ids.contains(&m.id.as_str()));
    let each = rows.map(|m| {
        let r = number(m);
        format!("{} {} to {}", m.name.to_lowercase(), r.low, r.high)
    });
    each.collect::<Vec<_>>().join(", ")
}

fn conductivities() -> String {
    let ids = [
        "sprayed-zirconia",
        "ceramic-paint",
        "glass-cloth",
        "ceramic-fibre-blanket",
    ];
    format!(
        "conductivity in W/m/K: still air 0.026, {}",
        listed(&ids, |m| &m.conductivity_w_mk)
    )
}

fn emissivities() -> String {
    let ids = ["ceramic-paint", "metallic-finish", "glass-cloth"];
    format!(
        "emissivity: polished metal 0.1 to 0.3, {}",
        listed(&ids, |m| &m.emissivity)
    )
}
