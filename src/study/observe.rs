//! Watches a run: peaks, means, times over limits and the sampled series.

use super::findings::Series;
use super::gas_watch::GasWatch;
use super::ranges::RangeLog;
use super::run::RunOptions;
use super::watch::{Trend, Watch};
use crate::cycle::{Cycle, EngineState, Interval};
use crate::engine::operating::OperatingPoint;
use crate::engine::power;
use crate::materials::limit_k;
use crate::network::assemble::segment_share;
use crate::network::node::NodeIndex;
use crate::network::plant::Plant;
use crate::network::rates::Network;
use crate::physics::convection::internal::PULSATING_EXHAUST_RANGE;
use crate::quantity::celsius;
use crate::sheet::build::{Build, ExhaustKind, Treatment};

/// Id of the limit below which a second's touch of bare metal does not burn.
pub const TOUCH: &str = "touch-bare-metal-1-s";
/// Ids of the limits of coolant and oil.
pub const FLUIDS: [&str; 2] = ["coolant", "engine-oil"];
/// Load share from which the engine counts as fully loaded.
const FULL_LOAD: f64 = 0.9;

/// What is watched of an exhaust part.
#[derive(Debug, Clone)]
pub struct PartWatch {
    /// Metal nodes in flow order.
    pub metal: Vec<NodeIndex>,
    /// Skin nodes in flow order (the metal's own where bare).
    pub skin: Vec<NodeIndex>,
    /// Share of each of them in the length of the part.
    pub shares: Vec<f64>,
    /// First gas segment.
    pub first_segment: usize,
    /// Metal, hottest segment.
    pub metal_watch: Watch,
    /// Metal, mean over the part, peak [K].
    pub mean_metal_peak_k: f64,
    /// Treatment's hot face, or the shield itself, where its limit is known.
    pub treatment_watch: Option<Watch>,
    /// Skin, mean over the part, peak [K].
    pub mean_skin_peak_k: f64,
    /// Seconds after key-off until the skin may be touched; `None`: not yet.
    pub touch_after_s: Option<f64>,
}

/// What is watched of a phase.
#[derive(Debug, Clone, Default)]
pub struct PhaseWatch {
    /// Sensor over ambient [K].
    pub sensor: Trend,
    /// Valve over ambient, engine on [K].
    pub valve: Trend,
    /// Hottest skin [K].
    pub skin_peak_k: f64,
    /// Hottest zone air [K].
    pub air_peak_k: f64,
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

/// Temperatures at an instant, the same on both sides of where two intervals meet.
#[derive(Debug, Clone, Default)]
struct Temperatures {
    /// Hottest segments.
    skins: Vec<f64>,
    metals: Vec<f64>,
    /// Means over parts.
    mean_skins: Vec<f64>,
    mean_metals: Vec<f64>,
    y: Vec<f64>,
}

/// Watches a run.
#[derive(Debug)]
pub struct Observer<'a> {
    build: &'a Build,
    network: &'a Network,
    sample_s: f64,
    next_sample_s: f64,
    start: Instant,
    /// Temperatures at the end of the interval seen last; none before the first.
    now: Option<Temperatures>,
    /// Work space.
    next: Temperatures,
    /// Per exhaust part.
    pub parts: Vec<PartWatch>,
    /// Gas in the exhaust.
    pub(super) gas: GasWatch,
    /// Per zone: air temperature [K].
    pub zones: Vec<Watch>,
    /// Per neighbour.
    pub neighbours: Vec<(NodeIndex, Watch)>,
    /// Bearing housing.
    pub bearing: Option<(NodeIndex, Watch)>,
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
    /// Coolant and oil: node, watch.
    pub fluids: [(NodeIndex, Watch); 2],
    /// Gas into the turbine, engine on [K].
    pub turbine_in: Trend,
    /// Enthalpy flow into the turbine, engine on [W].
    pub turbine_enthalpy: Trend,
    /// Seconds in which the engine could not meet the demand.
    pub limited_s: f64,
    /// Skin that burns in a second [K].
    touch_k: f64,
    /// Key-off started [s].
    key_off_s: Option<f64>,
    /// Length of the last key-off phase [s].
    pub soak_s: f64,
    /// Correlations outside their ranges, when they are watched.
    pub ranges: Option<RangeLog>,
    /// Series.
    pub series: Series,
}

