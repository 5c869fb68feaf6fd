//! What can't be true in a log: engines that turn without air, loggers that stand still, outside
//! sensors that have soaked in heat.

/// An engine turns from here on [1/min]: half a slow idle.
pub(super) const LEAST_RPM: f64 = 200.0;
/// Air that a turning engine draws at least [kg/s]: 1 g/s, a third of a small engine's idle (estimate).
pub(super) const LEAST_FLOW_KG_S: f64 = 1e-3;
/// Engine channels that don't move for this long are the logger's, not the engine's [s].
const FROZEN_S: f64 = 15.0;
/// Driving that blows the soaked heat off an outside sensor: this fast [m/s] for this long [s] (estimates).
const BLOWN_M_S: f64 = 30.0 / 3.6;
const BLOWN_S: f64 = 240.0;
/// A fall of the outside reading that is soak, not weather [K].
const SOAKED_K: f64 = 1.5;

/// A stretch in which the logger stands still.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Frozen {
    pub(super) from_s: f64,
    pub(super) to_s: f64,
}

/// Rows that say the engine turns while it draws no air.
pub(super) fn without_air(running: &[bool], flow_kg_s: &[f64]) -> usize {
    let pairs = running.iter().zip(flow_kg_s);
    pairs.filter(|&(&r, &f)| r && f < LEAST_FLOW_KG_S).count()
}

/// Stretches in which every engine channel keeps the same value to the last digit.
pub(super) fn frozen(time_s: &[f64], channels: &[Option<&[f64]>]) -> Vec<Frozen> {
    let channels: Vec<&[f64]> = channels.iter().flatten().copied().collect();
    let mut out = Vec::new();
    // one channel alone may stand still, in rounded numbers
    if channels.len() < 2 {
        return out;
    }
    let same = |i: usize| {
        let alike = |c: &&[f64]| c[i].to_bits() == c[i - 1].to_bits();
        // an engine at rest stands still by right
        channels.iter().all(alike) && channels[0][i] >= LEAST_RPM
    };
    let mut from = 0;
    for i in 1..=time_s.len() {
        if i < time_s.len() && same(i) {
            continue;
        }
        if time_s[i - 1] - time_s[from] > FROZEN_S {
            out.push(Frozen {
                from_s: time_s[from],
                to_s: time_s[i - 1],
            });
        }
        from = i;
    }
    out
}

/// Outside temperature over time [K], with what was done to it.
///
/// A sensor in the bumper soaks in the heat of the engine or of a garage while the car stands. Until
/// it has been blown by [`BLOWN_S`] of driving, a reading above that later one is replaced by it.
pub(super) fn ambient(
    time_s: &[f64],
    speed_m_s: &[f64],
    logged_k: Option<&[f64]>,
    given_k: Option<f64>,
) -> (Option<Vec<f64>>, Vec<String>) {
    if let Some(given_k) = given_k {
        let note = "the day's temperature is the one given, not the logged one";
        let notes = logged_k.map(|_| note.to_owned()).into_iter().collect();
        return (Some(vec![given_k; time_s.len()]), notes);
    }
    let Some(logged_k) = logged_k else {
        let note = "no outside temperature logged: the sheet's day is used";
        return (None, vec![note.to_owned()]);
    };
    let mut blown_s = 0.0;
    let settled = (1..time_s.len()).find(|&i| {
        if speed_m_s[i] > BLOWN_M_S {
            blown_s += time_s[i] - time_s[i - 1];
        }
        blown_s >= BLOWN_S
    });
    let mut out = logged_k.to_vec();
    let mut notes = Vec::new();
    match settled {
        Some(at) => {
            let later = logged_k[at];
            let start = logged_k[..at].iter().copied().fold(f64::MIN, f64::max);
            if start - later >= SOAKED_K {
                out[..at].iter_mut().for_each(|k| *k = k.min(later));
                notes.push(format!(
                    "the outside sensor fell {:.0} K in the first {:.0} s of the drive: it had soaked in heat; {:.0} degC, its reading after {:.0} s of driving, is used from the start",
                    start - later,
                    time_s[at],
                    later - super::types::ZERO_CELSIUS_K,
                    BLOWN_S
                ));
            }
        }
        None => notes.push(format!(
            "less than {BLOWN_S:.0} s of driving above 30 km/h: the outside sensor may have soaked in heat; give the day's temperature if you know it"
        )),
    }
    (Some(out), notes)
}
