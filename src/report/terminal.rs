//! The result of a run on one screen: a word in the gutter, what it means beside it.

use anstyle::Style;

use super::grid::{Align, clip, grid, wrap};
use super::page::Page;
use super::{ALARM, PLAIN, QUIET, STRONG, figure, figures_of};
use crate::quantity::{Quantity, Units};
use crate::study::findings::{Findings, Margin, PhaseResult, Share};

/// Columns of the gutter.
const GUTTER: usize = 9;
/// Columns of the text beside it.
const TEXT: usize = 71;
/// Rows of the parts table; a screen has no room for more.
const MOST_PARTS: usize = 9;
/// Rows of the phases table.
const MOST_PHASES: usize = 7;
/// Rows of the margins table, unless more limits than that are exceeded.
const MOST_MARGINS: usize = 4;
/// Warnings shown.
const MOST_WARNINGS: usize = 4;
/// Sources of bay heat shown.
const MOST_SOURCES: usize = 6;

/// What working under a hot bonnet does to people and cars.
pub(crate) const CARE: &str = "Burns, fire, fibre dust, coating fumes: guard against each. Keep brakes and \
     fuel clear of heat. Local rules and licensed trades come first.";

/// The screen for `findings`, with ANSI styles (strip them where they aren't wanted).
pub fn render(findings: &Findings, units: Units) -> String {
    let mut page = Screen {
        page: Page::new(GUTTER),
        units,
    };
    page.head(findings);
    page.parts(findings);
    page.zones(findings);
    page.phases(&findings.phases);
    page.margins(&findings.margins);
    page.sources(&findings.bay_heat);
    page.draws(findings);
    page.warnings(&findings.warnings);
    let care = findings.cautions.iter().map(String::as_str);
    let care: Vec<String> = [CARE]
        .into_iter()
        .chain(care)
        .flat_map(|c| wrap(c, TEXT))
        .collect();
    page.put("care", PLAIN, &care);
    page.audit(findings);
    page.page.into_text()
}

/// The most telling margins: exceeded ones first, then the closest.
fn closest(margins: &[Margin]) -> Vec<&Margin> {
    let mut sorted: Vec<&Margin> = margins.iter().collect();
    sorted.sort_by(|a, b| a.margin_k.total_cmp(&b.margin_k));
    let over = sorted.iter().filter(|m| m.margin_k < 0.0).count();
    sorted.truncate(over.max(MOST_MARGINS));
    sorted
}

/// Name with its kind, unless the name says it.
fn phase_name(phase: &PhaseResult) -> String {
    if phase.name.contains(&phase.kind) {
        clip(&phase.name, 26)
    } else {
        format!("{} ({})", clip(&phase.name, 16), phase.kind)
    }
}

/// Length of the last soak, min.
fn soak_min(phases: &[PhaseResult]) -> Option<f64> {
    let soak = phases.iter().rev().find(|p| p.kind == "key-off")?;
    Some((soak.end_s - soak.start_s) / 60.0)
}

/// Time until a part can be touched; one that lasts the whole soak is only a lower bound.
fn touch(minutes: f64, soak_min: Option<f64>) -> String {
    let over = soak_min.is_some_and(|soak| minutes >= soak - 1e-6);
    format!("{}{minutes:.0} min", if over { "> " } else { "" })
}

/// Time until a part can be touched, in words.
pub(super) fn touch_text(minutes: f64, phases: &[PhaseResult]) -> String {
    touch(minutes, soak_min(phases))
}

/// Seconds as people say them.
fn duration(seconds: f64) -> String {
    if seconds < 99.5 {
        format!("{seconds:.0} s")
    } else {
        format!("{:.1} min", seconds / 60.0)
    }
}

struct Screen {
    page: Page,
    units: Units,
}

impl Screen {
    fn put(&mut self, word: &str, style: Style, lines: &[String]) {
        self.page.put(word, style, lines);
    }

    fn line(&mut self, word: &str, style: Style, line: &str) {
        self.page.line(word, style, line);
    }

    fn show(&self, quantity: Quantity, value: f64) -> String {
        quantity.show(value, self.units)
    }

