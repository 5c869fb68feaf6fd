//! `baysoak hot-day`.

use std::process::ExitCode;

use clap::Args;

use baysoak::cycle::{Cycle, CycleError};
use baysoak::report::plot::HotPicture;
use baysoak::report::{advice_terminal, csv, hot_day_terminal, html, json, plot, soak_terminal};
use baysoak::sheet::{AS_IT_IS, DaySheet, Input, Sheet};
use baysoak::study::advice::advice;
use baysoak::study::compare::{Candidate, candidate};
use baysoak::study::draws::StudyError;
use baysoak::study::hot_day::{Grid, HotDay, Situation, hot_day};
use baysoak::study::soak::{Parking, fan_run_on, parked, soak, usual_drive};

use super::compare::{settings, told};
use super::output::{Failure, say};
use super::progress::Progress;
use super::shared::{Makers, Shared};

/// Word for all options of the sheet.
const ALL: &str = "all";

/// Minutes parked when none are given: until most can be touched, and about the worst for a restart.
const SOAK_MIN: f64 = 60.0;
const ADVICE_MIN: f64 = 15.0;

/// Arguments of `hot-day`.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  baysoak hot-day\n  baysoak hot-day my-car.toml --option all --ambient 30,38 --situation queue,restart:25\n  \
                  baysoak hot-day my-car.toml --draws 20 --plots pictures"
)]
pub struct HotDayCommand {
    #[command(flatten)]
    shared: Shared,
    /// Option of the sheet to put beside the car as it is, may be repeated; `all` for all of them
    #[arg(long = "option", value_name = "NAME")]
    options: Vec<String>,
    /// Ambient temperatures, degC
    #[arg(
        long,
        value_name = "C,..",
        value_delimiter = ',',
        allow_negative_numbers = true
    )]
    ambient: Vec<f64>,
    /// Relative humidities, %
    #[arg(long, value_name = "%,..", value_delimiter = ',')]
    humidity: Vec<f64>,
    /// Altitudes, m
    #[arg(
        long,
        value_name = "M,..",
        value_delimiter = ',',
        allow_negative_numbers = true
    )]
    altitude: Vec<f64>,
    /// Situations: motorway, hill, track, queue, restart:MINUTES
    #[arg(long, value_name = "NAME,..", value_delimiter = ',', value_parser = situation)]
    situation: Vec<Situation>,
    /// Instead of the grid: minute by minute after key-off, then a restart; --cycle is the drive before it
    #[arg(long)]
    soak: bool,
    /// Instead of the grid: gentle minutes before key-off, and what each measure buys at the restart
    #[arg(long, conflicts_with = "soak")]
    advice: bool,
    /// Minutes parked; without it, 60 for --soak and 15 for --advice
    #[arg(long, value_name = "MIN", value_parser = minutes)]
    parked: Option<f64>,
    /// Bonnet open while parked
    #[arg(long)]
    bonnet_open: bool,
    /// Wind while parked, m/s; without it, the day's
    #[arg(long, value_name = "M/S", value_parser = wind)]
    wind: Option<f64>,
    /// Sun on a horizontal surface, W/m2; without it, the day's
    #[arg(long, value_name = "W/M2", value_parser = sun)]
    sun: Option<f64>,
    /// Longest run-on of the fan after key-off, s; without it, the sheet's
    #[arg(long, value_name = "S", value_parser = run_on)]
    run_on: Option<f64>,
    /// Draws that all cells share, for bands from the 10 to the 90 % point; 0 for none
    #[arg(long, value_name = "N", default_value_t = 0)]
    draws: usize,
}

fn situation(text: &str) -> Result<Situation, String> {
    Situation::parse(text)
        .ok_or_else(|| "one of motorway, hill, track, queue, restart:MINUTES (1 to 600)".to_owned())
}

fn between(text: &str, low: f64, high: f64) -> Result<f64, String> {
    let value: f64 = text.parse().map_err(|_| "not a number".to_owned())?;
    if (low..=high).contains(&value) {
        return Ok(value);
    }
    Err(format!("outside {low} to {high}"))
}

