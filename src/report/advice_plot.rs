//! Picture of advice: what each measure does to power at the restart and to the bearing's oil.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::ReportError;
use super::advice_terminal::situation;
use super::grid::clip;
use super::plot::Scene;
use super::plot_axes::reach;
use super::plot_canvas::{Canvas, DECIMAL, FAINT, INK, LINES, SOFT, ticks};
use crate::quantity::{Quantity, Units};
use crate::study::advice::{Advice, Bought};

/// Name of the picture, fit for a file.
pub const ADVICE_PICTURE: &str = "advice";
/// Measures that have room.
const MOST: usize = 24;
const TOP: f64 = 122.0;
const BOTTOM: f64 = 660.0;

/// Title, left and right edge, a value for each measure.
type Panel = (String, (f64, f64), Vec<Option<f64>>);

/// The picture.
pub(super) struct OfAdvice<'a>(pub &'a Advice, pub Units);

impl Scene for OfAdvice<'_> {
    fn draw<DB: DrawingBackend>(&self, canvas: &Canvas<DB>) -> Result<(), ReportError> {
        let Self(found, units) = *self;
        let left = (HPos::Left, VPos::Center);
        let title = "What each measure buys after key-off, against the car as it is";
        canvas.text(title, (24.0, 30.0), 23.0, INK, left)?;
        let words = format!(
            "{}; {}",
            clip(&found.sheet.title, 60),
            situation(found, units)
        );
        canvas.text(&words, (24.0, 58.0), 14.0, SOFT, left)?;
        let shown: Vec<&Bought> = found.measures.iter().take(MOST).collect();
        let diff = |k: f64| Quantity::Difference.convert(k, units);
        let unit = Quantity::Difference.unit(units);
        let panels: [Panel; 2] = [
            (
                "power at the restart, points: more is better".into(),
                (400.0, 760.0),
                shown.iter().map(|b| Some(b.change.power_percent)).collect(),
            ),
            (
                format!("bearing oil, peak, {unit}: less is better"),
                (800.0, 1160.0),
                shown.iter().map(|b| b.change.bearing_c.map(diff)).collect(),
            ),
        ];
        let pitch = ((BOTTOM - TOP) / shown.len().max(1) as f64).min(30.0);
        let y = |i: usize| TOP + (i as f64 + 0.5) * pitch;
        let bottom = TOP + pitch * shown.len() as f64;
        for (i, b) in shown.iter().enumerate() {
            let side = (HPos::Right, VPos::Center);
            canvas.text(&clip(&b.name, 50), (388.0, y(i)), 12.5, INK, side)?;
        }
        for (title, (from, to), values) in &panels {
            let (low, high) = reach(values.iter().flatten().copied().chain([0.0]));
            let pad = 0.05 * (high - low).max(0.5);
            let (low, high) = (low - pad, high + pad);
            let x = |v: f64| from + (v - low) / (high - low) * (to - from);
            canvas.text(title, (*from, TOP - 20.0), 14.0, INK, left)?;
            for tick in ticks(low, high, 5, DECIMAL) {
                canvas.line(&[(x(tick), TOP), (x(tick), bottom)], FAINT, 1.0)?;
                let text = if high - low < 4.0 {
                    format!("{tick:.1}")
                } else {
                    format!("{tick:.0}")
                };
                canvas.text(
                    &text,
                    (x(tick), bottom + 12.0),
                    12.0,
                    SOFT,
                    (HPos::Center, VPos::Center),
                )?;
            }
            for (i, value) in values.iter().enumerate() {
                let Some(v) = value else { continue };
                let (a, b) = (x(v.min(0.0)), x(v.max(0.0)));
                canvas.block((a, y(i) - 0.32 * pitch), (b, y(i) + 0.32 * pitch), LINES[3])?;
            }
            canvas.line(&[(x(0.0), TOP), (x(0.0), bottom)], SOFT, 1.5)?;
        }
        Ok(())
    }
}
