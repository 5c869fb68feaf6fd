//! One build over one cycle on one day.

use super::findings::RunResult;
use super::gas_watch::GasWatch;
use super::heat_watch::HeatWatch;
use super::observe::Observer;
use super::summarise::{Context, summarise};
use crate::cycle::{Cycle, CycleError, Demand, EngineState, Interval, Load, Start};
use crate::network::assemble::{AssembleError, Detail, assemble};
use crate::network::control::{Beginning, Controller};
use crate::network::plant::Plant;
use crate::network::rates::{Network, Scratch};
use crate::number::{Lanes, Number};
use crate::sheet::build::Build;
use crate::sheet::{Chooser, Settled, Sheet, SheetError};
use crate::solve::{Integrator, Method, SolveError, SteadyOptions, Tolerance, Work, steady};

/// Largest audit residual of a good run [%].
pub const AUDIT_LIMIT_PERCENT: f64 = 0.1;
/// Road speed of a warm start [m/s].
const WARM_SPEED_M_S: f64 = 80.0 / 3.6;
/// Rounds of control and steady state until a warm start no longer moves.
const WARM_ROUNDS: usize = 8;

/// How to run.
#[derive(Debug, Clone, Copy)]
pub struct RunOptions {
    /// Time between samples of the series [s].
    pub sample_s: f64,
    /// Solver tolerance.
    pub tolerance: Tolerance,
    /// Integration method.
    pub method: Method,
    /// Detail of the network.
    pub detail: Detail,
    /// Whether the findings warn of correlations outside their ranges.
    pub watch_ranges: bool,
}

impl Default for RunOptions {
    fn default() -> Self {
        Self {
            sample_s: 1.0,
            tolerance: Tolerance {
                relative: 0.0,
                absolute: 0.032,
            },
            method: Method::Rosenbrock,
            detail: Detail::default(),
            watch_ranges: true,
        }
    }
}

/// Why a run has no result.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum RunError {
    /// The sheet is bad.
    #[error(transparent)]
    Sheet(#[from] SheetError),
    /// The sheet can't become a network.
    #[error(transparent)]
    Assemble(#[from] AssembleError),
    /// A cycle is bad.
    #[error(transparent)]
    Cycle(#[from] CycleError),
    /// The solver gave up.
    #[error(transparent)]
    Solve(#[from] SolveError),
    /// The books don't close.
    #[error(
        "energy audit: residual {residual_percent:.3} % of the heat in is above {AUDIT_LIMIT_PERCENT} %\n  hint: this is a fault of the program or of extreme inputs, not a finding; please report the sheet"
    )]
    Audit {
        /// Residual [%].
        residual_percent: f64,
    },
    /// A result is not a number.
    #[error("{what} is not a finite number")]
    NotFinite {
        /// What.
        what: String,
    },
}

impl RunError {
    /// First line of what it says, without hints.
    pub(super) fn first_line(&self) -> String {
        self.to_string()
            .lines()
            .next()
            .unwrap_or_default()
            .to_owned()
    }

    /// Exit code of the program: 2 bad input, 3 the solver failed.
    pub fn exit_code(&self) -> u8 {
        match self {
            Self::Sheet(_) | Self::Assemble(_) | Self::Cycle(_) => 2,
            Self::Solve(_) | Self::Audit { .. } | Self::NotFinite { .. } => 3,
        }
    }
}

/// Runs a sheet over a cycle with every input at its likely value.
///
/// `progress` gets the share done, 0 to 1.
///
/// # Errors
/// When the sheet is bad, the solver gives up or the books don't close.
pub fn run(
    sheet: &Sheet,
    cycle: &Cycle,
    options: &RunOptions,
    progress: &mut dyn FnMut(f64),
) -> Result<RunResult, RunError> {
    let settled = sheet.settle(&mut Chooser::Likely)?;
    run_settled(sheet, &settled, cycle, options, progress)
}

/// Runs a settled sheet.
///
/// # Errors
/// As [`run`].
pub fn run_settled(
    sheet: &Sheet,
    settled: &Settled,
    cycle: &Cycle,
    options: &RunOptions,
    progress: &mut dyn FnMut(f64),
) -> Result<RunResult, RunError> {
    run_probed(sheet, settled, cycle, options, &mut |moment| {
        progress(moment.interval.end_s / cycle.duration_s());
    })
}

/// What a probe sees at the end of an interval of a run.
pub(super) struct Moment<'m> {
    /// The interval.
    pub interval: &'m Interval,
    /// Temperatures and ledger at its end.
    pub y: &'m [f64],
    /// Network.
    pub network: &'m Network,
    /// Controller as it stands.
    pub controller: &'m Controller<'m>,
    /// What the network's last call left behind.
    pub scratch: &'m Scratch,
}

/// Where a run begins: temperatures, and what the controller knows.
#[derive(Debug, Clone)]
pub(super) struct Begun<'b> {
    y: Vec<f64>,
    controller: Controller<'b>,
}

