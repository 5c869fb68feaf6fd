//! `baysoak run`.

use std::process::ExitCode;
use std::sync::{OnceLock, mpsc};
use std::thread;

use clap::Args;

use baysoak::cycle::Cycle;
use baysoak::materials;
use baysoak::report::plot::{self, Picture};
use baysoak::report::{csv, html, json, over_a_limit, terminal};
use baysoak::sheet::{self, Sheet};
use baysoak::study::draws::{Case, DrawSettings, Drive, StudyError, sample};
use baysoak::study::findings::RunResult;
use baysoak::study::run::{RunOptions, run};
use baysoak::study::sensitivity::measure_first;

use super::inputs;
use super::output::Failure;
use super::progress::Progress;
use super::shared::{Makers, Shared};

/// Arguments of `run`.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  baysoak run\n  baysoak run my-car.toml --cycle soak-restart --plots pictures\n  \
                  baysoak run my-car.toml --day my-day.toml --json result.json --csv series.csv\n  \
                  baysoak run my-car.toml --draws 100 --html report.html"
)]
pub struct Run {
    #[command(flatten)]
    shared: Shared,
    /// Run so many times with all ranged numbers drawn, for bands from the 10 to the 90 % point
    #[arg(long, value_name = "N")]
    draws: Option<usize>,
}

impl Run {
    /// The run, with bands when draws are asked for.
    fn result(&self, sheet: &Sheet, cycle: &Cycle) -> Result<RunResult, Failure> {
        let progress = Progress::new(self.shared.quiet);
        let options = RunOptions::default();
        let told = |text: String, code: u8| Failure::Told { text, code };
        let Some(draws) = self.draws else {
            let mut update = |done| {
                progress.update("driving", done);
            };
            let result = run(sheet, cycle, &options, &mut update);
            progress.finish();
            return result.map_err(|e| told(e.to_string(), e.exit_code()));
        };
        let settings = DrawSettings {
            draws,
            seed: self.shared.seed,
        };
        let drive = Drive {
            cycle,
            options: &options,
        };
        let result = banded(sheet, drive, settings, &progress);
        progress.finish();
        result.map_err(|e| told(e.to_string(), e.exit_code()))
    }

    /// The run, while another core gets tables ready and tries the sheet's options.
    fn result_on_two_cores(&self) -> Result<RunResult, Failure> {
        let place = OnceLock::new();
        thread::scope(|scope| {
            let (hand, handed) = mpsc::channel();
            let beside = thread::Builder::new().spawn_scoped(scope, move || {
                sheet::prepare();
                handed.recv().map(inputs::try_options)
            });
            // the one table that the other core doesn't get ready
            materials::metals();
            let (sheet, cycle) = self.shared.read()?;
            let sheet = place.get_or_init(|| sheet);
            // where no thread is to be had, the options are tried afterwards
            let _ = hand.send(sheet);
            let result = self.result(sheet, &cycle);
            let tried = beside.ok().and_then(|beside| beside.join().ok());
            match tried {
                Some(Ok(tried)) => tried?,
                _ => inputs::try_options(sheet)?,
            }
            result
        })
    }

    /// Runs and reports.
    pub fn carry_out(self) -> Result<ExitCode, Failure> {
        let open = || self.shared.open(&Picture::ALL.map(Picture::name));
        let (outputs, result) = if self.draws.is_some() || self.shared.writes() {
            let (sheet, cycle) = self.shared.load()?;
            (open()?, self.result(&sheet, &cycle)?)
        } else {
            // one run for the screen is over before anyone waits, and leaves a core free
            let result = self.result_on_two_cores()?;
            (open()?, result)
        };
        let findings = &result.findings;
        let units = self.shared.units.into();
        if outputs.screen_taken {
            self.shared.warn(&findings.warnings);
        }
        outputs.write(&Makers {
            check: &|| json::check(findings),
            json: &|| json::to_json(findings),
            csv: &|out| csv::write_csv(&result.series, out),
            html: &|| html::run(&result, units),
            svg: &|i| plot::svg(Picture::ALL[i], &result, units),
            png: &|i, path| plot::write_png(Picture::ALL[i], &result, units, path),
            screen: &|| terminal::render(findings, units),
        })?;
        Ok(ExitCode::from(u8::from(over_a_limit(findings))))
    }
}

/// One build with bands, and what to measure to narrow them.
fn banded(
    sheet: &Sheet,
    drive: Drive,
    settings: DrawSettings,
    progress: &Progress,
) -> Result<RunResult, StudyError> {
    let case = Case {
        name: sheet.title(),
        sheet,
    };
    let drawing = |done| progress.update("drawing", done);
    let sampled = sample(&[case], drive, Some(settings), &drawing)?;
    let sampled = &sampled[0];
    let mut result = sampled.banded(settings.seed)?;
    let holding = |done| progress.update("what to measure", done);
    result.findings.measure_first = measure_first(case, sampled, drive, settings, &holding)?;
    Ok(result)
}
