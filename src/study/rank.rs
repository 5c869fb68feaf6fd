//! The best sets of treatments and measures for the money.

use rayon::prelude::*;
use serde::Serialize;

use super::bands::Band;
use super::compare::{Candidate, Compared, OptionCost, Over, candidate, compared, over, paired};
use super::draws::{Case, DrawSettings, Drive, Sampled, StudyError, sample};
use super::findings::{CycleId, DayId, DrawsDone, Findings, Program, SCHEMA, SheetId};
use super::run::{RunOptions, run};
use super::search::{Action, Found, Set, Tried, search};
use crate::materials::{Family, treatment, treatments};
use crate::sheet::raw::Age;
use crate::sheet::{Chooser, OptionSpec, Sheet, measures};

/// Sets that are all tried; above that the search grows sets.
pub const MOST_EXACT: usize = 300;
/// Sets that are run with draws.
const FINALISTS: usize = 8;
/// Sets over a limit that are shown beside them.
const REFUSED: usize = 2;
/// Name of the set of nothing.
const NOTHING: &str = "as it is";

/// What is to be improved.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Aim {
    /// Intake rise at the sensor.
    Intake,
    /// Power kept.
    Power,
    /// Heat to the bay.
    Bay,
    /// Peak of a part near the heat.
    Neighbour(String),
    /// Enthalpy flow into the turbine.
    Turbine,
}

impl Aim {
    /// Reads `intake`, `power`, `bay`, `turbine` or `neighbour:NAME`.
    ///
    /// ```
    /// use baysoak::study::rank::Aim;
    /// assert_eq!(Aim::parse("neighbour: fuel line"), Some(Aim::Neighbour("fuel line".into())));
    /// assert_eq!(Aim::parse("speed"), None);
    /// ```
    pub fn parse(text: &str) -> Option<Self> {
        match text.trim() {
            "intake" => Some(Self::Intake),
            "power" => Some(Self::Power),
            "bay" => Some(Self::Bay),
            "turbine" => Some(Self::Turbine),
            other => {
                let name = other.strip_prefix("neighbour:")?.trim();
                (!name.is_empty()).then(|| Self::Neighbour(name.to_owned()))
            }
        }
    }

    /// Id and place of the figure.
    fn figure(&self) -> (&'static str, &str) {
        match self {
            Self::Intake => ("intake_rise_mean_k", "sensor"),
            Self::Power => ("power_kept_percent", "all"),
            Self::Bay => ("heat_to_bay_mean_w", "all"),
            Self::Neighbour(name) => ("neighbour_peak_c", name),
            Self::Turbine => ("turbine_enthalpy_mean_kw", "turbine"),
        }
    }

    fn more_is_better(&self) -> bool {
        matches!(self, Self::Power | Self::Turbine)
    }

    /// The figure's value turned so that less is better.
    fn cost(&self, value: f64) -> f64 {
        if self.more_is_better() { -value } else { value }
    }

    /// Improvements smaller than this are none, in the figure's unit.
    fn least(&self) -> f64 {
        match self {
            Self::Intake | Self::Neighbour(_) => 0.1,
            Self::Power | Self::Turbine => 0.02,
            Self::Bay => 10.0,
        }
    }

    fn value(&self, findings: &Findings) -> Option<f64> {
        let (id, place) = self.figure();
        let mut found = findings.figures.iter();
        found
            .find(|f| f.id == id && f.place == place)
            .map(|f| f.value)
    }
}

/// What to rank.
#[derive(Debug, Clone)]
pub struct RankSettings {
    /// Highest likely price of a set [EUR, as an example].
    pub budget: f64,
    /// Aim.
    pub aim: Aim,
    /// Exhaust parts to treat; all when empty.
    pub parts: Vec<String>,
    /// Treatments and measures to choose from; all when empty.
    pub only: Vec<String>,
    /// How long the treatments have been in use: what gleams or seals when new may not later.
    pub age: Age,
    /// Draws for the finalists.
    pub draws: Option<DrawSettings>,
}

