//! Measured drive logs, where a folder of them is given in `BAYSOAK_LOGS`.
//!
//! The logs are M. Weber, *Automotive OBD-II Dataset*, Karlsruhe Institute of Technology, 2023,
//! DOI 10.35097/1130, CC BY 4.0, resampled to 1 Hz; they are not part of the project.

use std::path::PathBuf;

use baysoak::cycle::{LogOptions, import, read_csv};
use baysoak::sheet::{Chooser, Sheet, builtin};
use baysoak::study::fit::{Drive, SETTLING_S, judge};
use baysoak::study::run::{RunOptions, run};

/// The logs, or nothing with a word about it.
fn logs() -> Vec<PathBuf> {
    let Ok(folder) = std::env::var("BAYSOAK_LOGS") else {
        eprintln!("skipped: BAYSOAK_LOGS names no folder of measured drives");
        return Vec::new();
    };
    let mut files: Vec<PathBuf> = std::fs::read_dir(&folder)
        .expect("BAYSOAK_LOGS is a folder")
        .map(|entry| entry.expect("readable").path())
        .filter(|path| path.extension().is_some_and(|e| e == "csv"))
        .collect();
    files.sort();
    assert!(!files.is_empty(), "no logs in {folder}");
    files
}

#[test]
fn every_measured_drive_is_read_and_what_is_ignored_is_named() {
    for path in logs() {
        let file = std::fs::File::open(&path).expect("opens");
        let (cycle, report) = read_csv(file, "log").unwrap_or_else(|e| panic!("{path:?}: {e}"));
        assert!(cycle.duration_s() > 600.0, "{path:?}");
        // the car's own intake sensor is a result, not an input
        assert!(
            report.ignored.iter().any(|c| c == "iat_c"),
            "{path:?}: {report:?}"
        );
    }
}

#[test]
fn a_measured_drive_runs_on_its_logged_air_flow_and_the_books_close() {
    for path in logs().into_iter().take(2) {
        let file = std::fs::File::open(&path).expect("opens");
        let (cycle, _) = read_csv(file, "log").expect("reads");
        let sheet = builtin("tow-diesel").expect("built in");
        let result = run(&sheet, &cycle, &RunOptions::default(), &mut |_| {});
        let findings = result.unwrap_or_else(|e| panic!("{path:?}: {e}")).findings;
        assert!(
            findings.audit.residual_percent < 0.1,
            "{path:?}: {:?}",
            findings.audit
        );
    }
}

/// Drives that are predicted: the shortest, to be quick.
const PREDICTED: usize = 4;

/// 1.8 K when written. Its own output, so that a change of the physics shows; a fit does better.
#[test]
fn regress_the_shipped_sheet_predicts_short_drives_better_than_their_own_mean_rise() {
    let mut files = logs();
    files.sort_by_key(|f| std::fs::metadata(f).map_or(u64::MAX, |m| m.len()));
    let drives: Vec<Drive> = files
        .iter()
        .take(PREDICTED)
        .map(|path| {
            let bytes = std::fs::read(path).expect("reads");
            let read = import(&bytes, "log", &LogOptions::default()).expect("imports");
            Drive::of(read, &path.display().to_string())
        })
        .collect();
    if drives.is_empty() {
        return;
    }
    let sheet = Sheet::parse(include_str!("turbo-diesel.toml"), "turbo-diesel.toml").expect("good");
    let build = sheet.settle(&mut Chooser::Likely).expect("settles").build;
    let apart: Vec<(&Drive, bool)> = drives.iter().map(|d| (d, true)).collect();
    let scores = judge(&build, &apart).expect("runs");
    let (mut squares, mut samples, mut rises) = (0.0, 0, Vec::new());
    for (drive, score) in drives.iter().zip(&scores) {
        squares += score.sensor.rmse_k.powi(2) * score.sensor.samples as f64;
        samples += score.sensor.samples;
        let sensor = drive.sensor().expect("a sensor");
        for (i, &t) in sensor.time_s.iter().enumerate() {
            let ambient_k = drive.cycle.at(t).and_then(|d| d.ambient_k);
            if let Some(ambient_k) = ambient_k.filter(|_| sensor.usable[i] && t > SETTLING_S) {
                rises.push(sensor.value_k[i] - ambient_k);
            }
        }
    }
    let off_k = (squares / samples as f64).sqrt();
    let mean = rises.iter().sum::<f64>() / rises.len() as f64;
    let spread: f64 = rises.iter().map(|r| (r - mean).powi(2)).sum();
    let spread_k = (spread / rises.len() as f64).sqrt();
    assert!(samples > 2000, "{samples}");
    assert!(off_k < 2.1, "{off_k:.2} K");
    assert!(off_k < 0.9 * spread_k, "{off_k:.2} K of {spread_k:.2} K");
}
