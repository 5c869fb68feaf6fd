//! Pictures of a run, the same drawing as SVG and as PNG, 1200 by 700.

use std::path::Path;
use std::sync::OnceLock;

use plotters::prelude::*;
use plotters::style::register_font;

pub use super::advice_plot::ADVICE_PICTURE;
use super::advice_plot::OfAdvice;
pub use super::hot_day_plot::HotPicture;
use super::hot_day_plot::OfHotDay;
use super::plot_canvas::{Canvas, HEIGHT, SCALE, WIDTH};
use super::plot_differences::Differences;
use super::soak_plot::OfSoak;
pub use super::soak_plot::SOAK_PICTURE;
use super::{ReportError, plot_heat, plot_time};
use crate::quantity::Units;
use crate::study::advice::Advice;
use crate::study::compare::Comparison;
use crate::study::findings::RunResult;
use crate::study::hot_day::HotDay;
use crate::study::soak::Soak;

/// DejaVu Sans, so that text needs no font of the system.
static FONT: &[u8] = include_bytes!("../../data/font/dejavu.ttf");

/// Which picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Picture {
    /// Gas, hottest skins and bay air over the cycle.
    Temperatures,
    /// Pickup, sensor and valve over ambient, over the cycle.
    IntakeRise,
    /// Where the heat of the exhaust goes.
    ExhaustHeat,
}

impl Picture {
    /// Every picture.
    pub const ALL: [Self; 3] = [Self::Temperatures, Self::IntakeRise, Self::ExhaustHeat];

    /// Name, fit for a file.
    pub fn name(self) -> &'static str {
        match self {
            Self::Temperatures => "temperatures",
            Self::IntakeRise => "intake-rise",
            Self::ExhaustHeat => "exhaust-heat",
        }
    }
}

/// Something that can be drawn on any backend.
pub(super) trait Scene {
    /// Draws it on a white page.
    fn draw<DB: DrawingBackend>(&self, canvas: &Canvas<DB>) -> Result<(), ReportError>;
}

/// A picture of a run.
struct OfRun<'a>(Picture, &'a RunResult, Units);

impl Scene for OfRun<'_> {
    fn draw<DB: DrawingBackend>(&self, canvas: &Canvas<DB>) -> Result<(), ReportError> {
        let Self(picture, run, units) = *self;
        match picture {
            Picture::Temperatures => plot_time::temperatures(canvas, run, units),
            Picture::IntakeRise => plot_time::intake_rise(canvas, run, units),
            Picture::ExhaustHeat => plot_heat::exhaust_heat(canvas, run, units),
        }
    }
}

/// The picture as SVG text.
///
/// # Errors
/// Columns that the picture needs are missing, or the drawing library fails.
pub fn svg(picture: Picture, run: &RunResult, units: Units) -> Result<String, ReportError> {
    svg_of(&OfRun(picture, run, units))
}

/// Writes the picture as PNG to `path`, whose name must end in `.png`.
///
/// # Errors
/// Columns that the picture needs are missing, or drawing or writing fails.
pub fn write_png(
    picture: Picture,
    run: &RunResult,
    units: Units,
    path: &Path,
) -> Result<(), ReportError> {
    png_of(&OfRun(picture, run, units), path)
}

/// What the options of a comparison change, as SVG text.
///
/// # Errors
/// When the drawing library fails.
pub fn differences_svg(comparison: &Comparison, units: Units) -> Result<String, ReportError> {
    svg_of(&Differences(comparison, units))
}

/// The same as PNG.
///
/// # Errors
/// When drawing or writing fails.
pub fn write_differences_png(
    comparison: &Comparison,
    units: Units,
    path: &Path,
) -> Result<(), ReportError> {
    png_of(&Differences(comparison, units), path)
}

/// A picture of a hot day, as SVG text.
///
/// # Errors
/// When the drawing library fails.
pub fn hot_day_svg(
    picture: HotPicture,
    found: &HotDay,
    units: Units,
) -> Result<String, ReportError> {
    svg_of(&OfHotDay(picture, found, units))
}

/// The same as PNG.
///
/// # Errors
/// When drawing or writing fails.
pub fn write_hot_day_png(
    picture: HotPicture,
    found: &HotDay,
    units: Units,
    path: &Path,
) -> Result<(), ReportError> {
    png_of(&OfHotDay(picture, found, units), path)
}

/// A soak and its restart, as SVG text.
///
/// # Errors
/// When the drawing library fails.
pub fn soak_svg(found: &Soak, units: Units) -> Result<String, ReportError> {
    svg_of(&OfSoak(found, units))
}

/// The same as PNG.
///
/// # Errors
/// When drawing or writing fails.
pub fn write_soak_png(found: &Soak, units: Units, path: &Path) -> Result<(), ReportError> {
    png_of(&OfSoak(found, units), path)
}

/// What each measure buys after key-off, as SVG text.
///
/// # Errors
/// When the drawing library fails.
pub fn advice_svg(found: &Advice, units: Units) -> Result<String, ReportError> {
    svg_of(&OfAdvice(found, units))
}

/// The same as PNG.
///
/// # Errors
/// When drawing or writing fails.
pub fn write_advice_png(found: &Advice, units: Units, path: &Path) -> Result<(), ReportError> {
    png_of(&OfAdvice(found, units), path)
}

