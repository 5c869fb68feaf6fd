//! Speed patterns of our own that a phase can repeat. All numbers are estimates of ordinary driving, not measurements.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A built-in pattern of seconds and km/h, repeated for as long as the phase lasts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Pattern {
    /// Streets with lights, up to 55 km/h, about a quarter of the time standing; 240 s.
    Town,
    /// A jam: creep up to 25 km/h, stop; 100 s.
    StopAndGo,
    /// Traffic on a motorway, 120 to 130 km/h; 240 s.
    Motorway,
    /// Country road, 60 to 95 km/h; 180 s.
    Country,
    /// A lap with hard acceleration and braking, 60 to 200 km/h; 120 s.
    TrackLap,
}

impl Pattern {
    /// All patterns.
    pub const ALL: [Self; 5] = [
        Self::Town,
        Self::StopAndGo,
        Self::Motorway,
        Self::Country,
        Self::TrackLap,
    ];

    /// Pairs of time in s (from 0, rising) and speed in km/h; first and last speed are equal, so it repeats smoothly.
    pub fn points(self) -> &'static [[f64; 2]] {
        match self {
            Self::Town => &TOWN,
            Self::StopAndGo => &STOP_AND_GO,
            Self::Motorway => &MOTORWAY,
            Self::Country => &COUNTRY,
            Self::TrackLap => &TRACK_LAP,
        }
    }
}

const TOWN: [[f64; 2]; 21] = [
    [0.0, 0.0],
    [8.0, 0.0],
    [20.0, 48.0],
    [46.0, 50.0],
    [53.0, 0.0],
    [73.0, 0.0],
    [82.0, 35.0],
    [98.0, 30.0],
    [104.0, 42.0],
    [118.0, 40.0],
    [123.0, 15.0],
    [128.0, 18.0],
    [141.0, 54.0],
    [170.0, 55.0],
    [178.0, 0.0],
    [200.0, 0.0],
    [208.0, 30.0],
    [220.0, 32.0],
    [226.0, 20.0],
    [232.0, 0.0],
    [240.0, 0.0],
];

const STOP_AND_GO: [[f64; 2]; 13] = [
    [0.0, 0.0],
    [12.0, 0.0],
    [17.0, 10.0],
    [25.0, 8.0],
    [28.0, 0.0],
    [46.0, 0.0],
    [54.0, 25.0],
    [60.0, 22.0],
    [66.0, 0.0],
    [80.0, 0.0],
    [84.0, 12.0],
    [92.0, 10.0],
    [100.0, 0.0],
];

const MOTORWAY: [[f64; 2]; 8] = [
    [0.0, 125.0],
    [40.0, 130.0],
    [95.0, 130.0],
    [110.0, 120.0],
    [150.0, 120.0],
    [175.0, 128.0],
    [215.0, 127.0],
    [240.0, 125.0],
];

const COUNTRY: [[f64; 2]; 10] = [
    [0.0, 80.0],
    [25.0, 92.0],
    [50.0, 90.0],
    [56.0, 65.0],
    [68.0, 62.0],
    [80.0, 88.0],
    [115.0, 95.0],
    [130.0, 75.0],
    [150.0, 72.0],
    [180.0, 80.0],
];

const TRACK_LAP: [[f64; 2]; 19] = [
    [0.0, 165.0],
    [11.0, 200.0],
    [15.0, 82.0],
    [18.0, 80.0],
    [26.0, 135.0],
    [28.5, 95.0],
    [32.0, 95.0],
    [46.0, 168.0],
    [49.5, 62.0],
    [53.0, 60.0],
    [60.0, 115.0],
    [64.0, 118.0],
    [67.0, 75.0],
    [71.0, 76.0],
    [88.0, 172.0],
    [91.5, 90.0],
    [97.0, 92.0],
    [105.0, 140.0],
    [120.0, 165.0],
];
