//! A hot day: intake air, charge and power on a grid of ambient temperature, humidity, altitude and
//! situation, for the car as it is and for options.

mod hours;
mod measure;
pub mod question;
mod situation;

use std::ops::Range;

use rayon::prelude::*;
use serde::Serialize;

pub use self::hours::ClearDay;
pub use self::situation::{Course, Situation};

use self::measure::{Car, MEASURED, Measured, figures, measure};
use super::bands::{Band, share_of_sign};
use super::compare::{Candidate, Difference};
use super::draw_group::groups;
use super::draws::{Count, DrawSettings, Progress, StudyError, check_enough};
use super::findings::{Assumed, DayId, DrawsDone, Figure, Margin, Program, SCHEMA, SheetId};
use super::latin_hypercube::LatinHypercube;
use super::run::RunError;
use super::summarise::{assumed, day_id, sheet_id};
use crate::cycle::Hour;
use crate::engine::power_full::{full_load, rated_charge_k};
use crate::quantity::celsius;
use crate::sheet::{Chooser, DaySheet, Input, Settled, Sheet};

/// Most cells of a grid, all options together.
pub const MOST_CELLS: usize = 20_000;

/// What the grid is made of.
#[derive(Debug, Clone)]
pub struct Grid {
    /// Ambient temperatures [degC].
    pub ambients_c: Vec<f64>,
    /// Relative humidities [%].
    pub humidities_percent: Vec<f64>,
    /// Altitudes [m].
    pub altitudes_m: Vec<f64>,
    /// Situations.
    pub situations: Vec<Situation>,
}

impl Default for Grid {
    /// A summer, dry and humid, at the sea and on a pass.
    fn default() -> Self {
        Self {
            ambients_c: vec![15.0, 25.0, 32.0, 38.0],
            humidities_percent: vec![30.0, 70.0],
            altitudes_m: vec![0.0, 1500.0],
            situations: Situation::USUAL.to_vec(),
        }
    }
}

/// Results on the grid.
#[derive(Debug, Clone, Serialize)]
pub struct HotDay {
    /// Version of this shape.
    pub schema: u32,
    /// Program.
    pub program: Program,
    /// Build sheet.
    pub sheet: SheetId,
    /// Sun, wind and road of every cell of a grid; its air is that of the cell.
    pub day: DayId,
    /// Whether cells are hours of a day rather than a grid.
    pub by_hour: bool,
    /// What the engine gives in the air of its rating.
    pub rating: Rating,
    /// Situations.
    pub situations: Vec<SituationId>,
    /// Names of the options; the first is what the others are compared with.
    pub options: Vec<String>,
    /// The draws behind the bands, null without draws.
    pub draws: Option<DrawsDone>,
    /// Cells: option by option, situation, altitude, humidity, ambient.
    pub cells: Vec<Cell>,
    /// What the sheet left out and what was taken instead.
    pub assumed: Vec<Assumed>,
}

/// The rating that power is compared with.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct Rating {
    /// Power, kW.
    pub power_kw: f64,
    /// Charge at the valve, degC.
    pub charge_c: f64,
    /// Dry air in the charge, kg/m3.
    pub charge_density_kg_m3: f64,
    /// Whether a turbocharger holds the manifold pressure.
    pub boosted: bool,
}

/// A situation.
#[derive(Debug, Clone, Serialize)]
pub struct SituationId {
    /// Name.
    pub name: String,
    /// What is driven and looked at.
    pub what: String,
}

/// One cell.
#[derive(Debug, Clone, Serialize)]
pub struct Cell {
    /// Option.
    pub option: String,
    /// Situation.
    pub situation: String,
    /// Name of the day, or the hour.
    pub day: String,
    /// Sun on a horizontal surface, W/m2.
    pub sun_w_m2: f64,
    /// Ambient, degC.
    pub ambient_c: f64,
    /// Relative humidity, %.
    pub humidity_percent: f64,
    /// Altitude, m; null on a day that gives the pressure.
    pub altitude_m: Option<f64>,
    /// Pressure, kPa.
    pub pressure_kpa: f64,
    /// Intake, charge, power.
    pub figures: Vec<Figure>,
    /// Against the first option in the same air; empty for the first.
    pub differences: Vec<Difference>,
    /// The compressor can't hold the rating's manifold pressure.
    pub compressor_limited: bool,
    /// Standard corrections that this air is outside of.
    pub outside_standards: Vec<String>,
    /// The limit that is nearest or furthest exceeded during the drive.
    pub tightest: Option<Margin>,
    /// Warnings of the run.
    pub warnings: Vec<String>,
}

