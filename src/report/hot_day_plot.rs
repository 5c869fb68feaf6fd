//! Pictures of a hot day: power as heat maps, intake air as curves.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::ReportError;
use super::grid::clip;
use super::hot_day_terminal::{distinct, place};
use super::plot::Scene;
use super::plot_axes::{Axes, Curve, reach, roomy};
use super::plot_canvas::{Canvas, DASHES, INK, LINES, SOFT};
use crate::quantity::{Quantity, Units};
use crate::study::findings::Figure;
use crate::study::hot_day::{Cell, HotDay};

/// Picture of a hot day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HotPicture {
    /// Power over ambient, humidity and altitude, a map for each situation and option.
    Maps,
    /// Sensor and power over ambient, a curve for each situation.
    Curves,
}

impl HotPicture {
    /// Every picture.
    pub const ALL: [Self; 2] = [Self::Maps, Self::Curves];

    /// Name, fit for a file.
    pub fn name(self) -> &'static str {
        match self {
            Self::Maps => "hot-day-maps",
            Self::Curves => "hot-day-curves",
        }
    }
}

/// A picture of a hot day.
pub(super) struct OfHotDay<'a>(pub HotPicture, pub &'a HotDay, pub Units);

const LEFT: f64 = 118.0;
const RIGHT: f64 = 1176.0;
const TOP: f64 = 104.0;
const BOTTOM: f64 = 632.0;
/// Options that have room in the maps.
const MOST_OPTIONS: usize = 4;

/// Dark to light: little power to much. Lightness alone tells the order, so it survives grey and
/// every colour weakness.
const RAMP: [(f64, RGBColor); 4] = [
    (0.0, RGBColor(58, 16, 70)),
    (0.4, RGBColor(168, 48, 62)),
    (0.75, RGBColor(232, 146, 62)),
    (1.0, RGBColor(250, 238, 200)),
];

fn ramp(share: f64) -> RGBColor {
    let share = share.clamp(0.0, 1.0);
    let next = RAMP
        .iter()
        .position(|(s, _)| *s >= share)
        .unwrap_or(3)
        .max(1);
    let ((s0, a), (s1, b)) = (RAMP[next - 1], RAMP[next]);
    let w = (share - s0) / (s1 - s0);
    let mix = |a: u8, b: u8| (f64::from(a) + w * (f64::from(b) - f64::from(a))).round() as u8;
    RGBColor(mix(a.0, b.0), mix(a.1, b.1), mix(a.2, b.2))
}

impl Scene for OfHotDay<'_> {
    fn draw<DB: DrawingBackend>(&self, canvas: &Canvas<DB>) -> Result<(), ReportError> {
        let Self(picture, found, units) = *self;
        let left = (HPos::Left, VPos::Center);
        let title = match picture {
            HotPicture::Maps if found.by_hour => "Power at full throttle by the hour",
            HotPicture::Curves if found.by_hour => "Intake air by the hour",
            HotPicture::Maps => "Power at full throttle, % of the rating, by density of dry air",
            HotPicture::Curves => "Intake air and power over ambient temperature",
        };
        canvas.text(title, (24.0, 30.0), 23.0, INK, left)?;
        canvas.text(
            &clip(&found.sheet.title, 90),
            (24.0, 58.0),
            14.0,
            SOFT,
            left,
        )?;
        match picture {
            _ if found.by_hour => by_hour(canvas, found, picture, units),
            HotPicture::Maps => maps(canvas, found, units),
            HotPicture::Curves => curves(canvas, found, units),
        }
    }
}

fn power(cell: &Cell) -> f64 {
    cell.figure("power_percent", "density")
        .map_or(f64::NAN, |f| f.value)
}

