//! Single laws: corrections, compressor, friction, full-load curve.

use baysoak::engine::compressor::temperature_rise_ratio;
use baysoak::engine::friction::{cold_factor, diesel_fmep_pa, petrol_fmep_pa};
use baysoak::engine::full_load::full_load_torque;
use baysoak::engine::power::{din_70020, iso_1585_petrol, sae_j1349_petrol};
use baysoak::engine::road::RAD_S_PER_RPM;

use crate::fixture::all;
use crate::published::assert_published;

#[test]
fn val_sae_j1349_at_98_kpa_and_35_degrees() {
    let c = sae_j1349_petrol(98e3, 308.0);
    assert_published(c.factor, "sae_j1349");
    assert!(c.inside_limits);
    assert!(!sae_j1349_petrol(98e3, 320.0).inside_limits);
    assert!(!sae_j1349_petrol(89e3, 300.0).inside_limits);
}

#[test]
fn val_iso_1585_at_98_kpa_and_35_degrees() {
    let c = iso_1585_petrol(98e3, 308.0);
    assert_published(c.factor, "iso_1585");
    assert!(c.inside_limits);
    assert!(!iso_1585_petrol(85e3, 308.0).inside_limits);
}

#[test]
fn val_iso_1585_exponent_over_20_kelvin() {
    let ratio = iso_1585_petrol(99e3, 298.15).factor / iso_1585_petrol(99e3, 318.15).factor;
    assert_published(ratio, "temperature_exponent_0_6");
}

#[test]
fn val_din_70020_at_98_kpa_and_35_degrees() {
    assert_published(din_70020(98e3, 308.0), "din_70020");
}

#[test]
fn val_coolprop_isentropic_compression_to_twice_the_pressure() {
    let outlet_k = 298.15 * (1.0 + temperature_rise_ratio(2.0, 1.0, 298.15));
    assert_published(outlet_k, "compressor_isentropic_outlet");
    assert_published(outlet_k, "compressor_constant_gamma");
}

#[test]
fn verify_compressor_rise_goes_with_one_over_efficiency() {
    let ideal = temperature_rise_ratio(1.8, 1.0, 305.0);
    let real = temperature_rise_ratio(1.8, 0.7, 305.0);
    assert!((real * 0.7 / ideal - 1.0).abs() < 1e-12);
    assert_eq!(temperature_rise_ratio(1.0, 0.7, 305.0), 0.0);
    assert_eq!(temperature_rise_ratio(0.6, 0.7, 305.0), 0.0);
}

#[test]
fn val_friction_polynomials_by_hand() {
    assert_published(petrol_fmep_pa(1000.0) / 1e5, "petrol_fmep_1000");
    assert_published(petrol_fmep_pa(3000.0) / 1e5, "petrol_fmep_3000");
    assert_published(petrol_fmep_pa(6000.0) / 1e5, "petrol_fmep_6000");
    assert_published(diesel_fmep_pa(2000.0, 6.0) / 1e3, "diesel_fmep_2000_6");
    assert_published(diesel_fmep_pa(4000.0, 12.0) / 1e3, "diesel_fmep_4000_12");
}

#[test]
fn cold_oil_adds_friction_and_hot_oil_does_not_take_any_away() {
    assert!(
        (1.5..=2.0).contains(&cold_factor(293.15)),
        "{}",
        cold_factor(293.15)
    );
    assert!(cold_factor(253.15) > cold_factor(293.15));
    assert!((cold_factor(363.15) - 1.0).abs() < 1e-12);
    assert!((cold_factor(385.0) - 1.0).abs() < 1e-12);
}

#[test]
fn full_load_curve_meets_both_given_points() {
    for build in all() {
        let e = &build.engine;
        let torque = full_load_torque(e, e.torque_rpm);
        assert!(
            (torque / e.torque_nm - 1.0).abs() < 1e-9,
            "{}: {torque} N m",
            build.title
        );
        let power = full_load_torque(e, e.power_rpm) * e.power_rpm * RAD_S_PER_RPM;
        assert!(
            (power / e.power_w - 1.0).abs() < 1e-9,
            "{}: {power} W",
            build.title
        );
    }
}

#[test]
fn full_load_torque_is_highest_at_its_point_and_has_no_steps() {
    for build in all() {
        let e = &build.engine;
        let mut before = full_load_torque(e, e.idle_rpm);
        let mut rpm = e.idle_rpm;
        while rpm < 1.2 * e.redline_rpm {
            rpm += 5.0;
            let now = full_load_torque(e, rpm);
            assert!(
                now > 0.0 && now <= e.torque_nm * (1.0 + 1e-12),
                "{} at {rpm}",
                build.title
            );
            assert!(
                (now - before).abs() < 0.02 * e.torque_nm,
                "{} at {rpm}",
                build.title
            );
            before = now;
        }
    }
}
