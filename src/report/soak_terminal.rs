//! A soak and its restart on the screen.

use super::grid::{Align, clip, wrap};
use super::page::{Page, TEXT};
use super::terminal::CARE;
use super::{PLAIN, QUIET, STRONG};
use crate::quantity::{Quantity, Units};
use crate::study::soak::{Fall, Item, PowerAt, Soak, Touch};

/// Minutes that have a column.
const MINUTES: [f64; 8] = [0.0, 2.0, 5.0, 10.0, 15.0, 20.0, 30.0, 60.0];

/// Minutes after the restart that have a column.
const RESTARTED: [f64; 8] = [0.1, 0.5, 1.0, 2.0, 3.0, 5.0, 10.0, 15.0];

/// The screen for a soak, with ANSI styles.
pub fn render(found: &Soak, units: Units) -> String {
    let mut page = Page::default();
    page.put("build", STRONG, &[clip(&found.sheet.title, TEXT)]);
    page.put("parked", PLAIN, &wrap(&parked(found, units), TEXT));
    page.gap();
    page.headline(headline(found, units));
    page.gap();
    let rows = table(found, units);
    let mut columns = vec![Align::Name];
    columns.extend(vec![Align::Right; rows[0].len() - 1]);
    page.table(&rows, &columns);
    if let Some(restart) = &found.restart {
        page.gap();
        let shown = |p: &&PowerAt| RESTARTED.iter().any(|m| (p.time_s / 60.0 - m).abs() < 0.1);
        let p: Vec<&PowerAt> = restart.power.iter().filter(shown).collect();
        let mut rows = vec![vec!["restart, min".to_owned()]];
        rows[0].extend(p.iter().map(|p| minutes(p.time_s / 60.0)));
        let mut line = |name: String, of: &dyn Fn(usize) -> String| {
            let mut cells = vec![name];
            cells.extend((0..p.len()).map(of));
            rows.push(cells);
        };
        let temp = Quantity::Temperature;
        line(format!("charge, {}", temp.unit(units)), &|i| {
            temp.number(p[i].charge_c, units)
        });
        line("power, density, %".into(), &|i| {
            Quantity::Percent.number(p[i].density_percent, units)
        });
        line("power, standard, %".into(), &|i| {
            Quantity::Percent.number(p[i].standard_percent, units)
        });
        let mut columns = vec![Align::Name];
        columns.extend(vec![Align::Right; p.len()]);
        page.table(&rows, &columns);
    }
    page.gap();
    let key = "touch, grip: minutes until a second's touch, ten seconds' grip no longer burns (ISO 13732-1; bare metal \
               or plastic, 0: it never does). Every minute is in the JSON and CSV. Charge and power of the restart: \
               if full throttle is asked for then, % of the rating.";
    page.put("key", QUIET, &wrap(key, TEXT));
    if !found.not_named.is_empty() {
        let words = format!(
            "the sheet names no {}: add a [[neighbour]] of that kind to see it here",
            found.not_named.join(", ")
        );
        page.put("missing", QUIET, &wrap(&words, TEXT));
    }
    let warnings = found.warnings.iter().take(3);
    page.put(
        "beware",
        PLAIN,
        &warnings.flat_map(|w| wrap(w, TEXT)).collect::<Vec<_>>(),
    );
    page.put("care", PLAIN, &wrap(CARE, TEXT));
    page.put(
        "audit",
        QUIET,
        &[format!(
            "{:.3} % of heat in unexplained",
            found.audit.residual_percent
        )],
    );
    page.into_text()
}

/// How the car was driven and parked, in words.
pub(super) fn parked(found: &Soak, units: Units) -> String {
    let p = &found.parked;
    format!(
        "{:.0} min after {}; {}, sun {:.0} W/m2, wind {}, bonnet {}, fan runs on for up to {:.0} s",
        p.minutes,
        found.cycle.name,
        Quantity::Temperature.show(found.day.ambient_c, units),
        p.sun_w_m2,
        Quantity::AirSpeed.show(p.wind_m_s, units),
        if p.bonnet_open { "open" } else { "shut" },
        p.fan_run_on_s
    )
}

/// Minutes with a decimal where they are few.
fn minutes(v: f64) -> String {
    if v < 2.0 && v > 0.0 {
        format!("{v:.1}")
    } else {
        format!("{v:.0}")
    }
}

