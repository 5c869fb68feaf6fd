//! Figures of a run, each with id, place, unit and value.

use super::findings::Figure;
use super::heat_watch::TOUCH;
use super::observe::Observer;
use super::run::RunError;
use super::summarise::Context;
use crate::engine::power;
use crate::materials::limit_k;
use crate::network::ledger::Channel;
use crate::quantity::celsius;

/// Reference temperature of thermal growth [K].
const GROWTH_FROM_K: f64 = 293.15;

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
            median: None,
        });
        Ok(())
    }
}

/// All figures of a run.
///
/// # Errors
/// When one is not a finite number.
pub fn figures(context: &Context, o: &Observer) -> Result<Vec<Figure>, RunError> {
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
    for (zone, (_, watch)) in context.settled.build.bay.zones.iter().zip(&o.heat.zones) {
        f.add(
            "bay_air_peak_c",
            "bay air, peak",
            &zone.name,
            "degC",
            celsius(watch.peak_k),
        )?;
    }
    for (neighbour, (_, watch)) in context
        .settled
        .build
        .neighbours
        .iter()
        .zip(&o.heat.neighbours)
    {
        let label = "nearby part, peak";
        f.add(
            "neighbour_peak_c",
            label,
            &neighbour.name,
            "degC",
            celsius(watch.peak_k),
        )?;
    }
    for ((_, watch), fluid) in o.heat.fluids.iter().zip(["coolant", "oil"]) {
        f.add(
            "fluid_peak_c",
            "fluid, peak",
            fluid,
            "degC",
            celsius(watch.peak_k),
        )?;
    }
    if let Some((_, watch)) = &o.heat.bearing {
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
    let label = "charge density lost up to the sensor, mean, engine on";
    let sensor = o.sensor_loss.mean().unwrap_or(0.0);
    f.add(
        "charge_density_loss_percent",
        label,
        "sensor",
        "%",
        100.0 * sensor,
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
    let watched = o.heat.parts.iter().zip(&o.gas.parts);
    for (part, (watch, gas)) in build.exhaust.iter().zip(watched) {
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
        if gas.gas_k > 0.0 {
            f.add(
                "gas_peak_c",
                "gas going in, peak",
                name,
                "degC",
                celsius(gas.gas_k),
            )?;
            let label = "gas speed, peak";
            f.add("gas_speed_peak_m_s", label, name, "m/s", gas.speed_m_s)?;
            let label = "gas pressure drop by wall friction, peak";
            f.add(
                "pressure_drop_peak_kpa",
                label,
                name,
                "kPa",
                gas.drop_pa / 1e3,
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
        if o.heat.soak_s > 0.0 {
            let cool = celsius(limit_k(TOUCH));
            let (label, value) = match watch.touch_after_s() {
                Some(s) => (
                    format!("from key-off until the skin is below {cool:.0} degC"),
                    s,
                ),
                None => (
                    format!("still above {cool:.0} degC when the soak ended, after"),
                    o.heat.soak_s,
                ),
            };
            f.add("time_to_touch_min", &label, name, "min", value / 60.0)?;
        }
    }
    bay_figures(context, f)
}

/// Heat that parts, block and housings give to the bay: together and by cause.
fn bay_figures(context: &Context, f: &mut Figures) -> Result<(), RunError> {
    let bodies = context.network.bodies.iter().enumerate();
    let mut heats: Vec<(&str, f64, f64)> = bodies
        .map(|(i, body)| {
            let convection = context.mean_w(Channel::BodyConvection(i));
            let radiation = context.mean_w(Channel::BodyRadiation(i));
            (body.as_str(), convection, radiation)
        })
        .collect();
    let sum = |of: fn(&(&str, f64, f64)) -> f64| heats.iter().map(of).sum();
    heats.push(("all", sum(|h| h.1), sum(|h| h.2)));
    for (place, convection, radiation) in heats {
        for (id, label, value) in [
            (
                "heat_to_bay_mean_w",
                "heat to the bay, mean",
                convection + radiation,
            ),
            (
                "heat_to_bay_convection_mean_w",
                "heat to the bay by convection, mean",
                convection,
            ),
            (
                "heat_to_bay_radiation_mean_w",
                "heat to the bay by radiation, mean",
                radiation,
            ),
        ] {
            f.add(id, label, place, "W", value)?;
        }
    }
    Ok(())
}
