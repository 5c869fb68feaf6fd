//! Lines, text and axes in whole-page units of 1200 by 700, for any drawing backend.

use plotters::coord::Shift;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::ReportError;

/// Page width in its own units.
pub(super) const WIDTH: u32 = 1200;
/// Page height in its own units.
pub(super) const HEIGHT: u32 = 700;
/// Backend pixels per unit.
pub(super) const SCALE: u32 = 2;

/// Text.
pub(super) const INK: RGBColor = RGBColor(28, 30, 34);
/// Secondary text.
pub(super) const SOFT: RGBColor = RGBColor(92, 96, 102);
/// Grid.
pub(super) const FAINT: RGBColor = RGBColor(222, 224, 227);
/// Lines, told apart by lightness as well as hue; checked in grey and for red-green weakness.
pub(super) const LINES: [RGBColor; 5] = [
    RGBColor(168, 38, 24),
    RGBColor(226, 124, 20),
    RGBColor(104, 40, 120),
    RGBColor(18, 92, 160),
    RGBColor(64, 164, 190),
];

/// Dash pattern, on and off lengths in page units; empty for a full line.
pub(super) type Dash = &'static [f64];
/// A pattern for each line colour.
pub(super) const DASHES: [Dash; 5] = [
    &[],
    &[9.0, 4.0],
    &[2.5, 3.5],
    &[13.0, 4.0, 2.5, 4.0],
    &[5.0, 3.0],
];

/// A page to draw on.
pub(super) struct Canvas<DB: DrawingBackend> {
    area: DrawingArea<DB, Shift>,
}

fn pixels(v: f64) -> i32 {
    (v * f64::from(SCALE)).round() as i32
}

fn at(p: (f64, f64)) -> (i32, i32) {
    (pixels(p.0), pixels(p.1))
}

fn failed<E: std::fmt::Display>(error: E) -> ReportError {
    ReportError::Drawing(error.to_string())
}

impl<DB: DrawingBackend> Canvas<DB> {
    pub(super) fn new(area: DrawingArea<DB, Shift>) -> Self {
        Self { area }
    }

    pub(super) fn fill_white(&self) -> Result<(), ReportError> {
        self.area.fill(&WHITE).map_err(failed)
    }

    pub(super) fn finish(&self) -> Result<(), ReportError> {
        self.area.present().map_err(failed)
    }

    /// Width of `text` in page units.
    pub(super) fn width_of(&self, text: &str, size: f64) -> Result<f64, ReportError> {
        let style = ("sans-serif", size * f64::from(SCALE)).into_text_style(&self.area);
        let (w, _) = self.area.estimate_text_size(text, &style).map_err(failed)?;
        Ok(f64::from(w) / f64::from(SCALE))
    }

    /// Text with its anchor at `p`.
    pub(super) fn text(
        &self,
        text: &str,
        p: (f64, f64),
        size: f64,
        ink: RGBColor,
        anchor: (HPos, VPos),
    ) -> Result<(), ReportError> {
        let style = ("sans-serif", size * f64::from(SCALE))
            .into_text_style(&self.area)
            .color(&ink)
            .pos(Pos::new(anchor.0, anchor.1));
        self.area.draw_text(text, &style, at(p)).map_err(failed)
    }

    /// A straight or bent line.
    pub(super) fn line(
        &self,
        points: &[(f64, f64)],
        ink: RGBColor,
        width: f64,
    ) -> Result<(), ReportError> {
        let points: Vec<(i32, i32)> = points.iter().map(|p| at(*p)).collect();
        let style = ink.stroke_width(pixels(width).unsigned_abs());
        for run in gentle_runs(&points) {
            self.area
                .draw(&PathElement::new(run.to_vec(), style))
                .map_err(failed)?;
        }
        Ok(())
    }

    /// A line with gaps, measured along it.
    pub(super) fn dashed(
        &self,
        points: &[(f64, f64)],
        ink: RGBColor,
        width: f64,
        dash: Dash,
    ) -> Result<(), ReportError> {
        if dash.is_empty() {
            return self.line(points, ink, width);
        }
        for piece in cut(points, dash) {
            self.line(&piece, ink, width)?;
        }
        Ok(())
    }

    /// A filled rectangle.
    pub(super) fn block(
        &self,
        from: (f64, f64),
        to: (f64, f64),
        ink: RGBColor,
    ) -> Result<(), ReportError> {
        self.area
            .draw(&Rectangle::new([at(from), at(to)], ink.filled()))
            .map_err(failed)
    }
}

