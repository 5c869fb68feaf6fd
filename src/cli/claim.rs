//! `baysoak claim`.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Args, ValueEnum};

use baysoak::report::{claim as screen, json};
use baysoak::sheet::SheetError;
use baysoak::study::claim::{ClaimOptions, ClaimSheet, build_of, judge_claim};

use super::inputs;
use super::output::{Failure, Target, json_and_screen};
use super::progress::Progress;

/// Arguments of `claim`.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  baysoak claim claim.toml\n  baysoak claim --quantity skin-temperature --percent -33 --part downpipe --thickness-mm 0.3\n  \
                  baysoak claim --quantity bay-air --kelvin -50 --catalogue coat-ceramic-both --at idle\n\n\
                  A claim file has the same keys: text, quantity, change_percent, change_k, reaches_c or change, part, zone, neighbour, at,\n\
                  and [treatment] with catalogue, or material, thickness_mm, conductivity_w_mk, emissivity, inside.\n\
                  Less is negative. Exit code 1: no direct reading holds in even a tenth of the draws."
)]
pub struct ClaimArgs {
    /// Claim file
    #[arg(value_name = "FILE")]
    file: Option<PathBuf>,
    /// Build sheet; without one, the built-in demonstration build
    #[arg(long, value_name = "SHEET")]
    sheet: Option<PathBuf>,
    /// What it is about
    #[arg(long, value_enum, conflicts_with = "file")]
    quantity: Option<QuantityWord>,
    /// Change, negative for less [%]
    #[arg(
        long,
        value_name = "X",
        allow_negative_numbers = true,
        conflicts_with = "file"
    )]
    percent: Option<f64>,
    /// Change of a temperature, negative for cooler [K]
    #[arg(
        long,
        value_name = "X",
        allow_negative_numbers = true,
        conflicts_with = "file"
    )]
    kelvin: Option<f64>,
    /// Temperature that is reached or borne [degC]
    #[arg(
        long,
        value_name = "X",
        allow_negative_numbers = true,
        conflicts_with = "file"
    )]
    reaches: Option<f64>,
    /// Less or more, where no number is claimed
    #[arg(long, value_enum, conflicts_with = "file")]
    change: Option<SideWord>,
    /// Exhaust part that is treated; all in the bay without it
    #[arg(long, value_name = "NAME", conflicts_with = "file")]
    part: Option<String>,
    /// Zone whose air is meant
    #[arg(long, value_name = "NAME", conflicts_with = "file")]
    zone: Option<String>,
    /// Nearby part that is meant
    #[arg(long, value_name = "NAME", conflicts_with = "file")]
    neighbour: Option<String>,
    /// When; two points that suit the quantity without it
    #[arg(long, value_enum, conflicts_with = "file")]
    at: Option<AtWord>,
    /// A treatment of the catalogue, as in `list treatments`
    #[arg(long, value_name = "NAME", conflicts_with = "file")]
    catalogue: Option<String>,
    /// A layer material of the catalogue, for what isn't stated
    #[arg(long, value_name = "NAME", conflicts_with = "file")]
    material: Option<String>,
    /// Stated thickness [mm]
    #[arg(long, value_name = "X", conflicts_with = "file")]
    thickness_mm: Option<f64>,
    /// Stated conductivity [W/m/K]
    #[arg(long, value_name = "X", conflicts_with = "file")]
    conductivity: Option<f64>,
    /// Stated emissivity
    #[arg(long, value_name = "X", conflicts_with = "file")]
    emissivity: Option<f64>,
    /// The layer is on the gas side
    #[arg(long, conflicts_with = "file")]
    inside: bool,
    /// Draws of everything that isn't stated
    #[arg(long, value_name = "N", default_value_t = 100)]
    draws: usize,
    /// Seed of the draws
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// Write the findings as JSON, - for standard output
    #[arg(long, value_name = "FILE|-")]
    json: Option<PathBuf>,
    /// Show no progress on standard error
    #[arg(long)]
    quiet: bool,
}

/// A choice on the command line and in a file, by the same word.
trait ValueWord {
    fn word(&self) -> String;
}

impl<T: ValueEnum> ValueWord for T {
    fn word(&self) -> String {
        self.to_possible_value()
            .map_or_else(String::new, |v| v.get_name().to_owned())
    }
}

/// What a claim is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum QuantityWord {
    /// Temperature of a part's surface
    SkinTemperature,
    /// Heat that a part gives off
    HeatFlow,
    /// Air in the bay
    BayAir,
    /// Air in the intake
    IntakeAir,
    /// Engine power
    Power,
    /// Gas temperature into the turbine
    TurbineInlet,
    /// Energy that reaches the turbine
    Spool,
    /// How easily the gas flows
    GasFlow,
    /// Temperature that the treatment bears
    ServiceTemperature,
    /// Temperature of something near the heat
    NeighbourTemperature,
}