    fn number(&self, quantity: Quantity, value: Option<f64>) -> String {
        value.map_or_else(|| "-".into(), |v| quantity.number(v, self.units))
    }

    /// A figure with its band where there is one.
    fn banded(&self, findings: &Findings, id: &str, place: &str, quantity: Quantity) -> String {
        let Some(found) = figure(findings, id, place) else {
            return "not known".into();
        };
        let value = self.show(quantity, found.value);
        match (found.low, found.high) {
            (Some(low), Some(high)) => format!(
                "{value} ({} to {})",
                quantity.number(low, self.units),
                quantity.number(high, self.units)
            ),
            _ => value,
        }
    }

    fn head(&mut self, findings: &Findings) {
        let day = &findings.day;
        self.line("build", STRONG, &clip(&findings.sheet.title, TEXT));
        let weather = format!(
            "{}, {:.0} min, on a day called {}: {}, {:.0} % humid, {}, sun {:.0} W/m2, wind {}",
            findings.cycle.name,
            findings.cycle.duration_s / 60.0,
            day.name,
            self.show(Quantity::Temperature, day.ambient_c),
            day.humidity_percent,
            self.show(Quantity::Pressure, day.pressure_kpa),
            day.sun_w_m2,
            self.show(Quantity::AirSpeed, day.wind_m_s),
        );
        self.put("driven", PLAIN, &wrap(&weather, TEXT));
        self.page.gap();
        for (word, place, name) in [("intake", "sensor", "sensor"), ("", "valve", "valve")] {
            let mean = self.banded(findings, "intake_rise_mean_k", place, Quantity::Difference);
            let peak = self.banded(findings, "intake_rise_peak_k", place, Quantity::Difference);
            let text = format!("{name} over ambient, engine on: {mean} mean, {peak} peak");
            self.put(word, STRONG, &wrap(&text, TEXT));
        }
        let standard = self.banded(
            findings,
            "power_loss_percent",
            "standard",
            Quantity::Percent,
        );
        let density = self.banded(findings, "power_loss_percent", "density", Quantity::Percent);
        let text =
            format!("lost to intake heat: {standard} by test standard to {density} by density");
        self.put("power", STRONG, &wrap(&text, TEXT));
        let hottest =
            figures_of(findings, "skin_peak_c").max_by(|a, b| a.value.total_cmp(&b.value));
        if let Some(hottest) = hottest {
            let value = self.banded(
                findings,
                "skin_peak_c",
                &hottest.place,
                Quantity::Temperature,
            );
            let text = format!("{value} is the hottest, on {}", clip(&hottest.place, 30));
            self.line("skin", STRONG, &text);
        }
        self.over(&findings.margins);
        self.page.gap();
    }

    /// The worst excess, where there is one: what is in danger belongs at the top.
    fn over(&mut self, margins: &[Margin]) {
        let Some(worst) = closest(margins)
            .first()
            .filter(|m| m.margin_k < 0.0)
            .copied()
        else {
            return;
        };
        let text = format!(
            "{}: {} where {} is the limit, for {}",
            clip(&worst.part, 26),
            self.show(Quantity::Temperature, worst.peak_c),
            self.show(Quantity::Temperature, worst.limit_c),
            duration(worst.over_s)
        );
        let chance = worst.over_chance_percent;
        let chance = chance.map_or_else(String::new, |c| format!(", in {c:.0} % of draws"));
        self.put("over", ALARM, &wrap(&(text + &chance), TEXT));
    }