impl Cell {
    /// Value of a figure.
    pub fn figure(&self, id: &str, place: &str) -> Option<&Figure> {
        let mut found = self.figures.iter();
        found.find(|f| f.id == id && f.place == place)
    }

    /// Difference of a figure against the first option.
    pub fn difference(&self, id: &str, place: &str) -> Option<&Difference> {
        let mut found = self.differences.iter();
        found.find(|d| d.id == id && d.place == place)
    }
}

impl Grid {
    /// Number of cells of one option.
    pub fn len(&self) -> usize {
        self.situations.len()
            * self.altitudes_m.len()
            * self.humidities_percent.len()
            * self.ambients_c.len()
    }

    /// Whether there is nothing in it.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Checks values and size.
    ///
    /// # Errors
    /// A value out of range, no cell, or more than [`MOST_CELLS`].
    pub fn check(&self, options: usize) -> Result<(), StudyError> {
        let ranges: [(&'static str, &[f64], f64, f64, &'static str); 3] = [
            (
                "ambient temperature, degC",
                &self.ambients_c,
                -50.0,
                60.0,
                "e.g. --ambient 20,30,38",
            ),
            (
                "relative humidity, %",
                &self.humidities_percent,
                0.0,
                100.0,
                "e.g. --humidity 30,70",
            ),
            (
                "altitude, m",
                &self.altitudes_m,
                -400.0,
                5000.0,
                "e.g. --altitude 0,1500",
            ),
        ];
        for (what, values, low, high, hint) in ranges {
            if let Some(&value) = values.iter().find(|v| !(low..=high).contains(*v)) {
                return Err(StudyError::Setting {
                    what,
                    value,
                    low,
                    high,
                    hint,
                });
            }
        }
        let hint = "fewer temperatures, humidities, altitudes, situations or options";
        check_cells(options * self.len(), hint)
    }
}

/// A car on a day, to be driven through all situations.
struct Place {
    option: usize,
    /// Index of the first option on the same day.
    first: usize,
    sheet: Sheet,
    altitude_m: Option<f64>,
}

/// A place at likely values: what was settled, and a result for each situation.
type Likely = (Settled, Vec<Measured>);

/// Runs candidates over the grid; the first is what the others are compared with.
///
/// Results don't depend on the number of threads.
///
/// # Errors
/// Settings out of range, a failed run at likely values, too many failed draws in a cell, or a result
/// that nobody wants any more.
pub fn hot_day(
    candidates: &[Candidate],
    grid: &Grid,
    draws: Option<DrawSettings>,
    progress: Progress,
) -> Result<HotDay, StudyError> {
    grid.check(candidates.len())?;
    let mut days = Vec::new();
    for &altitude in &grid.altitudes_m {
        for &humidity in &grid.humidities_percent {
            for &ambient in &grid.ambients_c {
                let own = candidates[0].sheet.raw().day.clone().unwrap_or_default();
                days.push(DaySheet {
                    ambient_c: Some(Input::point(ambient)),
                    humidity_percent: Some(Input::point(humidity)),
                    altitude_m: Some(Input::point(altitude)),
                    pressure_kpa: None,
                    ..own
                });
            }
        }
    }
    on_days(candidates, &grid.situations, &days, draws, progress)
}

/// Runs candidates through situations in every hour.
///
/// # Errors
/// As [`hot_day`].
pub fn by_hour(
    candidates: &[Candidate],
    situations: &[Situation],
    hours: &[Hour],
    draws: Option<DrawSettings>,
    progress: Progress,
) -> Result<HotDay, StudyError> {
    let cells = candidates.len() * situations.len() * hours.len();
    check_cells(cells, "fewer hours, situations or options")?;
    let own = candidates[0].sheet.raw().day.clone().unwrap_or_default();
    let days: Vec<DaySheet> = hours.iter().map(|h| hours::as_day(h, &own)).collect();
    let found = on_days(candidates, situations, &days, draws, progress)?;
    Ok(HotDay {
        by_hour: true,
        ..found
    })
}

/// Refuses nothing, and too much.
fn check_cells(cells: usize, hint: &'static str) -> Result<(), StudyError> {
    if (1..=MOST_CELLS).contains(&cells) {
        return Ok(());
    }
    Err(StudyError::Setting {
        what: "number of cells",
        value: cells as f64,
        low: 1.0,
        high: MOST_CELLS as f64,
        hint,
    })
}

