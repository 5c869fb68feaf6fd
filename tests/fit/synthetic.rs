//! Truth that is known: logs made by the model itself, with noise and 1 K steps.

use std::collections::BTreeMap;

use crate::synthetic_drives::{logged, sheet};
use baysoak::cycle::{LogOptions, import};
use baysoak::sheet::{Chooser, Sheet};
use baysoak::study::fit::{Drive, FitError, FitOptions, fit, judge, predict};

const KEYS: [&str; 3] = [
    "intake.sensor.film_k",
    "intake.sensor.time_constant_s",
    "intake.pickup_standing_share",
];

fn truth() -> BTreeMap<String, f64> {
    let pairs = KEYS.iter().zip([20.0, 8.0, 0.55]);
    pairs.map(|(k, v)| ((*k).to_owned(), v)).collect()
}

fn options() -> FitOptions {
    FitOptions {
        inputs: KEYS.map(String::from).to_vec(),
        starts: 1,
        ..FitOptions::default()
    }
}

#[test]
fn known_inputs_are_found_within_their_stated_errors_and_an_unseen_drive_is_predicted() {
    let truth = truth();
    let drives = [logged(&truth, 1, 420, 5.0), logged(&truth, 2, 420, 12.0)];
    let seen: Vec<&Drive> = drives.iter().collect();
    let found = fit(&sheet(), &seen, &options(), &mut |_| {}).unwrap();
    for input in &found.inputs {
        let off = (input.value - truth[&input.key]) / input.standard_error;
        assert!(off.abs() < 3.0, "{input:?} off by {off} errors");
        assert!(input.left < 0.8, "{input:?} was told");
        let (low, high) = input.narrowed();
        assert!(low >= input.low && high <= input.high && low < high);
    }
    // information adds up: a further drive always tells more, and each less than the one before
    let left: Vec<f64> = found.gains.iter().map(|g| g.left).collect();
    assert!(left.windows(2).all(|w| w[1] < w[0]), "{left:?}");
    assert!(
        left.windows(3).all(|w| w[0] - w[1] > w[1] - w[2]),
        "{left:?}"
    );

    // a drive never seen, which starts 30 K up: its own first minute tells that
    let unseen = logged(&truth, 3, 420, 30.0);
    let build = sheet()
        .settle(&mut Chooser::Given(&found.values()))
        .unwrap()
        .build;
    let score = &judge(&build, &[(&unseen, true)]).unwrap()[0];
    assert!(
        (score.prediction.soak_k - 30.0).abs() < 3.0,
        "{}",
        score.prediction.soak_k
    );
    // noise and steps alone leave 0.42 K: root of 0.3^2 + 1/12
    assert!(score.sensor.rmse_k < 0.6, "{:?}", score.sensor);
    assert!(score.sensor.samples > 300);
    let states: usize = score.states.iter().map(|(_, s)| s.samples).sum();
    assert_eq!(states, score.sensor.samples);
}

#[test]
fn what_is_no_input_is_told_with_near_names() {
    let drive = logged(&truth(), 4, 90, 0.0);
    let mut options = options();
    options.inputs = vec!["intake.sensor.film".into()];
    let told = fit(&sheet(), &[&drive], &options, &mut |_| {}).unwrap_err();
    assert!(matches!(told, FitError::NoSuchInput { .. }));
    assert!(told.to_string().contains("intake.sensor.film_k"), "{told}");
}

#[test]
fn a_log_without_temperatures_is_refused() {
    let mut drive = logged(&truth(), 5, 90, 0.0);
    drive.channels.clear();
    let told = fit(&sheet(), &[&drive], &options(), &mut |_| {}).unwrap_err();
    assert!(matches!(told, FitError::NothingLogged), "{told}");
}

