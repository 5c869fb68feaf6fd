//! Watches the temperatures of a car, or of several side by side: peaks, times over limits, and how long a skin burns.

use super::watch::Watch;
use crate::cycle::{Cycle, EngineState, Interval};
use crate::materials::limit_k;
use crate::network::assemble::segment_share;
use crate::network::node::NodeIndex;
use crate::network::rates::Network;
use crate::number::{Choice, Lanes, Number, side_by_side, widest};
use crate::sheet::build::{Build, Treatment};

/// Id of the limit below which a second's touch of bare metal does not burn.
pub const TOUCH: &str = "touch-bare-metal-1-s";
/// Ids of the limits of coolant and oil.
pub const FLUIDS: [&str; 2] = ["coolant", "engine-oil"];

/// What is watched of an exhaust part.
#[derive(Debug, Clone)]
pub struct PartWatch<N = f64> {
    /// Metal nodes in flow order.
    pub metal: Vec<NodeIndex>,
    /// Skin nodes in flow order (the metal's own where bare).
    pub skin: Vec<NodeIndex>,
    /// Share of each of them in the length of the part.
    pub shares: Vec<f64>,
    /// Metal, hottest segment.
    pub metal_watch: Watch<N>,
    /// Metal, mean over the part, peak [K].
    pub mean_metal_peak_k: N,
    /// Treatment's hot face, or the shield itself, where its limit is known.
    pub treatment_watch: Option<Watch<N>>,
    /// Skin, mean over the part, peak [K].
    pub mean_skin_peak_k: N,
    /// Whether the treatment's limit holds at the skin.
    limit_at_skin: bool,
    /// 1 where a share stayed bare: a hand may also meet that; else 0.
    bare: N,
    /// Seconds after key-off until the skin may be touched; infinite: not yet.
    touch_after_s: N,
}
side_by_side!(PartWatch {
    numbers: [
        metal_watch,
        mean_metal_peak_k,
        treatment_watch,
        mean_skin_peak_k,
        bare,
        touch_after_s
    ],
    same: [metal, skin, shares, limit_at_skin],
});

/// What is watched of a phase.
#[derive(Debug, Clone, Default)]
pub struct PhasePeaks<N = f64> {
    /// Hottest skin [K].
    pub skin_k: N,
    /// Hottest zone air [K].
    pub air_k: N,
}
side_by_side!(PhasePeaks {
    numbers: [skin_k, air_k],
    same: [],
});

/// Temperatures at an instant, the same on both sides of where two intervals meet.
#[derive(Debug, Clone, Default)]
struct Temperatures<N> {
    /// Hottest segments of each part.
    skins: Vec<N>,
    metals: Vec<N>,
    /// Means over each part.
    mean_skins: Vec<N>,
    mean_metals: Vec<N>,
    /// All nodes.
    node_k: Vec<N>,
}
side_by_side!(Temperatures {
    numbers: [skins, metals, mean_skins, mean_metals, node_k],
    same: [],
});

/// Watches temperatures.
#[derive(Debug, Clone)]
pub struct HeatWatch<N = f64> {
    /// Per exhaust part.
    pub parts: Vec<PartWatch<N>>,
    /// Per zone: air temperature [K].
    pub zones: Vec<(NodeIndex, Watch<N>)>,
    /// Per neighbour.
    pub neighbours: Vec<(NodeIndex, Watch<N>)>,
    /// Coolant and oil.
    pub fluids: Vec<(NodeIndex, Watch<N>)>,
    /// Bearing housing.
    pub bearing: Option<(NodeIndex, Watch<N>)>,
    /// Per phase.
    pub phases: Vec<PhasePeaks<N>>,
    /// Length of the last key-off phase [s].
    pub soak_s: f64,
    /// Key-off started [s].
    key_off_s: Option<f64>,
    /// Skin that burns in a second [K].
    touch_k: f64,
    /// Temperatures at the end of the interval seen last.
    now: Temperatures<N>,
    /// Work space.
    next: Temperatures<N>,
}
side_by_side!(HeatWatch {
    numbers: [parts, zones, neighbours, fluids, bearing, phases, now, next],
    same: [soak_s, key_off_s, touch_k],
});