/// Runs candidates through situations on days.
///
/// # Errors
/// As [`hot_day`].
fn on_days(
    candidates: &[Candidate],
    situations: &[Situation],
    days: &[DaySheet],
    draws: Option<DrawSettings>,
    progress: Progress,
) -> Result<HotDay, StudyError> {
    if let Some(draws) = draws {
        draws.check()?;
    }
    let courses = courses(situations)?;
    let mut places = Vec::new();
    for (option, candidate) in candidates.iter().enumerate() {
        for (first, day) in days.iter().enumerate() {
            places.push(Place {
                option,
                first,
                sheet: candidate.sheet.clone().with_day(day.clone()),
                altitude_m: day.altitude_m.map(|a| a.likely),
            });
        }
    }
    let case = |place: &Place, course: usize| {
        let name = &candidates[place.option].name;
        format!("{name}, {}", courses[course].cycle.name)
    };
    let wanted = draws.map_or(0, |d| d.draws);
    let count = Count::new(places.len() * (1 + wanted), progress);
    let likely: Result<Vec<Likely>, StudyError> = places
        .par_iter()
        .map(|place| {
            count.wanted()?;
            let measured = settle_and_measure(place, &courses);
            count.one();
            measured.map_err(|(course, source)| StudyError::Run {
                case: case(place, course),
                source,
            })
        })
        .collect();
    let likely = likely?;
    let drawn = draws.map(|d| drawn(&places, &courses, &likely, d, &count));
    let drawn = drawn.transpose()?;
    let mut cells = Vec::new();
    for (option, candidate) in candidates.iter().enumerate() {
        for (n, course) in courses.iter().enumerate() {
            let own = places
                .iter()
                .enumerate()
                .filter(|(_, p)| p.option == option);
            for (i, place) in own {
                let outcomes = drawn
                    .as_ref()
                    .map(|d| (d[place.first].as_slice(), d[i].as_slice()));
                if let Some((_, own)) = outcomes {
                    let reasons = own.iter().filter_map(|o| o.as_ref().err());
                    check_enough(own.len(), reasons, &case(place, n))?;
                }
                let names = (candidate.name.as_str(), course.cycle.name.as_str());
                cells.push(cell(names, (place, i, n), &likely, outcomes)?);
            }
        }
    }
    let (first, _) = &likely[0];
    Ok(HotDay {
        schema: SCHEMA,
        program: Program::this(),
        sheet: sheet_id(&candidates[0].sheet, first),
        day: day_id(&first.build.day),
        by_hour: false,
        rating: rating(first),
        situations: situations
            .iter()
            .map(|s| SituationId {
                name: s.name(),
                what: s.describe(),
            })
            .collect(),
        options: candidates.iter().map(|c| c.name.clone()).collect(),
        draws: draws.map(|d| draws_done(d, drawn.as_deref().unwrap_or_default())),
        cells,
        assumed: assumed(first),
    })
}

fn courses(situations: &[Situation]) -> Result<Vec<Course>, StudyError> {
    let made: Result<Vec<Course>, _> = situations.iter().map(|s| s.course()).collect();
    made.map_err(|e| StudyError::Nothing {
        what: e.to_string(),
        hint: "a shorter key-off".into(),
    })
}

/// Values of one draw for each situation, in the order of what is measured, or why it failed.
type Drawn = Result<Vec<[f64; MEASURED.len()]>, String>;

fn settle_and_measure(place: &Place, courses: &[Course]) -> Result<Likely, (usize, RunError)> {
    let settled = place.sheet.settle(&mut Chooser::Likely);
    let settled = settled.map_err(|e| (0, e.into()))?;
    let measured = measure(&[(&place.sheet, &settled)], courses, true).pop();
    let measured = measured.unwrap_or_else(|| Ok(Vec::new()))?;
    Ok((settled, measured))
}

