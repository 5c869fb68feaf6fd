//! Power at full load: air, boost control, corrections, retard.

use super::fixture::{demo, diesel, na};
use baysoak::engine::boost::manifold;
use baysoak::engine::power::{self, Standard};
use baysoak::engine::power_full::{full_load, rated_charge_k};
use baysoak::physics::atmosphere;
use baysoak::sheet::build::Build;

/// Outside air of the rating: 99 kPa of dry air and 1 kPa of vapour at 25 degC.
fn in_rated_air(mut build: Build) -> Build {
    build.day.pressure_pa = 100e3;
    build.day.ambient_k = 298.15;
    build.day.humidity = 1e3 / baysoak::physics::humid_air::saturation_pressure(298.15);
    build
}

fn at_altitude(mut build: Build, metres: f64) -> Build {
    build.day.pressure_pa = atmosphere::pressure_at_altitude(metres);
    build
}

#[test]
fn rated_power_is_met_in_the_air_of_the_rating() {
    for build in [demo(), diesel(), na()] {
        let build = in_rated_air(build);
        let found = full_load(&build, rated_charge_k(&build));
        for w in [found.density_w, found.standard_w] {
            let share = w / build.engine.power_w;
            assert!((share - 1.0).abs() < 1e-6, "{}: {share}", build.title);
        }
    }
}

/// psychrolib 2.5.0 at 30 degC, 60 % and 101325 Pa: 1.15336 kg/m3 with 0.0160409 kg of water per kg of
/// dry air, so 1.13515 kg of dry air in each m3 (`data/reference/humid_air.toml`).
#[test]
fn val_psychrolib_dry_air_in_the_charge() {
    let mut build = na();
    build.intake.pressure_loss_pa = 0.0;
    build.day.pressure_pa = 101_325.0;
    build.day.ambient_k = 303.15;
    build.day.humidity = 0.6;
    let want = 1.15336 / 1.016_040_9;
    let got = full_load(&build, 303.15).dry_density_kg_m3;
    assert!((got / want - 1.0).abs() < 2e-4, "{got} against {want}");
    // the same by moles: 4246.03 Pa is saturated
    let share = 1.0 - 0.6 * 4246.03 / 101_325.0;
    assert!((power::dry_share(&build.day) - share).abs() < 1e-6);
}

#[test]
fn vapour_costs_power_at_equal_temperature_and_pressure() {
    let mut build = in_rated_air(na());
    build.day.ambient_k = 311.15;
    let mut at = |humidity: f64| {
        build.day.humidity = humidity;
        full_load(&build, 320.0)
    };
    let (dry, humid) = (at(0.0), at(1.0));
    // saturated at 38 degC is 6.63 kPa (steam tables): 6.6 % of the air
    let lost = 1.0 - humid.dry_density_kg_m3 / dry.dry_density_kg_m3;
    assert!((0.062..0.070).contains(&lost), "{lost}");
    assert!(humid.density_w < dry.density_w && humid.standard_w < dry.standard_w);
}

#[test]
fn verify_temperature_counts_fully_by_density_and_to_its_power_by_standard() {
    let build = in_rated_air(na());
    let rated_k = rated_charge_k(&build);
    let hot = full_load(&build, 1.1 * rated_k);
    assert!((hot.dry_density_kg_m3 * 1.1 / hot.rated_density_kg_m3 - 1.0).abs() < 1e-9);
    assert!(hot.density_w < hot.standard_w && hot.standard_w < build.engine.power_w);
    // more than 0.6 of the exponent: friction stays when the work shrinks
    let exponent = -(hot.standard_w / build.engine.power_w).ln() / 1.1f64.ln();
    assert!((0.6..0.85).contains(&exponent), "{exponent}");
}

#[test]
fn without_a_turbo_the_manifold_follows_the_air_outside() {
    for metres in [0.0, 1500.0, 3000.0] {
        let build = at_altitude(na(), metres);
        let found = manifold(&build, build.engine.power_rpm);
        let want = build.day.pressure_pa - build.intake.pressure_loss_pa;
        assert!((found.pressure_pa - want).abs() < 1e-6 && !found.compressor_limited);
    }
}

