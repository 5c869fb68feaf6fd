//! The claim form and the judging of logs.

use serde_json::{Value, json};

use super::{demo, events, get, last, page, post, refused, whole};

fn claim(keys: Value) -> Value {
    json!({"sheet": {"name": "demo.toml", "text": demo().text}, "claim": keys, "draws": 10})
}

#[test]
fn a_claim_gets_the_findings_of_the_command_line() {
    let keys = json!({"quantity": "skin-temperature", "change_percent": -33, "part": "downpipe", "treatment.thickness_mm": 0.3});
    let got = events(page().answer(&post("/api/claim", &claim(keys))));
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("claim.toml");
    std::fs::write(&file, "change_percent = -33\npart = \"downpipe\"\nquantity = \"skin-temperature\"\ntreatment.thickness_mm = 0.3\n").unwrap();
    let out = assert_cmd::Command::cargo_bin("baysoak")
        .unwrap()
        .arg("claim")
        .arg(&file)
        .args(["--draws", "10", "--json", "-", "--quiet"])
        .output()
        .unwrap();
    assert_eq!(last(&got, "claim"), String::from_utf8(out.stdout).unwrap());
}

#[test]
fn a_bad_claim_is_refused_before_any_work() {
    for (keys, word) in [
        (json!({}), "quantity"),
        (json!({"quantity": "warmth"}), "warmth"),
        (
            json!({"quantity": "bay-air", "change_percent": "a lot"}),
            "change_percent",
        ),
        (
            json!({"quantity": "bay-air", "change_percent": [1]}),
            "no key",
        ),
        (json!({"x\" = 1\ny": 1}), "no key"),
        (
            json!({"quantity": "skin-temperature", "change_percent": -10, "part": "wing"}),
            "wing",
        ),
    ] {
        let (status, said) = refused(&page(), &post("/api/claim", &claim(keys.clone())));
        assert_eq!(status, 422, "{keys}");
        assert!(
            said["text"].as_str().unwrap().contains(word),
            "{keys}: {said}"
        );
    }
}

/// Values of a select in the page.
fn choices(name: &str) -> Vec<String> {
    let index = whole(page().answer(&get("/"))).body.into_owned();
    let text = String::from_utf8(index).unwrap();
    let list = text
        .split(&format!("name=\"{name}\""))
        .nth(1)
        .unwrap()
        .split("</select>")
        .next()
        .unwrap();
    let values = list
        .split("value=\"")
        .skip(1)
        .map(|v| v.split('"').next().unwrap().to_owned());
    values.filter(|v| !v.is_empty()).collect()
}

#[test]
fn every_choice_of_the_form_is_a_word_of_the_program() {
    let (quantities, points) = (choices("quantity"), choices("at"));
    assert_eq!((quantities.len(), points.len()), (10, 8));
    let help = assert_cmd::Command::cargo_bin("baysoak")
        .unwrap()
        .args(["claim", "--help"])
        .output()
        .unwrap();
    let help = String::from_utf8(help.stdout).unwrap();
    for word in quantities.iter().chain(&points) {
        assert!(help.contains(&format!("- {word}:")), "{word}");
    }
}

/// Twenty minutes of town driving whose bay is `more_k` hotter.
pub fn town_log(more_k: f64) -> String {
    let mut text = "time_s,speed_kmh,power_kw,ambient_c,bay_c\n".to_owned();
    for i in 0..600 {
        let t = f64::from(i) * 2.0;
        let speed = 30.0 + 25.0 * (t / 60.0).sin();
        let noise = 0.4 * (t / 7.0).sin() + 0.3 * (t / 23.0).cos();
        let bay = 50.0 + more_k - 0.1 * speed + noise;
        text.push_str(&format!("{t},{speed:.1},{:.1},20,{bay:.2}\n", 0.2 * speed));
    }
    text
}

fn logs(before: &str, after: &str) -> Value {
    json!({
        "car": null, "channel": "Bay_C", "claim_k": -5.0,
        "before": [{"name": "before.csv", "text": before}],
        "after": [{"name": "after.csv", "text": after}],
    })
}

#[test]
fn logs_of_a_known_change_are_judged() {
    let got = events(page().answer(&post("/api/judge", &logs(&town_log(0.0), &town_log(-5.0)))));
    let found: Value = serde_json::from_str(last(&got, "judge")).unwrap();
    let effect = &found["effect"];
    let (low, high) = (
        effect["low"].as_f64().unwrap(),
        effect["high"].as_f64().unwrap(),
    );
    assert!(low < -5.0 + 0.5 && high > -5.0 - 0.5, "{effect}");
    assert_eq!(found["channel"], "bay_c");
}

#[test]
fn broken_logs_are_told_of_together() {
    let bad = logs("time_s,speed_kmh\n0,x\n5,1\n", "nothing here");
    let (status, said) = refused(&page(), &post("/api/judge", &bad));
    assert_eq!(status, 422);
    let text = said["text"].as_str().unwrap();
    assert!(
        text.contains("before.csv") && text.contains("after.csv"),
        "{text}"
    );
    let mut none = logs("", "");
    none["before"] = json!([]);
    none["channel"] = " ".into();
    let (_, said) = refused(&page(), &post("/api/judge", &none));
    let text = said["text"].as_str().unwrap();
    assert!(
        text.contains("one before") && text.contains("channel"),
        "{text}"
    );
}

#[test]
fn a_column_that_is_not_there_is_told_in_the_stream() {
    let mut asked = logs(&town_log(0.0), &town_log(-5.0));
    asked["channel"] = "oil_c".into();
    let got = events(page().answer(&post("/api/judge", &asked)));
    assert!(last(&got, "failed").contains("oil_c"));
}

#[test]
fn logs_that_can_not_be_fitted_are_told_of_together() {
    let asked = |logs: Value| json!({"sheet": {"name": "demo.toml", "text": demo().text}, "logs": logs, "ambient_c": 300});
    let (status, said) = refused(&page(), &post("/api/fit", &asked(json!([]))));
    assert_eq!(status, 422);
    let text = said["text"].as_str().unwrap();
    assert!(
        text.contains("one is the least") && text.contains("-60 to 60"),
        "{text}"
    );
    let rubbish = json!([{"name": "a.csv", "text": "x"}, {"name": "b.csv", "text": ""}]);
    let (status, said) = refused(&page(), &post("/api/fit", &asked(rubbish)));
    assert_eq!(status, 422);
    let text = said["text"].as_str().unwrap();
    assert!(text.contains("a.csv") && text.contains("b.csv"), "{text}");
}

#[test]
fn a_log_without_a_temperature_of_the_model_is_told_in_the_stream() {
    let text = "time_s,speed_kmh,rpm\n0,0,800\n60,50,2000\n120,50,2000\n180,0,800\n";
    let asked = json!({
        "sheet": {"name": "demo.toml", "text": demo().text}, "logs": [{"name": "a.csv", "text": text}], "ambient_c": 20,
    });
    match page().answer(&post("/api/fit", &asked)) {
        // either the reading or the fit says that there is nothing to compare with
        baysoak::web::Reply::Whole(r) => {
            assert_eq!(r.status, 422, "{}", String::from_utf8_lossy(&r.body))
        }
        stream => assert!(last(&events(stream), "failed").contains("no logged temperature")),
    }
}
