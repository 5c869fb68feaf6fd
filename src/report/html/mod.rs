//! The report as one page that needs nothing else: it reads on any browser and prints well.

mod bay;
mod flow;
mod front;
mod hot_day;
mod plan;
mod sections;
mod tables;

use maud::{DOCTYPE, Markup, PreEscaped, html};

pub use self::hot_day::{advice_front, hot_day, hot_day_advice, hot_day_front, soak, soak_front};
pub use self::plan::plan;
use self::sections::{assumptions, margins, measure, parts, phases};
use self::tables::{Cell, table};
use super::compare_terminal::driven;
use super::compare_text::{ROWS, decision, excess, harms, is_nothing, price};
use super::plot::{self, Picture};
use super::rank_terminal::{advice, aim, tried};
use super::terminal::CARE;
use super::{ReportError, figure, figures_of};
use crate::quantity::{Quantity, Units};
use crate::study::compare::{Compared, Comparison};
use crate::study::findings::{Findings, Margin, RunResult};
use crate::study::rank::Ranked;

/// Look of the page.
const STYLE: &str = include_str!("page.css");
/// What the program says of itself: its limits stand there, once.
const README: &str = include_str!("../../../README.md");

/// Where each watt goes, as markup with an SVG picture.
#[must_use]
pub fn heat_flow(findings: &Findings, units: Units) -> Markup {
    flow::picture(findings, units)
}

/// The colours of temperatures in pictures of the bay: temperature [degC], fill, ink on it; rising.
#[must_use]
pub fn temperature_scale() -> Vec<(f64, String, &'static str)> {
    bay::scale()
}

/// Part of README that says what the model leaves out.
fn limits_of_the_model() -> &'static str {
    let after = README.split("## Limits of the model").nth(1).unwrap_or("");
    after.split("\nLicence:").next().unwrap_or("").trim()
}

/// The page of a run.
///
/// # Errors
/// When a picture can't be drawn.
pub fn run(result: &RunResult, units: Units) -> Result<String, ReportError> {
    let findings = &result.findings;
    let plots: Result<Vec<String>, ReportError> = Picture::ALL
        .iter()
        .map(|p| plot::svg(*p, result, units))
        .collect();
    let plots = plots?;
    let day = &findings.day;
    let weather = format!(
        "{}, {:.0} min, on a day called {}: {}, {:.0} % humid",
        findings.cycle.name,
        findings.cycle.duration_s / 60.0,
        day.name,
        Quantity::Temperature.show(day.ambient_c, units),
        day.humidity_percent
    );
    let body = html! {
        (head(&findings.sheet.title, &weather))
        section.decision {
            dl {
                @for (word, text) in headline(findings, units) { dt { (word) } dd { (text) } }
            }
            (over_list(&findings.margins, units))
            p.care { (CARE) }
        }
        section {
            h2 { "Where each watt goes" }
            (flow::picture(findings, units))
        }
        section {
            h2 { "The bay at its worst" }
            (bay::picture(findings, units))
        }
        section { h2 { "Limits" } (margins(&findings.margins, units)) }
        @if !findings.measure_first.is_empty() {
            section {
                h2 { "Measure this first" }
                p { "The inputs that move these figures most, and the band that is left when one is known and turns out as likely." }
                (measure(findings, units))
            }
        }
        section {
            h2 { "Over the drive" }
            @for svg in &plots { div.plot { (PreEscaped(svg)) } }
            (phases(findings, units))
        }
        section { h2 { "Parts" } (parts(findings, units)) }
        (list("Beware", &findings.warnings))
        (list("Cautions of what is fitted", &findings.cautions))
        (assumptions(&findings.assumed))
        (limits())
        (foot(findings))
    };
    Ok(page(&findings.sheet.title, &body))
}

/// The page of a comparison.
///
/// # Errors
/// When a picture can't be drawn.
pub fn compare(compared: &Compared, units: Units) -> Result<String, ReportError> {
    let comparison = &compared.comparison;
    let plot = plot::differences_svg(comparison, units)?;
    let first = &compared.runs[0].findings;
    let body = html! {
        (head(&comparison.sheet.title, &driven(comparison, units)))
        section.decision {
            dl {
                @for (word, text) in decision(comparison, units) { dt { (word) } dd { (text) } }
            }
            ul.over {
                @for (option, over) in harms(comparison) { li { (option) ": " (excess(over, units)) } }
            }
            p.care { (CARE) }
        }
        section {
            h2 { "What each option changes" }
            div.plot { (PreEscaped(&plot)) }
            (option_table(comparison, units))
        }
        section {
            h2 { "What is done" }
            @for option in comparison.options.iter().skip(1) {
                p { b { (option.name) } ": " (option.done.join(", ")) }
            }
        }
        section {
            h2 { "The bay at its worst" }
            div.many {
                @for (option, run) in comparison.options.iter().zip(&compared.runs) {
                    figure { figcaption { (option.name) } (bay::picture(&run.findings, units)) }
                }
            }
        }
        section {
            h2 { "Where each watt goes, as it is" }
            (flow::picture(first, units))
        }
        (cautions(comparison))
        (list("Beware", &warnings(comparison)))
        (assumptions(&comparison.assumed))
        (limits())
        (foot(first))
    };
    Ok(page(&comparison.sheet.title, &body))
}

