//! `baysoak hot-day`.

use std::fs::File;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use baysoak::cycle::{Cycle, CycleError, Hour, read_weather};
use baysoak::report::plot::HotPicture;
use baysoak::report::{advice_terminal, csv, hot_day_terminal, html, json, plot, soak_terminal};
use baysoak::sheet::{AS_IT_IS, Sheet};
use baysoak::study::advice::advice;
use baysoak::study::compare::Candidate;
use baysoak::study::hot_day::question::{
    ADVICE_MIN, ALL, SOAK_MIN, USUAL_SWING_K, adjusted, candidates, clear_day, date, latitude,
    minutes, run_on, situation, sun, swing, wind,
};
use baysoak::study::hot_day::{Grid, HotDay, Situation, by_hour, hot_day};
use baysoak::study::soak::{Parking, parked, soak, usual_drive};

use super::compare::{settings, told};
use super::output::Failure;
use super::progress::Progress;
use super::shared::{Makers, Shared};

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
    /// Instead of the grid: hourly weather, CSV with hour, ambient_c, humidity_percent, and where known
    /// pressure_kpa, sun_w_m2, wind_m_s
    #[arg(long, value_name = "FILE.csv", conflicts_with_all = ["soak", "advice"])]
    weather: Option<PathBuf>,
    /// Instead of the grid: a clear day by the hour at this latitude, north positive; the day's ambient is
    /// its highest temperature
    #[arg(long, value_name = "DEG", requires = "date", conflicts_with_all = ["soak", "advice", "weather"],
          allow_negative_numbers = true, value_parser = latitude)]
    latitude: Option<f64>,
    /// Date of the clear day
    #[arg(long, value_name = "YYYY-MM-DD", requires = "latitude", value_parser = date)]
    date: Option<(i32, u32, u32)>,
    /// Lowest temperature of the clear day below the highest, K
    #[arg(long, value_name = "K", default_value_t = USUAL_SWING_K, value_parser = swing)]
    swing: f64,
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
        let sheet = adjusted(sheet, self.sun, self.run_on).map_err(|e| told(&e))?;
        self.misplaced()?;
        if self.soak {
            return self.after_key_off(&sheet, &cycle);
        }
        if self.advice {
            return self.advise(&sheet, &cycle);
        }
        let candidates = candidates(&sheet, &self.options).map_err(|e| told(&e))?;
        if self.shared.cycle.is_some() {
            return Err(Failure::input(
                "--cycle: situations have drives of their own\n  hint: choose them with --situation",
            ));
        }
        let hours = self.hours(&sheet)?;
        let grid_only =
            !(self.ambient.is_empty() && self.humidity.is_empty() && self.altitude.is_empty());
        if hours.is_some() && grid_only {
            return Err(Failure::input(
                "--ambient, --humidity, --altitude: the hours bring their own air\n  hint: leave them out",
            ));
        }
        self.situations(&candidates, hours.as_deref())
    }

    /// The hours to look at, where a weather file or a clear day is asked for.
    fn hours(&self, sheet: &Sheet) -> Result<Option<Vec<Hour>>, Failure> {
        if let Some(path) = &self.weather {
            let shown = path.display().to_string();
            let file = File::open(path)
                .map_err(|e| Failure::input(format!("{shown}: can't read: {e}")))?;
            let hours = read_weather(file, &shown);
            return hours.map(Some).map_err(|e| Failure::input(e.to_string()));
        }
        let (Some(latitude_deg), Some(date)) = (self.latitude, self.date) else {
            return Ok(None);
        };
        let clear = clear_day(sheet, latitude_deg, date, self.swing);
        let clear = clear.map_err(|e| Failure::input(e.to_string()))?;
        Ok(Some(clear.hours()))
    }

    /// Refuses flags that would do nothing.
    fn misplaced(&self) -> Result<(), Failure> {
        let after_key_off = self.soak || self.advice;
        let parking = [
            ("--parked", self.parked.is_some()),
            ("--bonnet-open", self.bonnet_open),
            ("--wind", self.wind.is_some()),
        ];
        let situations = [
            ("--ambient", !self.ambient.is_empty()),
            ("--humidity", !self.humidity.is_empty()),
            ("--altitude", !self.altitude.is_empty()),
            ("--situation", !self.situation.is_empty()),
            ("--draws", self.draws > 0),
        ];
        let (flags, hint) = if after_key_off {
            (
                situations.as_slice(),
                "--soak and --advice are for the day of the sheet or of --day",
            )
        } else {
            (parking.as_slice(), "it is for --soak and --advice")
        };
        match flags.iter().find(|(_, given)| *given) {
            Some((flag, _)) => Err(Failure::input(format!(
                "{flag}: does nothing here\n  hint: {hint}"
            ))),
            None => Ok(()),
        }
    }

    fn after_key_off(&self, sheet: &Sheet, cycle: &Cycle) -> Result<ExitCode, Failure> {
        let sheet = match self.options.as_slice() {
            [] => sheet.clone(),
            [name] if name != ALL => {
                let both = candidates(sheet, &self.options).map_err(|e| told(&e))?;
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
        let found =
            soak(&sheet, &cycle, &parking).map_err(|e| Failure::coded(&e, e.exit_code()))?;
        let units = self.shared.units.into();
        outputs.write(&Makers {
            check: &|| json::check(&found),
            json: &|| json::to_json(&found),
            csv: &|out| csv::write_soak(&found, out),
            html: &|| html::soak(&found, units),
            svg: &|_| plot::soak_svg(&found, units),
            png: &|_, path| plot::write_soak_png(&found, units, path),
            screen: &|| soak_terminal::render(&found, units),
        })?;
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
        outputs.write(&Makers {
            check: &|| json::check(&found),
            json: &|| json::to_json(&found),
            csv: &|out| csv::write_advice(&found, out),
            html: &|| html::hot_day_advice(&found, units),
            svg: &|_| plot::advice_svg(&found, units),
            png: &|_, path| plot::write_advice_png(&found, units, path),
            screen: &|| advice_terminal::render(&found, units),
        })?;
        let own = found.measures.iter().find(|b| b.name == AS_IT_IS);
        let over = own.is_some_and(|b| b.over.iter().any(|o| o.margin_k < 0.0));
        Ok(ExitCode::from(u8::from(over)))
    }

    fn situations(
        &self,
        candidates: &[Candidate],
        hours: Option<&[Hour]>,
    ) -> Result<ExitCode, Failure> {
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
        let found = match hours {
            Some(hours) => by_hour(candidates, &grid.situations, hours, draws, &update),
            None => hot_day(candidates, &grid, draws, &update),
        };
        progress.finish();
        let found = found.map_err(|e| told(&e))?;
        let units = self.shared.units.into();
        outputs.write(&Makers {
            check: &|| json::check(&found),
            json: &|| json::to_json(&found),
            csv: &|out| csv::write_hot_day(&found, out),
            html: &|| html::hot_day(&found, units),
            svg: &|i| plot::hot_day_svg(HotPicture::ALL[i], &found, units),
            png: &|i, path| plot::write_hot_day_png(HotPicture::ALL[i], &found, units, path),
            screen: &|| hot_day_terminal::render(&found, units),
        })?;
        Ok(ExitCode::from(u8::from(over_a_limit(&found))))
    }
}

fn over_a_limit(found: &HotDay) -> bool {
    let tightest = found.cells.iter().filter_map(|c| c.tightest.as_ref());
    tightest.into_iter().any(|m| m.margin_k < 0.0)
}
