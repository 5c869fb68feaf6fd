//! A test plan as a page to print and take to the car.

use maud::{Markup, html};

use super::super::plan::{blanks, headline, pair_rows, sensor_rows};
use super::super::terminal::CARE;
use super::tables::{Cell, table};
use super::{head, list, page};
use crate::study::plan::Plan;

/// The first row is the heading; the first columns hold words.
fn words_then_numbers(rows: &[Vec<String>], words: usize) -> Markup {
    let Some((heading, rows)) = rows.split_first() else {
        return html! {};
    };
    let heading: Vec<&str> = heading.iter().map(String::as_str).collect();
    let cell = |(i, text): (usize, &String)| {
        if i < words {
            Cell::text(text)
        } else {
            Cell::number(text.clone())
        }
    };
    let cells = rows
        .iter()
        .map(|r| r.iter().enumerate().map(cell).collect());
    table(&heading, cells)
}

/// The page.
#[must_use]
pub fn plan(plan: &Plan) -> String {
    let places: Vec<String> = plan
        .sensors
        .iter()
        .map(|s| format!("{}: {}", s.channel, s.place))
        .collect();
    let readings = blanks(plan);
    let width = readings.first().map_or(0, Vec::len);
    let body = html! {
        (head(&format!("Test on the car: {}", plan.sheet), &headline(plan)))
        p.care { (CARE) }
        section { h2 { "Steps" } ol { @for step in &plan.steps { li { (step) } } } }
        (list("Sensors", &places))
        (list("Keep the same", &plan.hold))
        section {
            h2 { "Expected, against scatter" }
            (words_then_numbers(&sensor_rows(plan), 1))
            p {
                "The last columns are changes against the first option, in K. Scatter of one repeat is an estimate until your own \
                 repeats show it."
            }
        }
        section { h2 { "What it tells apart" } (words_then_numbers(&pair_rows(plan), 3)) }
        section { h2 { "Readings" } (words_then_numbers(&readings, width)) }
    };
    page("Test plan", &body)
}
