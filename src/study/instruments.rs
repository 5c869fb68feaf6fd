//! What thermometers make of a temperature, and how much of a claimed change they make by themselves.
//!
//! Each instrument gives its reading from the true temperatures. [`explain`] compares a claimed change with what the
//! instruments would show had nothing become cooler.

use std::f64::consts::PI;

use crate::network::link::{Shape, coefficient};
use crate::physics::air;
use crate::physics::planck::{Band, EIGHT_TO_FOURTEEN_UM};
use crate::physics::radiation::black_emissive_power;

/// Coldest and hottest reading an infrared thermometer is asked for [K].
const COLDEST_K: f64 = 100.0;
const HOTTEST_K: f64 = 3000.0;
/// Emissivity of a thermometer without a setting for it (common practice, no source).
pub const FACTORY_EMISSIVITY: f64 = 0.95;

/// An infrared thermometer of one band.
///
/// It solves `set S(T) + (1 - set) S(T_assumed) = signal`, S being a black body's power in its band; its response is
/// taken as flat within the band.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InfraredThermometer {
    /// Wavelengths it sees.
    pub band: Band,
    /// Emissivity it is set to [-].
    pub emissivity_set: f64,
    /// Temperature it takes the surroundings for, mostly its own [K].
    pub assumed_reflected_k: f64,
}

/// What an infrared thermometer is pointed at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    /// Surface [K].
    pub surface_k: f64,
    /// Emissivity of the surface within the band [-].
    pub emissivity: f64,
    /// Surroundings that the surface mirrors [K].
    pub reflected_k: f64,
    /// Share of the spot that the surface fills [-].
    pub fill: f64,
    /// What the rest of the spot falls on, taken as black [K].
    pub behind_k: f64,
}

impl InfraredThermometer {
    /// One left at its factory setting, at this temperature of its own [K].
    #[must_use]
    pub fn as_bought(own_k: f64) -> Self {
        Self {
            band: EIGHT_TO_FOURTEEN_UM,
            emissivity_set: FACTORY_EMISSIVITY,
            assumed_reflected_k: own_k,
        }
    }

    /// What it shows [K].
    #[must_use]
    pub fn reading_k(&self, seen: &Seen) -> f64 {
        let power = |t_k| self.band.emissive_power(t_k);
        let part = seen.emissivity * power(seen.surface_k)
            + (1.0 - seen.emissivity) * power(seen.reflected_k);
        let signal = seen.fill * part + (1.0 - seen.fill) * power(seen.behind_k);
        let own = (1.0 - self.emissivity_set) * power(self.assumed_reflected_k);
        let black = (signal - own) / self.emissivity_set;
        self.band.temperature(black, COLDEST_K, HOTTEST_K)
    }
}

/// A thermocouple pressed or bound on a surface, its leads running off through the air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SurfaceThermocouple {
    /// Diameter of one wire [m].
    pub wire_m: f64,
    /// Wires that carry heat off.
    pub wires: f64,
    /// Conductivity of the wires, mean of the pair [W/m/K].
    pub wire_w_mk: f64,
    /// Heat transfer from the wires to the air, radiation included [W/m2/K].
    pub lead_w_m2k: f64,
    /// Contact of the junction with the surface [W/K].
    pub contact_w_k: f64,
}

/// What a thermocouple is pressed on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PressedOn {
    /// Surface [K].
    pub surface_k: f64,
    /// Air round the leads [K].
    pub air_k: f64,
    /// Conductivity of the outermost material [W/m/K].
    pub top_w_mk: f64,
    /// Its thickness [m].
    pub top_m: f64,
    /// Conductivity of what lies under it [W/m/K].
    pub under_w_mk: f64,
}

impl SurfaceThermocouple {
    /// A 0.5 mm nickel alloy pair under a clip: 25 W/m/K the mean of the two wires (Incropera & DeWitt, table A.1, chromel
    /// and alumel-like alloys, from memory), 0.05 W/K the contact of a bead under a clip (estimate).
    #[must_use]
    pub fn clipped() -> Self {
        Self {
            wire_m: 0.5e-3,
            wires: 2.0,
            wire_w_mk: 25.0,
            lead_w_m2k: 60.0,
            contact_w_k: 0.05,
        }
    }

    /// Heat the leads carry off per kelvin over the air [W/K]: long fins, `sqrt(h P k A)` each (Incropera & DeWitt,
    /// eq. 3.80, from memory).
    #[must_use]
    pub fn lead_w_k(&self) -> f64 {
        let d = self.wire_m;
        self.wires * 0.5 * PI * (self.lead_w_m2k * self.wire_w_mk * d * d * d).sqrt()
    }

