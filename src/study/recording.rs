//! The drivers of a network along a cycle, as a run settles them, to march the same network again by any method.
//!
//! A run decides at the start of each interval what engine, fan and air do until its end. Once written down, those
//! decisions no longer hang on the method, so every method solves exactly the same problem.

use super::run::{RunError, RunOptions, initial_state, settle};
use crate::cycle::Cycle;
use crate::network::assemble::assemble;
use crate::network::conditions::Conditions;
use crate::network::control::{Beginning, Controller};
use crate::network::plant::Plant;
use crate::network::rates::Network;
use crate::sheet::build::Build;
use crate::solve::{Integrator, SolveError, Work};

/// What drives the network over one interval; linear in time between its ends.
#[derive(Debug, Clone)]
pub struct Drive {
    /// Start and end [s].
    pub span_s: (f64, f64),
    /// Conditions at the start.
    pub from: Conditions,
    /// Conditions at the end.
    pub to: Conditions,
}

impl Drive {
    /// Puts these drivers into a plant.
    pub fn set(&self, plant: &mut Plant) {
        plant.span_s = self.span_s;
        plant.from.clone_from(&self.from);
        plant.to.clone_from(&self.to);
    }
}

/// A network, where it starts, and all that drives it along a cycle.
#[derive(Debug, Clone)]
pub struct Recording {
    /// Network.
    pub network: Network,
    /// States at the start of each interval, and at the end of the last: temperatures [K], then ledger.
    pub states: Vec<Vec<f64>>,
    /// Drivers, one interval after the other.
    pub drives: Vec<Drive>,
    /// What the run cost that settled them.
    pub work: Work,
}

/// Runs a build over a cycle and keeps what drove it.
///
/// # Errors
/// When the build can't become a network or the solver gives up.
pub fn record(build: &Build, cycle: &Cycle, options: &RunOptions) -> Result<Recording, RunError> {
    let network = assemble(build, options.detail)?;
    let mut plant = Plant::new(&network);
    let mut controller = Controller::new(build);
    let mut y = initial_state(build, &network, cycle, None, (&mut plant, &mut controller))?;
    // as a replay begins: finding the start leaves first guesses behind
    let mut plant = Plant::new(&network);
    let mut integrator = Integrator::new(options.method, options.tolerance);
    let (mut states, mut drives) = (Vec::new(), Vec::new());
    for interval in &cycle.ticks() {
        let tick = (interval, Beginning::Continued);
        settle(&mut controller, tick, &network, &y, &mut plant);
        states.push(y.clone());
        drives.push(Drive {
            span_s: plant.span_s,
            from: plant.from.clone(),
            to: plant.to.clone(),
        });
        integrator.advance(&mut plant, interval.start_s, interval.end_s, &mut y)?;
    }
    states.push(y);
    Ok(Recording {
        states,
        drives,
        work: integrator.work(),
        network,
    })
}

impl Recording {
    /// Marches the network again from its start; `each` sees the state at the end of every interval.
    ///
    /// # Errors
    /// When the solver gives up.
    pub fn replay(
        &self,
        integrator: &mut Integrator,
        mut each: impl FnMut(&[f64]),
    ) -> Result<(), SolveError> {
        let mut plant = Plant::new(&self.network);
        let mut y = self.states.first().cloned().unwrap_or_default();
        for drive in &self.drives {
            drive.set(&mut plant);
            integrator.advance(&mut plant, drive.span_s.0, drive.span_s.1, &mut y)?;
            each(&y);
        }
        Ok(())
    }
}