/// The beginning of a cycle on a network; a warm one is the same for all cycles of one ambient.
///
/// `near`: where a network much like it begins, from which a warm one is sooner found.
///
/// # Errors
/// When the steady solver gives up.
pub(super) fn begin<'b>(
    build: &'b Build,
    network: &Network,
    cycle: &Cycle,
    near: Option<&[f64]>,
) -> Result<Begun<'b>, RunError> {
    let mut controller = Controller::new(build);
    let mut plant = Plant::new(network);
    let y = initial_state(build, network, cycle, near, (&mut plant, &mut controller))?;
    Ok(Begun { y, controller })
}

/// Runs a settled sheet and shows every interval's end to a probe.
///
/// # Errors
/// As [`run`].
pub(super) fn run_probed(
    sheet: &Sheet,
    settled: &Settled,
    cycle: &Cycle,
    options: &RunOptions,
    probe: &mut dyn FnMut(&Moment),
) -> Result<RunResult, RunError> {
    run_near(sheet, settled, (cycle, options), None, probe).map(|run| run.0)
}

/// Runs a settled sheet; also gives where it began. `near` is where one much like it did, see [`begin`].
///
/// # Errors
/// As [`run`].
pub(super) fn run_near(
    sheet: &Sheet,
    settled: &Settled,
    (cycle, options): (&Cycle, &RunOptions),
    near: Option<&[f64]>,
    probe: &mut dyn FnMut(&Moment),
) -> Result<(RunResult, Vec<f64>), RunError> {
    let network = assemble(&settled.build, options.detail)?;
    let begun = begin(&settled.build, &network, cycle, near)?;
    let start = begun.y.clone();
    let run = run_from(sheet, (settled, &network), begun, (cycle, options), probe)?;
    Ok((run, start))
}

/// Runs a settled sheet and its network from a beginning.
///
/// # Errors
/// As [`run`].
pub(super) fn run_from(
    sheet: &Sheet,
    settled: (&Settled, &Network),
    begun: Begun,
    drive: (&Cycle, &RunOptions),
    probe: &mut dyn FnMut(&Moment),
) -> Result<RunResult, RunError> {
    let (cycle, options) = drive;
    let mut run = Underway::new(sheet, settled, begun, drive);
    let mut integrator = Integrator::new(options.method, options.tolerance);
    for interval in &cycle.ticks() {
        run.settle(interval);
        let Underway { plant, y, .. } = &mut run;
        integrator.begin(plant, interval.start_s, y)?;
        plant.streams_of_rates();
        run.note_start(interval);
        let Underway { plant, y, .. } = &mut run;
        integrator.advance(plant, interval.start_s, interval.end_s, y)?;
        plant.streams(interval.end_s, y);
        run.note_end(interval);
        run.look_at_heat(interval);
        run.look_at_gas(interval);
        probe(&run.moment(interval));
    }
    run.finish(integrator.work())
}

/// A run on its way through a cycle.
pub(super) struct Underway<'r> {
    sheet: &'r Sheet,
    settled: &'r Settled,
    network: &'r Network,
    cycle: &'r Cycle,
    /// What settles the drivers.
    pub controller: Controller<'r>,
    /// Network under the conditions of the present interval.
    pub plant: Plant<'r>,
    observer: Observer<'r>,
    /// Temperatures and ledger.
    pub y: Vec<f64>,
    stored_before_j: f64,
}

