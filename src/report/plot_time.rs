//! Pictures with time along the bottom: panels over a common time axis, phases behind them.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::ReportError;
use super::grid::{clean, clip};
use super::plot_canvas::{Canvas, DASHES, DECIMAL, Dash, FAINT, INK, LINES, SOFT, spread, ticks};
use crate::quantity::{Quantity, Units};
use crate::study::findings::{RunResult, Series};

/// Left and right edge of the panels; names of the lines stand to the right.
const LEFT: f64 = 76.0;
const RIGHT: f64 = 990.0;
/// Lowest point of the lowest panel.
const BOTTOM: f64 = 642.0;
/// Height of a line of phase names.
const ROW: f64 = 17.0;
/// Lines of phase names.
const ROWS: usize = 3;

/// One line of a panel.
struct Curve {
    label: String,
    /// One a time; NaN where there is nothing to draw.
    values: Vec<f64>,
    ink: RGBColor,
    dash: Dash,
}

/// A part of the page with its own height axis.
struct Panel {
    top: f64,
    bottom: f64,
    title: String,
    from_zero: bool,
    steps: usize,
    curves: Vec<Curve>,
}

/// Columns `<kind>:<place>_c` as (place, values), hottest first, at most `most`.
fn hottest(series: &Series, kind: &str, most: usize) -> Vec<(String, Vec<f64>)> {
    let mut found: Vec<(String, Vec<f64>)> = Vec::new();
    for name in &series.names {
        let place = name
            .strip_prefix(kind)
            .and_then(|n| n.strip_prefix(':'))
            .and_then(|n| n.strip_suffix("_c"));
        if let (Some(place), Some(values)) = (place, series.column(name)) {
            found.push((place.to_owned(), values));
        }
    }
    let peak = |v: &[f64]| v.iter().copied().fold(f64::MIN, f64::max);
    found.sort_by(|a, b| peak(&b.1).total_cmp(&peak(&a.1)));
    found.truncate(most);
    found
}

/// Gas where the turbine meets it, else the first element of the exhaust.
fn gas(series: &Series) -> Option<(String, Vec<f64>)> {
    let name = series
        .names
        .iter()
        .find(|n| n.starts_with("gas:") && n.contains("turbine"))
        .or_else(|| series.names.iter().find(|n| n.starts_with("gas:")))?;
    let place = name.trim_start_matches("gas:").trim_end_matches("_c");
    Some((place.to_owned(), series.column(name)?))
}

/// Gas, hottest skins, and below them the air of the bay on its own scale.
pub(super) fn temperatures<DB: DrawingBackend>(
    canvas: &Canvas<DB>,
    run: &RunResult,
    units: Units,
) -> Result<(), ReportError> {
    let unit = Quantity::Temperature.unit(units);
    let show = |values: Vec<f64>| -> Vec<f64> {
        values
            .into_iter()
            .map(|v| Quantity::Temperature.convert(v, units))
            .collect()
    };
    let mut hot = Vec::new();
    if let Some((place, values)) = gas(&run.series) {
        hot.push((format!("gas, {place}"), values));
    }
    for (place, values) in hottest(&run.series, "skin", 3) {
        hot.push((format!("skin, {place}"), values));
    }
    let mut cool: Vec<(String, Vec<f64>)> = hottest(&run.series, "air", 4)
        .into_iter()
        .map(|(place, values)| (format!("bay air, {place}"), values))
        .collect();
    if hot.is_empty() || cool.is_empty() {
        return Err(missing("temperatures", "a skin or a bay zone"));
    }
    if let Some(values) = run.series.column("ambient_c") {
        cool.push(("ambient".into(), values));
    }
    let curves = |list: Vec<(String, Vec<f64>)>| -> Vec<Curve> {
        list.into_iter()
            .zip(LINES.iter().zip(DASHES))
            .map(|((label, values), (ink, dash))| Curve {
                label,
                values: show(values),
                ink: *ink,
                dash,
            })
            .collect()
    };
    let panels = [
        Panel {
            top: 0.0,
            bottom: 400.0,
            title: format!("exhaust gas and hottest skins, {unit}"),
            from_zero: true,
            steps: 5,
            curves: curves(hot),
        },
        Panel {
            top: 446.0,
            bottom: BOTTOM,
            title: format!("air in the bay, {unit}"),
            from_zero: false,
            steps: 4,
            curves: curves(cool),
        },
    ];
    draw(canvas, run, units, "Heat over the cycle", panels)
}

