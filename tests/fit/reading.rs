//! What a log shows of a sensor: late, too high, and of air that gathers while the car stands.

use std::collections::BTreeMap;

use crate::synthetic_drives::{logged, sheet};
use baysoak::cycle::{Demand, Interval, LogOptions, import};
use baysoak::network::assemble::{Detail, assemble};
use baysoak::network::control::{Beginning, Controller};
use baysoak::network::plant::Plant;
use baysoak::sheet::build::Build;
use baysoak::sheet::{Chooser, Sheet};
use baysoak::study::fit::{Drive, FitOptions, fit, predict};

const DELAY: &str = "intake.sensor.log_delay_s";
const OFFSET: &str = "intake.sensor.log_offset_k";

fn build(values: &[(&str, f64)]) -> Build {
    let values = values.iter().map(|(k, v)| ((*k).to_owned(), *v)).collect();
    sheet().settle(&mut Chooser::Given(&values)).unwrap().build
}

/// A drive with a step of air flow every 20 s.
fn steps() -> Drive {
    let mut text = String::from("time_s,speed_kmh,rpm,maf_gs,map_kpa,ect_c,amb_c,iat_c\n");
    for t in 0..120 {
        let flow = if t / 20 % 2 == 0 { 8 } else { 30 };
        text += &format!("{t},60,{},{flow},100,85,15,25\n", 1500 + t % 2);
    }
    let read = import(text.as_bytes(), "log", &LogOptions::default()).unwrap();
    Drive::of(read, "steps")
}

/// Reading at whole seconds [K] of a car that starts 5 K over ambient.
fn readings(values: &[(&str, f64)]) -> Vec<f64> {
    let found = predict(&build(values), &steps(), Some(5.0)).unwrap();
    found.channels.into_iter().next().unwrap()
}

#[test]
fn verify_a_late_log_shows_what_was_read_before() {
    let now = readings(&[(DELAY, 0.0), (OFFSET, 0.0)]);
    let late = readings(&[(DELAY, 2.0), (OFFSET, 0.0)]);
    let moved = now.windows(2).any(|w| (w[1] - w[0]).abs() > 1.0);
    assert!(moved, "the steps show");
    for (t, (late, before)) in late.iter().skip(2).zip(&now).enumerate() {
        assert!((late - before).abs() < 1e-9, "{t}: {late} {before}");
    }
    // half a second late lies halfway between whole seconds
    let half = readings(&[(DELAY, 0.5), (OFFSET, 0.0)]);
    for (t, w) in now.windows(2).enumerate() {
        assert!((half[t + 1] - 0.5 * (w[0] + w[1])).abs() < 1e-9, "{t}");
    }
}

#[test]
fn verify_a_log_that_shows_too_much_does_so_at_every_moment() {
    let plain = readings(&[(DELAY, 0.0), (OFFSET, 0.0)]);
    let high = readings(&[(DELAY, 0.0), (OFFSET, 1.2)]);
    assert!(
        high.iter()
            .zip(&plain)
            .all(|(h, p)| (h - p - 1.2).abs() < 1e-9)
    );
}

/// At whole rows the slope by the delay jumps; the search must get past them.
#[test]
fn a_late_log_is_found_from_its_drive() {
    for late_s in [0.9, 1.6] {
        let pairs = [("intake.sensor.film_k", 20.0), (DELAY, late_s)];
        let truth: BTreeMap<String, f64> =
            pairs.iter().map(|(k, v)| ((*k).to_owned(), *v)).collect();
        let drive = logged(&truth, 8, 420, 5.0);
        let options = FitOptions {
            inputs: truth.keys().cloned().collect(),
            starts: 1,
            ..FitOptions::default()
        };
        let found = fit(&sheet(), &[&drive], &options, &mut |_| {}).unwrap();
        for input in &found.inputs {
            let off = (input.value - truth[&input.key]) / input.standard_error;
            assert!(off.abs() < 3.0, "{input:?} off by {off} errors");
            assert!(input.left < 0.8, "{input:?} was told");
        }
    }
}

/// Share of standing air in the pickup at the end of each interval over that of a car at rest.
fn standing(lag_s: f64, spans: &[(f64, f64, f64)]) -> Vec<f64> {
    let build = build(&[("bay.recirculation_lag_s", lag_s)]);
    let network = assemble(&build, Detail { segments: 1 }).unwrap();
    let y = vec![build.day.ambient_k; network.states()];
    let mut plant = Plant::new(&network);
    let mut controller = Controller::new(&build);
    let any = steps().cycle.at(0.0).unwrap();
    let at = |kmh: f64| Demand {
        speed_m_s: kmh / 3.6,
        ..any
    };
    spans
        .iter()
        .map(|&(from, to, kmh)| {
            let interval = Interval {
                start_s: from,
                end_s: to,
                phase: 0,
                from: at(kmh),
                to: at(kmh),
            };
            let (tick, ends) = (
                (&interval, Beginning::Continued),
                (&mut plant.from, &mut plant.to),
            );
            controller.settle(&network, tick, &y, ends);
            plant.to.scalars.pickup_standing / build.intake.pickup_standing_share
        })
        .collect()
}

/// First-order lag by hand: 1 - 1/e of the way after one lag, whatever the steps.
#[test]
fn verify_hot_air_gathers_and_clears_with_the_lag() {
    let drive = (0.0, 10.0, 120.0);
    let stop = [(10.0, 25.0, 0.0), (25.0, 50.0, 0.0), (50.0, 450.0, 0.0)];
    let off = (450.0, 490.0, 120.0);
    let spans: Vec<_> = [drive].into_iter().chain(stop).chain([off]).collect();
    let found = standing(40.0, &spans);
    let e = std::f64::consts::E;
    assert!(found[0] < 1e-3, "{found:?}");
    assert!((found[2] - (1.0 - 1.0 / e)).abs() < 1e-3, "{found:?}");
    assert!((found[3] - 1.0).abs() < 1e-3, "{found:?}");
    assert!((found[4] - 1.0 / e).abs() < 1e-3, "{found:?}");
    // without a lag the same at once
    let at_once = standing(0.0, &spans);
    assert!(
        (at_once[1] - 1.0).abs() < 1e-12 && at_once[4] < 1e-3,
        "{at_once:?}"
    );
}

#[test]
fn a_log_can_neither_run_ahead_nor_lie_in_the_far_past() {
    for (value, limit) in [("-1", "0"), ("11", "10")] {
        let text = format!("[intake.sensor]\nlog_delay_s = {value}\n");
        let told = Sheet::parse(&text, "late.toml").unwrap_err().to_string();
        assert!(
            told.contains("log_delay_s") && told.contains(limit),
            "{told}"
        );
    }
}
