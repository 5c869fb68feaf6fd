//! Effect against price of the sets of a ranking.

use maud::{Markup, html};

use super::super::compare_text::excess;
use super::super::plot_canvas::{DECIMAL, ticks};
use super::super::rank_terminal::{change_unit, number, quantity, word};
use super::tables::{Cell, table};
use crate::quantity::Units;
use crate::study::rank::{RankedSet, Ranking};

const WIDE: f64 = 1080.0;
const HIGH: f64 = 400.0;
const LEFT: f64 = 80.0;
const RIGHT: f64 = 1050.0;
const TOP: f64 = 30.0;
const BOTTOM: f64 = 350.0;

/// Price to the right, change upwards where it is better.
pub(super) fn picture(ranking: &Ranking, units: Units) -> Markup {
    let q = quantity(&ranking.aim.unit);
    let shown = |v: f64| q.map_or(v, |q| q.convert(v, units));
    let ends = ranking.sets.iter().flat_map(|s| {
        [Some(s.change), s.change_low, s.change_high]
            .into_iter()
            .flatten()
            .map(shown)
    });
    let (low, high) = ends.fold((0.0f64, 0.0f64), |(l, h), v| (l.min(v), h.max(v)));
    let pad = 0.06 * (high - low).max(1e-9);
    let (low, high) = (low - pad, high + pad);
    let dearest = ranking
        .sets
        .iter()
        .map(|s| s.cost.price)
        .fold(ranking.budget, f64::max)
        .max(1.0);
    let x = |eur: f64| LEFT + eur / (1.04 * dearest) * (RIGHT - LEFT);
    let y = |v: f64| {
        let up = (v - low) / (high - low);
        let up = if ranking.aim.more_is_better {
            up
        } else {
            1.0 - up
        };
        BOTTOM - up * (BOTTOM - TOP)
    };
    let mut front: Vec<&RankedSet> = ranking.sets.iter().filter(|s| s.on_front).collect();
    front.sort_by(|a, b| a.cost.price.total_cmp(&b.cost.price));
    let path: Vec<String> = front
        .iter()
        .map(|s| format!("{:.1},{:.1}", x(s.cost.price), y(shown(s.change))))
        .collect();
    html! {
        svg viewBox=(format!("0 0 {WIDE} {HIGH}")) role="img" aria-label="effect against price" {
            @for tick in ticks(low, high, 5, DECIMAL) {
                line x1=(LEFT) x2=(RIGHT) y1=(format!("{:.1}", y(tick))) y2=(format!("{:.1}", y(tick))) stroke="#dee0e3" {}
                text x=(LEFT - 8.0) y=(format!("{:.1}", y(tick) + 4.0)) font-size="12" text-anchor="end" { (format!("{tick}")) }
            }
            @for tick in ticks(0.0, dearest, 6, DECIMAL) {
                text x=(format!("{:.1}", x(tick))) y=(BOTTOM + 18.0) font-size="12" text-anchor="middle" { (format!("{tick:.0}")) }
            }
            line x1=(LEFT) x2=(RIGHT) y1=(BOTTOM) y2=(BOTTOM) stroke="#5c6066" {}
            text x=(RIGHT) y=(BOTTOM + 38.0) font-size="13" text-anchor="end" { "likely price, EUR" }
            text x="20" y="18" font-size="13" {
                "change of the " (ranking.aim.label) ", " (change_unit(ranking, units)) "; up is better"
            }
            line x1=(format!("{:.1}", x(ranking.budget))) x2=(format!("{:.1}", x(ranking.budget))) y1=(TOP) y2=(BOTTOM) stroke="#5c6066" stroke-dasharray="4 4" {}
            text x=(format!("{:.1}", x(ranking.budget) - 4.0)) y=(TOP + 10.0) font-size="12" text-anchor="end" { "budget" }
            polyline points=(path.join(" ")) fill="none" stroke="#125ca0" stroke-width="2" {}
            @for (i, set) in ranking.sets.iter().enumerate() {
                @let at = (x(set.cost.price), y(shown(set.change)));
                @let ink = if set.over.iter().any(|o| o.verdict.is_harm()) { "#a82618" } else { "#125ca0" };
                @if let (Some(l), Some(h)) = (set.change_low, set.change_high) {
                    line x1=(format!("{:.1}", at.0)) x2=(format!("{:.1}", at.0)) y1=(format!("{:.1}", y(shown(l)))) y2=(format!("{:.1}", y(shown(h)))) stroke="#40a4be" stroke-width="4" {}
                }
                circle cx=(format!("{:.1}", at.0)) cy=(format!("{:.1}", at.1)) r=(if set.recommended { 8 } else { 5 }) fill=(ink) {}
                text x=(format!("{:.1}", at.0 + 10.0)) y=(format!("{:.1}", at.1 - 6.0)) font-size="12" { (i + 1) }
            }
        }
    }
}

/// The sets as a table.
pub(super) fn sets(ranking: &Ranking, units: Units) -> Markup {
    let q = quantity(&ranking.aim.unit);
    let change = format!("change, {}", change_unit(ranking, units));
    let heading = [
        "",
        "set",
        "EUR",
        &change,
        "better in",
        "",
        "over or near a limit",
    ];
    let rows = ranking.sets.iter().enumerate().map(|(i, set)| {
        let band = set.change_low.zip(set.change_high);
        let band = band.map_or_else(String::new, |(l, h)| {
            format!("{} to {}", number(l, q, units), number(h, q, units))
        });
        let over: Vec<String> = set.over.iter().map(|o| excess(o, units)).collect();
        let mut row = vec![
            Cell::number(format!("{}", i + 1)),
            Cell::text(&set.name),
            Cell::banded(
                format!("{:.0}", set.cost.price),
                format!("{:.0} to {:.0}", set.cost.price_low, set.cost.price_high),
            ),
            Cell::banded(number(set.change, q, units), band),
            Cell::number(
                set.better_chance_percent
                    .map_or_else(|| "-".into(), |c| format!("{c:.0} %")),
            ),
            Cell::text(word(set)),
            Cell::text(&over.join("; ")),
        ];
        if set.over.iter().any(|o| o.verdict.is_harm()) {
            row.iter_mut().for_each(|c| c.alarm = true);
        }
        row
    });
    table(&heading, rows)
}
