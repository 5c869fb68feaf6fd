//! The result of a fit on the terminal.

use super::grid::{Align, grid, wrap};
use crate::study::fit::{FitFindings, Total};

/// Columns of the gutter.
const GUTTER: usize = 9;
/// Columns of the text beside it.
const TEXT: usize = 71;
/// Drives shown one by one, the worst first.
const MOST_FILES: usize = 8;
/// Further drives looked ahead to on the screen.
const AHEAD: [usize; 3] = [1, 3, 5];

/// The screen for a fit.
pub fn render(f: &FitFindings) -> String {
    let mut page = String::new();
    let fitted = f.files.iter().filter(|f| !f.held_out).count();
    let apart = f.files.len() - fitted;
    let head = format!(
        "{}; {fitted} logs fitted, {apart} kept apart",
        f.sheet.title
    );
    put(&mut page, "fit", &wrap(&head, TEXT));
    let mut rows = vec![
        ["input", "fitted", "+-", "before", "", "", "left"]
            .map(String::from)
            .to_vec(),
    ];
    for input in &f.inputs {
        let i = &input.found;
        rows.push(vec![
            i.key.clone(),
            short(i.value),
            short(i.standard_error),
            short(i.low),
            short(i.likely),
            short(i.high),
            format!("{:.0} %", 100.0 * i.left),
        ]);
    }
    let right = Align::Right;
    let columns = [Align::Left, right, right, right, right, right, right];
    put(&mut page, "inputs", &grid(&rows, &columns, TEXT));
    let meaning = "+- is a standard error with the range before as what was known; left is that error as a share of the range's own spread";
    put(&mut page, "", &wrap(meaning, TEXT));
    if !f.not_told.is_empty() {
        let text = format!("these logs hardly tell {}", f.not_told.join(", "));
        put(&mut page, "not told", &wrap(&text, TEXT));
    }
    for pair in &f.alike {
        let text = format!(
            "{} and {} can't be told apart (correlation {:.2})",
            pair.a, pair.b, pair.correlation
        );
        put(&mut page, "alike", &wrap(&text, TEXT));
    }
    totals(&mut page, f);
    files(&mut page, f);
    gains(&mut page, f);
    if !f.search.settled {
        let text = "the search hadn't come to rest; the values may still improve";
        put(&mut page, "beware", &wrap(text, TEXT));
    }
    notes(&mut page, f);
    page
}

fn totals(page: &mut String, f: &FitFindings) {
    let mut rows = vec![
        [
            "K off",
            "drives",
            "all",
            "middle",
            "bias",
            "sheet before",
            "constant",
        ]
        .map(String::from)
        .to_vec(),
    ];
    let named: [(&str, &Option<Total>); 2] = [("fitted", &f.fitted), ("kept apart", &f.held_out)];
    for (name, total) in named {
        if let Some(t) = total {
            rows.push(vec![
                name.to_owned(),
                t.drives.to_string(),
                format!("{:.2}", t.rmse_k),
                format!("{:.2}", t.median_rmse_k),
                format!("{:+.2}", t.bias_k),
                format!("{:.2}", t.before_rmse_k),
                format!("{:.2}", t.constant_rmse_k),
            ]);
        }
    }
    let right = Align::Right;
    put(
        page,
        "sensor",
        &grid(
            &rows,
            &[Align::Name, right, right, right, right, right, right],
            TEXT,
        ),
    );
    let mut rows = vec![
        ["by state, K off", "min", "all", "bias"]
            .map(String::from)
            .to_vec(),
    ];
    if let Some(t) = f.held_out.as_ref().or(f.fitted.as_ref()) {
        for s in &t.states {
            rows.push(vec![
                s.state.name().to_owned(),
                format!("{:.0}", s.score.samples as f64 / 60.0),
                format!("{:.2}", s.score.rmse_k),
                format!("{:+.2}", s.score.bias_k),
            ]);
        }
    }
    if rows.len() > 1 {
        put(
            page,
            "",
            &grid(&rows, &[Align::Name, right, right, right], TEXT),
        );
    }
}

