//! The cheapest test on the car that tells options apart: which manoeuvre, which sensors, how many repeats.

mod sensors;

use rayon::prelude::*;
use serde::Serialize;

pub use self::sensors::Aim;
use self::sensors::{Sensor, sensors};
use super::claim::point::{At, PointState, solve_at};
use super::judge::stats::repeats;
use super::run::RunError;
use crate::sheet::build::Build;
use crate::sheet::{Chooser, OptionSpec, Sheet, SheetError};

/// Manoeuvres that a test can use, with the minutes that one repeat takes: warming up, holding, cooling (estimates).
const MANOEUVRES: [(At, f64); 4] = [
    (At::Country, 40.0),
    (At::Motorway, 40.0),
    (At::Idle, 45.0),
    (At::KeyOff, 45.0),
];
/// Minutes to fit one sensor, and to change from one option to another (estimates).
const SENSOR_MIN: f64 = 20.0;
const CHANGE_MIN: f64 = 120.0;
/// Share of the predicted effect that the plan counts on, the model being a model (estimate).
const COUNTED: f64 = 0.7;
/// Fewest repeats: one alone shows no scatter.
const FEWEST_REPEATS: u32 = 2;
/// More repeats than this are not a plan.
pub const SENSIBLE_REPEATS: u32 = 12;
/// Warmer day on which the correction for outside air is taken [K].
const WARMER_K: f64 = 5.0;
/// Most sensors that may be asked for.
pub const MOST_SENSORS: usize = 12;

/// How sure the test has to be.
#[derive(Debug, Clone, Copy)]
pub struct PlanOptions {
    /// Chance of a false alarm that is accepted.
    pub alpha: f64,
    /// Chance of finding the effect.
    pub power: f64,
    /// Sensors at hand.
    pub sensors: usize,
    /// What matters.
    pub aim: Aim,
}

impl Default for PlanOptions {
    fn default() -> Self {
        Self {
            alpha: 0.05,
            power: 0.9,
            sensors: 4,
            aim: Aim::All,
        }
    }
}

/// Why there is no plan.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PlanError {
    /// The sheet or an option is bad.
    #[error(transparent)]
    Sheet(#[from] SheetError),
    /// The car can't be solved.
    #[error("{option}: {source}")]
    Run {
        /// Option.
        option: String,
        /// What went wrong.
        source: RunError,
    },
    /// Settings out of range; all of them.
    #[error("{}", .0.join("\n"))]
    Settings(Vec<String>),
    /// Nothing to tell apart.
    #[error(
        "fewer than two options: nothing to tell apart\n  hint: add [[option]] entries to the sheet, see the built-in builds"
    )]
    TooFew,
}

impl PlanError {
    /// Exit code of the program.
    #[must_use]
    pub fn exit_code(&self) -> u8 {
        match self {
            Self::Run { source, .. } => source.exit_code(),
            _ => 2,
        }
    }
}

/// A sensor of the plan.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fitted {
    /// Column in the log.
    pub channel: String,
    /// Where it goes, in words.
    pub place: String,
    /// Scatter of one repeat [K].
    pub scatter_k: f64,
    /// How far it follows the air outside [K/K]: the correction for another day.
    pub per_ambient_k: f64,
    /// Expected reading with the first option [degC].
    pub expected_c: f64,
    /// Expected change against the first option, in the order of the options [K].
    pub effects_k: Vec<f64>,
}

/// Two options and what tells them apart.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Told {
    /// First option.
    pub a: String,
    /// Second option.
    pub b: String,
    /// Column that tells most.
    pub channel: String,
    /// Expected difference [K].
    pub effect_k: f64,
    /// Scatter of one repeat [K].
    pub scatter_k: f64,
    /// Repeats with each option; `None` beyond what is sensible.
    pub repeats: Option<u32>,
}

/// A manoeuvre and what a test by it takes.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Way {
    /// Manoeuvre.
    pub at: At,
    /// Repeats with each option, in their order.
    pub repeats: Vec<u32>,
    /// Hours, changing over included.
    pub hours: f64,
    /// Pairs that it tells apart.
    pub told: usize,
    /// Largest effect of any pair in scatters of one repeat [-].
    pub clearest: f64,
}

