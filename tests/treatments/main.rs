//! Treatments, measures, options and limits.

mod catalogue;
mod options;
mod sheets;

use baysoak::sheet::{Chooser, Settled, Sheet, builtins};

fn text_of(name: &str) -> &'static str {
    let found = builtins().iter().find(|b| b.name == name);
    found.expect("built in").text
}

fn demo() -> Sheet {
    Sheet::parse(text_of("demo"), "demo.toml").unwrap_or_else(|e| panic!("{e}"))
}

fn likely(sheet: &Sheet) -> Settled {
    sheet
        .settle(&mut Chooser::Likely)
        .unwrap_or_else(|e| panic!("{e}"))
}
