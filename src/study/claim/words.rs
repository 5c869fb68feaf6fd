//! The energy argument, and what else comes with a treatment, in sentences that a customer follows.

use super::input::{Claim, Quantity};
use super::needs::figures;
use super::point::PartState;
use super::readings::{Seat, What, Whose};
use super::trial::{Numbers, Trials, main_layer};
use super::verdict::Pair;
use crate::quantity::celsius;
use crate::study::run::RunError;

/// Changes below this aren't worth a word [K].
const WORTH_A_WORD_K: f64 = 0.5;

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
        Quantity::SkinTemperature | Quantity::HeatFlow | Quantity::ServiceTemperature => {
            layer_argument(pair, whose)
        }
        Quantity::BayAir | Quantity::NeighbourTemperature | Quantity::IntakeAir => {
            bay_argument(claim, trials, pair, whose)?
        }
        Quantity::Power => power_argument(claim, pair),
        Quantity::TurbineInlet | Quantity::Spool => turbine_argument(pair, whose),
        Quantity::GasFlow => gas_argument(pair),
    })
}

fn layer_argument(pair: &Pair, whose: Whose) -> Vec<String> {
    let part = &pair.treated.build.exhaust[whose.part];
    let (bare, treated) = (
        &pair.bare.state.parts[whose.part],
        &pair.treated.state.parts[whose.part],
    );
    let seat = Seat {
        side: &pair.treated,
        whose,
        numbers: Numbers::Likely,
    };
    let flux = treated.to_bay_w() / seat.area_m2();
    let layer = part.treatment.as_ref().and_then(main_layer);
    let drop = layer.map(|l| (l, treated.metal_k - treated.skin_k));
    let first = match drop {
        Some((l, drop_k)) => format!(
            "{} gives off {:.0} W bare, {:.0} W treated, {:.1} kW from each square metre: across {} mm with {} W/m/K that \
             makes {:.0} K between the metal and its skin at {:.0} degC.",
            part.name,
            bare.to_bay_w(),
            treated.to_bay_w(),
            flux / 1e3,
            figures(1e3 * l.thickness_m),
            figures(l.conductivity(0.5 * (treated.metal_k + treated.skin_k))),
            drop_k.max(0.0),
            celsius(treated.skin_k),
        ),
        None => format!(
            "{} gives off {:.0} W bare, {:.0} W treated.",
            part.name,
            bare.to_bay_w(),
            treated.to_bay_w()
        ),
    };
    let kept_w = bare.to_bay_w() - treated.to_bay_w();
    let second = if kept_w >= 0.0 {
        format!(
            "The {kept_w:.0} W that no longer leave through the skin stay in metal and gas: the metal runs {}.",
            kelvin(treated.metal_k - bare.metal_k, "hotter", "cooler")
        )
    } else {
        format!(
            "It gives off {:.0} W more than bare, because its face radiates better than the metal did: the metal runs {}.",
            -kept_w,
            kelvin(treated.metal_k - bare.metal_k, "hotter", "cooler")
        )
    };
    vec![first, second]
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
    vec![
        format!(
            "The last pipe gets gas {:.0} K hotter, which takes {:.1} % more room and so flows {:.1} % faster.",
            b.0 - a.0,
            100.0 * (b.0 / a.0 - 1.0),
            100.0 * (b.1 / a.1 - 1.0)
        ),
        format!(
            "Pushing the same mass through the same pipes faster takes more pressure, not less: {:.0} Pa in place of {:.0} Pa.",
            drop(&treated.parts),
            drop(&bare.parts)
        ),
    ]
}

/// What comes with the treatment, at the point and after key-off.
pub(super) fn side_effects(pair: &Pair, after: &Pair, whose: Whose) -> Vec<String> {
    let mut out = Vec::new();
    let build = &pair.bare.build;
    for &i in whose.parts {
        let part = &build.exhaust[i];
        let (bare, treated) = (&pair.bare.state.parts[i], &pair.treated.state.parts[i]);
        let hotter = treated.metal_hot_k - bare.metal_hot_k;
        let (soaked, soaked_treated) = (&after.bare.state.parts[i], &after.treated.state.parts[i]);
        let later = soaked_treated.metal_k - soaked.metal_k;
        if hotter.abs() < WORTH_A_WORD_K && later.abs() < WORTH_A_WORD_K {
            continue;
        }
        let limit_k = part.metal.max_service_k.value;
        let over = if treated.metal_hot_k > limit_k {
            format!(
                ", over the {:.0} degC that {} bears",
                celsius(limit_k),
                part.metal.name
            )
        } else {
            String::new()
        };
        out.push(format!(
            "{}: metal {}, at {:.0} degC{over}; parked, it is still {} ({} min after key-off)",
            part.name,
            kelvin(hotter, "hotter", "cooler"),
            celsius(treated.metal_hot_k),
            kelvin(later, "hotter", "cooler"),
            "5 to 10",
        ));
    }
    let (bare, treated) = (&pair.bare.state.car, &pair.treated.state.car);
    let turbine = treated.turbine_in_k - bare.turbine_in_k;
    if build.turbo.is_some() && turbine.abs() >= WORTH_A_WORD_K {
        out.push(format!(
            "gas into the turbine: {}",
            kelvin(turbine, "hotter", "cooler")
        ));
    }
    let near = build.neighbours.iter().zip(
        pair.bare
            .state
            .neighbours_k
            .iter()
            .zip(&pair.treated.state.neighbours_k),
    );
    for (neighbour, (before, now)) in near {
        if now - before >= WORTH_A_WORD_K {
            out.push(format!(
                "{}: {}",
                neighbour.name,
                kelvin(now - before, "hotter", "cooler")
            ));
        }
    }
    out
}
