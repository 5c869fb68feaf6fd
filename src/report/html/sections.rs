//! Tables of the page of a run.

use maud::{Markup, html};

use super::super::terminal::touch_text;
use super::super::{figure, figures_of};
use super::tables::{Cell, table};
use crate::quantity::{Quantity, Units};
use crate::study::findings::{Assumed, Findings, Margin};

/// Limits with their margins.
pub(super) fn margins(all: &[Margin], units: Units) -> Markup {
    let t = |c| Cell::number(Quantity::Temperature.number(c, units));
    let k = |v| Quantity::Difference.number(v, units);
    let heading = [
        "part",
        "what",
        "peak",
        "limit",
        "room",
        "10 to 90 %",
        "source of the limit",
    ];
    let rows = all.iter().map(|m| {
        let band = m.low_k.zip(m.high_k);
        let mut row = vec![
            Cell::text(&m.part),
            Cell::text(&m.what),
            t(m.peak_c),
            t(m.limit_c),
            Cell::number(k(m.margin_k)),
            Cell::number(band.map_or_else(String::new, |(l, h)| format!("{} to {}", k(l), k(h)))),
            Cell::text(&m.source),
        ];
        if m.margin_k < 0.0 {
            row.iter_mut().for_each(|c| c.alarm = true);
        }
        row
    });
    let units = format!(
        "temperatures in {}, room in {}",
        Quantity::Temperature.unit(units),
        Quantity::Difference.unit(units)
    );
    html! { p.note { (units) } (table(&heading, rows)) }
}

/// What to measure first.
pub(super) fn measure(findings: &Findings, units: Units) -> Markup {
    let heading = [
        "measure",
        "moves",
        "share of the spread",
        "band now",
        "band once known",
    ];
    let rows = findings.measure_first.iter().map(|m| {
        let quantity = if m.unit == "W" {
            Quantity::Heat
        } else {
            Quantity::Difference
        };
        let band = |l, h| {
            format!(
                "{} to {}",
                quantity.number(l, units),
                quantity.show(h, units)
            )
        };
        vec![
            Cell::text(&m.key),
            Cell::text(&m.label),
            Cell::number(format!("{:.0} %", m.share_percent)),
            Cell::number(band(m.low, m.high)),
            Cell::number(band(m.low_when_measured, m.high_when_measured)),
        ]
    });
    table(&heading, rows)
}

/// Results by phase.
pub(super) fn phases(findings: &Findings, units: Units) -> Markup {
    let k = |v| Cell::number(Quantity::Difference.number(v, units));
    let t = |v| Cell::number(Quantity::Temperature.number(v, units));
    let heading = [
        "phase",
        "kind",
        "min",
        "sensor rise, mean",
        "peak",
        "valve rise",
        "hottest skin",
        "hottest bay air",
    ];
    let rows = findings.phases.iter().map(|p| {
        vec![
            Cell::text(&p.name),
            Cell::text(&p.kind),
            Cell::number(format!("{:.1}", (p.end_s - p.start_s) / 60.0)),
            k(p.sensor_rise_mean_k),
            k(p.sensor_rise_peak_k),
            p.valve_rise_mean_k
                .map_or_else(|| Cell::number("-".into()), k),
            t(p.skin_peak_c),
            t(p.bay_air_peak_c),
        ]
    });
    table(&heading, rows)
}

/// Results by part.
pub(super) fn parts(findings: &Findings, units: Units) -> Markup {
    let heading = [
        "part",
        "skin, peak",
        "metal, peak",
        "to the bay",
        "convected",
        "radiated",
        "gas speed, peak",
        "until touchable",
    ];
    let value = |id: &str, place: &str| figure(findings, id, place).map(|f| f.value);
    let cell = |q: Quantity, v: Option<f64>| {
        Cell::number(v.map_or_else(|| "-".into(), |v| q.show(v, units)))
    };
    let rows = figures_of(findings, "skin_peak_c").map(|skin| {
        let place = skin.place.as_str();
        let touch = value("time_to_touch_min", place);
        vec![
            Cell::text(place),
            cell(Quantity::Temperature, Some(skin.value)),
            cell(Quantity::Temperature, value("metal_peak_c", place)),
            cell(Quantity::Heat, value("heat_to_bay_mean_w", place)),
            cell(
                Quantity::Heat,
                value("heat_to_bay_convection_mean_w", place),
            ),
            cell(Quantity::Heat, value("heat_to_bay_radiation_mean_w", place)),
            cell(
                Quantity::AirSpeed,
                value("gas_speed_peak_m_s", place).filter(|v| *v > 0.0),
            ),
            Cell::number(touch.map_or_else(|| "-".into(), |v| touch_text(v, &findings.phases))),
        ]
    });
    table(&heading, rows)
}

/// What was assumed, with why.
pub(super) fn assumptions(assumed: &[Assumed]) -> Markup {
    let number = |v: f64| {
        let digits = (3.0 - v.abs().max(1e-9).log10()).floor().clamp(0.0, 4.0);
        let text = format!("{v:.*}", digits as usize);
        let text = if text.contains('.') {
            text.trim_end_matches('0').trim_end_matches('.')
        } else {
            &text
        };
        text.to_owned()
    };
    let rows = assumed.iter().map(|a| {
        vec![
            Cell::text(&a.key),
            Cell::number(number(a.value)),
            Cell::number(format!("{} to {}", number(a.low), number(a.high))),
            Cell::text(&a.basis),
        ]
    });
    html! {
        section.small {
            h2 { "Assumed" }
            p.note { "What the sheet leaves out, in the unit of the key's name. Write a key into the sheet to replace its value." }
            (table(&["key", "value", "range", "why"], rows))
        }
    }
}
