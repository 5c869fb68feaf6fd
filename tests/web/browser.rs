//! The page in a real browser; without Chromium these tests say so and pass.

use std::fs;

use serde_json::Value;

use super::claims_and_logs::town_log;
use super::devtools::Browser;
use super::root;
use super::socket::Serving;

/// A browser on a fresh page.
fn start() -> Option<(Serving, Browser)> {
    let Some(browser) = Browser::start() else {
        println!("skipped: there is no Chromium (Debian package `chromium`)");
        return None;
    };
    Some((Serving::new(), browser))
}

/// Figures, drawing, charts and heat flows are there; bands may be to come.
const READY: &str = "document.querySelectorAll('#charts canvas').length === 4
    && document.querySelector('#flow svg') !== null && document.querySelector('#drawing svg') !== null
    && document.querySelectorAll('.figure .value').length === 3";

fn open(serving: &Serving, browser: &mut Browser, query: &str) {
    browser.open(&format!("http://{}/{query}", serving.address));
    browser.wait_for(READY);
}

/// Findings of the accessibility check that are serious or critical.
fn serious(browser: &mut Browser) -> Value {
    let axe = fs::read_to_string(root().join("tests/web/vendor/axe/axe.min.js")).unwrap();
    browser.eval(&format!("{axe}; true"));
    browser.eval(
        "axe.run(document, {resultTypes: ['violations']}).then((r) => r.violations
            .filter((v) => v.impact === 'serious' || v.impact === 'critical')
            .map((v) => [v.id, v.nodes.slice(0, 4).map((n) => n.html.slice(0, 160) + ' ' + n.failureSummary)]))",
    )
}

#[track_caller]
fn accessible(browser: &mut Browser) {
    let found = serious(browser);
    assert_eq!(found.as_array().map(Vec::len), Some(0), "{found:#}");
}

/// Whether nothing sticks out of the window sideways.
#[track_caller]
fn fits(browser: &mut Browser) {
    let (page, window) = (
        browser.eval("document.documentElement.scrollWidth"),
        browser.eval("document.documentElement.clientWidth"),
    );
    assert_eq!(page, window);
}

#[track_caller]
fn faultless(browser: &mut Browser) {
    assert!(browser.faults.is_empty(), "{:#?}", browser.faults);
}

#[test]
fn a_first_visit_shows_figures_drawing_and_charts_on_wide_and_narrow_screens() {
    let Some((serving, mut browser)) = start() else {
        return;
    };
    browser.window(1400, 1000, false);
    open(&serving, &mut browser, "");
    assert_eq!(
        browser.eval("document.querySelectorAll('.figure .value').length"),
        3
    );
    let parts = browser
        .eval("[...document.querySelectorAll('svg.bay .tag.exhaust')].map((g) => g.dataset.name)");
    assert_eq!(parts.as_array().unwrap().len(), 6);
    let hottest =
        browser.eval("document.querySelector('svg.bay .tag.exhaust rect').getAttribute('fill')");
    assert!(hottest.as_str().unwrap().starts_with("rgb("), "{hottest}");
    assert_eq!(
        browser.eval("document.getElementById('care').textContent.includes('Burns')"),
        true
    );
    fits(&mut browser);
    accessible(&mut browser);
    browser.picture("first-visit");
    browser.window(1400, 1000, true);
    accessible(&mut browser);
    browser.picture("dark");
    for width in [360, 700, 1000, 1920] {
        browser.window(width, 780, false);
        fits(&mut browser);
    }
    browser.window(360, 780, false);
    accessible(&mut browser);
    browser.picture("phone");
    browser.window(1000, 1000, false);
    browser.print(true);
    assert_eq!(
        browser.eval("['try', 'answer', 'bay', 'hot', 'learn'].map((id) => document.getElementById(id).getClientRects().length > 0)"),
        serde_json::json!([true, true, true, false, false])
    );
    browser.picture("print");
    faultless(&mut browser);
}

