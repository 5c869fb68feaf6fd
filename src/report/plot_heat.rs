//! Where the heat of the exhaust goes, and what heats the bay: a bar for each.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::ReportError;
use super::grid::clip;
use super::plot_canvas::{Canvas, DECIMAL, FAINT, INK, LINES, SOFT, ticks};
use super::plot_time::heading;
use crate::quantity::{Quantity, Units};
use crate::study::findings::{RunResult, Share};

const LEFT: f64 = 236.0;
const RIGHT: f64 = 1020.0;
const TOP: f64 = 104.0;
const BOTTOM: f64 = 640.0;
/// Room between the two groups of bars, for an axis and a title.
const BETWEEN: f64 = 78.0;
/// Bars of a group that have room; smaller ones are added up in the last.
const MOST_BARS: usize = 10;

const BY_AIR: RGBColor = LINES[3];
const RAYS: RGBColor = LINES[1];
const WHOLE: RGBColor = RGBColor(120, 126, 134);

/// A group of bars over one axis.
struct Group {
    title: String,
    bars: Vec<Share>,
    split: bool,
}

/// Both groups, largest bars first.
pub(super) fn exhaust_heat<DB: DrawingBackend>(
    canvas: &Canvas<DB>,
    run: &RunResult,
    units: Units,
) -> Result<(), ReportError> {
    let unit = Quantity::Heat.unit(units);
    let group = |title: &str, shares: &[Share]| Group {
        title: format!("{title}, {unit}"),
        bars: bars(shares),
        split: shares.iter().any(|s| s.radiation_w != 0.0),
    };
    let mut groups = vec![
        group(
            "heat leaving the gas, mean with the engine on",
            &run.findings.exhaust_heat,
        ),
        group(
            "what heats the bay, mean over the cycle",
            &run.findings.bay_heat,
        ),
    ];
    groups.retain(|g| !g.bars.is_empty());
    let count: usize = groups.iter().map(|g| g.bars.len()).sum();
    if count == 0 {
        return Err(ReportError::NothingToDraw {
            picture: "exhaust-heat",
            missing: "every share of the heat",
        });
    }
    heading(canvas, run, units, "Where the exhaust heat goes")?;
    let room = BOTTOM - TOP - BETWEEN * (groups.len() - 1) as f64;
    let pitch = (room / count as f64).min(48.0);
    let mut top = TOP;
    for group in &groups {
        let bottom = top + pitch * group.bars.len() as f64;
        draw(canvas, group, units, (top, bottom))?;
        top = bottom + BETWEEN;
    }
    Ok(())
}

