//! `claim` and `plan` as a person calls them.

use assert_cmd::Command;

struct Said {
    code: i32,
    out: String,
    err: String,
}

fn said(folder: &tempfile::TempDir, line: &[&str]) -> Said {
    let mut command = Command::new(env!("CARGO_BIN_EXE_baysoak"));
    let output = command
        .current_dir(folder.path())
        .args(line)
        .output()
        .unwrap();
    let text = |b: &[u8]| String::from_utf8_lossy(b).into_owned();
    Said {
        code: output.status.code().unwrap(),
        out: text(&output.stdout),
        err: text(&output.stderr),
    }
}

#[test]
fn a_claim_in_a_file_or_by_flags_is_judged_and_fails_with_code_1() {
    let folder = tempfile::tempdir().unwrap();
    let text = "text = \"a third off\"\nquantity = \"skin-temperature\"\nchange_percent = -33\npart = \"downpipe\"\n\
                at = \"country\"\n[treatment]\nthickness_mm = 0.3\n";
    std::fs::write(folder.path().join("c.toml"), text).unwrap();
    let by_file = said(&folder, &["claim", "c.toml", "--draws", "10"]);
    assert_eq!(by_file.code, 1, "{}", by_file.err);
    for part in [
        "\"a third off\"",
        "out of reach",
        "takes",
        "why",
        "measured",
        "care",
    ] {
        assert!(by_file.out.contains(part), "{part} not in\n{}", by_file.out);
    }
    let flags = "claim --quantity skin-temperature --percent -33 --part downpipe --at country --thickness-mm 0.3 --draws 10 --json -";
    let by_flags = said(&folder, &flags.split(' ').collect::<Vec<_>>());
    assert_eq!(by_flags.code, 1);
    let json: serde_json::Value = serde_json::from_str(&by_flags.out).unwrap();
    assert_eq!(json["can_hold"], false);
    assert_eq!(json["readings"][0]["verdict"], "out-of-reach");
    let easy = "claim --quantity heat-flow --percent -10 --part turbine --at country --catalogue jacket-silica --draws 10";
    let easy = said(&folder, &easy.split(' ').collect::<Vec<_>>());
    assert_eq!(easy.code, 0, "{}{}", easy.out, easy.err);
    assert!(easy.out.contains("holds"), "{}", easy.out);
}

#[test]
fn bad_claims_and_plans_are_refused_with_code_2() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("c.toml"), "quantity = \"heat\"\n").unwrap();
    for (line, part) in [
        ("claim c.toml", "c.toml:1: quantity"),
        ("claim none.toml", "none.toml"),
        ("claim", "--quantity: is missing"),
        ("claim --quantity power", "give one of --percent"),
        ("claim --quantity power --percent 5 --draws 3", "draws = 3"),
        ("claim --quantity power --percent nan", "--percent"),
        (
            "claim --quantity power --percent 5 --thickness-mm 1000",
            "--thickness-mm 1000",
        ),
        (
            "claim --quantity bay-air --kelvin -5 --part front",
            "no exhaust part",
        ),
        ("plan --option wrp", "no such option"),
        ("plan --sensors 0 --alpha 0", "sensors = 0"),
        ("plan --sensors 0 --alpha 0", "alpha = 0"),
        ("plan --json - --csv -", "only one"),
    ] {
        let got = said(&folder, &line.split(' ').collect::<Vec<_>>());
        assert_eq!(got.code, 2, "{line}: {}{}", got.out, got.err);
        assert!(
            got.err.contains(part) && !got.err.contains("panicked"),
            "{line}: {part} not in {}",
            got.err
        );
    }
}

#[test]
fn a_plan_goes_to_screen_page_and_log() {
    let folder = tempfile::tempdir().unwrap();
    let line = "plan --option wrap --aim bay --html p.html --csv p.csv --json p.json";
    let got = said(&folder, &line.split(' ').collect::<Vec<_>>());
    assert_eq!(got.code, 0, "{}", got.err);
    assert!(
        got.out.contains("steps") && got.out.contains("repeats"),
        "{}",
        got.out
    );
    let read = |name: &str| std::fs::read_to_string(folder.path().join(name)).unwrap();
    assert!(read("p.html").starts_with("<!DOCTYPE html>"));
    assert!(read("p.csv").contains("time_s,speed_kmh"));
    assert!(read("p.json").contains("\"schema\": 1"));
}