impl HeatWatch {
    /// Of a car at the beginning of a cycle, its nodes at `y`.
    pub fn new(build: &Build, network: &Network, cycle: &Cycle, y: &[f64]) -> Self {
        let find = |name: &str| network.nodes.iter().position(|n| n.name == name);
        let parts = build.exhaust.iter().map(|part| {
            let metal = part_nodes(network, "metal", &part.name);
            let skin = Some(part_nodes(network, "skin", &part.name)).filter(|s| !s.is_empty());
            let treatment = part.treatment.as_ref();
            PartWatch {
                shares: (0..metal.len())
                    .map(|i| segment_share(i, metal.len()))
                    .collect(),
                skin: skin.unwrap_or_else(|| metal.clone()),
                metal,
                metal_watch: Watch::new(part.metal.max_service_k.value),
                treatment_watch: treatment.and_then(|t| t.max_service_k).map(Watch::new),
                mean_metal_peak_k: 0.0,
                mean_skin_peak_k: 0.0,
                limit_at_skin: treatment.is_some_and(Treatment::limit_at_skin),
                bare: f64::from(treatment.is_some_and(|t| t.coverage < 1.0)),
                touch_after_s: f64::INFINITY,
            }
        });
        let neighbours = build.neighbours.iter().filter_map(|n| {
            let node = find(&format!("neighbour:{}", n.name))?;
            Some((node, Watch::new(n.limit_k)))
        });
        let roles = &network.circuit.roles;
        let bearing = roles.bearing.zip(build.turbo.as_ref());
        let zones = roles.first_zone..roles.first_zone + roles.zones;
        let fluids = [roles.coolant, roles.oil].into_iter().zip(FLUIDS);
        let mut watch = Self {
            parts: parts.collect(),
            zones: zones
                .map(|zone| (zone, Watch::new(f64::INFINITY)))
                .collect(),
            neighbours: neighbours.collect(),
            fluids: fluids
                .map(|(node, id)| (node, Watch::new(limit_k(id))))
                .collect(),
            bearing: bearing.map(|(node, t)| (node, Watch::new(t.oil_coking_k))),
            phases: vec![PhasePeaks::default(); cycle.phases.len()],
            soak_s: 0.0,
            key_off_s: None,
            touch_k: limit_k(TOUCH),
            now: Temperatures::default(),
            next: Temperatures::default(),
        };
        watch.now.take(&watch.parts, &y[..network.nodes.len()]);
        watch
    }

    /// Takes over what was seen in a lane.
    pub fn take_lane(&mut self, of: &HeatWatch<Lanes>, lane: usize) {
        for (own, all) in self.parts.iter_mut().zip(&of.parts) {
            own.metal_watch = all.metal_watch.lane(lane);
            own.treatment_watch = all.treatment_watch.map(|w| w.lane(lane));
            own.mean_metal_peak_k = all.mean_metal_peak_k.lane(lane);
            own.mean_skin_peak_k = all.mean_skin_peak_k.lane(lane);
            own.touch_after_s = all.touch_after_s.lane(lane);
        }
        for (own, all) in [
            (&mut self.zones, &of.zones),
            (&mut self.neighbours, &of.neighbours),
            (&mut self.fluids, &of.fluids),
        ] {
            for ((_, own), (_, all)) in own.iter_mut().zip(all) {
                *own = all.lane(lane);
            }
        }
        self.bearing = of.bearing.map(|(node, watch)| (node, watch.lane(lane)));
        for (own, all) in self.phases.iter_mut().zip(&of.phases) {
            *own = PhasePeaks {
                skin_k: all.skin_k.lane(lane),
                air_k: all.air_k.lane(lane),
            };
        }
        (self.soak_s, self.key_off_s) = (of.soak_s, of.key_off_s);
    }
}

impl PartWatch {
    /// Seconds after key-off until the skin may be touched; `None`: not yet.
    pub fn touch_after_s(&self) -> Option<f64> {
        Some(self.touch_after_s).filter(|s| s.is_finite())
    }
}

impl<N: Number> HeatWatch<N> {
    /// Adds an interval to all peaks and times; `y` holds the nodes at its end.
    pub fn see(&mut self, interval: &Interval, y: &[N]) {
        widest(
            #[inline(always)]
            || self.add(interval, y),
        );
    }

