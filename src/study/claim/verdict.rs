//! Readings judged from draws: how likely each is, what physics allows, what it would take.

use rayon::prelude::*;
use serde::Serialize;

use super::input::{Change, Claim, Known, Quantity};
use super::needs::{Need, Property, Reach};
use super::point::At;
use super::readings::{Reading, Seat, What, Whose, readings};
use super::trial::{Numbers, Other, Side, Trials};
use super::{measuring, service, words};
use crate::sheet::{Chooser, Sheet, SheetError};
use crate::study::draws::{Count, Progress};
use crate::study::instruments::{Effect, Explained};
use crate::study::latin_hypercube::LatinHypercube;
use crate::study::run::RunError;

/// Chance from which a reading counts as holding.
pub const HOLDS: f64 = 0.9;
/// Chance below which it counts as not holding.
pub const HARDLY: f64 = 0.1;
/// Fewest and most draws.
pub const DRAWS: (usize, usize) = (10, 10_000);
/// Share of failed draws above which there is no verdict.
const MOST_FAILED: f64 = 0.2;

/// How many draws, and which.
#[derive(Debug, Clone, Copy)]
pub struct ClaimOptions {
    /// Draws.
    pub draws: usize,
    /// Seed.
    pub seed: u64,
}

/// Why there is no verdict.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ClaimError {
    /// The sheet or the claim is bad.
    #[error(transparent)]
    Sheet(#[from] SheetError),
    /// The car can't be solved.
    #[error(transparent)]
    Run(#[from] RunError),
    /// Draws out of range.
    #[error("draws = {0}: outside {low} to {high}\n  hint: 100 is a good start", low = DRAWS.0, high = DRAWS.1)]
    Draws(usize),
    /// The treatment suits none of the parts.
    #[error("no exhaust part in the bay takes this treatment\n  hint: name a part")]
    NoPart,
    /// Too many draws failed.
    #[error(
        "{failed} of {draws} draws failed, the first because: {reason}\n  hint: narrow the ranges of the sheet; `baysoak check` lists them"
    )]
    TooManyFailed {
        /// Failed.
        failed: usize,
        /// Asked for.
        draws: usize,
        /// First reason.
        reason: String,
    },
    /// Nobody wants the verdict any more.
    #[error("stopped before the end")]
    Stopped,
}

impl ClaimError {
    /// Exit code of the program.
    #[must_use]
    pub fn exit_code(&self) -> u8 {
        match self {
            Self::Run(error) => error.exit_code(),
            Self::TooManyFailed { .. } | Self::Stopped => 3,
            _ => 2,
        }
    }
}

/// What is said of a reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// In nine of ten draws or more.
    Holds,
    /// In some draws and not in others.
    Depends,
    /// Hardly in any draw, though some layer of that thickness could do it.
    OtherMaterial,
    /// No layer of that thickness can do it on this car.
    OutOfReach,
}

impl Verdict {
    /// In full.
    #[must_use]
    pub fn meaning(self) -> &'static str {
        match self {
            Self::Holds => "in at least nine of ten draws",
            Self::Depends => "on what is not stated: in some draws, not in others",
            Self::OtherMaterial => "hardly in any draw; some layer of this thickness could do it",
            Self::OutOfReach => "no layer of this thickness does it on this car",
        }
    }

    /// In short.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Holds => "holds",
            Self::Depends => "depends",
            Self::OtherMaterial => "other material",
            Self::OutOfReach => "out of reach",
        }
    }
}

/// A judged reading.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Judged {
    /// When.
    pub at: At,
    /// The reading in words.
    pub reading: String,
    /// In what the change is counted, as `% of the rise`.
    pub counted: String,
    /// Unit of the numbers.
    pub unit: String,
    /// Whether it is the thing itself, not an instrument's or a neighbouring place's number.
    pub direct: bool,
    /// Claimed.
    pub claimed: f64,
    /// 10 % point of the draws.
    pub low: f64,
    /// Middle of the draws.
    pub middle: f64,
    /// 90 % point.
    pub high: f64,
    /// Share of the draws in which it holds.
    pub chance: f64,
    /// Least and most that any layer of this thickness could make of it.
    pub physics: Option<(f64, f64)>,
    /// Verdict.
    pub verdict: Verdict,
    /// What would have to be true, one property at a time.
    pub needs: Vec<Need>,
    /// Properties not stated on which it hinges: within what was drawn, it holds on one side only.
    pub hinges_on: Vec<Property>,
}

