//! Faults of one key: name, type, unit, range.

use baysoak::sheet::{DaySheet, sheet_schema};

use super::one_fault::{LEAST, faults, problems, starter};

#[test]
fn a_wrong_number_is_refused_with_its_limit() {
    faults! { LEAST.to_owned();
        "bore_mm = 36" => "bore_mm = 0.036", "bore_mm", "exhaust[manifold].bore_mm", "below the limit of 10 mm", "36 mm? (if 0.036 is in m)";
        "bore_mm = 36" => "bore_mm = 3.6", "bore_mm", "exhaust[manifold].bore_mm", "below the limit of 10 mm", "36 mm? (if 3.6 is in cm)";
        "bore_mm = 36" => "bore_mm = 1.5", "bore_mm", "exhaust[manifold].bore_mm", "below the limit of 10 mm", "15 mm? (if 1.5 is in cm)";
        "bore_mm = 36" => "bore_mm = 360", "bore_mm", "exhaust[manifold].bore_mm", "above the limit of 200 mm", "plausible is 10 to 200 mm";
        "bore_mm = 36" => "bore_mm = -36", "bore_mm", "exhaust[manifold].bore_mm", "below the limit of 10 mm", "plausible is 10 to 200 mm";
        "displacement_l = 2.0" => "displacement_l = 1998", "displacement_l", "engine.displacement_l", "above the limit of 10 l", "1.998 l? (if 1998 is in cc)";
        "power_kw = 110" => "power_kw = 110_000", "power_kw", "engine.power_kw", "above the limit of 1200 kW", "110 kW? (if 110000 is in w)";
        "cylinders = 4" => "cylinders = 0", "cylinders", "engine.cylinders", "below the limit of 1", "1 to 16";
        "cylinders = 4" => "cylinders = 40", "cylinders", "engine.cylinders", "above the limit of 16", "1 to 16";
        "torque_nm = 190" => "torque_nm = nan", "torque_nm", "engine.torque_nm", "is not a finite number", "leave the key out";
        "torque_nm = 190" => "torque_nm = +inf", "torque_nm", "engine.torque_nm", "is not a finite number", "leave the key out";
        "torque_nm = 190" => "torque_nm = 190\nthermostat_open_c = 361", "thermostat_open_c", "engine.thermostat_open_c", "above the limit of 115 C", "87.85 C? (if 361 is in k)";
        "torque_nm = 190" => "torque_nm = 190\nthermostat_open_c = 190", "thermostat_open_c", "engine.thermostat_open_c", "above the limit of 115 C", "87.78 C? (if 190 is in f)";
        "torque_nm = 190" => "torque_nm = 190\nblock_emissivity = 60", "block_emissivity", "engine.block_emissivity", "above the limit of 1", "0.6? (if 60 is in percent)";
    }
}

#[test]
fn limits_belong_to_the_plausible_side() {
    for (from, to) in [
        ("bore_mm = 36", "bore_mm = 10"),
        ("bore_mm = 36", "bore_mm = 200.0"),
    ] {
        let text = LEAST.replace(from, to);
        assert!(
            baysoak::sheet::Sheet::parse(&text, "edge.toml").is_ok(),
            "{to}"
        );
    }
}

#[test]
fn a_range_is_checked_at_each_of_its_three_numbers() {
    faults! { LEAST.to_owned();
        "bore_mm = 36" => "bore_mm = { low = 34, likely = 38, high = 36 }", "bore_mm", "exhaust[manifold].bore_mm", "low <= likely <= high does not hold", "{ low = 34, likely = 36, high = 38 }";
        "bore_mm = 36" => "bore_mm = { low = 34, likely = 36 }", "bore_mm", "exhaust[manifold].bore_mm", "range without `high`", "{ low = .., likely = .., high = .. }";
        "bore_mm = 36" => "bore_mm = { low = 5, likely = 36, high = 40 }", "bore_mm", "exhaust[manifold].bore_mm", "below the limit of 10 mm", "50 mm? (if 5 is in cm)";
        "bore_mm = 36" => "bore_mm = { low = 34, likely = inf, high = 40 }", "bore_mm", "exhaust[manifold].bore_mm", "is not a finite number", "leave the key out";
        "bore_mm = 36" => "bore_mm = { low = 34, likely = 36, high = \"40\" }", "bore_mm", "exhaust[manifold].bore_mm", "is text, not a number", "without quotes";
        "bore_mm = 36" => "bore_mm = { low = 34, likely = 36, high = 40, top = 50 }", "bore_mm", "exhaust[manifold].bore_mm.top", "unknown key", "{ low = .., likely = .., high = .. }";
    }
}