    #[inline(always)]
    fn add(&mut self, interval: &Interval, y: &[N]) {
        let (a, mut b) = (
            std::mem::take(&mut self.now),
            std::mem::take(&mut self.next),
        );
        b.take(&self.parts, &y[..a.node_k.len()]);
        let seconds = interval.end_s - interval.start_s;
        self.add_parts(interval, &a, &b, seconds);
        let both = |node: usize| (a.node_k[node], b.node_k[node]);
        let air = &mut self.phases[interval.phase].air_k;
        for (node, watch) in &mut self.zones {
            let (from, to) = both(*node);
            watch.add(from, to, seconds);
            *air = air.max(from).max(to);
        }
        let others = self.neighbours.iter_mut().chain(&mut self.fluids);
        for (node, watch) in others.chain(&mut self.bearing) {
            let (from, to) = both(*node);
            watch.add(from, to, seconds);
        }
        (self.now, self.next) = (b, a);
    }

    #[inline(always)]
    fn add_parts(
        &mut self,
        interval: &Interval,
        a: &Temperatures<N>,
        b: &Temperatures<N>,
        seconds: f64,
    ) {
        let (not_yet, touch_k) = (N::of(f64::INFINITY), N::of(self.touch_k));
        let off = interval.from.engine == EngineState::Off;
        if off && self.key_off_s.is_none() {
            self.key_off_s = Some(interval.start_s);
            self.parts
                .iter_mut()
                .for_each(|p| p.touch_after_s = not_yet);
        } else if !off {
            self.key_off_s = None;
        }
        if let Some(start) = self.key_off_s {
            self.soak_s = interval.end_s - start;
        }
        let skin = &mut self.phases[interval.phase].skin_k;
        for (i, part) in self.parts.iter_mut().enumerate() {
            part.metal_watch.add(a.metals[i], b.metals[i], seconds);
            let peak = part.mean_metal_peak_k.max(a.mean_metals[i]);
            part.mean_metal_peak_k = peak.max(b.mean_metals[i]);
            let hottest = a.mean_skins[i].max(b.mean_skins[i]);
            part.mean_skin_peak_k = part.mean_skin_peak_k.max(hottest);
            *skin = skin.max(hottest);
            if let Some(watch) = &mut part.treatment_watch {
                let (from, to) = if part.limit_at_skin {
                    (a.skins[i], b.skins[i])
                } else {
                    (a.metals[i], b.metals[i])
                };
                watch.add(from, to, seconds);
            }
            let Some(start) = self.key_off_s else {
                continue;
            };
            let touched = |t: &Temperatures<N>| t.skins[i].max(t.metals[i] * part.bare);
            let (before_k, after_k) = (touched(a), touched(b));
            // a skin over an insulated part may rise again: only the last fall counts
            let fallen = (before_k - touch_k) / (before_k - after_k).max(N::of(N::SMALLEST));
            let share = touch_k.below(before_k).choose(fallen, N::default());
            let now = share * seconds + (interval.start_s - start);
            let until = part.touch_after_s.below(not_yet);
            let until = until.choose(part.touch_after_s, now);
            part.touch_after_s = touch_k.not_above(after_k).choose(not_yet, until);
        }
    }
}

impl<N: Number> Temperatures<N> {
    #[inline(always)]
    fn take(&mut self, parts: &[PartWatch<N>], node_k: &[N]) {
        self.node_k.clear();
        self.node_k.extend_from_slice(node_k);
        self.metals.clear();
        self.skins.clear();
        self.mean_metals.clear();
        self.mean_skins.clear();
        for part in parts {
            self.metals.push(hottest(&part.metal, node_k));
            self.skins.push(hottest(&part.skin, node_k));
            self.mean_metals
                .push(mean(&part.metal, &part.shares, node_k));
            self.mean_skins.push(mean(&part.skin, &part.shares, node_k));
        }
    }
}

/// Mean over the segments of a part by their length.
#[inline(always)]
pub fn mean<N: Number>(nodes: &[NodeIndex], shares: &[f64], node_k: &[N]) -> N {
    let pairs = nodes.iter().zip(shares);
    let weighed = pairs.map(|(&n, &share)| node_k[n] * share);
    weighed.fold(N::default(), N::add)
}

/// Hottest segment of a part: ends are cooled by flanges, so the hot spot may lie between them.
#[inline(always)]
fn hottest<N: Number>(nodes: &[NodeIndex], node_k: &[N]) -> N {
    nodes
        .iter()
        .fold(N::default(), |most, &n| node_k[n].max(most))
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