    /// Resistance between junction and the surface far from it [K/W]: contact, and the heat gathering under the spot.
    ///
    /// The spot is a disc of the wires' diameter together: `1 / (2 D k)` on a thick body (Incropera & DeWitt, table 4.1,
    /// case 10, from memory); under a thin top layer no more than straight through it and on into what lies below.
    #[must_use]
    pub fn seat_k_w(&self, on: &PressedOn) -> f64 {
        let spot_m = self.wires * self.wire_m;
        let gather = |w_mk: f64| 1.0 / (2.0 * spot_m * w_mk);
        let straight = on.top_m / (on.top_w_mk * 0.25 * PI * spot_m * spot_m);
        1.0 / self.contact_w_k + gather(on.top_w_mk).min(straight + gather(on.under_w_mk))
    }

    /// What it shows [K]: `T_s - (T_s - T_air) R G / (1 + R G)`.
    #[must_use]
    pub fn reading_k(&self, on: &PressedOn) -> f64 {
        let rg = self.seat_k_w(on) * self.lead_w_k();
        on.surface_k - (on.surface_k - on.air_k) * rg / (1.0 + rg)
    }
}

/// A thin sensor hanging in the air of the bay, crossflow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AirSensor {
    /// Diameter [m].
    pub diameter_m: f64,
    /// Emissivity [-].
    pub emissivity: f64,
}

/// What surrounds a sensor in the air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HangsIn {
    /// Air [K].
    pub air_k: f64,
    /// Air speed [m/s].
    pub speed_m_s: f64,
    /// Pressure [Pa].
    pub pressure_pa: f64,
    /// Hot surface in sight [K].
    pub hot_k: f64,
    /// Share of the sensor's view that it fills [-].
    pub hot_share: f64,
    /// Everything else in sight [K].
    pub rest_k: f64,
}

impl AirSensor {
    /// A sheathed probe of 3 mm, dull.
    #[must_use]
    pub fn bare_probe() -> Self {
        Self {
            diameter_m: 3e-3,
            emissivity: 0.8,
        }
    }

    /// What it shows [K]: where convection and radiation balance, a small grey body in black surroundings.
    #[must_use]
    pub fn reading_k(&self, at: &HangsIn) -> f64 {
        let sky = at.hot_share * black_emissive_power(at.hot_k)
            + (1.0 - at.hot_share) * black_emissive_power(at.rest_k);
        let gain = |t_k: f64| {
            let shape = Shape::Cylinder(self.diameter_m);
            let h = coefficient(shape, t_k, at.air_k, at.speed_m_s, at.pressure_pa);
            h * (at.air_k - t_k) + self.emissivity * (sky - black_emissive_power(t_k))
        };
        // the balance falls through zero once between the coldest and the hottest thing around
        let mut low = at.air_k.min(at.rest_k).min(at.hot_k);
        let mut high = at.air_k.max(at.rest_k).max(at.hot_k);
        while high - low > 1e-6 {
            let middle = 0.5 * (low + high);
            if gain(middle) > 0.0 {
                low = middle;
            } else {
                high = middle;
            }
        }
        0.5 * (low + high)
    }
}

/// Air temperature [K] at a distance from a hot surface, across the layer of warmed air on it:
/// `(1 - y / d)^2` of the difference, with `d = 2 k / h` so that the gradient at the wall carries the heat.
///
/// Source: profile of Squire 1938 and Eckert 1950 for natural convection (from memory). No plume: right above a part the
/// air is warmer than this.
#[must_use]
pub fn air_beside_k(surface_k: f64, air_k: f64, coefficient_w_m2k: f64, distance_m: f64) -> f64 {
    let layer_m = 2.0 * air::conductivity(0.5 * (surface_k + air_k)) / coefficient_w_m2k.max(1e-3);
    let open = (1.0 - distance_m / layer_m).max(0.0);
    air_k + (surface_k - air_k) * open * open
}

/// What one circumstance of measuring does to a change (after minus before).
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Effect {
    /// In a few words.
    pub name: String,
    /// Least that it adds to the true change, in the unit of the claimed one.
    pub low: f64,
    /// Most that it adds.
    pub high: f64,
    /// Where the numbers come from.
    pub basis: String,
}

/// How much of a claimed change the measuring explains.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
#[serde(rename_all = "kebab-case", tag = "kind")]
pub enum Explained {
    /// One effect alone reaches it.
    Alone {
        /// Its name.
        by: String,
    },
    /// All effects together reach it, none alone.
    Together,
    /// They reach only part of it.
    Partly {
        /// Largest share they reach [-].
        share: f64,
    },
}

