//! Advice by computation: gentle minutes before key-off that spare the bearing oil, and what each
//! measure buys for one drive, soak and restart.

use rayon::prelude::*;
use serde::Serialize;

use super::compare::{Candidate, OptionCost, Over, candidate, over};
use super::draws::{Count, Progress, StudyError};
use super::findings::{CycleId, DayId, Margin, Program, SCHEMA, SheetId};
use super::overview::NEARBY;
use super::soak::{Gentle, Parking, Soak, parked, soak_settled};
use crate::cycle::{Cycle, CycleError};
use crate::materials::{Family, treatments};
use crate::quantity::celsius;
use crate::sheet::{AS_IT_IS, Chooser, OptionSpec, Settled, Sheet, measures};

/// Gentle minutes that are tried before the gap is halved.
const TRIED_MIN: [f64; 8] = [0.0, 0.5, 1.0, 2.0, 3.0, 5.0, 8.0, 12.0];
/// Closer than this the answer need not be [min].
const CLOSE_MIN: f64 = 0.25;
/// Key-off in which a bearing has its peak [min]: castings soak for a quarter of an hour.
const PEAK_WITHIN_MIN: f64 = 25.0;
/// Gentle minutes that stand among the measures.
const USUAL_GENTLE_MIN: f64 = 2.0;
/// A power gain smaller than this is none, points of the rating.
pub const LEAST_GAIN_PERCENT: f64 = 0.05;

/// The advice.
#[derive(Debug, Clone, Serialize)]
pub struct Advice {
    /// Version of this shape.
    pub schema: u32,
    /// Program.
    pub program: Program,
    /// Build sheet.
    pub sheet: SheetId,
    /// Drive before key-off.
    pub cycle: CycleId,
    /// Weather.
    pub day: DayId,
    /// Minutes parked before the restart.
    pub parked_min: f64,
    /// Gentle minutes before key-off; null without a turbocharger.
    pub cool_down: Option<CoolDown>,
    /// What can be done, the car as it is among it, most power at the restart first.
    pub measures: Vec<Bought>,
    /// Cases that have no result, each with its reason.
    pub failed: Vec<String>,
}

/// Gentle minutes that keep bearing oil under its limit.
#[derive(Debug, Clone, Serialize)]
pub struct CoolDown {
    /// Limit of the oil, degC.
    pub limit_c: f64,
    /// Peak of the bearing when switched off at once, degC.
    pub peak_at_once_c: f64,
    /// Driving at 50 km/h.
    pub driving: Spared,
    /// Idling.
    pub idling: Spared,
}

/// What gentle minutes of one kind do.
#[derive(Debug, Clone, Serialize)]
pub struct Spared {
    /// Fewest minutes that hold the limit; null: not within those tried.
    pub minutes: Option<f64>,
    /// Minutes and the peak after them.
    pub tried: Vec<Peak>,
}

/// A peak after gentle minutes.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct Peak {
    /// Gentle minutes.
    pub minutes: f64,
    /// Peak of the bearing after key-off, degC.
    pub peak_c: f64,
}

/// What a measure buys.
#[derive(Debug, Clone, Serialize)]
pub struct Bought {
    /// Name.
    pub name: String,
    /// What is done.
    pub done: Vec<String>,
    /// What it costs.
    pub cost: OptionCost,
    /// How it comes out.
    pub outcome: Outcome,
    /// Against the car as it is.
    pub change: Outcome,
    /// Limits exceeded.
    pub over: Vec<Over>,
    /// What to beware of.
    pub cautions: Vec<String>,
}

/// What is looked at.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct Outcome {
    /// Power a quarter minute after the restart, by density, % of the rating.
    pub power_percent: f64,
    /// Sensor over ambient at the restart, K.
    pub sensor_rise_k: f64,
    /// Hottest bearing oil after key-off, degC; null without a turbocharger.
    pub bearing_c: Option<f64>,
    /// When, minutes after key-off.
    pub bearing_peak_min: Option<f64>,
    /// Least room of the nearby parts, K; null where none is named.
    pub nearby_k: Option<f64>,
}