fn files(page: &mut String, f: &FitFindings) {
    let mut sorted: Vec<_> = f.files.iter().filter(|s| s.sensor.samples > 0).collect();
    sorted.sort_by(|a, b| b.sensor.rmse_k.total_cmp(&a.sensor.rmse_k));
    let mut rows = vec![
        ["worst first", "", "K off", "bias", "start K"]
            .map(String::from)
            .to_vec(),
    ];
    for s in sorted.iter().take(MOST_FILES) {
        rows.push(vec![
            s.file.clone(),
            if s.held_out { "kept apart" } else { "fitted" }.to_owned(),
            format!("{:.2}", s.sensor.rmse_k),
            format!("{:+.2}", s.sensor.bias_k),
            format!("{:.0}", s.soak_k),
        ]);
    }
    let right = Align::Right;
    put(
        page,
        "drives",
        &grid(
            &rows,
            &[Align::Left, Align::Name, right, right, right],
            TEXT,
        ),
    );
    if sorted.len() > MOST_FILES {
        put(
            page,
            "",
            &[format!("and {} with less", sorted.len() - MOST_FILES)],
        );
    }
    let mut rows = vec![
        ["other channels", "", "K off", "bias"]
            .map(String::from)
            .to_vec(),
    ];
    for s in &f.files {
        for other in &s.others {
            rows.push(vec![
                s.file.clone(),
                other.channel.clone(),
                format!("{:.1}", other.score.rmse_k),
                format!("{:+.1}", other.score.bias_k),
            ]);
        }
    }
    if rows.len() > 1 {
        put(
            page,
            "",
            &grid(&rows, &[Align::Left, Align::Left, right, right], TEXT),
        );
    }
}

fn gains(page: &mut String, f: &FitFindings) {
    let fitted = f.files.iter().filter(|f| !f.held_out).count();
    let left = |drives: usize| {
        f.gains
            .iter()
            .find(|g| g.drives == drives)
            .map(|g| 100.0 * g.left)
    };
    let Some(now) = left(fitted) else { return };
    let ahead: Vec<String> = AHEAD
        .iter()
        .filter_map(|more| {
            Some(format!(
                "{more} more would leave {:.0} %",
                left(fitted + more)?
            ))
        })
        .collect();
    let text = format!(
        "of the doubt about these inputs {now:.0} % is left; drives like these: {}",
        ahead.join(", ")
    );
    put(page, "more", &wrap(&text, TEXT));
}

fn notes(page: &mut String, f: &FitFindings) {
    let mut seen: Vec<(&str, Vec<&str>)> = Vec::new();
    for file in &f.files {
        for note in &file.notes {
            match seen.iter_mut().find(|(n, _)| n == note) {
                Some((_, files)) => files.push(&file.file),
                None => seen.push((note, vec![&file.file])),
            }
        }
    }
    // the same for all files is said once; the rest is in the JSON and on standard error
    for (note, files) in seen
        .iter()
        .filter(|(_, files)| files.len() == f.files.len())
    {
        let whose = if files.len() > 1 { "all logs: " } else { "" };
        put(page, "log", &wrap(&format!("{whose}{note}"), TEXT));
    }
}

fn short(v: f64) -> String {
    let digits = 2 - v.abs().max(1e-9).log10().floor() as i32;
    format!("{v:.*}", usize::try_from(digits.clamp(0, 6)).unwrap_or(0))
}

fn put(page: &mut String, word: &str, lines: &[String]) {
    for (i, line) in lines.iter().enumerate() {
        let gutter = if i == 0 { word } else { "" };
        page.push_str(format!("{gutter:GUTTER$}{line}").trim_end());
        page.push('\n');
    }
}
