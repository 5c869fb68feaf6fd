//! The model over a logged drive, read where the log was read.

use super::drive::{Drive, Watched};
use crate::cycle::{EngineState, Interval};
use crate::network::assemble::{AssembleError, Detail, assemble};
use crate::network::control::{Beginning, Controller};
use crate::network::node::{NodeIndex, NodeKind};
use crate::network::plant::Plant;
use crate::network::rates::Network;
use crate::sheet::build::Build;
use crate::solve::{Integrator, Method, SolveError, System, Tolerance};

/// Segments per exhaust part: the intake hardly sees the rest (0.02 K on the sensor of the built-in builds).
const DETAIL: Detail = Detail { segments: 2 };
/// Error per step [K]: a tenth of what slopes are taken from.
const TOLERANCE: Tolerance = Tolerance {
    relative: 0.0,
    absolute: 0.02,
};
/// A drive's own beginning, from which the state it starts in is taken [s].
pub const SETTLING_S: f64 = 60.0;
/// Starts of the drive that aren't looked at: cranking and the first seconds of running [s].
const CRANKING_S: f64 = 10.0;
/// A start that the first minute shows less than this can't be found from it [-].
const LEAST_SLOPE: f64 = 0.2;
/// A match of the start this good is good enough [K].
const START_MATCH_K: f64 = 0.1;
/// Warmth of the exhaust at the start over that of the coolant: metal that has soaked beside the
/// engine (estimate).
const EXHAUST_SOAK: f64 = 0.5;
/// Most and least that bay and intake may be over ambient at the start [K].
const SOAK_K: (f64, f64) = (-15.0, 60.0);

/// What the model says about a drive.
#[derive(Debug, Clone)]
pub struct Prediction {
    /// For each channel of the drive, a temperature at each of its times [K].
    pub channels: Vec<Vec<f64>>,
    /// Bay and intake over ambient at the start [K].
    pub soak_k: f64,
}

/// Why there is no prediction.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PredictError {
    /// The build can't become a network.
    #[error(transparent)]
    Assemble(#[from] AssembleError),
    /// The solver gave up.
    #[error(transparent)]
    Solve(#[from] SolveError),
    /// The build has no such part.
    #[error("{drive}: {what} isn't in the sheet\n  hint: it has {there}")]
    NotThere {
        /// Drive.
        drive: String,
        /// What is logged.
        what: String,
        /// What could be.
        there: String,
    },
}

/// Where a channel is read.
#[derive(Debug, Clone, Copy)]
enum Place {
    Reading,
    Node(NodeIndex),
    GasInto(usize),
}

fn place(network: &Network, build: &Build, watched: &Watched) -> Option<Place> {
    let named = |name: &str| network.nodes.iter().position(|n| n.name == name);
    match watched {
        Watched::Sensor => Some(Place::Reading),
        Watched::Oil => Some(Place::Node(network.circuit.roles.oil)),
        Watched::Bay(zone) => named(&format!("air:{zone}")).map(Place::Node),
        Watched::Skin(part) => {
            let of = |kind: &str| {
                let prefix = format!("{kind}:{part}");
                let own = |name: &str| {
                    name.strip_prefix(&prefix)
                        .is_some_and(|rest| rest.is_empty() || rest.starts_with(['/', ' ']))
                };
                let all: Vec<usize> = (0..network.nodes.len())
                    .filter(|&i| own(&network.nodes[i].name))
                    .collect();
                all.get(all.len() / 2).copied()
            };
            of("skin").or_else(|| of("metal")).map(Place::Node)
        }
        Watched::ExhaustGas(part) => {
            let part = build.exhaust.iter().position(|p| &p.name == part)?;
            let segment = network
                .circuit
                .segments
                .iter()
                .position(|s| s.part == part)?;
            Some(Place::GasInto(segment))
        }
    }
}

/// Runs a build over a drive.
///
/// With `soak_k` the state at the start is given; without it, it is found from the sensor in the
/// drive's own first minute.
///
/// # Errors
/// When the build has no network or not what the log has, or the solver gives up.
pub fn predict(
    build: &Build,
    drive: &Drive,
    soak_k: Option<f64>,
) -> Result<Prediction, PredictError> {
    let network = assemble(build, DETAIL)?;
    let mut places = Vec::new();
    for channel in &drive.channels {
        match place(&network, build, &channel.watched) {
            Some(place) => places.push(place),
            None => {
                return Err(PredictError::NotThere {
                    drive: drive.name.clone(),
                    what: channel.watched.label(),
                    there: there(build),
                });
            }
        }
    }
    let march = Marcher {
        build,
        network: &network,
        drive,
        places: &places,
        intervals: drive.cycle.ticks(),
    };
    let soak_k = match soak_k {
        Some(soak_k) => soak_k,
        None => march.find_soak()?,
    };
    let channels = march.go(soak_k, f64::INFINITY)?;
    Ok(Prediction { channels, soak_k })
}

fn there(build: &Build) -> String {
    let parts = build.exhaust.iter().map(|p| p.name.as_str());
    let zones = build.bay.zones.iter().map(|z| z.name.as_str());
    parts.chain(zones).collect::<Vec<_>>().join(", ")
}

struct Marcher<'a> {
    build: &'a Build,
    network: &'a Network,
    drive: &'a Drive,
    places: &'a [Place],
    intervals: Vec<Interval>,
}

