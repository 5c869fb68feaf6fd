//! Options: what they change, what they cost, and what is wrong with them.

use std::collections::BTreeMap;

use baysoak::materials::treatments;
use baysoak::sheet::raw::{Age, PartKind};
use baysoak::sheet::{AS_IT_IS, Chooser, OptionSpec, Sheet, builtins, measures};

use super::{demo, likely, text_of};

fn refused(sheet: &str, option: &str) -> String {
    let text = format!("{sheet}\n{option}");
    match Sheet::parse(&text, "mine.toml") {
        Ok(_) => panic!("accepted: {option}"),
        Err(error) => error.to_string(),
    }
}

#[test]
fn every_option_of_every_build_can_be_carried_out() {
    for built in builtins() {
        let sheet = Sheet::parse(built.text, built.name).unwrap_or_else(|e| panic!("{e}"));
        let options = sheet.options();
        assert!(options.len() >= 4, "{}", built.name);
        assert!(options[0].changes_nothing(), "{}", built.name);
        for option in &options {
            let settled = likely(&sheet.with_option(option).unwrap_or_else(|e| panic!("{e}")));
            let free = settled.cost.price.likely == 0.0;
            assert_eq!(
                free,
                option.changes_nothing(),
                "{}: {}",
                built.name,
                option.name
            );
            let p = settled.cost.price;
            assert!(p.low <= p.likely && p.likely <= p.high, "{p:?}");
        }
    }
}

#[test]
fn a_sheet_without_options_has_the_car_as_it_is() {
    let text = text_of("demo").split("[[option]]").next().unwrap();
    let options = Sheet::parse(text, "mine.toml").unwrap().options();
    assert_eq!(options.len(), 1);
    assert_eq!(options[0].name, AS_IT_IS);
}

#[test]
fn the_option_that_changes_nothing_comes_first() {
    let text = text_of("demo").split("[[option]]").next().unwrap();
    let text = format!(
        "{text}[[option]]\nname = \"fan\"\nmeasures = [\"fan-run-on\"]\n[[option]]\nname = \"stock\"\n"
    );
    let names: Vec<String> = Sheet::parse(&text, "mine.toml")
        .unwrap()
        .options()
        .into_iter()
        .map(|o| o.name)
        .collect();
    assert_eq!(names, ["stock", "fan"]);
}

#[test]
fn an_option_that_changes_nothing_gives_the_same_car() {
    let sheet = demo();
    let plain = likely(&sheet);
    let same = likely(&sheet.with_option(&sheet.options()[0]).unwrap());
    assert_eq!(format!("{:?}", plain.build), format!("{:?}", same.build));
    assert_eq!(plain.uncertain, same.uncertain);
}

#[test]
fn every_treatment_fits_every_kind_that_it_says_and_no_other() {
    let sheet = demo();
    let parts = [
        ("runners", "runner"),
        ("collector", "collector"),
        ("turbine", "turbine"),
        ("catalyst", "catalyst"),
        ("downpipe", "downpipe"),
        ("front pipe", "pipe"),
    ];
    for treatment in treatments() {
        for kind in &treatment.suits {
            assert!(PartKind::ALL.iter().any(|k| k.word() == kind), "{kind}");
        }
        for (part, kind) in parts {
            let option = OptionSpec::treating("x", [(part, treatment.id.as_str())]);
            let suits = treatment.suits.iter().any(|k| k == kind);
            match sheet.with_option(&option) {
                Ok(_) => assert!(suits, "{} on {kind}", treatment.id),
                Err(e) => {
                    let told = e.to_string();
                    assert!(
                        !suits && told.contains("is not for a part of kind"),
                        "{told}"
                    );
                }
            }
        }
    }
}

#[test]
fn every_measure_can_be_carried_out_and_changes_something() {
    let sheet = demo();
    assert!(measures().len() >= 8);
    let plain = format!("{:?}", likely(&sheet).build);
    for measure in measures() {
        let option = OptionSpec {
            name: "x".into(),
            measures: vec![measure.id.clone()],
            ..OptionSpec::default()
        };
        let settled = likely(&sheet.with_option(&option).unwrap_or_else(|e| panic!("{e}")));
        assert_ne!(format!("{:?}", settled.build), plain, "{}", measure.id);
        assert!(!settled.cautions.is_empty(), "{}", measure.id);
        assert!(measure.source.len() > 8, "{}", measure.id);
    }
}

#[test]
fn another_manifold_metal_comes_with_its_own_mass() {
    let sheet = demo();
    let option = OptionSpec {
        name: "tube".into(),
        measures: vec!["manifold-stainless".into()],
        ..OptionSpec::default()
    };
    let build = likely(&sheet.with_option(&option).unwrap()).build;
    let before = likely(&sheet).build;
    assert_eq!(build.exhaust[0].metal.id, "stainless-321");
    assert!(build.exhaust[0].mass_kg < 0.7 * before.exhaust[0].mass_kg);
}