impl Outcome {
    fn of(soak: &Soak) -> Option<Self> {
        let restart = soak.restart.as_ref()?;
        let power = restart.power.iter().find(|p| p.time_s >= 14.0)?;
        let bearing = soak.item("bearing oil");
        let nearby = soak.margins.iter().filter(|m| m.what == NEARBY);
        Some(Self {
            power_percent: power.density_percent,
            sensor_rise_k: restart.sensor.start_rise_k,
            bearing_c: bearing.map(|b| b.peak_c),
            bearing_peak_min: bearing.map(|b| b.peak_min),
            nearby_k: nearby.map(|m| m.margin_k).reduce(f64::min),
        })
    }

    fn minus(&self, other: &Self) -> Self {
        let both = |a: Option<f64>, b: Option<f64>| Some(a? - b?);
        Self {
            power_percent: self.power_percent - other.power_percent,
            sensor_rise_k: self.sensor_rise_k - other.sensor_rise_k,
            bearing_c: both(self.bearing_c, other.bearing_c),
            bearing_peak_min: both(self.bearing_peak_min, other.bearing_peak_min),
            nearby_k: both(self.nearby_k, other.nearby_k),
        }
    }
}

/// A thing to do: to the car, to how it is parked, or to how it is driven before.
struct Action {
    candidate: Candidate,
    parking: Parking,
    gentle: Option<(Gentle, f64)>,
}

/// What came of an action, or why nothing did.
type Tried = Result<(Settled, Soak), String>;

/// Looks for advice for a drive, a soak and a restart.
///
/// # Errors
/// The car as it is has no result, or nobody wants it any more.
pub fn advice(
    sheet: &Sheet,
    drive: &Cycle,
    parking: &Parking,
    progress: Progress,
) -> Result<Advice, StudyError> {
    let actions = actions(sheet, parking);
    let count = Count::new(actions.len() + 2 * TRIED_MIN.len(), progress);
    let results: Result<Vec<Tried>, StudyError> = actions
        .par_iter()
        .map(|action| {
            count.wanted()?;
            let result = carried_out(action, drive);
            count.one();
            Ok(result)
        })
        .collect();
    let results = results?;
    let nothing = |what: String| StudyError::Nothing {
        what,
        hint: "`baysoak check` and `baysoak run` say more of the car as it is".into(),
    };
    let first = results.first().map(Result::as_ref);
    let (settled, base) = match first {
        Some(Ok(found)) => found,
        Some(Err(reason)) => return Err(nothing(reason.clone())),
        None => return Err(nothing("nothing to look at".into())),
    };
    let base_outcome =
        Outcome::of(base).ok_or_else(|| nothing("no restart in this drive".into()))?;
    let mut bought = Vec::new();
    let mut failed = Vec::new();
    for (action, result) in actions.iter().zip(&results) {
        match result {
            Ok((settled, soak)) => {
                bought.extend(bought_of(
                    action,
                    settled,
                    soak,
                    &base_outcome,
                    &base.margins,
                ));
            }
            Err(reason) => failed.push(format!("{}: {reason}", action.candidate.name)),
        }
    }
    let power = |b: &Bought| b.outcome.power_percent;
    bought.sort_by(|a, b| power(b).total_cmp(&power(a)));
    Ok(Advice {
        schema: SCHEMA,
        program: base.program.clone(),
        sheet: base.sheet.clone(),
        cycle: base.cycle.clone(),
        day: base.day.clone(),
        parked_min: base.parked.minutes,
        cool_down: spared_oil(sheet, settled, (drive, parking), &count)?,
        measures: bought,
        failed,
    })
}

