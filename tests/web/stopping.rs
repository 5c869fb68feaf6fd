//! Long works that nobody waits for any more: each is far too large to be worked out to its end here.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use baysoak::web::{Reply, Sink};
use serde_json::{Value, json};

use super::claims_and_logs::town_log;
use super::{demo, page, post, short_car};

/// Starts a work and leaves after so many events.
fn left_after(path: &str, body: &Value, events: usize) {
    let Reply::Stream(work, stop) = page().answer(&post(path, body)) else {
        panic!("{path}: no work");
    };
    let sent = Arc::new(AtomicUsize::new(0));
    let count = sent.clone();
    let send = move |_| count.fetch_add(1, Ordering::Relaxed) + 1 < events;
    work(&Sink::new(send, stop.clone()));
    assert!(stop.load(Ordering::Relaxed), "{path}");
    assert_eq!(sent.load(Ordering::Relaxed), events, "{path}");
}

fn with_draws(draws: usize) -> Value {
    let mut car = short_car();
    car["draws"] = draws.into();
    car
}

#[test]
fn what_to_measure_first_ends_between_two_runs() {
    left_after("/api/measure", &with_draws(10_000), 5);
}

#[test]
fn a_claim_ends_between_two_draws() {
    let claim = json!({
        "sheet": {"name": "demo.toml", "text": demo().text}, "draws": 10_000,
        "claim": {"quantity": "bay-air", "change_k": -50, "treatment.thickness_mm": 0.3},
    });
    left_after("/api/claim", &claim, 5);
}

#[test]
fn a_hot_day_ends_between_two_runs() {
    let grid = json!({"car": with_draws(10_000), "kind": "grid", "situation": "hill"});
    left_after("/api/hot-day", &grid, 5);
}

#[test]
fn advice_ends_between_two_runs() {
    let advice = json!({"car": short_car(), "kind": "advice", "parked": "600"});
    left_after("/api/hot-day", &advice, 3);
}

#[test]
fn a_judgement_ends_between_two_logs() {
    let text = town_log(0.0).replace("bay_c", "air:hot_c");
    let file = |side: &str, i: usize| json!({"name": format!("{side} {i}.csv"), "text": text});
    let many = |side: &str| -> Vec<Value> { (0..200).map(|i| file(side, i)).collect() };
    let asked = json!({
        "car": short_car(), "channel": "air:hot_c", "before": many("before"), "after": many("after"),
    });
    left_after("/api/judge", &asked, 3);
}
