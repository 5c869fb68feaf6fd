//! Watches a run: peaks, means, times over limits and the sampled series.

use super::findings::Series;
use super::gas_watch::GasWatch;
use super::heat_watch::{HeatWatch, mean};
use super::ranges::RangeLog;
use super::run::RunOptions;
use super::watch::Trend;
use crate::cycle::{Cycle, Interval};
use crate::engine::operating::OperatingPoint;
use crate::engine::power;
use crate::network::node::NodeIndex;
use crate::network::plant::Plant;
use crate::network::rates::Network;
use crate::physics::convection::internal::PULSATING_EXHAUST_RANGE;
use crate::quantity::celsius;
use crate::sheet::build::{Build, ExhaustKind};

/// Load share from which the engine counts as fully loaded.
const FULL_LOAD: f64 = 0.9;

/// What is watched of a phase.
#[derive(Debug, Clone, Default)]
pub struct PhaseWatch {
    /// Sensor over ambient [K].
    pub sensor: Trend,
    /// Valve over ambient, engine on [K].
    pub valve: Trend,
}

/// What the drivers make of an instant: it jumps where they do, from one interval to the next.
#[derive(Debug, Clone, Copy, Default)]
struct Instant {
    pickup: f64,
    sensor: f64,
    valve: f64,
    running: bool,
    load_share: f64,
    density_loss: f64,
    retard: f64,
    sensor_loss: f64,
    turbine_in_k: f64,
    turbine_enthalpy_w: f64,
}

/// Watches a run.
#[derive(Debug)]
pub struct Observer<'a> {
    build: &'a Build,
    network: &'a Network,
    sample_s: f64,
    next_sample_s: f64,
    start: Instant,
    /// Temperatures.
    pub heat: HeatWatch,
    /// First gas segment of each exhaust part.
    first_segments: Vec<usize>,
    /// Gas in the exhaust.
    pub(super) gas: GasWatch,
    /// Per phase.
    pub phases: Vec<PhaseWatch>,
    /// Rises over ambient with the engine on: pickup, sensor, valve [K].
    pub rises: [Trend; 3],
    /// Density loss by heat between outside and valve, engine on [-].
    pub density_loss: Trend,
    /// The same at full load only.
    pub density_loss_full: Trend,
    /// Power lost to ignition retard, engine on [-].
    pub retard: Trend,
    /// Density loss up to the sensor's place, engine on [-].
    pub sensor_loss: Trend,
    /// Gas into the turbine, engine on [K].
    pub turbine_in: Trend,
    /// Enthalpy flow into the turbine, engine on [W].
    pub turbine_enthalpy: Trend,
    /// Seconds in which the engine could not meet the demand.
    pub limited_s: f64,
    /// Correlations outside their ranges, when they are watched.
    pub ranges: Option<RangeLog<'a>>,
    /// Series.
    pub series: Series,
    /// Nodes that get a column of their own in it.
    listed: Vec<NodeIndex>,
}

impl<'a> Observer<'a> {
    /// An observer for a run that begins at `y`.
    pub fn new(
        build: &'a Build,
        network: &'a Network,
        (cycle, options): (&Cycle, &RunOptions),
        y: &[f64],
    ) -> Self {
        let first_segment = |part: usize| {
            let mut segments = network.circuit.segments.iter();
            segments.position(|s| s.part == part).unwrap_or(0)
        };
        let mut names: Vec<String> = [
            "ambient_c",
            "speed_kmh",
            "rpm",
            "air_flow_g_s",
            "exhaust_flow_g_s",
            "fan_share",
        ]
        .map(String::from)
        .to_vec();
        names.extend(["pickup", "sensor", "valve"].map(|p| format!("intake:{p}_c")));
        for part in &build.exhaust {
            names.extend(["gas", "metal", "skin"].map(|k| format!("{k}:{}_c", part.name)));
        }
        let nodes = network.nodes.iter().enumerate();
        let listed: Vec<NodeIndex> = nodes
            .filter(|(_, n)| listed(&n.name))
            .map(|(i, _)| i)
            .collect();
        names.extend(
            listed
                .iter()
                .map(|&i| format!("{}_c", network.nodes[i].name)),
        );
        Self {
            build,
            network,
            sample_s: options.sample_s,
            next_sample_s: 0.0,
            start: Instant::default(),
            heat: HeatWatch::new(build, network, cycle, y),
            first_segments: (0..build.exhaust.len()).map(first_segment).collect(),
            gas: GasWatch::new(&network.circuit, build.exhaust.len()),
            phases: vec![PhaseWatch::default(); cycle.phases.len()],
            rises: Default::default(),
            density_loss: Trend::default(),
            retard: Trend::default(),
            sensor_loss: Trend::default(),
            density_loss_full: Trend::default(),
            turbine_in: Trend::default(),
            turbine_enthalpy: Trend::default(),
            limited_s: 0.0,
            listed,
            ranges: options.watch_ranges.then(RangeLog::default),
            series: Series {
                names,
                phases: cycle
                    .phases
                    .iter()
                    .map(|p| (p.name.clone(), p.kind.name().to_owned(), p.start_s, p.end_s))
                    .collect(),
                ..Series::default()
            },
        }
    }

    /// Notes the start of an interval; the plant holds its streams there.
    pub fn start(&mut self, interval: &Interval, plant: &Plant, point: &OperatingPoint) {
        self.start = self.instant(plant, point);
        if self.samples_at(interval.start_s) {
            self.sample(interval.start_s, plant);
            self.next_sample_s = interval.start_s + self.sample_s;
        }
    }

