//! The demonstration build bare, coated, wrapped, jacketed, shielded and vented, in a queue: the
//! table in README.
//!
//! `--check` fails when README holds another table: other words, or a number that is off by more
//! than a tenth and one unit of its last place (float functions differ between platforms).

use std::error::Error;

use baysoak::study::compare::{Comparison, Difference, OptionResult, candidates, compare};
use baysoak::study::draws::{DrawSettings, Drive};
use baysoak::study::run::RunOptions;
use baysoak::{cycle, sheet};

/// Options that the table shows, in this order.
const SHOWN: [&str; 5] = ["as it is", "coat", "wrap", "jacket", "shield and vent"];
const DRAWS: DrawSettings = DrawSettings { draws: 20, seed: 1 };

/// Heading, id, place, decimals.
const COLUMNS: [(&str, &str, &str, usize); 5] = [
    ("intake rise, K", "intake_rise_mean_k", "sensor", 1),
    ("power kept, %", "power_kept_percent", "all", 2),
    ("heat to bay, W", "heat_to_bay_mean_w", "all", 0),
    ("room nearby, K", "neighbour_margin_least_k", "all", 0),
    ("hottest metal, degC", "metal_hottest_c", "all", 0),
];

fn number(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let is_nothing = text.bytes().all(|b| matches!(b, b'-' | b'0' | b'.'));
    if is_nothing {
        text.trim_start_matches('-').to_owned()
    } else {
        text
    }
}

fn band(value: f64, ends: Option<(f64, f64)>, decimals: usize, sign: bool) -> String {
    let text = number(value, decimals);
    let something = text.bytes().any(|b| matches!(b, b'1'..=b'9'));
    let plus = if sign && value > 0.0 && something {
        "+"
    } else {
        ""
    };
    match ends {
        Some((low, high)) => {
            let (low, high) = (number(low, decimals), number(high, decimals));
            format!("{plus}{text} ({low} to {high})")
        }
        None => format!("{plus}{text}"),
    }
}

fn row(comparison: &Comparison, option: &OptionResult) -> String {
    let first = option.name == SHOWN[0];
    let mut row = format!("| {} | {:.0} |", option.name, option.cost.price);
    for (_, id, place, decimals) in COLUMNS {
        let here = |d: &&Difference| d.option == option.name && d.id == id && d.place == place;
        let cell = if first {
            let found = option
                .figures
                .iter()
                .find(|f| f.id == id && f.place == place);
            found.map(|f| band(f.value, f.low.zip(f.high), decimals, false))
        } else {
            let found = comparison.differences.iter().find(here);
            found.map(|d| band(d.value, d.low.zip(d.high), decimals, true))
        };
        row += &format!(" {} |", cell.unwrap_or_else(|| "-".into()));
    }
    row + "\n"
}

fn table() -> Result<String, Box<dyn Error>> {
    let build = sheet::builtin("demo")?;
    let mut all = candidates(&build)?;
    all.retain(|c| SHOWN.contains(&c.name.as_str()));
    let options = RunOptions::default();
    let drive = Drive {
        cycle: &cycle::builtin("queue")?,
        options: &options,
    };
    let comparison = compare(&all, drive, Some(DRAWS), &|_| true)?.comparison;
    let headings: Vec<&str> = COLUMNS.iter().map(|c| c.0).collect();
    let mut table = format!("| in a queue | EUR | {} |\n", headings.join(" | "));
    table += &format!("|{}\n", "---|".repeat(COLUMNS.len() + 2));
    for name in SHOWN {
        let option = comparison.options.iter().find(|o| o.name == name);
        table += &row(
            &comparison,
            option.ok_or("an option is gone from the demonstration build")?,
        );
    }
    Ok(table)
}

/// Numbers of a text with the unit of their last place, and the text without them.
fn numbers(text: &str) -> (Vec<(f64, f64)>, String) {
    let (mut found, mut rest, mut now) = (Vec::new(), String::new(), String::new());
    for c in text.chars().chain(['\n']) {
        if c.is_ascii_digit() || matches!(c, '.' | '-' | '+') {
            now.push(c);
            continue;
        }
        match now.parse::<f64>() {
            Ok(value) => {
                let decimals = now.split('.').nth(1).map_or(0, str::len);
                found.push((value, 10f64.powi(-i32::try_from(decimals).unwrap_or(0))));
            }
            Err(_) => rest.push_str(&now),
        }
        now.clear();
        rest.push(c);
    }
    (found, rest)
}

fn agrees(here: &str, readme: &str) -> bool {
    let Some(start) = readme.find(here.lines().next().unwrap_or_default()) else {
        return false;
    };
    let lines = readme[start..].lines().take(here.lines().count());
    let there: String = lines.map(|l| format!("{l}\n")).collect();
    let ((a, words), (b, others)) = (numbers(here), numbers(&there));
    let close = |(x, y): (&(f64, f64), &(f64, f64))| {
        (x.0 - y.0).abs() <= 0.1 * x.0.abs().max(y.0.abs()) + 1.001 * x.1
    };
    words == others && a.len() == b.len() && a.iter().zip(&b).all(close)
}

fn main() -> Result<(), Box<dyn Error>> {
    let table = table()?;
    print!("{table}");
    if std::env::args().any(|a| a == "--check") && !agrees(&table, include_str!("../README.md")) {
        return Err("README holds another table; paste the one above".into());
    }
    Ok(())
}
