//! A comparison on the screen.

use super::compare_text::{ROWS, decision, excess, harms, is_nothing, price};
use super::grid::{Align, clip, grid, wrap};
use super::page::{Page, TEXT, WIDE};
use super::terminal::CARE;
use super::{ALARM, PLAIN, QUIET, STRONG};
use crate::quantity::{Quantity, Units};
use crate::study::compare::{Comparison, OptionResult};

/// Options in one table, beside the first.
const ACROSS: usize = 4;
/// Columns of an option.
const CELL: usize = 13;
/// Warnings shown.
const MOST_WARNINGS: usize = 3;

/// The screen for a comparison, with ANSI styles, at most 100 columns.
pub fn render(comparison: &Comparison, units: Units) -> String {
    let mut page = Page::default();
    page.put("build", STRONG, &[clip(&comparison.sheet.title, TEXT)]);
    page.put("driven", PLAIN, &wrap(&driven(comparison, units), TEXT));
    page.gap();
    for (word, words) in decision(comparison, units) {
        page.put(word, STRONG, &wrap(&words, TEXT));
    }
    for (option, over) in harms(comparison) {
        let words = format!("{option}: {}", excess(over, units));
        page.put("over", ALARM, &wrap(&words, TEXT));
    }
    let as_it_is = &comparison.options[0];
    for over in &as_it_is.over {
        let words = format!(
            "{}: {}",
            as_it_is.name,
            excess(over, units).replace("still over", "is over")
        );
        page.put("over", ALARM, &wrap(&words, TEXT));
    }
    let others = &comparison.options[1..];
    // blocks of about equal width
    let blocks = others.len().div_ceil(ACROSS);
    for block in others.chunks(others.len().div_ceil(blocks)) {
        page.gap();
        let rows = table(comparison, block, units);
        let mut columns = vec![Align::Name, Align::Right];
        columns.extend(block.iter().map(|_| Align::Right));
        for (i, line) in grid(&rows, &columns, WIDE).iter().enumerate() {
            let style = if i == 0 { STRONG } else { PLAIN };
            page.whole(style, line);
        }
    }
    let mut key = vec!["first column: the car as it is; others: difference against it".to_owned()];
    if let Some(draws) = &comparison.draws {
        key.push(format!(
            "below: 10 to 90 % of {} draws shared by all options, seed {}; ? means that fewer than 90 % of them agree on the sign",
            draws.wanted - draws.failed,
            draws.seed
        ));
        if draws.failed > 0 {
            key.push(format!(
                "{} more draws failed: {}",
                draws.failed,
                draws.reasons.join("; ")
            ));
        }
    }
    page.gap();
    page.put(
        "key",
        QUIET,
        &key.iter().flat_map(|l| wrap(l, TEXT)).collect::<Vec<_>>(),
    );
    let mut warnings: Vec<&String> = comparison
        .options
        .iter()
        .flat_map(|o| &o.warnings)
        .collect();
    warnings.sort();
    // the same correlation at the same place, with another number for each option
    warnings.dedup_by_key(|w| w.split(": ").next());
    let shown = warnings.iter().take(MOST_WARNINGS);
    page.put(
        "beware",
        PLAIN,
        &shown.flat_map(|w| wrap(w, TEXT)).collect::<Vec<_>>(),
    );
    page.put("care", PLAIN, &wrap(CARE, TEXT));
    let worst = comparison.options.iter().map(|o| o.audit.residual_percent);
    let worst = worst.fold(0.0, f64::max);
    page.put(
        "audit",
        QUIET,
        &[format!(
            "{worst:.3} % of heat in unexplained, the worst of all options"
        )],
    );
    page.into_text()
}

/// Cycle and weather in words.
pub(super) fn driven(comparison: &Comparison, units: Units) -> String {
    let day = &comparison.day;
    format!(
        "{}, {:.0} min, on a day called {}: {}, {:.0} % humid",
        comparison.cycle.name,
        comparison.cycle.duration_s / 60.0,
        day.name,
        Quantity::Temperature.show(day.ambient_c, units),
        day.humidity_percent
    )
}

/// Rows of one block: a line of differences and, with draws, a line of bands below it.
fn table(comparison: &Comparison, block: &[OptionResult], units: Units) -> Vec<Vec<String>> {
    let first = &comparison.options[0];
    let line = |label: String, own: String, cell: &dyn Fn(&OptionResult) -> String| {
        let mut line = vec![label, own];
        line.extend(block.iter().map(cell));
        line
    };
    let mut rows = vec![
        line(String::new(), clip(&first.name, 10), &|o| {
            clip(&o.name, CELL)
        }),
        line("price, EUR".into(), price(first), &price),
        line(String::new(), String::new(), &|o| {
            if o.cost.price_high > 0.0 {
                format!("{:.0} to {:.0}", o.cost.price_low, o.cost.price_high)
            } else {
                String::new()
            }
        }),
        line(
            "mass, kg".into(),
            format!("{:.1}", first.cost.mass_kg),
            &|o| format!("{:+.1}", o.cost.mass_kg),
        ),
    ];
    for row in &ROWS {
        let Some(value) = row.value(first) else {
            continue;
        };
        let found = |o: &OptionResult| row.difference(comparison, &o.name);
        rows.push(line(
            row.title(units),
            row.quantity.number(value, units),
            &|o| {
                found(o).map_or_else(
                    || "-".into(),
                    |d| {
                        let text = row.signed(d.value, units);
                        let unsure = d.sign_chance_percent.is_some() && !d.sign_is_known();
                        if unsure && !is_nothing(&text) {
                            format!("{text} ?")
                        } else {
                            text
                        }
                    },
                )
            },
        ));
        if comparison.draws.is_some() {
            rows.push(line(String::new(), String::new(), &|o| {
                found(o)
                    .and_then(|d| Some(row.span(d.low?, d.high?, units)))
                    .filter(|span| !is_nothing(span))
                    .unwrap_or_default()
            }));
        }
    }
    rows
}
