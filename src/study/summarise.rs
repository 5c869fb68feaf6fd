//! From what was watched to findings.

use std::collections::BTreeMap;

use super::doubts::doubts;
use super::figures::figures;
use super::findings::{
    Assumed, Audit, CycleId, DayId, Findings, Margin, PhaseResult, Program, RunResult, SCHEMA,
    Share, SheetId, WorkDone,
};
use super::heat_watch::FLUIDS;
use super::observe::Observer;
use super::overview::{METAL, NEARBY, overview};
use super::run::RunError;
use super::watch::Watch;
use crate::cycle::Cycle;
use crate::materials::{self, Limit};
use crate::network::ledger::Channel;
use crate::network::rates::{LEDGER_UNIT_J, Network};
use crate::quantity::celsius;
use crate::sheet::build::{Build, Day};
use crate::sheet::{Settled, Sheet};
use crate::solve::Work;

/// Boiling point of half glycol under a usual cap [degC] (from memory of ASHRAE tables).
const BOILING_C: f64 = 128.0;
/// What a summary needs beside the observer.
pub struct Context<'a> {
    /// Sheet.
    pub sheet: &'a Sheet,
    /// Settled sheet.
    pub settled: &'a Settled,
    /// Network.
    pub network: &'a Network,
    /// Cycle.
    pub cycle: &'a Cycle,
    /// Heat stored over the run [J].
    pub stored_j: f64,
    /// Ledger states at the end.
    pub ledger: &'a [f64],
    /// Work done.
    pub work: Work,
    /// Largest mass imbalance of the ventilation solver [kg/s].
    pub imbalance_kg_s: f64,
}

impl Context<'_> {
    fn joules(&self, channel: Channel) -> f64 {
        self.network
            .ledger
            .find(channel)
            .map_or(0.0, |i| self.ledger[i] * LEDGER_UNIT_J)
    }

    /// Mean over the whole run [W].
    pub fn mean_w(&self, channel: Channel) -> f64 {
        self.joules(channel) / self.cycle.duration_s()
    }

    /// Mean over the time with the engine on [W].
    fn running_mean_w(&self, channel: Channel) -> f64 {
        let seconds = self.joules(Channel::RunningSeconds);
        if seconds > 0.0 {
            self.joules(channel) / seconds
        } else {
            0.0
        }
    }
}

/// Makes the findings.
///
/// # Errors
/// When a figure is not a finite number.
pub fn summarise(context: &Context, observer: Observer) -> Result<RunResult, RunError> {
    let settled = context.settled;
    let margins = margins(context, &observer);
    let mut figures = figures(context, &observer)?;
    figures.extend(overview(&figures, &margins));
    let findings = Findings {
        schema: SCHEMA,
        program: Program::this(),
        sheet: sheet_id(context.sheet, settled),
        cycle: CycleId {
            name: context.cycle.name.clone(),
            duration_s: context.cycle.duration_s(),
        },
        day: day_id(&settled.build.day),
        audit: audit(context),
        work: WorkDone {
            steps: context.work.steps,
            rejected: context.work.rejected,
            rhs_calls: context.work.rhs_calls,
            nodes: context.network.nodes.len(),
            links: context.network.links.len(),
        },
        figures,
        margins,
        exhaust_heat: exhaust_heat(context),
        fuel_heat: fuel_heat(context),
        bay_heat: bay_heat(context),
        phases: phases(context, &observer),
        warnings: warnings(context, &observer),
        cautions: settled.cautions.clone(),
        assumed: assumed(settled),
        draws: None,
        measure_first: Vec::new(),
    };
    Ok(RunResult {
        findings,
        series: observer.series,
    })
}

/// Title and hash of a sheet.
pub(super) fn sheet_id(sheet: &Sheet, settled: &Settled) -> SheetId {
    SheetId {
        title: settled.build.title.clone(),
        hash: sheet.hash(),
    }
}