pub(super) fn svg_of(scene: &impl Scene) -> Result<String, ReportError> {
    font()?;
    let (wide, high) = (WIDTH * SCALE, HEIGHT * SCALE);
    let mut text = String::new();
    {
        let area = SVGBackend::with_string(&mut text, (wide, high)).into_drawing_area();
        let canvas = Canvas::new(area);
        canvas.fill_white()?;
        scene.draw(&canvas)?;
        canvas.finish()?;
    }
    // coordinates are whole numbers, so it is drawn larger and shown at its own size
    let large = format!("width=\"{wide}\" height=\"{high}\"");
    let small = format!("width=\"{WIDTH}\" height=\"{HEIGHT}\"");
    Ok(text.replacen(&large, &small, 1))
}

pub(super) fn png_of(scene: &impl Scene, path: &Path) -> Result<(), ReportError> {
    font()?;
    let (wide, high) = (WIDTH * SCALE, HEIGHT * SCALE);
    let mut large = vec![0u8; (wide * high * 3) as usize];
    {
        let area = BitMapBackend::with_buffer(&mut large, (wide, high)).into_drawing_area();
        let canvas = Canvas::new(area);
        canvas.fill_white()?;
        scene.draw(&canvas)?;
        canvas.finish()?;
    }
    let small = shrink(&large);
    let mut file = BitMapBackend::new(path, (WIDTH, HEIGHT));
    file.blit_bitmap((0, 0), (WIDTH, HEIGHT), &small)
        .and_then(|()| file.present())
        .map_err(|e| ReportError::Drawing(format!("{}: {e}", path.display())))
}

/// Mean of each square of pixels: smooth edges, which the bitmap drawer doesn't make by itself.
fn shrink(large: &[u8]) -> Vec<u8> {
    const CHANNELS: usize = 3;
    const SQUARE: u16 = (SCALE * SCALE) as u16;
    let (scale, row) = (SCALE as usize, WIDTH as usize * CHANNELS);
    let mut small = Vec::with_capacity(HEIGHT as usize * row);
    let mut sums = vec![0u16; row];
    for rows in large.chunks_exact(scale * scale * row) {
        sums.fill(0);
        for row in rows.chunks_exact(scale * row) {
            let squares = row.chunks_exact(scale * CHANNELS);
            for (sum, pixels) in sums.chunks_exact_mut(CHANNELS).zip(squares) {
                for pixel in pixels.chunks_exact(CHANNELS) {
                    for (sum, &channel) in sum.iter_mut().zip(pixel) {
                        *sum += u16::from(channel);
                    }
                }
            }
        }
        // a mean of bytes is one
        small.extend(sums.iter().map(|sum| (sum / SQUARE) as u8));
    }
    small
}

/// Registers the bundled font once.
fn font() -> Result<(), ReportError> {
    static DONE: OnceLock<bool> = OnceLock::new();
    let done = DONE.get_or_init(|| register_font("sans-serif", FontStyle::Normal, FONT).is_ok());
    if *done {
        return Ok(());
    }
    Err(ReportError::Drawing(
        "the bundled font can't be read".into(),
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::sample::run_result;

    #[test]
    fn every_picture_is_drawn_with_its_labels() {
        let run = run_result();
        let needed = [
            (
                Picture::Temperatures,
                ["degC", "min", "motorway", "skin, turbine", "bay air, hot"],
            ),
            (
                Picture::IntakeRise,
                ["K over ambient", "min", "hot restart", "sensor", "valve"],
            ),
            (
                Picture::ExhaustHeat,
                ["W", "out of the tailpipe", "11800", "radiation", "runners"],
            ),
        ];
        for (picture, words) in needed {
            let text = svg(picture, &run, Units::Metric).unwrap();
            assert!(text.contains("width=\"1200\" height=\"700\""));
            for word in words {
                assert!(text.contains(word), "{} lacks {word}", picture.name());
            }
        }
    }

    #[test]
    fn imperial_pictures_carry_imperial_units() {
        let run = run_result();
        let text = svg(Picture::Temperatures, &run, Units::Imperial).unwrap();
        assert!(text.contains("degF") && !text.contains("degC"));
        let text = svg(Picture::ExhaustHeat, &run, Units::Imperial).unwrap();
        assert!(text.contains("Btu/h"));
    }

    #[test]
    fn a_png_is_written_and_not_blank() {
        let folder = tempfile::tempdir().unwrap();
        for picture in Picture::ALL {
            let path = folder.path().join(format!("{}.png", picture.name()));
            write_png(picture, &run_result(), Units::Metric, &path).unwrap();
            let bytes = std::fs::read(&path).unwrap();
            assert_eq!(bytes[..8], *b"\x89PNG\r\n\x1a\n");
            // a blank page of this size packs into a few kilobytes
            assert!(bytes.len() > 12_000, "{} {}", picture.name(), bytes.len());
        }
    }

    #[test]
    fn a_bad_path_and_missing_columns_are_errors() {
        let mut run = run_result();
        let path = Path::new("no/such/folder/x.png");
        assert!(write_png(Picture::IntakeRise, &run, Units::Metric, path).is_err());
        run.series.names[0] = "other".into();
        for row in &mut run.series.rows {
            row.truncate(1);
        }
        run.series.names.truncate(1);
        let error = svg(Picture::IntakeRise, &run, Units::Metric).unwrap_err();
        assert!(error.to_string().contains("intake-rise"), "{error}");
    }
}
