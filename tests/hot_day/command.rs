//! `baysoak hot-day` on the binary.

use assert_cmd::Command;
use serde_json::Value;
use tempfile::TempDir;

struct Said {
    code: i32,
    out: String,
    err: String,
}

fn say(folder: &TempDir, line: &str) -> Said {
    let mut command = Command::new(env!("CARGO_BIN_EXE_baysoak"));
    command
        .current_dir(folder.path())
        .arg("hot-day")
        .args(line.split_whitespace());
    let output = command.output().unwrap();
    Said {
        code: output.status.code().unwrap(),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

fn folder() -> TempDir {
    tempfile::tempdir().unwrap()
}

#[track_caller]
fn refused(line: &str, words: &[&str]) {
    let folder = folder();
    let bad = "hour,ambient_c,humidity_percent,sun_w_m2\n1,20,50,0\n1,x,50,0\n3,20,150,-5\n";
    std::fs::write(folder.path().join("bad.csv"), bad).unwrap();
    let said = say(&folder, line);
    assert_eq!(said.code, 2, "{line}: {}", said.err);
    assert!(said.out.is_empty() && !said.err.contains("panicked"));
    for word in words {
        assert!(said.err.contains(word), "{line}: no {word} in {}", said.err);
    }
}

#[test]
fn bad_weather_is_told_line_by_line() {
    refused(
        "--weather bad.csv",
        &[
            "line 3, column hour",
            "line 3, column ambient_c",
            "line 4, column humidity_percent",
            "line 4, column sun_w_m2",
        ],
    );
    refused("--weather none.csv", &["none.csv", "can't read"]);
}

#[test]
fn bad_flags_are_told() {
    refused("--ambient 80", &["ambient temperature", "80", "hint"]);
    refused("--ambient hot", &["--ambient"]);
    refused("--ambient NaN", &["NaN"]);
    refused("--situation beach", &["beach", "motorway, hill"]);
    refused("--situation restart:0", &["restart:0"]);
    refused("--option nothing", &["no option called nothing", "jacket"]);
    refused("--cycle town", &["--cycle", "--situation"]);
    refused("--latitude 45", &["--date"]);
    refused("--latitude 95 --date 2026-07-21", &["-90 to 90"]);
    refused("--latitude 45 --date 2026-02-30", &["no such day"]);
    refused("--soak --advice", &["--advice"]);
    refused("--soak --parked 0", &["1 to 600"]);
    refused("--soak --option all", &["--option", "hint"]);
    refused("--bonnet-open", &["--bonnet-open", "--soak"]);
    refused("--soak --ambient 30", &["--ambient", "--day"]);
    refused(
        "--latitude 45 --date 2026-07-21 --altitude 0",
        &["--altitude"],
    );
    refused("--draws 3", &["number of draws"]);
}

#[test]
fn the_grid_goes_to_screen_json_csv_page_and_pictures() {
    let folder = folder();
    let line = "--ambient 25,38 --humidity 50 --altitude 0 --situation motorway --option jacket \
                --json a.json --csv a.csv --html a.html --plots p";
    let said = say(&folder, line);
    assert!(said.code <= 1, "{}", said.err);
    for word in ["power by density", "jacket", "rolling", "care"] {
        assert!(said.out.contains(word), "no {word} in {}", said.out);
    }
    assert!(
        said.out.lines().all(|l| l.chars().count() <= 100),
        "{}",
        said.out
    );
    let read = |name: &str| std::fs::read_to_string(folder.path().join(name)).unwrap();
    let json: Value = serde_json::from_str(&read("a.json")).unwrap();
    assert_eq!(json["schema"], 1);
    assert_eq!(json["cells"].as_array().unwrap().len(), 4);
    let figures = json["cells"][0]["figures"].as_array().unwrap().len();
    assert_eq!(read("a.csv").lines().count(), 1 + 4 * figures);
    let html = read("a.html");
    assert!(html.starts_with("<!DOCTYPE html>") && html.matches("<svg").count() == 2);
    for name in ["hot-day-maps", "hot-day-curves"] {
        assert!(read(&format!("p/{name}.svg")).contains("motorway"));
        let png = std::fs::read(folder.path().join(format!("p/{name}.png"))).unwrap();
        assert!(png.starts_with(b"\x89PNG") && png.len() > 8_000, "{name}");
    }
}

#[test]
fn a_soak_goes_to_screen_json_csv_and_picture() {
    let folder = folder();
    std::fs::write(
        folder.path().join("drive.csv"),
        "time_s,speed_kmh,grade_percent\n0,80,7\n60,80,7\n",
    )
    .unwrap();
    let line = "--soak --cycle drive.csv --parked 12 --bonnet-open --wind 3 --sun 800 --run-on 60 \
                --json a.json --csv a.csv --html a.html --plots p --units imperial";
    let said = say(&folder, line);
    assert!(said.code <= 1, "{}", said.err);
    for word in ["bonnet open", "bearing oil", "touch", "restart", "degF"] {
        assert!(said.out.contains(word), "no {word} in {}", said.out);
    }
    assert!(
        said.out.lines().all(|l| l.chars().count() <= 100),
        "{}",
        said.out
    );
    let read = |name: &str| std::fs::read_to_string(folder.path().join(name)).unwrap();
    let json: Value = serde_json::from_str(&read("a.json")).unwrap();
    assert_eq!(json["parked"]["bonnet_open"], true);
    assert_eq!(json["parked"]["fan_run_on_s"], 60.0);
    assert_eq!(json["parked"]["sun_w_m2"], 800.0);
    assert_eq!(read("a.csv").lines().count(), 14);
    assert!(read("p/soak.svg").contains("bearing oil"));
    assert!(read("a.html").contains("After key-off"));
}

#[test]
fn a_clear_day_names_its_worst_hour() {
    let folder = folder();
    let line = "--latitude 45 --date 2026-07-21 --situation motorway --plots p --csv a.csv";
    let said = say(&folder, line);
    assert!(said.code <= 1, "{}", said.err);
    assert!(
        said.out.contains("weakest") && said.out.contains("15:00"),
        "{}",
        said.out
    );
    assert!(
        said.out.lines().all(|l| l.chars().count() <= 100),
        "{}",
        said.out
    );
    let csv = std::fs::read_to_string(folder.path().join("a.csv")).unwrap();
    assert!(csv.contains(",14:00,"));
}