impl Judged {
    /// The verdict in short, with what it hinges on.
    #[must_use]
    pub fn verdict_words(&self) -> String {
        let mut out = self.verdict.words().to_owned();
        if !self.hinges_on.is_empty() {
            let names: Vec<&str> = self.hinges_on.iter().map(|p| p.name()).collect();
            out.push_str(&format!(" on {}", names.join(", ")));
        }
        out
    }
}

/// Properties of a layer that were drawn, and what a reading needs lies within the draws.
fn hinges(known: &Known, needs: &[Need]) -> Vec<Property> {
    let Known::Layer(layer) = known else {
        return Vec::new();
    };
    let within = |need: &&Need| {
        let (drawn, value) = match need.property {
            Property::Conductivity => (layer.conductivity_w_mk, need.value),
            Property::Emissivity => (layer.emissivity, need.value),
            Property::Thickness => (layer.thickness_mm, 1e3 * need.value),
            Property::ConductivityBright | Property::Coverage => return false,
        };
        drawn.low < value && value < drawn.high
    };
    needs.iter().filter(within).map(|n| n.property).collect()
}

/// Everything found about a claim.
#[derive(Debug, Clone, Serialize)]
pub struct ClaimReport {
    /// Version of this shape.
    pub schema: u32,
    /// The claim's words.
    pub text: String,
    /// What it is about.
    pub quantity: Quantity,
    /// How much.
    pub change: Change,
    /// Title of the build sheet.
    pub sheet: String,
    /// Treated parts.
    pub parts: Vec<String>,
    /// The part whose skin is looked at, and the zone whose air is.
    pub looked_at: (String, String),
    /// What was not stated, and what was taken instead.
    pub taken: Vec<String>,
    /// Readings.
    pub readings: Vec<Judged>,
    /// The energy argument, two sentences.
    pub argument: Vec<String>,
    /// What comes with it.
    pub side_effects: Vec<String>,
    /// What measuring alone makes of such a change.
    pub measuring: Vec<Effect>,
    /// Whether that explains the claim.
    pub explained: Option<Explained>,
    /// Whether any direct reading holds in at least a tenth of the draws.
    pub can_hold: bool,
    /// Draws, and how many of them failed.
    pub draws: (usize, usize),
}

/// Version of the JSON shape.
const SCHEMA: u32 = 1;

/// A comparison at one point.
#[derive(Debug)]
pub(super) struct Pair {
    pub at: At,
    pub bare: Side,
    pub treated: Side,
}

