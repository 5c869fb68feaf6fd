//! Drives of a car whose inputs are known: made by the model itself, with noise and 1 K steps.

use std::collections::BTreeMap;

use baysoak::cycle::{LogOptions, import};
use baysoak::sheet::{Chooser, Sheet};
use baysoak::study::fit::{Drive, predict};

/// Its sheet.
pub const SHEET: &str = include_str!("../measured/turbo-diesel.toml");

/// The car.
pub fn sheet() -> Sheet {
    Sheet::parse(SHEET, "turbo-diesel.toml").unwrap()
}

/// Uniform numbers in 0..1 (splitmix64, Steele, Lea & Flood 2014).
pub struct Noise(pub u64);

impl Noise {
    pub fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Normal with deviation 1 (Box & Muller 1958).
    pub fn normal(&mut self) -> f64 {
        let (a, b) = (self.uniform().max(1e-12), self.uniform());
        (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
    }
}

/// Town with stops, then a road, then town again.
fn trace(seed: u64, seconds: usize) -> String {
    let mut noise = Noise(seed);
    let mut text = String::from("time_s,speed_kmh,rpm,maf_gs,map_kpa,ect_c,amb_c,iat_c\n");
    let (mut speed, mut aim) = (0.0_f64, 30.0);
    for t in 0..seconds {
        if t % 25 == 0 {
            let road = t > seconds / 3 && t < 2 * seconds / 3;
            aim = if road {
                70.0 + 40.0 * noise.uniform()
            } else {
                55.0 * (noise.uniform() - 0.3).max(0.0)
            };
        }
        let push = (aim - speed).clamp(-7.0, 4.0);
        speed = (speed + push).max(0.0);
        let rpm = 820.0 + 14.0 * speed + noise.uniform();
        let flow = rpm / 120.0 * (1.0 + 0.35 * push.max(0.0));
        let pressure = 98.0 + 14.0 * push.max(0.0) + 0.15 * speed;
        text += &format!("{t},{speed:.1},{rpm:.0},{flow:.2},{pressure:.0},85,15,25\n");
    }
    text
}

/// A drive of a car with these true values, started `soak_k` over ambient.
pub fn logged(truth: &BTreeMap<String, f64>, seed: u64, seconds: usize, soak_k: f64) -> Drive {
    let read = import(
        trace(seed, seconds).as_bytes(),
        "log",
        &LogOptions::default(),
    )
    .unwrap();
    let mut drive = Drive::of(read, &format!("drive {seed}"));
    let build = sheet().settle(&mut Chooser::Given(truth)).unwrap().build;
    let found = predict(&build, &drive, Some(soak_k)).unwrap();
    let mut noise = Noise(seed + 1000);
    let readings = drive.channels[0].value_k.iter_mut().zip(&found.channels[0]);
    // 1 K steps at whole degrees Celsius
    readings.for_each(|(k, model)| *k = (model - 273.15 + 0.3 * noise.normal()).round() + 273.15);
    drive
}
