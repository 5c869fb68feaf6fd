//! Published values and bands from `data/reference/engine.toml`.

use serde::Deserialize;

const TEXT: &str = include_str!("../../data/reference/engine.toml");

#[derive(Deserialize)]
struct Table {
    value: Vec<Row>,
}

#[derive(Deserialize, Clone)]
struct Row {
    id: String,
    value: Option<String>,
    low: Option<String>,
    high: Option<String>,
    unit: String,
    source: String,
    uncertainty: Option<String>,
}

fn row(id: &str) -> Row {
    let table: Table = toml::from_str(TEXT).expect("the table reads");
    let mut rows = table.value.into_iter().filter(|r| r.id == id);
    let row = rows.next().unwrap_or_else(|| panic!("no row {id}"));
    assert!(rows.next().is_none(), "row {id} twice");
    assert!(
        !row.source.is_empty() && !row.unit.is_empty(),
        "row {id} without source or unit"
    );
    row
}

fn number(text: &str) -> f64 {
    text.parse().expect("a printed number")
}

/// Half of the last printed digit.
fn half_digit(text: &str) -> f64 {
    let decimals = text.split_once('.').map_or(0, |(_, d)| d.len());
    0.5 * 10f64.powi(-i32::try_from(decimals).expect("few digits"))
}

/// Refuses a tolerance that 0.0 or twice the value would pass.
fn checked(value: f64, tolerance: f64) -> f64 {
    assert!(
        tolerance > 0.0 && tolerance < 0.5 * value.abs(),
        "tolerance {tolerance} on {value}"
    );
    tolerance
}

/// Passes within half of the last printed digit, or the row's own uncertainty.
pub fn assert_published(got: f64, id: &str) {
    let row = row(id);
    let text = row.value.expect("a row with a value");
    let tolerance = row
        .uncertainty
        .as_deref()
        .map_or_else(|| half_digit(&text), number);
    let value = number(&text);
    let tolerance = checked(value, tolerance);
    assert!(
        (got - value).abs() <= tolerance,
        "{id}: {got} against {text} {}",
        row.unit
    );
}

/// Passes inside a printed band, its ends as wide as their last digit.
pub fn assert_in_band(got: f64, id: &str, whose: &str) {
    let row = row(id);
    let (low, high) = (row.low.expect("a band"), row.high.expect("a band"));
    let (from, to) = (
        number(&low) - half_digit(&low),
        number(&high) + half_digit(&high),
    );
    assert!(from > 0.0 && to < 3.0 * from, "band {id} says nothing");
    assert!(
        (from..=to).contains(&got),
        "{whose}, {id}: {got} outside {low} to {high} {}",
        row.unit
    );
}

#[test]
fn every_row_has_a_unit_a_source_and_a_number() {
    let table: Table = toml::from_str(TEXT).expect("the table reads");
    for r in table.value {
        row(&r.id);
        match (&r.value, &r.low, &r.high) {
            (Some(value), None, None) => assert!(number(value).is_finite()),
            (None, Some(low), Some(high)) => assert!(number(low) < number(high), "{}", r.id),
            _ => panic!("{}: either a value or a band", r.id),
        }
    }
}

#[test]
#[should_panic(expected = "tolerance")]
fn a_tolerance_that_zero_would_pass_is_refused() {
    checked(0.4, 0.5);
}

#[test]
#[should_panic(expected = "against")]
fn a_value_one_digit_off_fails() {
    assert_published(1.18, "petrol_fmep_1000");
}
