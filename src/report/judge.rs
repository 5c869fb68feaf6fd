//! A judged test on one screen.

use super::grid::wrap;
use super::page::Page;
use super::{PLAIN, counted, signed};
use crate::study::judge::Judgement;
use crate::study::judge::verdict::Interval;

const GUTTER: usize = 10;
const TEXT: usize = 86;

fn change(k: f64) -> String {
    let side = if k < 0.0 { "cooler" } else { "warmer" };
    format!("{:.1} K {side}", k.abs())
}

fn span(interval: &Interval) -> String {
    format!("{} to {} K", signed(interval.low), signed(interval.high))
}

/// The screen for a judgement, with ANSI styles.
pub fn render(j: &Judgement) -> String {
    let mut page = Page::new(GUTTER);
    let mut put = |word: &str, text: &str| page.put(word, PLAIN, &wrap(text, TEXT));
    let interval = j.interval();
    let found = if j.shown {
        format!(
            "{}: {} after the change, 90 % interval {}",
            j.channel,
            change(interval.value),
            span(&interval)
        )
    } else {
        format!(
            "{}: no change is shown; 90 % interval {}, so one of less than {:.1} K would go unseen",
            j.channel,
            span(&interval),
            0.5 * (interval.high - interval.low)
        )
    };
    put("found", &found);
    put(
        "from",
        &format!(
            "{}, {:.0} min before the change; {}, {:.0} min after it (without the first 5 min of each)",
            counted(j.logs.0, "log"),
            j.minutes.0,
            counted(j.logs.1, "log"),
            j.minutes.1
        ),
    );
    let mut chain = format!("as read {} K", signed(j.raw_k));
    if let Some(k) = j.over_ambient_k {
        chain.push_str(&format!("; over outside air {} K", signed(k)));
    }
    chain.push_str(&format!(
        "; at equal load and speed {} K ({})",
        signed(j.effect.value),
        span(&j.effect)
    ));
    put("steps", &chain);
    // one state alone is what the line above says
    let states = j.by_state.iter().filter(|_| j.by_state.len() > 1);
    for (i, (state, interval)) in states.enumerate() {
        let text = format!("{state}: {} K ({})", signed(interval.value), span(interval));
        put(if i == 0 { "states" } else { "" }, &text);
    }
    let agrees = |what: &str, (k, holds): (f64, bool)| {
        let rest = match (holds, j.shown) {
            (true, true) => "agrees with it",
            (true, false) => "is not ruled out, but nothing is shown either",
            (false, _) => "lies outside",
        };
        format!("{what} of {} K {rest}", signed(k))
    };
    if let Some(claim) = j.claim {
        put("claim", &agrees("the claimed change", claim));
    }
    if let Some(prediction) = j.prediction {
        put("model", &agrees("the predicted change", prediction));
    }
    for (i, text) in j.else_explains.iter().enumerate() {
        put(if i == 0 { "or else" } else { "" }, text);
    }
    put("method", &j.method);
    page.into_text()
}