/// Judges a claim on a sheet.
///
/// # Errors
/// When the treatment doesn't fit, the car can't be solved, too many draws fail or nobody wants the verdict
/// any more.
pub fn judge_claim(
    sheet: &Sheet,
    claim: &Claim,
    options: ClaimOptions,
    progress: Progress,
) -> Result<ClaimReport, ClaimError> {
    if !(DRAWS.0..=DRAWS.1).contains(&options.draws) {
        return Err(ClaimError::Draws(options.draws));
    }
    let trials = Trials::new(sheet, claim)?;
    if trials.parts.is_empty() {
        return Err(ClaimError::NoPart);
    }
    let pairs = claim
        .at
        .iter()
        .map(|&at| pair(&trials, at))
        .collect::<Result<Vec<_>, _>>()?;
    let after_key_off = pair(&trials, At::KeyOff)?;
    let (part, zone, neighbour) = indices(claim, &trials, &pairs[0]);
    let whose = Whose {
        parts: &trials.parts,
        part,
        zone,
        neighbour,
    };
    if !progress(0.05) {
        return Err(ClaimError::Stopped);
    }
    let keys = trials.keys()?;
    let cube = LatinHypercube::new(options.draws, options.seed, keys.iter().map(String::as_str));
    let mut judged = Vec::new();
    let mut failed = 0;
    let share = 0.95 / pairs.len() as f64;
    for (i, pair) in pairs.iter().enumerate() {
        let of_pair = |done: f64| progress(0.05 + share * (i as f64 + done));
        let drawn = drawn(&trials, pair, &cube, &|done| of_pair(0.6 * done))?;
        let sides: Vec<(usize, &(Side, Side))> = drawn
            .iter()
            .enumerate()
            .filter_map(|(d, r)| Some((d, r.as_ref().ok()?)))
            .collect();
        let bad = drawn.len() - sides.len();
        if bad as f64 > MOST_FAILED * options.draws as f64 {
            let reason = drawn
                .iter()
                .find_map(|r| r.as_ref().err())
                .cloned()
                .unwrap_or_default();
            return Err(ClaimError::TooManyFailed {
                failed: bad,
                draws: options.draws,
                reason,
            });
        }
        failed += bad;
        if claim.quantity == Quantity::ServiceTemperature {
            judged.extend(service::judge(claim.change, pair, &sides, whose));
        } else {
            judged.extend(judge_pair(
                (&trials, claim),
                pair,
                &sides,
                whose,
                &cube,
                &|done| of_pair(0.6 + 0.4 * done),
            )?);
        }
    }
    let measuring = measuring::effects(claim, &pairs[0], whose);
    let explained = measuring::explained(claim, &pairs[0], whose, &measuring);
    let name = |i: usize| pairs[0].bare.build.exhaust[i].name.clone();
    Ok(ClaimReport {
        schema: SCHEMA,
        text: claim.text.clone(),
        quantity: claim.quantity,
        change: claim.change,
        sheet: sheet.title().to_owned(),
        parts: trials.parts.iter().map(|&i| name(i)).collect(),
        looked_at: (name(part), pairs[0].bare.build.bay.zones[zone].name.clone()),
        taken: match &claim.known {
            Known::Layer(layer) => layer.taken.clone(),
            Known::Catalogue(_) => Vec::new(),
        },
        can_hold: judged.iter().any(|j| j.direct && j.chance >= HARDLY),
        readings: judged,
        argument: words::argument(claim, &trials, &pairs[0], whose)?,
        side_effects: words::side_effects(&pairs[0], &after_key_off, whose),
        measuring,
        explained,
        draws: (options.draws, failed),
    })
}

fn pair(trials: &Trials, at: At) -> Result<Pair, RunError> {
    let bare = trials.bare(at, Numbers::Likely, None)?;
    let treated = trials.treated(at, Numbers::Likely, Other::default(), &bare.warmth)?;
    Ok(Pair { at, bare, treated })
}

/// Part, zone and neighbour that the claim is about: as named, else the treated part with the hottest skin, and the zone
/// it stands in.
fn indices(claim: &Claim, trials: &Trials, pair: &Pair) -> (usize, usize, usize) {
    let build = &pair.bare.build;
    let state = &pair.bare.state;
    let hottest =
        |a: &&usize, b: &&usize| state.parts[**a].skin_k.total_cmp(&state.parts[**b].skin_k);
    let part = trials.parts.iter().max_by(hottest).copied().unwrap_or(0);
    let named = claim
        .zone
        .as_ref()
        .and_then(|z| build.bay.zones.iter().position(|own| own.name == *z));
    let warmest = || {
        let zones = 0..state.zones_k.len();
        zones
            .max_by(|&a, &b| state.zones_k[a].total_cmp(&state.zones_k[b]))
            .unwrap_or(0)
    };
    let zone = named.or(build.exhaust[part].zone).unwrap_or_else(warmest);
    let neighbour = claim.neighbour.as_ref();
    let neighbour = neighbour.and_then(|n| build.neighbours.iter().position(|own| own.name == *n));
    (part, zone, neighbour.unwrap_or(0))
}

type Drawn = Result<(Side, Side), String>;

fn drawn(
    trials: &Trials,
    pair: &Pair,
    cube: &LatinHypercube,
    progress: Progress,
) -> Result<Vec<Drawn>, ClaimError> {
    let count = Count::new(cube.draws(), progress);
    (0..cube.draws())
        .into_par_iter()
        .map(|draw| {
            count.wanted().map_err(|_| ClaimError::Stopped)?;
            let drawn = one_draw(trials, pair, Numbers::Draw(cube, draw));
            count.one();
            Ok(drawn)
        })
        .collect()
}

fn one_draw(trials: &Trials, pair: &Pair, numbers: Numbers) -> Drawn {
    let bare = trials.bare(pair.at, numbers, Some(&pair.bare.warmth));
    let bare = bare.map_err(|e| e.to_string())?;
    let treated = trials.treated(pair.at, numbers, Other::default(), &bare.warmth);
    Ok((bare, treated.map_err(|e| e.to_string())?))
}

