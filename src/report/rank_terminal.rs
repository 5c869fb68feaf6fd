//! A ranking on the screen.

use super::compare_terminal::driven;
use super::compare_text::excess;
use super::grid::{Align, clip, grid, wrap};
use super::page::{Page, TEXT};
use super::terminal::CARE;
use super::{ALARM, PLAIN, QUIET, STRONG};
use crate::quantity::{Quantity, Units};
use crate::study::rank::{Ranked, RankedSet, Ranking};

/// Columns of a set's name in the table.
const NAME: usize = 44;

/// The screen for a ranking, with ANSI styles, at most 100 columns.
pub fn render(ranked: &Ranked, units: Units) -> String {
    let ranking = &ranked.ranking;
    let mut page = Page::default();
    page.put("build", STRONG, &[clip(&ranking.sheet.title, TEXT)]);
    page.put(
        "driven",
        PLAIN,
        &wrap(&driven(&ranked.compared.comparison, units), TEXT),
    );
    page.put("aim", PLAIN, &wrap(&aim(ranking), TEXT));
    page.gap();
    for (word, alarm, words) in advice(ranking, units) {
        page.put(
            word,
            if alarm { ALARM } else { STRONG },
            &wrap(&words, TEXT),
        );
    }
    page.gap();
    let quantity = quantity(&ranking.aim.unit);
    let unit = change_unit(ranking, units);
    let mut rows = vec![vec![
        String::new(),
        "set".to_owned(),
        "EUR".to_owned(),
        format!("change, {unit}"),
        "10 to 90 %".to_owned(),
        "better".to_owned(),
        String::new(),
    ]];
    for (i, set) in ranking.sets.iter().enumerate() {
        let change = |v: f64| number(v, quantity, units);
        let band = set.change_low.zip(set.change_high);
        rows.push(vec![
            format!("{}", i + 1),
            clip(&set.name, NAME),
            format!("{:.0}", set.cost.price),
            change(set.change),
            band.map_or_else(
                || "-".into(),
                |(l, h)| format!("{} to {}", change(l), change(h)),
            ),
            set.better_chance_percent
                .map_or_else(|| "-".into(), |c| format!("{c:.0} %")),
            word(set).into(),
        ]);
    }
    let mut columns = vec![Align::Right, Align::Name];
    columns.extend([Align::Right; 4]);
    columns.push(Align::Name);
    for (i, line) in grid(&rows, &columns, 100).iter().enumerate() {
        page.whole(if i == 0 { QUIET } else { PLAIN }, line);
    }
    page.gap();
    for (i, set) in ranking
        .sets
        .iter()
        .enumerate()
        .filter(|(_, s)| s.name.chars().count() > NAME)
    {
        page.put(
            &format!("set {}", i + 1),
            QUIET,
            &wrap(&set.done.join(", "), TEXT),
        );
    }
    page.put("tried", QUIET, &wrap(&tried(ranking), TEXT));
    page.put("care", PLAIN, &wrap(CARE, TEXT));
    page.into_text()
}

/// Quantity of an aim's change.
pub(super) fn quantity(unit: &str) -> Option<Quantity> {
    match unit {
        "K" | "degC" => Some(Quantity::Difference),
        "W" => Some(Quantity::Heat),
        "%" => Some(Quantity::Percent),
        _ => None,
    }
}

pub(super) fn number(value: f64, quantity: Option<Quantity>, units: Units) -> String {
    quantity.map_or_else(|| format!("{value:.2}"), |q| q.number(value, units))
}

/// Unit of a change of the aim.
pub(super) fn change_unit(ranking: &Ranking, units: Units) -> &str {
    quantity(&ranking.aim.unit).map_or(ranking.aim.unit.as_str(), |q| q.unit(units))
}

/// How a set stands, in a word or two.
pub(super) fn word(set: &RankedSet) -> &'static str {
    let harm = set.over.iter().any(|o| o.verdict.is_harm());
    match (set.recommended, harm, set.tie) {
        (true, ..) => "do this",
        (_, true, _) => "over a limit",
        (.., true) => "tie",
        _ if set.on_front => "front",
        _ => "",
    }
}

/// What is improved, in words.
pub(super) fn aim(ranking: &Ranking) -> String {
    let way = if ranking.aim.more_is_better {
        "raise"
    } else {
        "lower"
    };
    format!(
        "{way} the {} ({}), for at most {:.0} EUR; treatments {}",
        ranking.aim.label,
        ranking.aim.place,
        ranking.budget,
        if ranking.age == "new" {
            "as new"
        } else {
            "after a season of use"
        }
    )
}

/// How sets were found, in words.
pub(super) fn tried(ranking: &Ranking) -> String {
    let failed = match ranking.sets_failed {
        0 => String::new(),
        n => format!(", {n} could not be run"),
    };
    let draws = ranking.draws.as_ref().map_or_else(String::new, |d| {
        format!(
            "; those shown again with {} draws, seed {}",
            d.wanted - d.failed,
            d.seed
        )
    });
    format!(
        "{} sets of {} treatments and measures at likely values{failed}: {}{draws}. tie: the draws can't tell it from the best; front: no cheaper set does as much",
        ranking.sets_tried, ranking.actions, ranking.method
    )
}

/// What to do, what it leaves over, and what is refused: (word, alarm, words).
pub(super) fn advice(ranking: &Ranking, units: Units) -> Vec<(&'static str, bool, String)> {
    let mut out = Vec::new();
    let quantity = quantity(&ranking.aim.unit);
    let unit = change_unit(ranking, units);
    let change = |set: &RankedSet| {
        let band = match (set.change_low, set.change_high) {
            (Some(l), Some(h)) => {
                format!(
                    " ({} to {})",
                    number(l, quantity, units),
                    number(h, quantity, units)
                )
            }
            _ => String::new(),
        };
        format!("{} {unit}{band}", number(set.change, quantity, units))
    };
    let Some(chosen) = ranking.sets.iter().find(|s| s.recommended) else {
        return out;
    };
    if chosen.done.is_empty() {
        let words = "leave it as it is: nothing within the budget is sure to help".to_owned();
        out.push(("do", false, words));
    } else {
        let words = format!(
            "{}, {:.0} EUR: {}",
            chosen.name,
            chosen.cost.price,
            change(chosen)
        );
        out.push(("do", false, words));
    }
    let ties = ranking.sets.iter().filter(|s| s.tie && !s.recommended);
    let ties: Vec<&str> = ties.map(|s| s.name.as_str()).collect();
    if !ties.is_empty() {
        let words = format!(
            "as good, as far as the draws can tell, and dearer: {}",
            ties.join("; ")
        );
        out.push(("ties", false, words));
    }
    for over in &chosen.over {
        out.push(("over", true, format!("even so: {}", excess(over, units))));
    }
    for set in &ranking.sets {
        for over in set.over.iter().filter(|o| o.verdict.is_harm()) {
            let words = format!(
                "not advised: {} ({}): {}",
                set.name,
                change(set),
                excess(over, units)
            );
            out.push(("over", true, words));
        }
    }
    for caution in &chosen.cautions {
        out.push(("beware", false, caution.clone()));
    }
    out
}
