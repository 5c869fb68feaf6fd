//! Properties of gases.

use crate::reference::run;
use baysoak::physics::exhaust_gas::{ExhaustGas, Fuel};
use baysoak::physics::{air, atmosphere, humid_air, solar};

#[test]
fn val_coolprop_dry_air() {
    run("air.toml", |c| {
        let t = c.number("t_k");
        match c.call.as_str() {
            "specific_heat" => air::specific_heat(t),
            "enthalpy" => air::enthalpy(t),
            "conductivity" => air::conductivity(t),
            "viscosity" => air::viscosity(t),
            "prandtl" => air::prandtl(t),
            "density" => air::density(t, c.number("p_pa")),
            other => panic!("no function {other}"),
        }
    });
}

#[test]
fn val_cantera_burned_gas() {
    run("burned_gas.toml", |c| {
        let fuel = match c.name("fuel") {
            "petrol" => Fuel::Petrol,
            "diesel" => Fuel::Diesel,
            "e85" => Fuel::E85,
            other => panic!("no fuel {other}"),
        };
        let gas = || ExhaustGas::new(fuel, c.number("lambda"));
        match c.call.as_str() {
            "specific_heat" => gas().specific_heat(c.number("t_k")),
            "enthalpy" => gas().enthalpy(c.number("t_k")),
            "viscosity" => gas().viscosity(c.number("t_k")),
            "conductivity" => gas().conductivity(c.number("t_k")),
            "molar_mass" => gas().molar_mass(),
            "stoichiometric_ratio" => fuel.stoichiometric_ratio(),
            "lower_heating_value" => fuel.lower_heating_value(),
            other => panic!("no function {other}"),
        }
    });
}

#[test]
fn val_psychrolib_humid_air() {
    run("humid_air.toml", |c| {
        let t = c.number("t_k");
        match c.call.as_str() {
            "saturation_pressure" => humid_air::saturation_pressure(t),
            "humidity_ratio" => humid_air::humidity_ratio(t, c.number("rh"), c.number("p_pa")),
            "moist_density" => {
                let p = c.number("p_pa");
                humid_air::moist_density(t, humid_air::humidity_ratio(t, c.number("rh"), p), p)
            }
            "dew_point" => humid_air::dew_point(t, c.number("rh")),
            other => panic!("no function {other}"),
        }
    });
}

#[test]
fn val_standard_atmosphere_1976() {
    run("atmosphere.toml", |c| {
        let z = c.number("altitude_m");
        match c.call.as_str() {
            "temperature" => atmosphere::temperature_at_altitude(z),
            "pressure" => atmosphere::pressure_at_altitude(z),
            other => panic!("no function {other}"),
        }
    });
}

#[test]
fn val_sun_position_and_clear_sky() {
    run("solar.toml", |c| {
        if c.call == "clear_sky" {
            return solar::clear_sky(c.number("zenith_deg").to_radians().cos());
        }
        let part = |name: &str| c.number(name) as u32;
        let days = solar::days_from_j2000(c.number("year") as i32, part("month"), part("day"));
        let declination = solar::declination(days);
        match c.call.as_str() {
            "declination" => declination.to_degrees(),
            "zenith" => {
                let latitude = c.number("latitude_deg").to_radians();
                let up = solar::zenith_cosine(latitude, declination, c.number("solar_hour"));
                up.acos().to_degrees()
            }
            other => panic!("no function {other}"),
        }
    });
}

#[test]
fn no_sun_below_the_horizon() {
    assert_eq!(solar::clear_sky(-0.2), 0.0);
    assert_eq!(solar::clear_sky(0.0), 0.0);
    assert!(solar::CLEAR_SKY_RANGE.contains(0.5) && !solar::CLEAR_SKY_RANGE.contains(-0.1));
}

#[test]
fn moist_air_is_lighter_and_holds_more_heat() {
    let w = humid_air::humidity_ratio(303.15, 0.6, 1e5);
    assert!(humid_air::moist_density(303.15, w, 1e5) < 0.995 * air::density(303.15, 1e5));
    // 0.016 kg/kg times (1.86 - 1.006) / 1.006 is 1.4 %.
    let ratio = humid_air::specific_heat_ratio_to_dry(w);
    assert!((1.012..1.015).contains(&ratio), "{ratio}");
    let parts = humid_air::dry_air_partial_pressure(303.15, 0.6, 1e5)
        + humid_air::vapour_pressure(303.15, 0.6);
    assert!((parts - 1e5).abs() < 1e-9);
}