#[test]
fn every_build_is_shown_on_a_wide_screen() {
    let Some((serving, mut browser)) = start() else {
        return;
    };
    browser.window(1920, 1200, false);
    for build in ["v8", "tow-diesel"] {
        open(
            &serving,
            &mut browser,
            &format!("?build={build}&cycle=soak-restart"),
        );
        fits(&mut browser);
        let tags = browser.eval("document.querySelectorAll('svg.bay .tag .number').length");
        assert!(tags.as_u64().unwrap() > 10, "{build}: {tags}");
        assert_eq!(
            browser.eval("[...document.querySelectorAll('svg.bay [data-column] .number')].filter((n) => !/^-?\\d+ °C$/.test(n.textContent)).map((n) => n.parentNode.outerHTML)"),
            serde_json::json!([]),
            "{build}: a place without temperature"
        );
        browser.picture(&format!("wide-{build}"));
    }
    faultless(&mut browser);
}

#[test]
fn a_chosen_treatment_changes_the_figures_and_the_address() {
    let Some((serving, mut browser)) = start() else {
        return;
    };
    browser.window(1400, 1000, false);
    open(&serving, &mut browser, "");
    assert_eq!(
        browser.eval("document.querySelector('.difference')"),
        Value::Null
    );
    browser.eval(
        "{ const s = document.querySelector('#parts select[data-part=downpipe]'); s.value = 'glass-wrap-2-turns';
           s.dispatchEvent(new Event('change', {bubbles: true})); }",
    );
    browser.wait_for(
        "document.querySelector('.difference')?.textContent.includes('against bare') === true",
    );
    assert_eq!(
        browser.eval("location.search"),
        "?treat=downpipe%3Aglass-wrap-2-turns"
    );
    browser.wait_for("[...document.querySelectorAll('#cautions li')].some((l) => l.textContent.includes('Fibres'))");
    browser.wait_for(
        "document.querySelector('svg.bay .tag[data-name=downpipe]').textContent.includes('wrap')",
    );
    browser.wait_for(READY);
    accessible(&mut browser);
    browser.picture("treated");
    faultless(&mut browser);
}

#[test]
fn the_address_brings_choices_back_and_the_hot_day_is_hotter() {
    let Some((serving, mut browser)) = start() else {
        return;
    };
    browser.window(1400, 1000, false);
    open(
        &serving,
        &mut browser,
        "?treat=turbine:shield-single&day=hot&units=imperial",
    );
    assert_eq!(
        browser.eval("document.querySelector('#parts select[data-part=turbine]').value"),
        "shield-single"
    );
    let driven = browser.eval("document.getElementById('driven').textContent");
    assert!(driven.as_str().unwrap().contains("95 °F"), "{driven}");
    browser.wait_for("document.querySelector('.difference') !== null");
    browser.picture("imperial");
    faultless(&mut browser);
}

/// Sets a control and lets the page know.
fn set(browser: &mut Browser, control: &str, value: &str) {
    browser.eval(&format!(
        "{{ const c = {control}; c.value = {value:?}; c.dispatchEvent(new Event('change', {{bubbles: true}})); }}"
    ));
}

/// Asks the hot-day form for something.
fn ask_hot_day(browser: &mut Browser, kind: &str) {
    set(
        browser,
        "document.getElementById('hot-form').elements.kind",
        kind,
    );
    browser.eval("document.getElementById('hot-form').requestSubmit()");
}