/// A plan.
#[derive(Debug, Clone, Serialize)]
pub struct Plan {
    /// Version of this shape.
    pub schema: u32,
    /// Title of the sheet.
    pub sheet: String,
    /// Options, what is there first.
    pub options: Vec<String>,
    /// Manoeuvre.
    pub at: At,
    /// Repeats with each option, in their order.
    pub repeats: Vec<u32>,
    /// Hours of it all.
    pub hours: f64,
    /// Chance of a false alarm, and of finding an effect.
    pub alpha: f64,
    /// See `alpha`.
    pub power: f64,
    /// Sensors.
    pub sensors: Vec<Fitted>,
    /// Pairs of options.
    pub pairs: Vec<Told>,
    /// The manoeuvres looked at, the chosen one first.
    pub ways: Vec<Way>,
    /// The chosen way with the pairs left open that ask for most repeats, where that saves drives.
    pub without_hardest: Option<Way>,
    /// What to do, step by step.
    pub steps: Vec<String>,
    /// What to hold the same.
    pub hold: Vec<String>,
    /// Columns of the log.
    pub columns: Vec<String>,
}

/// The car with each option at one manoeuvre.
struct Cars {
    at: At,
    minutes: f64,
    states: Vec<PointState>,
    warmer: PointState,
}

/// Plans a test of `options` on a sheet; the first is what the car has now.
///
/// # Errors
/// When an option doesn't fit, the car can't be solved or settings are out of range.
pub fn plan(
    sheet: &Sheet,
    options: &[OptionSpec],
    settings: &PlanOptions,
) -> Result<Plan, PlanError> {
    check(settings)?;
    if options.len() < 2 {
        return Err(PlanError::TooFew);
    }
    let builds = options
        .iter()
        .map(|option| {
            Ok(sheet
                .with_option(option)?
                .settle(&mut Chooser::Likely)?
                .build)
        })
        .collect::<Result<Vec<Build>, SheetError>>()?;
    let cars = MANOEUVRES
        .par_iter()
        .map(|&(at, minutes)| cars(&builds, options, at, minutes))
        .collect::<Result<Vec<Cars>, PlanError>>()?;
    let candidates = sensors(&builds[0], settings.aim);
    let mut plans: Vec<(Way, Vec<usize>)> = cars
        .iter()
        .map(|cars| {
            let chosen = choose(&candidates, cars, settings);
            (
                way(&candidates, &chosen, cars, settings, SENSIBLE_REPEATS),
                chosen,
            )
        })
        .collect();
    // most pairs first, then least time; where there is none to tell, where it would show most
    if plans.iter().all(|(way, _)| way.told == 0) {
        plans.sort_by(|(a, _), (b, _)| b.clearest.total_cmp(&a.clearest));
    } else {
        plans.sort_by(|(a, _), (b, _)| b.told.cmp(&a.told).then(a.hours.total_cmp(&b.hours)));
    }
    let Some((best, chosen)) = plans.first().cloned() else {
        return Err(PlanError::TooFew);
    };
    let Some(cars) = cars.iter().find(|c| c.at == best.at) else {
        return Err(PlanError::TooFew);
    };
    let names: Vec<String> = options.iter().map(|o| o.name.clone()).collect();
    let fitted: Vec<Fitted> = chosen
        .iter()
        .map(|&i| fitted(&candidates[i], cars))
        .collect();
    let mut columns: Vec<String> = [
        "time_s",
        "speed_kmh",
        "rpm",
        "power_kw",
        "ambient_c",
        "coolant_c",
    ]
    .map(String::from)
    .to_vec();
    columns.extend(fitted.iter().map(|f| f.channel.clone()));
    Ok(Plan {
        schema: 1,
        sheet: sheet.title().to_owned(),
        pairs: pairs(&candidates, &chosen, cars, settings)
            .into_iter()
            .map(|p| p.named(&names))
            .collect(),
        options: names,
        at: best.at,
        repeats: best.repeats.clone(),
        hours: best.hours,
        alpha: settings.alpha,
        power: settings.power,
        without_hardest: without_hardest(&candidates, &chosen, cars, settings, &best),
        steps: steps(best.at, &best.repeats, options),
        hold: hold(best.at),
        sensors: fitted,
        ways: plans.into_iter().map(|(way, _)| way).collect(),
        columns,
    })
}

fn check(settings: &PlanOptions) -> Result<(), PlanError> {
    let all: [(&'static str, f64, f64, f64, &'static str); 3] = [
        ("alpha", settings.alpha, 0.001, 0.3, "0.05 is customary"),
        (
            "power",
            settings.power,
            0.5,
            0.99,
            "0.9 finds nine effects of ten",
        ),
        (
            "sensors",
            settings.sensors as f64,
            1.0,
            MOST_SENSORS as f64,
            "4 are enough for most",
        ),
    ];
    let bad: Vec<String> = all
        .into_iter()
        .filter(|(_, value, low, high, _)| !(*low..=*high).contains(value))
        .map(|(what, value, low, high, hint)| {
            format!("{what} = {value}: outside {low} to {high}\n  hint: {hint}")
        })
        .collect();
    if bad.is_empty() {
        Ok(())
    } else {
        Err(PlanError::Settings(bad))
    }
}

