//! Works of the hot-day form: grid, clear day, soak, advice; as `hot-day` does them.

use maud::Markup;
use serde::{Deserialize, Serialize};

use super::asked::{Asked, Car, Refusal};
use super::jobs::{Sink, Work};
use super::studies::{Failed, end};
use crate::cycle::{Cycle, Hour};
use crate::quantity::Units;
use crate::report::{ReportError, html, json};
use crate::study::advice::advice;
use crate::study::compare::Candidate;
use crate::study::draws::DrawSettings;
use crate::study::hot_day::question::{
    self, ADVICE_MIN, SOAK_MIN, USUAL_SWING_K, adjusted, candidates, clear_day,
};
use crate::study::hot_day::{Grid, by_hour, hot_day};
use crate::study::soak::{Parking, parked, soak, usual_drive};

/// What is looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Kind {
    /// Ambient, humidity, altitude, situation.
    Grid,
    /// A clear day by the hour.
    Hours,
    /// Minute by minute after key-off.
    Soak,
    /// What measures buy at the restart.
    Advice,
}

/// A hot day as the form asks for it: fields as they are typed, empty where nothing is said.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct HotDayAsked {
    /// The car, its day and, for soak and advice, its drive.
    car: Asked,
    kind: Kind,
    /// Options of the sheet beside the car as it is; what is chosen in the page comes last.
    #[serde(default)]
    options: Vec<String>,
    #[serde(default)]
    ambient: String,
    #[serde(default)]
    humidity: String,
    #[serde(default)]
    altitude: String,
    #[serde(default)]
    situation: String,
    #[serde(default)]
    latitude: String,
    #[serde(default)]
    date: String,
    #[serde(default)]
    swing: String,
    #[serde(default)]
    parked: String,
    #[serde(default)]
    wind: String,
    #[serde(default)]
    run_on: String,
    #[serde(default)]
    bonnet_open: bool,
    /// Whether the drive before key-off is that of the page, not the usual one.
    #[serde(default)]
    own_drive: bool,
}

/// Reads fields and keeps what is wrong with them, so that all of it is told together.
#[derive(Default)]
struct Fields(Vec<String>);

impl Fields {
    /// A field that may be empty.
    fn one<T>(
        &mut self,
        name: &str,
        text: &str,
        read: impl Fn(&str) -> Result<T, String>,
    ) -> Option<T> {
        let text = text.trim();
        if text.is_empty() {
            return None;
        }
        let told = |why: String| self.0.push(format!("{name} {text}: {why}"));
        read(text).map_err(told).ok()
    }

    /// A list with commas; empty where nothing is said.
    fn list<T>(
        &mut self,
        name: &str,
        text: &str,
        read: impl Fn(&str) -> Result<T, String>,
    ) -> Vec<T> {
        let parts = text.split(',').filter(|t| !t.trim().is_empty());
        parts.filter_map(|t| self.one(name, t, &read)).collect()
    }

    fn number(text: &str) -> Result<f64, String> {
        let value: Option<f64> = text.parse().ok();
        let finite = value.filter(|v| v.is_finite());
        finite.ok_or_else(|| "not a number".to_owned())
    }
}

/// The wished values, or the usual ones.
fn or_usual<T>(given: Vec<T>, usual: Vec<T>) -> Vec<T> {
    if given.is_empty() { usual } else { given }
}

