//! One value for each number, and the books on what was assumed.

use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};

use baysoak::sheet::build::Build;
use baysoak::sheet::{
    Chooser, DaySheet, Settled, Sheet, builtin, builtins, days, triangular_quantile,
};
use proptest::prelude::*;

use super::one_fault::LEAST;

#[track_caller]
fn settled(sheet: &Sheet, chooser: &mut Chooser<'_>) -> Settled {
    sheet.settle(chooser).unwrap_or_else(|e| panic!("{e}"))
}

fn least() -> Sheet {
    Sheet::parse(LEAST, "least.toml").unwrap()
}

proptest! {
    #[test]
    fn verify_the_quantile_inverts_the_triangular_distribution(
        low in -50.0..50.0f64, a in 0.0..20.0f64, b in 0.001..20.0f64, q in 0.0..1.0f64,
    ) {
        let (likely, high) = (low + a, low + a + b);
        let x = triangular_quantile(low, likely, high, q);
        prop_assert!((low..=high).contains(&x));
        let width = high - low;
        let share = if x <= likely && a > 0.0 {
            (x - low).powi(2) / (width * a)
        } else {
            1.0 - (high - x).powi(2) / (width * b)
        };
        prop_assert!((share - q).abs() < 1e-7, "F({x}) = {share}, wanted {q}");
    }
}

#[test]
fn verify_ends_and_mode_of_the_triangular_distribution() {
    assert!((triangular_quantile(2.0, 3.0, 6.0, 0.0) - 2.0).abs() < 1e-12);
    assert!((triangular_quantile(2.0, 3.0, 6.0, 1.0) - 6.0).abs() < 1e-12);
    assert!((triangular_quantile(2.0, 3.0, 6.0, 0.25) - 3.0).abs() < 1e-12);
    assert!((triangular_quantile(2.0, 2.0, 2.0, 0.9) - 2.0).abs() < 1e-12);
}

#[test]
fn verify_keys_with_units_become_si() {
    let build = settled(&builtin("demo").unwrap(), &mut Chooser::Likely).build;
    let near = |got: f64, want: f64| assert!((got / want - 1.0).abs() < 1e-12, "{got} {want}");
    near(build.engine.displacement_m3, 0.0016);
    near(build.engine.power_w, 132e3);
    near(build.engine.bore_m, 0.078);
    near(build.exhaust[0].bore_m, 0.034);
    near(build.car.gear_m_s_per_rpm[0], 7.8 / 3.6 / 1000.0);
    near(build.bay.fan.on_k, 371.15);
    near(build.bay.radiator.face_m2, 0.25);
    near(build.day.humidity, 0.45);
    near(build.day.pressure_pa, 1e5);
    let turbo = build.turbo.unwrap();
    near(turbo.boost_pa, 75e3);
}

#[test]
fn the_least_sheet_settles_and_lists_the_rest_as_assumed() {
    let settled = settled(&least(), &mut Chooser::Likely);
    assert!(settled.build.turbo.is_none() && settled.build.intake.cooler.is_none());
    assert_eq!(settled.build.bay.zones.len(), 5);
    assert_eq!(settled.build.day.name, "standard");
    let keys: BTreeSet<&str> = settled.assumed.iter().map(|a| a.key.as_str()).collect();
    assert_eq!(keys.len(), settled.assumed.len(), "a key is listed twice");
    for key in [
        "car.mass_kg",
        "engine.bore_mm",
        "exhaust[manifold].wall_mm",
        "bay.zone[hot].volume_l",
    ] {
        assert!(keys.contains(key), "{key} isn't listed");
    }
    assert!(!keys.contains("engine.power_kw") && !keys.contains("exhaust[manifold].bore_mm"));
}