fn cars(builds: &[Build], options: &[OptionSpec], at: At, minutes: f64) -> Result<Cars, PlanError> {
    let named = |i: usize| {
        move |source| PlanError::Run {
            option: options[i].name.clone(),
            source,
        }
    };
    let (first, warmth) = solve_at(&builds[0], at, None).map_err(named(0))?;
    let mut states = vec![first];
    for (i, build) in builds.iter().enumerate().skip(1) {
        states.push(solve_at(build, at, Some(&warmth)).map_err(named(i))?.0);
    }
    let mut warm = builds[0].clone();
    warm.day.ambient_k += WARMER_K;
    let (warmer, _) = solve_at(&warm, at, Some(&warmth)).map_err(named(0))?;
    Ok(Cars {
        at,
        minutes,
        states,
        warmer,
    })
}

/// A pair of options by index.
struct Pair {
    a: usize,
    b: usize,
    channel: String,
    effect_k: f64,
    scatter_k: f64,
    repeats: Option<u32>,
}

impl Pair {
    fn named(self, names: &[String]) -> Told {
        Told {
            a: names[self.a].clone(),
            b: names[self.b].clone(),
            channel: self.channel,
            effect_k: self.effect_k,
            scatter_k: self.scatter_k,
            repeats: self.repeats,
        }
    }
}

/// How well a sensor tells two options apart, in scatters.
fn ratio(sensor: &Sensor, cars: &Cars, a: usize, b: usize) -> (f64, f64, f64) {
    let effect = sensor.value_k(&cars.states[b]) - sensor.value_k(&cars.states[a]);
    let scatter = sensor.scatter_k(&cars.states[0]);
    (COUNTED * effect.abs() / scatter, effect, scatter)
}

fn all_pairs(count: usize) -> impl Iterator<Item = (usize, usize)> {
    (0..count).flat_map(move |a| (a + 1..count).map(move |b| (a, b)))
}

/// Adds the sensor that helps most, again and again: each pair counts by its best sensor, no further than needed.
fn choose(candidates: &[Sensor], cars: &Cars, settings: &PlanOptions) -> Vec<usize> {
    // three repeats find an effect of this many scatters; more is of no use
    let enough = 4.0;
    let score = |chosen: &[usize]| -> f64 {
        let best = |(a, b)| {
            let each = chosen.iter().map(|&i| ratio(&candidates[i], cars, a, b).0);
            each.fold(0.0, f64::max).min(enough)
        };
        all_pairs(cars.states.len()).map(best).sum()
    };
    let mut chosen: Vec<usize> = Vec::new();
    while chosen.len() < settings.sensors.min(candidates.len()) {
        let now = score(&chosen);
        let with = |i: usize| score(&[&chosen[..], &[i]].concat());
        let rest = (0..candidates.len()).filter(|i| !chosen.contains(i));
        let best = rest
            .map(|i| (with(i), i))
            .max_by(|a, b| a.0.total_cmp(&b.0));
        match best {
            Some((after, i)) if after > now + 0.05 || chosen.is_empty() => chosen.push(i),
            _ => break,
        }
    }
    chosen
}

fn pairs(
    candidates: &[Sensor],
    chosen: &[usize],
    cars: &Cars,
    settings: &PlanOptions,
) -> Vec<Pair> {
    let pair = |(a, b)| {
        let each = chosen
            .iter()
            .map(|&i| (ratio(&candidates[i], cars, a, b), i));
        let ((ratio, effect_k, scatter_k), i) = each.max_by(|x, y| x.0.0.total_cmp(&y.0.0))?;
        let needed = repeats(ratio, settings.alpha, settings.power);
        Some(Pair {
            a,
            b,
            channel: candidates[i].channel.clone(),
            effect_k,
            scatter_k,
            repeats: needed.filter(|&n| n <= SENSIBLE_REPEATS),
        })
    };
    all_pairs(cars.states.len()).filter_map(pair).collect()
}

