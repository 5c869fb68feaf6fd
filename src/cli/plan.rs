//! `baysoak plan`.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Args, ValueEnum};

use baysoak::report::{html, json, plan as screen};
use baysoak::study::plan::{Aim, PlanOptions, plan};

use super::inputs;
use super::output::{Failure, Target, say};

/// Arguments of `plan`.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  baysoak plan\n  baysoak plan my-car.toml --option wrap --option coat --aim bay --html sheet.html --csv log.csv"
)]
pub struct PlanArgs {
    /// Build sheet with its options; without one, the built-in demonstration build
    #[arg(value_name = "SHEET")]
    sheet: Option<PathBuf>,
    /// Option to test against the car as it is; again for more, all of them without it
    #[arg(long, value_name = "NAME")]
    option: Vec<String>,
    /// What the test is after
    #[arg(long, value_enum, default_value_t)]
    aim: AimWord,
    /// Sensors at hand
    #[arg(long, value_name = "N", default_value_t = 4)]
    sensors: usize,
    /// Chance of finding an effect that is there
    #[arg(long, value_name = "X", default_value_t = 0.9)]
    power: f64,
    /// Accepted chance of a false alarm
    #[arg(long, value_name = "X", default_value_t = 0.05)]
    alpha: f64,
    /// Write the plan as JSON, - for standard output
    #[arg(long, value_name = "FILE|-")]
    json: Option<PathBuf>,
    /// Write a page to print
    #[arg(long, value_name = "FILE|-")]
    html: Option<PathBuf>,
    /// Write the head of the log
    #[arg(long, value_name = "FILE|-")]
    csv: Option<PathBuf>,
}

/// What a test is after.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, ValueEnum)]
enum AimWord {
    /// Anything that tells options apart
    #[default]
    All,
    /// Intake air
    Intake,
    /// Bay air and nearby parts
    Bay,
    /// Metal of exhaust parts
    Metal,
}

impl From<AimWord> for Aim {
    fn from(word: AimWord) -> Self {
        match word {
            AimWord::All => Self::All,
            AimWord::Intake => Self::Intake,
            AimWord::Bay => Self::Bay,
            AimWord::Metal => Self::Metal,
        }
    }
}

impl PlanArgs {
    /// Plans and reports.
    pub fn carry_out(self) -> Result<ExitCode, Failure> {
        let sheet = inputs::sheet(self.sheet.as_deref())?;
        let mut options = sheet.options();
        let names: Vec<String> = options.iter().map(|o| o.name.clone()).collect();
        if let Some(unknown) = self.option.iter().find(|o| !names.contains(o)) {
            let text = format!(
                "--option {unknown}: the sheet has no such option\n  hint: there is: {}",
                names.join(", ")
            );
            return Err(Failure::input(text));
        }
        if !self.option.is_empty() {
            let first = names.first().cloned().unwrap_or_default();
            options.retain(|o| o.name == first || self.option.contains(&o.name));
        }
        let outputs = [&self.json, &self.html, &self.csv];
        let on_screen = outputs
            .iter()
            .filter(|p| p.as_deref().is_some_and(|p| p.as_os_str() == "-"))
            .count();
        if on_screen > 1 {
            let text = "only one of --json, --html and --csv can go to standard output\n  hint: give the others a file";
            return Err(Failure::input(text));
        }
        let [json_to, html_to, csv_to] =
            outputs.map(|p| p.as_deref().map(Target::open).transpose());
        let (json_to, html_to, csv_to) = (json_to?, html_to?, csv_to?);
        let settings = PlanOptions {
            alpha: self.alpha,
            power: self.power,
            sensors: self.sensors,
            aim: self.aim.into(),
        };
        let found =
            plan(&sheet, &options, &settings).map_err(|e| Failure::coded(&e, e.exit_code()))?;
        let text = json::to_json(&found).map_err(|e| Failure::report(&e))?;
        let files = [
            (json_to, text),
            (html_to, html::plan(&found)),
            (csv_to, screen::csv_template(&found)),
        ];
        for (target, text) in files {
            if let Some(target) = target {
                target.write(text.as_bytes())?;
            }
        }
        if on_screen == 0 {
            say(&screen::render(&found))?;
        }
        Ok(ExitCode::SUCCESS)
    }
}
