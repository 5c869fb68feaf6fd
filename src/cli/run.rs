//! `baysoak run`.

use std::fs;
use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::{Duration, Instant};

use clap::Args;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use baysoak::report::plot::{self, Picture};
use baysoak::report::{clean, csv, json, over_a_limit, terminal};
use baysoak::study::findings::RunResult;
use baysoak::study::run::{RunOptions, run};

use super::output::{Draft, Failure, Target, keep_apart, say, tell};
use super::{Units, inputs};

/// Shorter runs show no progress.
const PATIENCE: Duration = Duration::from_secs(1);

/// Arguments of `run`.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  baysoak run\n  baysoak run my-car.toml --cycle soak-restart --plots pictures\n  \
                  baysoak run my-car.toml --day my-day.toml --json result.json --csv series.csv"
)]
pub struct Run {
    /// Build sheet; without one, the built-in demonstration build
    #[arg(value_name = "SHEET")]
    sheet: Option<PathBuf>,
    /// Drive cycle: a built-in name, as in `list cycles`, or a CSV file
    #[arg(long, value_name = "NAME|FILE.csv")]
    cycle: Option<String>,
    /// Weather: a built-in name, as in `list days`, or a TOML file; without it, the sheet's own
    #[arg(long, value_name = "NAME|FILE.toml")]
    day: Option<String>,
    /// Units on the screen and in pictures (JSON and CSV keep the units in their names)
    #[arg(long, value_enum, default_value_t)]
    units: Units,
    /// Write the findings as JSON, - for standard output
    #[arg(long, value_name = "FILE|-")]
    json: Option<PathBuf>,
    /// Write the series over time as CSV, - for standard output
    #[arg(long, value_name = "FILE|-")]
    csv: Option<PathBuf>,
    /// Write pictures (SVG and PNG) to this folder
    #[arg(long, value_name = "DIR")]
    plots: Option<PathBuf>,
    /// Show neither progress nor warnings on standard error
    #[arg(long, short)]
    quiet: bool,
}

/// Everything that will be written, opened before the run.
struct Outputs {
    json: Option<Target>,
    csv: Option<Target>,
    pictures: Vec<(Picture, Draft, Draft)>,
}

impl Outputs {
    fn open(args: &Run) -> Result<Self, Failure> {
        let is_screen = |path: &Option<PathBuf>| path.as_deref() == Some(Path::new("-"));
        if is_screen(&args.json) && is_screen(&args.csv) {
            return Err(Failure::input(
                "--json - and --csv - can't share standard output\n  hint: give one of them a file",
            ));
        }
        let open = |path: &Option<PathBuf>| path.as_deref().map(Target::open).transpose();
        let mut outputs = Self {
            json: open(&args.json)?,
            csv: open(&args.csv)?,
            pictures: Vec::new(),
        };
        if let Some(folder) = &args.plots {
            fs::create_dir_all(folder).map_err(|e| {
                Failure::input(format!("{}: can't make the folder: {e}", folder.display()))
            })?;
            for picture in Picture::ALL {
                let draft = |end| Draft::open(&folder.join(format!("{}.{end}", picture.name())));
                outputs
                    .pictures
                    .push((picture, draft("svg")?, draft("png")?));
            }
        }
        Ok(outputs)
    }

    /// Whether standard output is taken by a file format.
    fn screen_taken(&self) -> bool {
        [&self.json, &self.csv]
            .iter()
            .any(|t| matches!(t, Some(Target::Screen)))
    }

    fn write(self, result: &RunResult, units: Units) -> Result<(), Failure> {
        // everything is made before anything is put in its place
        let json_text = match &self.json {
            Some(_) => json::to_json(&result.findings).map_err(|e| Failure::report(&e))?,
            None => String::new(),
        };
        let mut csv_text = Vec::new();
        if self.csv.is_some() {
            csv::write_csv(&result.series, &mut csv_text).map_err(|e| Failure::report(&e))?;
        }
        let mut drafts = Vec::new();
        for (picture, mut svg, mut png) in self.pictures {
            let text = plot::svg(picture, result, units.into());
            svg.fill(text.map_err(|e| Failure::report(&e))?.as_bytes())?;
            png.fill_by_path(|path| plot::write_png(picture, result, units.into(), path))?;
            drafts.extend([svg, png]);
        }
        for draft in drafts {
            draft.place()?;
        }
        if let Some(target) = self.json {
            target.write(json_text.as_bytes())?;
        }
        if let Some(target) = self.csv {
            target.write(&csv_text)?;
        }
        Ok(())
    }
}

impl Run {
    /// Refuses to write over what is read.
    fn keep_inputs(&self) -> Result<(), Failure> {
        let inputs = [
            self.sheet.clone(),
            self.cycle.as_ref().map(PathBuf::from),
            self.day.as_ref().map(PathBuf::from),
        ];
        let outputs = [&self.json, &self.csv].into_iter().flatten();
        keep_apart(inputs.iter().flatten(), outputs)
    }

    /// Runs and reports.
    pub fn carry_out(self) -> Result<ExitCode, Failure> {
        let mut sheet = inputs::sheet(self.sheet.as_deref())?;
        if let Some(day) = &self.day {
            sheet = sheet.with_day(inputs::day(day)?);
        }
        let (cycle, log_warnings) = inputs::cycle(self.cycle.as_deref(), &sheet)?;
        if !self.quiet {
            for warning in &log_warnings {
                tell(&format!("warning: {}", clean(warning)));
            }
        }
        self.keep_inputs()?;
        let outputs = Outputs::open(&self)?;

        let mut progress = Progress::new(self.quiet);
        let options = RunOptions::default();
        let result = run(&sheet, &cycle, &options, &mut |done| progress.update(done));
        progress.finish();
        let result = result.map_err(|error| Failure::Told {
            text: error.to_string(),
            code: error.exit_code(),
        })?;

        // the same check as for files, so that a screen never shows what a file would refuse
        json::to_json(&result.findings).map_err(|e| Failure::report(&e))?;
        let screen_taken = outputs.screen_taken();
        if screen_taken && !self.quiet {
            for warning in &result.findings.warnings {
                tell(&format!("warning: {}", clean(warning)));
            }
        }
        outputs.write(&result, self.units)?;
        if !screen_taken {
            say(&terminal::render(&result.findings, self.units.into()))?;
        }
        Ok(ExitCode::from(u8::from(over_a_limit(&result.findings))))
    }
}

/// A bar on standard error, only for people and only when a run takes its time.
struct Progress {
    start: Instant,
    bar: Option<ProgressBar>,
    wanted: bool,
}

impl Progress {
    fn new(quiet: bool) -> Self {
        Self {
            start: Instant::now(),
            bar: None,
            wanted: !quiet && std::io::stderr().is_terminal(),
        }
    }

    fn update(&mut self, done: f64) {
        if !self.wanted || self.start.elapsed() < PATIENCE {
            return;
        }
        let bar = self.bar.get_or_insert_with(|| {
            let target = ProgressDrawTarget::stderr();
            let bar = ProgressBar::with_draw_target(Some(1000), target);
            match ProgressStyle::with_template("driving {wide_bar} {percent} %") {
                Ok(style) => bar.with_style(style),
                Err(_) => bar,
            }
        });
        // a share of 0 to 1 in steps of the bar
        bar.set_position((done.clamp(0.0, 1.0) * 1000.0) as u64);
    }

    fn finish(&mut self) {
        if let Some(bar) = self.bar.take() {
            bar.finish_and_clear();
        }
    }
}
