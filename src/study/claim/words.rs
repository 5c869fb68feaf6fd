//! The energy argument, and what else comes with a treatment, in sentences that a customer follows.

use super::input::{Claim, Quantity};
use super::needs::figures;
use super::point::PartState;
use super::readings::{Seat, What, Whose};
use super::trial::{Numbers, Trials, main_layer};
use super::verdict::Pair;
use crate::physics::conduction::cylinder_resistance_per_length;
use crate::quantity::celsius;
use crate::study::run::RunError;

/// Changes below this aren't worth a word [K].
const WORTH_A_WORD_K: f64 = 1.0;
/// Shares of heat nearer than this are one [-].
const ALL_OF_IT: f64 = 0.02;
/// Parts, and nearby parts, that are told of.
const MOST_WORDS: usize = 3;

fn kelvin(change: f64, more: &str, less: &str) -> String {
    let word = if change < 0.0 { less } else { more };
    format!("{:.0} K {word}", change.abs())
}

/// Two sentences: where the energy goes, and what that leaves of the claim.
pub(super) fn argument(
    claim: &Claim,
    trials: &Trials,
    pair: &Pair,
    whose: Whose,
) -> Result<Vec<String>, RunError> {
    Ok(match claim.quantity {
        Quantity::SkinTemperature | Quantity::HeatFlow => layer_argument(pair, whose),
        Quantity::ServiceTemperature => service_argument(pair, whose),
        Quantity::BayAir | Quantity::NeighbourTemperature | Quantity::IntakeAir => {
            bay_argument(claim, trials, pair, whose)?
        }
        Quantity::Power => power_argument(claim, pair),
        Quantity::TurbineInlet | Quantity::Spool => turbine_argument(pair, whose),
        Quantity::GasFlow => gas_argument(pair),
    })
}

fn layer_argument(pair: &Pair, whose: Whose) -> Vec<String> {
    let name = &pair.treated.build.exhaust[whose.part].name;
    let (bare, treated) = (
        &pair.bare.state.parts[whose.part],
        &pair.treated.state.parts[whose.part],
    );
    let mut first = format!(
        "{name} gives off {:.0} W bare, {:.0} W treated",
        bare.to_bay_w(),
        treated.to_bay_w()
    );
    if let Some(through) = through(pair, whose) {
        // the rest leaves where nothing covers it
        let what = if (through.watts / treated.to_bay_w() - 1.0).abs() < ALL_OF_IT {
            "all of it goes".to_owned()
        } else {
            format!("{:.0} W of it go", through.watts)
        };
        first.push_str(&format!(
            ": {what} through {} mm with {} W/m/K at {:.0} K between the two sides, which leaves the skin at {:.0} degC",
            figures(1e3 * through.thickness_m),
            figures(through.conductivity_w_mk),
            through.drop_k,
            celsius(treated.skin_k),
        ));
    }
    first.push('.');
    let kept_w = bare.to_bay_w() - treated.to_bay_w();
    let metal = kelvin(treated.metal_k - bare.metal_k, "hotter", "cooler");
    let second = if kept_w >= 0.0 {
        format!(
            "The {kept_w:.0} W that no longer leave through the skin stay in metal and gas: the metal runs {metal}."
        )
    } else {
        format!(
            "It gives off {:.0} W more than bare, because its face radiates better than the metal did: the metal runs {metal}.",
            -kept_w
        )
    };
    vec![first, second]
}

fn service_argument(pair: &Pair, whose: Whose) -> Vec<String> {
    let part = &pair.treated.build.exhaust[whose.part];
    let state = &pair.treated.state.parts[whose.part];
    let limit_k = part.metal.max_service_k.value;
    vec![
        format!(
            "On this car the layer on {} lies on metal at {:.0} degC, in gas of {:.0} degC ({}).",
            part.name,
            celsius(state.metal_hot_k),
            celsius(state.gas_k),
            pair.at.name()
        ),
        format!(
            "The metal beneath bears {:.0} degC for long, so what the layer bears beyond that protects nothing.",
            celsius(limit_k)
        ),
    ]
}

/// Heat through the layer that holds back most.
struct Through {
    watts: f64,
    drop_k: f64,
    thickness_m: f64,
    conductivity_w_mk: f64,
}

