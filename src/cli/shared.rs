//! Flags that the commands with runs share, and what they open.

use std::fs;
use std::path::{Path, PathBuf};

use clap::Args;
use rayon::prelude::*;

use baysoak::cycle::Cycle;
use baysoak::report::{ReportError, clean};
use baysoak::sheet::Sheet;

use super::output::{Draft, Failure, Target, keep_apart, say, tell};
use super::{Units, inputs};

/// Flags of every command that runs builds over a cycle.
#[derive(Debug, Args)]
pub struct Shared {
    /// Build sheet; without one, the built-in demonstration build
    #[arg(value_name = "SHEET")]
    pub sheet: Option<PathBuf>,
    /// Drive cycle: a built-in name, as in `list cycles`, or a CSV file
    #[arg(long, value_name = "NAME|FILE.csv")]
    pub cycle: Option<String>,
    /// Weather: a built-in name, as in `list days`, or a TOML file; without it, the sheet's own
    #[arg(long, value_name = "NAME|FILE.toml")]
    pub day: Option<String>,
    /// Seed of the draws: the same seed gives the same draws
    #[arg(long, value_name = "S", default_value_t = 1)]
    pub seed: u64,
    /// Units on the screen and in pictures (JSON and CSV keep the units in their names)
    #[arg(long, value_enum, default_value_t)]
    pub units: Units,
    /// Write the results as JSON, - for standard output
    #[arg(long, value_name = "FILE|-")]
    pub json: Option<PathBuf>,
    /// Write a table as CSV, - for standard output: of a run the series over time, else the figures
    #[arg(long, value_name = "FILE|-")]
    pub csv: Option<PathBuf>,
    /// Write a page that stands alone, to read and print
    #[arg(long, value_name = "FILE|-")]
    pub html: Option<PathBuf>,
    /// Write pictures (SVG and PNG) to this folder
    #[arg(long, value_name = "DIR")]
    pub plots: Option<PathBuf>,
    /// Show neither progress nor warnings on standard error
    #[arg(long, short)]
    pub quiet: bool,
}

impl Shared {
    /// The sheet on its day, and the cycle.
    pub fn load(&self) -> Result<(Sheet, Cycle), Failure> {
        let (sheet, cycle) = self.read()?;
        inputs::try_options(&sheet)?;
        Ok((sheet, cycle))
    }

    /// The same; the sheet's options have yet to be tried.
    pub fn read(&self) -> Result<(Sheet, Cycle), Failure> {
        let mut sheet = inputs::read_sheet(self.sheet.as_deref())?;
        if let Some(day) = &self.day {
            sheet = sheet.with_day(inputs::day(day)?);
        }
        let (cycle, log_warnings) = inputs::cycle(self.cycle.as_deref(), &sheet)?;
        self.warn(&log_warnings);
        Ok((sheet, cycle))
    }

    /// Warnings on standard error, unless they aren't wanted.
    pub fn warn<'w>(&self, warnings: impl IntoIterator<Item = &'w String>) {
        if !self.quiet {
            for warning in warnings {
                tell(&format!("warning: {}", clean(warning)));
            }
        }
    }

    /// Files, each with its flag.
    fn files(&self) -> impl Iterator<Item = (&'static str, &PathBuf)> {
        let all = [
            ("--json", &self.json),
            ("--csv", &self.csv),
            ("--html", &self.html),
        ];
        all.into_iter()
            .filter_map(|(flag, path)| Some((flag, path.as_ref()?)))
    }

    /// Whether anything is written besides the screen.
    pub fn writes(&self) -> bool {
        self.plots.is_some() || self.files().next().is_some()
    }

    /// Refuses to write over what is read.
    fn keep_inputs(&self) -> Result<(), Failure> {
        let inputs = [
            self.sheet.clone(),
            self.cycle.as_ref().map(PathBuf::from),
            self.day.as_ref().map(PathBuf::from),
        ];
        keep_apart(inputs.iter().flatten(), self.files().map(|(_, path)| path))
    }

    /// Opens everything that will be written; call it before any work that takes long.
    pub fn open(&self, pictures: &[&'static str]) -> Result<Outputs, Failure> {
        self.keep_inputs()?;
        let screen: Vec<&str> = self
            .files()
            .filter(|(_, path)| path.as_os_str() == "-")
            .map(|(flag, _)| flag)
            .collect();
        if let [one, other, ..] = screen.as_slice() {
            return Err(Failure::input(format!(
                "{one} - and {other} - can't share standard output\n  hint: give one of them a file"
            )));
        }
        let open = |path: &Option<PathBuf>| path.as_deref().map(Target::open).transpose();
        let mut outputs = Outputs {
            json: open(&self.json)?,
            csv: open(&self.csv)?,
            html: open(&self.html)?,
            pictures: Vec::new(),
            screen_taken: !screen.is_empty(),
        };
        if let Some(folder) = &self.plots {
            fs::create_dir_all(folder).map_err(|e| {
                Failure::input(format!("{}: can't make the folder: {e}", folder.display()))
            })?;
            for name in pictures {
                let draft = |end| Draft::open(&folder.join(format!("{name}.{end}")));
                outputs.pictures.push((draft("svg")?, draft("png")?));
            }
        }
        Ok(outputs)
    }
}