/// The page of a ranking.
///
/// # Errors
/// When a picture can't be drawn.
pub fn rank(ranked: &Ranked, units: Units) -> Result<String, ReportError> {
    let ranking = &ranked.ranking;
    let comparison = &ranked.compared.comparison;
    let plot = plot::differences_svg(comparison, units)?;
    let first = &ranked.compared.runs[0].findings;
    let body = html! {
        (head(&ranking.sheet.title, &driven(comparison, units)))
        p { (aim(ranking)) }
        section.decision {
            dl {
                @for (word, alarm, text) in advice(ranking, units) {
                    dt.alarm[alarm] { (word) } dd.alarm[alarm] { (text) }
                }
            }
            p.care { (CARE) }
        }
        section {
            h2 { "Effect against price" }
            (front::picture(ranking, units))
            (front::sets(ranking, units))
            p.note { (tried(ranking)) }
        }
        section {
            h2 { "What else these sets change" }
            div.plot { (PreEscaped(&plot)) }
            (option_table(comparison, units))
        }
        (cautions(comparison))
        (list("Beware", &warnings(comparison)))
        (assumptions(&comparison.assumed))
        (limits())
        (foot(first))
    };
    Ok(page(&ranking.sheet.title, &body))
}

fn page(title: &str, body: &Markup) -> String {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) }
                style { (PreEscaped(STYLE)) }
            }
            body { (body) }
        }
    }
    .into_string()
}

fn head(title: &str, driven: &str) -> Markup {
    html! { header { h1 { (title) } p { (driven) } } }
}

/// Intake, power and the hottest skin in words, with bands where there are draws.
fn headline(findings: &Findings, units: Units) -> Vec<(&'static str, String)> {
    let banded = |id: &str, place: &str, quantity: Quantity| {
        let found = figure(findings, id, place)?;
        let value = quantity.show(found.value, units);
        Some(match (found.low, found.high) {
            (Some(low), Some(high)) => format!(
                "{value} ({} to {})",
                quantity.number(low, units),
                quantity.number(high, units)
            ),
            _ => value,
        })
    };
    let rise = |place: &str| {
        let mean = banded("intake_rise_mean_k", place, Quantity::Difference)?;
        let peak = banded("intake_rise_peak_k", place, Quantity::Difference)?;
        Some(format!(
            "{place} over ambient, engine on: {mean} mean, {peak} peak"
        ))
    };
    let kept = banded("power_kept_percent", "all", Quantity::Percent);
    let skin = figures_of(findings, "skin_peak_c").max_by(|a, b| a.value.total_cmp(&b.value));
    let skin = skin.and_then(|s| {
        let value = banded("skin_peak_c", &s.place, Quantity::Temperature)?;
        Some(format!("{value} is the hottest, on {}", s.place))
    });
    [
        ("intake", rise("sensor")),
        ("", rise("valve")),
        (
            "power",
            kept.map(|k| format!("{k} kept of what outside air would give, by charge density")),
        ),
        (
            "heat to bay",
            banded("heat_to_bay_mean_w", "all", Quantity::Heat),
        ),
        ("skin", skin),
    ]
    .into_iter()
    .filter_map(|(word, text)| Some((word, text?)))
    .collect()
}

fn over_list(margins: &[Margin], units: Units) -> Markup {
    let temp = |c| Quantity::Temperature.show(c, units);
    html! {
        ul.over {
            @for m in margins.iter().filter(|m| m.margin_k < 0.0) {
                li {
                    (m.part) " is over its limit (" (m.what) "): " (temp(m.peak_c)) " where "
                    (temp(m.limit_c)) " is the limit, for " (format!("{:.1}", m.over_s / 60.0)) " min"
                    @if let Some(chance) = m.over_chance_percent { ", in " (format!("{chance:.0}")) " % of draws" }
                }
            }
        }
    }
}