/// The weather that was settled on.
pub(super) fn day_id(day: &Day) -> DayId {
    DayId {
        name: day.name.clone(),
        ambient_c: celsius(day.ambient_k),
        humidity_percent: day.humidity * 100.0,
        pressure_kpa: day.pressure_pa / 1e3,
        sun_w_m2: day.sun_w_m2,
        wind_m_s: day.wind_m_s,
    }
}

/// What was assumed, in the shape of findings.
pub fn assumed(settled: &Settled) -> Vec<Assumed> {
    settled
        .assumed
        .iter()
        .map(|a| Assumed {
            key: a.key.clone(),
            value: a.value,
            low: a.low,
            high: a.high,
            basis: a.basis.to_string(),
        })
        .collect()
}

fn audit(context: &Context) -> Audit {
    let seconds = context.cycle.duration_s();
    let in_w = context.mean_w(Channel::In);
    let out_w = context.mean_w(Channel::Out);
    let stored_w = context.stored_j / seconds;
    let residual_w = in_w - out_w - stored_w;
    // a car that stands cold all day has no heat in: what moved then is the measure
    let through = in_w.abs().max(out_w.abs()).max(stored_w.abs()).max(1e-9);
    Audit {
        residual_percent: 100.0 * residual_w.abs() / through,
        residual_w,
        in_w,
        out_w,
        stored_w,
    }
}

fn margins(context: &Context, o: &Observer) -> Vec<Margin> {
    let build = &context.settled.build;
    let mut out = Vec::new();
    let mut add = |part: &str, what: &str, watch: &Watch, source: &str| {
        if watch.limit_k.is_finite() {
            out.push(Margin {
                part: part.into(),
                what: what.into(),
                peak_c: celsius(watch.peak_k),
                limit_c: celsius(watch.limit_k),
                margin_k: watch.limit_k - watch.peak_k,
                over_s: watch.over_s,
                low_k: None,
                high_k: None,
                over_chance_percent: None,
                source: source.into(),
            });
        }
    };
    for (part, watch) in build.exhaust.iter().zip(&o.heat.parts) {
        add(
            &part.name,
            METAL,
            &watch.metal_watch,
            &part.metal.max_service_k.source,
        );
        if let (Some(treatment), Some(watch)) = (&part.treatment, &watch.treatment_watch) {
            let face = if treatment.limit_at_skin() {
                "its own sheet"
            } else {
                "at the metal"
            };
            let what = format!("{}, {face}", treatment.name);
            add(&part.name, &what, watch, &treatment.limit_source);
        }
    }
    for (n, (_, watch)) in build.neighbours.iter().zip(&o.heat.neighbours) {
        add(&n.name, NEARBY, watch, &n.limit_source);
    }
    for ((_, watch), id) in o.heat.fluids.iter().zip(FLUIDS) {
        if let Some(limit) = materials::limit(id) {
            let fluid = id.replace('-', " ");
            add(&fluid, &limit.what, watch, &limit.limit_c.source);
        }
    }
    if let Some((_, watch)) = &o.heat.bearing {
        add(
            "bearing housing",
            "oil coking",
            watch,
            "build sheet or default, see assumed",
        );
    }
    out.sort_by(|a, b| a.margin_k.total_cmp(&b.margin_k));
    out
}

fn share(name: &str, mean_w: f64) -> Share {
    Share {
        name: name.into(),
        mean_w,
        convection_w: 0.0,
        radiation_w: 0.0,
    }
}

fn exhaust_heat(context: &Context) -> Vec<Share> {
    let mut out: Vec<Share> = context
        .settled
        .build
        .exhaust
        .iter()
        .enumerate()
        .map(|(i, part)| share(&part.name, context.running_mean_w(Channel::GasToPart(i))))
        .collect();
    let turbine = context.running_mean_w(Channel::TurbineWork);
    if turbine > 0.0 {
        out.push(share("turbine work", turbine));
    }
    out.push(share(
        "out of the tail",
        context.running_mean_w(Channel::Tail),
    ));
    out
}

