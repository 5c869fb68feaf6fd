//! A diesel that burns its filter clean, read from its manifold pressure.

use baysoak::cycle::{LogOptions, LoggedDrive, import};

/// An hour-like log in short: `kpa` by second; the engine stands for the first 20 s.
fn read(kpa: impl Fn(usize) -> f64) -> LoggedDrive {
    let mut text = String::from("time_s,speed_kmh,rpm,maf_gs,map_kpa,ect_c,amb_c,iat_c\n");
    for t in 0..1200 {
        let (rpm, flow, p) = match t {
            0..20 => (0, 0.0, 97.0),
            _ => (900 + t % 7, 9.0 + 0.1 * (t % 5) as f64, kpa(t)),
        };
        text += &format!("{t},{},{rpm},{flow},{p},85,15,25\n", t % 9);
    }
    import(text.as_bytes(), "log.csv", &LogOptions::default()).unwrap()
}

fn burns(drive: &LoggedDrive, time_s: f64) -> bool {
    drive.cycle.at(time_s).unwrap().filter_burning
}

fn told(drive: &LoggedDrive) -> bool {
    let mut notes = drive.report.notes.iter();
    notes.any(|n| n.contains("particulate filter"))
}

#[test]
fn throttled_spells_of_a_diesel_and_what_lies_between_them_are_one_burning() {
    // under load there is no throttle
    let drive = read(|t| match t {
        300..340 | 600..660 => 70.0,
        340..600 => 140.0,
        _ => 99.0,
    });
    assert!(told(&drive), "{:?}", drive.report.notes);
    for (time_s, on) in [
        (290.0, false),
        (310.0, true),
        (450.0, true),
        (655.0, true),
        (665.0, false),
    ] {
        assert_eq!(burns(&drive, time_s), on, "at {time_s} s");
    }
}

#[test]
fn short_dips_a_shut_flap_and_petrol_engines_are_no_burning() {
    let dips = read(|t| if t % 60 < 3 { 80.0 } else { 100.0 });
    let shut = read(|t| if (300..330).contains(&t) { 36.0 } else { 100.0 });
    // idle, overrun and part load of a throttled engine
    let petrol = read(|t| [33.0, 60.0, 75.0, 45.0][t / 30 % 4]);
    for drive in [&dips, &shut, &petrol] {
        assert!(!told(drive), "{:?}", drive.report.notes);
        assert!((0..1199).all(|t| !burns(drive, t as f64)));
    }
}
