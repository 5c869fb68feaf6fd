//! `baysoak compare`.

use std::process::ExitCode;

use clap::Args;

use baysoak::report::{compare_terminal, csv, html, json, plot};
use baysoak::study::compare::{Comparison, candidates, compare};
use baysoak::study::draws::{DrawSettings, Drive, StudyError};
use baysoak::study::run::RunOptions;

use super::output::Failure;
use super::progress::Progress;
use super::shared::{Makers, Shared};

/// Draws when none are asked for.
pub const USUAL_DRAWS: usize = 50;

/// Arguments of `compare`.
#[derive(Debug, Args)]
#[command(
    after_help = "The options stand in the sheet as [[option]] entries; `baysoak new` shows some.\n\n\
                  Examples:\n  baysoak compare\n  baysoak compare my-car.toml --cycle track --draws 200\n  \
                  baysoak compare my-car.toml --html compare.html --json compare.json"
)]
pub struct Compare {
    #[command(flatten)]
    shared: Shared,
    /// Draws that all options share, for bands from the 10 to the 90 % point; 0 for none
    #[arg(long, value_name = "N", default_value_t = USUAL_DRAWS)]
    draws: usize,
}

/// A study's error as the program tells it.
pub fn told(error: &StudyError) -> Failure {
    Failure::coded(error, error.exit_code())
}

/// Settings for a number of draws, 0 for none.
pub fn settings(draws: usize, seed: u64) -> Option<DrawSettings> {
    (draws > 0).then_some(DrawSettings { draws, seed })
}

/// Whether any option is over a limit.
fn over_a_limit(comparison: &Comparison) -> bool {
    let mut all = comparison.options.iter().flat_map(|o| &o.over);
    all.any(|o| o.margin_k < 0.0)
}

impl Compare {
    /// Compares and reports.
    pub fn carry_out(self) -> Result<ExitCode, Failure> {
        let (sheet, cycle) = self.shared.load()?;
        let candidates = candidates(&sheet).map_err(|e| told(&e))?;
        let settings = settings(self.draws, self.shared.seed);
        if let Some(settings) = settings {
            settings.check().map_err(|e| told(&e))?;
        }
        let outputs = self.shared.open(&["differences"])?;
        let progress = Progress::new(self.shared.quiet);
        let drive = Drive {
            cycle: &cycle,
            options: &RunOptions::default(),
        };
        let update = |done| progress.update("comparing", done);
        let compared = compare(&candidates, drive, settings, &update);
        progress.finish();
        let compared = compared.map_err(|e| told(&e))?;
        let comparison = &compared.comparison;
        let units = self.shared.units.into();
        outputs.write(&Makers {
            check: &|| json::check(comparison),
            json: &|| json::to_json(comparison),
            csv: &|out| csv::write_comparison(comparison, out),
            html: &|| html::compare(&compared, units),
            svg: &|_| plot::differences_svg(comparison, units),
            png: &|_, path| plot::write_differences_png(comparison, units, path),
            screen: &|| compare_terminal::render(comparison, units),
        })?;
        Ok(ExitCode::from(u8::from(over_a_limit(comparison))))
    }
}