/// The ranking.
#[derive(Debug, Clone, Serialize)]
pub struct Ranking {
    /// Version of this shape.
    pub schema: u32,
    /// Program.
    pub program: Program,
    /// Build sheet.
    pub sheet: SheetId,
    /// Drive cycle.
    pub cycle: CycleId,
    /// Weather.
    pub day: DayId,
    /// The draws behind the bands, null without draws.
    pub draws: Option<DrawsDone>,
    /// What is to be improved.
    pub aim: AimFigure,
    /// Highest likely price.
    pub budget: f64,
    /// How long the treatments have been in use, `new` or `season`.
    pub age: String,
    /// How sets were found.
    pub method: String,
    /// Actions to choose from.
    pub actions: usize,
    /// Sets tried at likely values.
    pub sets_tried: usize,
    /// Sets that could not be run.
    pub sets_failed: usize,
    /// Finalists, best first; the car as it is among them.
    pub sets: Vec<RankedSet>,
}

/// The figure that is to be improved.
#[derive(Debug, Clone, Serialize)]
pub struct AimFigure {
    /// Id.
    pub id: String,
    /// Place.
    #[serde(rename = "where")]
    pub place: String,
    /// Label.
    pub label: String,
    /// Unit.
    pub unit: String,
    /// Whether more is better.
    pub more_is_better: bool,
}

/// A set of treatments and measures.
#[derive(Debug, Clone, Serialize)]
pub struct RankedSet {
    /// Name.
    pub name: String,
    /// What is done.
    pub done: Vec<String>,
    /// Cost.
    pub cost: OptionCost,
    /// Aim figure at likely values.
    pub value: f64,
    /// Change against the car as it is, at likely values.
    pub change: f64,
    /// 10 % point of the change, null without draws.
    pub change_low: Option<f64>,
    /// 90 % point of the change.
    pub change_high: Option<f64>,
    /// Share of draws in which the set is better than the car as it is, %.
    pub better_chance_percent: Option<f64>,
    /// Whether the draws can't tell it from the best set that may be recommended.
    pub tie: bool,
    /// Whether no cheaper set tried does as much.
    pub on_front: bool,
    /// The cheapest of the best: what to do.
    pub recommended: bool,
    /// Limits that are or may be exceeded.
    pub over: Vec<Over>,
    /// What to beware of.
    pub cautions: Vec<String>,
}

/// A ranking with the comparison of its finalists.
#[derive(Debug, Clone)]
pub struct Ranked {
    /// The ranking.
    pub ranking: Ranking,
    /// The finalists side by side.
    pub compared: Compared,
}

/// Something that can be done.
struct Step {
    spec: OptionSpec,
    action: Action,
}