fn maps<DB: DrawingBackend>(
    canvas: &Canvas<DB>,
    found: &HotDay,
    units: Units,
) -> Result<(), ReportError> {
    let options = &found.options[..found.options.len().min(MOST_OPTIONS)];
    let (across, down) = (found.situations.len().max(1), options.len());
    let wide = (RIGHT - LEFT - 14.0 * (across - 1) as f64) / across as f64;
    let high = (BOTTOM - TOP - 34.0 * (down - 1) as f64) / down as f64;
    let all = found.cells.iter().map(power);
    let (low, top) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| {
        (l.min(v), h.max(v))
    });
    let share = |v: f64| (v - low) / (top - low).max(1.0);
    for (row, option) in options.iter().enumerate() {
        for (column, situation) in found.situations.iter().enumerate() {
            let corner = (
                LEFT + column as f64 * (wide + 14.0),
                TOP + row as f64 * (high + 34.0),
            );
            let cells: Vec<&Cell> = found
                .cells
                .iter()
                .filter(|c| c.option == *option && c.situation == situation.name)
                .collect();
            let title = if down == 1 {
                situation.name.clone()
            } else {
                format!("{}, {option}", situation.name)
            };
            let above = (corner.0, corner.1 - 10.0);
            canvas.text(
                &clip(&title, 27),
                above,
                13.0,
                INK,
                (HPos::Left, VPos::Center),
            )?;
            let ambients = distinct(cells.iter().map(|c| c.ambient_c));
            let airs = distinct(cells.iter().map(|c| (c.altitude_m, c.humidity_percent)));
            let size = (wide / ambients.len() as f64, high / airs.len() as f64);
            for cell in &cells {
                let at = |v: Option<usize>| v.unwrap_or(0) as f64;
                let x = at(ambients.iter().position(|a| *a == cell.ambient_c));
                let air = (cell.altitude_m, cell.humidity_percent);
                let y = at(airs.iter().position(|a| *a == air));
                let from = (corner.0 + x * size.0, corner.1 + y * size.1);
                let to = (from.0 + size.0 - 1.5, from.1 + size.1 - 1.5);
                let ink = ramp(share(power(cell)));
                canvas.block(from, to, ink)?;
                let bright =
                    0.3 * f64::from(ink.0) + 0.59 * f64::from(ink.1) + 0.11 * f64::from(ink.2);
                let on = if bright > 130.0 { INK } else { WHITE };
                let mark = if cell.compressor_limited { " c" } else { "" };
                let middle = ((from.0 + to.0) / 2.0, (from.1 + to.1) / 2.0);
                let text = format!("{:.0}{mark}", power(cell));
                canvas.text(&text, middle, 13.0, on, (HPos::Center, VPos::Center))?;
            }
            if column == 0 {
                for (y, (altitude, humidity)) in airs.iter().enumerate() {
                    let place = altitude.map_or_else(String::new, |m| format!("{m:.0} m, "));
                    let at = (LEFT - 8.0, corner.1 + (y as f64 + 0.5) * size.1);
                    let text = format!("{place}{humidity:.0} %");
                    canvas.text(&text, at, 12.0, INK, (HPos::Right, VPos::Center))?;
                }
            }
            if row + 1 == down {
                for (x, ambient) in ambients.iter().enumerate() {
                    let at = (corner.0 + (x as f64 + 0.5) * size.0, corner.1 + high + 12.0);
                    let text = Quantity::Temperature.number(*ambient, units);
                    canvas.text(&text, at, 13.0, INK, (HPos::Center, VPos::Center))?;
                }
            }
        }
    }
    let left_out = match found.options.len() - options.len() {
        0 => String::new(),
        more => format!("; {more} more in the tables"),
    };
    let words = format!(
        "across: ambient, {}; down: altitude and humidity; c: the compressor can't hold the manifold pressure{left_out}",
        Quantity::Temperature.unit(units)
    );
    canvas.text(
        &words,
        (LEFT, BOTTOM + 42.0),
        13.0,
        SOFT,
        (HPos::Left, VPos::Center),
    )
}

/// Title, id, place, quantity, left and right edge of a panel of curves.
type Panel = (String, &'static str, &'static str, Quantity, (f64, f64));

fn curves<DB: DrawingBackend>(
    canvas: &Canvas<DB>,
    found: &HotDay,
    units: Units,
) -> Result<(), ReportError> {
    let Some(air) = found.cells.first() else {
        return Ok(());
    };
    let temp = Quantity::Temperature.unit(units);
    let panels: [Panel; 2] = [
        (
            format!("sensor, {temp}"),
            "intake_c",
            "sensor",
            Quantity::Temperature,
            (70.0, 430.0),
        ),
        (
            "power by density, % of the rating".into(),
            "power_percent",
            "density",
            Quantity::Percent,
            (640.0, 1000.0),
        ),
    ];
    let mut words = format!("{:.0} % humid", air.humidity_percent);
    if let Some(m) = air.altitude_m {
        words.push_str(&format!(", {m:.0} m"));
    }
    if let [first, second, ..] = found.options.as_slice() {
        words.push_str(&format!("; thick: {first}, thin: {second}"));
    }
    if found.draws.is_some() {
        words.push_str("; bars: 10 to 90 % of the draws");
    }
    canvas.text(&words, (24.0, 78.0), 13.0, SOFT, (HPos::Left, VPos::Center))?;
    let at_air =
        |c: &&Cell| c.altitude_m == air.altitude_m && c.humidity_percent == air.humidity_percent;
    let cells: Vec<&Cell> = found.cells.iter().filter(at_air).collect();
    let below = format!("ambient, {temp}");
    let ambient = |c: &Cell| Quantity::Temperature.convert(c.ambient_c, units);
    for (title, id, place, quantity, (left, right)) in &panels {
        let curves = panel_curves(found, &cells, (id, place, *quantity), units);
        let values = curves.iter().flat_map(|c| {
            let bars = c.bars.iter().flat_map(|b| [b.1, b.2]);
            c.points.iter().map(|p| p.1).chain(bars)
        });
        let axes = Axes {
            title,
            below: &below,
            place: (*left, TOP + 22.0, *right, BOTTOM),
            x: reach(cells.iter().map(|c| ambient(c))),
            y: roomy(values),
        };
        axes.draw(canvas, &curves)?;
    }
    Ok(())
}