/// Intake air over ambient at three places, and the road speed.
pub(super) fn intake_rise<DB: DrawingBackend>(
    canvas: &Canvas<DB>,
    run: &RunResult,
    units: Units,
) -> Result<(), ReportError> {
    let Some(ambient) = run.series.column("ambient_c") else {
        return Err(missing("intake-rise", "the ambient temperature"));
    };
    let rpm = run.series.column("rpm");
    let running: Vec<bool> = (0..ambient.len())
        .map(|i| rpm.as_ref().is_none_or(|r| r[i] > 0.0))
        .collect();
    let places = [("pickup", 4, 4), ("sensor", 3, 0), ("valve", 0, 3)];
    let mut curves = Vec::new();
    for (place, colour, dash) in places {
        let Some(values) = run.series.column(&format!("intake:{place}_c")) else {
            continue;
        };
        curves.push(Curve {
            label: match place {
                "valve" => "at the valve".into(),
                other => format!("at the {other}"),
            },
            values: values
                .iter()
                .zip(&ambient)
                .zip(&running)
                .map(|((v, a), running)| match place {
                    // nothing flows past a valve at rest
                    "valve" if !running => f64::NAN,
                    _ => Quantity::Difference.convert(v - a, units),
                })
                .collect(),
            ink: LINES[colour],
            dash: DASHES[dash],
        });
    }
    if curves.is_empty() {
        return Err(missing("intake-rise", "the intake"));
    }
    let title = format!(
        "intake air, {} over ambient",
        Quantity::Difference.unit(units)
    );
    let speed = run.series.column("speed_kmh");
    let mut panels = vec![Panel {
        top: 0.0,
        bottom: if speed.is_some() { 516.0 } else { BOTTOM },
        title,
        from_zero: true,
        steps: 6,
        curves,
    }];
    if let Some(values) = speed {
        panels.push(Panel {
            top: 562.0,
            bottom: BOTTOM,
            title: format!("road speed, {}", Quantity::RoadSpeed.unit(units)),
            from_zero: true,
            steps: 2,
            curves: vec![Curve {
                label: "speed".into(),
                values: values
                    .iter()
                    .map(|v| Quantity::RoadSpeed.convert(*v, units))
                    .collect(),
                ink: SOFT,
                dash: DASHES[0],
            }],
        });
    }
    draw(canvas, run, units, "Intake air over ambient", panels)
}

fn missing(picture: &'static str, missing: &'static str) -> ReportError {
    ReportError::NothingToDraw { picture, missing }
}

/// Seconds to page units.
struct TimeAxis {
    from_s: f64,
    to_s: f64,
}

impl TimeAxis {
    fn x(&self, time_s: f64) -> f64 {
        let share = (time_s - self.from_s) / (self.to_s - self.from_s).max(1e-9);
        LEFT + share.clamp(0.0, 1.0) * (RIGHT - LEFT)
    }
}

fn draw<DB: DrawingBackend>(
    canvas: &Canvas<DB>,
    run: &RunResult,
    units: Units,
    title: &str,
    panels: impl IntoIterator<Item = Panel>,
) -> Result<(), ReportError> {
    let series = &run.series;
    let (Some(from_s), Some(to_s)) = (series.time_s.first(), series.time_s.last()) else {
        return Err(missing("time", "every sample"));
    };
    let axis = TimeAxis {
        from_s: *from_s,
        to_s: *to_s,
    };
    heading(canvas, run, units, title)?;
    let names_top = 70.0;
    let used = phase_names(canvas, series, &axis, names_top)?;
    let first_top = names_top + used as f64 * ROW + 26.0;
    for mut panel in panels {
        if panel.top == 0.0 {
            panel.top = first_top;
        }
        shade(canvas, series, &axis, &panel)?;
        panel_lines(canvas, series, &axis, &panel)?;
    }
    let minutes = ticks(axis.from_s / 60.0, axis.to_s / 60.0, 12, DECIMAL);
    for minute in minutes {
        let x = axis.x(minute * 60.0);
        canvas.line(&[(x, BOTTOM), (x, BOTTOM + 5.0)], SOFT, 1.0)?;
        let text = format!("{minute}");
        canvas.text(
            &text,
            (x, BOTTOM + 9.0),
            13.0,
            INK,
            (HPos::Center, VPos::Top),
        )?;
    }
    let below = ((LEFT + RIGHT) / 2.0, BOTTOM + 30.0);
    canvas.text("time, min", below, 14.0, INK, (HPos::Center, VPos::Top))
}

