//! A hot day on the screen.

use super::grid::{Align, clip, grid, wrap};
use super::page::{Page, TEXT, WIDE};
use super::terminal::CARE;
use super::{PLAIN, QUIET, STRONG};
use crate::quantity::{Quantity, Units};
use crate::study::findings::Figure;
use crate::study::hot_day::{Cell, HotDay};

/// Thinner air than this is worth a word about corrections of boosted engines [kPa].
const THIN_AIR_KPA: f64 = 95.0;
/// Warnings shown.
const MOST_WARNINGS: usize = 3;

/// A row of the tables.
struct Row {
    label: &'static str,
    id: &'static str,
    place: &'static str,
    quantity: Quantity,
    /// Vapour matters to it: a row for each humidity.
    by_humidity: bool,
    /// Shown for the other options too, as a difference.
    for_options: bool,
}

const fn row(
    label: &'static str,
    id: &'static str,
    place: &'static str,
    quantity: Quantity,
    by_humidity: bool,
    for_options: bool,
) -> Row {
    Row {
        label,
        id,
        place,
        quantity,
        by_humidity,
        for_options,
    }
}

const ROWS: [Row; 9] = [
    row(
        "pickup",
        "intake_c",
        "pickup",
        Quantity::Temperature,
        false,
        false,
    ),
    row(
        "sensor",
        "intake_c",
        "sensor",
        Quantity::Temperature,
        false,
        true,
    ),
    row(
        "valve",
        "intake_c",
        "valve",
        Quantity::Temperature,
        false,
        false,
    ),
    row(
        "full throttle",
        "full_throttle_charge_c",
        "valve",
        Quantity::Temperature,
        false,
        true,
    ),
    row(
        "dry air",
        "charge_density_kg_m3",
        "valve",
        Quantity::Percent,
        true,
        false,
    ),
    row(
        "power by density",
        "power_percent",
        "density",
        Quantity::Percent,
        true,
        true,
    ),
    row(
        "power by standard",
        "power_percent",
        "standard",
        Quantity::Percent,
        true,
        true,
    ),
    row(
        "corrected, room",
        "corrected_percent",
        "ISO 1585, room",
        Quantity::Percent,
        true,
        false,
    ),
    row(
        "corrected, sensor",
        "corrected_percent",
        "ISO 1585, sensor",
        Quantity::Percent,
        true,
        false,
    ),
];

/// The screen for a hot day, with ANSI styles.
pub fn render(found: &HotDay, units: Units) -> String {
    let mut page = Page::default();
    page.put("build", STRONG, &[clip(&found.sheet.title, TEXT)]);
    let rating = &found.rating;
    let words = format!(
        "{:.0} kW with a charge of {} at the valve and {:.3} kg/m3 of dry air in it",
        rating.power_kw,
        Quantity::Temperature.show(rating.charge_c, units),
        rating.charge_density_kg_m3
    );
    page.put("rating", PLAIN, &wrap(&words, TEXT));
    let day = &found.day;
    let words = format!(
        "of {}: {:.0} W/m2, wind {}",
        day.name,
        day.sun_w_m2,
        Quantity::AirSpeed.show(day.wind_m_s, units)
    );
    if !found.by_hour {
        page.put("sun", PLAIN, &wrap(&words, TEXT));
    }
    page.gap();
    page.headline(headline(found, units));
    if found.by_hour {
        page.gap();
        let rows = hours(found, units);
        let columns = vec![Align::Right; rows[0].len()];
        page.table(&rows, &columns);
    }
    for situation in found.situations.iter().filter(|_| !found.by_hour) {
        page.gap();
        let title = format!("{}: {}", situation.name, situation.what);
        page.whole(STRONG, &clip(&title, WIDE));
        let rows = table(found, &situation.name, units);
        let mut columns = vec![Align::Name; 4];
        columns.extend(vec![Align::Right; rows[0].len() - 4]);
        for (i, line) in grid(&rows, &columns, WIDE).iter().enumerate() {
            page.whole(if i == 0 { QUIET } else { PLAIN }, line);
        }
    }
    page.gap();
    page.put(
        "key",
        QUIET,
        &key(found)
            .iter()
            .flat_map(|l| wrap(l, TEXT))
            .collect::<Vec<_>>(),
    );
    let mut warnings: Vec<&String> = found.cells.iter().flat_map(|c| &c.warnings).collect();
    warnings.sort();
    // the same of many cells is one: what stands before the numbers tells
    let what = |w: &str| w.split(": ").next().unwrap_or_default().to_owned();
    warnings.dedup_by(|a, b| what(a) == what(b));
    let shown = warnings.iter().take(MOST_WARNINGS);
    page.put(
        "beware",
        PLAIN,
        &shown.flat_map(|w| wrap(w, TEXT)).collect::<Vec<_>>(),
    );
    let mut outside: Vec<&String> = found
        .cells
        .iter()
        .flat_map(|c| &c.outside_standards)
        .collect();
    outside.sort();
    // one for each standard and place
    outside.dedup_by(|a, b| a.split("'s").next() == b.split("'s").next());
    let words: Vec<String> = outside
        .iter()
        .take(4)
        .map(|o| format!("e.g. {o}"))
        .collect();
    page.put(
        "outside",
        PLAIN,
        &words.iter().flat_map(|w| wrap(w, TEXT)).collect::<Vec<_>>(),
    );
    page.put("care", PLAIN, &wrap(CARE, TEXT));
    page.into_text()
}