fn draw<DB: DrawingBackend>(
    canvas: &Canvas<DB>,
    group: &Group,
    units: Units,
    (top, bottom): (f64, f64),
) -> Result<(), ReportError> {
    let show = |w: f64| Quantity::Heat.convert(w, units);
    let over = (LEFT, top - 8.0);
    canvas.text(&group.title, over, 14.0, INK, (HPos::Left, VPos::Bottom))?;
    if group.split {
        let after = LEFT + canvas.width_of(&group.title, 14.0)? + 40.0;
        key(canvas, after, top - 16.0)?;
    }
    let low = group
        .bars
        .iter()
        .map(|b| show(b.mean_w))
        .fold(0.0, f64::min);
    let high = group
        .bars
        .iter()
        .map(|b| show(b.mean_w))
        .fold(1.0, f64::max)
        * 1.02;
    let x = |v: f64| LEFT + (v - low) / (high - low) * (RIGHT - LEFT);
    for tick in ticks(low, high, 7, DECIMAL) {
        canvas.line(&[(x(tick), top), (x(tick), bottom)], FAINT, 1.0)?;
        let under = (x(tick), bottom + 7.0);
        canvas.text(
            &format!("{tick}"),
            under,
            13.0,
            INK,
            (HPos::Center, VPos::Top),
        )?;
    }
    let total: f64 = group.bars.iter().map(|b| b.mean_w).sum();
    let pitch = (bottom - top) / group.bars.len() as f64;
    let half = (pitch * 0.36).min(15.0);
    for (i, bar) in group.bars.iter().enumerate() {
        let middle = top + (i as f64 + 0.5) * pitch;
        let rest = bar.mean_w - bar.convection_w - bar.radiation_w;
        let parts = [
            (bar.convection_w, BY_AIR),
            (bar.radiation_w, RAYS),
            (rest, WHOLE),
        ];
        // parts of opposite sign grow to their own side of zero
        let (mut above, mut below) = (0.0, 0.0);
        for (part, ink) in parts {
            let from = if part < 0.0 { &mut below } else { &mut above };
            let to = *from + show(part);
            let (a, b) = (x(from.min(to)).max(LEFT), x(from.max(to)));
            *from = to;
            if b - a < 0.5 {
                continue;
            }
            canvas.block((a, middle - half), (b, middle + half), ink)?;
            if ink == RAYS {
                stripes(canvas, (a, middle - half), (b, middle + half))?;
            }
        }
        let side = (HPos::Right, VPos::Center);
        canvas.text(&clip(&bar.name, 26), (LEFT - 10.0, middle), 13.0, INK, side)?;
        let mut words = Quantity::Heat.show(bar.mean_w, units);
        if total > 0.0 {
            words.push_str(&format!("  {:.1} %", 100.0 * bar.mean_w / total));
        }
        let after = (x(above.max(0.0)) + 8.0, middle);
        canvas.text(&words, after, 13.0, INK, (HPos::Left, VPos::Center))?;
    }
    canvas.line(&[(x(0.0), top), (x(0.0), bottom)], SOFT, 1.0)
}

/// Largest first; those without room become one.
fn bars(shares: &[Share]) -> Vec<Share> {
    let mut bars = shares.to_vec();
    bars.sort_by(|a, b| b.mean_w.total_cmp(&a.mean_w));
    if bars.len() > MOST_BARS {
        let rest = bars.split_off(MOST_BARS - 1);
        let sum = |value: fn(&Share) -> f64| rest.iter().map(value).sum();
        bars.push(Share {
            name: format!("{} more", rest.len()),
            mean_w: sum(|s| s.mean_w),
            convection_w: sum(|s| s.convection_w),
            radiation_w: sum(|s| s.radiation_w),
        });
    }
    bars
}

/// White strokes, so that radiation is told from convection without colour.
fn stripes<DB: DrawingBackend>(
    canvas: &Canvas<DB>,
    from: (f64, f64),
    to: (f64, f64),
) -> Result<(), ReportError> {
    let mut x = from.0 + 4.0;
    while x < to.0 {
        canvas.line(&[(x, from.1), (x, to.1)], WHITE, 1.0)?;
        x += 6.0;
    }
    Ok(())
}

/// What the fillings mean, on the line of the title.
fn key<DB: DrawingBackend>(canvas: &Canvas<DB>, left: f64, y: f64) -> Result<(), ReportError> {
    let mut x = left;
    for (ink, words) in [(BY_AIR, "convection"), (RAYS, "radiation")] {
        canvas.block((x, y - 6.0), (x + 28.0, y + 6.0), ink)?;
        if ink == RAYS {
            stripes(canvas, (x, y - 6.0), (x + 28.0, y + 6.0))?;
        }
        canvas.text(words, (x + 34.0, y), 13.0, INK, (HPos::Left, VPos::Center))?;
        x += 58.0 + canvas.width_of(words, 13.0)?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::sample::run_result;

    #[test]
    fn bars_keep_the_sum_when_there_are_many() {
        let mut shares = run_result().findings.exhaust_heat;
        while shares.len() < 40 {
            let mut more = shares[shares.len() % 5].clone();
            more.name.push('x');
            shares.push(more);
        }
        let bars = bars(&shares);
        assert_eq!(bars.len(), MOST_BARS);
        let sum = |s: &[Share]| s.iter().map(|s| s.mean_w).sum::<f64>();
        assert!((sum(&bars) - sum(&shares)).abs() < 1e-6);
        assert_eq!(bars[MOST_BARS - 1].name, "31 more");
    }
}
