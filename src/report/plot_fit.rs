//! Pictures of a fit: measured and predicted over a drive, and what is left over.

use std::path::Path;

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::ReportError;
use super::grid::clip;
use super::plot::{Scene, png_of, svg_of};
use super::plot_canvas::{Canvas, DASHES, DECIMAL, FAINT, INK, LINES, SOFT, ticks};
use crate::study::fit::{Channel, Drive, DriveScore};

const LEFT: f64 = 76.0;
const RIGHT: f64 = 1160.0;
const BOTTOM: f64 = 642.0;
/// Lines longer than this have points left out: the page has no more.
const MOST_POINTS: usize = 2500;

/// Measured and predicted reading of the intake sensor over ambient, their difference, and speed.
#[derive(Debug, Clone, Copy)]
pub struct FitPicture<'a> {
    /// Drive.
    pub drive: &'a Drive,
    /// Its prediction.
    pub score: &'a DriveScore,
}

struct Panel {
    top: f64,
    bottom: f64,
    title: &'static str,
    low: f64,
    high: f64,
    steps: usize,
}

impl FitPicture<'_> {
    /// As SVG text.
    ///
    /// # Errors
    /// The drive has no intake sensor, or drawing fails.
    pub fn svg(&self) -> Result<String, ReportError> {
        svg_of(self)
    }

    /// To a PNG file.
    ///
    /// # Errors
    /// The drive has no intake sensor, or drawing or writing fails.
    pub fn write_png(&self, path: &Path) -> Result<(), ReportError> {
        png_of(self, path)
    }

    fn length_s(&self) -> f64 {
        self.drive.cycle.duration_s().max(1.0)
    }

    fn x(&self, time_s: f64) -> f64 {
        LEFT + (time_s / self.length_s()).clamp(0.0, 1.0) * (RIGHT - LEFT)
    }

    fn panel<DB: DrawingBackend>(
        &self,
        canvas: &Canvas<DB>,
        panel: &Panel,
    ) -> Result<(), ReportError> {
        canvas.text(
            panel.title,
            (LEFT, panel.top - 20.0),
            14.0,
            INK,
            (HPos::Left, VPos::Center),
        )?;
        for tick in ticks(panel.low, panel.high, panel.steps, DECIMAL) {
            let y = panel.y(tick);
            canvas.line(&[(LEFT, y), (RIGHT, y)], FAINT, 1.0)?;
            canvas.text(
                &format!("{tick}"),
                (LEFT - 8.0, y),
                13.0,
                INK,
                (HPos::Right, VPos::Center),
            )?;
        }
        Ok(())
    }

    /// Where nothing is compared.
    fn grey<DB: DrawingBackend>(
        &self,
        canvas: &Canvas<DB>,
        channel: &Channel,
        panel: &Panel,
    ) -> Result<(), ReportError> {
        let mut from: Option<f64> = None;
        let ends = channel.time_s.iter().zip(&channel.usable);
        for (&t, &usable) in ends.chain(channel.time_s.last().map(|t| (t, &true))) {
            match (usable, from) {
                (false, None) => from = Some(t),
                (true, Some(start)) => {
                    let (a, b) = ((self.x(start), panel.top), (self.x(t), panel.bottom));
                    canvas.block(a, b, RGBColor(240, 241, 243))?;
                    from = None;
                }
                _ => {}
            }
        }
        Ok(())
    }

    fn curve<DB: DrawingBackend>(
        &self,
        canvas: &Canvas<DB>,
        channel: &Channel,
        values: &[f64],
        panel: &Panel,
        (ink, dash, width): (RGBColor, super::plot_canvas::Dash, f64),
    ) -> Result<(), ReportError> {
        let every = values.len().div_ceil(MOST_POINTS).max(1);
        let mut run: Vec<(f64, f64)> = Vec::new();
        for (&t, &v) in channel.time_s.iter().zip(values).step_by(every) {
            if v.is_finite() {
                run.push((self.x(t), panel.y(v)));
            } else if !run.is_empty() {
                canvas.dashed(&run, ink, width, dash)?;
                run.clear();
            }
        }
        if run.len() > 1 {
            canvas.dashed(&run, ink, width, dash)?;
        }
        Ok(())
    }
}