/// Power, or the sensor with the outside air, over the hours.
fn by_hour<DB: DrawingBackend>(
    canvas: &Canvas<DB>,
    found: &HotDay,
    picture: HotPicture,
    units: Units,
) -> Result<(), ReportError> {
    let (id, place, quantity, title) = match picture {
        HotPicture::Maps => {
            let title = "by density, % of the rating".to_owned();
            ("power_percent", "density", Quantity::Percent, title)
        }
        HotPicture::Curves => {
            let title = format!("sensor, {}", Quantity::Temperature.unit(units));
            ("intake_c", "sensor", Quantity::Temperature, title)
        }
    };
    let first: Vec<&Cell> = found
        .cells
        .iter()
        .filter(|c| c.option == found.options[0])
        .collect();
    let days = distinct(first.iter().map(|c| &c.day));
    let hour = |c: &Cell| {
        days.iter()
            .position(|d| **d == c.day)
            .map_or(f64::NAN, |i| i as f64)
    };
    let of = |i: usize, name: &str, value: &dyn Fn(&Cell) -> Option<f64>| Curve {
        label: name.to_owned(),
        points: first
            .iter()
            .filter(|c| {
                found
                    .situations
                    .get(i)
                    .is_none_or(|s| s.name == c.situation)
            })
            .take(days.len())
            .filter_map(|c| Some((hour(c), quantity.convert(value(c)?, units))))
            .collect(),
        bars: Vec::new(),
        ink: LINES.get(i).copied().unwrap_or(SOFT),
        dash: DASHES[i % DASHES.len()],
        width: 2.5,
    };
    let figure = |c: &Cell| Some(c.figure(id, place)?.value);
    let named = found.situations.iter().enumerate();
    let mut curves: Vec<Curve> = named.map(|(i, s)| of(i, &s.name, &figure)).collect();
    if picture == HotPicture::Curves {
        curves.push(of(found.situations.len(), "outside", &|c| {
            Some(c.ambient_c)
        }));
    }
    let axes = Axes {
        title: &title,
        below: "hours from the first",
        place: (70.0, TOP + 22.0, 1000.0, BOTTOM),
        x: reach(curves.iter().flat_map(|c| c.points.iter().map(|p| p.0))),
        y: roomy(curves.iter().flat_map(|c| c.points.iter().map(|p| p.1))),
    };
    axes.draw(canvas, &curves)
}

/// A curve for each situation, thick for the first option and thin for the second.
fn panel_curves(
    found: &HotDay,
    cells: &[&Cell],
    (id, place, quantity): (&str, &str, Quantity),
    units: Units,
) -> Vec<Curve> {
    let show = |v: f64| quantity.convert(v, units);
    let ambient = |c: &Cell| Quantity::Temperature.convert(c.ambient_c, units);
    let mut curves = Vec::new();
    for (i, situation) in found.situations.iter().enumerate() {
        for (o, option) in found.options.iter().take(2).enumerate() {
            let own = cells
                .iter()
                .filter(|c| c.situation == situation.name && c.option == *option);
            let own: Vec<(f64, &Figure)> = own
                .filter_map(|c| Some((ambient(c), c.figure(id, place)?)))
                .collect();
            let bars = own.iter().filter(|_| o == 0);
            curves.push(Curve {
                label: if o == 0 {
                    situation.name.clone()
                } else {
                    String::new()
                },
                points: own.iter().map(|(a, f)| (*a, show(f.value))).collect(),
                bars: bars
                    .filter_map(|(a, f)| Some((*a, show(f.low?), show(f.high?))))
                    .collect(),
                ink: LINES[i % LINES.len()],
                dash: DASHES[i % DASHES.len()],
                width: if o == 0 { 3.0 } else { 1.5 },
            });
        }
    }
    curves
}

/// Words for the worst cell, under the pictures of a page.
pub(super) fn caption(found: &HotDay, units: Units) -> String {
    let worst = found
        .cells
        .iter()
        .min_by(|a, b| power(a).total_cmp(&power(b)));
    worst.map_or_else(String::new, |c| format!("Least power: {}", place(c, units)))
}
