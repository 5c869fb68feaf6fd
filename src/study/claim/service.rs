//! Readings of a service temperature.

use super::input::Change;
use super::readings::Whose;
use super::trial::Side;
use super::verdict::{HARDLY, HOLDS, Judged, Pair, Verdict, points};
use crate::constants::ZERO_CELSIUS_K;

/// Judges "good to so many degrees": by what the layer meets here, what the metal beneath bears, and whether the metal
/// stays within its own limit beneath it.
pub(super) fn judge(
    change: Change,
    pair: &Pair,
    drawn: &[(usize, &(Side, Side))],
    whose: Whose,
) -> Vec<Judged> {
    let Change::Reaches(claimed_c) = change else {
        return Vec::new();
    };
    let part = &pair.bare.build.exhaust[whose.part];
    let limit_c = part.metal.max_service_k.value - ZERO_CELSIUS_K;
    let metal_c = |side: &Side| side.state.parts[whose.part].metal_hot_k - ZERO_CELSIUS_K;
    let gas_c = |side: &Side| side.state.parts[whose.part].gas_k - ZERO_CELSIUS_K;
    let each = |f: &dyn Fn(&Side) -> f64| {
        drawn
            .iter()
            .map(|(_, pair)| f(&pair.1))
            .collect::<Vec<f64>>()
    };
    let chance = |values: &[f64], most: f64| {
        values.iter().filter(|v| **v <= most).count() as f64 / values.len().max(1) as f64
    };
    let row = |reading: String, values: Vec<f64>, chance: f64, failing: Verdict| {
        let [low, middle, high] = points(values);
        Judged {
            at: pair.at,
            reading,
            counted: "degC".to_owned(),
            unit: "degC".to_owned(),
            direct: true,
            claimed: claimed_c,
            low,
            middle,
            high,
            chance,
            physics: None,
            verdict: match chance {
                c if c >= HOLDS => Verdict::Holds,
                c if c >= HARDLY => Verdict::Depends,
                _ => failing,
            },
            needs: Vec::new(),
            hinges_on: Vec::new(),
        }
    };
    let metal = each(&metal_c);
    let gas = each(&gas_c);
    let metal_bears = f64::from(u8::from(limit_c >= claimed_c));
    vec![
        row(
            format!("the part may run that hot; {} bears", part.metal.id),
            vec![limit_c; 3],
            metal_bears,
            Verdict::OutOfReach,
        ),
        row(
            "the layer bears what it meets here".to_owned(),
            metal.clone(),
            chance(&metal, claimed_c),
            Verdict::OtherMaterial,
        ),
        row(
            "gas that hot may flow; the gas here has".to_owned(),
            gas.clone(),
            chance(&gas, claimed_c),
            Verdict::OutOfReach,
        ),
        row(
            format!("the metal beneath stays below {limit_c:.0} degC"),
            metal.clone(),
            chance(&metal, limit_c),
            Verdict::OutOfReach,
        ),
    ]
}
