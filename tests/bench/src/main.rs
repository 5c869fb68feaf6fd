//! Times baysoak: its own methods on whole runs, and other integrators on the same right-hand side.
//!
//! `cargo run --release --manifest-path tests/bench/Cargo.toml -- --help`

mod cases;
mod grid;
mod growth;
mod page;
mod peers;
mod process;
mod runs;
mod table;

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Args, Parser, Subcommand};

/// What went wrong, in words.
pub type Fault = Box<dyn std::error::Error + Send + Sync>;

#[derive(Debug, Parser)]
#[command(about = "Times baysoak beside other integrators on the same right-hand side")]
struct Cli {
    #[command(subcommand)]
    command: Option<Command>,
    #[command(flatten)]
    settings: Settings,
}

/// Settings of all parts.
#[derive(Debug, Clone, Args)]
pub struct Settings {
    /// Times each measurement is repeated; the least counts (processor time, except of draws and processes)
    #[arg(long, global = true, default_value_t = 3)]
    repeat: usize,
    /// Folder with SUNDIALS libraries, once per folder; see build_sundials.sh
    #[arg(long, global = true, value_name = "DIR")]
    sundials: Vec<PathBuf>,
    /// Most draws
    #[arg(long, global = true, default_value_t = 100)]
    draws: usize,
    /// Build of the peers, growth and draws
    #[arg(long, global = true, default_value = "demo")]
    build: String,
    /// Cycle of the peers: day or hour
    #[arg(long, global = true, default_value = "hour")]
    cycle: String,
}

#[derive(Debug, Clone, Subcommand)]
enum Command {
    /// Whole runs of all builds: time, work, error of nodes and figures
    Runs,
    /// Growth with nodes and with draws
    Growth,
    /// A hot day's grid
    Grid,
    /// Other integrators on the same right-hand side
    Peers,
    /// CVODE alone, from one folder
    Cvode {
        /// Folder with the libraries
        folder: PathBuf,
    },
    /// What starting the program costs, of a run as a process
    Process {
        /// Program; without one, target/release/baysoak beside this crate
        program: Option<PathBuf>,
    },
    /// The page after a change: new figures, drawing, bands
    Page,
    /// How good the reference is: both routes at several tolerances, and where they differ
    Reference,
    /// March build and cycle once, for counting instructions
    March,
    /// Write network and drivers of a build as JSON, and states of the reference, for peer_scipy.py
    Export {
        /// Network file
        network: PathBuf,
        /// Reference file
        reference: PathBuf,
    },
}

fn main() -> ExitCode {
    let cli = Cli::parse();
    let settings = &cli.settings;
    let outcome = match cli.command {
        Some(Command::Runs) => runs::show(settings),
        Some(Command::Growth) => growth::show(settings),
        Some(Command::Grid) => grid::show(settings),
        Some(Command::Peers) => peers::show(settings),
        Some(Command::Cvode { folder }) => peers::show_cvode(settings, &folder),
        Some(Command::Process { program }) => process::show(settings, program),
        Some(Command::Page) => page::show(settings),
        Some(Command::Reference) => runs::reference(settings),
        Some(Command::March) => runs::march(settings),
        Some(Command::Export { network, reference }) => {
            peers::export(settings, &network, &reference)
        }
        None => runs::show(settings)
            .and_then(|()| growth::show(settings))
            .and_then(|()| grid::show(settings))
            .and_then(|()| peers::show(settings)),
    };
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(fault) => {
            eprintln!("error: {fault}");
            ExitCode::FAILURE
        }
    }
}