fn through(pair: &Pair, whose: Whose) -> Option<Through> {
    let part = &pair.treated.build.exhaust[whose.part];
    let treatment = part
        .treatment
        .as_ref()
        .filter(|t| t.outside.len() == 1 && t.outside[0].gap.is_none())?;
    let layer = main_layer(treatment)?;
    let state = &pair.treated.state.parts[whose.part];
    let inner_m = 0.5 * part.bore_m + part.wall_m;
    let conductivity_w_mk = layer.conductivity(0.5 * (state.metal_k + state.skin_k));
    let length_m = treatment.coverage * part.length_m * f64::from(part.count);
    let w_k = length_m
        / cylinder_resistance_per_length(inner_m, inner_m + layer.thickness_m, conductivity_w_mk);
    let drop_k = state.metal_k - state.skin_k;
    // a layer too thin for a temperature of its own lets everything through
    let (watts, drop_k) = if drop_k.abs() > 1e-6 {
        (w_k * drop_k, drop_k)
    } else {
        (
            treatment.coverage * state.to_bay_w(),
            treatment.coverage * state.to_bay_w() / w_k,
        )
    };
    Some(Through {
        watts,
        drop_k,
        thickness_m: layer.thickness_m,
        conductivity_w_mk,
    })
}

fn bay_argument(
    claim: &Claim,
    trials: &Trials,
    pair: &Pair,
    whose: Whose,
) -> Result<Vec<String>, RunError> {
    let state = &pair.bare.state;
    let own: f64 = whose.parts.iter().map(|&i| state.parts[i].to_bay_w()).sum();
    let all = state.car.bay_heat_w;
    let (what, name) = match claim.quantity {
        Quantity::BayAir => (
            What::ZoneAir,
            format!(
                "air of the zone {}",
                pair.bare.build.bay.zones[whose.zone].name
            ),
        ),
        Quantity::IntakeAir => (What::Sensor, "intake sensor".to_owned()),
        _ => (
            What::Neighbour,
            pair.bare.build.neighbours[whose.neighbour].name.clone(),
        ),
    };
    let first = format!(
        "Of the {all:.0} W that warm the bay ({}), the treated parts give {own:.0} W, {:.0} %; the radiator gives {:.0} W, \
         engine and the rest {:.0} W.",
        pair.at.name(),
        100.0 * own / all,
        state.car.radiator_w,
        all - own - state.car.radiator_w,
    );
    let sealed = trials.sealed(pair.at, &pair.treated.warmth)?;
    let seat = |side| Seat {
        side,
        whose,
        numbers: Numbers::Likely,
    };
    let (before, after, least) = (
        seat(&pair.bare).value(what),
        seat(&pair.treated).value(what),
        seat(&sealed).value(what),
    );
    let second = format!(
        "{name}: {:.0} degC bare, {:.1} K of change with the treatment, and no more than {:.1} K even if every hot part in \
         the bay were sealed off.",
        celsius(before),
        after - before,
        (least - before).min(after - before),
    );
    Ok(vec![first, second])
}

fn power_argument(claim: &Claim, pair: &Pair) -> Vec<String> {
    let (bare, treated) = (&pair.bare.state.car, &pair.treated.state.car);
    let wanted = match claim.change {
        super::input::Change::Percent(p) => p,
        _ => 0.0,
    };
    // density: power goes with one over absolute temperature at equal manifold pressure
    let needed_k = bare.valve_k * wanted / (100.0 + wanted);
    let room_k = bare.valve_k - bare.ambient_k;
    vec![
        format!(
            "The charge reaches the valve at {:.0} degC; for {wanted} % more power at equal manifold pressure it would have to \
             be {needed_k:.1} K cooler, and it is {room_k:.0} K above the air outside.",
            celsius(bare.valve_k)
        ),
        format!(
            "The treatment makes it {:.2} K {}; heat kept in the exhaust doesn't reach the crank by itself.",
            (treated.valve_k - bare.valve_k).abs(),
            if treated.valve_k < bare.valve_k {
                "cooler"
            } else {
                "warmer"
            }
        ),
    ]
}

