//! Logs as loggers write them.

use baysoak::cycle::{Demand, EngineState, Load, LogOptions, LoggedDrive, Role, import};

fn read(text: &str) -> LoggedDrive {
    import(text.as_bytes(), "log.csv", &LogOptions::default()).unwrap_or_else(|e| panic!("{e}"))
}

fn mapped(text: &str, columns: &[(&str, &str)]) -> Result<LoggedDrive, String> {
    let pairs = columns
        .iter()
        .map(|(k, h)| ((*k).to_owned(), (*h).to_owned()));
    let options = LogOptions {
        columns: pairs.collect(),
        ambient_k: None,
    };
    import(text.as_bytes(), "log.csv", &options).map_err(|e| e.to_string())
}

fn at(drive: &LoggedDrive, time_s: f64) -> Demand {
    drive.cycle.at(time_s).expect("inside the log")
}

#[track_caller]
fn near(a: f64, b: f64, within: f64) {
    assert!((a - b).abs() <= within, "{a} is not {b}");
}

#[track_caller]
fn noted(drive: &LoggedDrive, words: &str) {
    let notes = &drive.report.notes;
    assert!(
        notes.iter().any(|n| n.contains(words)),
        "no \"{words}\" in {notes:#?}"
    );
}

/// Factors by hand from NIST SP 811: 1 mph = 0.44704 m/s, 1 psi = 6894.757 Pa, 1 lb = 0.45359237 kg.
#[test]
fn val_american_units_in_headers_become_si() {
    let drive = read(
        "Time (sec),Vehicle speed (mph),Engine speed (rpm),MAF (lb/min),MAP (psi),Coolant temp (F),Outside temp (F),Intake air temp (F)\n\
         0,0,900,1.2,14.5,185,59,77\n1,30,2000,4,20,185,59,77\n2,60,2500,6,25,186,59,79\n",
    );
    let there = at(&drive, 2.0);
    near(there.speed_m_s, 26.8224, 1e-9);
    near(there.manifold_pa.unwrap(), 172_368.925, 1e-6);
    let Load::AirFlow(flow) = there.load else {
        panic!("{:?}", there.load)
    };
    near(flow, 6.0 * 0.453_592_37 / 60.0, 1e-12);
    near(there.ambient_k.unwrap(), 288.15, 1e-9);
    let sensor = &drive.channels[0];
    assert_eq!(sensor.role, Role::Sensor);
    near(sensor.value_k[0], 298.15, 1e-9);
    assert_eq!(drive.report.columns.len(), 8);
    assert!(
        drive
            .report
            .columns
            .iter()
            .all(|c| c.how.contains("from its name"))
    );
}

#[test]
fn metric_cousins_are_understood_with_decimal_commas_and_a_preamble() {
    let drive = read(
        "Logger 7;firmware 2\nRecorded;monday\nZeit time;speed [km/h];rpm;air flow [kg/h];boost [mbar];engine load [%];ambient [degC];charge air temp [degC];oil temp [degC]\n\
         0,0;36,0;1500;72,0;1013;20;15,5;25,5;80\n1,0;72,0;1600;90,0;1100;30;15,5;26,0;81\n",
    );
    let there = at(&drive, 0.0);
    near(there.speed_m_s, 10.0, 1e-12);
    near(there.manifold_pa.unwrap(), 101_300.0, 1e-6);
    let Load::AirFlow(flow) = there.load else {
        panic!("{:?}", there.load)
    };
    near(flow, 0.02, 1e-12);
    near(there.ambient_k.unwrap(), 288.65, 1e-9);
    noted(&drive, "2 lines above the header skipped");
    assert!(drive.channels.iter().any(|c| c.role == Role::Oil));
}

#[test]
fn units_that_no_header_names_are_guessed_and_said_to_be() {
    let mut text = String::from("time,speed,rpm,maf,map,coolant,ambient,iat\n");
    for i in 0..60 {
        text += &format!(
            "{i},{},{},{},{},192,15,25\n",
            40 + i % 3,
            1500 + i,
            40 + i,
            14.0 + f64::from(i) * 0.1
        );
    }
    let drive = read(&text);
    let of = |role: &str| {
        drive
            .report
            .columns
            .iter()
            .find(|c| c.role == role)
            .unwrap()
    };
    // 40 to 100 can't be idle's g/s, 14 to 20 is a pressure in psi, 192 is no Celsius
    assert_eq!(of("air flow").unit, "kgh");
    assert_eq!(of("manifold pressure").unit, "psi");
    assert_eq!(of("coolant").unit, "f");
    assert!(
        of("road speed").how.contains("guessed"),
        "{:?}",
        of("road speed")
    );
    assert!(
        of("manifold pressure").how.contains("size"),
        "{:?}",
        of("manifold pressure")
    );
}

#[test]
fn columns_named_in_the_sheet_win_and_thermocouples_find_their_parts() {
    let text = "t,v,n,x1,x2,x3,x4,out\n0,50,1500,900,400,140,95,15\n1,51,1500,905,401,141,95,15\n2,52,1500,910,402,142,95,15\n";
    let columns = [
        ("time_s", "t"),
        ("speed_kmh", "v"),
        ("rpm", "n"),
        ("exhaust_gas.turbine_f", "x1"),
        ("skin.downpipe_c", "x2"),
        ("bay.upper_f", "x3"),
        ("oil_c", "x4"),
        ("ambient_c", "out"),
    ];
    let drive = mapped(text, &columns).unwrap();
    let of = |role: Role| {
        drive
            .channels
            .iter()
            .find(|c| c.role == role)
            .unwrap()
            .value_k[0]
    };
    near(
        of(Role::ExhaustGas("turbine".into())),
        (900.0 - 32.0) / 1.8 + 273.15,
        1e-9,
    );
    near(of(Role::Skin("downpipe".into())), 673.15, 1e-9);
    near(of(Role::Bay("upper".into())), 60.0 + 273.15, 1e-9);
    near(of(Role::Oil), 368.15, 1e-9);
}