impl<'r> Underway<'r> {
    /// A run that hasn't left its beginning.
    pub fn new(
        sheet: &'r Sheet,
        (settled, network): (&'r Settled, &'r Network),
        begun: Begun<'r>,
        (cycle, options): (&'r Cycle, &RunOptions),
    ) -> Self {
        Self {
            sheet,
            settled,
            network,
            cycle,
            controller: begun.controller,
            plant: Plant::new(network),
            observer: Observer::new(&settled.build, network, (cycle, options), &begun.y),
            stored_before_j: network.stored_j(&begun.y),
            y: begun.y,
        }
    }

    /// Settles the conditions of an interval; `y` holds the state at its start.
    fn settle(&mut self, interval: &Interval) {
        let Self {
            controller, plant, ..
        } = self;
        let interval = (interval, Beginning::Continued);
        settle(controller, interval, self.network, &self.y, plant);
    }

    /// Notes the start of an interval; the plant holds its streams there.
    pub fn note_start(&mut self, interval: &Interval) {
        let (from, _) = self.controller.points();
        self.observer.start(interval, &self.plant, &from);
    }

    /// Notes the end of an interval, likewise.
    pub fn note_end(&mut self, interval: &Interval) {
        let (_, to) = self.controller.points();
        self.observer.end(interval, &self.plant, &to);
    }

    /// Whether the series takes a sample at that time [s].
    pub fn samples_at(&self, time_s: f64) -> bool {
        self.observer.samples_at(time_s)
    }

    /// Looks at the gas in the exhaust there.
    fn look_at_gas(&mut self, interval: &Interval) {
        let (_, to) = self.controller.points();
        self.observer.look_at_gas(interval, &self.plant, &to);
    }

    /// Looks at the temperatures there; `y` holds the state.
    fn look_at_heat(&mut self, interval: &Interval) {
        self.observer.heat.see(interval, &self.y);
    }

    /// Takes over state and temperatures of a lane.
    pub fn take_state(&mut self, y: &[Lanes], plant: &Plant<'_, Lanes>, lane: usize) {
        for (own, all) in self.y.iter_mut().zip(y) {
            *own = all.lane(lane);
        }
        self.plant.take_temperatures(plant, lane);
    }

    /// What is watched of the temperatures.
    pub fn heat(&self) -> &HeatWatch {
        &self.observer.heat
    }

    /// Takes over what was seen of temperatures and gas in a lane.
    pub fn take_seen(&mut self, heat: &HeatWatch<Lanes>, gas: &GasWatch<Lanes>, lane: usize) {
        self.observer.heat.take_lane(heat, lane);
        self.observer.gas.take_lane(gas, lane);
    }

    /// What a probe sees at the end of an interval.
    pub fn moment<'m>(&'m self, interval: &'m Interval) -> Moment<'m> {
        Moment {
            interval,
            y: &self.y,
            network: self.network,
            controller: &self.controller,
            scratch: &self.plant.scratch,
        }
    }

    /// What came of it.
    ///
    /// # Errors
    /// A result that is no number, or books that don't close.
    pub fn finish(mut self, work: Work) -> Result<RunResult, RunError> {
        self.observer.finish(self.cycle.duration_s(), &self.plant);
        let context = Context {
            sheet: self.sheet,
            settled: self.settled,
            network: self.network,
            cycle: self.cycle,
            stored_j: self.network.stored_j(&self.y) - self.stored_before_j,
            ledger: &self.y[self.network.nodes.len()..],
            work,
            imbalance_kg_s: self.controller.worst_imbalance_kg_s(),
        };
        let result = summarise(&context, self.observer)?;
        let residual_percent = result.findings.audit.residual_percent;
        if residual_percent.is_nan() || residual_percent > AUDIT_LIMIT_PERCENT {
            return Err(RunError::Audit { residual_percent });
        }
        Ok(result)
    }
}

/// Settles the plant's conditions for an interval.
pub(super) fn settle(
    controller: &mut Controller,
    (interval, beginning): (&Interval, Beginning),
    network: &Network,
    y: &[f64],
    plant: &mut Plant,
) {
    plant.span_s = (interval.start_s, interval.end_s);
    let ends = (&mut plant.from, &mut plant.to);
    controller.settle(network, (interval, beginning), y, ends);
}

/// Temperatures at the start: ambient when cold, steady at a country-road speed when warm.
pub(super) fn initial_state(
    build: &Build,
    network: &Network,
    cycle: &Cycle,
    near: Option<&[f64]>,
    (plant, controller): (&mut Plant, &mut Controller),
) -> Result<Vec<f64>, SolveError> {
    let nodes = network.nodes.len();
    let ambient = cycle
        .phases
        .first()
        .and_then(|p| p.points().first().and_then(|p| p.ambient_k))
        .unwrap_or(build.day.ambient_k);
    let mut y = vec![ambient; network.states()];
    y[nodes..].fill(0.0);
    if cycle.start == Start::Cold {
        return Ok(y);
    }
    let demand = Demand {
        speed_m_s: WARM_SPEED_M_S,
        acceleration_m_s2: 0.0,
        grade: 0.0,
        rpm: None,
        load: Load::Road,
        engine: EngineState::Running,
        bonnet_open: false,
        coolant_k: None,
        ambient_k: Some(ambient),
        wind_m_s: None,
        manifold_pa: None,
        filter_burning: false,
    };
    let roles = &network.circuit.roles;
    for node in [roles.block, roles.coolant, roles.radiator, roles.oil] {
        y[node] = build.engine.thermostat_full_k;
    }
    if let Some(near) = near.filter(|n| n.len() == y.len()) {
        y[..nodes].copy_from_slice(&near[..nodes]);
    }
    let interval = Interval {
        start_s: 0.0,
        end_s: 1.0,
        phase: 0,
        from: demand,
        to: demand,
    };
    for _ in 0..WARM_ROUNDS {
        let before = y.clone();
        let interval = (&interval, Beginning::Afresh);
        settle(controller, interval, network, &y, plant);
        let options = SteadyOptions {
            active: nodes,
            ..SteadyOptions::default()
        };
        steady(plant, &mut y, options)?;
        let moved = y
            .iter()
            .zip(&before)
            .map(|(a, b)| (a - b).abs())
            .fold(0.0, f64::max);
        if moved < 0.05 {
            break;
        }
    }
    y[nodes..].fill(0.0);
    Ok(y)
}