fn turbine_argument(pair: &Pair, whose: Whose) -> Vec<String> {
    let (bare, treated) = (&pair.bare.state.car, &pair.treated.state.car);
    let ahead: Vec<usize> = {
        let turbine = pair
            .bare
            .build
            .exhaust
            .iter()
            .position(|p| p.kind == crate::sheet::build::ExhaustKind::Turbine);
        (0..turbine.unwrap_or(0)).collect()
    };
    let lost = |parts: &[PartState]| -> f64 { ahead.iter().map(|&i| parts[i].from_gas_w).sum() };
    let treated_ahead = whose.parts.iter().any(|i| ahead.contains(i));
    let second = if treated_ahead {
        format!(
            "The treatment keeps {:.0} W of that in the gas, which then arrives {:.0} K hotter, at {:.0} degC.",
            lost(&pair.bare.state.parts) - lost(&pair.treated.state.parts),
            treated.turbine_in_k - bare.turbine_in_k,
            celsius(treated.turbine_in_k)
        )
    } else {
        "None of the treated parts lies ahead of the turbine.".to_owned()
    };
    vec![
        format!(
            "The gas brings {:.1} kW to the turbine and loses {:.0} W ({:.1} %) through the walls ahead of it.",
            bare.turbine_in_w / 1e3,
            lost(&pair.bare.state.parts),
            100.0 * lost(&pair.bare.state.parts)
                / (bare.turbine_in_w + lost(&pair.bare.state.parts))
        ),
        second,
    ]
}

fn gas_argument(pair: &Pair) -> Vec<String> {
    let drop = |parts: &[PartState]| parts.iter().map(|p| p.drop_pa).sum::<f64>();
    let (bare, treated) = (&pair.bare.state, &pair.treated.state);
    let last = |parts: &[PartState]| {
        parts
            .last()
            .map_or((0.0, 0.0), |p| (p.gas_k, p.gas_speed_m_s))
    };
    let (a, b) = (last(&bare.parts), last(&treated.parts));
    let hotter = b.0 >= a.0;
    let (room, speed) = if hotter {
        ("more", "faster")
    } else {
        ("less", "slower")
    };
    vec![
        format!(
            "The last pipe gets gas {}, which takes {:.1} % {room} room and flows {:.1} % {speed}.",
            kelvin(b.0 - a.0, "hotter", "cooler"),
            100.0 * (b.0 / a.0 - 1.0).abs(),
            100.0 * (b.1 / a.1 - 1.0).abs()
        ),
        format!(
            "Pushing the same mass through the same pipes faster takes more pressure, not less: {:.0} Pa bare, {:.0} Pa treated.",
            drop(&bare.parts),
            drop(&treated.parts)
        ),
    ]
}

/// What comes with the treatment, at the point and after key-off; the largest changes.
pub(super) fn side_effects(pair: &Pair, after: &Pair, whose: Whose) -> Vec<String> {
    let build = &pair.bare.build;
    let mut parts: Vec<(f64, String)> = Vec::new();
    for &i in whose.parts {
        let part = &build.exhaust[i];
        let (bare, treated) = (&pair.bare.state.parts[i], &pair.treated.state.parts[i]);
        let hotter = treated.metal_hot_k - bare.metal_hot_k;
        let later = after.treated.state.parts[i].metal_k - after.bare.state.parts[i].metal_k;
        let most = hotter.abs().max(later.abs());
        if most < WORTH_A_WORD_K {
            continue;
        }
        let limit_k = part.metal.max_service_k.value;
        let over = if treated.metal_hot_k > limit_k {
            format!(", over the {:.0} degC that it bears", celsius(limit_k))
        } else {
            String::new()
        };
        let text = format!(
            "{}: metal {}, at {:.0} degC{over}; 5 to 10 min after key-off {}",
            part.name,
            kelvin(hotter, "hotter", "cooler"),
            celsius(treated.metal_hot_k),
            kelvin(later, "hotter", "cooler"),
        );
        parts.push((most, text));
    }
    let mut out = largest(parts);
    let turbine = pair.treated.state.car.turbine_in_k - pair.bare.state.car.turbine_in_k;
    if build.turbo.is_some() && turbine.abs() >= WORTH_A_WORD_K {
        out.push(format!(
            "gas into the turbine: {}",
            kelvin(turbine, "hotter", "cooler")
        ));
    }
    let near = build
        .neighbours
        .iter()
        .enumerate()
        .filter_map(|(i, neighbour)| {
            let change = pair.treated.state.neighbours_k[i] - pair.bare.state.neighbours_k[i];
            let text = format!("{}: {}", neighbour.name, kelvin(change, "hotter", "cooler"));
            (change >= WORTH_A_WORD_K).then_some((change, text))
        });
    out.extend(largest(near.collect()));
    out
}

/// The texts that go with the largest numbers.
fn largest(mut all: Vec<(f64, String)>) -> Vec<String> {
    all.sort_by(|a, b| b.0.total_cmp(&a.0));
    all.into_iter()
        .take(MOST_WORDS)
        .map(|(_, text)| text)
        .collect()
}
