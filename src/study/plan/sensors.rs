//! Where a sensor can go, what it reads there and how far one repeat scatters about the next.

use crate::sheet::build::Build;
use crate::study::claim::point::PointState;

/// What a test is after.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Aim {
    /// Anything that tells options apart.
    All,
    /// Intake air.
    Intake,
    /// Bay air and nearby parts.
    Bay,
    /// Metal of exhaust parts.
    Metal,
}

/// What is left from day to day after correcting for the air outside: wind, sun, traffic [K] (estimate).
const DAY_K: f64 = 1.5;
/// The same load once more, as a share of the rise over outside air [-] (estimate).
const LOAD_SHARE: f64 = 0.015;
/// Reading of one thermocouple from drive to drive [K] (estimate; its constant error cancels).
const READING_K: f64 = 0.5;

#[derive(Debug, Clone, Copy)]
enum Spot {
    Metal(usize),
    Zone(usize),
    Neighbour(usize),
    Intake,
}

/// A place for a sensor.
#[derive(Debug, Clone)]
pub(super) struct Sensor {
    /// Column in the log, as the model names it.
    pub channel: String,
    /// Place in words.
    pub place: String,
    spot: Spot,
}

impl Sensor {
    /// What it reads [K].
    pub(super) fn value_k(&self, state: &PointState) -> f64 {
        match self.spot {
            Spot::Metal(i) => state.parts[i].metal_k,
            Spot::Zone(i) => state.zones_k[i],
            Spot::Neighbour(i) => state.neighbours_k[i],
            Spot::Intake => state.car.sensor_k,
        }
    }

    /// Scatter of one repeat [K].
    pub(super) fn scatter_k(&self, state: &PointState) -> f64 {
        let rise_k = self.value_k(state) - state.car.ambient_k;
        let parts = [DAY_K, LOAD_SHARE * rise_k, READING_K];
        parts.iter().map(|p| p * p).sum::<f64>().sqrt()
    }
}

/// All places that an aim allows.
pub(super) fn sensors(build: &Build, aim: Aim) -> Vec<Sensor> {
    let mut out = Vec::new();
    let wanted = |own: Aim| aim == Aim::All || aim == own;
    if wanted(Aim::Metal) {
        for (i, part) in build.exhaust.iter().enumerate() {
            out.push(Sensor {
                channel: format!("metal:{}_c", part.name),
                place: format!(
                    "metal of {}, middle of its length, under any treatment",
                    part.name
                ),
                spot: Spot::Metal(i),
            });
        }
    }
    if wanted(Aim::Bay) {
        for (i, zone) in build.bay.zones.iter().enumerate() {
            out.push(Sensor {
                channel: format!("air:{}_c", zone.name),
                place: format!("air of zone {}, in the middle, behind foil", zone.name),
                spot: Spot::Zone(i),
            });
        }
        for (i, neighbour) in build.neighbours.iter().enumerate() {
            out.push(Sensor {
                channel: format!("neighbour:{}_c", neighbour.name),
                place: format!("{}, on its side towards the heat", neighbour.name),
                spot: Spot::Neighbour(i),
            });
        }
    }
    if wanted(Aim::Intake) {
        out.push(Sensor {
            channel: "intake_c".to_owned(),
            place: "the car's own intake air sensor, by its data port".to_owned(),
            spot: Spot::Intake,
        });
    }
    out
}
