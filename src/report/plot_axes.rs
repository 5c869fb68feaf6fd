//! A panel with two axes and curves that are named at their ends.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::ReportError;
use super::grid::clip;
use super::plot_canvas::{Canvas, DECIMAL, Dash, FAINT, INK, SOFT, spread, ticks};

/// A curve.
pub(super) struct Curve {
    /// Name at its end; none where it is empty.
    pub label: String,
    pub points: Vec<(f64, f64)>,
    /// At a point: low and high.
    pub bars: Vec<(f64, f64, f64)>,
    pub ink: RGBColor,
    pub dash: Dash,
    pub width: f64,
}

/// A panel.
pub(super) struct Axes<'t> {
    pub title: &'t str,
    pub below: &'t str,
    /// Left, top, right, bottom in page units.
    pub place: (f64, f64, f64, f64),
    /// Where the curves reach.
    pub x: (f64, f64),
    pub y: (f64, f64),
}

/// Least and largest of values; (0, 1) where there are none.
pub(super) fn reach(values: impl Iterator<Item = f64>) -> (f64, f64) {
    let start = (f64::INFINITY, f64::NEG_INFINITY);
    let (low, high) = values.fold(start, |(l, h), v| (l.min(v), h.max(v)));
    if low > high { (0.0, 1.0) } else { (low, high) }
}

/// The same with some room at both ends.
pub(super) fn roomy(values: impl Iterator<Item = f64>) -> (f64, f64) {
    let (low, high) = reach(values);
    let pad = 0.06 * (high - low).max(1.0);
    (low - pad, high + pad)
}

impl Axes<'_> {
    pub(super) fn draw<DB: DrawingBackend>(
        &self,
        canvas: &Canvas<DB>,
        curves: &[Curve],
    ) -> Result<(), ReportError> {
        let (left, top, right, bottom) = self.place;
        let span = |(a, b): (f64, f64)| (b - a).max(1e-9);
        let x = |v: f64| left + (v - self.x.0) / span(self.x) * (right - left);
        let y = |v: f64| bottom - (v - self.y.0) / span(self.y) * (bottom - top);
        let title = (left, top - 14.0);
        canvas.text(self.title, title, 15.0, INK, (HPos::Left, VPos::Center))?;
        for tick in ticks(self.y.0, self.y.1, 6, DECIMAL) {
            canvas.line(&[(left, y(tick)), (right, y(tick))], FAINT, 1.0)?;
            let at = (left - 8.0, y(tick));
            let text = if span(self.y) < 4.0 {
                format!("{tick:.1}")
            } else {
                format!("{tick:.0}")
            };
            canvas.text(&text, at, 13.0, INK, (HPos::Right, VPos::Center))?;
        }
        for tick in ticks(self.x.0, self.x.1, 7, DECIMAL) {
            canvas.line(&[(x(tick), bottom), (x(tick), bottom + 5.0)], SOFT, 1.0)?;
            let at = (x(tick), bottom + 15.0);
            canvas.text(
                &format!("{tick:.0}"),
                at,
                13.0,
                INK,
                (HPos::Center, VPos::Center),
            )?;
        }
        canvas.line(&[(left, bottom), (right, bottom)], SOFT, 1.0)?;
        let middle = ((left + right) / 2.0, bottom + 36.0);
        canvas.text(self.below, middle, 14.0, INK, (HPos::Center, VPos::Center))?;
        for (i, curve) in curves.iter().enumerate() {
            let points: Vec<(f64, f64)> = curve.points.iter().map(|p| (x(p.0), y(p.1))).collect();
            canvas.dashed(&points, curve.ink, curve.width, curve.dash)?;
            for &(at, low, high) in &curve.bars {
                // side by side, so that bars don't hide each other
                let x = x(at) + 4.0 * (i as f64 - 0.5 * (curves.len() as f64 - 1.0));
                canvas.line(&[(x, y(low)), (x, y(high))], curve.ink, 1.5)?;
            }
        }
        let named: Vec<(&Curve, f64)> = curves
            .iter()
            .filter(|c| !c.label.is_empty())
            .filter_map(|c| Some((c, y(c.points.last()?.1))))
            .collect();
        let wanted: Vec<f64> = named.iter().map(|n| n.1).collect();
        for (place, (curve, _)) in spread(&wanted, 17.0, top, bottom).iter().zip(&named) {
            let at = (right + 10.0, *place);
            canvas.text(
                &clip(&curve.label, 22),
                at,
                13.0,
                curve.ink,
                (HPos::Left, VPos::Center),
            )?;
        }
        Ok(())
    }
}
