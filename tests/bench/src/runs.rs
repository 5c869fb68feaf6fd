//! Whole runs of all builds.

use baysoak::sheet::builtins;
use baysoak::solve::Method;
use baysoak::study::findings::Findings;
use baysoak::study::recording::record;
use baysoak::study::run::{RunOptions, run_settled};

use crate::cases::{
    self, CYCLES, Case, SECOND_ROUTE_TIGHTER, TIGHTER, least, miss, replay, tolerance,
};
use crate::table::{self, kelvin, ms};
use crate::{Fault, Settings};

/// Prints time, work and errors.
pub fn show(settings: &Settings) -> Result<(), Fault> {
    let options = RunOptions::default();
    let mut rows = Vec::new();
    for build in builtins() {
        let (sheet, settled) = cases::settled(build.name)?;
        for name in CYCLES {
            let cycle = cases::cycle(name)?;
            let case = Case::new(&settled.build, &cycle, &options)?;
            let run = |o: &RunOptions| Ok(run_settled(&sheet, &settled, &cycle, o, &mut |_| ())?);
            let (whole_s, result) = least(settings.repeat, || run(&options))?;
            let march = || replay(&case.recording, options.method, options.tolerance);
            let (march_s, (states, work)) = least(settings.repeat, march)?;
            let (most, mean) = miss(&states, &case.reference);
            let tight = run(&RunOptions {
                tolerance: tolerance(TIGHTER),
                ..options
            })?;
            let (figure_k, figure_percent, where_percent) =
                figures(&result.findings, &tight.findings)?;
            rows.push(vec![
                format!("{} {name}", build.name),
                case.nodes().to_string(),
                ms(whole_s),
                ms(march_s),
                format!("{:.2}", march_s * 1e6 / work.rhs_calls as f64),
                work.steps.to_string(),
                work.rejected.to_string(),
                work.rhs_calls.to_string(),
                work.factorisations.to_string(),
                kelvin(most),
                kelvin(mean),
                kelvin(case.second_route_k),
                kelvin(figure_k),
                format!("{figure_percent:.3} {where_percent}"),
            ]);
        }
    }
    table::print(
        "whole runs (run: with control, watching and figures; march: the solver alone; errors of the march against its own \
         drivers, of figures against a whole run a thousand times tighter)",
        &[
            "build, cycle",
            "nodes",
            "run ms",
            "march ms",
            "us/rhs",
            "steps",
            "rej",
            "rhs",
            "fact",
            "max K",
            "RMS K",
            "2nd route K",
            "figures K",
            "figures %",
        ],
        &rows,
    );
    Ok(())
}

/// Prints how two routes come together as their tolerance falls.
pub fn reference(settings: &Settings) -> Result<(), Fault> {
    let (_, settled) = cases::settled(&settings.build)?;
    let cycle = cases::cycle(&settings.cycle)?;
    let options = RunOptions::default();
    let recording = record(&settled.build, &cycle, &options)?;
    let nodes = recording.network.nodes.len();
    let march = |method, factor| replay(&recording, method, tolerance(factor));
    let (best, _) = march(Method::DormandPrince, SECOND_ROUTE_TIGHTER)?;
    let mut rows = Vec::new();
    for (name, method) in [
        ("W-method", Method::Rosenbrock),
        ("Dopri5", Method::DormandPrince),
    ] {
        for factor in [1.0, 1e-1, 1e-2, 1e-3, 1e-4] {
            let (states, work) = march(method, factor)?;
            let (most, mean) = miss(&states, &best);
            let apart = |i: usize| (states[i] - best[i]).abs();
            let worst = (0..states.len()).max_by(|a, b| apart(*a).total_cmp(&apart(*b)));
            let worst = worst.ok_or("no states")?;
            rows.push(vec![
                name.to_owned(),
                format!("{factor:e}"),
                work.steps.to_string(),
                kelvin(most),
                kelvin(mean),
                recording.network.nodes[worst % nodes].name.clone(),
                format!("{:.1}", recording.drives[worst / nodes].span_s.1),
            ]);
        }
    }
    table::print(
        &format!(
            "{}, {}: both routes against Dopri5 at 1e-5 of the tolerance",
            settings.build, settings.cycle
        ),
        &["method", "factor", "steps", "max K", "RMS K", "where", "s"],
        &rows,
    );
    Ok(())
}

/// Marches one recording once and prints its work.
pub fn march(settings: &Settings) -> Result<(), Fault> {
    let (_, settled) = cases::settled(&settings.build)?;
    let cycle = cases::cycle(&settings.cycle)?;
    let options = RunOptions::default();
    let recording = record(&settled.build, &cycle, &options)?;
    let (_, work) = replay(&recording, options.method, options.tolerance)?;
    println!(
        "{} {}: {} steps, {} right-hand sides, {} factorisations",
        settings.build, settings.cycle, work.steps, work.rhs_calls, work.factorisations
    );
    Ok(())
}

/// Largest difference of the figures that are temperatures [K], and of the others [%] with its id.
///
/// Percent of at least a thousandth of the largest figure in that unit, so that a near zero heat flow doesn't shout.
fn figures(run: &Findings, tight: &Findings) -> Result<(f64, f64, String), Fault> {
    if run.figures.len() != tight.figures.len() {
        return Err("runs with different figures".into());
    }
    let (mut kelvin, mut percent, mut place) = (0.0_f64, 0.0, String::new());
    for (a, b) in run.figures.iter().zip(&tight.figures) {
        let (x, y) = (a.value, b.value);
        if matches!(b.unit.as_str(), "degC" | "K") {
            kelvin = kelvin.max((x - y).abs());
            continue;
        }
        let same_unit = tight.figures.iter().filter(|f| f.unit == b.unit);
        let largest = same_unit.map(|f| f.value.abs()).fold(0.0, f64::max);
        let scale = y.abs().max(1e-3 * largest);
        let miss = if scale > 0.0 {
            100.0 * (x - y).abs() / scale
        } else {
            0.0
        };
        if miss > percent {
            (percent, place) = (miss, format!("({} {})", b.id, b.place));
        }
    }
    Ok((kelvin, percent, place))
}
