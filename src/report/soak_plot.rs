//! Picture of a soak and its restart.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::ReportError;
use super::grid::clip;
use super::plot::Scene;
use super::plot_axes::{Axes, Curve, reach, roomy};
use super::plot_canvas::{Canvas, DASHES, INK, LINES, SOFT};
use super::soak_terminal::parked;
use crate::quantity::{Quantity, Units};
use crate::study::soak::{Item, Soak};

/// Name of the picture, fit for a file.
pub const SOAK_PICTURE: &str = "soak";
/// Curves that a panel has room for.
const MOST: usize = 5;

/// The picture.
pub(super) struct OfSoak<'a>(pub &'a Soak, pub Units);

/// Curves of items over minutes, hottest first.
fn curves(found: &Soak, wanted: impl Fn(&Item) -> bool, units: Units) -> Vec<Curve> {
    let mut items: Vec<&Item> = found.items.iter().filter(|i| wanted(i)).collect();
    // what the intake is judged by comes first, then the hottest
    let judged = |i: &Item| i.name == "sensor" || i.name == "air at the sensor";
    items.sort_by(|a, b| {
        judged(b)
            .cmp(&judged(a))
            .then(b.peak_c.total_cmp(&a.peak_c))
    });
    let show = |c: f64| Quantity::Temperature.convert(c, units);
    let of = |(i, item): (usize, &&Item)| Curve {
        label: item.name.clone(),
        points: found
            .minutes
            .iter()
            .zip(&item.temperatures_c)
            .map(|(m, c)| (*m, show(*c)))
            .collect(),
        bars: Vec::new(),
        ink: LINES[i],
        dash: DASHES[i],
        width: 2.5,
    };
    items.iter().take(MOST).enumerate().map(of).collect()
}

impl Scene for OfSoak<'_> {
    fn draw<DB: DrawingBackend>(&self, canvas: &Canvas<DB>) -> Result<(), ReportError> {
        let Self(found, units) = *self;
        let left = (HPos::Left, VPos::Center);
        canvas.text(
            "After key-off, and the restart",
            (24.0, 30.0),
            23.0,
            INK,
            left,
        )?;
        canvas.text(
            &clip(&found.sheet.title, 90),
            (24.0, 58.0),
            14.0,
            SOFT,
            left,
        )?;
        canvas.text(
            &clip(&parked(found, units), 140),
            (24.0, 78.0),
            13.0,
            SOFT,
            left,
        )?;
        let unit = Quantity::Temperature.unit(units);
        let end = (0.0, found.parked.minutes);
        let intake = |i: &Item| i.group == "intake";
        let warm = |i: &Item| i.group == "fluid" || i.group == "nearby part";
        let panels = [
            (
                format!("exhaust skins, {unit}"),
                curves(found, |i| i.group == "exhaust", units),
                (64.0, 132.0, 410.0, 330.0),
            ),
            (
                format!("fluids and nearby parts, {unit}"),
                curves(found, warm, units),
                (664.0, 132.0, 1010.0, 330.0),
            ),
            (
                format!("intake parts and air, {unit}"),
                curves(found, intake, units),
                (64.0, 428.0, 410.0, 626.0),
            ),
        ];
        for (title, curves, place) in &panels {
            let axes = Axes {
                title,
                below: "min after key-off",
                place: *place,
                x: end,
                y: roomy(curves.iter().flat_map(|c| c.points.iter().map(|p| p.1))),
            };
            axes.draw(canvas, curves)?;
        }
        let Some(restart) = &found.restart else {
            return Ok(());
        };
        let show = |k: f64| Quantity::Difference.convert(k, units);
        let curve = |label: &str, i: usize, points: Vec<(f64, f64)>| Curve {
            label: label.to_owned(),
            points,
            bars: Vec::new(),
            ink: LINES[i],
            dash: DASHES[i],
            width: 2.5,
        };
        let minutes = |s: f64| s / 60.0;
        let rises = &restart.rises;
        let restarted = [
            curve(
                "sensor",
                3,
                rises
                    .iter()
                    .map(|r| (minutes(r.time_s), show(r.sensor_k)))
                    .collect(),
            ),
            curve(
                "valve",
                0,
                rises
                    .iter()
                    .map(|r| (minutes(r.time_s), show(r.valve_k)))
                    .collect(),
            ),
        ];
        let title = format!(
            "restart: over ambient, {}",
            Quantity::Difference.unit(units)
        );
        let axes = Axes {
            title: &title,
            below: "min after the restart",
            place: (664.0, 428.0, 1010.0, 626.0),
            x: reach(rises.iter().map(|r| minutes(r.time_s)).chain([0.0])),
            y: roomy(
                restarted
                    .iter()
                    .flat_map(|c| c.points.iter().map(|p| p.1))
                    .chain([0.0]),
            ),
        };
        axes.draw(canvas, &restarted)
    }
}
