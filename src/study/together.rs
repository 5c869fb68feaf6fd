//! Runs of networks of one structure side by side: the solver takes a number of each in every instruction.
//!
//! Each run has its own controller and observer, who decide and watch between the steps.

use super::findings::RunResult;
use super::gas_watch::GasWatch;
use super::heat_watch::HeatWatch;
use super::run::{Begun, Moment, RunError, RunOptions, Underway, begin, run_from};
use crate::cycle::Cycle;
use crate::network::assemble::assemble;
use crate::network::bay_air::BayAir;
use crate::network::control::{Beginning, settle_side_by_side};
use crate::network::plant::Plant;
use crate::network::rates::{Circuit, Network, Scratch};
use crate::number::{LANES, Lanes, Number, SideBySide};
use crate::sheet::{Settled, Sheet};
use crate::solve::Lockstep;

/// A cycle and how to run it.
type Drive<'d> = (&'d Cycle, &'d RunOptions);

/// A car where its runs begin.
pub(super) struct Ready<'c> {
    sheet: &'c Sheet,
    /// The sheet settled.
    pub settled: &'c Settled,
    network: Network,
    begun: Begun<'c>,
}

impl<'c> Ready<'c> {
    /// Puts a car where the cycle begins; `near`: where one much like it began, see [`begin`].
    ///
    /// # Errors
    /// When it can't become a network or comes to no rest.
    pub fn new(
        (sheet, settled): (&'c Sheet, &'c Settled),
        (cycle, options): Drive,
        near: Option<&[f64]>,
    ) -> Result<Self, RunError> {
        let network = assemble(&settled.build, options.detail)?;
        let begun = begin(&settled.build, &network, cycle, near)?;
        Ok(Self {
            sheet,
            settled,
            network,
            begun,
        })
    }
}

/// Shows the end of an interval of a car's run to a watch.
pub(super) type See<'s, W> = &'s dyn Fn(&mut W, &Ready, &Moment);

/// Runs cars over a cycle: side by side where they can, else one after the other. Each has a watch of its own, begun as
/// `watch`, to which `see` shows every interval's end.
pub(super) fn run_all<W: Clone>(
    cars: &[&Ready],
    drive: Drive,
    watch: &W,
    see: Option<See<W>>,
) -> Vec<Result<(RunResult, W), RunError>> {
    let show = |seen: &mut W, car: &Ready, moment: &Moment| {
        if let Some(see) = see {
            see(seen, car, moment);
        }
    };
    let mut seen = vec![watch.clone(); cars.len()];
    let mut each = |place: usize, moment: &Moment| show(&mut seen[place], cars[place], moment);
    let probe: Option<Probe> = see.is_some().then_some(&mut each);
    if let Some(runs) = run_together(cars, drive, probe) {
        let runs = runs.into_iter().zip(seen);
        return runs.map(|(run, seen)| Ok((run?, seen))).collect();
    }
    let alone = cars.iter().map(|car| {
        let (begun, mut seen) = (car.begun.clone(), watch.clone());
        let mut probe = |moment: &Moment| show(&mut seen, car, moment);
        let run = run_from(
            car.sheet,
            (car.settled, &car.network),
            begun,
            drive,
            &mut probe,
        )?;
        Ok((run, seen))
    });
    alone.collect()
}

/// One of each lane: those that are there, the last again in lanes that are left.
fn in_lanes<T>(of: &[T]) -> [&T; LANES] {
    std::array::from_fn(|lane| &of[lane.min(of.len() - 1)])
}

/// Gets the place of a car and what a probe sees there.
type Probe<'p> = &'p mut dyn FnMut(usize, &Moment);

/// Carries cars over a cycle side by side, at most [`LANES`] of them; `probe` gets the place of each and what it sees at
/// the end of each interval.
///
/// `None` when they can't be: a single one or too many, another method, ranges to be watched, networks that differ in
/// more than numbers, or one for which the solver gives up. Alone, each of them may still have a result, or says why not.
fn run_together(
    cars: &[&Ready],
    drive: Drive,
    mut probe: Option<Probe>,
) -> Option<Vec<Result<RunResult, RunError>>> {
    let (cycle, options) = drive;
    if !(2..=LANES).contains(&cars.len()) || options.watch_ranges {
        return None;
    }
    let networks = in_lanes(cars).map(|car| &car.network);
    let circuit = Circuit::side_by_side(networks.map(|n| &n.circuit))?;
    let underway = cars.iter().map(|car| {
        let settled = (car.settled, &car.network);
        Underway::new(car.sheet, settled, car.begun.clone(), drive)
    });
    let mut runs: Vec<Underway> = underway.collect();
    let mut plant = Plant::side_by_side(&circuit, networks);
    let mut lockstep = Lockstep::new(&plant, options.method, options.tolerance)?;
    let mut y: Vec<Lanes> = SideBySide::side_by_side(in_lanes(&runs).map(|run| &run.y))?;
    let mut air = BayAir::side_by_side(in_lanes(&runs).map(|run| run.controller.air()))?;
    let mut heat = HeatWatch::side_by_side(in_lanes(&runs).map(Underway::heat))?;
    let mut gas = GasWatch::new(&circuit, cars[0].settled.build.exhaust.len());
    let mut manifold_pa = Lanes::default();
    let mut scratch = Scratch::default();
    for interval in &cycle.ticks() {
        let (start_s, end_s) = (interval.start_s, interval.end_s);
        plant.span_s = (start_s, end_s);
        let mut units: Vec<_> = runs.iter_mut().map(|run| run.controller.unit()).collect();
        let ends = (&mut plant.from, &mut plant.to);
        let work = (&mut air, &mut scratch);
        let tick = (interval, Beginning::Continued);
        settle_side_by_side(&mut units, &circuit, tick, &y, ends, work);
        lockstep.begin(&mut plant, start_s, &y).ok()?;
        plant.streams_of_rates();
        for (lane, run) in runs.iter_mut().enumerate() {
            run.plant.take_streams(&plant, lane);
            if run.samples_at(start_s) {
                run.plant.take_temperatures(&plant, lane);
            }
            run.note_start(interval);
        }
        lockstep.advance(&mut plant, start_s, end_s, &mut y).ok()?;
        plant.streams(end_s, &y);
        for (lane, run) in runs.iter_mut().enumerate() {
            run.plant.take_streams(&plant, lane);
            run.note_end(interval);
            manifold_pa.set_lane(lane, run.controller.points().1.manifold_pressure_pa);
            if let Some(probe) = &mut probe {
                run.take_state(&y, &plant, lane);
                run.controller.take_air(&air, lane);
                probe(lane, &run.moment(interval));
            }
        }
        heat.see(interval, &y);
        gas.look(&circuit, plant.now(), &plant.scratch.gas, manifold_pa);
    }
    for (lane, run) in runs.iter_mut().enumerate() {
        run.take_state(&y, &plant, lane);
        run.take_seen(&heat, &gas, lane);
    }
    let work = lockstep.work();
    Some(runs.into_iter().map(|run| run.finish(work)).collect())
}
