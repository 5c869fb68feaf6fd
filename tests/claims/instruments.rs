//! Readings against integrations and balances made with other tools, and the limits they must keep.

use baysoak::physics::planck::EIGHT_TO_FOURTEEN_UM;
use baysoak::study::instruments::*;

fn close(got: f64, want: f64, within: f64) {
    assert!(
        (got - want).abs() <= within,
        "{got}, not {want} within {within}"
    );
}

/// Planck's law integrated over 8 to 14 um and solved for the reading with scipy 1.17 (quad, brentq).
#[test]
fn val_infrared_readings() {
    for (surface_k, emissivity, set, reflected_k, assumed_k, want) in [
        (773.15, 0.4, 0.95, 333.15, 300.0, 567.2304509600012),
        (773.15, 0.8, 0.95, 333.15, 300.0, 721.6646890855741),
        (673.15, 0.2, 0.95, 403.15, 303.15, 479.0670577535281),
    ] {
        let gun = InfraredThermometer {
            band: EIGHT_TO_FOURTEEN_UM,
            emissivity_set: set,
            assumed_reflected_k: assumed_k,
        };
        let seen = Seen {
            surface_k,
            emissivity,
            reflected_k,
            fill: 1.0,
            behind_k: 300.0,
        };
        close(gun.reading_k(&seen), want, 1e-4);
    }
}

#[test]
fn verify_a_rightly_set_gun_reads_the_surface() {
    let gun = InfraredThermometer {
        band: EIGHT_TO_FOURTEEN_UM,
        emissivity_set: 0.6,
        assumed_reflected_k: 333.15,
    };
    let mut seen = Seen {
        surface_k: 873.15,
        emissivity: 0.6,
        reflected_k: 333.15,
        fill: 1.0,
        behind_k: 300.0,
    };
    close(gun.reading_k(&seen), 873.15, 1e-4);
    // half the spot on a cool bulkhead: far below, yet above what lies behind
    seen.fill = 0.5;
    let half = gun.reading_k(&seen);
    assert!((450.0..750.0).contains(&half), "{half}");
}

/// The wires as fins, solved as a boundary value problem with scipy 1.17 (solve_bvp, 1e-8).
#[test]
fn val_thermocouple_on_metal() {
    let couple = SurfaceThermocouple {
        wire_m: 0.5e-3,
        wires: 2.0,
        wire_w_mk: 25.0,
        lead_w_m2k: 60.0,
        contact_w_k: 0.05,
    };
    let on = PressedOn {
        surface_k: 800.0,
        air_k: 350.0,
        top_w_mk: 25.0,
        top_m: 1.0,
        under_w_mk: 25.0,
    };
    close(couple.reading_k(&on), 776.7773456535222, 0.01);
}

#[test]
fn a_thermocouple_on_a_poor_conductor_reads_low() {
    let couple = SurfaceThermocouple::clipped();
    let on = |top_w_mk, top_m| PressedOn {
        surface_k: 800.0,
        air_k: 350.0,
        top_w_mk,
        top_m,
        under_w_mk: 25.0,
    };
    let metal = couple.reading_k(&on(25.0, 2e-3));
    let coat = couple.reading_k(&on(1.0, 0.3e-3));
    let wrap = couple.reading_k(&on(0.1, 3e-3));
    assert!(
        metal > coat + 50.0 && coat > wrap + 50.0,
        "{metal} {coat} {wrap}"
    );
    // a coat that gets thinner and thinner ends at the metal below
    close(couple.reading_k(&on(1.0, 1e-9)), metal, 0.1);
}

/// Balance of a 3 mm probe with Nusselt numbers of Python ht 1.2.0 and air of CoolProp 8.0.0, solved with brentq.
#[test]
fn val_air_probe_in_sight_of_a_hot_part() {
    let probe = AirSensor::bare_probe();
    for (air_k, speed_m_s, hot_k, hot_share, rest_k, want) in [
        (363.15, 2.0, 923.15, 0.2, 353.15, 428.971),
        (363.15, 0.3, 923.15, 0.2, 353.15, 488.685),
        (333.15, 5.0, 700.0, 0.1, 333.15, 340.420),
    ] {
        let at = HangsIn {
            air_k,
            speed_m_s,
            pressure_pa: 1e5,
            hot_k,
            hot_share,
            rest_k,
        };
        // air properties and the fast correlations differ by half a percent
        close(probe.reading_k(&at), want, 0.01 * (want - air_k));
    }
}

#[test]
fn verify_a_probe_among_equals_reads_the_air() {
    let at = HangsIn {
        air_k: 350.0,
        speed_m_s: 1.0,
        pressure_pa: 1e5,
        hot_k: 350.0,
        hot_share: 0.3,
        rest_k: 350.0,
    };
    close(AirSensor::bare_probe().reading_k(&at), 350.0, 1e-4);
}

#[test]
fn verify_air_beside_a_surface() {
    let at = |y| air_beside_k(700.0, 350.0, 15.0, y);
    close(at(0.0), 700.0, 1e-9);
    close(at(0.05), 350.0, 1e-9);
    // the gradient at the wall carries the heat: k dT/dy = h dT
    let slope = (at(0.0) - at(1e-6)) / 1e-6;
    let k = baysoak::physics::air::conductivity(525.0);
    close(k * slope / (15.0 * 350.0), 1.0, 1e-3);
}

#[test]
fn a_finish_alone_can_make_a_drop_in_temperature() {
    // oxidised metal before, a bright metallic finish after, nothing cooler
    let drop = finish_effect(823.0, 333.0, Span::new(0.75, 0.85), Span::new(0.2, 0.3));
    assert!(drop.high < -150.0, "{drop:?}");
    // the same finish twice: nothing either way beyond its own spread
    let none = finish_effect(823.0, 333.0, Span::new(0.8, 0.8), Span::new(0.8, 0.8));
    assert!(none.low.abs() < 1e-6 && none.high.abs() < 1e-6);
}

#[test]
fn a_claim_is_explained_alone_together_or_in_part() {
    let effects = [
        Effect {
            name: "a".into(),
            low: -60.0,
            high: -40.0,
            basis: String::new(),
        },
        day_effect(10.0, 1.0, 5.0),
    ];
    assert!(matches!(explain(-50.0, &effects), Explained::Alone { by } if by == "a"));
    assert_eq!(explain(-70.0, &effects), Explained::Together);
    let Explained::Partly { share } = explain(-150.0, &effects) else {
        panic!("too much explained");
    };
    close(share, 0.5, 1e-9);
    // an effect that cools can't explain a rise
    assert!(matches!(explain(50.0, &effects), Explained::Partly { .. }));
}
