//! Sheets, names and flags that can't be used.

use super::{Bench, starter};

/// `text` as a sheet, refused by `check` and `run` in the same words, with nothing written.
#[track_caller]
fn refusal(text: &str) -> String {
    let bench = Bench::new();
    bench.put("mine.toml", text.as_bytes());
    let checked = bench.say(&["check", "mine.toml"]);
    let told = checked.refused().to_owned();
    let line = "run mine.toml --cycle short.csv --json out.json --plots pictures";
    let ran = bench.say(&line.split(' ').collect::<Vec<_>>());
    assert_eq!(ran.refused(), told);
    assert_eq!(bench.names(), ["mine.toml", "short.csv"]);
    told
}

/// The demonstration build with one text replaced by another.
#[track_caller]
fn changed(from: &str, to: &str) -> String {
    let text = starter("demo");
    assert!(text.contains(from), "{from}");
    text.replace(from, to)
}

/// Line of the first occurrence of `word`, from 1.
fn line_of(text: &str, word: &str) -> usize {
    text.lines().position(|l| l.contains(word)).unwrap() + 1
}

#[test]
fn every_problem_is_shown_at_once_with_file_line_and_hint() {
    let text = changed("wall_mm = 5\n", "wall_mm = 160\n")
        .replace("length_mm = 110", "length_mm = -110")
        .replace("boost_kpa", "bost_kpa")
        .replace("fuel = \"petrol\"", "fuel = \"petrool\"");
    let told = refusal(&text);
    for (line, key, hint) in [
        (
            "wall_mm = 160",
            "exhaust[collector].wall_mm = 160",
            "0.4 to 25 mm",
        ),
        (
            "length_mm = -110",
            "exhaust[collector].length_mm = -110",
            "plausible",
        ),
        (
            "bost_kpa",
            "turbocharger.bost_kpa",
            "did you mean boost_kpa?",
        ),
        ("petrool", "engine.fuel", "petrol"),
    ] {
        let place = format!("mine.toml:{}: {key}", line_of(&text, line));
        let after = told.split(&place).nth(1);
        let after = after.unwrap_or_else(|| panic!("no {place:?} in\n{told}"));
        let hinted = after.lines().take(2).any(|l| l.contains(hint));
        assert!(hinted, "no {hint:?} after {place:?} in\n{told}");
    }
}

#[test]
fn options_that_cannot_be_carried_out_are_refused_all_at_once_whether_or_not_they_are_asked_for() {
    let bad = r#"
[[option]]
name = "no such part"
treat = { nosuch = "ceramic_coating" }

[[option]]
name = "no such key"
set = { "engine.nosuch" = 1 }
"#;
    let told = refusal(&format!("{}{bad}", starter("demo")));
    for name in ["no such part", "no such key"] {
        assert!(told.contains(name), "no {name:?} in\n{told}");
    }
}

#[test]
fn numbers_that_are_not_finite_are_refused() {
    for bad in ["nan", "inf", "-inf", "{ low = 1, likely = nan, high = 9 }"] {
        let told = refusal(&changed("wall_mm = 5\n", &format!("wall_mm = {bad}\n")));
        assert!(told.contains("exhaust[collector].wall_mm"), "{bad}: {told}");
    }
}

#[test]
fn ranges_in_the_wrong_order_are_refused() {
    let told = refusal(&changed(
        "wall_mm = 5\n",
        "wall_mm = { low = 6, likely = 5, high = 4 }\n",
    ));
    assert!(told.contains("exhaust[collector].wall_mm"), "{told}");
}

#[test]
fn a_sheet_that_is_not_toml_is_refused_with_its_line() {
    let told = refusal("[car]\nmass_kg = 1420 kg\n");
    assert!(told.contains("mine.toml:2"), "{told}");
}

#[test]
fn an_empty_sheet_says_what_is_needed() {
    for text in ["", "\n# nothing yet\n"] {
        let told = refusal(text);
        assert!(
            told.contains("mine.toml") && told.contains("engine"),
            "{told}"
        );
    }
}

#[test]
fn two_of_one_name_are_refused_with_the_line_of_the_second() {
    for (from, to) in [
        ("name = \"collector\"", "name = \"runners\""),
        ("name = \"cold pipe\"", "name = \"hot pipe\""),
        ("name = \"heater hose\"", "name = \"lambda sensor loom\""),
    ] {
        let text = changed(from, to);
        let told = refusal(&text);
        let lines: Vec<usize> = text.match_indices(to).map(|(at, _)| at).collect();
        let second = text[..lines[1]].matches('\n').count();
        // the entry's heading is the line above its name
        let place = format!("mine.toml:{second}: ");
        assert!(told.contains(&place) && told.contains("second"), "{told}");
    }
}

#[test]
fn a_cycle_in_the_sheet_is_checked_with_it() {
    let told = refusal(&changed("builtin = \"day\"", "builtin = \"dya\""));
    assert!(told.contains("did you mean day?"), "{told}");
    let phase = "[[cycle.phase]]\nkind = \"drive\"\nspeed_kmh = 900\nduration_min = -2\n";
    let text = changed("[cycle]\nbuiltin = \"day\"\n", phase);
    let told = refusal(&text);
    for word in ["speed_kmh = 900", "duration_min = -2"] {
        let place = format!("mine.toml:{}: cycle.phase[1].{word}", line_of(&text, word));
        assert!(told.contains(&place), "no {place:?} in\n{told}");
    }
}