#[test]
fn keys_of_what_an_option_leaves_alone_stay_the_same() {
    let sheet = demo();
    let keys = |s: &Sheet| -> BTreeMap<String, String> {
        let uncertain = likely(s).uncertain;
        uncertain
            .into_iter()
            .map(|u| (u.key.clone(), format!("{u:?}")))
            .collect()
    };
    let plain = keys(&sheet);
    for (name, new) in [
        (
            "glass-wrap-2-turns",
            "treatment.glass-cloth.conductivity_w_mk",
        ),
        (
            "jacket-silica",
            "treatment.silica-blanket.conductivity_w_mk",
        ),
        ("coat-ceramic-both", "treatment.ceramic-paint.thickness_mm"),
    ] {
        let option = OptionSpec::treating("x", [("downpipe", name)]);
        let with = keys(&sheet.with_option(&option).unwrap());
        for (key, range) in &plain {
            assert_eq!(with.get(key), Some(range), "{name}: {key}");
        }
        assert!(with.contains_key(new), "{name}");
        for key in with.keys().filter(|k| !plain.contains_key(*k)) {
            assert!(key.starts_with("treatment."), "{key}");
        }
    }
}

#[test]
fn draws_reach_the_catalogue_and_give_all_turns_the_same_tape() {
    let sheet = demo();
    let option = OptionSpec::treating(
        "x",
        [
            ("downpipe", "glass-wrap-2-turns"),
            ("collector", "glass-wrap-1-turn"),
        ],
    );
    let sheet = sheet.with_option(&option).unwrap();
    let mut draw = Chooser::Draw(Box::new(|key| {
        if key == "treatment.glass-cloth.conductivity_w_mk" {
            0.9
        } else {
            0.5
        }
    }));
    let drawn = sheet.settle(&mut draw).unwrap();
    let layer = |part: &str| {
        let part = drawn.build.exhaust.iter().find(|p| p.name == part).unwrap();
        part.treatment.as_ref().unwrap().outside[0].clone()
    };
    let (two, one) = (layer("downpipe"), layer("collector"));
    assert!((two.thickness_m / one.thickness_m - 2.0).abs() < 1e-12);
    assert!((two.conductivity_w_mk - one.conductivity_w_mk).abs() < 1e-15);
    assert!(two.conductivity_w_mk > 0.07, "{}", two.conductivity_w_mk);
}

#[test]
fn a_season_changes_what_it_says() {
    let option = |age| OptionSpec {
        treatment_age: age,
        ..OptionSpec::treating("x", [("downpipe", "finish-low-emissivity")])
    };
    let sheet = demo();
    let of = |age| {
        let settled = likely(&sheet.with_option(&option(age)).unwrap());
        let part = settled.build.exhaust.iter().find(|p| p.name == "downpipe");
        let treatment = part.unwrap().treatment.clone().unwrap();
        (
            treatment.outside[0].emissivity,
            settled.fitted[0].wear.clone(),
        )
    };
    let (new, wear) = of(None);
    assert!(wear.is_empty());
    let (old, wear) = of(Some(Age::Season));
    assert!(new < 0.3 && old > 0.45, "{new} {old}");
    assert!(!wear.is_empty());
}

#[test]
fn costs_count_what_is_new_and_a_stated_price_wins() {
    let wrapped = text_of("demo").replace(
        "name = \"downpipe\"\n",
        "name = \"downpipe\"\ntreatment = \"glass-wrap-1-turn\"\n",
    );
    let sheet = Sheet::parse(&wrapped, "mine.toml").unwrap();
    assert_eq!(likely(&sheet).cost.price.likely, 0.0);
    let same = OptionSpec::treating("x", [("downpipe", "glass-wrap-1-turn")]);
    assert_eq!(
        likely(&sheet.with_option(&same).unwrap()).cost.price.likely,
        0.0
    );
    let off = OptionSpec::treating("x", [("downpipe", "bare")]);
    let bare = likely(&sheet.with_option(&off).unwrap());
    assert!(bare.build.exhaust.iter().all(|p| p.treatment.is_none()));
    let stated = sheet
        .options()
        .into_iter()
        .find(|o| o.name == "cheap guards")
        .unwrap();
    assert_eq!(
        likely(&sheet.with_option(&stated).unwrap())
            .cost
            .price
            .likely,
        80.0
    );
    // 650 mm of 65 mm pipe is 0.133 m2; two turns of 1.5 mm tape, a third lapped, over nine tenths
    // of it: by hand 0.133 * 0.9 * 0.0043 m * 700 kg/m3 * (1 + 4.3 / 65) = 0.38 kg
    let two = OptionSpec::treating("x", [("downpipe", "glass-wrap-2-turns")]);
    let cost = likely(&demo().with_option(&two).unwrap()).cost;
    assert!((cost.mass_kg - 0.38).abs() < 0.02, "{cost:?}");
    assert!(
        (cost.price.likely - (150.0 * 0.1327 + 10.0)).abs() < 0.1,
        "{cost:?}"
    );
}

