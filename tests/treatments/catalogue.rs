//! The tables: sources, orders of magnitude, published values.

use baysoak::materials::{
    Family, check_treatments, layer_material, layer_materials, limit, limits, metal, treatment,
    treatments,
};
use baysoak::physics::conduction::{critical_radius, cylinder_resistance_per_length};
use baysoak::physics::convection::annulus;
use baysoak::sheet::measures;
use baysoak::sheet::raw::NeighbourKind;

const TEXT: &str = include_str!("../../data/treatments.toml");

#[test]
fn every_number_of_the_catalogue_has_a_source_and_a_plausible_size() {
    assert_eq!(check_treatments(TEXT), Ok(treatments().len()));
    assert!(treatments().len() >= 19);
    for m in layer_materials() {
        let inside = |r: &baysoak::materials::Ranged, low: f64, high: f64| {
            assert!(low <= r.low && r.high <= high, "{}: {r:?}", m.id);
        };
        inside(&m.thickness_mm, 0.005, 30.0);
        inside(&m.conductivity_w_mk, 0.015, 80.0);
        inside(&m.conductivity_slope_w_mk2, 0.0, 5e-4);
        inside(&m.density_kg_m3, 90.0, 9000.0);
        inside(&m.specific_heat_j_kgk, 400.0, 1300.0);
        inside(&m.emissivity, 0.04, 0.98);
    }
    for t in treatments() {
        for r in t.numbers() {
            assert!(r.source.len() >= 8, "{}: {r:?}", t.id);
        }
        assert!(t.all_hazards().count() > 0, "{} has no caution", t.id);
        if t.family != Family::Bare {
            let limit = t.max_service_c.as_ref().expect("a limit");
            assert!(limit.low >= 400.0 && limit.high <= 1300.0, "{}", t.id);
            assert!(t.season.is_some() && t.price_eur_m2.is_some(), "{}", t.id);
        }
    }
    for family in Family::ALL {
        assert!(
            treatments().iter().any(|t| t.family == family),
            "{family:?}"
        );
    }
}

#[test]
fn a_broken_catalogue_is_refused_with_its_row() {
    let cases = [
        ("likely = 0.04,", "likely = 0.4,", "ceramic-paint"),
        (
            "id = \"glass-wrap-1-turn\"",
            "id = \"glass-wrap-2-turns\"",
            "twice",
        ),
        (
            "material = \"steel-foil\"",
            "material = \"steel-fool\"",
            "not in the table",
        ),
        (
            "density_kg_m3 = { low = 1800",
            "density_kg_m3 = { low = nan",
            "ceramic-paint",
        ),
        ("family = \"wrap\"", "family = \"rap\"", "rap"),
        (
            "back_emissivity = { low = 0.15, likely = 0.3, high = 0.5, source = \"the hot side dulls soon; estimate\" }",
            "",
            "gap needs",
        ),
    ];
    for (from, to, said) in cases {
        assert!(TEXT.contains(from), "{from}");
        let told = check_treatments(&TEXT.replacen(from, to, 1)).unwrap_err();
        assert!(told.to_string().contains(said), "{told}");
    }
}

/// ASTM C892 grade ceiling at 204 degC mean, 0.66 Btu in / (h ft2 degF) = 0.0952 W/m/K (from
/// memory, seen quoted on a page on insulation materials).
#[test]
fn val_ceramic_fibre_stays_under_the_astm_c892_ceiling() {
    let m = layer_material("ceramic-fibre-blanket").unwrap();
    let at = |k: f64, slope: f64, t_c: f64| k + slope * (t_c + 273.15 - 300.0);
    let (k, s) = (&m.conductivity_w_mk, &m.conductivity_slope_w_mk2);
    let ceiling = 0.66 * 0.144_227_9;
    assert!(at(k.high, s.high, 204.0) <= ceiling);
    assert!(at(k.high, s.high, 204.0) > 0.97 * ceiling);
    // makers' tables (from memory): 0.07 at 200, 0.11 at 400, 0.16 at 600 degC
    for (t_c, table) in [(200.0, 0.07), (400.0, 0.11), (600.0, 0.16)] {
        let likely = at(k.likely, s.likely, t_c);
        assert!((likely / table - 1.0).abs() < 0.06, "{t_c}: {likely}");
    }
}

/// Incropera & DeWitt, example 9.5 (from memory, inputs recomputed): tube of 0.10 m at 120 degC in a
/// shield of 0.12 m at 35 degC; air at 350 K, k 0.030, nu 20.92e-6, alpha 29.9e-6: Ra 171, 100 W/m.
#[test]
fn val_incropera_example_9_5_tube_in_a_shield() {
    let (inner, outer) = (0.05, 0.06);
    let length = annulus::effective_length(inner, outer);
    let ra = 9.8 / 350.0 * 85.0 * length.powi(3) / (20.92e-6 * 29.9e-6);
    assert!((ra - 171.0).abs() < 0.5, "{ra}");
    let k = 0.030 * annulus::conductivity_ratio(ra, 0.7);
    let watts = 85.0 / cylinder_resistance_per_length(inner, outer, k);
    assert!((watts - 100.0).abs() < 0.5, "{watts}");
    // a narrow gap only conducts
    assert_eq!(annulus::conductivity_ratio(5.0, 0.7), 1.0);
}