/// A change without a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum SideWord {
    /// Less, cooler
    Less,
    /// More, hotter
    More,
}

/// When.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum AtWord {
    /// Steady 80 km/h
    Country,
    /// Steady 130 km/h
    Motorway,
    /// Steady 100 km/h uphill with a trailer
    Hill,
    /// Half a minute of full load after a motorway drive
    FullLoad,
    /// Idling, minutes 5 to 10 after a motorway drive
    Idle,
    /// Parked, minutes 5 to 10 after a motorway drive
    KeyOff,
    /// The built-in town cycle, its second half
    Town,
    /// The built-in track session, second half of its laps
    Track,
}

/// Keys of a claim file and their flags.
const FLAGS: [(&str, &str); 9] = [
    ("change_percent", "--percent"),
    ("change_k", "--kelvin"),
    ("reaches_c", "--reaches"),
    ("treatment.catalogue", "--catalogue"),
    ("treatment.material", "--material"),
    ("treatment.thickness_mm", "--thickness-mm"),
    ("treatment.conductivity_w_mk", "--conductivity"),
    ("treatment.emissivity", "--emissivity"),
    ("change (less or more)", "--change less or more"),
];

/// Problems by the flags that the user wrote.
fn of_flags(error: &SheetError) -> String {
    let flagged = |text: &str| {
        FLAGS
            .iter()
            .fold(text.to_owned(), |t, (key, flag)| t.replace(key, flag))
    };
    let told = error.problems.iter().map(|p| {
        let flag = match FLAGS.iter().find(|(key, _)| *key == p.key) {
            Some((_, flag)) => (*flag).to_owned(),
            None => format!("--{}", p.key),
        };
        let value = if p.value.is_empty() { "" } else { " " };
        let mut out = format!("{flag}{value}{}: {}", p.value, p.message);
        if !p.hint.is_empty() {
            out.push_str(&format!("\n  hint: {}", flagged(&p.hint)));
        }
        out
    });
    told.collect::<Vec<_>>().join("\n")
}

impl ClaimArgs {
    /// The claim file that the flags stand for, so that both are checked alike.
    fn flags(&self) -> String {
        let mut text = String::new();
        let mut put = |key: &str, value: Option<String>| {
            if let Some(value) = value {
                text.push_str(&format!("{key} = {value}\n"));
            }
        };
        let number = |v: Option<f64>| v.map(|v| format!("{v:?}").to_lowercase());
        // a JSON string is a TOML string
        let quoted = |v: &Option<String>| {
            v.as_ref()
                .map(|v| serde_json::Value::from(v.as_str()).to_string())
        };
        let word = |v: Option<&dyn ValueWord>| v.map(|v| format!("\"{}\"", v.word()));
        put("quantity", word(self.quantity.as_ref().map(|q| q as _)));
        put("change_percent", number(self.percent));
        put("change_k", number(self.kelvin));
        put("reaches_c", number(self.reaches));
        put("change", word(self.change.as_ref().map(|c| c as _)));
        put("part", quoted(&self.part));
        put("zone", quoted(&self.zone));
        put("neighbour", quoted(&self.neighbour));
        put("at", word(self.at.as_ref().map(|a| a as _)));
        put("treatment.catalogue", quoted(&self.catalogue));
        put("treatment.material", quoted(&self.material));
        put("treatment.thickness_mm", number(self.thickness_mm));
        put("treatment.conductivity_w_mk", number(self.conductivity));
        put("treatment.emissivity", number(self.emissivity));
        put("treatment.inside", self.inside.then(|| "true".to_owned()));
        text
    }

    /// Judges and reports.
    pub fn carry_out(self) -> Result<ExitCode, Failure> {
        let bad = |e: SheetError| Failure::input(e.to_string());
        let sheet = inputs::sheet(self.sheet.as_deref())?;
        let build = build_of(&sheet).map_err(bad)?;
        let claim = match &self.file {
            Some(path) => {
                let name = path.display().to_string();
                ClaimSheet::parse(&inputs::text(path)?, &name, &build)
            }
            None => ClaimSheet::parse(&self.flags(), "", &build),
        };
        let claim = claim.map_err(|e| match self.file {
            Some(_) => bad(e),
            None => Failure::input(of_flags(&e)),
        })?;
        let target = self.json.as_deref().map(Target::open).transpose()?;
        let options = ClaimOptions {
            draws: self.draws,
            seed: self.seed,
        };
        let progress = Progress::new(self.quiet);
        let report = judge_claim(&sheet, &claim, options, &|done| {
            progress.update("drawing", done)
        });
        progress.finish();
        let report = report.map_err(|e| Failure::coded(&e, e.exit_code()))?;
        let text = json::to_json(&report).map_err(|e| Failure::report(&e))?;
        json_and_screen(target, &text, || screen::render(&report))?;
        Ok(ExitCode::from(u8::from(!report.can_hold)))
    }
}