/// Checks what is asked for and prepares the work.
pub(super) fn asked_for(asked: &HotDayAsked) -> Result<Work, Refusal> {
    let mut fields = Fields::default();
    let usual = Grid::default();
    let grid = Grid {
        ambients_c: or_usual(
            fields.list("ambient", &asked.ambient, Fields::number),
            usual.ambients_c,
        ),
        humidities_percent: or_usual(
            fields.list("humidity", &asked.humidity, Fields::number),
            usual.humidities_percent,
        ),
        altitudes_m: or_usual(
            fields.list("altitude", &asked.altitude, Fields::number),
            usual.altitudes_m,
        ),
        situations: or_usual(
            fields.list("situation", &asked.situation, question::situation),
            usual.situations,
        ),
    };
    let latitude = fields.one("latitude", &asked.latitude, question::latitude);
    let date = fields.one("date", &asked.date, question::date);
    let swing = fields.one("swing", &asked.swing, question::swing);
    let run_on = fields.one("run-on", &asked.run_on, question::run_on);
    let minutes = fields.one("parked", &asked.parked, question::minutes);
    let parking = Parking {
        bonnet_open: asked.bonnet_open,
        wind_m_s: fields.one("wind", &asked.wind, question::wind),
        ..Parking::default()
    };
    let place = latitude.zip(date);
    if asked.kind == Kind::Hours && fields.0.is_empty() && place.is_none() {
        fields
            .0
            .push("latitude, date: a clear day needs both".into());
    }
    if !fields.0.is_empty() {
        return Err(Refusal::new(422, fields.0.join("\n")));
    }
    let draws = asked.car.settings()?;
    let car = asked
        .car
        .read_adjusted(|sheet| adjusted(sheet, None, run_on).map_err(Refusal::input))?;
    let units = asked.car.units();
    match asked.kind {
        Kind::Grid | Kind::Hours => {
            let cars = cars(&car, &asked.options)?;
            let hours = match place.filter(|_| asked.kind == Kind::Hours) {
                Some((latitude, date)) => {
                    let swing = swing.unwrap_or(USUAL_SWING_K);
                    Some(clear_day(&car.sheet, latitude, date, swing)?.hours())
                }
                None => {
                    grid.check(cars.len()).map_err(Refusal::input)?;
                    None
                }
            };
            Ok(situations(cars, grid, hours, draws, units))
        }
        Kind::Soak => {
            let parking = Parking {
                minutes: minutes.unwrap_or(SOAK_MIN),
                ..parking
            };
            let drive = drive(&car, asked.own_drive)?;
            let cycle = parked(&drive, None, &parking).map_err(Refusal::input)?;
            Ok(after_key_off(car, cycle, parking, units))
        }
        Kind::Advice => {
            let parking = Parking {
                minutes: minutes.unwrap_or(ADVICE_MIN),
                restart_min: 1.0,
                ..parking
            };
            let drive = drive(&car, asked.own_drive)?;
            Ok(advised(car, drive, parking, units))
        }
    }
}

/// The car as the sheet has it, the options named, and what is chosen in the page.
fn cars(car: &Car, names: &[String]) -> Result<Vec<Candidate>, Refusal> {
    let mut all = candidates(&car.sheet, names).map_err(Refusal::input)?;
    let own = &car.own.candidate;
    let hash = own.sheet.hash();
    if car.changed && all.iter().all(|c| c.sheet.hash() != hash) {
        all.push(own.clone());
    }
    Ok(all)
}

fn drive(car: &Car, own: bool) -> Result<Cycle, Refusal> {
    if own {
        return Ok(car.cycle.clone());
    }
    usual_drive().map_err(Refusal::input)
}

/// Sends findings: their JSON, what they come to in words and pictures, and the page to print.
fn tell(
    sink: &Sink,
    name: &str,
    found: &impl Serialize,
    front: Result<Markup, ReportError>,
    report: Result<String, ReportError>,
) -> Result<(), Failed> {
    sink.event(name, &json::to_json(found)?);
    sink.event("front", &front?.into_string());
    sink.event("report", &report?);
    Ok(())
}

fn situations(
    cars: Vec<Candidate>,
    grid: Grid,
    hours: Option<Vec<Hour>>,
    draws: Option<DrawSettings>,
    units: Units,
) -> Work {
    Box::new(move |sink| {
        let work = || -> Result<(), Failed> {
            let progress = |done| sink.progress("driving the situations", Some(done));
            let found = match &hours {
                Some(hours) => by_hour(&cars, &grid.situations, hours, draws, &progress),
                None => hot_day(&cars, &grid, draws, &progress),
            }?;
            let front = html::hot_day_front(&found, units);
            tell(sink, "hot-day", &found, front, html::hot_day(&found, units))
        };
        end(sink, work());
    })
}

fn after_key_off(car: Car, cycle: Cycle, parking: Parking, units: Units) -> Work {
    Box::new(move |sink| {
        let work = || -> Result<(), Failed> {
            sink.progress("driving and parking", None);
            let found = soak(&car.own.candidate.sheet, &cycle, &parking);
            let found = found.map_err(|e| Failed::Told(e.to_string()))?;
            let front = html::soak_front(&found, units);
            tell(sink, "soak", &found, front, html::soak(&found, units))
        };
        end(sink, work());
    })
}

fn advised(car: Car, drive: Cycle, parking: Parking, units: Units) -> Work {
    Box::new(move |sink| {
        let work = || -> Result<(), Failed> {
            let progress = |done| sink.progress("trying measures", Some(done));
            // every option of the sheet is tried, so that none is chosen before
            let found = advice(&car.sheet, &drive, &parking, &progress)?;
            let front = html::advice_front(&found, units);
            let report = html::hot_day_advice(&found, units);
            tell(sink, "advice", &found, front, report)
        };
        end(sink, work());
    })
}
