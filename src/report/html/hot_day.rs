//! The page of a hot day.

use maud::{Markup, PreEscaped, html};

use super::super::hot_day_plot::caption;
use super::super::hot_day_terminal::{headline, render};
use super::super::plot::{self, HotPicture};
use super::super::terminal::CARE;
use super::super::{advice_terminal, soak_terminal};
use super::{head, limits, page};
use crate::quantity::Units;
use crate::report::ReportError;
use crate::study::advice::Advice;
use crate::study::hot_day::HotDay;
use crate::study::soak::Soak;

/// The page of a hot day's grid: the decision, the pictures, the tables.
///
/// # Errors
/// When a picture can't be drawn.
pub fn hot_day(found: &HotDay, units: Units) -> Result<String, ReportError> {
    let body = html! {
        (head(&found.sheet.title, "On a hot day"))
        (hot_day_front(found, units)?)
        (screen("Tables", &render(found, units)))
        (limits())
    };
    Ok(page(&found.sheet.title, &body))
}

/// The decision and the pictures of a hot day.
///
/// # Errors
/// When a picture can't be drawn.
pub fn hot_day_front(found: &HotDay, units: Units) -> Result<Markup, ReportError> {
    let plots: Result<Vec<String>, ReportError> = HotPicture::ALL
        .iter()
        .map(|p| plot::hot_day_svg(*p, found, units))
        .collect();
    let plots = plots?;
    let lines = headline(found, units);
    let lines = lines.iter().map(|(w, alarm, t)| (*w, *alarm, t.as_str()));
    Ok(html! {
        (decision(lines))
        figure {
            @for svg in &plots { div.plot { (PreEscaped(svg)) } }
            figcaption { (caption(found, units)) }
        }
    })
}

/// The page of a soak.
///
/// # Errors
/// When the picture can't be drawn.
pub fn soak(found: &Soak, units: Units) -> Result<String, ReportError> {
    let body = html! {
        (head(&found.sheet.title, &soak_terminal::parked(found, units)))
        (soak_front(found, units)?)
        (screen("Tables", &soak_terminal::render(found, units)))
        (limits())
    };
    Ok(page(&found.sheet.title, &body))
}

/// The decision and the picture of a soak.
///
/// # Errors
/// When the picture can't be drawn.
pub fn soak_front(found: &Soak, units: Units) -> Result<Markup, ReportError> {
    let plot = plot::soak_svg(found, units)?;
    let lines = soak_terminal::headline(found, units);
    let lines = lines.iter().map(|(w, alarm, t)| (*w, *alarm, t.as_str()));
    Ok(html! {
        (decision(lines))
        figure { div.plot { (PreEscaped(plot)) } figcaption { "Minute by minute." } }
    })
}

/// The page of advice.
///
/// # Errors
/// When the picture can't be drawn.
pub fn hot_day_advice(found: &Advice, units: Units) -> Result<String, ReportError> {
    let body = html! {
        (head(&found.sheet.title, &advice_terminal::situation(found, units)))
        (advice_front(found, units)?)
        (screen("Tables", &advice_terminal::render(found, units)))
        section {
            h2 { "Cautions" }
            @for b in found.measures.iter().filter(|b| !b.cautions.is_empty()) {
                h3 { (b.name) }
                ul { @for caution in &b.cautions { li { (caution) } } }
            }
        }
        (limits())
    };
    Ok(page(&found.sheet.title, &body))
}

/// The decision and the picture of advice.
///
/// # Errors
/// When the picture can't be drawn.
pub fn advice_front(found: &Advice, units: Units) -> Result<Markup, ReportError> {
    let plot = plot::advice_svg(found, units)?;
    let lines = advice_terminal::headline(found, units);
    let lines = lines.iter().map(|(w, alarm, t)| (*w, *alarm, t.as_str()));
    Ok(html! {
        (decision(lines))
        figure { div.plot { (PreEscaped(plot)) } figcaption { "What each measure buys." } }
    })
}

/// What decides, with the care that is always due.
pub(super) fn decision<'t>(lines: impl Iterator<Item = (&'t str, bool, &'t str)>) -> Markup {
    html! {
        section.decision {
            dl {
                @for (word, alarm, text) in lines { dt { (word) } dd.alarm[alarm] { (text) } }
            }
            p.care { (CARE) }
        }
    }
}

/// What the screen shows, as it is.
pub(super) fn screen(title: &str, text: &str) -> Markup {
    let plain = anstream::adapter::strip_str(text).to_string();
    html! { section.small { h2 { (title) } pre { (plain) } } }
}
