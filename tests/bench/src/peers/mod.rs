//! Other integrators on the same right-hand side.
//!
//! All march the same recording: the drivers of a run as it settled them, linear over each span. The peers leave the ledger
//! out, so they have less to carry than the program's own methods. All start afresh at each span, where drivers have kinks.

mod cvode;
mod diffsol_methods;
mod dop853;
mod rhs;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use baysoak::report::json::to_compact_json;
use baysoak::solve::Method;
use baysoak::study::network_shape::NetworkFile;
use baysoak::study::recording::Recording;
use baysoak::study::run::RunOptions;

use crate::cases::{self, Case, States, least, miss, replay, tolerance};
use crate::table::{self, kelvin, ms};
use crate::{Fault, Settings};

/// Factors on a run's tolerance.
const FACTORS: [f64; 4] = [10.0, 2.75, 1.0, 0.1];
/// Where Debian's packages put the libraries.
const SYSTEM_FOLDER: &str = "/usr/lib/x86_64-linux-gnu";
const HEADS: [&str; 8] = [
    "method", "tol K", "ms", "steps", "rhs", "fact", "max K", "RMS K",
];

/// What a march cost.
#[derive(Debug, Clone, Copy, Default)]
pub struct Cost {
    /// Steps accepted.
    pub steps: u64,
    /// Calls of the right-hand side, those for Jacobians included.
    pub rhs: u64,
    /// Factorisations.
    pub factorisations: u64,
}

/// A way to march a recording at an absolute tolerance [K].
pub type Peer<'a> = Box<dyn Fn(&Recording, f64) -> Result<(States, Cost), Fault> + 'a>;

fn case(settings: &Settings) -> Result<Case, Fault> {
    let (_, settled) = cases::settled(&settings.build)?;
    let cycle = cases::cycle(&settings.cycle)?;
    Case::new(&settled.build, &cycle, &RunOptions::default())
}

fn own<'a>(method: Method) -> Peer<'a> {
    Box::new(move |recording, absolute| {
        let usual = tolerance(1.0).absolute;
        let (states, work) = replay(recording, method, tolerance(absolute / usual))?;
        let cost = Cost {
            steps: work.steps,
            rhs: work.rhs_calls,
            factorisations: work.factorisations,
        };
        Ok((states, cost))
    })
}

fn rows(settings: &Settings, case: &Case, name: &str, peer: &Peer) -> Vec<Vec<String>> {
    let row = |factor: f64| {
        let absolute = tolerance(factor).absolute;
        let mut row = vec![name.to_owned(), absolute.to_string()];
        match least(settings.repeat, || peer(&case.recording, absolute)) {
            Ok((seconds, (states, cost))) => {
                let (most, mean) = miss(&states, &case.reference);
                let complete = states.len() == case.reference.len();
                row.extend([
                    ms(seconds),
                    cost.steps.to_string(),
                    cost.rhs.to_string(),
                    cost.factorisations.to_string(),
                    if complete {
                        kelvin(most)
                    } else {
                        "incomplete".into()
                    },
                    kelvin(mean),
                ]);
            }
            Err(fault) => {
                row.push("gave up".into());
                eprintln!("{name} at {absolute} K gave up: {fault}");
            }
        }
        row
    };
    FACTORS.map(row).to_vec()
}

/// Prints all peers that are there.
pub fn show(settings: &Settings) -> Result<(), Fault> {
    let case = case(settings)?;
    let peers: [(&str, Peer); 8] = [
        ("own W-method", own(Method::Rosenbrock)),
        ("own, four calls", own(Method::RosenbrockFourCalls)),
        ("ode_solvers Dopri5", own(Method::DormandPrince)),
        ("ode_solvers Dop853", Box::new(dop853::march)),
        (
            "diffsol BDF",
            Box::new(|r, a| diffsol_methods::march(diffsol_methods::Kind::Bdf, r, a)),
        ),
        (
            "diffsol TR-BDF2",
            Box::new(|r, a| diffsol_methods::march(diffsol_methods::Kind::TrBdf2, r, a)),
        ),
        (
            "diffsol ESDIRK34",
            Box::new(|r, a| diffsol_methods::march(diffsol_methods::Kind::Esdirk34, r, a)),
        ),
        (
            "diffsol TSIT45",
            Box::new(|r, a| diffsol_methods::march(diffsol_methods::Kind::Tsit45, r, a)),
        ),
    ];
    let all: Vec<_> = peers
        .iter()
        .flat_map(|(name, peer)| rows(settings, &case, name, peer))
        .collect();
    let title = format!(
        "peers ({}, {}, {} nodes, {} spans; reference: own W-method at a thousandth of the tolerance, {} K from Dopri5)",
        settings.build,
        settings.cycle,
        case.nodes(),
        case.recording.drives.len(),
        kelvin(case.second_route_k),
    );
    table::print(&title, &HEADS, &all);
    println!(
        "  compare times at equal errors: methods weigh the error of a step differently (largest node, or mean over nodes)"
    );
    let folders = if settings.sundials.is_empty() {
        vec![PathBuf::from(SYSTEM_FOLDER)]
    } else {
        settings.sundials.clone()
    };
    for folder in folders {
        // a process for each: two builds of one library don't go together
        let program = std::env::current_exe()?;
        let mut command = Command::new(program);
        command.arg("cvode").arg(&folder);
        command.args(["--build", &settings.build, "--cycle", &settings.cycle]);
        command.arg("--repeat").arg(settings.repeat.to_string());
        if !command.status()?.success() {
            println!("  CVODE from {} left out", folder.display());
        }
    }
    Ok(())
}

/// Prints CVODE from one folder.
pub fn show_cvode(settings: &Settings, folder: &Path) -> Result<(), Fault> {
    let library = match cvode::Library::open(folder) {
        Ok(library) => library,
        Err(fault) => {
            println!("\nCVODE skipped: {fault}");
            return Ok(());
        }
    };
    let case = case(settings)?;
    let mut all = Vec::new();
    for (name, restart) in [("CVODE BDF", true), ("CVODE BDF, history kept", false)] {
        let peer: Peer = Box::new(|r, a| library.march(r, a, restart));
        all.extend(rows(settings, &case, name, &peer));
    }
    let title = format!(
        "CVODE from {}: {}",
        folder.display(),
        cvode::how_built(folder)
    );
    table::print(&title, &HEADS, &all);
    Ok(())
}

/// Writes what peer_scipy.py needs.
pub fn export(settings: &Settings, network: &Path, reference: &Path) -> Result<(), Fault> {
    let case = case(settings)?;
    let file = NetworkFile::new(&settings.build, &settings.cycle, &case.recording);
    fs::write(network, to_compact_json(&file)?)?;
    let rows: Vec<&[f64]> = case.reference.chunks(case.nodes()).collect();
    fs::write(reference, serde_json::to_string(&rows)?)?;
    Ok(())
}
