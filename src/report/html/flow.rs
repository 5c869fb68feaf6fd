//! Where each watt goes: ribbons as wide as the heat they carry, from the fuel to its ends.

use maud::{Markup, html};

use super::super::grid::clip;
use crate::quantity::{Quantity, Units};
use crate::study::findings::{Findings, Share};

const WIDE: f64 = 1080.0;
const TOP: f64 = 34.0;
/// Height of all of the fuel's heat.
const HIGH: f64 = 380.0;
/// Room between two ends.
const GAP: f64 = 13.0;
/// Least height of a line of text.
const LINE: f64 = 15.0;
/// Left edges of the three columns, and width of their bars.
const COLUMNS: [f64; 3] = [20.0, 330.0, 690.0];
const BAR: f64 = 16.0;
/// Colours of what the fuel's heat becomes; the gas and its ends share the first.
const GAS: &str = "#a82618";
const OTHERS: [&str; 4] = ["#125ca0", "#682878", "#5c6066", "#85898f"];
/// Name of the fuel's share that the exhaust carries.
const EXHAUST: &str = "exhaust gas";

/// One end of a ribbon: name, watts, top and height on the page.
struct End<'a> {
    name: &'a str,
    mean_w: f64,
    top: f64,
    high: f64,
}

/// Ends below each other, each at least a line of text high.
fn stack<'a>(shares: &[&'a Share], per_w: f64, top: f64) -> Vec<End<'a>> {
    let mut y = top;
    let mut ends = Vec::new();
    for share in shares {
        let high = share.mean_w * per_w;
        ends.push(End {
            name: &share.name,
            mean_w: share.mean_w,
            top: y,
            high,
        });
        y += high.max(LINE) + GAP;
    }
    ends
}

/// The picture; nothing where no heat flows.
pub(super) fn picture(findings: &Findings, units: Units) -> Markup {
    let positive = |shares: &'_ [Share]| -> Vec<Share> {
        let mut kept: Vec<Share> = shares.iter().filter(|s| s.mean_w > 0.0).cloned().collect();
        kept.sort_by(|a, b| b.mean_w.total_cmp(&a.mean_w));
        kept
    };
    let fuel = positive(&findings.fuel_heat);
    let gas = positive(&findings.exhaust_heat);
    let total: f64 = fuel.iter().map(|s| s.mean_w).sum();
    if total <= 0.0 {
        return html! { p { "The engine gave no heat in this cycle." } };
    }
    let per_w = HIGH / total;
    // the exhaust on top, so that its ribbons need not cross the others
    let (exhaust, others): (Vec<&Share>, Vec<&Share>) =
        fuel.iter().partition(|s| s.name.starts_with("exhaust"));
    let middle: Vec<&Share> = exhaust.iter().chain(&others).copied().collect();
    let middle = stack(&middle, per_w, TOP);
    let ends: Vec<&Share> = gas.iter().collect();
    let ends = stack(&ends, per_w, TOP);
    let bottom = |list: &[End]| list.last().map_or(TOP, |e| e.top + e.high.max(LINE));
    let high = bottom(&middle).max(bottom(&ends)).max(TOP + HIGH) + 30.0;
    let heat = |w: f64| Quantity::Heat.show(w, units);
    let percent = |w: f64| format!("{:.1} %", 100.0 * w / total);
    let ink = |i: usize, name: &str| {
        if name.starts_with("exhaust") {
            GAS
        } else {
            OTHERS[i.saturating_sub(1) % OTHERS.len()]
        }
    };
    let mut from = TOP;
    let first: Vec<(String, &str)> = middle
        .iter()
        .enumerate()
        .map(|(i, end)| {
            let ribbon = ribbon(COLUMNS[0] + BAR, from, COLUMNS[1], end.top, end.high);
            from += end.high;
            (ribbon, ink(i, end.name))
        })
        .collect();
    let mut from = TOP;
    let second: Vec<String> = ends
        .iter()
        .map(|end| {
            let ribbon = ribbon(COLUMNS[1] + BAR, from, COLUMNS[2], end.top, end.high);
            from += end.high;
            ribbon
        })
        .collect();
    let given: Vec<&Share> = findings
        .exhaust_heat
        .iter()
        .filter(|s| s.mean_w < 0.0)
        .collect();
    html! {
        svg viewBox=(format!("0 0 {WIDE} {high:.0}")) role="img" aria-label="heat from the fuel to its ends" {
            @for (path, ink) in &first { path d=(path) fill=(ink) fill-opacity="0.35" {} }
            @for path in &second { path d=(path) fill=(GAS) fill-opacity="0.25" {} }
            (block(COLUMNS[0], TOP, HIGH, "#1c1e22"))
            text x=(COLUMNS[0]) y=(TOP - 12.0) font-size="14" font-weight="700" {
                "fuel " (heat(total))
            }
            @for (i, end) in middle.iter().enumerate() {
                (block(COLUMNS[1], end.top, end.high, ink(i, end.name)))
                (label(COLUMNS[1] + BAR + 8.0, end, &format!("{}  {}", heat(end.mean_w), percent(end.mean_w))))
            }
            @for end in &ends {
                (block(COLUMNS[2], end.top, end.high, GAS))
                (label(COLUMNS[2] + BAR + 8.0, end, &format!("{}  {}", heat(end.mean_w), percent(end.mean_w))))
            }
        }
        p.note {
            "Means with the engine on; shares of the fuel's heat. Right: where the " (EXHAUST)
            " leaves its heat, part by part; what a part takes it passes to the bay, the air under the floor, the block and its own metal."
            @for share in given {
                " The gas gains " (heat(-share.mean_w)) " in the " (share.name) " (burning what was unburnt)."
            }
        }
        @if findings.bay_heat.iter().any(|s| s.mean_w > 0.0) { (bay_bars(&findings.bay_heat, units)) }
    }
}

