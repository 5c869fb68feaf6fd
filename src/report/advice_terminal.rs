//! Advice on the screen.

use super::compare_text::excess;
use super::grid::{Align, clip, wrap};
use super::page::{Page, TEXT};
use super::terminal::CARE;
use super::{PLAIN, QUIET, STRONG};
use crate::quantity::{Quantity, Units};
use crate::study::advice::{Advice, Bought, CoolDown, LEAST_GAIN_PERCENT, Spared};
use crate::study::compare::Verdict;

/// Measures that push something over its limit and are named above the table.
const MOST_OVER: usize = 4;
/// Columns of a measure's name.
const NAME: usize = 40;

/// The screen for advice, with ANSI styles.
pub fn render(found: &Advice, units: Units) -> String {
    let mut page = Page::default();
    page.put("build", STRONG, &[clip(&found.sheet.title, TEXT)]);
    page.put("for", PLAIN, &wrap(&situation(found, units), TEXT));
    page.gap();
    page.headline(headline(found, units));
    page.gap();
    let rows = table(found, units);
    let mut columns = vec![Align::Name];
    columns.extend(vec![Align::Right; 6]);
    columns.push(Align::Name);
    page.table(&rows, &columns);
    if let Some(cool) = &found.cool_down {
        page.gap();
        let rows = minutes_table(cool, units);
        let mut columns = vec![Align::Name];
        columns.extend(vec![Align::Right; rows[0].len() - 1]);
        page.table(&rows, &columns);
    }
    page.gap();
    let key = "Power: points of the rating if full throttle is asked for a quarter minute after the restart, by density. \
               sensor: over ambient at the restart. oil: peak of the bearing, and when. room: least of the nearby parts. \
               over: pushes something over its limit, or further. First row in full, others as changes against the car as it is. Likely values without bands: \
               `compare` tells how sure a difference is.";
    page.put("key", QUIET, &wrap(key, TEXT));
    let failed = found.failed.iter().take(3);
    page.put(
        "failed",
        PLAIN,
        &failed.flat_map(|w| wrap(w, TEXT)).collect::<Vec<_>>(),
    );
    page.put("care", PLAIN, &wrap(CARE, TEXT));
    page.into_text()
}

/// What the advice is for.
pub(super) fn situation(found: &Advice, units: Units) -> String {
    format!(
        "{}, {:.0} min parked at {}, restart",
        found.cycle.name,
        found.parked_min,
        Quantity::Temperature.show(found.day.ambient_c, units)
    )
}

fn harms(b: &Bought) -> bool {
    b.over
        .iter()
        .any(|o| matches!(o.verdict, Verdict::New | Verdict::Worse))
}

fn as_it_is(b: &Bought) -> bool {
    b.change.power_percent == 0.0 && b.change.sensor_rise_k == 0.0 && b.done.is_empty()
}

fn spared(how: &str, s: &Spared) -> String {
    match s.minutes {
        Some(m) if m <= 0.0 => String::new(),
        Some(m) => format!("{m:.1} min of {how}"),
        None => {
            let most = s.tried.last().map_or(0.0, |p| p.minutes);
            format!("{how} does not do it within {most:.0} min")
        }
    }
}

