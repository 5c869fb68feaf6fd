//! A test plan: on the screen, and as the head of its log.

use super::grid::{Align, grid, wrap};
use super::page::Page;
use super::terminal::CARE;
use super::{PLAIN, counted, signed};
use crate::study::plan::{Plan, SENSIBLE_REPEATS, Way};

const GUTTER: usize = 10;
const TEXT: usize = 88;
/// Tables may be wider.
const WIDE: usize = 120;

/// Hours as one would say them.
fn hours(hours: f64) -> String {
    counted(hours.round().max(1.0) as usize, "hour")
}

pub(super) fn headline(plan: &Plan) -> String {
    let told = plan.pairs.iter().filter(|p| p.repeats.is_some()).count();
    if told == 0 {
        let clearest = plan.ways.first().map_or(0.0, |w| w.clearest);
        return format!(
            "{SENSIBLE_REPEATS} drives with each option tell none of them apart: the clearest effect, {}, is {clearest:.1} times \
             the scatter of one drive",
            plan.at.name()
        );
    }
    format!(
        "{}, {} with {}, about {} in all: tells {told} of {} apart",
        plan.at.name(),
        drives(&plan.repeats),
        counted(plan.options.len(), "option"),
        hours(plan.hours),
        counted(plan.pairs.len(), "pair")
    )
}

fn drives(repeats: &[u32]) -> String {
    counted(repeats.iter().sum::<u32>() as usize, "drive")
}

fn way(way: &Way) -> String {
    format!(
        "{}, {}, tells {} apart",
        drives(&way.repeats),
        hours(way.hours),
        counted(way.told, "pair")
    )
}

/// Sensors with what they should show.
pub(super) fn sensor_rows(plan: &Plan) -> Vec<Vec<String>> {
    let mut head = vec![
        "column".to_owned(),
        "now degC".into(),
        "scatter K".into(),
        "per K outside".into(),
    ];
    head.extend(plan.options.iter().skip(1).map(|o| format!("{o} K")));
    let rows = plan.sensors.iter().map(|s| {
        let mut row = vec![
            s.channel.clone(),
            format!("{:.0}", s.expected_c),
            format!("{:.1}", s.scatter_k),
            format!("{:.2}", s.per_ambient_k),
        ];
        row.extend(s.effects_k.iter().skip(1).map(|k| signed(*k)));
        row
    });
    std::iter::once(head).chain(rows).collect()
}

pub(super) fn pair_rows(plan: &Plan) -> Vec<Vec<String>> {
    let head = ["one", "other", "by", "expected K", "scatter K", "repeats"]
        .map(String::from)
        .to_vec();
    let rows = plan.pairs.iter().map(|p| {
        vec![
            p.a.clone(),
            p.b.clone(),
            p.channel.clone(),
            signed(p.effect_k),
            format!("{:.1}", p.scatter_k),
            p.repeats.map_or("too many".to_owned(), |n| n.to_string()),
        ]
    });
    std::iter::once(head).chain(rows).collect()
}

/// The screen for a plan, with ANSI styles.
pub fn render(plan: &Plan) -> String {
    let mut page = Page::new(GUTTER);
    let mut put = |word: &str, lines: Vec<String>| page.put(word, PLAIN, &lines);
    put("test", wrap(&headline(plan), TEXT));
    put("on", wrap(&plan.sheet, TEXT));
    for (i, step) in plan.steps.iter().enumerate() {
        put(
            if i == 0 { "steps" } else { "" },
            wrap(&format!("{}. {step}", i + 1), TEXT),
        );
    }
    for (i, s) in plan.sensors.iter().enumerate() {
        put(
            if i == 0 { "sensors" } else { "" },
            wrap(&format!("{}: {}", s.channel, s.place), TEXT),
        );
    }
    // what each option does is in the pairs; the page to print has both
    let rows: Vec<Vec<String>> = sensor_rows(plan)
        .into_iter()
        .map(|r| r[..4].to_vec())
        .collect();
    let right = Align::Right;
    put(
        "expect",
        grid(&rows, &[Align::Name, right, right, right], WIDE),
    );
    let names = [
        Align::Name,
        Align::Name,
        Align::Name,
        Align::Right,
        Align::Right,
        Align::Right,
    ];
    put("pairs", grid(&pair_rows(plan), &names, WIDE));
    for (i, text) in plan.hold.iter().enumerate() {
        put(if i == 0 { "hold" } else { "" }, wrap(text, TEXT));
    }
    put("record", wrap(&plan.columns.join(", "), TEXT));
    if let Some(without) = &plan.without_hardest {
        let text = format!("leaving the hardest pairs open: {}", way(without));
        put("cheaper", wrap(&text, TEXT));
    }
    for (i, other) in plan.ways.iter().enumerate().skip(1) {
        let text = format!("{}: {}", other.at.name(), way(other));
        put(if i == 1 { "instead" } else { "" }, wrap(&text, TEXT));
    }
    put(
        "counted",
        wrap(
            &format!(
                "two-sided t test, {:.0} % false alarms, {:.0} % of effects found, 70 % of what the model expects; scatter is an \
                 estimate until your own repeats show it; judge the logs with `baysoak judge`",
                100.0 * plan.alpha,
                100.0 * plan.power
            ),
            TEXT,
        ),
    );
    put("care", wrap(CARE, TEXT));
    page.into_text()
}

/// Head of the log: a comment and the names of its columns.
#[must_use]
pub fn csv_template(plan: &Plan) -> String {
    format!(
        "# {}\n# one file per drive, named after the option; empty cells are fine\n{}\n",
        super::clean(&headline(plan)),
        plan.columns
            .iter()
            .map(|c| quoted(c))
            .collect::<Vec<_>>()
            .join(",")
    )
}

fn quoted(cell: &str) -> String {
    if cell.contains([',', '"', '\n', '\r']) {
        format!(
            "\"{}\"",
            cell.replace('"', "\"\"").replace(['\n', '\r'], " ")
        )
    } else {
        cell.to_owned()
    }
}

/// Rows to fill in by hand beside the car.
pub(super) fn blanks(plan: &Plan) -> Vec<Vec<String>> {
    let mut head: Vec<String> = [
        "option",
        "repeat",
        "date, time",
        "outside degC",
        "wind, sun",
        "fan",
    ]
    .map(String::from)
    .to_vec();
    head.extend(plan.sensors.iter().map(|s| s.channel.clone()));
    let width = head.len();
    let mut rows = vec![head];
    for (option, repeats) in plan.options.iter().zip(&plan.repeats) {
        for repeat in 1..=*repeats {
            let mut row = vec![option.clone(), repeat.to_string()];
            row.resize(width, String::new());
            rows.push(row);
        }
    }
    rows
}