#[test]
fn an_option_is_taken_whole_and_a_hot_day_shows_what_it_does() {
    let Some((serving, mut browser)) = start() else {
        return;
    };
    browser.window(1400, 1000, false);
    open(&serving, &mut browser, "");
    set(
        &mut browser,
        "document.getElementById('option')",
        "cheap guards",
    );
    browser
        .wait_for("document.querySelector('#changes')?.textContent.includes('run_on_s') === true");
    let says = browser.eval("document.getElementById('option-says').textContent");
    assert_eq!(says, "It also sets bay.fan.run_on_s = 300.");
    assert_eq!(browser.eval("location.search"), "?option=cheap+guards");
    assert_eq!(
        browser.eval("[...document.querySelectorAll('#measures input:checked')].length"),
        3
    );
    // a measure by hand is told, and taken back is whole again
    let tick = "document.querySelector('#measures input:not(:checked)')";
    browser.eval(&format!("window.tried = {tick}; tried.click()"));
    let says = browser.eval("document.getElementById('option-says').textContent");
    assert!(says.as_str().unwrap().contains("Changed by hand"), "{says}");
    browser.eval("tried.click()");
    // the address follows a moment later
    browser.wait_for("location.search === '?option=cheap+guards'");
    browser.wait_for("document.body.dataset.done === 'yes'");
    browser.picture("option");

    for kind in ["soak", "advice", "hours", "grid"] {
        ask_hot_day(&mut browser, kind);
        browser.wait_for("document.querySelector('[data-job=hot]').hidden");
        let shown = format!(
            "document.querySelector('#hot-said .front svg') !== null && document.querySelectorAll('#hot-said table tr').length > 10 && '{kind}'"
        );
        assert_eq!(
            browser.eval(&shown),
            kind,
            "{}",
            browser.eval("document.getElementById('hot-said').textContent")
        );
        accessible(&mut browser);
        fits(&mut browser);
        browser.picture(&format!("hot-{kind}"));
    }
    // what is shown belongs to the car of before once the car changes
    set(&mut browser, "document.getElementById('option')", "coat");
    browser.wait_for("document.querySelector('#hot-said .before') !== null");
    browser.window(360, 780, false);
    fits(&mut browser);
    browser.picture("hot-phone");
    faultless(&mut browser);
}

#[test]
fn a_change_stops_what_is_under_way_and_wrong_fields_are_told() {
    let Some((serving, mut browser)) = start() else {
        return;
    };
    browser.window(1200, 900, false);
    open(&serving, &mut browser, "");
    browser.eval("document.getElementById('hot-form').elements.ambient.value = 'warm, 30'");
    ask_hot_day(&mut browser, "grid");
    browser.wait_for(
        "document.getElementById('hot-said').textContent.includes('ambient warm: not a number')",
    );
    accessible(&mut browser);
    browser.eval("{ const f = document.getElementById('hot-form').elements; f.ambient.value = '30'; f.draws.value = '10'; f.all_options.checked = true; }");
    ask_hot_day(&mut browser, "grid");
    browser.wait_for("document.querySelector('[data-job=hot] progress').value > 0");
    set(&mut browser, "document.getElementById('option')", "coat");
    browser.wait_for(
        "document.getElementById('hot-said').textContent.includes('the car has changed')",
    );
    assert_eq!(
        browser.eval("document.querySelector('[data-job=hot]').hidden"),
        true
    );
    // and by hand
    ask_hot_day(&mut browser, "grid");
    browser.wait_for("document.querySelector('[data-job=hot] progress').value > 0");
    browser.eval("document.querySelector('[data-job=hot] button').click()");
    assert_eq!(
        browser.eval("document.getElementById('hot-said').textContent"),
        "Stopped."
    );
}

#[test]
fn a_bad_sheet_shows_its_problems_at_their_lines_and_keeps_the_figures() {
    let Some((serving, mut browser)) = start() else {
        return;
    };
    browser.window(1200, 900, false);
    open(&serving, &mut browser, "");
    browser.eval(
        "{ const t = document.getElementById('text'); t.value = t.value.replace('power_kw = 132', 'power_kw = -1');
           t.dispatchEvent(new Event('input')); }",
    );
    browser.wait_for("document.querySelectorAll('#problems li').length === 1");
    let told = browser.eval("document.querySelector('#problems li').textContent");
    assert!(
        told.as_str()
            .unwrap()
            .contains("demo.toml:21: engine.power_kw = -1"),
        "{told}"
    );
    assert_eq!(
        browser.eval("document.querySelector('#lines .bad').textContent"),
        "21"
    );
    browser.eval("document.querySelector('#problems button').click()");
    let selected = "(() => { const t = document.activeElement; return t.value.slice(t.selectionStart, t.selectionEnd); })()";
    assert_eq!(browser.eval(selected), "power_kw = -1");
    accessible(&mut browser);
    browser.picture("bad-sheet");
    browser.eval(
        "{ const t = document.getElementById('text'); t.value = t.value.replace('power_kw = -1', 'power_kw = 140');
           t.dispatchEvent(new Event('input')); }",
    );
    browser.wait_for("document.querySelectorAll('#problems li').length === 0 && document.getElementById('trouble').textContent === ''");
}

