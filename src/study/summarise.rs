//! From what was watched to findings.

use super::doubts::doubts;
use super::findings::{
    Assumed, Audit, CycleId, DayId, Figure, Findings, Margin, PhaseResult, Program, RunResult,
    SCHEMA, Share, SheetId, WorkDone,
};
use super::observe::{Observer, TOUCH_LIMIT_K};
use super::run::RunError;
use super::watch::Watch;
use crate::cycle::Cycle;
use crate::engine::power;
use crate::network::ledger::Channel;
use crate::network::rates::{LEDGER_UNIT_J, Network};
use crate::quantity::celsius;
use crate::sheet::{Settled, Sheet};
use crate::solve::Work;

/// Reference temperature of thermal growth [K].
const GROWTH_FROM_K: f64 = 293.15;

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
    fn mean_w(&self, channel: Channel) -> f64 {
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
    let day = &settled.build.day;
    let findings = Findings {
        schema: SCHEMA,
        program: Program {
            name: env!("CARGO_PKG_NAME").into(),
            version: env!("CARGO_PKG_VERSION").into(),
        },
        sheet: SheetId {
            title: settled.build.title.clone(),
            hash: context.sheet.hash().to_owned(),
        },
        cycle: CycleId {
            name: context.cycle.name.clone(),
            duration_s: context.cycle.duration_s(),
        },
        day: DayId {
            name: day.name.clone(),
            ambient_c: celsius(day.ambient_k),
            humidity_percent: day.humidity * 100.0,
            pressure_kpa: day.pressure_pa / 1e3,
            sun_w_m2: day.sun_w_m2,
            wind_m_s: day.wind_m_s,
        },
        audit: audit(context),
        work: WorkDone {
            steps: context.work.steps,
            rejected: context.work.rejected,
            rhs_calls: context.work.rhs_calls,
            nodes: context.network.nodes.len(),
            links: context.network.links.len(),
        },
        figures: figures(context, &observer)?,
        margins: margins(context, &observer),
        exhaust_heat: exhaust_heat(context),
        fuel_heat: fuel_heat(context),
        bay_heat: bay_heat(context),
        phases: phases(context, &observer),
        warnings: warnings(context, &observer),
        assumed: settled
            .assumed
            .iter()
            .map(|a| Assumed {
                key: a.key.clone(),
                value: a.value,
                low: a.low,
                high: a.high,
                basis: a.basis.to_string(),
            })
            .collect(),
    };
    Ok(RunResult {
        findings,
        series: observer.series,
    })
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

/// Collects figures and refuses what is not a number.
struct Figures(Vec<Figure>);

impl Figures {
    fn add(
        &mut self,
        id: &str,
        label: &str,
        place: &str,
        unit: &str,
        value: f64,
    ) -> Result<(), RunError> {
        if !value.is_finite() {
            return Err(RunError::NotFinite {
                what: format!("{id} of {place}"),
            });
        }
        self.0.push(Figure {
            id: id.into(),
            label: label.into(),
            place: place.into(),
            unit: unit.into(),
            value,
            low: None,
            high: None,
        });
        Ok(())
    }
}

fn figures(context: &Context, o: &Observer) -> Result<Vec<Figure>, RunError> {
    let mut f = Figures(Vec::new());
    for (place, rise) in ["pickup", "sensor", "valve"].into_iter().zip(&o.rises) {
        // a cycle without the engine on has no rise
        let (mean, peak) = (rise.mean().unwrap_or(0.0), rise.peak.max(-300.0));
        let peak = if rise.seconds > 0.0 { peak } else { 0.0 };
        f.add(
            "intake_rise_mean_k",
            "intake rise over ambient, mean, engine on",
            place,
            "K",
            mean,
        )?;
        f.add(
            "intake_rise_peak_k",
            "intake rise over ambient, peak, engine on",
            place,
            "K",
            peak,
        )?;
    }
    let density = o.density_loss.mean().unwrap_or(0.0);
    power_figures(context, o, density, &mut f)?;
    part_figures(context, o, &mut f)?;
    for (zone, watch) in context.settled.build.bay.zones.iter().zip(&o.zones) {
        f.add(
            "bay_air_peak_c",
            "bay air, peak",
            &zone.name,
            "degC",
            celsius(watch.peak_k),
        )?;
    }
    for (neighbour, (_, watch)) in context.settled.build.neighbours.iter().zip(&o.neighbours) {
        let label = "nearby part, peak";
        f.add(
            "neighbour_peak_c",
            label,
            &neighbour.name,
            "degC",
            celsius(watch.peak_k),
        )?;
    }
    if let Some((_, watch)) = &o.bearing {
        let label = "bearing housing, peak";
        f.add(
            "bearing_peak_c",
            label,
            "bearing housing",
            "degC",
            celsius(watch.peak_k),
        )?;
        if let Some(mean) = o.turbine_in.mean() {
            let label = "gas into the turbine, mean, engine on";
            f.add(
                "turbine_inlet_mean_c",
                label,
                "turbine",
                "degC",
                celsius(mean),
            )?;
            f.add(
                "turbine_inlet_peak_c",
                "gas into the turbine, peak",
                "turbine",
                "degC",
                celsius(o.turbine_in.peak),
            )?;
        }
        if let Some(mean) = o.turbine_enthalpy.mean() {
            let label = "enthalpy flow into the turbine over ambient, mean, engine on";
            f.add(
                "turbine_enthalpy_mean_kw",
                label,
                "turbine",
                "kW",
                mean / 1e3,
            )?;
        }
    }
    Ok(f.0)
}

/// Density loss and power loss as two bounds: density at equal manifold pressure, and the
/// temperature exponent of the standard correction (see `engine::power`).
fn power_figures(
    context: &Context,
    o: &Observer,
    density: f64,
    f: &mut Figures,
) -> Result<(), RunError> {
    let exponent = power::standard_exponent(context.settled.build.engine.diesel);
    let standard = |loss: f64| 1.0 - (1.0 - loss).powf(exponent);
    let label = "charge density lost to heat picked up after the outside air, mean, engine on";
    f.add(
        "charge_density_loss_percent",
        label,
        "valve",
        "%",
        100.0 * density,
    )?;
    let label = "power lost to that heat, if asked for, mean, engine on";
    f.add("power_loss_percent", label, "density", "%", 100.0 * density)?;
    f.add(
        "power_loss_percent",
        label,
        "standard",
        "%",
        100.0 * standard(density),
    )?;
    if context.settled.build.engine.retard_share_per_k > 0.0 {
        let label = "power lost to ignition retard on top, mean, engine on";
        let lost = o.retard.mean().unwrap_or(0.0);
        f.add("power_loss_percent", label, "retard", "%", 100.0 * lost)?;
    }
    if let Some(loss) = o.density_loss_full.mean() {
        let label = "power lost to that heat at full load";
        f.add(
            "power_loss_full_load_percent",
            label,
            "density",
            "%",
            100.0 * loss,
        )?;
        f.add(
            "power_loss_full_load_percent",
            label,
            "standard",
            "%",
            100.0 * standard(loss),
        )?;
    }
    let day = &context.settled.build.day;
    let reference = power::day_power_ratio(&context.settled.build.engine, day);
    let label = "power of this day's outside air against the reference day (25 degC, 99 kPa dry)";
    f.add(
        "day_power_percent",
        label,
        "standard",
        "%",
        100.0 * reference,
    )
}

fn part_figures(context: &Context, o: &Observer, f: &mut Figures) -> Result<(), RunError> {
    let build = &context.settled.build;
    for (part, watch) in build.exhaust.iter().zip(&o.parts) {
        let name = &part.name;
        f.add(
            "skin_peak_c",
            "skin, mean over the part, peak",
            name,
            "degC",
            celsius(watch.mean_skin_peak_k),
        )?;
        f.add(
            "metal_peak_c",
            "metal, mean over the part, peak",
            name,
            "degC",
            celsius(watch.mean_metal_peak_k),
        )?;
        let label = "metal, hottest spot, peak";
        f.add(
            "metal_hot_spot_c",
            label,
            name,
            "degC",
            celsius(watch.metal_watch.peak_k),
        )?;
        if watch.gas_peak_k > 0.0 {
            f.add(
                "gas_peak_c",
                "gas going in, peak",
                name,
                "degC",
                celsius(watch.gas_peak_k),
            )?;
            let label = "gas speed, peak";
            f.add(
                "gas_speed_peak_m_s",
                label,
                name,
                "m/s",
                watch.speed_peak_m_s,
            )?;
            let label = "gas pressure drop by wall friction, peak";
            f.add(
                "pressure_drop_peak_kpa",
                label,
                name,
                "kPa",
                watch.drop_peak_pa / 1e3,
            )?;
        }
        let growth = part.metal.expansion_per_k.value
            * (watch.metal_watch.peak_k - GROWTH_FROM_K)
            * part.length_m;
        f.add(
            "growth_peak_mm",
            "lengthening from 20 degC, peak",
            name,
            "mm",
            growth * 1e3,
        )?;
        if o.soak_s > 0.0 {
            let cool = celsius(TOUCH_LIMIT_K);
            let (label, value) = match watch.touch_after_s {
                Some(s) => (
                    format!("from key-off until the skin is below {cool:.0} degC"),
                    s,
                ),
                None => (
                    format!("still above {cool:.0} degC when the soak ended, after"),
                    o.soak_s,
                ),
            };
            f.add("time_to_touch_min", &label, name, "min", value / 60.0)?;
        }
    }
    let mut total = 0.0;
    for (i, body) in context.network.bodies.iter().enumerate() {
        let w =
            context.mean_w(Channel::BodyConvection(i)) + context.mean_w(Channel::BodyRadiation(i));
        f.add("heat_to_bay_mean_w", "heat to the bay, mean", body, "W", w)?;
        total += w;
    }
    f.add(
        "heat_to_bay_mean_w",
        "heat to the bay, mean",
        "all",
        "W",
        total,
    )
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
                source: source.into(),
            });
        }
    };
    for (part, watch) in build.exhaust.iter().zip(&o.parts) {
        add(
            &part.name,
            "metal, scaling in air",
            &watch.metal_watch,
            &part.metal.max_service_k.source,
        );
        if let (Some(layer), Some(layer_watch)) = (&part.layer, &watch.layer_watch) {
            add(
                &part.name,
                &format!("{} at the metal", layer.name),
                layer_watch,
                "build sheet",
            );
        }
    }
    for (n, (_, watch)) in build.neighbours.iter().zip(&o.neighbours) {
        add(&n.name, "nearby part", watch, &n.limit_source);
    }
    if let Some((_, watch)) = &o.bearing {
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
    if context.network.cooling.is_some() {
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
        .zip(&o.phases)
        .map(|(p, w)| PhaseResult {
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
            skin_peak_c: celsius(w.skin_peak_k),
            bay_air_peak_c: celsius(w.air_peak_k),
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
    out.extend(o.ranges.warnings(context.cycle.duration_s()));
    if context.imbalance_kg_s > 1e-4 {
        out.push(format!(
            "bay air flows did not balance better than {:.1} g/s at one moment",
            context.imbalance_kg_s * 1e3
        ));
    }
    out
}
