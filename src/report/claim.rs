//! A judged claim on one screen.

use anstyle::{AnsiColor, Style};

use super::grid::{Align, clip, grid, wrap};
use super::page::Page;
use super::terminal::CARE;
use super::{PLAIN, QUIET, STRONG};
use crate::study::claim::needs::Property;
use crate::study::claim::{ClaimReport, Judged, Verdict};
use crate::study::instruments::Explained;

/// Columns of the gutter and of the text beside it.
const GUTTER: usize = 10;
const TEXT: usize = 90;
/// Widest name of a reading, and the table, which may be wider than the text.
const READING: usize = 52;
const WIDE: usize = 200;

fn style(verdict: Verdict) -> Style {
    match verdict {
        Verdict::Holds => AnsiColor::Blue.on_default().bold(),
        Verdict::Depends => AnsiColor::Blue.on_default(),
        Verdict::OtherMaterial | Verdict::OutOfReach => AnsiColor::Yellow.on_default(),
    }
}

/// The screen for a report, with ANSI styles.
pub fn render(report: &ClaimReport) -> String {
    let mut page = Screen(Page::new(GUTTER));
    page.put(
        "claim",
        STRONG,
        &wrap(&format!("\"{}\"", report.text), TEXT),
    );
    let (part, zone) = &report.looked_at;
    let treated = report.parts.join(", ");
    let on = format!(
        "{}; treated: {treated}; skin of {part}, air of zone {zone}",
        report.sheet
    );
    page.put("on", PLAIN, &wrap(&on, TEXT));
    if !report.taken.is_empty() {
        let taken = format!("not stated, so drawn: {}", report.taken.join("; "));
        page.put("", PLAIN, &wrap(&taken, TEXT));
    }
    page.readings(&report.readings);
    page.needs(&report.readings);
    for (i, sentence) in report.argument.iter().enumerate() {
        page.put(
            if i == 0 { "why" } else { "" },
            PLAIN,
            &wrap(sentence, TEXT),
        );
    }
    for (i, effect) in report.side_effects.iter().enumerate() {
        page.put(if i == 0 { "also" } else { "" }, PLAIN, &wrap(effect, TEXT));
    }
    page.measuring(report);
    let (draws, failed) = report.draws;
    let count = if failed > 0 {
        format!("{draws} draws at each point, {failed} failed")
    } else {
        format!("{draws} draws at each point")
    };
    page.put("from", PLAIN, &[count]);
    page.put("care", PLAIN, &wrap(CARE, TEXT));
    page.0.into_text()
}

struct Screen(Page);

impl Screen {
    fn put(&mut self, word: &str, style: Style, lines: &[String]) {
        self.0.put(word, style, lines);
    }

    fn line(&mut self, word: &str, style: Style, line: &str) {
        self.0.line(word, style, line);
    }

    /// One table; a row of its own names each point.
    fn readings(&mut self, readings: &[Judged]) {
        let head = [
            "reading",
            "claimed",
            "here",
            "10 to 90 %",
            "physics allows",
            "chance",
            "verdict",
        ];
        let mut rows = vec![head.map(str::to_owned).to_vec()];
        let mut styles = vec![QUIET];
        let mut at = None;
        for r in readings {
            if at != Some(r.at) {
                at = Some(r.at);
                let mut row = vec![String::new(); head.len()];
                row[0] = r.at.word().to_owned();
                rows.push(row);
                styles.push(STRONG);
            }
            let mark = if r.direct { "" } else { "* " };
            rows.push(vec![
                clip(&format!("{mark}{}", r.reading), READING),
                r.counted.clone(),
                number(r.claimed),
                number(r.middle),
                format!("{} to {}", number(r.low), number(r.high)),
                r.physics.map_or("-".into(), |(low, high)| {
                    format!("{} to {}", number(low), number(high))
                }),
                format!("{:.0} %", 100.0 * r.chance),
                r.verdict_words(),
            ]);
            styles.push(style(r.verdict));
        }
        let right = Align::Right;
        let columns = [
            Align::Name,
            Align::Name,
            right,
            right,
            right,
            right,
            right,
            Align::Name,
        ];
        self.0.gap();
        for (i, line) in grid(&rows, &columns, WIDE).iter().enumerate() {
            let word = if i == 0 { "readings" } else { "" };
            let style = styles.get(i).copied().unwrap_or(PLAIN);
            self.line(word, style, line);
        }
        if readings.iter().any(|r| !r.direct) {
            self.line(
                "",
                QUIET,
                "* not the thing itself: what an instrument shows, or a place beside it",
            );
        }
        self.0.gap();
    }

    /// What it would take, then the readings for which nothing would do.
    fn needs(&mut self, readings: &[Judged]) {
        let open = || {
            readings
                .iter()
                .filter(|r| r.direct && r.verdict != Verdict::Holds && r.physics.is_some())
        };
        let name = |r: &Judged| format!("{}, {} ({})", r.reading, r.counted, r.at.word());
        let mut word = "takes";
        for r in open().filter(|r| !r.needs.is_empty()) {
            let alone: Vec<&str> = r.needs.iter().map(|n| n.words.as_str()).collect();
            let text = format!("{}: {}", name(r), alone.join("; or "));
            self.put(std::mem::take(&mut word), PLAIN, &wrap(&text, TEXT));
        }
        let none: Vec<String> = open().filter(|r| r.needs.is_empty()).map(name).collect();
        if !none.is_empty() {
            let text = format!(
                "no conductivity, emissivity, thickness or coverage by itself: {}",
                none.join("; ")
            );
            self.put(word, PLAIN, &wrap(&text, TEXT));
        }
        let needed = |p: &Property| open().any(|r| r.needs.iter().any(|n| n.property == *p));
        for usual in [Property::Conductivity, Property::Emissivity]
            .iter()
            .filter(|p| needed(p))
            .filter_map(|p| p.usual())
        {
            self.put("", PLAIN, &wrap(&usual, TEXT));
        }
    }

    fn measuring(&mut self, report: &ClaimReport) {
        let unit = match report.quantity {
            crate::study::claim::Quantity::Power => "%",
            _ => "K",
        };
        for (i, effect) in report.measuring.iter().enumerate() {
            let (low, high) = (signed(effect.low), signed(effect.high));
            let span = if low == high {
                low
            } else {
                format!("{low} to {high}")
            };
            let text = format!("{}: {span} {unit} ({})", effect.name, effect.basis);
            self.put(
                if i == 0 { "measured" } else { "" },
                PLAIN,
                &wrap(&text, TEXT),
            );
        }
        let text = match &report.explained {
            None => return,
            Some(Explained::Alone { by }) => {
                format!("the claimed change can come from the measuring alone: {by}")
            }
            Some(Explained::Together) => {
                "these together can make the claimed change with nothing cooler".to_owned()
            }
            Some(Explained::Partly { share }) => {
                format!(
                    "together these make at most {:.0} % of the claimed change",
                    100.0 * share
                )
            }
        };
        self.put("", STRONG, &wrap(&text, TEXT));
    }
}

/// As many digits as such numbers deserve.
fn number(value: f64) -> String {
    let text = if value.abs() < 9.95 {
        format!("{value:.1}")
    } else {
        format!("{value:.0}")
    };
    if text == "-0.0" {
        "0.0".to_owned()
    } else {
        text
    }
}

fn signed(value: f64) -> String {
    if value > 0.0 {
        format!("+{}", number(value))
    } else {
        number(value)
    }
}