#[test]
fn a_mapping_that_leads_nowhere_is_told_with_a_way_out() {
    let text = "time,speed\n0,1\n1,2\n";
    let told = mapped(text, &[("speed_kmh", "sped"), ("sensro_c", "time")]).unwrap_err();
    assert!(
        told.contains("\"sped\"") && told.contains("is \"speed\" meant?"),
        "{told}"
    );
    assert!(
        told.contains("sensro_c") && told.contains("no such channel"),
        "{told}"
    );
    let told = mapped("clock,iat\n0,20\n1,20\n", &[("time_s", "clock")]).unwrap_err();
    assert!(
        told.contains("road speed") && told.contains("log.columns"),
        "{told}"
    );
}

#[test]
fn impossible_values_words_gaps_and_repeated_times_are_dropped_and_counted() {
    let mut text = String::from("time_s,speed_kmh,rpm,maf_gs,amb_c,iat_c\n");
    for i in 0..400 {
        let t = if i >= 200 { i + 300 } else { i };
        let iat = match i {
            20 => "-273".into(),
            21 => "n/a".into(),
            22 => "NaN".into(),
            _ => format!("{}", 25 + i % 2),
        };
        text += &format!("{t},50,{},{},15,{iat}\n", 1500 + i % 7, 20 + i % 5);
        if i == 50 {
            text += "50,50,1500,20,15,25\n";
        }
    }
    let drive = read(&text);
    noted(&drive, "\"iat_c\": 1 impossible values dropped");
    noted(&drive, "\"iat_c\": 2 cells that aren't numbers dropped");
    noted(&drive, "1 rows whose time doesn't rise dropped");
    noted(&drive, "gap of 301 s at 199 s");
    let sensor = &drive.channels[0];
    let usable_at = |t: f64| {
        let i = sensor.time_s.iter().position(|s| *s == t).unwrap();
        sensor.usable[i]
    };
    assert!(usable_at(150.0) && !usable_at(510.0) && usable_at(690.0));
}

#[test]
fn a_logger_that_stands_still_is_not_compared() {
    let mut text = String::from("time_s,speed_kmh,rpm,maf_gs,amb_c,iat_c\n");
    for i in 0..200 {
        let moving = if (80..140).contains(&i) { 0 } else { i % 9 };
        text += &format!("{i},50,{},{},15,25\n", 1500 + moving, 20 + moving);
    }
    let drive = read(&text);
    noted(&drive, "stand still from 80 to 139 s");
    let sensor = &drive.channels[0];
    assert!(sensor.usable[70] && !sensor.usable[100] && sensor.usable[150]);
}

#[test]
fn the_engine_is_off_where_it_does_not_turn_or_draws_no_air() {
    let mut text = String::from("time_s,speed_kmh,rpm,maf_gs,amb_c,iat_c\n");
    for i in 0..180 {
        let (rpm, maf) = match i {
            60..90 => (0, 0),
            120..130 => (800, 0),
            _ => (800 + i % 5, 6),
        };
        text += &format!("{i},0,{rpm},{maf},15,25\n");
    }
    let drive = read(&text);
    assert_eq!(at(&drive, 75.0).engine, EngineState::Off);
    assert_eq!(at(&drive, 125.0).engine, EngineState::Off);
    assert_eq!(at(&drive, 30.0).engine, EngineState::Running);
    noted(&drive, "no air flow: taken as engine off");
    let sensor = &drive.channels[0];
    // control units correct a sensor's lag by flow; just after a start that isn't believed
    assert!(!sensor.usable[75] && !sensor.usable[95] && sensor.usable[115]);
}

fn soaked(fall_k: f64) -> String {
    let mut text = String::from("time_s,speed_kmh,rpm,maf_gs,amb_c,iat_c\n");
    for i in 0..900 {
        let speed = if i < 60 { 0 } else { 60 };
        let amb = 15.0 + fall_k * (-f64::from(i.max(60) - 60) / 80.0).exp();
        text += &format!("{i},{speed},{},20,{amb:.0},25\n", 1500 + i % 7);
    }
    text
}

#[test]
fn an_outside_sensor_that_has_soaked_is_told_and_replaced() {
    let drive = read(&soaked(8.0));
    noted(&drive, "had soaked in heat");
    near(at(&drive, 10.0).ambient_k.unwrap(), 288.15, 0.6);
    let plain = read(&soaked(0.0));
    assert!(
        plain.report.notes.iter().all(|n| !n.contains("soaked")),
        "{:?}",
        plain.report.notes
    );
}

#[test]
fn the_days_temperature_can_be_given() {
    let options = LogOptions {
        ambient_k: Some(290.0),
        ..LogOptions::default()
    };
    let drive = import(soaked(8.0).as_bytes(), "log.csv", &options).unwrap();
    near(at(&drive, 0.0).ambient_k.unwrap(), 290.0, 1e-12);
    noted(&drive, "is the one given");
}

#[test]
fn no_bytes_make_it_panic() {
    let texts: [&[u8]; 8] = [
        b"",
        b"\n\n\n",
        b"time",
        b"time,speed\n",
        b"time,speed\n0,\n1,\n",
        b"\xff\xfe\x00t",
        b"time,speed\nnan,inf\n-inf,1e400\n",
        b"time,time,speed,speed\n0,0,0,0\n1e300,2,3,4\n2e300,2,3,4\n",
    ];
    for text in texts {
        assert!(
            import(text, "log.csv", &LogOptions::default()).is_err(),
            "{text:?}"
        );
    }
}