fn judge_pair(
    (trials, claim): (&Trials, &Claim),
    pair: &Pair,
    drawn: &[(usize, &(Side, Side))],
    whose: Whose,
    cube: &LatinHypercube,
    progress: Progress,
) -> Result<Vec<Judged>, ClaimError> {
    let reach = Reach::new(trials, pair.at, whose, &pair.bare, &pair.treated);
    let sealed = trials.sealed(pair.at, &pair.treated.warmth)?;
    let whole_bay = matches!(
        claim.quantity,
        Quantity::BayAir | Quantity::IntakeAir | Quantity::Power | Quantity::NeighbourTemperature
    );
    let readings = readings(claim.quantity, claim.change);
    let count = Count::new(readings.len(), progress);
    let judged = readings.into_par_iter().map(|reading| {
        count.wanted().map_err(|_| ClaimError::Stopped)?;
        let seat = |side, numbers| Seat {
            side,
            whose,
            numbers,
        };
        let values: Vec<f64> = drawn
            .iter()
            .map(|&(draw, (bare, treated))| {
                let numbers = Numbers::Draw(cube, draw);
                reading.value(&seat(bare, numbers), &seat(treated, numbers))
            })
            .collect();
        let mut physics = reach.range(reading);
        if whole_bay {
            let most = reading.value(
                &seat(&pair.bare, Numbers::Likely),
                &seat(&sealed, Numbers::Likely),
            );
            physics = physics.map(|(low, high)| (low.min(most), high.max(most)));
        }
        let needs = if reading.what.direct() {
            reach.needs(reading, claim.change)
        } else {
            Vec::new()
        };
        count.one();
        Ok(judge(pair.at, reading, claim, values, physics, needs))
    });
    judged.collect()
}

fn judge(
    at: At,
    reading: Reading,
    claim: &Claim,
    values: Vec<f64>,
    physics: Option<(f64, f64)>,
    needs: Vec<Need>,
) -> Judged {
    let change = claim.change;
    let holds = |v: f64| {
        let (reached, wanted) = reading.reach(v, change);
        reached >= wanted
    };
    let chance = values.iter().filter(|&&v| holds(v)).count() as f64 / values.len().max(1) as f64;
    let reachable = physics.is_none_or(|(low, high)| holds(low) || holds(high));
    let verdict = match chance {
        c if c >= HOLDS => Verdict::Holds,
        c if c >= HARDLY => Verdict::Depends,
        _ if reachable => Verdict::OtherMaterial,
        _ => Verdict::OutOfReach,
    };
    let needs = if verdict == Verdict::Holds {
        Vec::new()
    } else {
        needs
    };
    let hinges_on = match verdict {
        Verdict::Depends => hinges(&claim.known, &needs),
        _ => Vec::new(),
    };
    let claimed = match change {
        // a claim of easier flow, told as the pressure it would save
        Change::Percent(v) if reading.what == What::PressureDrop => -v,
        Change::Percent(v) | Change::Kelvin(v) | Change::Reaches(v) => v,
    };
    let [low, middle, high] = points(values);
    Judged {
        at,
        reading: reading.words(),
        counted: reading.scale.name().to_owned(),
        unit: reading.scale.unit().to_owned(),
        direct: reading.what.direct(),
        claimed,
        low,
        middle,
        high,
        chance,
        physics,
        verdict,
        needs,
        hinges_on,
    }
}

/// The 10, 50 and 90 % points, straight lines between the sorted values.
pub(super) fn points(mut values: Vec<f64>) -> [f64; 3] {
    values.sort_by(f64::total_cmp);
    let last = values.len().saturating_sub(1);
    [0.1, 0.5, 0.9].map(|q| {
        let place = q * last as f64;
        let below = place.floor() as usize;
        let (a, b) = (values.get(below), values.get((below + 1).min(last)));
        match (a, b) {
            (Some(a), Some(b)) => a + (place - below as f64) * (b - a),
            _ => f64::NAN,
        }
    })
}

/// Settles the sheet at its likely values: what claims are checked against.
///
/// # Errors
/// As [`Sheet::settle`].
pub fn build_of(sheet: &Sheet) -> Result<crate::sheet::build::Build, SheetError> {
    Ok(sheet.settle(&mut Chooser::Likely)?.build)
}
