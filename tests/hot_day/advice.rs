//! Advice.

use super::{build, short_drive};
use baysoak::quantity::Units;
use baysoak::report::advice_terminal::render;
use baysoak::sheet::{Chooser, OptionSpec};
use baysoak::study::advice::{Advice, advice, cool_down};
use baysoak::study::compare::candidate;
use baysoak::study::soak::Parking;

fn of_demo() -> Advice {
    let parking = Parking {
        minutes: 10.0,
        restart_min: 1.0,
        ..Parking::default()
    };
    advice(&build("demo"), &short_drive(), &parking, &|_| true).unwrap()
}

#[test]
fn advice_ranks_by_power_and_warns_of_what_keeps_heat_in() {
    let found = of_demo();
    assert!(found.failed.is_empty(), "{:?}", found.failed);
    assert!(found.measures.len() > 20);
    let power = |i: usize| found.measures[i].outcome.power_percent;
    assert!((1..found.measures.len()).all(|i| power(i) <= power(i - 1)));
    let get = |name: &str| found.measures.iter().find(|b| b.name == name).unwrap();
    // the jacket of the turbine alone: hotter oil, later
    let jacket = &get("jacket").change;
    assert!(jacket.bearing_c.unwrap() > 1.0 && jacket.bearing_peak_min.unwrap() > 0.0);
    let open = &get("bonnet open").change;
    assert!(open.power_percent > 0.0 && open.sensor_rise_k < 0.0);
    let gentle = &get("2 min gentle driving first").change;
    assert!(gentle.bearing_c.unwrap() < -1.0);
    let screen = anstream::adapter::strip_str(&render(&found, Units::Metric)).to_string();
    let warned = screen
        .lines()
        .any(|l| l.starts_with("beware  keeps heat in"));
    assert!(warned, "{screen}");
}

#[test]
fn gentle_minutes_hold_a_limit_that_is_passed_without_them() {
    let sheet = build("demo");
    // oil that cokes early, in a bearing without water
    let mut spec = OptionSpec {
        name: "dry bearing".into(),
        ..OptionSpec::default()
    };
    let mut set = |key: &str, value: toml::Value| spec.set.insert(key.into(), value);
    set("turbocharger.water_cooled", toml::Value::Boolean(false));
    let sheet = candidate(&sheet, &spec).unwrap().sheet;
    let settled = |limit_c: f64| {
        let mut settled = sheet.settle(&mut Chooser::Likely).unwrap();
        settled.build.turbo.as_mut().unwrap().oil_coking_k = limit_c + 273.15;
        settled
    };
    let of = |limit_c: f64| {
        let found = cool_down(
            &sheet,
            &settled(limit_c),
            &short_drive(),
            &Parking::default(),
        );
        found.unwrap().unwrap()
    };
    let easy = of(400.0);
    assert_eq!(easy.driving.minutes, Some(0.0));
    assert_eq!(easy.idling.minutes, Some(0.0));
    let after_three = easy
        .driving
        .tried
        .iter()
        .find(|p| p.minutes == 3.0)
        .unwrap()
        .peak_c;
    assert!(after_three < easy.peak_at_once_c - 3.0);
    let limit_c = 0.5 * (easy.peak_at_once_c + after_three);
    let found = of(limit_c);
    let minutes = found.driving.minutes.unwrap();
    assert!(minutes > 0.0 && minutes <= 3.0, "{minutes}");
    let at = |m: f64| found.driving.tried.iter().filter(move |p| p.minutes >= m);
    assert!(at(minutes).all(|p| p.peak_c <= limit_c));
    let before = found
        .driving
        .tried
        .iter()
        .rev()
        .find(|p| p.minutes < minutes)
        .unwrap();
    assert!(before.peak_c > limit_c && minutes - before.minutes <= 0.25 + 1e-9);
}

#[test]
fn without_a_turbo_there_is_no_bearing_to_spare() {
    let sheet = build("v8");
    let settled = sheet.settle(&mut Chooser::Likely).unwrap();
    let found = cool_down(&sheet, &settled, &short_drive(), &Parking::default());
    assert!(found.unwrap().is_none());
}
