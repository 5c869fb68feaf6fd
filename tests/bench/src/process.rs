//! A run as a process: what of its time is starting, what solving.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use baysoak::report::terminal;
use baysoak::sheet::{self, Chooser};
use baysoak::study::run::{RunOptions, run_settled};

use crate::cases::{self, least_wall};
use crate::table::{self, ms};
use crate::{Fault, Settings};

/// Prints the parts.
pub fn show(settings: &Settings, program: Option<PathBuf>) -> Result<(), Fault> {
    let beside = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../target/release/baysoak");
    let program = program.unwrap_or(beside);
    if !program.exists() {
        let hint = "cargo build --release, or name a program";
        return Err(format!("{}: not there\n  hint: {hint}", program.display()).into());
    }
    let call = |line: &[&str]| -> Result<(), Fault> {
        let mut command = Command::new(&program);
        command
            .args(line)
            .stdout(Stdio::null())
            .stderr(Stdio::null());
        let status = command.status()?;
        // 1: ran, and a limit is exceeded
        match status.code() {
            Some(0 | 1) => Ok(()),
            _ => Err(format!("{} {}: {status}", program.display(), line.join(" ")).into()),
        }
    };
    let repeat = settings.repeat;
    let (version_s, ()) = least_wall(repeat, || call(&["--version"]))?;
    let (process_s, ()) = least_wall(repeat, || call(&["run", "--quiet"]))?;
    let folder = tempfile::tempdir()?;
    let hour = folder.path().join("hour.toml");
    std::fs::write(&hour, cases::hour_sheet()?)?;
    let hour = hour.to_string_lossy();
    let (hour_s, ()) = least_wall(repeat, || call(&["run", &hour, "--quiet"]))?;
    let (settle_s, (sheet, settled)) = least_wall(repeat, || {
        let sheet = sheet::builtin("demo")?;
        let settled = sheet.settle(&mut Chooser::Likely)?;
        Ok((sheet, settled))
    })?;
    let cycle = cases::cycle("day")?;
    let options = RunOptions::default();
    let (run_s, result) = least_wall(repeat, || {
        Ok(run_settled(
            &sheet,
            &settled,
            &cycle,
            &options,
            &mut |_| (),
        )?)
    })?;
    let (text_s, _) = least_wall(repeat, || {
        Ok(terminal::render(&result.findings, Default::default()))
    })?;
    let row = |what: &str, s: f64| vec![what.to_owned(), ms(s)];
    table::print(
        "the demonstration run as a process (least of several; parts measured inside this program)",
        &["part", "ms"],
        &[
            row("baysoak --version (start alone)", version_s),
            row("baysoak run (whole process, 106 min)", process_s),
            row("baysoak run of the hour (whole process)", hour_s),
            row("sheet read and settled", settle_s),
            row("run of 106 min (assembled, driven, summarised)", run_s),
            row("terminal report", text_s),
        ],
    );
    Ok(())
}