#[test]
fn options_after_each_other_add_up() {
    let sheet = demo();
    let a = OptionSpec::treating("a", [("downpipe", "glass-wrap-1-turn")]);
    let b = OptionSpec::treating("b", [("turbine", "jacket-silica")]);
    let (one, two) = (
        sheet.with_option(&a).unwrap(),
        sheet.with_option(&b).unwrap(),
    );
    let both = one.with_option(&b).unwrap();
    assert_eq!(likely(&both).fitted.len(), 2);
    let sum = likely(&one).cost.price.plus(likely(&two).cost.price);
    assert!((likely(&both).cost.price.likely - sum.likely).abs() < 1e-9);
    assert_ne!(one.hash(), two.hash());
    assert_ne!(one.hash(), sheet.hash());
}

#[test]
fn a_day_put_in_stays_with_an_option() {
    let hot = baysoak::sheet::DaySheet::builtin("hot").unwrap();
    let sheet = demo().with_day(hot);
    let ambient = likely(&sheet).build.day.ambient_k;
    let option = &sheet.options()[2];
    let with = likely(&sheet.with_option(option).unwrap());
    assert_eq!(with.build.day.ambient_k, ambient);
}

#[test]
fn what_is_wrong_with_an_option_is_said_at_its_line() {
    let demo = text_of("demo");
    let line = demo.lines().count() + 5;
    let cases = [
        (
            "treat = { downpipe = \"glas-wrap-2-turns\" }",
            "no treatment of this name",
            "did you mean glass-wrap-2-turns?",
        ),
        (
            "treat = { downpip = \"bare\" }",
            "no exhaust part of this name",
            "did you mean downpipe?",
        ),
        (
            "treat = { turbine = \"glass-wrap-1-turn\" }",
            "is not for a part of kind turbine",
            "it suits runner",
        ),
        (
            "measures = [\"vent-bonet\"]",
            "no measure of this name",
            "did you mean vent-bonnet?",
        ),
        (
            "set = { \"bay.fan.run_on_s\" = -5 }",
            "below the limit",
            "plausible is",
        ),
        (
            "set = { \"bay.fan.run_on\" = 5 }",
            "unknown key",
            "did you mean run_on_s?",
        ),
        (
            "set = { \"exhaust[downpip].wall_mm\" = 2 }",
            "exhaust has no entry \"downpip\"",
            "did you mean downpipe?",
        ),
        (
            "set = { \"exhaust.wall_mm\" = 2 }",
            "is a list or a value",
            "pick an entry",
        ),
        (
            "set = { \"exhaust[downpipe].metal\" = \"stel\" }",
            "unknown material",
            "",
        ),
        (
            "set = { \"day.ambient_c\" = 10 }",
            "can't be set by an option",
            "",
        ),
        (
            "set = { \"exhaust[kind=link].wall_mm\" = 2 }",
            "picks nothing in this sheet",
            "",
        ),
        (
            "set = { \"bay.fan.run_on_s\" = nan }",
            "is not a finite number",
            "",
        ),
        ("set = { bay.fan.run_on_s = 1e9 }", "above the limit", ""),
        ("set = { \"\" = 1 }", "is not a key path", ""),
        ("treatment_age = \"old\"", "not one of the choices", ""),
        ("colour = 3", "unknown key", ""),
    ];
    for (option, message, hint) in cases {
        let told = refused(demo, &format!("\n[[option]]\nname = \"mine\"\n{option}"));
        assert!(told.contains(message), "{option}:\n{told}");
        assert!(told.contains(hint), "{option}:\n{told}");
        assert!(
            told.contains(&format!("mine.toml:{line}:")),
            "{option} not on {line}:\n{told}"
        );
    }
}

#[test]
fn a_value_that_does_not_fit_the_rest_names_the_option() {
    let option = "[[option]]\nname = \"mine\"\nset = { \"bay.fan.on_c\" = 80 }";
    let told = refused(text_of("demo"), option);
    let said = "bay.fan.off_c = 93: must be below on_c, which is 80 (with option \"mine\")";
    assert!(told.contains(said), "{told}");
}

#[test]
fn options_made_in_code_are_checked_too() {
    let sheet = demo();
    let bad = OptionSpec::treating("x", [("nose", "bare"), ("downpipe", "paint")]);
    let told = sheet.with_option(&bad).unwrap_err();
    assert_eq!(told.problems.len(), 2, "{told}");
    let mut set = BTreeMap::new();
    set.insert("intake.pickup".to_owned(), toml::Value::Boolean(true));
    set.insert("car.mass_kg".to_owned(), toml::Value::Float(f64::NAN));
    let bad = OptionSpec {
        name: "y".into(),
        set,
        ..OptionSpec::default()
    };
    assert!(sheet.with_option(&bad).unwrap_err().problems.len() >= 2);
}