fn minutes(text: &str) -> Result<f64, String> {
    between(text, 1.0, 600.0)
}

fn wind(text: &str) -> Result<f64, String> {
    between(text, 0.0, 30.0)
}

fn sun(text: &str) -> Result<f64, String> {
    between(text, 0.0, 1400.0)
}

fn run_on(text: &str) -> Result<f64, String> {
    between(text, 0.0, 3600.0)
}

/// The car as it is, and the options that are asked for.
fn chosen(sheet: &Sheet, names: &[String]) -> Result<Vec<Candidate>, StudyError> {
    let options = sheet.options();
    if let Some(unknown) = names
        .iter()
        .find(|n| *n != ALL && !options.iter().any(|o| o.name == **n))
    {
        let known: Vec<&str> = options.iter().map(|o| o.name.as_str()).collect();
        return Err(StudyError::Nothing {
            what: format!("{}: no option called {unknown}", sheet.file()),
            hint: format!("one of: all, {}", known.join(", ")),
        });
    }
    let all = names.iter().any(|n| n == ALL);
    let wanted = options
        .iter()
        .enumerate()
        .filter(|(i, o)| *i == 0 || all || names.contains(&o.name));
    wanted.map(|(_, o)| candidate(sheet, o)).collect()
}

fn or_usual<T: Clone>(given: &[T], usual: Vec<T>) -> Vec<T> {
    if given.is_empty() {
        usual
    } else {
        given.to_vec()
    }
}

impl HotDayCommand {
    /// Runs and reports.
    pub fn carry_out(self) -> Result<ExitCode, Failure> {
        let (sheet, cycle) = self.shared.load()?;
        let sheet = self.adjusted(sheet).map_err(|e| told(&e))?;
        if self.soak {
            return self.after_key_off(&sheet, &cycle);
        }
        if self.advice {
            return self.advise(&sheet, &cycle);
        }
        let candidates = chosen(&sheet, &self.options).map_err(|e| told(&e))?;
        self.grid(&candidates)
    }

    /// The sheet with the sun and the fan that are asked for.
    fn adjusted(&self, sheet: Sheet) -> Result<Sheet, StudyError> {
        let mut sheet = sheet;
        if let Some(sun) = self.sun {
            let own = sheet.raw().day.clone().unwrap_or_default();
            sheet = sheet.with_day(DaySheet {
                sun_w_m2: Some(Input::point(sun)),
                ..own
            });
        }
        if let Some(seconds) = self.run_on {
            sheet = candidate(&sheet, &fan_run_on(seconds))?.sheet;
        }
        Ok(sheet)
    }

    fn after_key_off(&self, sheet: &Sheet, cycle: &Cycle) -> Result<ExitCode, Failure> {
        let sheet = match self.options.as_slice() {
            [] => sheet.clone(),
            [name] if name != ALL => {
                let both = chosen(sheet, &self.options).map_err(|e| told(&e))?;
                let found = both.into_iter().find(|c| c.name == *name);
                found.map_or_else(|| sheet.clone(), |c| c.sheet)
            }
            _ => {
                return Err(Failure::input(
                    "--option: a soak shows one car\n  hint: name one option, or ask for --advice",
                ));
            }
        };
        let (drive, parking) = self.drive(cycle, SOAK_MIN)?;
        let bad = |e: CycleError| Failure::input(e.to_string());
        let cycle = parked(&drive, None, &parking).map_err(bad)?;
        let outputs = self.shared.open(&[plot::SOAK_PICTURE])?;
        let found = soak(&sheet, &cycle, &parking).map_err(|e| Failure::Told {
            text: e.to_string(),
            code: e.exit_code(),
        })?;
        let units = self.shared.units.into();
        let screen_taken = outputs.screen_taken;
        outputs.write(&Makers {
            json: &|| json::to_json(&found),
            csv: &|out| csv::write_soak(&found, out),
            html: &|| html::soak(&found, units),
            svg: &|_| plot::soak_svg(&found, units),
            png: &|_, path| plot::write_soak_png(&found, units, path),
        })?;
        if !screen_taken {
            say(&soak_terminal::render(&found, units))?;
        }
        let over = found.margins.iter().any(|m| m.margin_k < 0.0);
        Ok(ExitCode::from(u8::from(over)))
    }

