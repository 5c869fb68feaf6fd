//! What is asked of a hot day, as people write it: one reading and one set of limits for every skin.

use super::{ClearDay, Situation};
use crate::quantity::celsius;
use crate::sheet::{Chooser, DaySheet, Input, Sheet, SheetError};
use crate::study::compare::{Candidate, candidate};
use crate::study::draws::StudyError;
use crate::study::soak::fan_run_on;

/// Word for all options of the sheet.
pub const ALL: &str = "all";
/// Lowest temperature of a clear day below the highest when nothing is said [K] (estimate).
pub const USUAL_SWING_K: f64 = 12.0;
/// Minutes parked when nothing is said: until most can be touched, and about the worst for a restart.
pub const SOAK_MIN: f64 = 60.0;
/// Minutes parked before the restart that advice is for.
pub const ADVICE_MIN: f64 = 15.0;

fn between(text: &str, low: f64, high: f64) -> Result<f64, String> {
    let value: f64 = text.parse().map_err(|_| "not a number".to_owned())?;
    if (low..=high).contains(&value) {
        return Ok(value);
    }
    Err(format!("outside {low} to {high}"))
}

/// A situation by its word.
///
/// # Errors
/// The words that there are.
pub fn situation(text: &str) -> Result<Situation, String> {
    Situation::parse(text)
        .ok_or_else(|| "one of motorway, hill, track, queue, restart:MINUTES (1 to 600)".to_owned())
}

/// Latitude, north positive [deg].
///
/// # Errors
/// No number, or none of the globe.
pub fn latitude(text: &str) -> Result<f64, String> {
    between(text, -90.0, 90.0)
}

/// Lowest temperature of a clear day below the highest [K].
///
/// # Errors
/// No number, or out of range.
pub fn swing(text: &str) -> Result<f64, String> {
    between(text, 0.0, 40.0)
}

/// A date between 1950 and 2050, where the sun's short formula holds: year, month, day.
///
/// # Errors
/// No date, or another century's.
pub fn date(text: &str) -> Result<(i32, u32, u32), String> {
    let parts: Vec<&str> = text.split('-').collect();
    let [year, month, day] = parts.as_slice() else {
        return Err("written as 2026-07-21".into());
    };
    let bad = |_| "written as 2026-07-21".to_owned();
    let year: i32 = year.parse().map_err(bad)?;
    let month: u32 = month.parse().map_err(bad)?;
    let day: u32 = day.parse().map_err(bad)?;
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let most = match month {
        2 if leap => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        1..=12 => 31,
        _ => return Err("no such month".into()),
    };
    if !(1950..=2050).contains(&year) {
        return Err("outside 1950 to 2050".into());
    }
    if !(1..=most).contains(&day) {
        return Err("no such day".into());
    }
    Ok((year, month, day))
}

/// Minutes parked.
///
/// # Errors
/// No number, or out of range.
pub fn minutes(text: &str) -> Result<f64, String> {
    between(text, 1.0, 600.0)
}

/// Wind while parked [m/s].
///
/// # Errors
/// No number, or out of range.
pub fn wind(text: &str) -> Result<f64, String> {
    between(text, 0.0, 30.0)
}

/// Sun on a horizontal surface [W/m2].
///
/// # Errors
/// No number, or out of range.
pub fn sun(text: &str) -> Result<f64, String> {
    between(text, 0.0, 1400.0)
}

/// Longest run-on of the fan after key-off [s].
///
/// # Errors
/// No number, or out of range.
pub fn run_on(text: &str) -> Result<f64, String> {
    between(text, 0.0, 3600.0)
}

/// The car as it is, and the options of the sheet that are named; [`ALL`] names them all.
///
/// # Errors
/// A name that the sheet doesn't have, or an option that doesn't fit.
pub fn candidates(sheet: &Sheet, names: &[String]) -> Result<Vec<Candidate>, StudyError> {
    let options = sheet.options();
    let known = |name: &String| *name == ALL || options.iter().any(|o| o.name == *name);
    if let Some(unknown) = names.iter().find(|n| !known(n)) {
        let known: Vec<&str> = options.iter().map(|o| o.name.as_str()).collect();
        return Err(StudyError::Nothing {
            what: format!("{}: no option called {unknown}", sheet.file()),
            hint: format!("one of: all, {}", known.join(", ")),
        });
    }
    let all = names.iter().any(|n| n == ALL);
    let wanted = options
        .iter()
        .enumerate()
        .filter(|(i, o)| *i == 0 || all || names.contains(&o.name));
    wanted.map(|(_, o)| candidate(sheet, o)).collect()
}

/// The sheet under another sun [W/m2], with another run-on of the fan [s].
///
/// # Errors
/// A fan that the sheet can't have.
pub fn adjusted(
    mut sheet: Sheet,
    sun_w_m2: Option<f64>,
    run_on_s: Option<f64>,
) -> Result<Sheet, StudyError> {
    if let Some(sun) = sun_w_m2 {
        let own = sheet.raw().day.clone().unwrap_or_default();
        sheet = sheet.with_day(DaySheet {
            sun_w_m2: Some(Input::point(sun)),
            ..own
        });
    }
    if let Some(seconds) = run_on_s {
        sheet = candidate(&sheet, &fan_run_on(seconds))?.sheet;
    }
    Ok(sheet)
}

/// A clear day whose highest temperature and its humidity are those of the sheet's day.
///
/// # Errors
/// As [`Sheet::settle`].
pub fn clear_day(
    sheet: &Sheet,
    latitude_deg: f64,
    date: (i32, u32, u32),
    swing_k: f64,
) -> Result<ClearDay, SheetError> {
    let day = sheet.settle(&mut Chooser::Likely)?.build.day;
    let warmest_c = celsius(day.ambient_k);
    Ok(ClearDay {
        latitude_deg,
        date,
        warmest_c,
        coolest_c: (warmest_c - swing_k).max(-50.0),
        humidity_percent: 100.0 * day.humidity,
    })
}