fn bought_of(
    action: &Action,
    settled: &Settled,
    soak: &Soak,
    base: &Outcome,
    base_margins: &[Margin],
) -> Option<Bought> {
    let outcome = Outcome::of(soak)?;
    let cost = &settled.cost;
    Some(Bought {
        name: action.candidate.name.clone(),
        done: action.candidate.done.clone(),
        cost: OptionCost {
            price: cost.price.likely,
            price_low: cost.price.low,
            price_high: cost.price.high,
            mass_kg: cost.mass_kg,
        },
        change: outcome.minus(base),
        outcome,
        over: over(&soak.margins, base_margins),
        cautions: settled.cautions.clone(),
    })
}

fn carried_out(action: &Action, drive: &Cycle) -> Tried {
    let told = |e: String| e.lines().next().unwrap_or_default().to_owned();
    let cycle = parked(drive, action.gentle, &action.parking).map_err(|e| told(e.to_string()))?;
    let sheet = &action.candidate.sheet;
    let settled = sheet
        .settle(&mut Chooser::Likely)
        .map_err(|e| told(e.to_string()))?;
    let soak = soak_settled(sheet, &settled, &cycle, &action.parking);
    Ok((settled, soak.map_err(|e| told(e.to_string()))?))
}

/// Everything that can be done, the car as it is first.
fn actions(sheet: &Sheet, parking: &Parking) -> Vec<Action> {
    let plain = |candidate: Candidate| Action {
        candidate,
        parking: *parking,
        gentle: None,
    };
    let named = |name: &str| Candidate {
        name: name.to_owned(),
        done: Vec::new(),
        sheet: sheet.clone(),
    };
    let mut out = vec![plain(named(AS_IT_IS))];
    for (kind, name) in [
        (Gentle::Drive, "2 min gentle driving first"),
        (Gentle::Idle, "2 min idling first"),
    ] {
        out.push(Action {
            gentle: Some((kind, USUAL_GENTLE_MIN)),
            ..plain(named(name))
        });
    }
    out.push(Action {
        parking: Parking {
            bonnet_open: !parking.bonnet_open,
            ..*parking
        },
        ..plain(named(if parking.bonnet_open {
            "bonnet shut"
        } else {
            "bonnet open"
        }))
    });
    let mut specs: Vec<OptionSpec> = measures()
        .iter()
        .map(|m| OptionSpec {
            name: m.name.clone(),
            measures: vec![m.id.clone()],
            ..OptionSpec::default()
        })
        .collect();
    specs.extend(
        treatments()
            .iter()
            .filter(|t| t.family != Family::Bare)
            .map(|t| {
                let spec = wherever_it_suits(sheet, &t.id);
                OptionSpec {
                    name: format!("{} wherever it suits", t.name),
                    ..spec
                }
            }),
    );
    specs.extend(sheet.options().into_iter().filter(|o| !o.changes_nothing()));
    let found = specs.iter().filter(|s| !s.changes_nothing());
    // what doesn't suit this car, or finds nothing to change, is no choice
    out.extend(found.filter_map(|s| candidate(sheet, s).ok()).map(plain));
    out
}

/// A treatment on every exhaust part in the bay that is bare and can have it.
fn wherever_it_suits(sheet: &Sheet, treatment: &str) -> OptionSpec {
    let parts = &sheet.raw().exhaust;
    let in_bay = |zone: &Option<String>| zone.as_deref() != Some("outside");
    let bare = parts
        .iter()
        .filter(|p| p.treatment.is_none() && in_bay(&p.zone));
    let suits = bare.filter(|p| {
        let one = OptionSpec::treating("try", [(p.name.as_str(), treatment)]);
        sheet.with_option(&one).is_ok()
    });
    OptionSpec::treating(treatment, suits.map(|p| (p.name.as_str(), treatment)))
}

/// Gentle minutes before key-off that keep the bearing's oil under its limit.
///
/// # Errors
/// A run without result.
pub fn cool_down(
    sheet: &Sheet,
    settled: &Settled,
    drive: &Cycle,
    parking: &Parking,
) -> Result<Option<CoolDown>, StudyError> {
    let count = Count::new(2 * TRIED_MIN.len(), &|_| true);
    spared_oil(sheet, settled, (drive, parking), &count)
}

