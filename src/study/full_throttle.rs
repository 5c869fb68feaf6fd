//! Full throttle asked for at one moment of a run: the air that arrives then, and its power.

use super::run::Moment;
use crate::cycle::{Demand, EngineState, Interval, Load};
use crate::engine::power_full::{FullLoad, full_load};
use crate::network::conditions::Conditions;
use crate::network::control::Beginning;
use crate::network::rates::Scratch;
use crate::sheet::build::Build;

/// Slowest speed of a car that asks for full throttle [m/s]: one that stands still does not.
const PULLING_AWAY_M_S: f64 = 0.2;

/// Full throttle at rated engine speed.
#[derive(Debug, Clone, Copy)]
pub(super) struct FullThrottle {
    /// Charge at the valve [K].
    pub charge_k: f64,
    /// What the engine gives with it.
    pub load: FullLoad,
}

impl FullThrottle {
    /// The first breath at full throttle, with every wall and core as warm as it is now.
    pub fn at(build: &Build, moment: &Moment) -> Self {
        let now = &moment.interval.to;
        let demand = Demand {
            speed_m_s: now.speed_m_s.max(PULLING_AWAY_M_S),
            acceleration_m_s2: 0.0,
            grade: 0.0,
            rpm: Some(build.engine.power_rpm),
            load: Load::FullLoadShare(1.0),
            engine: EngineState::Running,
            ..*now
        };
        let interval = Interval {
            from: demand,
            to: demand,
            ..*moment.interval
        };
        // the real controller must not learn of it
        let mut controller = moment.controller.clone();
        let (mut from, mut to) = (Conditions::default(), Conditions::default());
        let network = moment.network;
        let interval = (&interval, Beginning::Afresh);
        controller.settle(network, interval, moment.y, (&mut from, &mut to));
        let mut scratch = Scratch::default();
        network.circuit.load(&to, moment.y, &mut scratch);
        let charge_k = network.circuit.charge_at_valve(&to, &mut scratch);
        Self {
            charge_k,
            load: full_load(build, charge_k),
        }
    }
}
