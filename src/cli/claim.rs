//! `baysoak claim`.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Args, ValueEnum};

use baysoak::report::{claim as screen, json};
use baysoak::sheet::Input;
use baysoak::study::claim::input::KnownSheet;
use baysoak::study::claim::point::At;
use baysoak::study::claim::{ClaimOptions, ClaimSheet, Quantity, build_of, judge_claim};

use super::inputs;
use super::output::{Failure, Target, say};

/// Arguments of `claim`.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  baysoak claim claim.toml\n  baysoak claim --quantity skin-temperature --percent -33 --part downpipe --thickness-mm 0.3\n  \
                  baysoak claim --quantity bay-air --kelvin -50 --catalogue coat-ceramic-both --at idle\n\n\
                  A claim file has the same keys: quantity, change_percent, change_k or reaches_c, part, zone, neighbour, at,\n\
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
    /// Exhaust part that is treated; all in the bay without it
    #[arg(long, value_name = "NAME", conflicts_with = "file")]
    part: Option<String>,
    /// Zone whose air is meant
    #[arg(long, value_name = "NAME", conflicts_with = "file")]
    zone: Option<String>,
    /// Nearby part that is meant
    #[arg(long, value_name = "NAME", conflicts_with = "file")]
    neighbour: Option<String>,
    /// When; steady motorway and idling after it without it
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
}

macro_rules! word_enum {
    ($(#[$doc:meta])* $name:ident for $of:ident { $($(#[$own:meta])* $variant:ident),* $(,)? }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
        enum $name { $($(#[$own])* $variant,)* }

        impl From<$name> for $of {
            fn from(word: $name) -> Self {
                match word { $($name::$variant => Self::$variant,)* }
            }
        }
    };
}

word_enum! {
    /// What a claim is about.
    QuantityWord for Quantity {
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
}

word_enum! {
    /// When.
    AtWord for At {
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
    }
}

impl ClaimArgs {
    /// The claim that the flags make.
    fn flags(&self) -> ClaimSheet {
        let point = |v: Option<f64>| v.map(Input::point);
        ClaimSheet {
            text: None,
            quantity: self.quantity.map(Quantity::from),
            change_percent: self.percent,
            change_k: self.kelvin,
            reaches_c: self.reaches,
            part: self.part.clone(),
            zone: self.zone.clone(),
            neighbour: self.neighbour.clone(),
            at: self.at.map(At::from),
            treatment: Some(KnownSheet {
                catalogue: self.catalogue.clone(),
                material: self.material.clone(),
                thickness_mm: point(self.thickness_mm),
                conductivity_w_mk: point(self.conductivity),
                emissivity: point(self.emissivity),
                inside: self.inside.then_some(true),
            }),
        }
    }

    /// Judges and reports.
    pub fn carry_out(self) -> Result<ExitCode, Failure> {
        let bad = |e: baysoak::sheet::SheetError| Failure::input(e.to_string());
        let sheet = inputs::sheet(self.sheet.as_deref())?;
        let build = build_of(&sheet).map_err(bad)?;
        let claim = match &self.file {
            Some(path) => {
                let name = path.display().to_string();
                ClaimSheet::parse(&inputs::text(path)?, &name, &build)
            }
            None => self.flags().check(&build),
        };
        let claim = claim.map_err(bad)?;
        let target = self.json.as_deref().map(Target::open).transpose()?;
        let options = ClaimOptions {
            draws: self.draws,
            seed: self.seed,
        };
        let report = judge_claim(&sheet, &claim, options, &|_| {}).map_err(|e| Failure::Told {
            text: e.to_string(),
            code: e.exit_code(),
        })?;
        let text = json::to_json(&report).map_err(|e| Failure::report(&e))?;
        let screen_taken = matches!(target, Some(Target::Screen));
        if let Some(target) = target {
            target.write(text.as_bytes())?;
        }
        if !screen_taken {
            say(&screen::render(&report))?;
        }
        Ok(ExitCode::from(u8::from(!report.can_hold)))
    }
}