#[test]
fn an_unknown_key_names_the_one_that_was_meant() {
    faults! { LEAST.to_owned();
        "bore_mm = 36" => "bore_m = 0.036", "bore_m", "exhaust[manifold].bore_m", "unknown key", "did you mean bore_mm? bore_mm = 36";
        "bore_mm = 36" => "bore_inch = 1.5", "bore_inch", "exhaust[manifold].bore_inch", "unknown key", "did you mean bore_mm? bore_mm = 38.1";
        "power_kw = 110" => "power_ps = 150", "power_ps", "engine.power_ps", "unknown key", "did you mean power_kw? power_kw = 110.3";
        "torque_nm = 190" => "torque_lbft = 140", "torque_lbft", "engine.torque_lbft", "unknown key", "did you mean torque_nm? torque_nm = 189.8";
        "cylinders = 4" => "cylinder = 4", "cylinder", "engine.cylinder", "unknown key", "did you mean cylinders?";
        "[[exhaust]]" => "[turbo_charger]\n[[exhaust]]", "turbo_charger", "turbo_charger", "unknown key", "did you mean turbocharger?";
        "torque_nm = 190" => "torque_nm = 190\nzzz = 1", "zzz", "engine.zzz", "unknown key", "there is: block_aluminium_share, ";
    }
}

#[test]
fn a_missing_key_is_asked_for_where_it_belongs() {
    faults! { LEAST.to_owned();
        "title = \"least\"\n" => "", "", "title", "missing", "title is: Title";
        "power_kw = 110\n" => "", "[engine]", "engine.power_kw", "missing", "Rated brake power [kW]";
        "torque_nm = 190\n" => "", "[engine]", "engine.torque_nm", "missing", "Peak brake torque [N m]";
        "fuel = \"petrol\"\n" => "", "[engine]", "engine.fuel", "missing", "petrol, diesel or e85";
        "metal = \"cast-iron-grey\"\n" => "", "[[exhaust]]", "exhaust[manifold].metal", "missing", "Metal id";
        "length_mm = 300\n" => "", "[[exhaust]]", "exhaust[manifold].length_mm", "missing", "Length of one pipe";
        "name = \"manifold\"\n" => "", "[[exhaust]]", "exhaust[1].name", "missing", "used in reports";
    }
}

#[test]
fn a_wrong_type_or_choice_says_what_to_write() {
    faults! { LEAST.to_owned();
        "power_kw = 110" => "power_kw = \"110 kW\"", "power_kw", "engine.power_kw", "is text, not a number", "bare number in kW, without quotes";
        "power_kw = 110" => "power_kw = true", "power_kw", "engine.power_kw", "is true or false, not a number", "a number such as 1.6";
        "power_kw = 110" => "power_kw = [100, 120]", "power_kw", "engine.power_kw", "is a list, not a number", "{ low = 1.4, likely = 1.6, high = 2.0 }";
        "cylinders = 4" => "cylinders = 4.5", "cylinders", "engine.cylinders", "is a number, not a whole number", "a whole number such as 4";
        "title = \"least\"" => "title = 5", "title", "title", "is a number, not text", "\"quotes\"";
        "title = \"least\"" => "title = \" \"", "title", "title", "is empty", "write a word";
        "fuel = \"petrol\"" => "fuel = \"petrole\"", "fuel", "engine.fuel", "not one of the choices", "did you mean petrol?";
        "fuel = \"petrol\"" => "fuel = \"steam\"", "fuel", "engine.fuel", "not one of the choices", "there is: petrol, diesel, e85";
        "fuel = \"petrol\"" => "fuel = 95", "fuel", "engine.fuel", "is a number, not text", "one of \"petrol\", \"diesel\", \"e85\"";
        "kind = \"runner\"" => "kind = \"runers\"", "kind", "exhaust[manifold].kind", "not one of the choices", "did you mean runner?";
        "torque_nm = 190" => "torque_nm = 190\nstop_start = \"yes\"", "stop_start", "engine.stop_start", "is text, not true or false", "without quotes";
        "title = \"least\"" => "title = \"least\"\nday = 30", "day", "day", "is a number, not a table", "write [day]";
        "[[exhaust]]" => "[exhaust]", "[exhaust]", "exhaust", "is a table, not a list", "write [[exhaust]], one for each";
    }
}

#[test]
fn a_fault_deep_in_a_list_names_the_entry() {
    faults! { starter("demo");
        "kmh_per_1000_rpm = [7.8," => "kmh_per_1000_rpm = [0.78,", "kmh_per_1000_rpm", "car.kmh_per_1000_rpm[1]", "below the limit of 3 km/h", "plausible is 3 to 90 km/h";
        "inner_area_cm2 = 2600" => "inner_area_cm2 = 0.26", "inner_area_cm2 = 0.26", "intake.duct[filter box].inner_area_cm2", "below the limit of 20 cm2", "2600 cm2? (if 0.26 is in m2)";
        "sees = { runners = 0.1 }" => "sees = { runners = 10 }", "runners = 10", "neighbour[heater hose].sees.runners", "above the limit of 1", "0.1? (if 10 is in percent)";
        "boost_kpa = 75" => "boost_kpa = 0.75", "boost_kpa", "turbocharger.boost_kpa", "below the limit of 5 kPa", "75 kPa? (if 0.75 is in bar)";
        "boost_kpa = 75" => "boost_psi = 11", "boost_psi", "turbocharger.boost_psi", "unknown key", "did you mean boost_kpa? boost_kpa = 75.84";
    }
}