/// Everything that will be written.
pub struct Outputs {
    json: Option<Target>,
    csv: Option<Target>,
    html: Option<Target>,
    pictures: Vec<(Draft, Draft)>,
    /// Whether standard output is taken by a file format.
    pub screen_taken: bool,
}

/// How each output is made, when it is asked for.
pub struct Makers<'m> {
    /// Refuses what can't be JSON, where none is made.
    pub check: &'m dyn Fn() -> Result<(), ReportError>,
    /// JSON text.
    pub json: &'m dyn Fn() -> Result<String, ReportError>,
    /// CSV bytes.
    pub csv: &'m dyn Fn(&mut Vec<u8>) -> Result<(), ReportError>,
    /// The page.
    pub html: &'m dyn Fn() -> Result<String, ReportError>,
    /// SVG text of a picture.
    pub svg: &'m (dyn Fn(usize) -> Result<String, ReportError> + Sync),
    /// Writes a picture as PNG.
    pub png: &'m (dyn Fn(usize, &Path) -> Result<(), ReportError> + Sync),
    /// The screen, shown unless a file format takes standard output.
    pub screen: &'m dyn Fn() -> String,
}

impl Outputs {
    /// Makes everything, then puts it in its place and the screen on standard output.
    pub fn write(self, makers: &Makers) -> Result<(), Failure> {
        let failed = |e: ReportError| Failure::report(&e);
        let json = match self.json {
            Some(_) => (makers.json)().map_err(failed)?,
            None => {
                // a screen must not show what a file would refuse
                (makers.check)().map_err(failed)?;
                String::new()
            }
        };
        let mut csv = Vec::new();
        if self.csv.is_some() {
            (makers.csv)(&mut csv).map_err(failed)?;
        }
        let html = match self.html {
            Some(_) => (makers.html)().map_err(failed)?,
            None => String::new(),
        };
        for draft in drawn(self.pictures, makers)?.into_iter().flatten() {
            draft.place()?;
        }
        let texts = [
            (self.json, json.as_bytes()),
            (self.csv, &csv),
            (self.html, html.as_bytes()),
        ];
        for (target, bytes) in texts {
            if let Some(target) = target {
                target.write(bytes)?;
            }
        }
        if !self.screen_taken {
            say(&(makers.screen)())?;
        }
        Ok(())
    }
}

/// Draws pictures, on all cores.
fn drawn(pictures: Vec<(Draft, Draft)>, makers: &Makers) -> Result<Vec<[Draft; 2]>, Failure> {
    if pictures.is_empty() {
        // to share out nothing would start a thread for each core
        return Ok(Vec::new());
    }
    let (svg, png) = (makers.svg, makers.png);
    let each = pictures.into_par_iter().enumerate();
    let each = each.map(|(i, (mut text, mut bitmap))| {
        let (text_done, bitmap_done) = rayon::join(
            || text.fill(svg(i).map_err(|e| Failure::report(&e))?.as_bytes()),
            || bitmap.fill_by_path(|path| png(i, path)),
        );
        text_done.and(bitmap_done)?;
        Ok([text, bitmap])
    });
    each.collect()
}