    /// The drive before key-off, and how the car is parked.
    fn drive(&self, cycle: &Cycle, usual_min: f64) -> Result<(Cycle, Parking), Failure> {
        let parking = Parking {
            minutes: self.parked.unwrap_or(usual_min),
            bonnet_open: self.bonnet_open,
            wind_m_s: self.wind,
            ..Parking::default()
        };
        let drive = match &self.shared.cycle {
            Some(_) => cycle.clone(),
            None => usual_drive().map_err(|e| Failure::input(e.to_string()))?,
        };
        Ok((drive, parking))
    }

    fn advise(&self, sheet: &Sheet, cycle: &Cycle) -> Result<ExitCode, Failure> {
        if !self.options.is_empty() {
            return Err(Failure::input(
                "--option: advice looks at every option of the sheet\n  hint: leave it out",
            ));
        }
        let (drive, parking) = self.drive(cycle, ADVICE_MIN)?;
        let parking = Parking {
            restart_min: 1.0,
            ..parking
        };
        let outputs = self.shared.open(&[plot::ADVICE_PICTURE])?;
        let progress = Progress::new(self.shared.quiet);
        let update = |done| progress.update("trying measures", done);
        let found = advice(sheet, &drive, &parking, &update);
        progress.finish();
        let found = found.map_err(|e| told(&e))?;
        let units = self.shared.units.into();
        let screen_taken = outputs.screen_taken;
        outputs.write(&Makers {
            json: &|| json::to_json(&found),
            csv: &|out| csv::write_advice(&found, out),
            html: &|| html::hot_day_advice(&found, units),
            svg: &|_| plot::advice_svg(&found, units),
            png: &|_, path| plot::write_advice_png(&found, units, path),
        })?;
        if !screen_taken {
            say(&advice_terminal::render(&found, units))?;
        }
        let own = found.measures.iter().find(|b| b.name == AS_IT_IS);
        let over = own.is_some_and(|b| b.over.iter().any(|o| o.margin_k < 0.0));
        Ok(ExitCode::from(u8::from(over)))
    }

    fn grid(&self, candidates: &[Candidate]) -> Result<ExitCode, Failure> {
        if self.shared.cycle.is_some() {
            return Err(Failure::input(
                "--cycle: the grid has drives of its own\n  hint: choose them with --situation",
            ));
        }
        let usual = Grid::default();
        let grid = Grid {
            ambients_c: or_usual(&self.ambient, usual.ambients_c),
            humidities_percent: or_usual(&self.humidity, usual.humidities_percent),
            altitudes_m: or_usual(&self.altitude, usual.altitudes_m),
            situations: or_usual(&self.situation, usual.situations),
        };
        let outputs = self.shared.open(&HotPicture::ALL.map(HotPicture::name))?;
        let progress = Progress::new(self.shared.quiet);
        let update = |done| progress.update("hot day", done);
        let draws = settings(self.draws, self.shared.seed);
        let found = hot_day(candidates, &grid, draws, &update);
        progress.finish();
        let found = found.map_err(|e| told(&e))?;
        let units = self.shared.units.into();
        let screen_taken = outputs.screen_taken;
        outputs.write(&Makers {
            json: &|| json::to_json(&found),
            csv: &|out| csv::write_hot_day(&found, out),
            html: &|| html::hot_day(&found, units),
            svg: &|i| plot::hot_day_svg(HotPicture::ALL[i], &found, units),
            png: &|i, path| plot::write_hot_day_png(HotPicture::ALL[i], &found, units, path),
        })?;
        if !screen_taken {
            say(&hot_day_terminal::render(&found, units))?;
        }
        Ok(ExitCode::from(u8::from(over_a_limit(&found))))
    }
}

fn over_a_limit(found: &HotDay) -> bool {
    let tightest = found.cells.iter().filter_map(|c| c.tightest.as_ref());
    tightest.into_iter().any(|m| m.margin_k < 0.0)
}
