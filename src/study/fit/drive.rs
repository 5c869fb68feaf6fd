//! A logged drive, ready for a fit.

use crate::cycle::{Cycle, Demand, EngineState, LoggedDrive, Role};

/// What a channel of a log shows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Watched {
    /// The intake air temperature sensor of the sheet.
    Sensor,
    /// Oil.
    Oil,
    /// Air of a zone of the bay.
    Bay(String),
    /// Skin of an exhaust part, halfway along.
    Skin(String),
    /// Gas into an exhaust part.
    ExhaustGas(String),
}

impl Watched {
    /// Words for it.
    pub fn label(&self) -> String {
        match self {
            Self::Sensor => "intake sensor".into(),
            Self::Oil => "oil".into(),
            Self::Bay(zone) => format!("bay air, {zone}"),
            Self::Skin(part) => format!("skin, {part}"),
            Self::ExhaustGas(part) => format!("gas into {part}"),
        }
    }

    /// How far a good model may be off by itself [K]: the least spread that residuals are given.
    pub fn least_spread_k(&self) -> f64 {
        // 1 K steps alone spread by 0.3 K; gas and skins vary across a section far more (estimates)
        match self {
            Self::Sensor => 0.5,
            Self::Oil => 1.5,
            Self::Bay(_) => 3.0,
            Self::Skin(_) => 10.0,
            Self::ExhaustGas(_) => 15.0,
        }
    }
}

/// A logged temperature.
#[derive(Debug, Clone, PartialEq)]
pub struct Channel {
    /// What it shows.
    pub watched: Watched,
    /// Times in the cycle [s], rising.
    pub time_s: Vec<f64>,
    /// Values [K].
    pub value_k: Vec<f64>,
    /// Whether each may be compared with the model.
    pub usable: Vec<bool>,
}

/// A logged drive.
#[derive(Debug, Clone, PartialEq)]
pub struct Drive {
    /// Name, such as the file's.
    pub name: String,
    /// What the car did.
    pub cycle: Cycle,
    /// Logged temperatures.
    pub channels: Vec<Channel>,
    /// Coolant at the start [K], where logged.
    pub coolant_start_k: Option<f64>,
}

/// What the car was doing, for residuals by state.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum State {
    /// Within three minutes after the engine was started again.
    Restart,
    /// Standing with the engine running.
    Idle,
    /// Below 50 km/h.
    Town,
    /// 50 to 95 km/h.
    Country,
    /// Above 95 km/h.
    Motorway,
}

impl State {
    /// All of them.
    pub const ALL: [Self; 5] = [
        Self::Restart,
        Self::Idle,
        Self::Town,
        Self::Country,
        Self::Motorway,
    ];

    /// Word for it.
    pub fn name(self) -> &'static str {
        match self {
            Self::Restart => "restart",
            Self::Idle => "idle",
            Self::Town => "town",
            Self::Country => "country",
            Self::Motorway => "motorway",
        }
    }

    /// State for a demand, `since_start_s` after the engine was last started.
    pub fn of(demand: &Demand, since_start_s: f64) -> Self {
        let kmh = demand.speed_m_s * 3.6;
        if since_start_s < 180.0 {
            Self::Restart
        } else if kmh < 1.0 {
            Self::Idle
        } else if kmh < 50.0 {
            Self::Town
        } else if kmh < 95.0 {
            Self::Country
        } else {
            Self::Motorway
        }
    }
}

impl Watched {
    /// What a column of a log shows of the model; `None` for what drives it.
    pub fn of(role: &Role) -> Option<Self> {
        match role {
            Role::Sensor => Some(Self::Sensor),
            Role::Oil => Some(Self::Oil),
            Role::Bay(zone) => Some(Self::Bay(zone.clone())),
            Role::Skin(part) => Some(Self::Skin(part.clone())),
            Role::ExhaustGas(part) => Some(Self::ExhaustGas(part.clone())),
            _ => None,
        }
    }
}

impl Drive {
    /// A drive from a log.
    pub fn of(logged: LoggedDrive, name: &str) -> Self {
        let channels = logged.channels.into_iter().filter_map(|c| {
            Some(Channel {
                watched: Watched::of(&c.role)?,
                time_s: c.time_s,
                value_k: c.value_k,
                usable: c.usable,
            })
        });
        Self {
            name: name.to_owned(),
            cycle: logged.cycle,
            channels: channels.collect(),
            coolant_start_k: logged.coolant_start_k,
        }
    }

    /// The intake sensor's channel.
    pub fn sensor(&self) -> Option<&Channel> {
        self.channels.iter().find(|c| c.watched == Watched::Sensor)
    }

    /// The same drive, only to be compared from (or up to) a share of its time.
    #[must_use]
    pub fn part(&self, share: std::ops::Range<f64>) -> Self {
        let mut part = self.clone();
        let length_s = self.cycle.duration_s();
        for channel in &mut part.channels {
            let times = channel.time_s.iter().zip(&mut channel.usable);
            times.for_each(|(t, usable)| *usable &= share.contains(&(t / length_s)));
        }
        part
    }

    /// State of the car at a time [s] of the cycle; `None` with the engine off.
    pub fn state_at(&self, time_s: f64) -> Option<State> {
        let demand = self.cycle.at(time_s)?;
        if demand.engine == EngineState::Off {
            return None;
        }
        let started = self
            .cycle
            .phases
            .windows(2)
            .filter(|w| w[0].engine == EngineState::Off && w[1].start_s <= time_s)
            .map(|w| w[1].start_s)
            .next_back();
        Some(State::of(
            &demand,
            started.map_or(f64::INFINITY, |s| time_s - s),
        ))
    }
}