impl Marcher<'_> {
    /// Temperatures at the start: engine at the logged coolant, bay and intake at `soak_k` over ambient.
    fn start(&self, soak_k: f64) -> Vec<f64> {
        let network = self.network;
        let ambient_k = self
            .intervals
            .first()
            .and_then(|i| i.from.ambient_k)
            .unwrap_or(self.build.day.ambient_k);
        let coolant_k = self.drive.coolant_start_k.unwrap_or(ambient_k);
        let warmth = (coolant_k - ambient_k).max(0.0);
        let mut y = vec![0.0; network.states()];
        for (y, node) in y.iter_mut().zip(&network.nodes) {
            *y = match node.kind {
                NodeKind::Engine => coolant_k,
                NodeKind::Metal | NodeKind::Skin => ambient_k + EXHAUST_SOAK * warmth,
                _ => ambient_k + soak_k,
            };
        }
        let open = network.circuit.thermostat(coolant_k);
        y[network.circuit.roles.radiator] = ambient_k + soak_k.clamp(0.0, warmth);
        y[network.circuit.roles.radiator] += open * (coolant_k - y[network.circuit.roles.radiator]);
        y
    }

    /// Runs until `until_s`; channels hold what was passed on the way.
    fn go(&self, soak_k: f64, until_s: f64) -> Result<Vec<Vec<f64>>, SolveError> {
        let network = self.network;
        let mut plant = Plant::new(network);
        let mut controller = Controller::new(self.build);
        let mut integrator = Integrator::new(Method::Rosenbrock, TOLERANCE);
        let mut y = self.start(soak_k);
        let mut dy = vec![0.0; y.len()];
        let mut channels: Vec<Vec<f64>> = self.drive.channels.iter().map(|_| Vec::new()).collect();
        let mut before: Vec<f64> = Vec::new();
        let mut before_s = f64::NEG_INFINITY;
        for interval in &self.intervals {
            if interval.start_s >= until_s {
                break;
            }
            plant.span_s = (interval.start_s, interval.end_s);
            let (tick, ends) = (
                (interval, Beginning::Continued),
                (&mut plant.from, &mut plant.to),
            );
            controller.settle(network, tick, &y, ends);
            if before.is_empty() {
                plant.rates(interval.start_s, &y, &mut dy);
                // a heated flow meter has warmed its sensor before the first reading
                let sensor = network.circuit.roles.sensor;
                y[sensor] += y[sensor] - plant.scratch.sensor_reading_k;
                plant.rates(interval.start_s, &y, &mut dy);
                before = self.read(&plant, &y);
                before_s = interval.start_s;
            }
            integrator.advance(&mut plant, interval.start_s, interval.end_s, &mut y)?;
            plant.rates(interval.end_s, &y, &mut dy);
            let now = self.read(&plant, &y);
            for (c, channel) in self.drive.channels.iter().enumerate() {
                let out = &mut channels[c];
                while let Some(&t) = channel.time_s.get(out.len()) {
                    let t = t - self.delay_s(c);
                    if t > interval.end_s + 1e-9 {
                        break;
                    }
                    let span = (interval.end_s - before_s).max(1e-12);
                    let w = ((t - before_s) / span).clamp(0.0, 1.0);
                    out.push(before[c] + w * (now[c] - before[c]));
                }
            }
            (before, before_s) = (now, interval.end_s);
        }
        if until_s.is_infinite() {
            for (out, (channel, &last)) in channels
                .iter_mut()
                .zip(self.drive.channels.iter().zip(&before))
            {
                out.resize(channel.time_s.len(), last);
            }
        }
        Ok(channels)
    }

    /// How late the log shows a channel [s].
    fn delay_s(&self, channel: usize) -> f64 {
        match self.places[channel] {
            Place::Reading => self.build.intake.sensor.log_delay_s,
            _ => 0.0,
        }
    }

    fn read(&self, plant: &Plant<'_>, y: &[f64]) -> Vec<f64> {
        let s = &plant.scratch;
        let value = |place: &Place| match *place {
            Place::Reading => s.sensor_reading_k + self.build.intake.sensor.log_offset_k,
            Place::Node(node) => y[node],
            Place::GasInto(segment) => s.gas.in_k.get(segment).copied().unwrap_or(s.port_k),
        };
        self.places.iter().map(value).collect()
    }

    /// How far bay and intake are over ambient at the start, from the sensor in the first minute.
    fn find_soak(&self) -> Result<f64, SolveError> {
        let sensor = self
            .drive
            .channels
            .iter()
            .position(|c| c.watched == Watched::Sensor);
        let Some(sensor) = sensor else { return Ok(0.0) };
        let channel = &self.drive.channels[sensor];
        let ambient_k = self.intervals.first().and_then(|i| i.from.ambient_k);
        let ambient_k = ambient_k.unwrap_or(self.build.day.ambient_k);
        let running: Vec<usize> = (0..channel.time_s.len())
            .take_while(|&i| channel.time_s[i] < SETTLING_S)
            .filter(|&i| {
                let demand = self.drive.cycle.at(channel.time_s[i]);
                channel.time_s[i] > CRANKING_S
                    && demand.is_some_and(|d| d.engine == EngineState::Running)
            })
            .collect();
        if running.len() < 3 {
            let first = channel.value_k.first().copied().unwrap_or(ambient_k);
            return Ok((first - ambient_k).clamp(SOAK_K.0, SOAK_K.1));
        }
        let middle = |mut values: Vec<f64>| {
            values.sort_by(f64::total_cmp);
            let cut = values.len() / 4;
            let kept = &values[cut..values.len() - cut];
            kept.iter().sum::<f64>() / kept.len() as f64
        };
        let logged = middle(running.iter().map(|&i| channel.value_k[i]).collect());
        let first = (logged - ambient_k).clamp(SOAK_K.0, SOAK_K.1);
        let miss = |soak: f64| -> Result<f64, SolveError> {
            let found = &self.go(soak, SETTLING_S)?[sensor];
            let off = running
                .iter()
                .filter_map(|&i| found.get(i).map(|model| model - channel.value_k[i]));
            Ok(middle(off.collect()))
        };
        let off = miss(first)?;
        if off.abs() < START_MATCH_K {
            return Ok(first);
        }
        // the sensor follows the start in a straight line, so two runs tell
        let second = first - off;
        let slope = (miss(second)? - off) / (second - first);
        if slope < LEAST_SLOPE {
            return Ok(first);
        }
        Ok((first - off / slope).clamp(SOAK_K.0, SOAK_K.1))
    }
}
