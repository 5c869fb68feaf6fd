//! `baysoak rank`.

use std::process::ExitCode;

use clap::{Args, ValueEnum};

use baysoak::report::{csv, html, json, plot, rank_terminal};
use baysoak::sheet::raw::Age;
use baysoak::study::draws::Drive;
use baysoak::study::rank::{Aim, RankSettings, rank};
use baysoak::study::run::RunOptions;

use super::compare::{USUAL_DRAWS, settings, told};
use super::output::Failure;
use super::progress::Progress;
use super::shared::{Makers, Shared};

/// Arguments of `rank`.
#[derive(Debug, Args)]
#[command(
    after_help = "Prices are those of the tables and of the sheet, in EUR as an example.\n\n\
                  Examples:\n  baysoak rank --budget 300\n  \
                  baysoak rank my-car.toml --budget 150 --aim 'neighbour:right drive boot'\n  \
                  baysoak rank my-car.toml --budget 500 --aim bay --part downpipe --part turbine"
)]
pub struct Rank {
    #[command(flatten)]
    shared: Shared,
    /// Most that a set may cost, at likely prices
    #[arg(long, value_name = "N")]
    budget: f64,
    /// What to improve: intake, power, bay, turbine, or neighbour:NAME for a part near the heat
    #[arg(long, value_name = "AIM", default_value = "intake", value_parser = aim)]
    aim: Aim,
    /// Exhaust part that may be treated, may be repeated; without it, all
    #[arg(long = "part", value_name = "NAME")]
    parts: Vec<String>,
    /// Treatment or measure to choose from, may be repeated; without it, all
    #[arg(long = "only", value_name = "ID")]
    only: Vec<String>,
    /// How long treatments have been in use when they are judged
    #[arg(long, value_enum, default_value_t)]
    age: Worn,
    /// Draws for the best sets, for bands and ties; 0 for none
    #[arg(long, value_name = "N", default_value_t = USUAL_DRAWS)]
    draws: usize,
}

/// How long a treatment has been in use.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, ValueEnum)]
enum Worn {
    /// Just fitted
    New,
    /// After a season: soaked, dusty, tarnished, cracked
    #[default]
    Season,
}

fn aim(text: &str) -> Result<Aim, String> {
    Aim::parse(text).ok_or_else(|| "one of intake, power, bay, turbine, neighbour:NAME".to_owned())
}

impl Rank {
    /// Ranks and reports.
    pub fn carry_out(self) -> Result<ExitCode, Failure> {
        let (sheet, cycle) = self.shared.load()?;
        let outputs = self.shared.open(&["differences"])?;
        let progress = Progress::new(self.shared.quiet);
        let drive = Drive {
            cycle: &cycle,
            options: &RunOptions::default(),
        };
        let question = RankSettings {
            budget: self.budget,
            aim: self.aim,
            parts: self.parts,
            only: self.only,
            age: match self.age {
                Worn::New => Age::New,
                Worn::Season => Age::Season,
            },
            draws: settings(self.draws, self.shared.seed),
        };
        let ranked = rank(&sheet, drive, &question, &|what, done| {
            progress.update(what, done);
        });
        progress.finish();
        let ranked = ranked.map_err(|e| told(&e))?;
        let comparison = &ranked.compared.comparison;
        let units = self.shared.units.into();
        outputs.write(&Makers {
            check: &|| json::check(&ranked.ranking),
            json: &|| json::to_json(&ranked.ranking),
            csv: &|out| csv::write_comparison(comparison, out),
            html: &|| html::rank(&ranked, units),
            svg: &|_| plot::differences_svg(comparison, units),
            png: &|_, path| plot::write_differences_png(comparison, units, path),
            screen: &|| rank_terminal::render(&ranked, units),
        })?;
        let chosen = ranked.ranking.sets.iter().find(|s| s.recommended);
        let over = chosen.is_some_and(|s| s.over.iter().any(|o| o.margin_k < 0.0));
        Ok(ExitCode::from(u8::from(over)))
    }
}
