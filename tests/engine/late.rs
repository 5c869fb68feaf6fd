//! Late injection of a diesel that burns its filter clean.

use baysoak::cycle::Load;

use super::fixture::{CHARGE_K, at_rpm, demo, diesel, port_gas_k, warm};

/// 450 to 600 degC at the turbine and oxygen left for the soot: common practice, no source.
#[test]
fn a_burning_filter_makes_a_diesels_gas_hot_and_the_books_still_close() {
    let build = diesel();
    for rpm in [800.0, 1500.0, 2500.0] {
        let usual = at_rpm(rpm, Load::FullLoadShare(0.15));
        let mut burning = usual;
        burning.filter_burning = true;
        let (a, b) = (warm(&build, &usual), warm(&build, &burning));
        let gas_c = port_gas_k(&build, &b, CHARGE_K) - 273.15;
        assert!((450.0..600.0).contains(&gas_c), "{rpm} rpm: {gas_c} degC");
        assert!(gas_c > port_gas_k(&build, &a, CHARGE_K) - 273.15 + 50.0);
        assert!(b.fuel_flow_kg_s > a.fuel_flow_kg_s && b.unburnt_w > a.unburnt_w);
        assert!(b.cylinder_heat_w > a.cylinder_heat_w);
        assert!((b.delivered_w() - a.delivered_w()).abs() < 1e-9);
        assert!(b.lambda >= 1.1 - 1e-9, "{}", b.lambda);
        assert!(b.balance_residual_w().abs() < 1e-6 * b.fuel_power_w);
    }
}

#[test]
fn a_petrol_engine_has_no_filter_to_burn() {
    let build = demo();
    let usual = at_rpm(1500.0, Load::FullLoadShare(0.2));
    let mut burning = usual;
    burning.filter_burning = true;
    assert_eq!(warm(&build, &usual), warm(&build, &burning));
}