fn key(found: &HotDay) -> Vec<String> {
    if found.by_hour {
        let key = "Sensor as driven, and power at full throttle, % of the rating by density, of the car as it is. All else, \
                   options too, is in the JSON and CSV. Hours of a clear day are solar time.";
        return vec![key.into()];
    }
    let mut key = vec![
        "pickup, sensor, valve: mean temperatures as driven. full throttle: the charge at the valve if it \
         is asked for then. dry air: in that charge, % of the rating's. Power at full throttle, % of the \
         rating, as two bounds: all of the temperature counts (density), or its power 0.6 (0.45 diesel) as the \
         standard correction has it. c: the compressor can't hold the manifold pressure. \
         Corrected: what a rolling road shows for the power by density, by ISO 1585 with the temperature outside or at \
         the sensor; SAE J1349 and DIN 70020 are in the JSON and CSV."
            .to_owned(),
    ];
    if found.options.len() > 1 {
        key.push(format!(
            "Rows of options are differences against {}.",
            found.options[0]
        ));
    }
    if let Some(draws) = &found.draws {
        key.push(format!(
            "Second lines: 10 to 90 % of {} draws shared by all cells and options, seed {}; {} failed.",
            draws.wanted, draws.seed, draws.failed
        ));
    }
    key
}

/// Where a cell is, in words.
pub(super) fn place(cell: &Cell, units: Units) -> String {
    let named = cell.altitude_m.is_none();
    let when = if named {
        format!(" {},", cell.day)
    } else {
        String::new()
    };
    let mut words = format!(
        "{} at{when} {}, {:.0} % humid",
        cell.situation,
        Quantity::Temperature.show(cell.ambient_c, units),
        cell.humidity_percent
    );
    match cell.altitude_m {
        Some(m) => words.push_str(&format!(", {m:.0} m")),
        None => words.push_str(&format!(
            ", {}",
            Quantity::Pressure.show(cell.pressure_kpa, units)
        )),
    }
    words
}

fn value(cell: &Cell, id: &str, place: &str) -> f64 {
    cell.figure(id, place).map_or(f64::NAN, |f| f.value)
}

/// The cell of an option with the least of something.
fn least<'c>(found: &'c HotDay, option: &str, of: impl Fn(&Cell) -> f64) -> Option<&'c Cell> {
    let cells = found.cells.iter().filter(|c| c.option == option);
    cells.min_by(|a, b| of(a).total_cmp(&of(b)))
}

