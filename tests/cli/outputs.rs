//! Where results go: standard output, files, pictures, and readers that leave.

use std::io::Read;
use std::process::{Command, Stdio};

use super::{Bench, said};

const PICTURES: [&str; 3] = ["exhaust-heat", "intake-rise", "temperatures"];

/// Endings of column names that carry a unit; the others are named in full.
const UNITS: [&str; 5] = ["_c", "_kmh", "_g_s", "_share", "_s"];

#[test]
fn json_on_standard_output_stands_alone() {
    let bench = Bench::new();
    let said = bench.say(&["run", "--cycle", "short.csv", "--json", "-"]);
    assert_eq!(said.json()["schema"], 1);
    assert!(said.out.starts_with('{') && said.out.ends_with("}\n"));
}

#[test]
fn csv_on_standard_output_stands_alone_and_starts_with_time() {
    let bench = Bench::new();
    let said = bench.say(&["run", "--cycle", "short.csv", "--csv", "-"]);
    let mut reader = csv::Reader::from_reader(said.ran().as_bytes());
    let names = reader.headers().unwrap().clone();
    assert_eq!(&names[0], "time_s");
    for name in names.iter().filter(|n| *n != "rpm") {
        assert!(UNITS.iter().any(|u| name.ends_with(u)), "no unit: {name}");
    }
    for name in [
        "ambient_c",
        "intake:valve_c",
        "metal:turbine_c",
        "air:hot_c",
    ] {
        assert!(names.iter().any(|n| n == name), "no {name}");
    }
    // every cell is a finite number, and time rises from start to end
    let mut times = Vec::new();
    for record in reader.records() {
        let cells = record.unwrap();
        let row: Vec<f64> = cells.iter().map(|c| c.parse().unwrap()).collect();
        assert!(row.iter().all(|v| v.is_finite()), "{row:?}");
        times.push(row[0]);
    }
    assert!(times.windows(2).all(|w| w[0] < w[1]), "{times:?}");
    assert_eq!((times[0], times[times.len() - 1]), (0.0, 90.0));
}

#[test]
fn files_hold_the_same_as_standard_output() {
    let bench = Bench::new();
    let line = "run --cycle short.csv --json out.json --csv out.csv";
    let both = bench.say(&line.split(' ').collect::<Vec<_>>());
    assert!(both.ran().contains("audit"), "the table is shown too");
    let json = bench.say(&["run", "--cycle", "short.csv", "--json", "-"]);
    let csv = bench.say(&["run", "--cycle", "short.csv", "--csv", "-"]);
    assert_eq!(bench.text("out.json"), json.out);
    assert_eq!(bench.text("out.csv"), csv.out);
    assert_eq!(bench.names(), ["out.csv", "out.json", "short.csv"]);
}

#[test]
fn json_and_csv_cannot_share_standard_output() {
    let bench = Bench::new();
    let line = "run --cycle short.csv --json - --csv -";
    let refused = bench.say(&line.split(' ').collect::<Vec<_>>());
    let told = refused.refused();
    assert!(told.contains("--json") && told.contains("--csv"), "{told}");
}

#[test]
fn a_bad_path_fails_before_solving_and_leaves_nothing_behind() {
    let bench = Bench::new();
    bench.put("a-file", b"of before");
    let row = |time_s: i32| format!("{time_s},{}\n", if time_s % 2 == 0 { 50 } else { 52 });
    let hours: String = (0..80_000).map(row).collect();
    bench.put("hours.csv", format!("time_s,speed_kmh\n{hours}").as_bytes());
    let start = std::time::Instant::now();
    for (flag, path) in [
        ("--json", "none/out.json"),
        ("--json", "."),
        ("--csv", "none/out.csv"),
        ("--plots", "a-file"),
        ("--plots", "a-file/pictures"),
    ] {
        let other = if flag == "--csv" { "--json" } else { "--csv" };
        // a trace that can't be solved in any test's time: hours of it
        let refused = bench.say(&["run", "--cycle", "hours.csv", other, "other", flag, path]);
        assert!(refused.refused().contains(path), "{}", refused.err);
        assert_eq!(
            bench.names(),
            ["a-file", "hours.csv", "short.csv"],
            "{flag} {path}"
        );
        assert_eq!(bench.text("a-file"), "of before");
    }
    assert!(start.elapsed().as_secs() < 30, "solved before it looked");
}