/// Word, alarm, words.
pub(super) fn headline(found: &Advice, units: Units) -> Vec<(&'static str, bool, String)> {
    let temp = |c: f64| Quantity::Temperature.show(c, units);
    let mut out = Vec::new();
    if let Some(cool) = &found.cool_down {
        let ways: Vec<String> = [
            ("driving at 50 km/h", &cool.driving),
            ("idling", &cool.idling),
        ]
        .into_iter()
        .map(|(how, s)| spared(how, s))
        .filter(|w| !w.is_empty())
        .collect();
        let at_once = temp(cool.peak_at_once_c);
        let limit = temp(cool.limit_c);
        let words = if ways.is_empty() {
            format!(
                "bearing oil peaks at {at_once} when switched off at once, under its limit of {limit}: no gentle minutes needed"
            )
        } else {
            format!(
                "bearing oil peaks at {at_once} when switched off at once, over its limit of {limit}; to hold it: {}",
                ways.join(", or ")
            )
        };
        out.push(("oil", cool.peak_at_once_c > cool.limit_c, words));
    }
    let helpful = |b: &&Bought| b.change.power_percent > LEAST_GAIN_PERCENT && !harms(b);
    let best: Vec<&Bought> = found.measures.iter().filter(helpful).take(3).collect();
    for (i, b) in best.iter().enumerate() {
        let word = if i == 0 { "power" } else { "" };
        let words = format!(
            "{}: {:+.1} points at the restart, sensor {} K, {:.0} EUR",
            b.name,
            b.change.power_percent,
            signed(b.change.sensor_rise_k, 1),
            b.cost.price
        );
        out.push((word, false, words));
    }
    if best.is_empty() {
        out.push((
            "power",
            false,
            "nothing here gives power at the restart without pushing something over its limit"
                .into(),
        ));
    }
    let cooler = |b: &&Bought| b.change.bearing_c.is_some_and(|c| c < -0.5) && !harms(b);
    let by_oil = |a: &&Bought, b: &&Bought| {
        let of = |b: &Bought| b.change.bearing_c.unwrap_or(0.0);
        of(a).total_cmp(&of(b))
    };
    if let Some(b) = found.measures.iter().filter(cooler).min_by(by_oil) {
        let words = format!(
            "{} cools the bearing's peak most: {} K",
            b.name,
            signed(b.change.bearing_c.unwrap_or(0.0), 0)
        );
        out.push(("bearing", false, words));
    }
    let hotter = |b: &&Bought| b.change.bearing_c.is_some_and(|c| c > 3.0);
    if let Some(b) = found.measures.iter().filter(hotter).max_by(by_oil) {
        let words = format!(
            "keeps heat in: {} puts {} K on the bearing oil's peak after key-off; give it gentle minutes first",
            b.name,
            signed(b.change.bearing_c.unwrap_or(0.0), 0)
        );
        out.push(("beware", false, words));
    }
    for b in found.measures.iter().filter(|b| harms(b)).take(MOST_OVER) {
        if let Some(o) = b
            .over
            .iter()
            .find(|o| matches!(o.verdict, Verdict::New | Verdict::Worse))
        {
            out.push(("over", true, format!("{}: {}", b.name, excess(o, units))));
        }
    }
    out
}

fn signed(v: f64, decimals: usize) -> String {
    let text = format!("{v:+.decimals$}");
    if text.bytes().any(|b| b.is_ascii_digit() && b != b'0') {
        text
    } else {
        "0".into()
    }
}

fn table(found: &Advice, units: Units) -> Vec<Vec<String>> {
    let diff = Quantity::Difference;
    let mut rows = vec![vec![
        "most power first".to_owned(),
        "EUR".into(),
        "power, %".into(),
        format!("sensor, {}", diff.unit(units)),
        "oil peak".into(),
        "at, min".into(),
        "room".into(),
        String::new(),
    ]];
    let own = found.measures.iter().find(|b| as_it_is(b));
    let others = found.measures.iter().filter(|b| !as_it_is(b));
    for b in own.into_iter().chain(others) {
        let whole = as_it_is(b);
        let o = if whole { &b.outcome } else { &b.change };
        let maybe =
            |v: Option<f64>, show: &dyn Fn(f64) -> String| v.map_or_else(|| "-".into(), show);
        let change = |v: f64| signed(diff.convert(v, units), 1);
        let temp = |v: f64| {
            if whole {
                Quantity::Temperature.number(v, units)
            } else {
                change(v)
            }
        };
        let plain = |v: f64| {
            if whole {
                diff.number(v, units)
            } else {
                change(v)
            }
        };
        let number = |v: f64| {
            if whole {
                format!("{v:.1}")
            } else {
                signed(v, 1)
            }
        };
        rows.push(vec![
            clip(&b.name, NAME),
            format!("{:.0}", b.cost.price),
            number(o.power_percent),
            plain(o.sensor_rise_k),
            maybe(o.bearing_c, &temp),
            maybe(o.bearing_peak_min, &number),
            maybe(o.nearby_k, &plain),
            if harms(b) {
                "over a limit".into()
            } else {
                String::new()
            },
        ]);
    }
    rows
}

fn minutes_table(cool: &CoolDown, units: Units) -> Vec<Vec<String>> {
    let temp = Quantity::Temperature;
    let mut minutes: Vec<f64> = cool
        .driving
        .tried
        .iter()
        .chain(&cool.idling.tried)
        .map(|p| p.minutes)
        .collect();
    minutes.sort_by(f64::total_cmp);
    minutes.dedup();
    minutes.truncate(12);
    let mut rows = vec![vec!["gentle minutes before key-off".to_owned()]];
    rows[0].extend(minutes.iter().map(f64::to_string));
    for (name, s) in [
        ("driving at 50 km/h", &cool.driving),
        ("idling", &cool.idling),
    ] {
        let mut row = vec![format!("bearing peak after {name}, {}", temp.unit(units))];
        row.extend(minutes.iter().map(|m| {
            let found = s.tried.iter().find(|p| (p.minutes - m).abs() < 1e-9);
            found.map_or_else(|| "-".into(), |p| temp.number(p.peak_c, units))
        }));
        rows.push(row);
    }
    rows
}
