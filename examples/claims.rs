//! Common claims on the demonstration build: the table in README, and in full what stands behind it.
//!
//! `--check` fails when README holds another table; `--full` prints every reading.

use baysoak::report::claim::render;
use baysoak::sheet::builtin;
use baysoak::study::claim::{ClaimOptions, ClaimReport, ClaimSheet, build_of, judge_claim};

const CLAIMS: [&str; 6] = [
    r#"
text = "33 % lower surface temperature from 0.3 mm"
quantity = "skin-temperature"
change_percent = -33
part = "downpipe"
at = "motorway"
[treatment]
thickness_mm = 0.3
"#,
    r#"
text = "bay over 50 degrees cooler"
quantity = "bay-air"
change_k = -50
at = "idle"
[treatment]
catalogue = "coat-ceramic-outside"
"#,
    r#"
text = "jacket takes 85 % off"
quantity = "heat-flow"
change_percent = -85
part = "turbine"
at = "motorway"
[treatment]
catalogue = "jacket-ceramic-fibre"
"#,
    r#"
text = "good to 1400 degC"
quantity = "service-temperature"
reaches_c = 1400
part = "runners"
at = "hill"
[treatment]
catalogue = "coat-ceramic-outside"
"#,
    r#"
text = "more power"
quantity = "power"
change = "more"
at = "full-load"
[treatment]
catalogue = "coat-ceramic-both"
"#,
    r#"
text = "hotter gas flows more easily"
quantity = "gas-flow"
change = "more"
at = "full-load"
[treatment]
catalogue = "coat-ceramic-both"
"#,
];

fn row(report: &ClaimReport) -> String {
    let mut out = String::new();
    for (i, r) in report.readings.iter().enumerate() {
        let words = if i == 0 { report.text.as_str() } else { "" };
        let mark = if r.direct { "" } else { "*" };
        // whole numbers and tens of per cent: what differs between processors doesn't show
        out.push_str(&format!(
            "| {words} | {}{mark} | {} | {:.0} | {:.0} to {:.0} | {} |\n",
            r.reading,
            r.counted,
            r.claimed,
            r.low.round() + 0.0,
            r.high.round() + 0.0,
            r.verdict_words()
        ));
    }
    out
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let flag = |name: &str| std::env::args().any(|a| a == name);
    let sheet = builtin("demo")?;
    let build = build_of(&sheet)?;
    let options = ClaimOptions { draws: 20, seed: 1 };
    let mut table = String::from(
        "| claim | reading | in | claimed | this car, 10 to 90 % | verdict |\n|---|---|---|---|---|---|\n",
    );
    for text in CLAIMS {
        let claim = ClaimSheet::parse(text, "claim", &build)?;
        let report = judge_claim(&sheet, &claim, options, &|_| true)?;
        table.push_str(&row(&report));
        if flag("--full") {
            println!("{}", anstream::adapter::strip_str(&render(&report)));
        }
    }
    print!("{table}");
    if flag("--check") {
        let readme = include_str!("../README.md");
        assert!(
            readme.contains(&table),
            "README holds another table; paste the one above"
        );
    }
    Ok(())
}