/// Word, alarm, words: what decides.
pub(super) fn headline(found: &HotDay, units: Units) -> Vec<(&'static str, bool, String)> {
    let mut out = Vec::new();
    let first = &found.options[0];
    let temp = |c: f64| Quantity::Temperature.show(c, units);
    if let Some(cell) = least(found, first, |c| -value(c, "intake_c", "sensor")) {
        let words = format!(
            "{} at the sensor, {} over ambient: {}",
            temp(value(cell, "intake_c", "sensor")),
            Quantity::Difference.show(value(cell, "intake_rise_k", "sensor"), units),
            place(cell, units)
        );
        out.push(("hottest", false, words));
    }
    if let Some(cell) = least(found, first, |c| value(c, "power_percent", "density")) {
        let percent = |place: &str| value(cell, "power_percent", place);
        let words = format!(
            "{:.0} % (density) to {:.0} % (standard) of the rating with {} at the valve: {}",
            percent("density"),
            percent("standard"),
            temp(value(cell, "full_throttle_charge_c", "valve")),
            place(cell, units)
        );
        out.push(("weakest", false, words));
        out.push(("rolling", false, rolling_road(found, cell, units)));
        let same = found
            .cells
            .iter()
            .filter(|c| c.option != *first && place(c, units) == place(cell, units));
        let gain = |c: &Cell| {
            c.difference("power_percent", "density")
                .map_or(f64::NAN, |d| d.value)
        };
        if let Some(best) = same.max_by(|a, b| gain(a).total_cmp(&gain(b)))
            && gain(best) > 0.05
        {
            let sure = best
                .difference("power_percent", "density")
                .and_then(|d| d.sign_chance_percent)
                .map_or_else(String::new, |c| format!(", better in {c:.0} % of draws"));
            let words = format!(
                "{} gives {:.1} points of power there{sure}",
                best.option,
                gain(best)
            );
            out.push(("best", false, words));
        }
    }
    for option in &found.options {
        let of = |c: &Cell| c.tightest.as_ref().map_or(f64::INFINITY, |m| m.margin_k);
        let own = || found.cells.iter().filter(|c| c.option == *option);
        let over = own().filter(|c| of(c) < 0.0).count();
        if let (true, Some(worst)) = (over > 0, least(found, option, of))
            && let Some(m) = &worst.tightest
        {
            let words = format!(
                "{option}: in {over} of {} cells; worst {} ({}): {} where {} is the limit, {}",
                own().count(),
                m.part,
                m.what,
                temp(m.peak_c),
                temp(m.limit_c),
                place(worst, units)
            );
            out.push(("over", true, words));
        }
    }
    out
}

/// What a rolling road makes of a cell by ISO 1585: the heat that it hides, the power that it invents.
fn rolling_road(found: &HotDay, cell: &Cell, units: Units) -> String {
    let temp = |c: f64| Quantity::Temperature.show(c, units);
    let of = |place: &str| value(cell, "corrected_percent", place);
    let (room, sensor) = (of("ISO 1585, room"), of("ISO 1585, sensor"));
    let mut words = format!(
        "a rolling road that corrects this by ISO 1585 shows {room:.0} % with the outside air's {} and {sensor:.0} % \
         with the sensor's {}: {:.1} points that the wheels never had. The standards mean the air ahead of the filter",
        temp(cell.ambient_c),
        temp(value(cell, "intake_c", "sensor")),
        sensor - room
    );
    let thin = cell.pressure_kpa < THIN_AIR_KPA && found.rating.boosted;
    if thin {
        let added = room - value(cell, "power_percent", "density");
        words.push_str(&format!(
            ". It adds {added:.0} points for thin air that boost control has made up for already, as far as the compressor can"
        ));
    }
    if let Some(outside) = cell
        .outside_standards
        .iter()
        .find(|o| o.starts_with("ISO 1585"))
    {
        words.push_str(&format!(". {outside}"));
    }
    words
}

/// Values that cells have, each once, in order.
pub(super) fn distinct<T: PartialEq>(of: impl Iterator<Item = T>) -> Vec<T> {
    let mut out = Vec::new();
    for value in of {
        if !out.contains(&value) {
            out.push(value);
        }
    }
    out
}

/// What a row shows of a cell: dry air as a share of the rating's.
fn shown(found: &HotDay, row: &Row, v: f64, units: Units) -> String {
    let v = if row.id == "charge_density_kg_m3" {
        100.0 * v / found.rating.charge_density_kg_m3
    } else {
        v
    };
    row.quantity.number(v, units)
}