/// A ribbon from one column to the next, as wide at both ends.
fn ribbon(x0: f64, y0: f64, x1: f64, y1: f64, high: f64) -> String {
    let middle = 0.5 * (x0 + x1);
    format!(
        "M{x0:.1} {y0:.1}C{middle:.1} {y0:.1} {middle:.1} {y1:.1} {x1:.1} {y1:.1}V{:.1}C{middle:.1} {:.1} {middle:.1} {:.1} {x0:.1} {:.1}Z",
        y1 + high,
        y1 + high,
        y0 + high,
        y0 + high
    )
}

fn block(x: f64, y: f64, high: f64, ink: &str) -> Markup {
    html! { rect x=(x) y=(format!("{y:.1}")) width=(BAR) height=(format!("{:.1}", high.max(0.6))) fill=(ink) {} }
}

fn label(x: f64, end: &End, words: &str) -> Markup {
    let y = end.top + 0.5 * end.high.max(LINE) + 4.0;
    html! {
        text x=(x) y=(format!("{y:.1}")) font-size="13" paint-order="stroke" stroke="#fff" stroke-width="3" {
            tspan font-weight="700" { (clip(end.name, 26)) } "  " (words)
        }
    }
}

/// What heats the bay: a bar each, convection full and radiation striped.
fn bay_bars(shares: &[Share], units: Units) -> Markup {
    let mut shown: Vec<&Share> = shares.iter().filter(|s| s.mean_w > 0.0).collect();
    shown.sort_by(|a, b| b.mean_w.total_cmp(&a.mean_w));
    let most = shown.first().map_or(1.0, |s| s.mean_w);
    // beside a radiator everything else is thin: it gets a bar that is cut
    let second = shown.get(1).map_or(most, |s| s.mean_w);
    let full = most.min(1.6 * second);
    let high = 24.0 * shown.len() as f64 + 40.0;
    let long = |w: f64| 560.0 * w.min(full) / full;
    html! {
        svg viewBox=(format!("0 0 {WIDE} {high:.0}")) role="img" aria-label="what heats the bay" {
            defs {
                pattern id="rays" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)" {
                    rect width="6" height="6" fill="#e27c14" {}
                    rect width="2" height="6" fill="#fff" {}
                }
            }
            text x="20" y="18" font-size="14" font-weight="700" { "what heats the bay, mean over the cycle" }
            rect x="420" y="8" width="22" height="12" fill="#125ca0" {}
            text x="448" y="18" font-size="12" { "by convection" }
            rect x="560" y="8" width="22" height="12" fill="url(#rays)" {}
            text x="588" y="18" font-size="12" { "by radiation" }
            @for (i, s) in shown.iter().enumerate() {
                @let y = 34.0 + 24.0 * i as f64;
                @let by_air = long((s.mean_w - s.radiation_w.max(0.0)).max(0.0));
                @let whole = long(s.mean_w);
                text x="186" y=(y + 12.0) font-size="13" text-anchor="end" { (clip(&s.name, 24)) }
                rect x="196" y=(y) width=(format!("{by_air:.1}")) height="15" fill="#125ca0" {}
                rect x=(format!("{:.1}", 196.0 + by_air)) y=(y) width=(format!("{:.1}", (whole - by_air).max(0.0))) height="15" fill="url(#rays)" {}
                @if s.mean_w > full {
                    path d=(format!("M{:.0} {:.0}l8 19M{:.0} {:.0}l8 19", 180.0 + whole, y - 2.0, 186.0 + whole, y - 2.0)) stroke="#fff" stroke-width="3" {}
                }
                text x=(format!("{:.1}", 204.0 + whole)) y=(y + 12.0) font-size="13" { (Quantity::Heat.show(s.mean_w, units)) }
            }
        }
    }
}