    fn parts(&mut self, findings: &Findings) {
        let mut parts: Vec<(&str, f64)> = figures_of(findings, "skin_peak_c")
            .map(|f| (f.place.as_str(), f.value))
            .collect();
        if parts.is_empty() {
            return;
        }
        let all = parts.len();
        if all > MOST_PARTS {
            // the hottest stay, in the order of the flow
            let mut heats: Vec<f64> = parts.iter().map(|p| p.1).collect();
            heats.sort_by(|a, b| b.total_cmp(a));
            let least = heats[MOST_PARTS - 1];
            parts.retain(|p| p.1 >= least);
            parts.truncate(MOST_PARTS);
        }
        let soak_min = soak_min(&findings.phases);
        let heat = Quantity::Heat.unit(self.units);
        let mut rows = vec![vec![
            format!("{}, {heat}", Quantity::Temperature.unit(self.units)),
            "skin".into(),
            "metal".into(),
            "to bay".into(),
            "convected".into(),
            "radiated".into(),
            "to touch".into(),
        ]];
        for (part, skin) in &parts {
            let split = split_of(findings, part);
            let value = |id| figure(findings, id, part).map(|f| f.value);
            rows.push(vec![
                clip(part, 16),
                self.number(Quantity::Temperature, Some(*skin)),
                self.number(Quantity::Temperature, value("metal_peak_c")),
                self.number(Quantity::Heat, value("heat_to_bay_mean_w")),
                self.number(Quantity::Heat, split.map(|s| s.0)),
                self.number(Quantity::Heat, split.map(|s| s.1)),
                value("time_to_touch_min").map_or("not known".into(), |v| touch(v, soak_min)),
            ]);
        }
        if let Some(sum) = figure(findings, "heat_to_bay_mean_w", "all") {
            let name = if all > parts.len() {
                format!("all {all} parts")
            } else {
                "together".into()
            };
            let mut row = vec![name, String::new(), String::new()];
            row.push(self.number(Quantity::Heat, Some(sum.value)));
            row.extend([String::new(), String::new(), String::new()]);
            rows.push(row);
        }
        self.table("parts", &rows, |_| false);
    }

    /// A table whose first row is quiet and whose alarming rows stand out.
    fn table(&mut self, word: &str, rows: &[Vec<String>], alarm: impl Fn(usize) -> bool) {
        let count = rows.first().map_or(0, Vec::len);
        let columns: Vec<Align> = (0..count)
            .map(|i| if i == 0 { Align::Name } else { Align::Right })
            .collect();
        for (i, line) in grid(rows, &columns, TEXT).iter().enumerate() {
            let style = match i {
                0 => QUIET,
                _ if alarm(i - 1) => ALARM,
                _ => PLAIN,
            };
            self.line(if i == 0 { word } else { "" }, style, line);
        }
    }

    fn zones(&mut self, findings: &Findings) {
        let zones: Vec<String> = figures_of(findings, "bay_air_peak_c")
            .map(|f| {
                format!(
                    "{} {}",
                    clip(&f.place, 24),
                    self.show(Quantity::Temperature, f.value)
                )
            })
            .collect();
        if !zones.is_empty() {
            let text = format!("air at worst: {}", zones.join(", "));
            self.put("bay", PLAIN, &wrap(&text, TEXT));
        }
    }

    fn phases(&mut self, phases: &[PhaseResult]) {
        if phases.is_empty() {
            return;
        }
        let rise = Quantity::Difference.unit(self.units);
        let degrees = Quantity::Temperature.unit(self.units);
        let mut rows = vec![vec![
            format!("rise in {rise}, peaks in {degrees}"),
            "min".into(),
            "sensor".into(),
            "worst".into(),
            "valve".into(),
            "skin".into(),
            "bay air".into(),
        ]];
        // the phases that a busy cycle can spare are those with the least rise
        let mut rises: Vec<f64> = phases.iter().map(|p| p.sensor_rise_peak_k).collect();
        rises.sort_by(|a, b| b.total_cmp(a));
        let least = rises[phases.len().min(MOST_PHASES) - 1];
        let shown: Vec<&PhaseResult> = phases
            .iter()
            .filter(|p| p.sensor_rise_peak_k >= least)
            .take(MOST_PHASES)
            .collect();
        for phase in &shown {
            rows.push(vec![
                phase_name(phase),
                format!("{:.1}", (phase.end_s - phase.start_s) / 60.0),
                self.number(Quantity::Difference, Some(phase.sensor_rise_mean_k)),
                self.number(Quantity::Difference, Some(phase.sensor_rise_peak_k)),
                self.number(Quantity::Difference, phase.valve_rise_mean_k),
                self.number(Quantity::Temperature, Some(phase.skin_peak_c)),
                self.number(Quantity::Temperature, Some(phase.bay_air_peak_c)),
            ]);
        }
        self.table("phases", &rows, |_| false);
        let rest = phases.len() - shown.len();
        if rest > 0 {
            self.line("", QUIET, &format!("and {rest} with less rise"));
        }
    }