#[test]
fn pictures_are_three_svg_and_three_png() {
    let bench = Bench::new();
    let drawn = bench.say(&["run", "--cycle", "short.csv", "--plots", "a/pictures"]);
    drawn.ran();
    let folder = bench.path().join("a/pictures");
    let mut names: Vec<String> = std::fs::read_dir(&folder)
        .unwrap()
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    let wanted = PICTURES.map(|p| [format!("{p}.png"), format!("{p}.svg")]);
    assert_eq!(names, wanted.concat());
    for picture in PICTURES {
        let png = std::fs::read(folder.join(format!("{picture}.png"))).unwrap();
        assert!(png.starts_with(b"\x89PNG\r\n\x1a\n"), "{picture}");
        assert_eq!(&png[png.len() - 8..png.len() - 4], b"IEND", "{picture}");
        let svg = std::fs::read_to_string(folder.join(format!("{picture}.svg"))).unwrap();
        assert!(
            svg.starts_with("<svg") || svg.starts_with("<?xml"),
            "{picture}"
        );
        assert!(
            svg.trim_end().ends_with("</svg>") && svg.contains("<text"),
            "{picture}"
        );
    }
}

#[test]
fn png_needs_no_system_fonts() {
    let bench = Bench::new();
    let line = |folder| ["run", "--cycle", "short.csv", "--plots", folder];
    bench.say(&line("with")).ran();
    let mut command = bench.command(&line("without"));
    let none = bench.path().join("none");
    command
        .env_clear()
        .env("HOME", &none)
        .env("XDG_DATA_HOME", &none);
    command
        .env("FONTCONFIG_FILE", &none)
        .env("FONTCONFIG_PATH", &none);
    said(&mut command).ran();
    for picture in PICTURES {
        let read = |folder: &str| {
            std::fs::read(bench.path().join(format!("{folder}/{picture}.png"))).unwrap()
        };
        assert!(
            read("with") == read("without"),
            "{picture} depends on fonts"
        );
    }
}

#[test]
fn imperial_units_change_the_table_and_not_the_files() {
    let bench = Bench::new();
    let table = |units: &str, json: &str, csv: &str| {
        let mut line = vec!["run", "--cycle", "short.csv", "--units", units];
        line.extend(["--json", json, "--csv", csv]);
        bench.say(&line).ran().to_owned()
    };
    let metric = table("metric", "m.json", "m.csv");
    let imperial = table("imperial", "i.json", "i.csv");
    assert!(
        metric.contains("degC") && !metric.contains("degF"),
        "{metric}"
    );
    assert!(
        imperial.contains("degF") && !imperial.contains("degC"),
        "{imperial}"
    );
    assert_eq!(bench.text("m.json"), bench.text("i.json"));
    assert_eq!(bench.text("m.csv"), bench.text("i.csv"));
}

#[test]
fn quiet_is_silent_on_standard_error() {
    let bench = Bench::new();
    // a jump from 0 to 100 km/h in a second is warned of
    bench.put("jump.csv", b"time_s,speed_kmh\n0,0\n5,0\n6,100\n60,100\n");
    let line = ["run", "--cycle", "jump.csv", "--json", "-"];
    let loud = bench.say(&line);
    assert!(loud.err.contains("warning: "), "{}", loud.err);
    let quiet = bench.say(&[&line[..], &["--quiet"]].concat());
    assert_eq!(quiet.err, "");
    assert_eq!(quiet.json(), loud.json());
    // what went wrong is said all the same
    let failed = bench.say(&["run", "--quiet", "--cycle", "none.csv"]);
    assert!(failed.refused().contains("none.csv"));
}

#[test]
fn a_reader_that_leaves_is_no_error() {
    let bench = Bench::new();
    for line in [
        "run --cycle short.csv --json -",
        "run --cycle short.csv --csv -",
        "run --cycle short.csv",
        "list metals",
        "new -",
    ] {
        let mut command = Command::new(env!("CARGO_BIN_EXE_baysoak"));
        command.current_dir(bench.path()).args(line.split(' '));
        if line.starts_with("run") {
            command.arg("--quiet");
        }
        command.stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = command.spawn().unwrap();
        drop(child.stdout.take());
        let mut told = String::new();
        let mut stderr = child.stderr.take().unwrap();
        stderr.read_to_string(&mut told).unwrap();
        assert_eq!(told, "", "{line}");
        assert_eq!(child.wait().unwrap().code(), Some(0), "{line}");
    }
}

#[test]
fn a_result_never_replaces_what_the_run_reads() {
    let bench = Bench::new();
    let sheet = super::starter("demo");
    bench.put("mine.toml", sheet.as_bytes());
    let trace = std::fs::read(bench.path().join("short.csv")).unwrap();
    for line in [
        "run mine.toml --cycle short.csv --json mine.toml",
        "run mine.toml --cycle short.csv --csv short.csv",
        "run mine.toml --cycle short.csv --csv ./short.csv",
        "check mine.toml --network mine.toml",
        "check mine.toml --cycle short.csv --network short.csv",
    ] {
        let said = bench.say(&line.split(' ').collect::<Vec<_>>());
        assert!(said.refused().contains("would be written over"), "{line}");
    }
    assert_eq!(
        std::fs::read(bench.path().join("mine.toml")).unwrap(),
        sheet.as_bytes()
    );
    assert_eq!(
        std::fs::read(bench.path().join("short.csv")).unwrap(),
        trace
    );
}
