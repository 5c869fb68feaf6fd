//! What each option changes: a dot and a band for the figures that people decide on.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::ReportError;
use super::compare_terminal::driven;
use super::compare_text::{Good, ROWS, Row};
use super::grid::clip;
use super::plot::Scene;
use super::plot_canvas::{Canvas, DECIMAL, FAINT, INK, LINES, SOFT, ticks};
use crate::quantity::Units;
use crate::study::compare::Comparison;

/// Figures that have a panel, two rows of three.
const PANELS: [&str; 6] = [
    "intake_rise_mean_k",
    "power_kept_percent",
    "heat_to_bay_mean_w",
    "neighbour_margin_least_k",
    "metal_hottest_c",
    "turbine_enthalpy_mean_kw",
];
const ACROSS: usize = 3;
/// Names of options stand to the left of the panels.
const LEFT: f64 = 150.0;
const RIGHT: f64 = 1170.0;
const TOP: f64 = 118.0;
const BOTTOM: f64 = 640.0;
const GAP: f64 = 34.0;
/// Height for the title and the axis of a panel.
const AXIS: f64 = 62.0;
/// Options that have room.
const MOST: usize = 12;

/// The picture.
pub(super) struct Differences<'a>(pub &'a Comparison, pub Units);

impl Scene for Differences<'_> {
    fn draw<DB: DrawingBackend>(&self, canvas: &Canvas<DB>) -> Result<(), ReportError> {
        let Self(comparison, units) = *self;
        let left = (HPos::Left, VPos::Center);
        let title = "What each option changes against the car as it is";
        canvas.text(title, (30.0, 34.0), 24.0, INK, left)?;
        let words = format!(
            "{}; {}",
            clip(&comparison.sheet.title, 60),
            driven(comparison, units)
        );
        canvas.text(&words, (30.0, 62.0), 14.0, SOFT, left)?;
        let key = if comparison.draws.is_some() {
            "mark: likely values; bar: 10 to 90 % of the draws; the word at each axis says which way is good"
        } else {
            "mark: likely values; the word at each axis says which way is good"
        };
        canvas.text(key, (30.0, 84.0), 13.0, SOFT, left)?;
        let first = &comparison.options[0];
        let rows: Vec<&Row> = PANELS
            .iter()
            .filter_map(|id| ROWS.iter().find(|r| r.id == *id))
            .filter(|r| r.value(first).is_some())
            .collect();
        let lines = rows.len().div_ceil(ACROSS).max(1);
        let high = (BOTTOM - TOP) / lines as f64;
        let wide = (RIGHT - LEFT - GAP * (ACROSS - 1) as f64) / ACROSS as f64;
        for (i, row) in rows.iter().enumerate() {
            let (x, y) = ((i % ACROSS) as f64, (i / ACROSS) as f64);
            let from = (LEFT + x * (wide + GAP), TOP + y * high);
            let to = (from.0 + wide, from.1 + high - AXIS);
            panel(canvas, comparison, row, units, (from, to), i % ACROSS == 0)?;
        }
        Ok(())
    }
}

fn panel<DB: DrawingBackend>(
    canvas: &Canvas<DB>,
    comparison: &Comparison,
    row: &Row,
    units: Units,
    (from, to): ((f64, f64), (f64, f64)),
    named: bool,
) -> Result<(), ReportError> {
    let show = |v: f64| row.of_difference().convert(v * row.scale, units);
    let found: Vec<_> = comparison.options[1..]
        .iter()
        .take(MOST)
        .map(|o| (o, row.difference(comparison, &o.name)))
        .collect();
    let ends = found.iter().filter_map(|(_, d)| *d).flat_map(|d| {
        [Some(d.value), d.low, d.high]
            .into_iter()
            .flatten()
            .map(show)
    });
    let (low, high) = ends.fold((0.0f64, 0.0f64), |(l, h), v| (l.min(v), h.max(v)));
    let (low, high) = if high - low < 1e-9 {
        (-1.0, 1.0)
    } else {
        (low, high)
    };
    let pad = 0.06 * (high - low);
    let (low, high) = (low - pad, high + pad);
    let x = |v: f64| from.0 + (v - low) / (high - low) * (to.0 - from.0);
    let title = format!("{}, {}", row.label, row.of_difference().unit(units));
    let side = (HPos::Left, VPos::Center);
    canvas.text(&title, (from.0, from.1 - 6.0), 15.0, INK, side)?;
    let good = match row.good {
        Good::Less => "less is better",
        Good::More => "more is better",
        Good::Either => "",
    };
    canvas.text(
        good,
        (to.0, from.1 - 6.0),
        12.0,
        SOFT,
        (HPos::Right, VPos::Center),
    )?;
    let (top, bottom) = (from.1 + 10.0, to.1);
    for tick in ticks(low, high, 4, DECIMAL) {
        canvas.line(&[(x(tick), top), (x(tick), bottom)], FAINT, 1.0)?;
        // steps of less than one need decimals
        let text = if high - low < 4.0 {
            format!("{tick:.1}")
        } else {
            format!("{tick:.0}")
        };
        let below = (x(tick), bottom + 12.0);
        canvas.text(&text, below, 12.0, SOFT, (HPos::Center, VPos::Center))?;
    }
    canvas.line(&[(x(0.0), top), (x(0.0), bottom)], SOFT, 1.5)?;
    let pitch = (bottom - top) / found.len().max(1) as f64;
    for (i, (option, difference)) in found.iter().enumerate() {
        let y = top + (i as f64 + 0.5) * pitch;
        if named {
            let at = (from.0 - 10.0, y);
            canvas.text(
                &clip(&option.name, 18),
                at,
                13.0,
                INK,
                (HPos::Right, VPos::Center),
            )?;
        }
        let Some(d) = difference else {
            continue;
        };
        let harm = option.over.iter().any(|o| o.verdict.is_harm());
        let ink = if harm { LINES[0] } else { LINES[3] };
        if let (Some(low), Some(high)) = (d.low, d.high) {
            canvas.block((x(show(low)), y - 3.0), (x(show(high)), y + 3.0), LINES[4])?;
        }
        let at = x(show(d.value));
        canvas.block((at - 4.0, y - 6.0), (at + 4.0, y + 6.0), ink)?;
        if harm && named {
            canvas.text(
                "over a limit",
                (from.0 - 10.0, y + 13.0),
                10.0,
                ink,
                (HPos::Right, VPos::Center),
            )?;
        }
    }
    Ok(())
}
