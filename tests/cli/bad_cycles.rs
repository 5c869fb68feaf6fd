//! Drive traces that can't be used.

use super::Bench;

/// Runs on a trace and returns the refusal; a JSON file of before must stay as it was.
#[track_caller]
fn refusal(bytes: &[u8]) -> String {
    let bench = Bench::new();
    bench.put("log.csv", bytes);
    bench.put("out.json", b"of before");
    let line = "run --cycle log.csv --json out.json --csv series.csv --plots pictures";
    let refused = bench.say(&line.split(' ').collect::<Vec<_>>());
    let told = refused.refused().to_owned();
    assert_eq!(bench.text("out.json"), "of before");
    assert_eq!(bench.names(), ["log.csv", "out.json", "short.csv"]);
    assert!(told.contains("log.csv"), "{told}");
    assert!(told.len() < 10_000, "{} bytes of message", told.len());
    told
}

#[track_caller]
fn names_all(told: &str, words: &[&str]) {
    for word in words {
        assert!(told.contains(word), "no {word:?} in: {told}");
    }
}

#[test]
fn time_that_goes_backwards_or_stands_still_is_refused() {
    let told = refusal(b"time_s,speed_kmh\n0,0\n2,10\n1,20\n3,20\n3,20\n");
    names_all(&told, &["line 4", "line 6", "time_s", "time must rise"]);
}

#[test]
fn values_that_are_not_numbers_are_refused() {
    let told = refusal(b"time_s,speed_kmh\n0,0\n1,NaN\n2,-inf\n3,fast\n4,0\n");
    names_all(
        &told,
        &["line 3", "line 4", "line 5", "\"NaN\"", "\"fast\""],
    );
    names_all(&told, &["speed_kmh", "hint"]);
}

#[test]
fn wrong_units_are_refused_with_a_hint() {
    let told = refusal(b"time_s,speed_mph\n0,0\n1,10\n");
    names_all(&told, &["speed_kmh", "speed_mph", "hint"]);
    let told = refusal(b"time_s,speed_kmh,map_kpa\n0,0,101300\n1,10,99000\n");
    names_all(&told, &["map_kpa", "101300", "600 kPa"]);
    let told = refusal(b"time_s,speed_kmh,coolant_c\n0,0,361\n1,10,362\n");
    names_all(&told, &["coolant_c", "361", "degrees Celsius"]);
}

#[test]
fn a_trace_without_rows_is_refused() {
    names_all(&refusal(b""), &["empty", "time_s,speed_kmh"]);
    names_all(&refusal(b"time_s,speed_kmh\n"), &["at least 2"]);
    names_all(&refusal(b"time_s,speed_kmh\n0,0\n"), &["at least 2"]);
}

#[test]
fn ten_megabytes_of_garbage_are_refused_briefly() {
    let line = b"garbage, more garbage\n";
    let pure: Vec<u8> = line.iter().copied().cycle().take(10_000_000).collect();
    names_all(&refusal(&pure), &["line 1", "time_s", "missing"]);
    let mut headed = b"time_s,speed_kmh\n".to_vec();
    headed.extend(&pure);
    names_all(&refusal(&headed), &["line 2", "\"garbage\"", "more"]);
}

#[test]
fn binary_files_are_refused() {
    // xorshift, Marsaglia 2003: bytes without any order
    let mut state = 0x9e37_79b9_u32;
    let noise: Vec<u8> = (0..200_000)
        .map(|_| {
            state ^= state << 13;
            state ^= state >> 17;
            state ^= state << 5;
            state.to_le_bytes()[3]
        })
        .collect();
    names_all(&refusal(&noise), &["can't be used"]);
    names_all(&refusal(&[0; 5000]), &["can't be used"]);
    names_all(&refusal(b"\xff\xfet\0i\0m\0e\0_\0s\0"), &["UTF-8"]);
    let mut headed = b"time_s,speed_kmh\n".to_vec();
    headed.extend(&noise);
    names_all(&refusal(&headed), &["line 2"]);
}

#[test]
fn a_trace_that_is_not_there_or_is_a_folder_is_refused() {
    let bench = Bench::new();
    std::fs::create_dir(bench.path().join("logs.csv")).unwrap();
    for name in ["none.csv", "logs.csv"] {
        let refused = bench.say(&["run", "--cycle", name]);
        let told = refused.refused();
        assert!(told.contains(name) && told.contains("read"), "{told}");
    }
}
