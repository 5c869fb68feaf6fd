//! What measuring alone makes of a change like the claimed one.

use super::input::{Change, Claim, Quantity};
use super::readings::{PROBE_VIEW, Reading, Scale, Seat, What, Whose, readings};
use super::trial::{Numbers, Side, main_layer};
use super::verdict::Pair;
use crate::constants::ZERO_CELSIUS_K;
use crate::study::instruments::{
    Effect, Explained, HangsIn, PressedOn, Span, day_effect, explain, finish_effect, seat_effect,
    spot_effect, view_effect,
};

/// How far two ordinary days lie apart [K], and what sun and wind add in the bay [K] (estimates).
const DAYS_APART_K: f64 = 5.0;
const SUN_AND_WIND_K: f64 = 3.0;
/// Repeatability of a rolling road, one run against another [%] (common practice, no source).
const ROLLING_ROAD_PERCENT: f64 = 1.5;
/// Conductivity of metals under a clip [W/m/K].
const METAL_W_MK: f64 = 25.0;

/// Effects in the unit of the claimed change: K for temperatures, % for power; none where nothing simple is at work.
pub(super) fn effects(claim: &Claim, pair: &Pair, whose: Whose) -> Vec<Effect> {
    match claim.quantity {
        Quantity::SkinTemperature => skin(pair, whose),
        Quantity::BayAir | Quantity::NeighbourTemperature => {
            let mut all = vec![day_effect(DAYS_APART_K, 1.0, SUN_AND_WIND_K)];
            all.push(view(pair, whose));
            all
        }
        Quantity::IntakeAir => vec![day_effect(DAYS_APART_K, 1.0, 1.0)],
        Quantity::Power => {
            let of = |name: &str, size: f64, basis: &str| Effect {
                name: name.to_owned(),
                low: -size,
                high: size,
                basis: basis.to_owned(),
            };
            // exponent of the test standards: 0.6 % per 1 % of absolute temperature
            let air = 100.0 * 0.6 * DAYS_APART_K / pair.bare.state.car.ambient_k;
            vec![
                of(
                    "one run on a rolling road against another",
                    ROLLING_ROAD_PERCENT,
                    "common practice, no source",
                ),
                of(
                    "air of another day, not corrected",
                    air,
                    "5 K apart, exponent 0.6",
                ),
            ]
        }
        _ => Vec::new(),
    }
}

fn air_round(side: &Side, part: usize) -> f64 {
    let zone = side.build.exhaust[part].zone;
    zone.map_or(side.state.car.ambient_k, |z| side.state.zones_k[z])
}

fn skin(pair: &Pair, whose: Whose) -> Vec<Effect> {
    let part = &pair.bare.build.exhaust[whose.part];
    let state = &pair.bare.state.parts[whose.part];
    let air_k = air_round(&pair.bare, whose.part);
    let treatment = pair.treated.build.exhaust[whose.part].treatment.as_ref();
    let face = treatment.and_then(|t| t.outside.last());
    let after = face.map_or(part.emissivity, |l| l.emissivity);
    let near = |e: f64| Span::new((e - 0.1).max(0.03), (e + 0.1).min(0.98));
    let metal = PressedOn {
        surface_k: state.skin_k,
        air_k,
        top_w_mk: METAL_W_MK,
        top_m: part.wall_m,
        under_w_mk: METAL_W_MK,
    };
    let mut all = vec![finish_effect(
        state.skin_k,
        air_k,
        near(part.emissivity),
        near(after),
    )];
    if let Some(layer) = treatment
        .filter(|t| !t.outside.is_empty())
        .and_then(main_layer)
    {
        let on = PressedOn {
            top_w_mk: layer.conductivity(500.0),
            top_m: layer.thickness_m,
            ..metal
        };
        all.push(seat_effect(&metal, &on));
    }
    all.push(spot_effect(
        state.skin_k,
        air_k,
        part.emissivity,
        Span::new(0.7, 1.0),
    ));
    all.push(day_effect(DAYS_APART_K, 1.0, SUN_AND_WIND_K));
    all
}

fn view(pair: &Pair, whose: Whose) -> Effect {
    let state = &pair.bare.state;
    let air_k = state.zones_k[whose.zone];
    let at = HangsIn {
        air_k,
        speed_m_s: state.zone_speed_m_s[whose.zone],
        pressure_pa: pair.bare.build.day.pressure_pa,
        hot_k: state.parts[whose.part].skin_k,
        hot_share: PROBE_VIEW,
        rest_k: air_k,
    };
    // held aside, or behind foil, after
    let mut effect = view_effect(&at, air_k);
    effect.name = "air sensor that sees the hot part before and not after".to_owned();
    effect
}

/// Whether the effects reach the claimed change of the plainest reading.
pub(super) fn explained(
    claim: &Claim,
    pair: &Pair,
    whose: Whose,
    effects: &[Effect],
) -> Option<Explained> {
    if effects.is_empty() {
        return None;
    }
    let reading: Reading = readings(claim.quantity, claim.change).first().copied()?;
    let seat = Seat {
        side: &pair.bare,
        whose,
        numbers: Numbers::Likely,
    };
    let before = seat.value(reading.what);
    let claimed = match (claim.change, reading.scale) {
        (Change::Percent(v), Scale::OfCelsius) => 0.01 * v * (before - ZERO_CELSIUS_K),
        (Change::Percent(v), _) => v,
        (Change::Kelvin(v), _) => v,
        (Change::Reaches(c), _) => c + ZERO_CELSIUS_K - before,
    };
    let sensible = claimed.abs() > 1e-9 && reading.what != What::GasSpeed;
    sensible.then(|| explain(claimed, effects))
}