#[test]
fn everything_assumed_has_a_basis_and_a_range_around_its_value() {
    for sheet in builtins()
        .iter()
        .map(|b| builtin(b.name).unwrap())
        .chain([least()])
    {
        let settled = settled(&sheet, &mut Chooser::Likely);
        for a in &settled.assumed {
            assert!(
                a.low <= a.value && a.value <= a.high,
                "{}: {a:?}",
                sheet.title()
            );
            assert!(a.basis.len() > 4, "{a:?}");
        }
        for c in &settled.assumed_choices {
            assert!(!c.value.is_empty() && c.basis.len() > 4, "{c:?}");
        }
        let keys: BTreeSet<&str> = settled.uncertain.iter().map(|u| u.key.as_str()).collect();
        assert_eq!(
            keys.len(),
            settled.uncertain.len(),
            "a range is listed twice"
        );
        for u in &settled.uncertain {
            assert!(
                u.low <= u.likely && u.likely <= u.high && u.low < u.high,
                "{u:?}"
            );
        }
    }
}

#[test]
fn a_range_in_the_sheet_is_uncertain_and_not_assumed() {
    let text = LEAST.replace(
        "bore_mm = 36",
        "bore_mm = { low = 34, likely = 36, high = 40 }",
    );
    let settled = settled(
        &Sheet::parse(&text, "r.toml").unwrap(),
        &mut Chooser::Likely,
    );
    let key = "exhaust[manifold].bore_mm";
    let found = settled.uncertain.iter().find(|u| u.key == key).unwrap();
    assert_eq!((found.low, found.likely, found.high), (34.0, 36.0, 40.0));
    assert!(settled.assumed.iter().all(|a| a.key != key));
}

#[test]
fn a_draw_asks_for_each_uncertain_key_once_and_takes_its_quantile() {
    for name in builtins().iter().map(|b| b.name) {
        let sheet = builtin(name).unwrap();
        let asked = RefCell::new(Vec::new());
        let mut chooser = Chooser::Draw(Box::new(|key| {
            asked.borrow_mut().push(key.to_owned());
            0.8
        }));
        let drawn = settled(&sheet, &mut chooser);
        drop(chooser);
        let listed: Vec<String> = drawn.uncertain.iter().map(|u| u.key.clone()).collect();
        assert_eq!(asked.into_inner(), listed, "{name}");
        for a in drawn.assumed.iter().filter(|a| a.high > a.low) {
            let u = drawn.uncertain.iter().find(|u| u.key == a.key).unwrap();
            let want = triangular_quantile(u.low, u.likely, u.high, 0.8);
            assert!((a.value - want).abs() <= 1e-9 * want.abs(), "{a:?} {want}");
        }
    }
}

#[test]
fn a_draw_of_a_given_range_reaches_the_build_in_si() {
    let text = LEAST.replace(
        "bore_mm = 36",
        "bore_mm = { low = 30, likely = 36, high = 40 }",
    );
    let sheet = Sheet::parse(&text, "r.toml").unwrap();
    let bore = |q: f64| {
        settled(&sheet, &mut Chooser::Draw(Box::new(move |_| q)))
            .build
            .exhaust[0]
            .bore_m
    };
    assert!((bore(0.0) - 0.030).abs() < 1e-12);
    assert!((bore(0.6) - 0.036).abs() < 1e-12);
    assert!((bore(1.0) - 0.040).abs() < 1e-12);
}

#[test]
fn given_values_go_in_by_key_and_broken_ones_are_refused() {
    let mut given = BTreeMap::from([("exhaust[manifold].gas_factor".to_owned(), 1.21)]);
    let build = settled(&least(), &mut Chooser::Given(&given)).build;
    assert!((build.exhaust[0].gas_factor - 1.21).abs() < 1e-12);
    given.insert("car.mass_kg".to_owned(), f64::NAN);
    let error = least().settle(&mut Chooser::Given(&given)).unwrap_err();
    assert!(
        error
            .to_string()
            .contains("car.mass_kg: is not a finite number"),
        "{error}"
    );
}