#[test]
fn odd_sheets_are_refused_without_a_panic() {
    let odd = [
        format!("a = {}1{}", "[".repeat(5000), "]".repeat(5000)),
        format!("{} = 1", vec!["a"; 20_000].join(".")),
        changed("mass_kg = 1420", "mass_kg = 99999999999999999999999"),
        changed("count = 4 ", "count = 9223372036854775807 "),
        changed("count = 4 ", "count = 1.5 "),
        changed("[7.8, 14.2, 21.0, 28.4, 35.6, 42.8]", "[]"),
        changed("[7.8, 14.2, 21.0, 28.4, 35.6, 42.8]", "[nan, 7.8]"),
        changed("pressure_kpa = 100", "pressure_kpa = 0"),
        changed("nose = { low", "hot = 0.9, nose = { low"),
        changed("after = \"cold pipe\"", "after = \"warm pipe\""),
        changed("[[exhaust]]", "[exhaust]"),
        changed("redline_rpm = 6400", "redline_rpm = 700"),
    ];
    for text in odd {
        let told = refusal(&text);
        assert!(told.contains("hint: "), "{told}");
    }
}

#[test]
fn odd_but_possible_sheets_run() {
    let part = |i: usize| {
        let sizes = "kind = \"pipe\"\nmetal = \"stainless-304\"\nbore_mm = 60\nwall_mm = 1.5";
        format!("[[exhaust]]\nname = \"p{i}\"\n{sizes}\nlength_mm = 200\nzone = \"low\"\n")
    };
    let many: String = (0..100).map(part).collect();
    let turbo = "[turbocharger]\nboost";
    let loops = "[[bay.opening]]\nname = \"a\"\nfrom = \"hot\"\nto = \"upper\"\narea_cm2 = 90\n\
                 [[bay.opening]]\nname = \"b\"\nfrom = \"upper\"\nto = \"hot\"\narea_cm2 = 90\n\
                 [[bay.opening]]\nname = \"grille\"";
    let area = "area_cm2 = { low = 700, likely = 850, high = 1000 }";
    for text in [
        changed(turbo, &format!("{many}{turbo}")),
        changed("[[bay.opening]]\nname = \"grille\"", loops),
        changed(area, "area_cm2 = 0"),
        changed("\"front pipe\"", "\"Röhre, \\\"vorn\\\" 管\""),
        changed("\n", "\r\n"),
        format!("\u{feff}{}", starter("demo")),
    ] {
        let bench = Bench::new();
        bench.put("mine.toml", text.as_bytes());
        let line = "run mine.toml --cycle short.csv --json - --csv out.csv";
        let found = bench.say(&line.split(' ').collect::<Vec<_>>()).json();
        let rows = csv::Reader::from_path(bench.path().join("out.csv")).unwrap();
        assert!(rows.into_records().all(|r| r.is_ok()));
        let residual = found["audit"]["residual_percent"].as_f64().unwrap();
        assert!(residual < 0.1, "{residual}");
    }
}

#[test]
fn a_binary_or_huge_or_missing_sheet_is_refused() {
    let bench = Bench::new();
    bench.put("photo.toml", &[0x89, b'P', b'N', b'G', 0xff, 0x00]);
    bench.put("huge.toml", &vec![b'#'; 10_000_000]);
    for (name, word) in [
        ("photo.toml", "UTF-8"),
        ("huge.toml", "10000000 bytes"),
        ("none.toml", "can't read"),
    ] {
        let refused = bench.say(&["check", name]);
        let told = refused.refused();
        assert!(told.contains(name) && told.contains(word), "{told}");
    }
}

#[test]
fn unknown_names_suggest_near_ones() {
    let bench = Bench::new();
    for (line, asked, near) in [
        ("run --cycle motorwya", "motorwya", "motorway"),
        ("run --cycle short.csv --day hto", "hto", "hot"),
        ("new --build dmeo -", "dmeo", "demo"),
        ("new --build V8s -", "V8s", "v8"),
        ("run --unitz imperial", "--unitz", "--units"),
        ("run --units imperal", "imperal", "imperial"),
        ("lst", "lst", "list"),
    ] {
        let refused = bench.say(&line.split(' ').collect::<Vec<_>>());
        let told = refused.refused();
        assert!(told.contains(asked), "{told}");
        let rest = told.replace(asked, "");
        assert!(rest.contains(near), "{line}: {told}");
    }
    let told = refusal(&changed("\"ni-resist-d5s\"", "\"niresist-d5s\""));
    assert!(told.contains("did you mean ni-resist-d5s"), "{told}");
    assert_eq!(bench.names(), ["short.csv"]);
}

#[test]
fn a_day_with_a_slip_is_refused_with_its_line() {
    let bench = Bench::new();
    bench.put(
        "day.toml",
        b"ambient_c = 28\nhumidty_percent = 45\nwind_m_s = -3\n",
    );
    let refused = bench.say(&["run", "--cycle", "short.csv", "--day", "day.toml"]);
    let told = refused.refused();
    for word in ["day.toml:2", "humidity_percent", "day.toml:3", "wind_m_s"] {
        assert!(told.contains(word), "no {word} in\n{told}");
    }
}
