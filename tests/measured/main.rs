//! Measured drive logs, where a folder of them is given in `BAYSOAK_LOGS`.
//!
//! The logs are M. Weber, *Automotive OBD-II Dataset*, Karlsruhe Institute of Technology, 2023,
//! DOI 10.35097/1130, CC BY 4.0, resampled to 1 Hz; they are not part of the project.

use std::path::PathBuf;

use baysoak::cycle::read_csv;
use baysoak::sheet::builtin;
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