impl<'a> Observer<'a> {
    /// An observer for a run.
    pub fn new(
        build: &'a Build,
        network: &'a Network,
        cycle: &Cycle,
        options: &RunOptions,
    ) -> Self {
        let find = |name: &str| network.nodes.iter().position(|n| n.name == name);
        let parts = build.exhaust.iter().enumerate().map(|(index, part)| {
            let tagged = |kind: &str| part_nodes(network, kind, &part.name);
            let metal = tagged("metal");
            let skin = Some(tagged("skin")).filter(|s| !s.is_empty());
            let skin = skin.unwrap_or_else(|| metal.clone());
            let treatment_limit = part.treatment.as_ref().and_then(|t| t.max_service_k);
            let shares = (0..metal.len())
                .map(|i| segment_share(i, metal.len()))
                .collect();
            PartWatch {
                metal,
                shares,
                skin,
                first_segment: network
                    .circuit
                    .segments
                    .iter()
                    .position(|s| s.part == index)
                    .unwrap_or(0),
                metal_watch: Watch::new(part.metal.max_service_k.value),
                treatment_watch: treatment_limit.map(Watch::new),
                mean_metal_peak_k: 0.0,
                mean_skin_peak_k: 0.0,
                touch_after_s: None,
            }
        });
        let neighbours = build.neighbours.iter().filter_map(|n| {
            Some((
                find(&format!("neighbour:{}", n.name))?,
                Watch::new(n.limit_k),
            ))
        });
        let bearing = network.circuit.roles.bearing.zip(build.turbo.as_ref());
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
        names.extend(
            network
                .nodes
                .iter()
                .filter(|n| listed(&n.name))
                .map(|n| format!("{}_c", n.name)),
        );
        Self {
            build,
            network,
            sample_s: options.sample_s,
            next_sample_s: 0.0,
            start: Instant::default(),
            now: None,
            next: Temperatures::default(),
            parts: parts.collect(),
            gas: GasWatch::new(&network.circuit, build.exhaust.len()),
            zones: vec![Watch::new(f64::INFINITY); network.circuit.roles.zones],
            neighbours: neighbours.collect(),
            bearing: bearing.map(|(node, t)| (node, Watch::new(t.oil_coking_k))),
            phases: vec![PhaseWatch::default(); cycle.phases.len()],
            rises: Default::default(),
            density_loss: Trend::default(),
            retard: Trend::default(),
            sensor_loss: Trend::default(),
            fluids: [
                (
                    network.circuit.roles.coolant,
                    Watch::new(limit_k(FLUIDS[0])),
                ),
                (network.circuit.roles.oil, Watch::new(limit_k(FLUIDS[1]))),
            ],
            density_loss_full: Trend::default(),
            turbine_in: Trend::default(),
            turbine_enthalpy: Trend::default(),
            limited_s: 0.0,
            touch_k: limit_k(TOUCH),
            key_off_s: None,
            soak_s: 0.0,
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

    /// Notes the start of an interval; the plant has just marched its streams there.
    pub fn start(&mut self, interval: &Interval, y: &[f64], plant: &Plant, point: &OperatingPoint) {
        self.start = self.instant(plant, point);
        if self.now.is_none() {
            let mut now = Temperatures::default();
            self.temperatures(y, &mut now);
            self.now = Some(now);
        }
        if self.samples_at(interval.start_s) {
            self.sample(interval.start_s, plant);
            self.next_sample_s = interval.start_s + self.sample_s;
        }
    }

    /// Whether the series takes a sample at that time [s].
    pub fn samples_at(&self, time_s: f64) -> bool {
        time_s >= self.next_sample_s - 1e-9
    }

    /// Notes the end of an interval, where the plant has just marched its streams, and adds the interval to all means and peaks.
    pub fn end(&mut self, interval: &Interval, y: &[f64], plant: &Plant, point: &OperatingPoint) {
        let (start, end) = (self.start, self.instant(plant, point));
        let a = self.now.take().unwrap_or_default();
        let mut b = std::mem::take(&mut self.next);
        self.temperatures(y, &mut b);
        let seconds = interval.end_s - interval.start_s;
        self.add_intake(interval, &start, &end, seconds);
        self.add_parts(interval, &a, &b, seconds);
        if point.limited {
            self.limited_s += seconds;
        }
        for (zone, watch) in self.zones.iter_mut().enumerate() {
            let node = self.network.circuit.roles.first_zone + zone;
            watch.add(a.y[node], b.y[node], seconds);
            let phase = &mut self.phases[interval.phase];
            phase.air_peak_k = phase.air_peak_k.max(a.y[node]).max(b.y[node]);
        }
        for (node, watch) in &mut self.neighbours {
            watch.add(a.y[*node], b.y[*node], seconds);
        }
        for (node, watch) in &mut self.fluids {
            watch.add(a.y[*node], b.y[*node], seconds);
        }
        if let Some((node, watch)) = &mut self.bearing {
            watch.add(a.y[*node], b.y[*node], seconds);
        }
        if let Some(ranges) = &mut self.ranges {
            let at = (interval.start_s, seconds);
            ranges.note_links(self.network, &plant.to, &plant.scratch.node_k, at);
        }
        (self.now, self.next) = (Some(b), a);
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

    fn temperatures(&self, y: &[f64], out: &mut Temperatures) {
        out.y.clear();
        out.y.extend_from_slice(&y[..self.network.nodes.len()]);
        out.metals.clear();
        out.skins.clear();
        out.mean_metals.clear();
        out.mean_skins.clear();
        for part in &self.parts {
            out.metals.push(hottest(&part.metal, y));
            out.skins.push(hottest(&part.skin, y));
            out.mean_metals.push(mean(&part.metal, &part.shares, y));
            out.mean_skins.push(mean(&part.skin, &part.shares, y));
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

    fn add_parts(&mut self, interval: &Interval, a: &Temperatures, b: &Temperatures, seconds: f64) {
        let off = interval.from.engine == EngineState::Off;
        if off && self.key_off_s.is_none() {
            self.key_off_s = Some(interval.start_s);
            self.parts.iter_mut().for_each(|p| p.touch_after_s = None);
        } else if !off {
            self.key_off_s = None;
        }
        if let Some(start) = self.key_off_s {
            self.soak_s = interval.end_s - start;
        }
        let phase = &mut self.phases[interval.phase];
        for (i, part) in self.parts.iter_mut().enumerate() {
            part.metal_watch.add(a.metals[i], b.metals[i], seconds);
            part.mean_metal_peak_k = part
                .mean_metal_peak_k
                .max(a.mean_metals[i])
                .max(b.mean_metals[i]);
            part.mean_skin_peak_k = part
                .mean_skin_peak_k
                .max(a.mean_skins[i])
                .max(b.mean_skins[i]);
            let treatment = self.build.exhaust[i].treatment.as_ref();
            if let Some(watch) = &mut part.treatment_watch {
                let (from, to) = if treatment.is_some_and(Treatment::limit_at_skin) {
                    (a.skins[i], b.skins[i])
                } else {
                    (a.metals[i], b.metals[i])
                };
                watch.add(from, to, seconds);
            }
            phase.skin_peak_k = phase.skin_peak_k.max(a.mean_skins[i]).max(b.mean_skins[i]);
            // a hand may also meet the share that stayed bare
            let all_covered = treatment.is_none_or(|t| t.coverage >= 1.0);
            let touched_k = |s: &Temperatures| {
                if all_covered {
                    s.skins[i]
                } else {
                    s.skins[i].max(s.metals[i])
                }
            };
            let (before_k, after_k) = (touched_k(a), touched_k(b));
            // a skin over an insulated part may rise again: only the last fall counts
            match self.key_off_s {
                Some(_) if after_k >= self.touch_k => part.touch_after_s = None,
                Some(start) if part.touch_after_s.is_none() => {
                    let share = if before_k > self.touch_k {
                        (before_k - self.touch_k) / (before_k - after_k)
                    } else {
                        0.0
                    };
                    part.touch_after_s = Some(interval.start_s + share * seconds - start);
                }
                _ => {}
            }
        }
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
        let mut row = vec![
            celsius(c.ambient_k),
            c.speed_m_s * 3.6,
            c.rpm,
            c.air_kg_s * 1e3,
            c.exhaust_kg_s * 1e3,
            c.fan,
            celsius(s.pickup_k),
            celsius(s.sensor_reading_k),
            celsius(s.air.valve_k),
        ];
        for part in &self.parts {
            row.push(celsius(s.gas.in_k[part.first_segment]));
            row.push(celsius(mean(&part.metal, &part.shares, &s.node_k)));
            row.push(celsius(mean(&part.skin, &part.shares, &s.node_k)));
        }
        let nodes = self.network.nodes.iter().zip(&s.node_k);
        row.extend(
            nodes
                .filter(|(n, _)| listed(&n.name))
                .map(|(_, &k)| celsius(k)),
        );
        self.series.time_s.push(time_s);
        self.series.rows.push(row);
    }
}

/// Mean over the segments of a part by their length.
fn mean(nodes: &[NodeIndex], shares: &[f64], node_k: &[f64]) -> f64 {
    let pairs = nodes.iter().zip(shares);
    pairs.map(|(&n, share)| share * node_k[n]).sum()
}

/// Hottest segment of a part: ends are cooled by flanges, so the hot spot may lie between them.
fn hottest(nodes: &[NodeIndex], node_k: &[f64]) -> f64 {
    let hotter = |most: f64, &n: &NodeIndex| if node_k[n] > most { node_k[n] } else { most };
    nodes.iter().fold(f64::NEG_INFINITY, hotter)
}

/// Nodes of an exhaust part in flow order: its `metal` or its `skin`.
pub fn part_nodes(network: &Network, kind: &str, part: &str) -> Vec<NodeIndex> {
    let prefix = format!("{kind}:{part}");
    let of_part = |n: &str| n == prefix || n.strip_prefix(&prefix).is_some_and(is_tag);
    (0..network.nodes.len())
        .filter(|&i| of_part(&network.nodes[i].name))
        .collect()
}

/// True for a segment tag such as `/2`.
fn is_tag(rest: &str) -> bool {
    rest.strip_prefix('/')
        .is_some_and(|n| n.bytes().all(|b| b.is_ascii_digit()))
}

/// Nodes that get a column of their own beside the part columns.
fn listed(name: &str) -> bool {
    let of_part = ["metal:", "skin:", "layer:"];
    name != "sensor" && of_part.iter().all(|kind| !name.starts_with(kind))
}
