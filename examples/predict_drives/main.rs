//! Predicts measured drives that the fit hasn't seen, beside simple predictors that saw the same.
//!
//! `BAYSOAK_LOGS=folder cargo run --release --example predict_drives [-- --check]`. Every third drive
//! is kept apart, three times, so that each is predicted once by those that hadn't seen it. Without
//! the folder it says that it skips. With `--check` it keeps apart once, of the shortest drives only, and
//! fails unless the model beats each simple predictor that saw the same.

mod predictors;

use std::error::Error;
use std::path::PathBuf;

use baysoak::cycle::{LogOptions, import};
use baysoak::sheet::Sheet;
use baysoak::study::fit::{Drive, FitOptions, Logged, study};
use predictors::{Ridge, Table, Trees, squares, table};
use rayon::prelude::*;

const SHEET: &str = include_str!("../../tests/measured/turbo-diesel.toml");

/// Drives of a light check.
const CHECKED: usize = 8;
/// One drive in so many is kept apart.
const APART: usize = 3;
/// Which of them a light check keeps apart.
const CHECKED_SPLIT: usize = 1;

/// Rise over ambient [K] from a row of features.
type Predictor<'a> = &'a dyn Fn(&[f64]) -> f64;

/// Who predicts.
const NAMES: [&str; 5] = [
    "mean of fitted drives",
    "ridge, lagged signals",
    "boosted trees",
    "model, as the sheet is",
    "model, fitted",
];

/// Places in it of the model: as the sheet is, of which only whole splits are told, and fitted.
const BARE: usize = 3;
const FITTED: usize = 4;

/// Squares and seconds of a drive kept apart.
#[derive(Clone, Copy)]
struct Apart {
    split: usize,
    squares: f64,
    seconds: f64,
}

/// Root mean square over all seconds and in the middle drive [K].
fn off_k(drives: &[Apart], split: Option<usize>) -> (f64, f64) {
    let own = drives.iter().filter(|d| split.is_none_or(|s| d.split == s));
    let own: Vec<&Apart> = own.filter(|d| d.seconds > 0.0).collect();
    let squares: f64 = own.iter().map(|d| d.squares).sum();
    let seconds: f64 = own.iter().map(|d| d.seconds).sum();
    let mut each: Vec<f64> = own.iter().map(|d| (d.squares / d.seconds).sqrt()).collect();
    each.sort_by(f64::total_cmp);
    let middle = each.get(each.len() / 2).copied().unwrap_or(f64::NAN);
    ((squares / seconds).sqrt(), middle)
}

/// The logs of a folder; of the shortest drives only for a light check.
fn read(folder: &str, check: bool) -> Result<Vec<Logged>, Box<dyn Error>> {
    let mut files: Vec<PathBuf> = Vec::new();
    for entry in std::fs::read_dir(folder)? {
        let path = entry?.path();
        if path.extension().is_some_and(|e| e == "csv") {
            files.push(path);
        }
    }
    if check {
        files.sort_by_key(|f| std::fs::metadata(f).map_or(u64::MAX, |m| m.len()));
        files.truncate(CHECKED);
    }
    files.sort();
    let mut logs = Vec::new();
    for path in files {
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        let read = import(&std::fs::read(&path)?, &name, &LogOptions::default())?;
        logs.push(Logged {
            import: read.report.clone(),
            drive: Drive::of(read, &name),
            held_out: false,
        });
    }
    Ok(logs)
}

fn main() -> Result<(), Box<dyn Error>> {
    let Ok(folder) = std::env::var("BAYSOAK_LOGS") else {
        println!("skipped: BAYSOAK_LOGS names no folder of measured drives");
        return Ok(());
    };
    let check = std::env::args().any(|a| a == "--check");
    let mut logs = read(&folder, check)?;
    let sheet = Sheet::parse(SHEET, "turbo-diesel.toml")?;
    let options = FitOptions {
        inputs: sheet.raw().log.clone().unwrap_or_default().fit,
        starts: 1,
        rounds: if check { 1 } else { 2 },
        ..FitOptions::default()
    };
    let tables: Vec<Table> = logs.par_iter().map(|l| table(&l.drive)).collect();
    let splits = if check {
        CHECKED_SPLIT..CHECKED_SPLIT + 1
    } else {
        0..APART
    };
    let mut off: [Vec<Apart>; NAMES.len()] = Default::default();
    for split in splits.clone() {
        for (i, log) in logs.iter_mut().enumerate() {
            log.held_out = i % APART == split;
        }
        println!("split {}", split + 1);
        split_off(&sheet, &logs, &tables, &options, split, &mut off)?;
    }

    print!(
        "\n{:24}{:>10}{:>10}",
        "K off, drives apart", "all", "middle"
    );
    splits
        .clone()
        .for_each(|s| print!("{:>12}", format!("split {}", s + 1)));
    println!();
    for (place, drives) in off.iter().enumerate() {
        let (all, middle) = off_k(drives, None);
        let middle = match place {
            BARE => "-".to_owned(),
            _ => format!("{middle:.2}"),
        };
        print!("{:24}{all:10.2}{middle:>10}", NAMES[place]);
        splits
            .clone()
            .for_each(|s| print!("{:12.2}", off_k(drives, Some(s)).0));
        println!();
    }
    let all = |place: usize| off_k(&off[place], None).0;
    let best = (0..BARE).map(all).fold(f64::INFINITY, f64::min);
    let model = all(FITTED);
    if check && model > best {
        let told = format!("{model:.2} K is no better than the best simple predictor, {best:.2} K");
        return Err(told.into());
    }
    Ok(())
}

/// Fits what isn't kept apart, and adds how far each predictor is off on what is.
fn split_off(
    sheet: &Sheet,
    logs: &[Logged],
    tables: &[Table],
    options: &FitOptions,
    split: usize,
    off: &mut [Vec<Apart>; NAMES.len()],
) -> Result<(), Box<dyn Error>> {
    let mut tell = |line: &str| eprintln!("{line}");
    let found = study(sheet, logs, options, &mut tell)?.findings;
    for i in &found.inputs {
        let (value, error) = (i.found.value, i.found.standard_error);
        println!("{:44} {value:9.3} +- {error:.3}", i.found.key);
    }
    let bare = found.held_out.as_ref().ok_or("no drives to keep apart")?;
    off[BARE].push(Apart {
        split,
        squares: bare.before_rmse_k.powi(2) * bare.samples as f64,
        seconds: bare.samples as f64,
    });
    for file in found.files.iter().filter(|f| f.held_out) {
        let seconds = file.sensor.samples as f64;
        off[FITTED].push(Apart {
            split,
            squares: file.sensor.rmse_k.powi(2) * seconds,
            seconds,
        });
    }
    let both = || tables.iter().zip(logs);
    let seen: Vec<&Table> = both().filter(|(_, l)| !l.held_out).map(|b| b.0).collect();
    let count: usize = seen.iter().map(|t| t.rise_k.len()).sum();
    let mean = seen.iter().flat_map(|t| &t.rise_k).sum::<f64>() / count.max(1) as f64;
    let (ridge, trees) = rayon::join(|| Ridge::train(&seen), || Trees::train(&seen));
    let predictors: [Predictor<'_>; 3] = [&|_| mean, &|r| ridge.predict(r), &|r| trees.predict(r)];
    for (predict, off) in predictors.into_iter().zip(off.iter_mut()) {
        for (table, _) in both().filter(|(t, l)| l.held_out && !t.rows.is_empty()) {
            off.push(Apart {
                split,
                squares: squares(table, predict),
                seconds: table.rows.len() as f64,
            });
        }
    }
    Ok(())
}