/// What must hold of any build, however drawn.
fn consistent(build: &Build) {
    let near_one = |v: f64| (v - 1.0).abs() < 1e-9;
    assert!(
        near_one(build.bay.block_share.iter().sum()),
        "{:?}",
        build.bay.block_share
    );
    let zones: f64 = build.intake.pickup_zones.iter().map(|(_, s)| s).sum();
    assert!(
        near_one(zones + build.intake.pickup_outside),
        "{:?}",
        build.intake.pickup_zones
    );
    let e = &build.engine;
    assert!(
        e.idle_rpm < e.torque_rpm && e.torque_rpm < e.power_rpm && e.power_rpm <= e.redline_rpm
    );
    assert!(e.thermostat_open_k < e.thermostat_full_k);
    assert!(build.bay.fan.off_k < build.bay.fan.on_k);
    assert!(build.car.gear_m_s_per_rpm.windows(2).all(|w| w[0] < w[1]));
    for o in &build.bay.openings {
        assert!(
            o.area_m2 > 0.0 && o.discharge > 0.0 && o.from != o.to,
            "{o:?}"
        );
    }
    for p in &build.exhaust {
        assert!(
            p.mass_kg > 0.0 && p.wall_m > 0.0 && (0.0..=1.0).contains(&p.emissivity),
            "{p:?}"
        );
    }
    for d in &build.intake.ducts {
        assert!(
            d.mass_kg > 0.0 && d.outer_area_m2 > d.inner_area_m2 * 0.8,
            "{d:?}"
        );
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    #[test]
    fn any_draw_of_any_sheet_is_a_consistent_build(seed in any::<u64>(), which in 0usize..4) {
        let sheet = builtins().get(which).map_or_else(least, |b| builtin(b.name).unwrap());
        let mut state = seed;
        let mut chooser = Chooser::Draw(Box::new(move |_| {
            // 64-bit linear congruential step (Knuth's MMIX constants); top bits as a fraction
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 11) as f64 / (1u64 << 53) as f64
        }));
        consistent(&settled(&sheet, &mut chooser).build);
    }
}

#[test]
fn both_far_ends_of_all_ranges_are_consistent_builds() {
    for sheet in builtins()
        .iter()
        .map(|b| builtin(b.name).unwrap())
        .chain([least()])
    {
        for q in [0.0, 1.0] {
            consistent(&settled(&sheet, &mut Chooser::Draw(Box::new(move |_| q))).build);
        }
    }
}

#[test]
fn a_day_put_in_later_replaces_the_one_in_the_sheet() {
    let demo = builtin("demo").unwrap();
    let ambient = |day: &str| {
        let sheet = demo.clone().with_day(DaySheet::builtin(day).unwrap());
        settled(&sheet, &mut Chooser::Likely).build.day.ambient_k
    };
    let by_name: Vec<f64> = days().map(ambient).collect();
    assert_eq!(days().collect::<Vec<_>>(), ["standard", "hot", "cold"]);
    for (got, want) in by_name.iter().zip([298.15, 308.15, 268.15]) {
        assert!((got - want).abs() < 1e-9, "{got} {want}");
    }
    let error = DaySheet::builtin("hott").unwrap_err();
    assert!(error.to_string().contains("did you mean hot?"), "{error}");
}

#[test]
fn verify_the_hash_is_the_start_of_the_sha_256_of_the_text() {
    let sheet = least();
    assert_eq!(sheet.hash().len(), 16);
    let spaced = Sheet::parse(&format!("{LEAST}\n"), "least.toml").unwrap();
    assert_ne!(sheet.hash(), spaced.hash());
    let marked = Sheet::parse(&format!("\u{feff}{LEAST}"), "least.toml").unwrap();
    assert_eq!(
        sheet.hash(),
        marked.hash(),
        "a byte order mark isn't part of the text"
    );
}

#[test]
fn mass_follows_bore_wall_length_count_and_metal() {
    let one = LEAST.replace("length_mm = 300", "length_mm = 300\nwall_mm = 4.0");
    let mass = |text: &str| {
        let sheet = Sheet::parse(text, "m.toml").unwrap();
        settled(&sheet, &mut Chooser::Likely).build.exhaust[0].mass_kg
    };
    let base = mass(&one);
    let metal = baysoak::materials::metal("cast-iron-grey").unwrap();
    let tube = metal.density_kg_m3.value * std::f64::consts::PI * 0.040 * 0.004 * 0.3;
    assert!((base / tube - 1.35).abs() < 1e-9, "{base} {tube}");
    let four = mass(&one.replace("kind = \"runner\"", "kind = \"runner\"\ncount = 4"));
    assert!((four / base - 4.0).abs() < 1e-9);
}