/// Reading over ambient at a time [K], after a step of air flow from 8 to 30 g/s at 300 s.
fn after_step(film_k: f64, time_s: f64) -> f64 {
    let mut text = String::from("time_s,speed_kmh,rpm,maf_gs,map_kpa,ect_c,amb_c,iat_c\n");
    for t in 0..500 {
        let flow = if t < 300 { 8 } else { 30 };
        text += &format!("{t},100,{},{flow},100,85,15,25\n", 1800 + t % 2);
    }
    let read = import(text.as_bytes(), "log", &LogOptions::default()).unwrap();
    let drive = Drive::of(read, "step");
    let pairs = [
        ("intake.sensor.film_k", film_k),
        ("intake.sensor.mount_share", 0.5),
        ("intake.sensor.time_constant_s", 38.0),
    ];
    let values = pairs.map(|(k, v)| (k.to_owned(), v)).into();
    let build = sheet().settle(&mut Chooser::Given(&values)).unwrap().build;
    let found = predict(&build, &drive, Some(3.0)).unwrap();
    found.channels[0][drive.channels[0]
        .time_s
        .iter()
        .position(|t| *t == time_s)
        .unwrap()]
        - 288.15
}

/// A heated flow meter takes its settled warmth P / (g + m) off at once, and follows with its lag.
/// By hand: bore 70 mm at 97 kPa and 289 K gives 1.78 and 6.68 m/s, g + m is 0.711 and 0.909 of the
/// whole at 10 m/s, so 20 K at 10 m/s are 28.1 and 22.0 K.
#[test]
fn verify_a_heated_flow_meter_jumps_by_the_change_of_its_settled_warmth_and_fades() {
    let jump = |film_k: f64| after_step(film_k, 301.0) - after_step(film_k, 299.0);
    // the readings are linear in the film's heat
    let by_film = (jump(20.0) - jump(2.0)) * 20.0 / 18.0;
    assert!((by_film - 6.1).abs() < 0.6, "{by_film}");
    // two time constants of 38 s / 0.909 later an eighth is left
    let fades = (after_step(20.0, 385.0) - after_step(2.0, 385.0))
        - (after_step(20.0, 299.0) - after_step(2.0, 299.0));
    assert!(fades.abs() < 0.25 * by_film, "{fades} of {by_film}");
}

#[test]
fn a_steady_fault_of_the_log_widens_errors_and_does_not_silence_it() {
    // a sensor that reads 2 K high all the time, which no input can explain away
    let truth = truth();
    let mut drive = logged(&truth, 6, 420, 5.0);
    let clean = fit(&sheet(), &[&drive], &options(), &mut |_| {}).unwrap();
    let times = drive.channels[0].time_s.clone();
    let late = drive.channels[0].value_k.iter_mut().zip(times);
    late.filter(|(_, t)| *t > 90.0).for_each(|(k, _)| *k += 2.0);
    let shifted = fit(&sheet(), &[&drive], &options(), &mut |_| {}).unwrap();
    let film = |f: &baysoak::study::fit::Fit| f.inputs[0].clone();
    assert!(
        film(&shifted).standard_error > 1.2 * film(&clean).standard_error,
        "{:?} {:?}",
        film(&shifted),
        film(&clean)
    );
    // 15 is what the sheet holds likely, 20 the truth
    assert!(film(&shifted).value > 17.0, "{:?}", film(&shifted));
}

#[test]
fn without_names_the_inputs_are_those_that_the_logs_can_tell() {
    let text = crate::synthetic_drives::SHEET;
    let (before, after) = text.split_once("[log]").unwrap();
    let (_, after) = after.split_once("]\n").unwrap();
    let bare = Sheet::parse(&format!("{before}{after}"), "bare.toml").unwrap();
    assert!(bare.raw().log.is_none());
    let drive = logged(&truth(), 7, 420, 5.0);
    let options = FitOptions {
        starts: 1,
        ..FitOptions::default()
    };
    let found = fit(&bare, &[&drive], &options, &mut |_| {}).unwrap();
    assert!((1..=12).contains(&found.inputs.len()), "{:?}", found.inputs);
    // the sensor sees its own duct and meter first; it can't weigh the car
    let first = &found.inputs[0];
    assert!(first.key.starts_with("intake."), "{first:?}");
    assert!(!found.inputs.iter().any(|i| i.key.starts_with("car.")));
    let build = bare
        .settle(&mut Chooser::Given(&found.values()))
        .unwrap()
        .build;
    let likely = bare.settle(&mut Chooser::Likely).unwrap().build;
    let off = |b| judge(b, &[(&drive, false)]).unwrap()[0].sensor.rmse_k;
    assert!(
        off(&build) < 0.85 * off(&likely),
        "{} {}",
        off(&build),
        off(&likely)
    );
}