    fn margins(&mut self, margins: &[Margin]) {
        let shown = closest(margins);
        if shown.is_empty() {
            return;
        }
        let mut rows = vec![vec![
            format!("in {}", Quantity::Temperature.unit(self.units)),
            "peak".into(),
            "limit".into(),
            format!("room {}", Quantity::Difference.unit(self.units)),
            "time over".into(),
        ]];
        for m in &shown {
            rows.push(vec![
                clip(&format!("{}, {}", m.part, m.what), 34),
                self.number(Quantity::Temperature, Some(m.peak_c)),
                self.number(Quantity::Temperature, Some(m.limit_c)),
                format!(
                    "{:.0}",
                    Quantity::Difference.convert(m.margin_k, self.units)
                ),
                if m.margin_k < 0.0 {
                    duration(m.over_s)
                } else {
                    "-".into()
                },
            ]);
        }
        self.table("limits", &rows, |i| shown[i].margin_k < 0.0);
        if margins.len() > shown.len() {
            let rest = margins.len() - shown.len();
            self.line("", QUIET, &format!("and {rest} with more room"));
        }
    }

    fn sources(&mut self, shares: &[Share]) {
        let mut sorted: Vec<&Share> = shares.iter().collect();
        sorted.sort_by(|a, b| b.mean_w.abs().total_cmp(&a.mean_w.abs()));
        let mut words: Vec<String> = sorted
            .iter()
            .take(MOST_SOURCES)
            .map(|s| format!("{} {}", s.name, self.show(Quantity::Heat, s.mean_w)))
            .collect();
        if sorted.len() > MOST_SOURCES {
            let rest = sorted[MOST_SOURCES..].iter().map(|s| s.mean_w).sum();
            words.push(format!("others {}", self.show(Quantity::Heat, rest)));
        }
        if !words.is_empty() {
            let text = format!("from {}", words.join(", "));
            self.put("bay heat", PLAIN, &wrap(&text, TEXT));
        }
    }

    fn warnings(&mut self, warnings: &[String]) {
        let mut lines: Vec<String> = Vec::new();
        for warning in warnings.iter().take(MOST_WARNINGS) {
            lines.extend(wrap(warning, TEXT));
        }
        if warnings.len() > MOST_WARNINGS {
            let rest = warnings.len() - MOST_WARNINGS;
            lines.push(format!("and {rest} more (all of them with --json)"));
        }
        self.put("beware", PLAIN, &lines);
    }

    /// What the bands stand on, and what would narrow them.
    fn draws(&mut self, findings: &Findings) {
        let Some(draws) = &findings.draws else {
            return;
        };
        let mut text = format!(
            "10 to 90 % of {} draws, seed {}",
            draws.wanted - draws.failed,
            draws.seed
        );
        if draws.failed > 0 {
            text.push_str(&format!(", {} more failed", draws.failed));
        }
        self.line("bands", PLAIN, &text);
        let mut lines = Vec::new();
        for m in &findings.measure_first {
            let quantity = if m.unit == "W" {
                Quantity::Heat
            } else {
                Quantity::Difference
            };
            let band = |low, high| {
                let low = quantity.number(low, self.units);
                format!("{low} to {}", quantity.show(high, self.units))
            };
            lines.push(format!(
                "{} ({:.0} % of the spread)",
                clip(&m.key, TEXT - 24),
                m.share_percent
            ));
            let effect = format!(
                "{}: {}; once known, {}",
                m.label,
                band(m.low, m.high),
                band(m.low_when_measured, m.high_when_measured)
            );
            lines.extend(wrap(&effect, TEXT - 2).iter().map(|l| format!("  {l}")));
        }
        self.put("measure", PLAIN, &lines);
    }

    fn audit(&mut self, findings: &Findings) {
        let (audit, work) = (&findings.audit, &findings.work);
        let text = format!(
            "{:.3} % of heat in ({:.1} W) unexplained; {} nodes, {} steps, {} redone",
            audit.residual_percent,
            audit.residual_w.abs(),
            work.nodes,
            work.steps,
            work.rejected
        );
        self.put("audit", QUIET, &wrap(&text, TEXT));
    }
}