/// Whether the effects could make the change `claimed` with nothing having changed.
#[must_use]
pub fn explain(claimed: f64, effects: &[Effect]) -> Explained {
    let towards = |e: &Effect| {
        let end = if claimed < 0.0 { -e.low } else { e.high };
        end.max(0.0)
    };
    let size = claimed.abs();
    let largest = effects
        .iter()
        .max_by(|a, b| towards(a).total_cmp(&towards(b)));
    if let Some(largest) = largest.filter(|e| towards(e) >= size) {
        return Explained::Alone {
            by: largest.name.clone(),
        };
    }
    let sum: f64 = effects.iter().map(towards).sum();
    if sum >= size {
        Explained::Together
    } else {
        Explained::Partly { share: sum / size }
    }
}

/// A range of a number.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Span {
    /// Low end.
    pub low: f64,
    /// High end.
    pub high: f64,
}

impl Span {
    /// From low to high.
    #[must_use]
    pub fn new(low: f64, high: f64) -> Self {
        Self { low, high }
    }

    /// Values at both ends.
    fn ends(self) -> [f64; 2] {
        [self.low, self.high]
    }
}

/// Infrared thermometer left alone while the surface under it changes: the finish alone moves the reading.
#[must_use]
pub fn finish_effect(surface_k: f64, surroundings_k: f64, before: Span, after: Span) -> Effect {
    let gun = InfraredThermometer::as_bought(surroundings_k.min(310.0));
    let reading = |emissivity| {
        gun.reading_k(&Seen {
            surface_k,
            emissivity,
            reflected_k: surroundings_k,
            fill: 1.0,
            behind_k: surroundings_k,
        })
    };
    let changes: Vec<f64> = after
        .ends()
        .iter()
        .flat_map(|&a| before.ends().map(|b| reading(a) - reading(b)))
        .collect();
    effect(
        "another finish under an infrared thermometer left at its setting",
        &changes,
        format!(
            "band emissivity {:.2} to {:.2} before, {:.2} to {:.2} after, set to {FACTORY_EMISSIVITY}",
            before.low, before.high, after.low, after.high
        ),
    )
}

/// Spot of an infrared thermometer that slips from a pipe that fills it to one held so far off that it fills less.
#[must_use]
pub fn spot_effect(surface_k: f64, behind_k: f64, emissivity: f64, fill: Span) -> Effect {
    let gun = InfraredThermometer::as_bought(behind_k.min(310.0));
    let reading = |fill| {
        gun.reading_k(&Seen {
            surface_k,
            emissivity,
            reflected_k: behind_k,
            fill,
            behind_k,
        })
    };
    let apart = reading(fill.low) - reading(fill.high);
    effect(
        "spot of the infrared thermometer larger than the part",
        &[apart, -apart],
        format!(
            "the part fills {:.0} to {:.0} % of the spot",
            100.0 * fill.low,
            100.0 * fill.high
        ),
    )
}

/// Thermocouple pressed on metal before and on the treatment after, at one true surface temperature.
#[must_use]
pub fn seat_effect(before: &PressedOn, after: &PressedOn) -> Effect {
    let changes: Vec<f64> = [0.4, 1.0, 2.5]
        .iter()
        .map(|factor| {
            let mut couple = SurfaceThermocouple::clipped();
            couple.contact_w_k *= factor;
            couple.reading_k(after) - couple.reading_k(before)
        })
        .collect();
    effect(
        "thermocouple seated on a poor conductor after, on metal before",
        &changes,
        "0.5 mm pair under a clip; contact within a factor of 2.5 (estimate)".to_owned(),
    )
}

/// Sensor in the air that sees the hot part before and a cooler skin after, the air being the same.
#[must_use]
pub fn view_effect(before: &HangsIn, after_hot_k: f64) -> Effect {
    let probe = AirSensor::bare_probe();
    let after = HangsIn {
        hot_k: after_hot_k,
        ..*before
    };
    let change = probe.reading_k(&after) - probe.reading_k(before);
    effect(
        "air sensor that sees the hot part",
        &[change],
        format!("3 mm probe, {:.0} % of its view", 100.0 * before.hot_share),
    )
}

/// Days that differ: `per_k` is how far the reading follows the air outside [K/K].
#[must_use]
pub fn day_effect(ambient_difference_k: f64, per_k: f64, sun_and_wind_k: f64) -> Effect {
    let size = (ambient_difference_k * per_k).abs() + sun_and_wind_k;
    effect(
        "before and after on different days, not corrected",
        &[-size, size],
        format!(
            "{ambient_difference_k:.0} K of air outside, {sun_and_wind_k:.0} K of sun and wind (estimate)"
        ),
    )
}

fn effect(name: &str, changes: &[f64], basis: String) -> Effect {
    let low = changes.iter().copied().fold(f64::INFINITY, f64::min);
    let high = changes.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    Effect {
        name: name.to_owned(),
        low,
        high,
        basis,
    }
}
