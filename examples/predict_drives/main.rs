//! Predicts measured drives that the fit hasn't seen, beside simple predictors that saw the same.
//!
//! `BAYSOAK_LOGS=folder cargo run --release --example predict_drives [-- --check]`. Every third drive
//! is kept apart. Without the folder it says that it skips. With `--check` it takes the shortest drives
//! only and fails unless the model beats each simple predictor that saw the same.

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

/// Rise over ambient [K] from a row of features.
type Predictor<'a> = &'a dyn Fn(&[f64]) -> f64;

fn main() -> Result<(), Box<dyn Error>> {
    let Ok(folder) = std::env::var("BAYSOAK_LOGS") else {
        println!("skipped: BAYSOAK_LOGS names no folder of measured drives");
        return Ok(());
    };
    let check = std::env::args().any(|a| a == "--check");
    let mut files: Vec<PathBuf> = Vec::new();
    for entry in std::fs::read_dir(&folder)? {
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
    for (i, path) in files.iter().enumerate() {
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        let read = import(&std::fs::read(path)?, &name, &LogOptions::default())?;
        logs.push(Logged {
            import: read.report.clone(),
            drive: Drive::of(read, &name),
            held_out: i % 3 == 1,
        });
    }
    let sheet = Sheet::parse(SHEET, "turbo-diesel.toml")?;
    let options = FitOptions {
        inputs: sheet.raw().log.clone().unwrap_or_default().fit,
        starts: 1,
        rounds: if check { 1 } else { 2 },
        ..FitOptions::default()
    };
    let found = study(&sheet, &logs, &options, &mut |line| eprintln!("{line}"))?.findings;
    for i in &found.inputs {
        println!(
            "{:40} {:9.3} +- {:.3}",
            i.found.key, i.found.value, i.found.standard_error
        );
    }
    let (Some(fitted), Some(apart)) = (&found.fitted, &found.held_out) else {
        return Err("no drives to fit or to keep apart".into());
    };

    let tables: Vec<Table> = logs.par_iter().map(|l| table(&l.drive)).collect();
    let seen: Vec<&Table> = tables
        .iter()
        .zip(&logs)
        .filter(|(_, l)| !l.held_out)
        .map(|(t, _)| t)
        .collect();
    let count: usize = seen.iter().map(|t| t.rise_k.len()).sum();
    let mean = seen.iter().flat_map(|t| &t.rise_k).sum::<f64>() / count.max(1) as f64;
    let (ridge, trees) = rayon::join(|| Ridge::train(&seen), || Trees::train(&seen));
    println!(
        "\n{:24}{:>10}{:>10}{:>10}",
        "K off, drives apart", "all", "middle", "fitted"
    );
    let mut best = f64::INFINITY;
    let predictors: [(&str, Predictor<'_>); 3] = [
        ("mean of fitted drives", &|_| mean),
        ("ridge, lagged signals", &|r| ridge.predict(r)),
        ("boosted trees", &|r| trees.predict(r)),
    ];
    for (name, predict) in predictors {
        let of = |held_out: bool| -> (f64, f64) {
            let own = tables
                .iter()
                .zip(&logs)
                .filter(|(t, l)| l.held_out == held_out && !t.rows.is_empty());
            let each: Vec<(f64, usize)> = own
                .map(|(t, _)| (squares(t, predict), t.rows.len()))
                .collect();
            let (sum, n) = each.iter().fold((0.0, 0), |a, e| (a.0 + e.0, a.1 + e.1));
            let mut per: Vec<f64> = each.iter().map(|(s, n)| (s / *n as f64).sqrt()).collect();
            per.sort_by(f64::total_cmp);
            ((sum / n.max(1) as f64).sqrt(), per[per.len() / 2])
        };
        let ((all, middle), (own, _)) = (of(true), of(false));
        println!("{name:24}{all:10.2}{middle:10.2}{own:10.2}");
        best = best.min(all);
    }
    println!(
        "{:24}{:10.2}{:>10}{:10.2}",
        "model, as the sheet is", apart.before_rmse_k, "-", fitted.before_rmse_k
    );
    println!(
        "{:24}{:10.2}{:10.2}{:10.2}",
        "model, fitted", apart.rmse_k, apart.median_rmse_k, fitted.rmse_k
    );
    if check && apart.rmse_k > best {
        return Err(format!(
            "{:.2} K is no better than the best simple predictor, {best:.2} K",
            apart.rmse_k
        )
        .into());
    }
    Ok(())
}