/// Figures down, options across: the value of the first, differences of the others.
fn option_table(comparison: &Comparison, units: Units) -> Markup {
    let first = &comparison.options[0];
    let mut heading = vec![String::new()];
    heading.extend(comparison.options.iter().map(|o| o.name.clone()));
    let cost = |label: &str, of: &dyn Fn(usize) -> (String, String)| {
        let mut row = vec![Cell::text(label)];
        row.extend((0..comparison.options.len()).map(|i| {
            let (value, band) = of(i);
            Cell::banded(value, band)
        }));
        row
    };
    let mut rows = vec![
        cost("price, EUR", &|i| {
            let c = &comparison.options[i].cost;
            let band = if c.price_high > 0.0 {
                format!("{:.0} to {:.0}", c.price_low, c.price_high)
            } else {
                String::new()
            };
            (price(&comparison.options[i]), band)
        }),
        cost("mass, kg", &|i| {
            (
                format!("{:+.1}", comparison.options[i].cost.mass_kg),
                String::new(),
            )
        }),
    ];
    for row in &ROWS {
        let Some(value) = row.value(first) else {
            continue;
        };
        let band = row.band(first);
        let number = |v: f64| row.quantity.number(v, units);
        let band = band.map_or_else(String::new, |(l, h)| {
            format!("{} to {}", number(l), number(h))
        });
        let mut cells = vec![
            Cell::text(&row.title(units)),
            Cell::banded(number(value), band),
        ];
        cells.extend(comparison.options.iter().skip(1).map(|o| {
            row.difference(comparison, &o.name).map_or_else(
                || Cell::number("-".into()),
                |d| {
                    let band = d.low.zip(d.high);
                    let band = band.map(|(l, h)| row.span(l, h, units));
                    let band = band.filter(|b| !is_nothing(b)).unwrap_or_default();
                    let unsure = d.sign_chance_percent.is_some() && !d.sign_is_known();
                    let mut cell = Cell::banded(row.signed(d.value, units), band);
                    cell.quiet = unsure;
                    cell
                },
            )
        }));
        rows.push(cells);
    }
    let draws = comparison.draws.as_ref().map_or_else(
        || "No draws: how sure these differences are is not known.".to_owned(),
        |d| {
            format!(
                "Small print: 10 to 90 % of {} draws shared by all options, seed {}. Grey: fewer than 90 % of the draws agree on the sign.",
                d.wanted - d.failed,
                d.seed
            )
        },
    );
    let names: Vec<&str> = heading.iter().map(String::as_str).collect();
    html! {
        p.note { "First column: the car as it is. Others: difference against it. " (draws) }
        (table(&names, rows))
    }
}

fn cautions(comparison: &Comparison) -> Markup {
    let options = comparison.options.iter().filter(|o| !o.cautions.is_empty());
    html! {
        section {
            h2 { "Cautions" }
            @for option in options {
                h3 { (option.name) }
                ul { @for caution in &option.cautions { li { (caution) } } }
            }
        }
    }
}

/// Warnings of all options, each once.
fn warnings(comparison: &Comparison) -> Vec<String> {
    let mut all: Vec<String> = comparison
        .options
        .iter()
        .flat_map(|o| o.warnings.clone())
        .collect();
    all.sort();
    all.dedup();
    all
}

fn list(title: &str, items: &[String]) -> Markup {
    html! {
        @if !items.is_empty() {
            section { h2 { (title) } ul { @for item in items { li { (item) } } } }
        }
    }
}

fn limits() -> Markup {
    html! { section { h2 { "Limits of the model" } p { (limits_of_the_model()) } } }
}

fn foot(findings: &Findings) -> Markup {
    let audit = &findings.audit;
    html! {
        footer {
            (findings.program.name) " " (findings.program.version) "; sheet " (findings.sheet.hash)
            "; energy audit: " (format!("{:.3} % ({:.1} W)", audit.residual_percent, audit.residual_w.abs()))
            " of the heat in unexplained; " (findings.work.nodes) " nodes, " (findings.work.steps) " steps"
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::sample::run_result;

    #[test]
    fn the_page_stands_alone_and_leads_with_the_decision() {
        let page = run(&run_result(), Units::Metric).unwrap();
        assert!(page.starts_with("<!DOCTYPE html>"));
        for outside in ["src=", "href=", "@import", "url(h", "url(/"] {
            assert!(!page.contains(outside), "{outside}");
        }
        let place = |text: &str| page.find(text).unwrap_or_else(|| panic!("no {text}"));
        assert!(place("sensor over ambient") < place("Where each watt goes"));
        assert!(place("coolant hose is over its limit") < place("Where each watt goes"));
        assert!(place("Assumed") < place("Limits of the model"));
        assert!(page.contains("Burns, fire, fibre dust"));
        assert!(limits_of_the_model().contains("no combustion model"));
        assert_eq!(page.matches("<svg").count(), page.matches("</svg>").count());
        assert!(page.matches("<svg").count() >= 5);
    }

    #[test]
    fn names_from_a_sheet_are_only_text() {
        let mut result = run_result();
        let bad = "<script>alert(1)</script>";
        result.findings.sheet.title = bad.into();
        for f in &mut result.findings.figures {
            if f.place == "turbine" || f.place == "hot" {
                f.place = bad.into();
            }
        }
        result.findings.margins[0].part = bad.into();
        result.findings.exhaust_heat[2].name = bad.into();
        result.findings.bay_heat[2].name = bad.into();
        result.findings.warnings[0] = bad.into();
        let page = run(&result, Units::Metric).unwrap();
        assert!(!page.contains("<script"), "a name became markup");
        assert!(page.contains("&lt;script&gt;"));
    }

    #[test]
    fn imperial_pages_show_no_metric_temperatures() {
        let page = run(&run_result(), Units::Imperial).unwrap();
        assert!(page.contains("degF") && !page.contains("degC"));
    }
}
