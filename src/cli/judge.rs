//! `baysoak judge`.

use std::fs::File;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Args;

use baysoak::report::{json, judge as screen};
use baysoak::sheet::Sheet;
use baysoak::study::judge::{JudgeInput, MeasuredLog, judge};

use super::inputs;
use super::output::{Failure, Target, json_and_screen};

/// Arguments of `judge`.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  baysoak judge --before monday.csv --after tuesday.csv --channel bay_c --claim-k -50\n  \
                  baysoak judge my-car.toml --option wrap --before a.csv --before b.csv --after c.csv --after d.csv --channel air:hot_c\n\n\
                  Logs have the columns of a drive (time_s, speed_kmh, power_kw, ambient_c, ...) and temperatures that end in _c.\n\
                  Two drives or more on each side show what differs from day to day.\n\
                  Exit code 1: a claim was given and lies outside the interval."
)]
pub struct JudgeArgs {
    /// Build sheet: its model then takes out load and weather; without one, the log's own columns do
    #[arg(value_name = "SHEET")]
    sheet: Option<PathBuf>,
    /// Log before the change; again for more
    #[arg(long, value_name = "CSV", required = true)]
    before: Vec<PathBuf>,
    /// Log after the change; again for more
    #[arg(long, value_name = "CSV", required = true)]
    after: Vec<PathBuf>,
    /// Column that is judged
    #[arg(long, value_name = "NAME")]
    channel: String,
    /// Option of the sheet that was carried out, for the prediction
    #[arg(long, value_name = "NAME", requires = "sheet")]
    option: Option<String>,
    /// Claimed change, negative for cooler [K]
    #[arg(long, value_name = "X", allow_negative_numbers = true)]
    claim_k: Option<f64>,
    /// Write the findings as JSON, - for standard output
    #[arg(long, value_name = "FILE|-")]
    json: Option<PathBuf>,
}

fn read(path: &Path) -> Result<MeasuredLog, Failure> {
    let name = path.display().to_string();
    let file = File::open(path).map_err(|e| Failure::input(format!("{name}: can't read: {e}")))?;
    MeasuredLog::read(file, &name).map_err(|e| Failure::input(e.to_string()))
}

/// Reads all logs; what is wrong with any of them is told together.
fn read_all(paths: &[PathBuf], faults: &mut Vec<String>) -> Vec<MeasuredLog> {
    let mut logs = Vec::new();
    for path in paths {
        match read(path) {
            Ok(log) => logs.push(log),
            Err(Failure::Told { text, .. }) => faults.push(text),
            Err(Failure::ReaderLeft) => {}
        }
    }
    logs
}

impl JudgeArgs {
    fn treated(&self, sheet: Option<&Sheet>) -> Result<Option<Sheet>, Failure> {
        let (Some(sheet), Some(name)) = (sheet, &self.option) else {
            return Ok(None);
        };
        let options = sheet.options();
        let Some(option) = options.iter().find(|o| o.name == *name) else {
            let names: Vec<&str> = options.iter().map(|o| o.name.as_str()).collect();
            let text = format!(
                "--option {name}: the sheet has no such option\n  hint: there is: {}",
                names.join(", ")
            );
            return Err(Failure::input(text));
        };
        sheet
            .with_option(option)
            .map(Some)
            .map_err(|e| Failure::input(e.to_string()))
    }

    /// Judges and reports.
    pub fn carry_out(self) -> Result<ExitCode, Failure> {
        if self.claim_k.is_some_and(|k| !k.is_finite()) {
            return Err(Failure::input("--claim-k: not a finite number"));
        }
        let sheet = self
            .sheet
            .as_deref()
            .map(|p| inputs::sheet(Some(p)))
            .transpose()?;
        let treated = self.treated(sheet.as_ref())?;
        let mut faults = Vec::new();
        let before = read_all(&self.before, &mut faults);
        let after = read_all(&self.after, &mut faults);
        if !faults.is_empty() {
            return Err(Failure::input(faults.join("\n")));
        }
        let target = self.json.as_deref().map(Target::open).transpose()?;
        let input = JudgeInput {
            before: &before,
            after: &after,
            channel: &self.channel.to_ascii_lowercase(),
            sheet: sheet.as_ref(),
            treated: treated.as_ref(),
            claim_k: self.claim_k,
        };
        let judgement = judge(&input, &|_| true).map_err(|e| Failure::coded(&e, e.exit_code()))?;
        let text = json::to_json(&judgement).map_err(|e| Failure::report(&e))?;
        json_and_screen(target, &text, || screen::render(&judgement))?;
        let failed = judgement.claim.is_some_and(|(_, holds)| !holds);
        Ok(ExitCode::from(u8::from(failed)))
    }
}