fn table(found: &HotDay, situation: &str, units: Units) -> Vec<Vec<String>> {
    let cells: Vec<&Cell> = found
        .cells
        .iter()
        .filter(|c| c.situation == situation)
        .collect();
    let ambients = distinct(cells.iter().map(|c| c.ambient_c));
    let degree = Quantity::Temperature;
    let mut rows = vec![vec![
        format!("ambient, {}", degree.unit(units)),
        String::new(),
        String::new(),
        String::new(),
    ]];
    rows[0].extend(ambients.iter().map(|a| degree.number(*a, units)));
    for altitude in distinct(cells.iter().map(|c| c.altitude_m)) {
        let humidities = distinct(cells.iter().map(|c| c.humidity_percent));
        for (o, option) in found.options.iter().enumerate() {
            for row in ROWS.iter().filter(|r| o == 0 || r.for_options) {
                let several = if row.by_humidity { humidities.len() } else { 1 };
                for (h, humidity) in humidities.iter().take(several).enumerate() {
                    let at = |ambient: f64| {
                        cells.iter().find(|c| {
                            c.option == *option
                                && c.altitude_m == altitude
                                && (c.humidity_percent - humidity).abs() < 1e-9
                                && (c.ambient_c - ambient).abs() < 1e-9
                        })
                    };
                    let line = |label: &str| {
                        let metres = altitude.map_or_else(String::new, |m| format!("{m:.0} m"));
                        let humid = if row.by_humidity {
                            format!("{humidity:.0} %")
                        } else {
                            String::new()
                        };
                        let option = if o == 0 {
                            String::new()
                        } else {
                            clip(option, 18)
                        };
                        vec![label.to_owned(), option, metres, humid]
                    };
                    let mut cells_of = line(if h == 0 { row.label } else { "" });
                    cells_of.extend(ambients.iter().map(|a| {
                        at(*a).map_or_else(|| "-".into(), |c| text(found, row, c, o, units))
                    }));
                    rows.push(cells_of);
                    if found.draws.is_some() && row.for_options {
                        let mut below = vec![String::new(); 4];
                        below.extend(ambients.iter().map(|a| {
                            at(*a).map_or_else(String::new, |c| band(found, row, c, o, units))
                        }));
                        rows.push(below);
                    }
                }
            }
        }
    }
    rows
}

/// A row for each hour: the air, then sensor and power of the first option in each situation.
fn hours(found: &HotDay, units: Units) -> Vec<Vec<String>> {
    let temp = Quantity::Temperature;
    let mut head: Vec<String> = ["hour", "ambient", "humid", "sun"]
        .map(String::from)
        .to_vec();
    for s in &found.situations {
        let name = s.name.split(' ').next().unwrap_or_default();
        head.push(format!("{name}, {}", temp.unit(units)));
        head.push("%".into());
    }
    let mut rows = vec![head];
    let first: Vec<&Cell> = found
        .cells
        .iter()
        .filter(|c| c.option == found.options[0])
        .collect();
    for day in distinct(first.iter().map(|c| &c.day)) {
        let own: Vec<&&Cell> = first.iter().filter(|c| c.day == *day).collect();
        let Some(any) = own.first() else { continue };
        let mut row = vec![
            day.clone(),
            temp.number(any.ambient_c, units),
            format!("{:.0}", any.humidity_percent),
            format!("{:.0}", any.sun_w_m2),
        ];
        for s in &found.situations {
            let cell = own.iter().find(|c| c.situation == s.name);
            let of = |id: &str, place: &str, q: Quantity| {
                cell.map_or_else(|| "-".into(), |c| q.number(value(c, id, place), units))
            };
            row.push(of("intake_c", "sensor", temp));
            row.push(of("power_percent", "density", Quantity::Percent));
        }
        rows.push(row);
    }
    rows
}

/// A cell's value, or of an option what it changes.
fn text(found: &HotDay, row: &Row, cell: &Cell, option: usize, units: Units) -> String {
    if option > 0 {
        let d = cell.difference(row.id, row.place);
        return d.map_or_else(|| "-".into(), |d| signed(row, d.value, units));
    }
    let mark = if row.id == "power_percent" && cell.compressor_limited {
        "c"
    } else {
        ""
    };
    let v = shown(found, row, value(cell, row.id, row.place), units);
    format!("{v}{mark}")
}

fn signed(row: &Row, v: f64, units: Units) -> String {
    let quantity = match row.quantity {
        Quantity::Temperature => Quantity::Difference,
        other => other,
    };
    let text = quantity.number(v, units);
    if v > 0.0 && text.bytes().any(|b| b.is_ascii_digit() && b != b'0') {
        format!("+{text}")
    } else {
        text
    }
}

fn band(found: &HotDay, row: &Row, cell: &Cell, option: usize, units: Units) -> String {
    if option > 0 {
        let d = cell.difference(row.id, row.place);
        let ends = d.and_then(|d| d.low.zip(d.high));
        return ends.map_or_else(String::new, |(l, h)| {
            format!("{} to {}", signed(row, l, units), signed(row, h, units))
        });
    }
    let f: Option<&Figure> = cell.figure(row.id, row.place);
    let ends = f.and_then(|f| f.low.zip(f.high));
    ends.map_or_else(String::new, |(l, h)| {
        format!(
            "{} to {}",
            shown(found, row, l, units),
            shown(found, row, h, units)
        )
    })
}
