//! The page in a real browser; without Chromium these tests say so and pass.

use std::fs;

use serde_json::Value;

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

const READY: &str = "document.querySelectorAll('#charts canvas').length === 4 && document.querySelector('#flow svg') !== null";

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
    for width in [360, 700, 1000] {
        browser.window(width, 780, false);
        fits(&mut browser);
    }
    browser.window(360, 780, false);
    accessible(&mut browser);
    browser.picture("phone");
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
    browser.picture("hot-day");
    faultless(&mut browser);
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
    browser.eval(
        "{ const put = (field, name, text) => { const d = new DataTransfer(); d.items.add(new File([text], name)); field.files = d.files; };
           const f = document.getElementById('judge-form').elements;
           put(f.before, 'before.csv', 'time_s,speed_kmh\\n0,x\\n'); put(f.after, 'after.csv', 'rubbish');
           document.getElementById('judge-form').requestSubmit(); }",
    );
    browser.wait_for(
        "/before\\.csv[^]*after\\.csv/.test(document.getElementById('judge-said').textContent)",
    );
    browser.eval("{ document.getElementById('claim-number').value = 'a lot'; document.getElementById('claim-form').requestSubmit(); }");
    browser
        .wait_for("document.getElementById('claim-said').textContent.includes('change_percent')");
    accessible(&mut browser);
    browser.picture("broken-log");
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