impl Scene for FitPicture<'_> {
    fn draw<DB: DrawingBackend>(&self, canvas: &Canvas<DB>) -> Result<(), ReportError> {
        let found = self
            .drive
            .channels
            .iter()
            .zip(&self.score.prediction.channels);
        let sensor = self.drive.sensor();
        let both = sensor.and_then(|s| found.into_iter().find(|(c, _)| std::ptr::eq(*c, s)));
        let Some((channel, model)) = both else {
            let (picture, missing) = ("fit", "the intake sensor");
            return Err(ReportError::NothingToDraw { picture, missing });
        };
        let left = (HPos::Left, VPos::Top);
        let title = format!("Intake sensor, {}", clip(&self.drive.name, 60));
        canvas.text(&title, (24.0, 14.0), 21.0, INK, left)?;
        let apart = if self.score.held_out {
            "kept apart from the fit"
        } else {
            "fitted"
        };
        let s = self.score.sensor;
        let below = format!(
            "{apart}; root mean square {:.2} K, bias {:+.2} K; grey: not compared",
            s.rmse_k, s.bias_k
        );
        canvas.text(&below, (24.0, 42.0), 14.0, SOFT, left)?;
        let ambient: Vec<f64> = channel
            .time_s
            .iter()
            .map(|&t| {
                self.drive
                    .cycle
                    .at(t)
                    .and_then(|d| d.ambient_k)
                    .unwrap_or(f64::NAN)
            })
            .collect();
        let rise = |k: &[f64]| -> Vec<f64> { k.iter().zip(&ambient).map(|(k, a)| k - a).collect() };
        let (measured, predicted) = (rise(&channel.value_k), rise(model));
        let compared = |v: &[f64]| -> Vec<f64> {
            let pairs = v.iter().zip(&channel.usable);
            pairs.map(|(v, u)| if *u { *v } else { f64::NAN }).collect()
        };
        let off: Vec<f64> = model
            .iter()
            .zip(&channel.value_k)
            .map(|(m, k)| m - k)
            .collect();
        let off = compared(&off);
        let shown = compared(&measured);
        let (low, high) = range([&shown, &compared(&predicted)]);
        let top = Panel {
            top: 92.0,
            bottom: 366.0,
            title: "K over ambient",
            low: low.min(0.0),
            high,
            steps: 6,
        };
        self.grey(canvas, channel, &top)?;
        self.panel(canvas, &top)?;
        self.curve(canvas, channel, &measured, &top, (LINES[3], DASHES[0], 2.0))?;
        self.curve(
            canvas,
            channel,
            &predicted,
            &top,
            (LINES[0], DASHES[0], 2.0),
        )?;
        for (i, (word, ink)) in [("measured", LINES[3]), ("model", LINES[0])]
            .into_iter()
            .enumerate()
        {
            let at = (LEFT + 260.0 + 110.0 * i as f64, 72.0);
            canvas.text(word, at, 14.0, ink, (HPos::Left, VPos::Center))?;
        }
        let (low, high) = range([&off, &off]);
        let far = low.abs().max(high).max(2.0);
        let middle = Panel {
            top: 402.0,
            bottom: 520.0,
            title: "model less measured, K",
            low: -far,
            high: far,
            steps: 4,
        };
        self.panel(canvas, &middle)?;
        self.curve(canvas, channel, &off, &middle, (INK, DASHES[0], 1.2))?;
        let speed: Vec<f64> = channel
            .time_s
            .iter()
            .map(|&t| {
                self.drive
                    .cycle
                    .at(t)
                    .map_or(f64::NAN, |d| d.speed_m_s * 3.6)
            })
            .collect();
        let (_, high) = range([&speed, &speed]);
        let last = Panel {
            top: 556.0,
            bottom: BOTTOM,
            title: "road speed, km/h",
            low: 0.0,
            high,
            steps: 2,
        };
        self.panel(canvas, &last)?;
        self.curve(canvas, channel, &speed, &last, (SOFT, DASHES[0], 1.2))?;
        for minute in ticks(0.0, self.length_s() / 60.0, 12, DECIMAL) {
            let x = self.x(minute * 60.0);
            canvas.line(&[(x, BOTTOM), (x, BOTTOM + 5.0)], SOFT, 1.0)?;
            canvas.text(
                &format!("{minute}"),
                (x, BOTTOM + 9.0),
                13.0,
                INK,
                (HPos::Center, VPos::Top),
            )?;
        }
        let at = ((LEFT + RIGHT) / 2.0, BOTTOM + 30.0);
        canvas.text("time, min", at, 14.0, INK, (HPos::Center, VPos::Top))
    }
}

impl Panel {
    fn y(&self, v: f64) -> f64 {
        let share = (v - self.low) / (self.high - self.low).max(1e-9);
        self.bottom - share.clamp(0.0, 1.0) * (self.bottom - self.top)
    }
}

fn range(all: [&[f64]; 2]) -> (f64, f64) {
    let finite = || {
        all.iter()
            .flat_map(|v| v.iter())
            .copied()
            .filter(|v| v.is_finite())
    };
    let low = finite().fold(f64::INFINITY, f64::min);
    let high = finite().fold(f64::NEG_INFINITY, f64::max);
    if low < high { (low, high) } else { (0.0, 1.0) }
}