/// Incropera & DeWitt, example 3.5 (critical insulation radius): copper tube of 5 mm radius, cellular
/// glass k 0.055, h 5: critical radius 11 mm (from memory); total resistances by hand.
#[test]
fn val_incropera_critical_insulation_radius() {
    let (k, h, tube) = (0.055, 5.0, 0.005);
    assert!((critical_radius(k, h) - 0.011).abs() < 1e-12);
    let total =
        |r: f64| cylinder_resistance_per_length(tube, r, k) + 1.0 / (h * std::f64::consts::TAU * r);
    // 6.37 m K/W bare, 5.18 at 11 mm, and beyond it up again
    assert!((total(tube) - 6.37).abs() < 0.005, "{}", total(tube));
    assert!((total(0.011) - 5.18).abs() < 0.005, "{}", total(0.011));
    assert!(total(0.045) > total(tube));
}

/// ht 1.2.0, R_cylinder(Di=0.045, Do=0.051, k=0.10, L=1) = 0.199203 and
/// R_cylinder(Di=0.042, Do=0.045, k=25, L=1) = 0.000439222 K/W.
#[test]
fn val_ht_cylinder_resistance_of_a_wrap_and_of_its_pipe() {
    let wrap = cylinder_resistance_per_length(0.0225, 0.0255, 0.10);
    assert!((wrap - 0.199_203).abs() < 5e-7, "{wrap}");
    let pipe = cylinder_resistance_per_length(0.021, 0.0225, 25.0);
    assert!((pipe - 0.000_439_222).abs() < 5e-10, "{pipe}");
}

#[test]
fn every_limit_has_a_source_and_those_that_runs_use_are_there() {
    for l in limits() {
        let c = &l.limit_c;
        assert!(c.low <= c.likely && c.likely <= c.high, "{}", l.id);
        assert!((35.0..1400.0).contains(&c.likely), "{}", l.id);
        assert!(c.source.len() >= 8, "{}", l.id);
        for id in &l.metals {
            assert!(metal(id).is_ok(), "{}: {id}", l.id);
        }
    }
    let kinds = NeighbourKind::USUAL.map(NeighbourKind::word);
    let others = [
        "coolant",
        "engine-oil",
        "bearing-oil",
        "touch-bare-metal-1-s",
    ];
    for id in kinds.into_iter().chain(others) {
        assert!(limit(id).is_some(), "{id}");
    }
}

/// FMVSS 116, minimum boiling points of DOT 3, 4 and 5.1: dry 205, 230, 260 degC, wet 140, 155, 180
/// degC (from memory).
#[test]
fn val_brake_fluids_boil_as_fmvss_116_says() {
    let c = |id: &str| limit(id).unwrap().limit_c.likely;
    let grades = ["dot-3", "dot-4", "dot-5-1"];
    let of = |end: &str| grades.map(|g| c(&format!("brake-fluid-{g}-{end}")));
    assert_eq!(of("dry"), [205.0, 230.0, 260.0]);
    assert_eq!(of("wet"), [140.0, 155.0, 180.0]);
}

/// ISO 13732-1:2006: thresholds fall with contact time and are the same for all materials from ten
/// minutes on (48 degC, 43 degC for eight hours; from memory).
#[test]
fn val_burn_thresholds_fall_with_contact_time() {
    let c = |id: &str| limit(id).unwrap().limit_c.likely;
    for material in ["bare-metal", "ceramic", "plastic"] {
        let (one, ten) = (
            c(&format!("touch-{material}-1-s")),
            c(&format!("touch-{material}-10-s")),
        );
        assert!(one > ten && ten > c("touch-any-10-min"), "{material}");
    }
    assert!(c("touch-bare-metal-1-s") < c("touch-ceramic-1-s"));
    assert_eq!(
        [
            c("touch-metal-1-min"),
            c("touch-any-10-min"),
            c("touch-any-8-h")
        ],
        [51.0, 48.0, 43.0]
    );
}

#[test]
fn two_turns_of_tape_differ_from_one_in_turns_and_price_only() {
    for cloth in ["glass", "basalt", "silica"] {
        let one = treatment(&format!("{cloth}-wrap-1-turn")).unwrap();
        let mut two = treatment(&format!("{cloth}-wrap-2-turns")).unwrap().clone();
        assert_eq!(two.layer[0].turns, 2);
        two.layer[0].turns = 1;
        assert!(two.price_eur_m2 != one.price_eur_m2);
        two.price_eur_m2.clone_from(&one.price_eur_m2);
        (two.id, two.name) = (one.id.clone(), one.name.clone());
        assert_eq!(&two, one, "{cloth}");
    }
}

#[test]
fn every_measure_has_prices_in_order_and_a_caution() {
    for m in measures() {
        for r in [&m.price_eur, &m.mass_kg] {
            assert!(
                r.low <= r.likely && r.likely <= r.high && !r.source.is_empty(),
                "{}",
                m.id
            );
        }
        assert!(!m.hazards.is_empty(), "{}", m.id);
    }
}