fn touch(touch: Touch, end_min: f64) -> String {
    match touch {
        Touch::NotTouched => "-".into(),
        Touch::After { minutes: m } => minutes(m),
        Touch::NotYet => format!("> {end_min:.0}"),
    }
}

fn fall(name: &str, f: &Fall, units: Units) -> String {
    let start = Quantity::Difference.show(f.start_rise_k, units);
    let Some((half, most)) = f.half_s.zip(f.nine_tenths_s) else {
        return format!(
            "{name} {start} over ambient, hardly more than it keeps in the drive that follows"
        );
    };
    format!(
        "{name} {start} over ambient; half of what it loses is gone after {half:.0} s, nine tenths after {most:.0} s"
    )
}

/// Word, alarm, words.
pub(super) fn headline(found: &Soak, units: Units) -> Vec<(&'static str, bool, String)> {
    let temp = |c: f64| Quantity::Temperature.show(c, units);
    let mut out = Vec::new();
    let peak = |name: &str| {
        let i = found.item(name)?;
        let when = minutes(i.peak_min);
        Some(format!(
            "{name} {} at key-off, peak {} after {when} min",
            temp(i.start_c),
            temp(i.peak_c)
        ))
    };
    let last = |name: &str| found.item(name)?.temperatures_c.last().copied();
    if let (Some(words), Some(sensor), Some(air)) =
        (peak("sensor"), last("sensor"), last("air at the sensor"))
    {
        let end = found.parked.minutes;
        let words = format!(
            "{words}; after {end:.0} min it says {} where the air beside it has {}",
            temp(sensor),
            temp(air)
        );
        out.push(("intake", false, words));
    }
    if let Some(words) = peak("bearing oil") {
        out.push(("oil", false, words));
    }
    if let Some(restart) = &found.restart {
        out.push(("restart", false, fall("sensor", &restart.sensor, units)));
        out.push(("", false, fall("valve", &restart.valve, units)));
    }
    let last = found
        .items
        .iter()
        .filter(|i| i.group == "exhaust")
        .map(|i| match i.touch {
            Touch::After { minutes } => minutes,
            Touch::NotYet => f64::INFINITY,
            Touch::NotTouched => 0.0,
        })
        .fold(0.0, f64::max);
    let words = if last.is_finite() {
        format!(
            "no exhaust part burns a touching hand from {} min on",
            minutes(last)
        )
    } else {
        format!(
            "exhaust parts still burn a touching hand after {:.0} min",
            found.parked.minutes
        )
    };
    out.push(("hands", false, words));
    for item in &found.items {
        let Some(limit) = item.limit_c.filter(|l| item.peak_c > *l) else {
            continue;
        };
        let words = format!(
            "{}: peak {} after {} min where {} is the limit, {} min over it",
            item.name,
            temp(item.peak_c),
            minutes(item.peak_min),
            temp(limit),
            minutes(item.over_min)
        );
        out.push(("over", true, words));
    }
    out
}

fn table(found: &Soak, units: Units) -> Vec<Vec<String>> {
    let temp = Quantity::Temperature;
    let end = found.parked.minutes;
    let shown: Vec<usize> = MINUTES
        .iter()
        .filter_map(|m| found.minutes.iter().position(|f| (f - m).abs() < 0.5))
        .collect();
    let mut rows = vec![vec![format!("{}, min after", temp.unit(units))]];
    rows[0].extend(shown.iter().map(|&i| format!("{:.0}", found.minutes[i])));
    rows[0].extend(["peak", "at", "limit", "touch", "grip"].map(String::from));
    let line = |item: &Item| {
        let mut cells = vec![clip(&item.name, 18)];
        let of = |i: &usize| item.temperatures_c.get(*i).copied();
        cells.extend(
            shown
                .iter()
                .map(|i| of(i).map_or_else(|| "-".into(), |c| temp.number(c, units))),
        );
        cells.push(temp.number(item.peak_c, units));
        cells.push(minutes(item.peak_min));
        cells.push(
            item.limit_c
                .map_or_else(|| "-".into(), |c| temp.number(c, units)),
        );
        cells.push(touch(item.touch, end));
        cells.push(touch(item.grip, end));
        cells
    };
    rows.extend(found.items.iter().map(line));
    rows
}