#[test]
fn text_that_is_not_toml_is_refused_at_its_line() {
    for (from, to) in [
        ("power_kw = 110", "power_kw = 110 kW"),
        ("power_kw = 110", "power_kw = 1,10"),
        ("power_kw = 110", "power_kw ="),
        ("power_kw = 110", "power_kw = 110\npower_kw = 120"),
        ("title = \"least\"", "title = \"least"),
    ] {
        let bad = LEAST.replace(from, to);
        let found = problems(&bad);
        let last = to.lines().last().unwrap_or_default();
        let line = bad.lines().position(|l| l == last).unwrap() + 1;
        let [only] = &found[..] else {
            panic!("{to:?} brought {found:#?}")
        };
        assert!(only.message.starts_with("not valid TOML: "), "{only}");
        assert_eq!(only.line, line, "{to:?}: {only}");
        assert!(only.hint.contains("quotes"), "{only}");
    }
}

#[test]
fn all_problems_show_at_once_in_line_order() {
    let bad = LEAST
        .replace("fuel = \"petrol\"", "fuel = \"petrole\"")
        .replace("cylinders = 4", "cylinders = 44")
        .replace("power_kw = 110", "power_hp = 150")
        .replace("cast-iron-grey", "cast-iron-gray")
        .replace(
            "bore_mm = 36",
            "bore_mm = { low = 2, likely = 1, high = 3 }",
        )
        .replace("length_mm = 300", "zone = \"hott\"");
    let found = problems(&bad);
    let keys: Vec<&str> = found.iter().map(|p| p.key.as_str()).collect();
    for key in [
        "engine.fuel",
        "engine.cylinders",
        "engine.power_hp",
        "exhaust[manifold].length_mm",
    ] {
        assert!(keys.contains(&key), "no {key} in {keys:?}");
    }
    assert!(
        found
            .iter()
            .filter(|p| p.key == "exhaust[manifold].bore_mm")
            .count()
            >= 4
    );
    assert!(
        found.windows(2).all(|w| w[0].line <= w[1].line),
        "{found:#?}"
    );
}

#[test]
fn problems_of_one_key_and_between_keys_show_together() {
    let bad = LEAST
        .replace("bore_mm = 36", "bore_mm = 360")
        .replace("length_mm = 300", "length_mm = 300\nzone = \"hott\"")
        .replace("cast-iron-grey", "cast-iron-gray");
    let found = problems(&bad);
    let said: Vec<&str> = found.iter().map(|p| p.message.as_str()).collect();
    assert_eq!(
        said,
        [
            "unknown material",
            "above the limit of 200 mm",
            "no zone of this name"
        ]
    );
}

#[test]
fn the_error_starts_each_problem_with_file_and_line() {
    let bad = LEAST
        .replace("bore_mm = 36", "bore_mm = 360")
        .replace("cylinders = 4", "cylinders = 0");
    let error = baysoak::sheet::Sheet::parse(&bad, "shed/mine.toml").unwrap_err();
    assert_eq!(
        error.to_string(),
        "shed/mine.toml:6: engine.cylinders = 0: below the limit of 1\n  hint: plausible is 1 to 16\n\
         shed/mine.toml:14: exhaust[manifold].bore_mm = 360: above the limit of 200 mm\n  \
         hint: plausible is 10 to 200 mm"
    );
}

#[test]
fn a_day_file_is_checked_like_the_section() {
    for head in ["", "[day]\n"] {
        let text = format!("{head}ambient_c = 95\nhumidity = 40\n");
        let error = DaySheet::parse(&text, "hot.toml").unwrap_err();
        let line = head.lines().count() + 1;
        let [first, second] = &error.problems[..] else {
            panic!("{error}")
        };
        assert_eq!((first.line, second.line), (line, line + 1));
        assert_eq!(first.message, "above the limit of 60 C");
        assert!(first.hint.contains("35 C? (if 95 is in f)"), "{first}");
        assert!(
            second.hint.contains("did you mean humidity_percent?"),
            "{second}"
        );
    }
}

#[test]
fn every_number_of_the_schema_has_limits_and_every_key_a_meaning() {
    fn walk(name: &str, schema: &serde_json::Value, bare: &mut Vec<String>) {
        let Some(properties) = schema.get("properties").and_then(|p| p.as_object()) else {
            return;
        };
        for (key, node) in properties {
            let text = node.to_string();
            if node.get("description").is_none() {
                bare.push(format!("{name}.{key}: no description"));
            }
            let limited = node.get("minimum").is_some() && node.get("maximum").is_some();
            if text.contains("/Input") && !limited {
                bare.push(format!("{name}.{key}: no limits"));
            }
        }
    }
    let schema = sheet_schema();
    let (mut bare, defs) = (Vec::new(), schema["$defs"].as_object().unwrap());
    walk("sheet", &schema, &mut bare);
    let of_sheet = defs.iter().filter(|(name, _)| name.ends_with("Sheet"));
    of_sheet
        .clone()
        .for_each(|(name, node)| walk(name, node, &mut bare));
    assert!(of_sheet.count() >= 15);
    assert!(bare.is_empty(), "{bare:#?}");
}
