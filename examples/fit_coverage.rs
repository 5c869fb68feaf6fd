//! How often fitted inputs lie within their stated errors, on drives made by the model itself.
//!
//! Each repeat draws a car from the middle of the ranges and fits it from two short drives with noise
//! and 1 K steps. Nominal: 68 % within one error, 95 % within two. `--check` takes fewer and fails
//! where fewer than 80 % lie within two: errors too narrow mislead, too wide only cost a drive.

#[path = "../tests/common/synthetic_drives.rs"]
mod synthetic_drives;

use std::collections::BTreeMap;

use baysoak::study::fit::{Drive, FitOptions, fit};
use synthetic_drives::{Noise, logged, sheet};

/// Inputs with the span their true values are drawn from.
const INPUTS: [(&str, f64, f64); 3] = [
    ("intake.sensor.film_k", 8.0, 25.0),
    ("intake.sensor.time_constant_s", 6.0, 25.0),
    ("intake.pickup_standing_share", 0.1, 0.6),
];
const REPEATS: u64 = 60;
const CHECKED: u64 = 4;
const SECONDS: usize = 420;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let check = std::env::args().any(|a| a == "--check");
    let repeats = if check { CHECKED } else { REPEATS };
    let sheet = sheet();
    let options = FitOptions {
        inputs: INPUTS.map(|(key, _, _)| key.to_owned()).to_vec(),
        starts: 1,
        ..FitOptions::default()
    };
    let mut off: BTreeMap<String, Vec<f64>> = BTreeMap::new();
    for repeat in 0..repeats {
        let mut noise = Noise(repeat + 77);
        let truth: BTreeMap<String, f64> = INPUTS
            .iter()
            .map(|&(key, low, high)| (key.to_owned(), low + (high - low) * noise.uniform()))
            .collect();
        let drives =
            [0, 1].map(|i| logged(&truth, 2 * repeat + i, SECONDS, 15.0 * noise.uniform()));
        let seen: Vec<&Drive> = drives.iter().collect();
        for i in fit(&sheet, &seen, &options, &mut |_| {})?.inputs {
            let errors = (i.value - truth[&i.key]) / i.standard_error;
            off.entry(i.key).or_default().push(errors);
        }
    }
    let within = |errors: &[f64], most: f64| {
        let inside = errors.iter().filter(|e| e.abs() <= most).count();
        100.0 * inside as f64 / errors.len().max(1) as f64
    };
    println!(
        "{:34}{:>12}{:>12}",
        "% of fits within", "one error", "two errors"
    );
    for (key, errors) in &off {
        println!(
            "{key:34}{:12.0}{:12.0}",
            within(errors, 1.0),
            within(errors, 2.0)
        );
    }
    let all: Vec<f64> = off.into_values().flatten().collect();
    let two = within(&all, 2.0);
    println!("{:34}{:12.0}{two:12.0}", "all", within(&all, 1.0));
    if check && two < 80.0 {
        return Err(format!("only {two:.0} % within two errors").into());
    }
    Ok(())
}
