//! A diesel that burns its particulate filter clean, read from the pressure in its manifold.
//!
//! A diesel isn't throttled to drive. To heat the exhaust it is: less air and a late injection leave
//! hotter gas (common practice, no source). Under load it needs no throttle, so what lies between two
//! throttled spells belongs to the same burning.

/// Manifold pressure over the outside one below which a diesel is throttled [-]. Logged: 0.95 to 1 at
/// idle, 0.7 to 0.8 throttled.
const THROTTLED: f64 = 0.92;
/// Below this it is no diesel that runs: its flap shuts to stop it [-] (estimate).
const SHUT: f64 = 0.5;
/// Shortest throttled spell that counts [s]: shorter ones are transients of flap and sensor (estimate).
const SPELL_S: f64 = 10.0;
/// A burning takes 5 to 20 minutes (common practice, no source): spells this near are the same [s].
const SAME_S: f64 = 900.0;
/// Share of running time that an engine may lie below a shut flap's pressure and be a diesel: petrol engines
/// idle and overrun there (estimate).
const PETROL_SHARE: f64 = 0.05;
/// Outside pressures that there are where roads go [Pa].
const OUTSIDE_PA: std::ops::RangeInclusive<f64> = 5.5e4..=1.1e5;

/// Rows at which the filter burns; none where the log can't tell or the engine is no diesel.
pub(super) fn burning(time_s: &[f64], running: &[bool], map_pa: Option<&[f64]>) -> Vec<bool> {
    let mut out = vec![false; time_s.len()];
    let Some(map_pa) = map_pa else { return out };
    let Some(outside_pa) = outside(running, map_pa) else {
        return out;
    };
    let share = |i: usize| map_pa[i] / outside_pa;
    let on: Vec<usize> = (0..time_s.len()).filter(|&i| running[i]).collect();
    let low = on.iter().filter(|&&i| share(i) < SHUT).count();
    let throttled = |i: usize| running[i] && (SHUT..THROTTLED).contains(&share(i));
    let often = on.iter().filter(|&&i| throttled(i)).count();
    if low as f64 > PETROL_SHARE * on.len() as f64 || 2 * often > on.len() {
        return out;
    }
    let mut last: Option<usize> = None;
    let mut from = None;
    for i in 0..=time_s.len() {
        if i < time_s.len() && throttled(i) {
            from.get_or_insert(i);
            continue;
        }
        let Some(first) = from.take() else { continue };
        if time_s[i - 1] - time_s[first] < SPELL_S {
            continue;
        }
        let begin = last.filter(|&l| time_s[first] - time_s[l] < SAME_S);
        out[begin.unwrap_or(first)..i].fill(true);
        last = Some(i - 1);
    }
    out
}

/// Pressure outside [Pa]: the manifold's with the engine off; without such rows, its lower quartile.
fn outside(running: &[bool], map_pa: &[f64]) -> Option<f64> {
    let sorted = |on: bool| {
        let own = running.iter().zip(map_pa).filter(|(r, _)| **r == on);
        let mut own: Vec<f64> = own.map(|(_, p)| *p).collect();
        own.retain(|p| OUTSIDE_PA.contains(p));
        own.sort_by(f64::total_cmp);
        own
    };
    let (off, on) = (sorted(false), sorted(true));
    off.get(off.len() / 2).or(on.get(on.len() / 4)).copied()
}

/// What the report says of it.
pub(super) fn note(time_s: &[f64], burning: &[bool]) -> Option<String> {
    let first = burning.iter().position(|b| *b)?;
    let last = burning.iter().rposition(|b| *b)?;
    let held_s: f64 = (1..time_s.len())
        .filter(|&i| burning[i])
        .map(|i| time_s[i] - time_s[i - 1])
        .sum();
    Some(format!(
        "manifold pressure below the outside one for spells between {:.0} and {:.0} s: a diesel is taken to burn its particulate filter clean there, {held_s:.0} s together",
        time_s[first], time_s[last]
    ))
}