/// Title, and what was driven on which day.
pub(super) fn heading<DB: DrawingBackend>(
    canvas: &Canvas<DB>,
    run: &RunResult,
    units: Units,
    title: &str,
) -> Result<(), ReportError> {
    let f = &run.findings;
    let left = (HPos::Left, VPos::Top);
    canvas.text(title, (24.0, 14.0), 21.0, INK, left)?;
    let what = format!(
        "{}; {}, {:.0} min; {}, {}",
        clip(&f.sheet.title, 60),
        clip(&f.cycle.name, 24),
        f.cycle.duration_s / 60.0,
        clip(&f.day.name, 24),
        Quantity::Temperature.show(f.day.ambient_c, units)
    );
    canvas.text(&what, (24.0, 42.0), 14.0, SOFT, left)
}

/// Names of the phases over the panels, in as few rows as keep them apart; returns the rows used.
fn phase_names<DB: DrawingBackend>(
    canvas: &Canvas<DB>,
    series: &Series,
    axis: &TimeAxis,
    top: f64,
) -> Result<usize, ReportError> {
    let mut ends = [LEFT - 60.0; ROWS];
    let mut used = 0;
    for (name, _, start, end) in &series.phases {
        let name = clip(name, 22);
        let wide = canvas.width_of(&name, 13.0)?;
        let middle = (axis.x(*start) + axis.x(*end)) / 2.0;
        let low = (middle - wide / 2.0).clamp(LEFT, (RIGHT - wide).max(LEFT));
        // a name that finds no room on any row is left out: the shading still shows the phase
        let Some(row) = ends.iter().position(|e| *e + 8.0 <= low) else {
            continue;
        };
        ends[row] = low + wide;
        used = used.max(row + 1);
        let y = top + row as f64 * ROW;
        canvas.text(&name, (low, y), 13.0, INK, (HPos::Left, VPos::Top))?;
    }
    Ok(used.max(1))
}

/// Colour behind a phase of this kind; driving stays white.
fn tint(kind: &str) -> Option<RGBColor> {
    match kind {
        "stand" => Some(RGBColor(250, 240, 220)),
        "key-off" => Some(RGBColor(228, 233, 241)),
        "restart" => Some(RGBColor(236, 243, 230)),
        _ => None,
    }
}

fn shade<DB: DrawingBackend>(
    canvas: &Canvas<DB>,
    series: &Series,
    axis: &TimeAxis,
    panel: &Panel,
) -> Result<(), ReportError> {
    for (_, kind, start, end) in &series.phases {
        if let Some(tint) = tint(kind) {
            let (from, to) = ((axis.x(*start), panel.top), (axis.x(*end), panel.bottom));
            canvas.block(from, to, tint)?;
        }
    }
    for (_, _, start, _) in series.phases.iter().skip(1) {
        let x = axis.x(*start);
        canvas.dashed(&[(x, panel.top), (x, panel.bottom)], SOFT, 0.5, &[2.0, 4.0])?;
    }
    Ok(())
}

/// Lowest and highest value of a panel, with a little room.
fn range(panel: &Panel) -> (f64, f64) {
    let all = || panel.curves.iter().flat_map(|c| c.values.iter().copied());
    let mut low = all().fold(f64::MAX, f64::min);
    let mut high = all().fold(f64::MIN, f64::max);
    if panel.from_zero {
        low = low.min(0.0);
        high = high.max(0.0);
    }
    let room = ((high - low) * 0.06).max(0.5);
    let below = if panel.from_zero && low == 0.0 {
        0.0
    } else {
        room
    };
    (low - below, high + room)
}