/// Convection and radiation of a part's heat to the bay, W.
fn split_of(findings: &Findings, part: &str) -> Option<(f64, f64)> {
    findings
        .bay_heat
        .iter()
        .find(|s| s.name == part)
        .map(|s| (s.convection_w, s.radiation_w))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::sample::run_result;

    fn plain(findings: &Findings, units: Units) -> String {
        anstream::adapter::strip_str(&render(findings, units)).to_string()
    }

    #[test]
    fn fits_a_screen() {
        let text = plain(&run_result().findings, Units::Metric);
        assert!(text.lines().count() <= 45, "{text}");
        for line in text.lines() {
            assert!(line.chars().count() <= GUTTER + TEXT, "{line}");
        }
    }

    #[test]
    fn a_busy_sheet_still_fits() {
        let mut findings = run_result().findings;
        for i in 0..20 {
            let mut more = findings.figures.clone();
            more.retain(|f| f.place == "turbine");
            for f in &mut more {
                f.place = format!("another part with a long name {i}");
                f.value -= f64::from(i);
            }
            findings.figures.extend(more);
            let mut phase = findings.phases[0].clone();
            phase.name = format!("phase {i}");
            findings.phases.push(phase);
        }
        let text = plain(&findings, Units::Imperial);
        assert!(text.lines().count() <= 50, "{text}");
        assert!(text.contains("all 23 parts"), "{text}");
        assert!(
            text.lines().all(|l| l.chars().count() <= GUTTER + TEXT),
            "{text}"
        );
    }

    #[test]
    fn a_part_hot_to_the_end_of_the_soak_shows_a_lower_bound() {
        assert_eq!(touch(12.0, Some(12.0)), "> 12 min");
        assert_eq!(touch(11.0, Some(12.0)), "11 min");
        assert_eq!(soak_min(&run_result().findings.phases), Some(12.0));
    }

    #[test]
    fn leads_with_intake_power_and_skin() {
        let text = plain(&run_result().findings, Units::Metric);
        let top: Vec<&str> = text.lines().take(8).collect();
        let top = top.join("\n");
        assert!(top.contains("sensor over ambient"), "{top}");
        assert!(top.contains("3.1 %") && top.contains("6.3 %"), "{top}");
        assert!(top.contains("is the hottest, on runners"), "{top}");
    }

    #[test]
    fn exceeded_limits_come_first_with_their_time() {
        let text = plain(&run_result().findings, Units::Metric);
        // at the top in words, then at the head of the table of limits
        let head = text.lines().take(9).find(|l| l.starts_with("over"));
        assert!(head.is_some_and(|l| l.contains("coolant hose")), "{text}");
        let table = text.find("limits").unwrap();
        let over = table + text[table..].find("coolant hose").unwrap();
        assert!(over < text.find("wiring loom").unwrap());
        let line = text[over..].lines().next().unwrap();
        assert!(line.contains("-6") && line.ends_with("95 s"), "{line}");
    }

    #[test]
    fn imperial_shows_no_kelvin_and_no_offset_in_differences() {
        let mut findings = run_result().findings;
        for f in &mut findings.figures {
            if f.id == "intake_rise_mean_k" {
                f.value = 10.0;
            }
        }
        let text = plain(&findings, Units::Imperial);
        assert!(text.contains("18.0 F deg mean"), "{text}");
        let kelvin = text
            .split_whitespace()
            .any(|w| w.trim_end_matches(',') == "K");
        assert!(!kelvin && !text.contains("degC"), "{text}");
    }

    #[test]
    fn bands_are_shown_when_there_are_draws() {
        let mut findings = run_result().findings;
        for f in &mut findings.figures {
            if f.id == "power_loss_percent" {
                (f.low, f.high) = (Some(f.value - 1.0), Some(f.value + 1.0));
            }
        }
        let text = plain(&findings, Units::Metric);
        assert!(text.contains("3.1 % (2.1 to 4.1)"), "{text}");
    }

    #[test]
    fn warnings_beyond_the_first_few_are_counted() {
        let text = plain(&run_result().findings, Units::Metric);
        assert!(text.contains("and 3 more"), "{text}");
    }
}