/// All draws of all places; a key has the same quantile in the same draw everywhere.
fn drawn(
    places: &[Place],
    courses: &[Course],
    likely: &[Likely],
    settings: DrawSettings,
    count: &Count,
) -> Result<Vec<Vec<Drawn>>, StudyError> {
    let keys = likely.iter().flat_map(|(settled, _)| &settled.uncertain);
    let hypercube =
        LatinHypercube::new(settings.draws, settings.seed, keys.map(|u| u.key.as_str()));
    // draws that differ in numbers alone are driven side by side; nobody looks at their warnings
    let some = |place: &Place, group: Range<usize>| -> Result<Vec<Drawn>, StudyError> {
        count.wanted()?;
        let draws = group.len();
        let settled: Vec<Result<Settled, RunError>> = group
            .map(|draw| {
                let quantile = |key: &str| hypercube.quantile(key, draw);
                let chooser = &mut Chooser::Draw(Box::new(quantile));
                Ok(place.sheet.settle(chooser)?)
            })
            .collect();
        let cars: Vec<Car> = settled
            .iter()
            .flatten()
            .map(|settled| (&place.sheet, settled))
            .collect();
        let mut measured = measure(&cars, courses, false).into_iter();
        count.some(draws);
        let outcomes = settled.iter().map(|settled| {
            settled.as_ref().map_err(RunError::first_line)?;
            let measured = measured.next().unwrap_or_else(|| Ok(Vec::new()));
            let measured = measured.map_err(|(_, e)| e.first_line())?;
            Ok(measured.iter().map(|m| m.values).collect())
        });
        Ok(outcomes.collect())
    };
    places
        .par_iter()
        .map(|place| {
            let groups: Vec<_> = groups(0, settings.draws, settings.draws).collect();
            let all = groups.into_par_iter().map(|group| some(place, group));
            let all: Result<Vec<Vec<Drawn>>, StudyError> = all.collect();
            Ok(all?.into_iter().flatten().collect())
        })
        .collect()
}

/// A cell with bands, and differences from common draws.
fn cell(
    (option, situation): (&str, &str),
    (place, index, course): (&Place, usize, usize),
    likely: &[Likely],
    outcomes: Option<(&[Drawn], &[Drawn])>,
) -> Result<Cell, StudyError> {
    let (settled, measured) = &likely[index];
    let measured = &measured[course];
    let mut figures = figures(&measured.values);
    let mut differences = Vec::new();
    let first = &likely[place.first].1[course].values;
    for (i, figure) in figures.iter_mut().enumerate() {
        let mut changes = Vec::new();
        if let Some((first, own)) = outcomes {
            let values: Vec<f64> = own.iter().flatten().map(|v| v[course][i]).collect();
            let band = Band::of(&values)?;
            figure.low = Some(band.low);
            figure.median = Some(band.median);
            figure.high = Some(band.high);
            let both = first.iter().zip(own);
            let both = both.filter_map(|(a, b)| Some((a.as_ref().ok()?, b.as_ref().ok()?)));
            changes = both.map(|(a, b)| b[course][i] - a[course][i]).collect();
        }
        if place.option > 0 {
            differences.push(difference(option, figure, first[i], &changes)?);
        }
    }
    let day = &settled.build.day;
    Ok(Cell {
        option: option.into(),
        situation: situation.into(),
        day: day.name.clone(),
        sun_w_m2: day.sun_w_m2,
        ambient_c: celsius(day.ambient_k),
        humidity_percent: 100.0 * day.humidity,
        altitude_m: place.altitude_m,
        pressure_kpa: day.pressure_pa / 1e3,
        figures,
        differences,
        compressor_limited: measured.compressor_limited,
        outside_standards: measured.outside.clone(),
        tightest: measured.tightest.clone(),
        warnings: measured.warnings.clone(),
    })
}

/// A figure against that of the first option.
fn difference(
    option: &str,
    figure: &Figure,
    first: f64,
    changes: &[f64],
) -> Result<Difference, StudyError> {
    let value = figure.value - first;
    let band = (!changes.is_empty())
        .then(|| Band::of(changes))
        .transpose()?;
    let unit = if figure.unit == "degC" {
        "K"
    } else {
        &figure.unit
    };
    Ok(Difference {
        option: option.into(),
        id: figure.id.clone(),
        label: figure.label.clone(),
        place: figure.place.clone(),
        unit: unit.into(),
        value,
        low: band.map(|b| b.low),
        high: band.map(|b| b.high),
        sign_chance_percent: share_of_sign(changes, value).map(|s| 100.0 * s),
    })
}

fn rating(settled: &Settled) -> Rating {
    let build = &settled.build;
    let charge_k = rated_charge_k(build);
    Rating {
        power_kw: build.engine.power_w / 1e3,
        charge_c: celsius(charge_k),
        charge_density_kg_m3: full_load(build, charge_k).rated_density_kg_m3,
        boosted: build.turbo.is_some(),
    }
}

/// What became of the draws of all cells: counted by cell.
fn draws_done(settings: DrawSettings, drawn: &[Vec<Drawn>]) -> DrawsDone {
    let failed: Vec<&String> = drawn
        .iter()
        .flatten()
        .filter_map(|o| o.as_ref().err())
        .collect();
    let mut reasons: Vec<String> = failed.iter().map(|r| (*r).clone()).collect();
    reasons.sort();
    reasons.dedup();
    DrawsDone {
        wanted: settings.draws,
        failed: failed.len(),
        seed: settings.seed,
        reasons,
    }
}