fn panel_lines<DB: DrawingBackend>(
    canvas: &Canvas<DB>,
    series: &Series,
    axis: &TimeAxis,
    panel: &Panel,
) -> Result<(), ReportError> {
    let (low, high) = range(panel);
    let y = |v: f64| panel.bottom - (v - low) / (high - low) * (panel.bottom - panel.top);
    for tick in ticks(low, high, panel.steps, DECIMAL) {
        canvas.line(&[(LEFT, y(tick)), (RIGHT, y(tick))], FAINT, 1.0)?;
        let side = (HPos::Right, VPos::Center);
        canvas.text(&format!("{tick}"), (LEFT - 8.0, y(tick)), 13.0, INK, side)?;
    }
    canvas.line(&[(LEFT, panel.top), (LEFT, panel.bottom)], SOFT, 1.0)?;
    canvas.line(&[(LEFT, panel.bottom), (RIGHT, panel.bottom)], SOFT, 1.0)?;
    let over = (LEFT, panel.top - 5.0);
    canvas.text(&panel.title, over, 14.0, INK, (HPos::Left, VPos::Bottom))?;

    let ends: Vec<f64> = panel
        .curves
        .iter()
        .map(|c| {
            let last = c.values.iter().rev().find(|v| !v.is_nan());
            y(last.copied().unwrap_or(low))
        })
        .collect();
    let placed = spread(&ends, 17.0, panel.top + 4.0, panel.bottom - 4.0);
    for ((curve, end), label) in panel.curves.iter().zip(&ends).zip(&placed) {
        let points: Vec<(f64, f64)> = series
            .time_s
            .iter()
            .zip(&curve.values)
            .map(|(t, v)| (axis.x(*t), y(*v)))
            .collect();
        for stretch in points.split(|p| p.1.is_nan()) {
            canvas.dashed(&thin(stretch), curve.ink, 2.0, curve.dash)?;
        }
        // from the end of the line to its name, with a piece of the line's own pattern
        canvas.line(&[(RIGHT + 2.0, *end), (RIGHT + 12.0, *label)], SOFT, 0.5)?;
        let sample = [(RIGHT + 14.0, *label), (RIGHT + 44.0, *label)];
        canvas.dashed(&sample, curve.ink, 2.0, curve.dash)?;
        let name = clip(&clean(&curve.label), 20);
        let side = (HPos::Left, VPos::Center);
        canvas.text(&name, (RIGHT + 50.0, *label), 13.0, INK, side)?;
    }
    Ok(())
}

/// First, lowest, highest and last point of each pixel column: what the eye can see of a long run.
fn thin(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let column = |p: &(f64, f64)| (p.0 * 2.0).round();
    let mut kept: Vec<(f64, f64)> = Vec::new();
    for run in points.chunk_by(|a, b| column(a) == column(b)) {
        if run.len() <= 4 {
            kept.extend_from_slice(run);
            continue;
        }
        let by_height = |a: &usize, b: &usize| run[*a].1.total_cmp(&run[*b].1);
        let lowest = (0..run.len()).min_by(by_height).unwrap_or(0);
        let highest = (0..run.len()).max_by(by_height).unwrap_or(0);
        let mut picks = [0, lowest, highest, run.len() - 1];
        picks.sort_unstable();
        kept.extend(picks.iter().map(|i| run[*i]));
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::sample::run_result;

    #[test]
    fn thinning_keeps_the_peaks() {
        let points: Vec<(f64, f64)> = (0..10_000)
            .map(|i| (f64::from(i) * 0.01, if i == 4321 { 99.0 } else { 1.0 }))
            .collect();
        let kept = thin(&points);
        assert!(kept.len() < 1000, "{}", kept.len());
        assert!(kept.iter().any(|p| p.1 == 99.0));
        assert_eq!((kept[0], kept[kept.len() - 1]), (points[0], points[9_999]));
    }

    #[test]
    fn the_gas_is_the_turbines_where_there_is_one() {
        let mut run = run_result();
        assert_eq!(gas(&run.series).unwrap().0, "turbine");
        run.series.names[1] = "gas:collector_c".into();
        assert_eq!(gas(&run.series).unwrap().0, "runners");
    }

    #[test]
    fn the_hottest_come_first() {
        let places: Vec<String> = hottest(&run_result().series, "skin", 2)
            .into_iter()
            .map(|p| p.0)
            .collect();
        assert_eq!(places, ["runners", "turbine"]);
    }
}
