//! Options of the sheet, taken whole.

use serde_json::{Value, json};

use super::studies::program;
use super::{demo, events, last, page, post, refused, short_car};

/// The demonstration sheet with one option that does everything an option can do.
fn sheet() -> String {
    let text = demo().text;
    let plain = text.split("# What could be done").next().unwrap();
    format!(
        "{plain}[[option]]\nname = \"all of it\"\ntreat = {{ turbine = \"shield-single\" }}\ntreatment_age = \"season\"\n\
         measures = [\"vent-bonnet\"]\nset = {{ \"bay.fan.run_on_s\" = 300, \"exhaust[downpipe].emissivity\" = 0.3 }}\nprice = 77\n"
    )
}

fn car() -> Value {
    let mut car = short_car();
    car["sheet"]["text"] = sheet().into();
    car
}

fn compared(car: &Value) -> String {
    let got = events(page().answer(&post("/api/study", car)));
    last(&got, "compare").to_owned()
}

#[test]
fn an_option_is_compared_as_the_command_line_compares_it() {
    let mut car = car();
    car["option"] = "all of it".into();
    let flags = [
        "compare",
        "demo.toml",
        "--cycle",
        "short.csv",
        "--draws",
        "0",
        "--json",
        "-",
        "--quiet",
    ];
    assert!(compared(&car) == program(&sheet(), &flags));
}

#[test]
fn what_is_chosen_goes_on_top_of_the_option_and_its_keys_stay() {
    let differences = |car: &Value| -> Value {
        let all: Value = serde_json::from_str(&compared(car)).unwrap();
        all["differences"].clone()
    };
    let mut whole = car();
    whole["option"] = "all of it".into();
    // the same, said one by one
    let mut same = whole.clone();
    same["treat"] = json!({"turbine": "shield-single"});
    same["measures"] = json!(["vent-bonnet"]);
    let numbers = |car: &Value| -> Vec<f64> {
        let all = differences(car);
        let each = all.as_array().unwrap().iter();
        each.map(|d| d["value"].as_f64().unwrap()).collect()
    };
    assert_eq!(numbers(&whole), numbers(&same));
    // without the option's name its keys are gone
    let mut keyless = same.clone();
    keyless.as_object_mut().unwrap().remove("option");
    keyless["treatment_age"] = "season".into();
    assert_ne!(numbers(&whole), numbers(&keyless));
    // a part made bare and no measure: only the keys are left, and still a comparison
    let mut keys_only = whole.clone();
    keys_only["treat"] = json!({"turbine": "bare"});
    keys_only["measures"] = json!([]);
    let all: Value = serde_json::from_str(&compared(&keys_only)).unwrap();
    let done = all["options"][1]["done"].to_string();
    assert!(
        done.contains("run_on_s") && !done.contains("shield"),
        "{done}"
    );
}

#[test]
fn an_option_that_is_not_there_is_refused_with_those_that_are() {
    let mut car = car();
    car["option"] = "al of it".into();
    let (status, said) = refused(&page(), &post("/api/study", &car));
    assert_eq!(status, 422);
    let text = said["text"].as_str().unwrap();
    assert!(
        text.contains("no option called al of it") && text.contains("all of it"),
        "{text}"
    );
}

#[test]
fn the_page_is_told_all_that_an_option_does() {
    let response = super::whole(page().answer(&post("/api/check", &car())));
    let about: Value = serde_json::from_slice(&response.body).unwrap();
    let option = &about["options"][0];
    assert_eq!(option["name"], "all of it");
    assert_eq!(option["treat"], json!([["turbine", "shield-single"]]));
    assert_eq!(option["measures"], json!(["vent-bonnet"]));
    assert_eq!(option["treatment_age"], "season");
    assert_eq!(option["set"][0], json!(["bay.fan.run_on_s", 300]));
}