#[test]
fn boost_control_holds_the_manifold_until_the_compressor_has_no_more() {
    let rpm = demo().engine.power_rpm;
    let at = |metres: f64| manifold(&at_altitude(demo(), metres), rpm);
    let low = at(0.0);
    let held = at(300.0);
    assert!(!low.compressor_limited && !held.compressor_limited);
    assert!((low.pressure_pa - held.pressure_pa).abs() < 1e-6);
    let mut before = held.pressure_pa;
    for metres in [1500.0, 2500.0, 4000.0] {
        let found = at(metres);
        assert!(found.compressor_limited && found.pressure_pa < before);
        before = found.pressure_pa;
        // at its end it gives its ratio, less what the cooler takes
        let (build, turbo) = (demo(), demo().turbo.unwrap());
        let out = found.pressure_pa + build.intake.cooler.unwrap().pressure_loss_pa;
        assert!((out / found.unboosted_pa / turbo.most_pressure_ratio - 1.0).abs() < 1e-9);
    }
    // a compressor without room is limited from the start; one with plenty never
    let mut build = at_altitude(demo(), 4000.0);
    if let Some(t) = &mut build.turbo {
        t.most_pressure_ratio = 5.0;
    }
    let held = manifold(&build, rpm);
    assert!(!held.compressor_limited && (held.pressure_pa - low.pressure_pa).abs() < 1e-6);
}

#[test]
fn ignition_retard_is_off_unless_asked_for() {
    let mut build = in_rated_air(demo());
    let plain = full_load(&build, 350.0);
    assert_eq!(plain.retard_share, 0.0);
    build.engine.retard_share_per_k = 0.0015;
    build.engine.retard_above_k = 318.15;
    let late = full_load(&build, 350.0);
    let want = 0.0015 * (350.0 - 318.15);
    assert!((late.retard_share - want).abs() < 1e-12);
    assert!((late.density_w / plain.density_w - (1.0 - want)).abs() < 1e-12);
    assert_eq!(full_load(&build, 310.0).retard_share, 0.0);
}

#[test]
fn each_standard_is_its_own_formula() {
    let build = in_rated_air(na());
    let (engine, day) = (&build.engine, &build.day);
    let dry = power::dry_pressure_pa(day);
    let k = 320.0;
    let got = Standard::ALL.map(|s| s.correction(engine, day, k).factor);
    let want = [
        power::iso_1585_petrol(dry, k).factor,
        power::sae_j1349_petrol(dry, k).factor,
        power::din_70020(day.pressure_pa, k),
    ];
    assert_eq!(got, want);
    for (i, a) in got.iter().enumerate() {
        assert!(got[i + 1..].iter().all(|b| (a - b).abs() > 1e-4), "{got:?}");
    }
}

#[test]
fn a_standard_says_where_it_does_not_hold() {
    let build = in_rated_air(na());
    let inside = |s: Standard, k: f64| s.correction(&build.engine, &build.day, k).inside_limits;
    assert!(inside(Standard::SaeJ1349, 300.0) && !inside(Standard::SaeJ1349, 309.0));
    assert!(inside(Standard::Iso1585, 300.0));
    let high = at_altitude(build.clone(), 2500.0);
    for s in [Standard::Iso1585, Standard::SaeJ1349] {
        assert!(!s.correction(&high.engine, &high.day, 300.0).inside_limits);
        assert!(!s.limits(false).is_empty());
    }
}

/// In the air of its rating a naturally aspirated engine gets a factor of about one by each.
#[test]
fn corrections_are_one_at_their_reference() {
    let build = in_rated_air(na());
    for s in [Standard::Iso1585, Standard::SaeJ1349] {
        let factor = s.correction(&build.engine, &build.day, 298.0).factor;
        assert!((factor - 1.0).abs() < 1e-3, "{}: {factor}", s.name());
    }
}