fn fuel_heat(context: &Context) -> Vec<Share> {
    [
        ("brake power and accessories", Channel::Brake),
        ("coolant and block", Channel::CylinderHeat),
        ("friction", Channel::Friction),
        ("exhaust gas", Channel::GasHeat),
        ("unburnt", Channel::Unburnt),
    ]
    .map(|(name, channel)| share(name, context.running_mean_w(channel)))
    .to_vec()
}

fn bay_heat(context: &Context) -> Vec<Share> {
    let mut out: Vec<Share> = context
        .network
        .bodies
        .iter()
        .enumerate()
        .map(|(i, body)| {
            let convection_w = context.mean_w(Channel::BodyConvection(i));
            let radiation_w = context.mean_w(Channel::BodyRadiation(i));
            Share {
                name: body.clone(),
                mean_w: convection_w + radiation_w,
                convection_w,
                radiation_w,
            }
        })
        .collect();
    let air = |name: &str, channel: Channel| {
        let w = context.mean_w(channel);
        Share {
            name: name.into(),
            mean_w: w,
            convection_w: w,
            radiation_w: 0.0,
        }
    };
    out.push(air("radiator", Channel::RadiatorToAir));
    if context.network.circuit.cooling.is_some() {
        out.push(air("charge cooler", Channel::CoolerToAir));
    }
    out.sort_by(|a, b| b.mean_w.total_cmp(&a.mean_w));
    out
}

fn phases(context: &Context, o: &Observer) -> Vec<PhaseResult> {
    context
        .cycle
        .phases
        .iter()
        .zip(o.phases.iter().zip(&o.heat.phases))
        .map(|(p, (w, peaks))| PhaseResult {
            name: p.name.clone(),
            kind: p.kind.name().into(),
            start_s: p.start_s,
            end_s: p.end_s,
            sensor_rise_mean_k: w.sensor.mean().unwrap_or(0.0),
            sensor_rise_peak_k: if w.sensor.seconds > 0.0 {
                w.sensor.peak
            } else {
                0.0
            },
            valve_rise_mean_k: w.valve.mean(),
            skin_peak_c: celsius(peaks.skin_k),
            bay_air_peak_c: celsius(peaks.air_k),
        })
        .collect()
}

/// What metals suffer beside scaling, with the parts that came so far.
fn metals(build: &Build, o: &Observer) -> Vec<String> {
    let mut found: BTreeMap<&str, (&Limit, Vec<String>)> = BTreeMap::new();
    for (part, watch) in build.exhaust.iter().zip(&o.heat.parts) {
        let peak_c = celsius(watch.metal_watch.peak_k);
        for limit in materials::limits_of_metal(&part.metal.id) {
            if peak_c > limit.limit_c.likely {
                let parts = &mut found.entry(&limit.id).or_insert((limit, Vec::new())).1;
                parts.push(format!("{} {peak_c:.0}", part.name));
            }
        }
    }
    found
        .values()
        .map(|(limit, parts)| {
            let (what, from) = (&limit.what, limit.limit_c.likely);
            format!("{what}, from about {from:.0} degC: {}", parts.join(", "))
        })
        .collect()
}

fn warnings(context: &Context, o: &Observer) -> Vec<String> {
    let mut out = doubts(&context.settled.build);
    if o.limited_s > 0.0 {
        out.push(format!(
            "the engine could not give the power the cycle asks for during {:.0} s; full load was used there",
            o.limited_s
        ));
    }
    let coolant = celsius(o.heat.fluids[0].1.peak_k);
    if coolant > BOILING_C {
        out.push(format!(
            "the coolant reached {coolant:.0} degC: it would have boiled, nothing after that is to be believed"
        ));
    }
    out.extend(metals(&context.settled.build, o));
    let ranges = o.ranges.iter();
    out.extend(ranges.flat_map(|r| r.warnings(context.cycle.duration_s())));
    if context.imbalance_kg_s > 1e-4 {
        out.push(format!(
            "bay air flows did not balance better than {:.1} g/s at one moment",
            context.imbalance_kg_s * 1e3
        ));
    }
    out
}