/// Finds the best sets under a budget.
///
/// Sets are tried at likely values; the best, the front of price against aim and the best of those
/// that push something over a limit are then run with common draws.
///
/// # Errors
/// An unknown neighbour, nothing to choose from, a bad budget, failed runs.
pub fn rank(
    sheet: &Sheet,
    drive: Drive,
    settings: &RankSettings,
    progress: &(dyn Fn(&'static str, f64) + Sync),
) -> Result<Ranked, StudyError> {
    if let Some(draws) = settings.draws {
        draws.check()?;
    }
    if !(settings.budget.is_finite() && (0.0..=1e6).contains(&settings.budget)) {
        return Err(StudyError::Setting {
            what: "budget",
            value: settings.budget,
            low: 0.0,
            high: 1e6,
            hint: "in the unit of the prices, EUR for those built in",
        });
    }
    let steps = steps(sheet, settings)?;
    let base = run(sheet, drive.cycle, &quick(drive.options), &mut |_| {});
    let base = base.map_err(|source| StudyError::Run {
        case: NOTHING.into(),
        source,
    })?;
    if settings.aim.value(&base.findings).is_none() {
        return Err(no_such_aim(&settings.aim, &base.findings));
    }
    let actions: Vec<Action> = steps.iter().map(|s| s.action).collect();
    let mut batch = |sets: &[Set]| -> Vec<Option<Tried>> {
        let done = std::sync::atomic::AtomicUsize::new(0);
        sets.par_iter()
            .map(|set| {
                let tried = attempt(sheet, &steps, set, drive, settings, &base.findings);
                let n = done.fetch_add(1, std::sync::atomic::Ordering::Relaxed) + 1;
                progress("trying sets", n as f64 / sets.len() as f64);
                tried
            })
            .collect()
    };
    let found = search(&actions, settings.budget, MOST_EXACT, &mut batch);
    let front = front(&actions, &found, settings.aim.least());
    let finalists = finalists(&found, &front, settings.aim.least());
    let mut candidates: Vec<Candidate> = Vec::new();
    for set in &finalists {
        let spec = together(&steps, set);
        let name = if set.is_empty() {
            NOTHING.to_owned()
        } else {
            short_name(&spec)
        };
        candidates.push(Candidate {
            name,
            ..candidate(sheet, &spec)?
        });
    }
    let cases: Vec<Case> = candidates
        .iter()
        .map(|c| Case {
            name: &c.name,
            sheet: &c.sheet,
        })
        .collect();
    let drawing = |done| {
        progress("drawing for the best", done);
        true
    };
    let sampled = sample(&cases, drive, settings.draws, &drawing)?;
    let compared = compared(&candidates, &sampled, settings.draws)?;
    let on_front: Vec<bool> = finalists.iter().map(|s| front.contains(s)).collect();
    let sets = ranked_sets(settings, &sampled, &compared, &on_front)?;
    let comparison = &compared.comparison;
    let (id, place) = settings.aim.figure();
    let figure = base
        .findings
        .figures
        .iter()
        .find(|f| f.id == id && f.place == place);
    let ranking = Ranking {
        schema: SCHEMA,
        program: comparison.program.clone(),
        sheet: comparison.sheet.clone(),
        cycle: comparison.cycle.clone(),
        day: comparison.day.clone(),
        draws: comparison.draws.clone(),
        aim: AimFigure {
            id: id.into(),
            place: place.into(),
            label: figure.map(|f| f.label.clone()).unwrap_or_default(),
            unit: figure.map(|f| f.unit.clone()).unwrap_or_default(),
            more_is_better: settings.aim.more_is_better(),
        },
        budget: settings.budget,
        age: settings.age.word().into(),
        method: found.method.words().into(),
        actions: steps.len(),
        sets_tried: found.sets.len(),
        sets_failed: found.failed.len(),
        sets,
    };
    Ok(Ranked { ranking, compared })
}

/// Nobody looks at the series and the warnings of a try.
fn quick(options: &RunOptions) -> RunOptions {
    RunOptions {
        sample_s: f64::INFINITY,
        watch_ranges: false,
        ..*options
    }
}

fn no_such_aim(aim: &Aim, findings: &Findings) -> StudyError {
    let (id, place) = aim.figure();
    let known = findings.figures.iter().filter(|f| f.id == id);
    let known: Vec<&str> = known.map(|f| f.place.as_str()).collect();
    let hint = if known.is_empty() {
        "the sheet has none; aim at intake, power or bay".to_owned()
    } else {
        format!("one of: {}", known.join(", "))
    };
    StudyError::Nothing {
        what: format!("aim: nothing called {place} in this sheet"),
        hint,
    }
}

/// Everything that can be done to this sheet for no more than the budget.
fn steps(sheet: &Sheet, settings: &RankSettings) -> Result<Vec<Step>, StudyError> {
    let own = sheet.raw();
    let parts: Vec<&str> = own.exhaust.iter().map(|p| p.name.as_str()).collect();
    if let Some(unknown) = settings.parts.iter().find(|p| !parts.contains(&p.as_str())) {
        return Err(StudyError::Nothing {
            what: format!("no exhaust part called {unknown}"),
            hint: format!("one of: {}", parts.join(", ")),
        });
    }
    let mut names: Vec<String> = treatments().iter().map(|t| t.id.clone()).collect();
    names.extend(own.treatment.keys().cloned());
    let wanted = |id: &str| settings.only.is_empty() || settings.only.iter().any(|o| o == id);
    let known = |id: &String| names.contains(id) || measures().iter().any(|m| m.id == *id);
    if let Some(unknown) = settings.only.iter().find(|id| !known(id)) {
        return Err(StudyError::Nothing {
            what: format!("no treatment or measure called {unknown}"),
            hint: "`baysoak list treatments` and `baysoak list measures` name them".into(),
        });
    }
    let mut specs: Vec<(usize, OptionSpec)> = Vec::new();
    for (group, part) in own.exhaust.iter().enumerate() {
        if !settings.parts.is_empty() && !settings.parts.contains(&part.name) {
            continue;
        }
        for id in names.iter().filter(|id| wanted(id)) {
            let is_bare = treatment(id).is_some_and(|t| t.family == Family::Bare);
            let free = treatment(id).is_some_and(|t| t.price_eur_m2.is_none());
            // nobody buys bare metal for a bare part
            let idle = is_bare && free && part.treatment.is_none();
            if !idle && part.treatment.as_ref() != Some(id) {
                let mut spec = OptionSpec::treating(id, [(part.name.clone(), id.clone())]);
                spec.treatment_age = Some(settings.age);
                specs.push((group, spec));
            }
        }
    }
    for (i, measure) in measures().iter().enumerate().filter(|(_, m)| wanted(&m.id)) {
        let spec = OptionSpec {
            name: measure.id.clone(),
            measures: vec![measure.id.clone()],
            ..OptionSpec::default()
        };
        specs.push((parts.len() + i, spec));
    }
    let steps: Vec<Step> = specs
        .into_iter()
        .filter_map(|(group, spec)| {
            // what doesn't suit a part, or finds nothing to change, is no choice
            let settled = sheet
                .with_option(&spec)
                .ok()?
                .settle(&mut Chooser::Likely)
                .ok()?;
            let price = settled.cost.price.likely;
            (price <= settings.budget).then_some(Step {
                spec,
                action: Action { group, price },
            })
        })
        .collect();
    if steps.is_empty() {
        return Err(StudyError::Nothing {
            what: format!(
                "nothing can be done to this sheet for {:.0}",
                settings.budget
            ),
            hint: "raise --budget, or allow more parts, treatments and measures".into(),
        });
    }
    Ok(steps)
}

/// One option of several steps.
fn together(steps: &[Step], set: &[usize]) -> OptionSpec {
    let mut spec = OptionSpec::default();
    for &i in set {
        spec.treat.extend(steps[i].spec.treat.clone());
        spec.measures.extend(steps[i].spec.measures.clone());
        spec.treatment_age = spec.treatment_age.or(steps[i].spec.treatment_age);
    }
    spec.name = short_name(&spec);
    spec
}

/// `downpipe glass-wrap-2-turns + vent-bonnet`.
fn short_name(spec: &OptionSpec) -> String {
    let treated = spec
        .treat
        .iter()
        .map(|(part, what)| format!("{part} {what}"));
    let all: Vec<String> = treated.chain(spec.measures.iter().cloned()).collect();
    all.join(" + ")
}

/// Runs a set at likely values.
fn attempt(
    sheet: &Sheet,
    steps: &[Step],
    set: &[usize],
    drive: Drive,
    settings: &RankSettings,
    base: &Findings,
) -> Option<Tried> {
    let with = sheet.with_option(&together(steps, set)).ok()?;
    let result = run(&with, drive.cycle, &quick(drive.options), &mut |_| {}).ok()?;
    let value = settings.aim.value(&result.findings)?;
    let over = over(&result.findings.margins, &base.margins);
    Some(Tried {
        value: settings.aim.cost(value),
        allowed: over.iter().all(|o| !o.verdict.is_harm()),
    })
}

/// Allowed sets for which no cheaper or equally dear one does as much, cheapest first.
fn front(actions: &[Action], found: &Found, least: f64) -> Vec<Set> {
    let allowed = found.sets.iter().filter(|(_, t)| t.allowed);
    let mut sorted: Vec<(f64, f64, &Set)> = allowed
        .map(|(set, t)| (super::search::price(actions, set), t.value, set))
        .collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let mut best = f64::INFINITY;
    let mut front = Vec::new();
    for (_, value, set) in sorted {
        if value < best - least {
            best = value;
            front.push(set.clone());
        }
    }
    front
}

/// Sets worth a closer look: nothing first, then the front spread over its prices, the best few, and
/// the best that are refused where they would be better than what is allowed.
fn finalists(found: &Found, front: &[Set], least: f64) -> Vec<Set> {
    let mut chosen: Vec<Set> = vec![Vec::new()];
    let mut sorted: Vec<(&Set, &Tried)> = found.sets.iter().collect();
    sorted.sort_by(|a, b| a.1.value.total_cmp(&b.1.value));
    let nothing = found
        .sets
        .get(&Vec::new())
        .map_or(f64::INFINITY, |t| t.value);
    let add = |chosen: &mut Vec<Set>, set: &Set| {
        if !chosen.contains(set) {
            chosen.push(set.clone());
        }
    };
    // half of the room is for the front, dearest (best) first, thinned evenly
    let room = FINALISTS / 2;
    let step = front.len().div_ceil(room).max(1);
    for set in front.iter().rev().step_by(step) {
        add(&mut chosen, set);
    }
    let better = |t: &Tried| t.value < nothing - least;
    for (set, _) in sorted.iter().filter(|(_, t)| t.allowed && better(t)) {
        if chosen.len() > FINALISTS {
            break;
        }
        add(&mut chosen, set);
    }
    let best = found.best().map_or(f64::INFINITY, |(_, t)| t.value);
    let refused = sorted
        .iter()
        .filter(|(_, t)| !t.allowed && t.value < best - least);
    for (set, _) in refused.take(REFUSED) {
        add(&mut chosen, set);
    }
    chosen
}

/// The finalists in order, with ties and the recommendation.
fn ranked_sets(
    settings: &RankSettings,
    sampled: &[Sampled],
    compared: &Compared,
    on_front: &[bool],
) -> Result<Vec<RankedSet>, StudyError> {
    let (id, place) = settings.aim.figure();
    let options = &compared.comparison.options;
    let index: Vec<Option<usize>> = sampled.iter().map(|s| s.figure_index(id, place)).collect();
    let value = |i: usize| {
        settings
            .aim
            .value(&sampled[i].likely.findings)
            .unwrap_or(f64::NAN)
    };
    let allowed = |i: usize| options[i].over.iter().all(|o| !o.verdict.is_harm());
    let pairs = |a: usize, b: usize| match (index[a], index[b]) {
        (Some(i), Some(j)) => paired(&sampled[a], i, &sampled[b], j),
        _ => Vec::new(),
    };
    let mut order: Vec<usize> = (0..options.len()).collect();
    let cost = |i: usize| settings.aim.cost(value(i));
    order.sort_by(|a, b| cost(*a).total_cmp(&cost(*b)));
    let best = order.iter().copied().find(|&i| allowed(i)).unwrap_or(0);
    // the draws can't tell them apart, or without draws: they are the same to within what counts
    let tie = |i: usize| -> Result<bool, StudyError> {
        let differences = pairs(best, i);
        if i == best || differences.is_empty() {
            return Ok((value(i) - value(best)).abs() < settings.aim.least());
        }
        let band = Band::of(&differences)?;
        Ok(band.low <= 0.0 && band.high >= 0.0)
    };
    let ties: Result<Vec<bool>, StudyError> = (0..options.len()).map(tie).collect();
    let ties = ties?;
    let among = (0..options.len()).filter(|&i| allowed(i) && (ties[i] || i == best));
    let price = |i: &usize| options[*i].cost.price;
    let recommended = among
        .min_by(|a, b| price(a).total_cmp(&price(b)))
        .unwrap_or(best);
    let mut out = Vec::new();
    for i in order {
        let changes = pairs(0, i);
        let band = (i > 0 && !changes.is_empty())
            .then(|| Band::of(&changes))
            .transpose()?;
        let better = changes
            .iter()
            .filter(|c| settings.aim.cost(**c) < 0.0)
            .count();
        let better =
            (i > 0 && !changes.is_empty()).then(|| 100.0 * better as f64 / changes.len() as f64);
        out.push(RankedSet {
            name: options[i].name.clone(),
            done: options[i].done.clone(),
            cost: options[i].cost,
            value: value(i),
            change: value(i) - value(0),
            change_low: band.map(|b| b.low),
            change_high: band.map(|b| b.high),
            better_chance_percent: better,
            tie: ties[i] && allowed(i),
            on_front: on_front[i],
            recommended: i == recommended,
            over: options[i].over.clone(),
            cautions: options[i].cautions.clone(),
        });
    }
    Ok(out)
}