fn spared_oil(
    sheet: &Sheet,
    settled: &Settled,
    (drive, parking): (&Cycle, &Parking),
    count: &Count,
) -> Result<Option<CoolDown>, StudyError> {
    let Some(turbo) = &settled.build.turbo else {
        return Ok(None);
    };
    let limit_c = celsius(turbo.oil_coking_k);
    let parking = Parking {
        minutes: PEAK_WITHIN_MIN,
        restart_min: 0.0,
        ..*parking
    };
    let peak = |kind: Gentle, minutes: f64| -> Result<Peak, StudyError> {
        count.wanted()?;
        let bad = |e: CycleError| StudyError::Nothing {
            what: e.to_string(),
            hint: "a shorter drive before key-off".into(),
        };
        let cycle = parked(drive, Some((kind, minutes)), &parking).map_err(bad)?;
        let soak = soak_settled(sheet, settled, &cycle, &parking);
        let soak = soak.map_err(|source| StudyError::Run {
            case: format!("{minutes} min before key-off"),
            source,
        })?;
        let peak_c = soak.item("bearing oil").map_or(f64::NAN, |b| b.peak_c);
        Ok(Peak { minutes, peak_c })
    };
    let spared = |kind: Gentle| -> Result<Spared, StudyError> {
        let one = |&minutes| {
            let found = peak(kind, minutes);
            count.one();
            found
        };
        let tried: Result<Vec<Peak>, StudyError> = TRIED_MIN.par_iter().map(one).collect();
        let mut tried = tried?;
        let minutes = fewest(&mut tried, limit_c, |m| peak(kind, m))?;
        Ok(Spared { minutes, tried })
    };
    let driving = spared(Gentle::Drive)?;
    let idling = spared(Gentle::Idle)?;
    Ok(Some(CoolDown {
        limit_c,
        peak_at_once_c: driving.tried.first().map_or(f64::NAN, |p| p.peak_c),
        driving,
        idling,
    }))
}

/// The fewest minutes from which on every peak that was tried is under the limit, the gap before them
/// halved until it is close; what is tried on the way is added.
fn fewest(
    tried: &mut Vec<Peak>,
    limit_c: f64,
    peak: impl Fn(f64) -> Result<Peak, StudyError>,
) -> Result<Option<f64>, StudyError> {
    let Some(last_over) = tried.iter().rposition(|p| p.peak_c > limit_c) else {
        return Ok(Some(0.0));
    };
    let Some(under) = tried.get(last_over + 1) else {
        return Ok(None);
    };
    let (mut low, mut high) = (tried[last_over].minutes, under.minutes);
    while high - low > CLOSE_MIN {
        let middle = peak(0.5 * (low + high))?;
        if middle.peak_c > limit_c {
            low = middle.minutes;
        } else {
            high = middle.minutes;
        }
        tried.push(middle);
    }
    tried.sort_by(|a, b| a.minutes.total_cmp(&b.minutes));
    Ok(Some(high))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verify_fewest_minutes_of_a_peak_that_falls_evenly() {
        let peak = |minutes: f64| {
            Ok(Peak {
                minutes,
                peak_c: 250.0 - 6.0 * minutes,
            })
        };
        let start = || {
            TRIED_MIN
                .iter()
                .map(|&m| peak(m))
                .collect::<Result<Vec<_>, StudyError>>()
        };
        let found = |limit| fewest(&mut start().unwrap(), limit, peak).unwrap();
        // 250 - 6 m = 226 at four minutes
        let minutes = found(226.0).unwrap();
        assert!((4.0..=4.0 + CLOSE_MIN).contains(&minutes), "{minutes}");
        assert_eq!(found(260.0), Some(0.0));
        assert_eq!(found(100.0), None);
    }
}