#[test]
fn broken_logs_and_claims_are_told_in_the_page() {
    let Some((serving, mut browser)) = start() else {
        return;
    };
    browser.window(1200, 900, false);
    open(&serving, &mut browser, "");
    let form = "document.getElementById('judge-form')";
    let (before, after) = (
        format!("{form}.elements.before"),
        format!("{form}.elements.after"),
    );
    browser.choose_files(&before, &[("before.csv", "time_s,speed_kmh\n0,x\n")]);
    browser.choose_files(&after, &[("after.csv", "rubbish")]);
    browser.eval(&format!("{form}.requestSubmit()"));
    browser.wait_for(
        "/before\\.csv[^]*after\\.csv/.test(document.getElementById('judge-said').textContent)",
    );
    browser.eval("{ document.getElementById('claim-number').value = 'a lot'; document.getElementById('claim-form').requestSubmit(); }");
    browser
        .wait_for("document.getElementById('claim-said').textContent.includes('change_percent')");
    accessible(&mut browser);
    browser.picture("broken-log");
    // as the drive, a broken log leaves the figures and says what is wrong
    set(&mut browser, "document.getElementById('cycle')", "log");
    let bad = [("drive.csv", "time_s,speed_kmh\n0,0\n10,fast\n")];
    browser.choose_files("document.getElementById('log')", &bad);
    browser.wait_for("document.getElementById('trouble').textContent.includes('drive.csv')");
    assert_eq!(
        browser.eval("document.querySelectorAll('.figure .value').length"),
        3
    );
    browser.picture("broken-drive");
}

#[test]
fn good_logs_and_a_claim_are_judged_in_the_page() {
    let Some((serving, mut browser)) = start() else {
        return;
    };
    browser.window(1200, 900, false);
    open(&serving, &mut browser, "");
    let form = "document.getElementById('judge-form')";
    for (side, change_k) in [("before", 0.0), ("after", -5.0)] {
        let text = town_log(change_k);
        let (one, other) = (format!("{side}1.csv"), format!("{side}2.csv"));
        let files = [
            (one.as_str(), text.as_str()),
            (other.as_str(), text.as_str()),
        ];
        browser.choose_files(&format!("{form}.elements.{side}"), &files);
    }
    browser.eval(&format!("{{ const f = {form}.elements; f.channel.value = 'bay_c'; f.model.checked = false; {form}.requestSubmit(); }}"));
    browser.wait_for(
        "document.getElementById('judge-said').textContent.includes('a change is shown')",
    );
    browser.eval("document.getElementById('claim-form').requestSubmit()");
    browser.wait_for("document.querySelector('#claim-said table') !== null");
    browser.eval("document.getElementById('get-measure').click()");
    browser.wait_for("document.querySelector('#measure-said table') !== null");
    accessible(&mut browser);
    browser.picture("judged");
    faultless(&mut browser);
}

#[test]
fn the_keyboard_alone_reaches_the_figures_and_moves_time() {
    let Some((serving, mut browser)) = start() else {
        return;
    };
    browser.window(1200, 900, false);
    open(&serving, &mut browser, "");
    browser.press("Tab", 9);
    assert_eq!(browser.eval("document.activeElement.className"), "skip");
    let stops = "[...document.querySelectorAll('a[href], button, input, select, textarea, summary, [tabindex=\"0\"]')]
        .filter((e) => e.tabIndex >= 0 && e.getClientRects().length > 0).length";
    let stops = browser.eval(stops).as_u64().unwrap();
    // every stop is reached in turn, and none holds the focus
    let mut seen = 0;
    for _ in 0..stops + 5 {
        if browser.eval("document.activeElement.id") == "time" {
            break;
        }
        browser.press("Tab", 9);
        seen += 1;
    }
    assert_eq!(
        browser.eval("document.activeElement.id"),
        "time",
        "after {seen} of {stops} stops"
    );
    let before = browser.eval("document.getElementById('time-said').textContent");
    browser.press("ArrowRight", 39);
    let after = browser.eval("document.getElementById('time-said').textContent");
    assert_ne!(before, after);
}