/// Cuts a line where it turns sharply: the bitmap backend mitres joints, and the mitre of a needle
/// sticks out of the page.
fn gentle_runs(points: &[(i32, i32)]) -> Vec<&[(i32, i32)]> {
    let mut runs = Vec::new();
    let mut start = 0;
    for i in 1..points.len().saturating_sub(1) {
        let (a, b, c) = (points[i - 1], points[i], points[i + 1]);
        let (ux, uy) = (f64::from(b.0 - a.0), f64::from(b.1 - a.1));
        let (vx, vy) = (f64::from(c.0 - b.0), f64::from(c.1 - b.1));
        // a turn of more than 60 degrees
        if ux * vx + uy * vy < 0.5 * ux.hypot(uy) * vx.hypot(vy) {
            runs.push(&points[start..=i]);
            start = i;
        }
    }
    runs.push(&points[start..]);
    runs
}

/// The drawn pieces of a dashed line.
fn cut(points: &[(f64, f64)], dash: Dash) -> Vec<Vec<(f64, f64)>> {
    let mut pieces = Vec::new();
    let (mut step, mut left) = (0, dash.first().copied().unwrap_or(1.0));
    let mut piece: Vec<(f64, f64)> = points.first().copied().into_iter().collect();
    for pair in points.windows(2) {
        let (mut from, to) = (pair[0], pair[1]);
        loop {
            let (dx, dy) = (to.0 - from.0, to.1 - from.1);
            let long = dx.hypot(dy);
            if long <= left {
                left -= long;
                if step % 2 == 0 {
                    piece.push(to);
                }
                break;
            }
            from = (from.0 + dx * left / long, from.1 + dy * left / long);
            if step % 2 == 0 {
                piece.push(from);
                pieces.push(std::mem::take(&mut piece));
            } else {
                piece = vec![from];
            }
            step += 1;
            left = dash[step % dash.len()];
        }
    }
    if step % 2 == 0 && piece.len() > 1 {
        pieces.push(piece);
    }
    pieces
}

/// Round numbers that cover `low..high` in about `count` steps.
pub(super) fn ticks(low: f64, high: f64, count: usize, steps: &[f64]) -> Vec<f64> {
    let want = (high - low).max(1e-9) / count.max(1) as f64;
    let decade = 10f64.powf(want.log10().floor());
    let step = steps
        .iter()
        .copied()
        .find(|s| s * decade >= want * 0.999)
        .unwrap_or(10.0)
        * decade;
    let (first, last) = (
        (low / step).ceil() as i64,
        (high / step + 1e-9).floor() as i64,
    );
    (first..=last).map(|i| i as f64 * step).collect()
}

/// Steps for quantities.
pub(super) const DECIMAL: &[f64] = &[1.0, 2.0, 5.0];

/// `wanted` heights moved as little as needed so that neighbours stand `gap` apart inside `low..high`.
pub(super) fn spread(wanted: &[f64], gap: f64, low: f64, high: f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    order.sort_by(|a, b| wanted[*a].total_cmp(&wanted[*b]));
    let mut placed = wanted.to_vec();
    let mut floor = low;
    for i in &order {
        placed[*i] = placed[*i].max(floor);
        floor = placed[*i] + gap;
    }
    let mut roof = high;
    for i in order.iter().rev() {
        placed[*i] = placed[*i].min(roof);
        roof = placed[*i] - gap;
    }
    placed
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dashes_cover_the_share_of_the_line_they_should() {
        let points: Vec<(f64, f64)> = (0..=100).map(|i| (f64::from(i) * 1.3, 0.0)).collect();
        let drawn: f64 = cut(&points, &[9.0, 4.0])
            .iter()
            .map(|p| p[p.len() - 1].0 - p[0].0)
            .sum();
        assert!((drawn - 90.0).abs() < 1e-9, "{drawn}");
    }

    #[test]
    fn ticks_are_round_and_inside() {
        assert_eq!(
            ticks(0.0, 870.0, 5, DECIMAL),
            [0.0, 200.0, 400.0, 600.0, 800.0]
        );
        assert_eq!(ticks(-3.0, 11.0, 4, DECIMAL), [0.0, 5.0, 10.0]);
    }

    #[test]
    fn labels_never_overlap() {
        let placed = spread(&[100.0, 101.0, 99.0, 300.0], 16.0, 0.0, 305.0);
        let mut sorted = placed.clone();
        sorted.sort_by(f64::total_cmp);
        assert!(
            sorted.windows(2).all(|w| w[1] - w[0] >= 16.0 - 1e-9),
            "{placed:?}"
        );
        assert!(placed[2] < placed[0] && placed[0] < placed[1]);
        assert_eq!(placed[3], 300.0);
    }
}
