//! The hot-day form, against the command line.

use serde_json::{Value, json};

use super::studies::program;
use super::{demo, events, last, page, post, refused, short_car};

fn asked(kind: &str, more: Value) -> Value {
    let mut all = json!({"car": short_car(), "kind": kind});
    let fields = more.as_object().unwrap().clone();
    all.as_object_mut().unwrap().extend(fields);
    all
}

/// The event of a request, and that the page got words and a report besides.
fn found(asked: &Value, event: &str) -> String {
    let got = events(page().answer(&post("/api/hot-day", asked)));
    assert_eq!(last(&got, "done"), "");
    let front = last(&got, "front");
    assert!(
        front.contains("<svg") && front.contains("Burns, fire"),
        "{front}"
    );
    assert!(last(&got, "report").starts_with("<!DOCTYPE html>"));
    last(&got, event).to_owned()
}

fn cli(flags: &[&str]) -> String {
    let mut all = vec!["hot-day", "demo.toml"];
    all.extend(flags);
    all.extend(["--json", "-", "--quiet"]);
    program(&demo().text, &all)
}

#[test]
fn a_grid_is_that_of_the_command_line() {
    let wish = json!({
        "ambient": "30, 38", "humidity": "40", "altitude": "0,1500", "situation": "queue,restart:5",
        "options": ["shield and vent"],
    });
    let wanted = cli(&[
        "--ambient",
        "30,38",
        "--humidity",
        "40",
        "--altitude",
        "0,1500",
        "--situation",
        "queue,restart:5",
        "--option",
        "shield and vent",
    ]);
    assert!(found(&asked("grid", wish), "hot-day") == wanted);
}

#[test]
fn bands_and_a_chosen_option_are_those_of_the_command_line() {
    let mut wish = asked(
        "grid",
        json!({"ambient": "35", "humidity": "30", "altitude": "0", "situation": "hill"}),
    );
    wish["car"]["option"] = "wrap".into();
    wish["car"]["draws"] = 10.into();
    let wanted = cli(&[
        "--ambient",
        "35",
        "--humidity",
        "30",
        "--altitude",
        "0",
        "--situation",
        "hill",
        "--option",
        "wrap",
        "--draws",
        "10",
    ]);
    assert!(found(&wish, "hot-day") == wanted);
}

#[test]
fn a_clear_day_by_the_hour_is_that_of_the_command_line() {
    let wish = json!({"latitude": "45", "date": "2026-07-21", "swing": "14", "situation": "hill"});
    let mut wish = asked("hours", wish);
    wish["car"]["day"] = "hot".into();
    let wanted = cli(&[
        "--latitude",
        "45",
        "--date",
        "2026-07-21",
        "--swing",
        "14",
        "--situation",
        "hill",
        "--day",
        "hot",
    ]);
    assert!(found(&wish, "hot-day") == wanted);
}

#[test]
fn a_soak_is_that_of_the_command_line() {
    let wish = json!({"parked": "20", "wind": "0.5", "bonnet_open": true, "run_on": "300"});
    let wanted = cli(&[
        "--soak",
        "--parked",
        "20",
        "--wind",
        "0.5",
        "--bonnet-open",
        "--run-on",
        "300",
    ]);
    assert!(found(&asked("soak", wish), "soak") == wanted);
    let own = json!({"parked": "10", "own_drive": true});
    let wanted = cli(&["--soak", "--parked", "10", "--cycle", "short.csv"]);
    assert!(found(&asked("soak", own), "soak") == wanted);
}

#[test]
fn advice_is_that_of_the_command_line() {
    let wish = json!({"parked": "5", "own_drive": true});
    let wanted = cli(&["--advice", "--parked", "5", "--cycle", "short.csv"]);
    assert!(found(&asked("advice", wish), "advice") == wanted);
}

#[test]
fn wrong_fields_are_refused_together_before_any_work() {
    let said = |kind: &str, wish: Value| {
        let (status, said) = refused(&page(), &post("/api/hot-day", &asked(kind, wish)));
        assert_eq!(status, 422, "{said}");
        said["text"].as_str().unwrap().to_owned()
    };
    let all = said(
        "grid",
        json!({"ambient": "30,warm", "humidity": "NaN", "situation": "quue", "date": "2026-02-30"}),
    );
    for part in [
        "ambient warm: not a number",
        "humidity NaN: not a number",
        "situation quue: one of motorway",
        "date 2026-02-30: no such day",
    ] {
        assert!(all.contains(part), "{all}");
    }
    let range = said("grid", json!({"ambient": "400"}));
    assert!(range.contains("400") && range.contains("60"), "{range}");
    let both = said("hours", json!({"latitude": "45"}));
    assert!(both.contains("needs both"), "{both}");
    let size = said("grid", json!({"ambient": vec!["30"; 6000].join(",")}));
    assert!(size.contains("number of cells"), "{size}");
    let option = said("grid", json!({"options": ["wrpa"]}));
    assert!(option.contains("no option called wrpa"), "{option}");
    let parked = said("soak", json!({"parked": "9999"}));
    assert!(parked.contains("outside 1 to 600"), "{parked}");
    let key = json!({"car": short_car(), "kind": "grid", "ambiant": "30"});
    assert_eq!(refused(&page(), &post("/api/hot-day", &key)).0, 400);
}
