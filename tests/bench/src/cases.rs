//! What is measured: builds, cycles, tight references, and errors against them.

use std::time::Instant;

use baysoak::cycle::{Builtin, Cycle};
use baysoak::sheet::build::Build;
use baysoak::sheet::{self, Chooser, DEFAULT_BUILTIN, Settled, Sheet};
use baysoak::solve::{Integrator, Method, Tolerance};
use baysoak::study::recording::{Recording, record};
use baysoak::study::run::RunOptions;

use crate::Fault;

/// Names of the cycles.
pub const CYCLES: [&str; 2] = ["day", "hour"];
/// The reference is this much tighter than a run.
pub const TIGHTER: f64 = 1e-3;
/// The second route, less exact at equal tolerance, is this much tighter.
pub const SECOND_ROUTE_TIGHTER: f64 = 1e-5;

/// A cycle by name.
pub fn cycle(name: &str) -> Result<Cycle, Fault> {
    match name {
        "day" => Ok(Builtin::Day.cycle()?),
        "hour" => hour(),
        _ => Err(format!("no cycle \"{name}\"\n  hint: {}", CYCLES.join(", ")).into()),
    }
}

/// Half an hour of town and country, then half an hour parked.
fn hour() -> Result<Cycle, Fault> {
    Ok(Sheet::read(&hour_sheet()?, "hour.toml")?.cycle()?)
}

/// The demonstration's sheet with the hour as its cycle.
pub fn hour_sheet() -> Result<String, Fault> {
    const DAY: &str = "\n[cycle]\nbuiltin = \"day\"\n";
    const HOUR: &str = "\n[cycle]
[[cycle.phase]]
kind = \"drive\"
pattern = \"town\"
duration_min = 15
[[cycle.phase]]
kind = \"drive\"
pattern = \"country\"
duration_min = 15
[[cycle.phase]]
kind = \"key-off\"
duration_min = 30
";
    let mut built_in = sheet::builtins().iter();
    match built_in.find(|b| b.name == DEFAULT_BUILTIN && b.text.contains(DAY)) {
        Some(demo) => Ok(demo.text.replace(DAY, HOUR)),
        None => Err("the demonstration has no cycle to replace".into()),
    }
}

/// A built-in sheet and what it settles to.
pub fn settled(build: &str) -> Result<(Sheet, Settled), Fault> {
    let sheet = sheet::builtin(build)?;
    let settled = sheet.settle(&mut Chooser::Likely)?;
    Ok((sheet, settled))
}

/// A run's tolerance, `factor` times as large.
pub fn tolerance(factor: f64) -> Tolerance {
    let usual = RunOptions::default().tolerance;
    Tolerance {
        relative: usual.relative * factor,
        absolute: usual.absolute * factor,
    }
}

/// Temperatures at the ends of all spans, one row after the other [K].
pub type States = Vec<f64>;

/// A recording with a tight reference.
pub struct Case {
    /// Network and drivers.
    pub recording: Recording,
    /// Reference temperatures.
    pub reference: States,
    /// How far the second route is from it [K].
    pub second_route_k: f64,
}

impl Case {
    /// Records a build over a cycle and solves it tightly by two routes.
    pub fn new(build: &Build, cycle: &Cycle, options: &RunOptions) -> Result<Self, Fault> {
        let recording = record(build, cycle, options)?;
        let tight = tolerance(TIGHTER);
        let (reference, _) = replay(&recording, options.method, tight)?;
        let (second, _) = replay(
            &recording,
            Method::DormandPrince,
            tolerance(SECOND_ROUTE_TIGHTER),
        )?;
        let second_route_k = miss(&second, &reference).0;
        Ok(Self {
            recording,
            reference,
            second_route_k,
        })
    }

    /// Number of nodes.
    pub fn nodes(&self) -> usize {
        self.recording.network.nodes.len()
    }
}

/// Marches a recording by one of the crate's own methods; instructions.sh counts inside it.
#[inline(never)]
pub fn replay(
    recording: &Recording,
    method: Method,
    tolerance: Tolerance,
) -> Result<(States, baysoak::solve::Work), Fault> {
    let nodes = recording.network.nodes.len();
    let mut states = Vec::with_capacity(nodes * recording.drives.len());
    let mut integrator = Integrator::new(method, tolerance);
    recording.replay(&mut integrator, |y| states.extend_from_slice(&y[..nodes]))?;
    Ok((states, integrator.work()))
}

/// Largest and root mean square difference.
pub fn miss(states: &[f64], reference: &[f64]) -> (f64, f64) {
    let each = states.iter().zip(reference).map(|(a, b)| (a - b).abs());
    let (mut most, mut squares) = (0.0_f64, 0.0);
    for d in each {
        // max would pass over NaN
        most = if d > most || d.is_nan() { d } else { most };
        squares += d * d;
    }
    (most, (squares / states.len().max(1) as f64).sqrt())
}

/// Processor time of this thread [s], where the system tells: a busy machine takes turns but does not lengthen it much.
fn processor_s() -> Option<f64> {
    // the count is brought up to date when the thread gives way
    std::thread::yield_now();
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
    let nanoseconds: f64 = text.split_whitespace().next()?.parse().ok()?;
    Some(nanoseconds * 1e-9)
}

/// Least of several times [s], and what the last call gave: processor time of work on this thread, else wall time.
pub fn least<T>(
    repeat: usize,
    mut work: impl FnMut() -> Result<T, Fault>,
) -> Result<(f64, T), Fault> {
    least_by(processor_s, repeat, &mut work)
}

/// Least of several wall times [s], and what the last call gave.
pub fn least_wall<T>(
    repeat: usize,
    mut work: impl FnMut() -> Result<T, Fault>,
) -> Result<(f64, T), Fault> {
    least_by(|| None, repeat, &mut work)
}

fn least_by<T>(
    processor_s: impl Fn() -> Option<f64>,
    repeat: usize,
    work: &mut impl FnMut() -> Result<T, Fault>,
) -> Result<(f64, T), Fault> {
    let mut best = f64::INFINITY;
    let mut time = || {
        let (start, before) = (Instant::now(), processor_s());
        let out = work();
        let spent = before.zip(processor_s()).map(|(a, b)| b - a);
        best = best.min(spent.unwrap_or_else(|| start.elapsed().as_secs_f64()));
        out
    };
    let mut out = time()?;
    for _ in 1..repeat {
        out = time()?;
    }
    Ok((best, out))
}