/// The test with these sensors; pairs that ask for more than `most` repeats are left open.
fn way(
    candidates: &[Sensor],
    chosen: &[usize],
    cars: &Cars,
    settings: &PlanOptions,
    most: u32,
) -> Way {
    let mut pairs = pairs(candidates, chosen, cars, settings);
    pairs
        .iter_mut()
        .for_each(|p| p.repeats = p.repeats.filter(|&n| n <= most));
    // an option is repeated as often as its hardest pair asks for
    let each = |option: usize| {
        let own = pairs.iter().filter(|p| p.a == option || p.b == option);
        own.filter_map(|p| p.repeats)
            .max()
            .unwrap_or(FEWEST_REPEATS)
    };
    let repeats: Vec<u32> = (0..cars.states.len()).map(each).collect();
    let drives: u32 = repeats.iter().sum();
    let changes = (repeats.len() - 1) as f64;
    let minutes =
        f64::from(drives) * cars.minutes + changes * CHANGE_MIN + chosen.len() as f64 * SENSOR_MIN;
    Way {
        at: cars.at,
        repeats,
        hours: minutes / 60.0,
        told: pairs.iter().filter(|p| p.repeats.is_some()).count(),
        clearest: pairs
            .iter()
            .map(|p| p.effect_k.abs() / p.scatter_k)
            .fold(0.0, f64::max),
    }
}

fn without_hardest(
    candidates: &[Sensor],
    chosen: &[usize],
    cars: &Cars,
    settings: &PlanOptions,
    best: &Way,
) -> Option<Way> {
    let hardest = best.repeats.iter().max()?;
    let easier = way(candidates, chosen, cars, settings, hardest - 1);
    (easier.told > 0 && easier.hours < best.hours).then_some(easier)
}

fn fitted(sensor: &Sensor, cars: &Cars) -> Fitted {
    let first = sensor.value_k(&cars.states[0]);
    Fitted {
        channel: sensor.channel.clone(),
        place: sensor.place.clone(),
        scatter_k: sensor.scatter_k(&cars.states[0]),
        per_ambient_k: (sensor.value_k(&cars.warmer) - first) / WARMER_K,
        expected_c: crate::quantity::celsius(first),
        effects_k: cars
            .states
            .iter()
            .map(|s| sensor.value_k(s) - first)
            .collect(),
    }
}

fn steps(at: At, repeats: &[u32], options: &[OptionSpec]) -> Vec<String> {
    let steady = |what: &str| {
        vec![
            "Drive 20 min until coolant and oil stand still.".to_owned(),
            format!("Hold {what} for 10 min; the mean of the last 3 min is one reading."),
        ]
    };
    let mut out = match at {
        At::Country => steady("80 km/h on the flat in one gear"),
        At::Motorway => steady("130 km/h (or the limit, always the same) on the flat in one gear"),
        At::Hill => steady("100 km/h up the same long hill with the same load"),
        At::FullLoad => steady("full load on a rolling road, with its fan"),
        At::Idle => vec![
            "Drive 20 min, the last 10 at a steady 130 km/h (or the limit, always the same).".to_owned(),
            "Stop in the open, same heading to the wind, bonnet shut, idle 10 min; the mean of minutes 5 to 10 is one reading."
                .to_owned(),
        ],
        At::Town | At::Track => vec![
            "Drive 20 min until coolant and oil stand still.".to_owned(),
            "Drive the same round at the same pace for 20 min; the mean of the last 10 min is one reading.".to_owned(),
        ],
        At::KeyOff => vec![
            "Drive 20 min, the last 10 at a steady 130 km/h (or the limit, always the same).".to_owned(),
            "Park in the open, key off, bonnet shut; the mean of minutes 5 to 10 is one reading.".to_owned(),
        ],
    };
    let each: Vec<String> = options
        .iter()
        .zip(repeats)
        .map(|(o, n)| format!("{} {n} times", o.name))
        .collect();
    out.push(format!(
        "Repeat: {}. Spread each option over several days, and come back to the first one at the end.",
        each.join(", ")
    ));
    out.push(
        "Correct each reading to the air outside of the first drive: take off `per K outside` for every kelvin by which it was \
         warmer."
            .to_owned(),
    );
    out.push(
        "Log every drive from its start into a file of its own, and let `baysoak judge` compare the files of two options."
            .to_owned(),
    );
    out
}

fn hold(at: At) -> Vec<String> {
    let mut out: Vec<String> = [
        "same fuel, tyre pressures, load in the car, windows, heater and air conditioning off",
        "same road, same gear, same direction; no rain, wind below 5 m/s, sun alike",
        "air outside in the shade, away from the car and the road, on every drive",
        "sensors stay where they are; on a treated part they sit on the metal beneath, wires led along it for 50 mm",
        "air sensors behind a foil that keeps the exhaust out of sight",
        "first heat of anything new smokes: outdoors, twice, before the first reading",
        "stop when something passes its limit (`baysoak run` lists them); extinguisher at hand, nobody under the car",
    ]
    .map(String::from)
    .to_vec();
    if at == At::Idle {
        out.push(
            "note when the fan runs; a reading with another fan state counts apart".to_owned(),
        );
    }
    out
}