    /// Whether the series takes a sample at that time [s].
    pub fn samples_at(&self, time_s: f64) -> bool {
        time_s >= self.next_sample_s - 1e-9
    }

    /// Notes the end of an interval, where the plant has just marched its streams, and adds the interval to the means and
    /// peaks of all that hangs on drivers; temperatures are seen by [`HeatWatch::see`].
    pub fn end(&mut self, interval: &Interval, plant: &Plant, point: &OperatingPoint) {
        let (start, end) = (self.start, self.instant(plant, point));
        let seconds = interval.end_s - interval.start_s;
        self.add_intake(interval, &start, &end, seconds);
        if point.limited {
            self.limited_s += seconds;
        }
        if let Some(ranges) = &mut self.ranges {
            let at = (interval.start_s, seconds);
            ranges.note_surfaces(self.network, &plant.to, &plant.scratch.node_k, at);
        }
    }

    /// Samples the last instant of the run.
    pub fn finish(&mut self, time_s: f64, plant: &Plant) {
        if self.series.time_s.last().is_none_or(|&t| t < time_s - 1e-9) {
            self.sample(time_s, plant);
        }
    }

    fn instant(&self, plant: &Plant, point: &OperatingPoint) -> Instant {
        let ambient_k = plant.now().scalars.ambient_k;
        let s = &plant.scratch;
        Instant {
            pickup: s.pickup_k - ambient_k,
            sensor: s.sensor_reading_k - ambient_k,
            valve: s.air.valve_k - ambient_k,
            running: point.running,
            load_share: point.torque_share,
            density_loss: 1.0 - ambient_k / s.air.valve_k,
            sensor_loss: 1.0 - ambient_k / s.air.sensor_air_k,
            retard: power::retard_share(&self.build.engine, s.air.valve_k),
            turbine_in_k: s.turbine_in.0,
            turbine_enthalpy_w: s.turbine_in.1,
        }
    }

    fn add_intake(&mut self, interval: &Interval, a: &Instant, b: &Instant, seconds: f64) {
        let phase = &mut self.phases[interval.phase];
        phase.sensor.add(a.sensor, b.sensor, seconds);
        if !(a.running && b.running) {
            return;
        }
        phase.valve.add(a.valve, b.valve, seconds);
        for (trend, (x, y)) in self.rises.iter_mut().zip([
            (a.pickup, b.pickup),
            (a.sensor, b.sensor),
            (a.valve, b.valve),
        ]) {
            trend.add(x, y, seconds);
        }
        self.density_loss
            .add(a.density_loss, b.density_loss, seconds);
        self.retard.add(a.retard, b.retard, seconds);
        self.sensor_loss.add(a.sensor_loss, b.sensor_loss, seconds);
        if a.load_share.min(b.load_share) > FULL_LOAD {
            self.density_loss_full
                .add(a.density_loss, b.density_loss, seconds);
        }
        self.turbine_in.add(a.turbine_in_k, b.turbine_in_k, seconds);
        self.turbine_enthalpy
            .add(a.turbine_enthalpy_w, b.turbine_enthalpy_w, seconds);
    }

    /// Looks at the gas at the end of an interval, where the plant has just marched its streams.
    pub fn look_at_gas(&mut self, interval: &Interval, plant: &Plant, point: &OperatingPoint) {
        let circuit = &self.network.circuit;
        let manifold_pa = point.manifold_pressure_pa;
        self.gas
            .look(circuit, plant.now(), &plant.scratch.gas, manifold_pa);
        let Some(ranges) = self.ranges.as_mut().filter(|_| point.running) else {
            return;
        };
        let at = (interval.start_s, interval.end_s - interval.start_s);
        for (segment, &re) in circuit.segments.iter().zip(&self.gas.re) {
            let pulsates = matches!(
                segment.kind,
                ExhaustKind::Runner | ExhaustKind::Collector | ExhaustKind::Link
            );
            if pulsates {
                let place = &self.build.exhaust[segment.part].name;
                ranges.note(&PULSATING_EXHAUST_RANGE, place, re, at);
            }
        }
    }

    /// One row of the series from the plant's last call.
    fn sample(&mut self, time_s: f64, plant: &Plant) {
        let c = plant.now().scalars;
        let s = &plant.scratch;
        let mut row = Vec::with_capacity(self.series.names.len());
        row.extend([
            celsius(c.ambient_k),
            c.speed_m_s * 3.6,
            c.rpm,
            c.air_kg_s * 1e3,
            c.exhaust_kg_s * 1e3,
            c.fan,
            celsius(s.pickup_k),
            celsius(s.sensor_reading_k),
            celsius(s.air.valve_k),
        ]);
        for (part, &segment) in self.heat.parts.iter().zip(&self.first_segments) {
            row.push(celsius(s.gas.in_k[segment]));
            row.push(celsius(mean(&part.metal, &part.shares, &s.node_k)));
            row.push(celsius(mean(&part.skin, &part.shares, &s.node_k)));
        }
        row.extend(self.listed.iter().map(|&node| celsius(s.node_k[node])));
        self.series.time_s.push(time_s);
        self.series.rows.push(row);
    }
}

/// Whether a node gets a column of its own beside the part columns.
fn listed(name: &str) -> bool {
    let of_part = ["metal:", "skin:", "layer:"];
    name != "sensor" && of_part.iter().all(|kind| !name.starts_with(kind))
}
