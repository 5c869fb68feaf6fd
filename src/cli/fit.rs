//! `baysoak fit`.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Args;

use baysoak::cycle::{ImportReport, LogOptions, import};
use baysoak::report::plot_fit::FitPicture;
use baysoak::report::{clean, fit_screen, json};
use baysoak::sheet::Sheet;
use baysoak::study::fit::{Drive, FitError, FitOptions, FitResult, Logged, study};

use super::inputs;
use super::output::{Draft, FAILED_RUN, Failure, Target, json_and_screen, tell};

/// Largest log read, bytes: days of driving.
const LARGEST_LOG: u64 = 256 * 1024 * 1024;
/// 0 degC [K].
const ZERO_CELSIUS_K: f64 = 273.15;

/// Arguments of `fit`.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  baysoak fit my-car.toml --log monday.csv tuesday.csv --hold-out wednesday.csv\n  \
                  baysoak fit my-car.toml --log drives/*.csv --hold-out 0.3 --out my-car-fitted.toml --plots pictures\n\n\
                  Columns are named in the sheet, [log.columns] sensor_f = \"Charge temp\", or guessed from their words;\n\
                  the report says how each was understood."
)]
pub struct Fit {
    /// Build sheet; numbers with ranges are what can be fitted
    #[arg(value_name = "SHEET")]
    sheet: PathBuf,
    /// Logs to fit (CSV)
    #[arg(long, value_name = "FILE", num_args = 1.., required = true)]
    log: Vec<PathBuf>,
    /// Logs to predict only; or a share of --log, such as 0.3: of the logs, or of one log's time
    #[arg(long, value_name = "FILE|SHARE", num_args = 1..)]
    hold_out: Vec<String>,
    /// Keys to fit, parted by commas; without it, the sheet's [log] fit = [...], else those that the logs can tell (12 at most)
    #[arg(long, value_name = "KEY,KEY", value_delimiter = ',')]
    inputs: Vec<String>,
    /// The day's temperature in degC, where the car's own outside sensor isn't to be believed
    #[arg(long, value_name = "DEGC", allow_negative_numbers = true)]
    ambient_c: Option<f64>,
    /// Starts of the search; the first is the sheet's likely values
    #[arg(long, value_name = "N", default_value_t = 2, value_parser = clap::value_parser!(u8).range(1..=20))]
    starts: u8,
    /// Write the findings as JSON, - for standard output
    #[arg(long, value_name = "FILE|-")]
    json: Option<PathBuf>,
    /// Write a new sheet with the narrowed ranges
    #[arg(long, value_name = "NEW_SHEET")]
    out: Option<PathBuf>,
    /// Write a picture of each drive (SVG and PNG) to this folder
    #[arg(long, value_name = "DIR")]
    plots: Option<PathBuf>,
    /// Show neither progress nor notes on standard error
    #[arg(long, short)]
    quiet: bool,
}

/// What is kept apart.
enum Apart {
    Nothing,
    Files(Vec<PathBuf>),
    Share(f64),
}

impl Fit {
    /// Fits and reports.
    pub fn carry_out(self) -> Result<ExitCode, Failure> {
        let sheet = inputs::sheet(Some(&self.sheet))?;
        if let Some(c) = self.ambient_c.filter(|c| !(-60.0..=60.0).contains(c)) {
            let text = format!(
                "--ambient-c {c}: outside -60 to 60 degC\n  hint: it is in degrees Celsius"
            );
            return Err(Failure::input(text));
        }
        let apart = self.apart()?;
        self.keep_inputs(&apart)?;
        let logs = self.logs(&sheet, &apart)?;
        let json_target = self.json.as_deref().map(Target::open).transpose()?;
        let new_sheet = self.out.as_deref().map(Draft::open).transpose()?;
        let pictures = self.open_pictures(&logs)?;
        if !self.quiet {
            for log in &logs {
                for note in &log.import.notes {
                    tell(&clean(&format!("{}: {note}", log.drive.name)));
                }
            }
        }
        let asked = self.inputs.iter().map(|k| k.trim().to_owned());
        let mut keys: Vec<String> = asked.filter(|k| !k.is_empty()).collect();
        if let (true, Some(log)) = (keys.is_empty(), &sheet.raw().log) {
            keys.clone_from(&log.fit);
        }
        let options = FitOptions {
            inputs: keys,
            starts: usize::from(self.starts),
            ..FitOptions::default()
        };
        let quiet = self.quiet;
        let result = study(&sheet, &logs, &options, &mut |line| {
            if !quiet {
                tell(line);
            }
        })
        .map_err(|e| failure(&e))?;
        let text = json::to_json(&result.findings).map_err(|e| Failure::report(&e))?;
        self.write_pictures(pictures, &logs, &result)?;
        if let Some(mut draft) = new_sheet {
            let (text, left_out) = result.narrowed(&sheet);
            for key in left_out.iter().filter(|_| !quiet) {
                tell(&clean(&format!(
                    "warning: {key}: no place in the new sheet; write its entry out in the sheet first"
                )));
            }
            draft.fill(text.as_bytes())?;
            draft.place()?;
        }
        json_and_screen(json_target, &text, || fit_screen::render(&result.findings))?;
        Ok(ExitCode::SUCCESS)
    }

    fn apart(&self) -> Result<Apart, Failure> {
        match self.hold_out.as_slice() {
            [] => Ok(Apart::Nothing),
            [one] if one.parse::<f64>().is_ok() => {
                let share = one.parse().unwrap_or(f64::NAN);
                if !(0.01..=0.9).contains(&share) {
                    let text =
                        format!("--hold-out {one}: a share from 0.01 to 0.9 is needed, or files");
                    return Err(Failure::input(text));
                }
                Ok(Apart::Share(share))
            }
            files => Ok(Apart::Files(files.iter().map(PathBuf::from).collect())),
        }
    }

    /// Refuses to write over what is read, and to predict what is fitted.
    fn keep_inputs(&self, apart: &Apart) -> Result<(), Failure> {
        let real = |p: &Path| p.canonicalize().unwrap_or_else(|_| p.to_owned());
        let mut read: Vec<PathBuf> = self.log.iter().map(|p| real(p)).collect();
        if let Apart::Files(files) = apart {
            if let Some(twice) = files.iter().find(|p| read.contains(&real(p))) {
                let text = format!(
                    "{}: is in --log and in --hold-out\n  hint: a drive that was fitted proves nothing",
                    twice.display()
                );
                return Err(Failure::input(text));
            }
            read.extend(files.iter().map(|p| real(p)));
        }
        read.push(real(&self.sheet));
        for output in [&self.json, &self.out].into_iter().flatten() {
            if read.contains(&real(output)) {
                let text = format!(
                    "{}: is read by this fit and would be written over\n  hint: give the result another name",
                    output.display()
                );
                return Err(Failure::input(text));
            }
        }
        Ok(())
    }

    fn logs(&self, sheet: &Sheet, apart: &Apart) -> Result<Vec<Logged>, Failure> {
        let options = LogOptions {
            columns: sheet
                .raw()
                .log
                .as_ref()
                .map_or_else(BTreeMap::new, |l| l.columns.clone()),
            ambient_k: self.ambient_c.map(|c| c + ZERO_CELSIUS_K),
        };
        let mut files: Vec<(&Path, bool)> = self.log.iter().map(|p| (p.as_path(), false)).collect();
        if let Apart::Files(apart) = apart {
            files.extend(apart.iter().map(|p| (p.as_path(), true)));
        }
        let mut logs = Vec::new();
        let mut told = Vec::new();
        for (path, held_out) in files {
            match read(path, &options) {
                Ok((drive, import)) => logs.push(Logged {
                    drive,
                    held_out,
                    import,
                }),
                Err(text) => told.push(text),
            }
        }
        if !told.is_empty() {
            return Err(Failure::input(told.join("\n")));
        }
        if let Apart::Share(share) = apart {
            keep_apart(&mut logs, *share);
        }
        Ok(logs)
    }

    fn open_pictures(&self, logs: &[Logged]) -> Result<Vec<(Draft, Draft)>, Failure> {
        let Some(folder) = &self.plots else {
            return Ok(Vec::new());
        };
        fs::create_dir_all(folder).map_err(|e| {
            Failure::input(format!("{}: can't make the folder: {e}", folder.display()))
        })?;
        let mut names: Vec<String> = Vec::new();
        for log in logs {
            let stem = Path::new(&log.drive.name).file_stem();
            let stem = stem.map_or_else(|| "drive".into(), |s| s.to_string_lossy().into_owned());
            let apart = if log.held_out { "-kept-apart" } else { "" };
            let same = names
                .iter()
                .filter(|n| n.starts_with(&format!("{stem}{apart}")))
                .count();
            let count = if same > 0 {
                format!("-{}", same + 1)
            } else {
                String::new()
            };
            names.push(format!("{stem}{apart}{count}"));
        }
        names
            .iter()
            .map(|name| {
                let draft = |end| Draft::open(&folder.join(format!("fit-{name}.{end}")));
                Ok((draft("svg")?, draft("png")?))
            })
            .collect()
    }

    fn write_pictures(
        &self,
        pictures: Vec<(Draft, Draft)>,
        logs: &[Logged],
        result: &FitResult,
    ) -> Result<(), Failure> {
        let mut done = Vec::new();
        for ((mut svg, mut png), (log, score)) in
            pictures.into_iter().zip(logs.iter().zip(&result.scores))
        {
            if log.drive.sensor().is_none() {
                continue;
            }
            let picture = FitPicture {
                drive: &log.drive,
                score,
            };
            svg.fill(picture.svg().map_err(|e| Failure::report(&e))?.as_bytes())?;
            png.fill_by_path(|path| picture.write_png(path))?;
            done.extend([svg, png]);
        }
        done.into_iter().try_for_each(Draft::place)
    }
}

fn failure(error: &FitError) -> Failure {
    match error {
        FitError::Failed { reason } => Failure::Told {
            text: reason.clone(),
            code: FAILED_RUN,
        },
        other => Failure::input(other.to_string()),
    }
}

fn read(path: &Path, options: &LogOptions) -> Result<(Drive, ImportReport), String> {
    let shown = path.display().to_string();
    let told = |e: std::io::Error| format!("{shown}: can't read: {e}");
    let size = fs::metadata(path).map_err(told)?.len();
    if size > LARGEST_LOG {
        return Err(format!("{shown}: has {size} bytes, above {LARGEST_LOG}"));
    }
    let bytes = fs::read(path).map_err(told)?;
    let logged = import(&bytes, &shown, options).map_err(|e| e.to_string())?;
    let import = logged.report.clone();
    let name = path
        .file_name()
        .map_or_else(|| shown.clone(), |n| n.to_string_lossy().into_owned());
    Ok((Drive::of(logged, &name), import))
}

/// Keeps a share apart: of the logs, evenly over their order; of one log, its end.
fn keep_apart(logs: &mut Vec<Logged>, share: f64) {
    if let [one] = logs.as_slice() {
        let whole = one.clone();
        let part = |range, held_out| Logged {
            drive: whole.drive.part(range),
            held_out,
            import: whole.import.clone(),
        };
        *logs = vec![
            part(0.0..1.0 - share, false),
            part(1.0 - share..f64::INFINITY, true),
        ];
        return;
    }
    for i in spread(logs.len(), share) {
        logs[i].held_out = true;
    }
}

/// A share of `count` places, two at least, spread evenly; at least one, and not all.
fn spread(count: usize, share: f64) -> impl Iterator<Item = usize> {
    // a small number of files
    let apart = ((share * count as f64).round() as usize).clamp(1, count - 1);
    (0..apart).map(move |i| (2 * i + 1) * count / (2 * apart))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_share_of_files_is_spread_evenly_and_leaves_some_to_fit() {
        for (count, share) in [(2, 0.5), (3, 0.9), (10, 0.3), (29, 0.31)] {
            let chosen: std::collections::BTreeSet<usize> = spread(count, share).collect();
            assert_eq!(chosen.len(), spread(count, share).count());
            assert!(
                !chosen.is_empty() && chosen.len() < count,
                "{count} {share}"
            );
            assert!(chosen.iter().all(|&i| i < count), "{count} {share}");
            let off = chosen.len() as f64 - share * count as f64;
            assert!(off.abs() <= 1.0, "{count} {share}: {chosen:?}");
        }
        assert_eq!(spread(10, 0.3).collect::<Vec<_>>(), [1, 5, 8]);
    }
}
