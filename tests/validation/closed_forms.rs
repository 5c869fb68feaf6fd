//! Closed forms: enclosures, view factors, conduction.

use approx::assert_relative_eq;
use baysoak::constants::STEFAN_BOLTZMANN_W_M2_K4;
use baysoak::physics::convection::{crossflow, mixed, natural};
use baysoak::physics::radiation::{
    ExchangeMatrix, RadiationError, black_emissive_power, sky_temperature, two_surface_exchange_m2,
};
use baysoak::physics::view_factors::{
    CloseError, FixedViewFactor, close, coaxial_discs, concentric_cylinders, cylinder_to_strip,
    parallel_rectangles, perpendicular_rectangles,
};
use baysoak::physics::{conduction, pipe_flow};
use nalgebra::{DMatrix, dmatrix};
use proptest::prelude::*;

#[test]
fn verify_two_parallel_plates() {
    let m = ExchangeMatrix::new(&[2.0, 2.0], &dmatrix![0.0, 1.0; 1.0, 0.0], &[0.8, 0.3]).unwrap();
    let exact = 2.0 / (1.0 / 0.8 + 1.0 / 0.3 - 1.0);
    assert_relative_eq!(m.area_factor_m2(0, 1), exact, max_relative = 1e-12);
    let q = m.net_heat_w(&[900.0, 400.0]);
    let flux = STEFAN_BOLTZMANN_W_M2_K4 * (900f64.powi(4) - 400f64.powi(4));
    assert_relative_eq!(q[0], exact * flux, max_relative = 1e-12);
    assert_relative_eq!(q[0], -q[1], max_relative = 1e-12);
}

#[test]
fn verify_concentric_cylinders() {
    let v = concentric_cylinders(0.025, 0.035);
    let f = dmatrix![0.0, v.inner_to_outer; v.outer_to_inner, v.outer_to_outer];
    let m = ExchangeMatrix::new(&[0.025, 0.035], &f, &[0.8, 0.1]).unwrap();
    let exact = two_surface_exchange_m2(0.025, 0.8, 0.035, 0.1);
    assert_relative_eq!(m.area_factor_m2(0, 1), exact, max_relative = 1e-12);
    assert_relative_eq!(
        m.area_factor_m2(0, 0) + exact,
        0.025 * 0.8,
        max_relative = 1e-12
    );
}

/// Incropera & DeWitt, eq. 13.30: two plates joined by a surface that returns all it gets.
#[test]
fn verify_three_surfaces_with_a_reradiating_one() {
    let (a1, a2, e1, e2, f12) = (1.0, 1.0, 0.6, 0.4, 0.2);
    let f1r = 1.0 - f12;
    let ar = 4.0;
    let fr1 = a1 * f1r / ar;
    let f = dmatrix![0.0, f12, f1r; f12, 0.0, f1r; fr1, fr1, 1.0 - 2.0 * fr1];
    let inner = a1 * f12 + 1.0 / (1.0 / (a1 * f1r) + 1.0 / (a2 * f1r));
    let exact = 1.0 / ((1.0 - e1) / (e1 * a1) + 1.0 / inner + (1.0 - e2) / (e2 * a2));
    // Perfectly reflecting and re-radiating are the same to the two others.
    let mirror = ExchangeMatrix::new(&[a1, a2, ar], &f, &[e1, e2, 0.0]).unwrap();
    assert_relative_eq!(mirror.area_factor_m2(0, 1), exact, max_relative = 1e-12);
    // A grey one that floats to its balance gives the same heat, whatever its emissivity.
    for er in [0.2, 0.9] {
        let m = ExchangeMatrix::new(&[a1, a2, ar], &f, &[e1, e2, er]).unwrap();
        let (x, y) = (m.area_factor_m2(2, 0), m.area_factor_m2(2, 1));
        let through = m.area_factor_m2(0, 1) + x * y / (x + y);
        assert_relative_eq!(through, exact, max_relative = 1e-12);
    }
}

#[test]
fn bad_enclosures_name_their_row() {
    let open = ExchangeMatrix::new(&[1.0, 1.0], &dmatrix![0.0, 1.0; 0.9, 0.0], &[0.5, 0.5]);
    assert!(matches!(
        open,
        Err(RadiationError::NotClosed { row: 1, .. })
    ));
    let lopsided = ExchangeMatrix::new(&[1.0, 2.0], &dmatrix![0.0, 1.0; 1.0, 0.0], &[0.5, 0.5]);
    assert!(matches!(
        lopsided,
        Err(RadiationError::NotReciprocal {
            row: 1,
            column: 0,
            ..
        })
    ));
    let f = dmatrix![0.0, 1.0; 1.0, 0.0];
    let nan = ExchangeMatrix::new(&[1.0, 1.0], &f, &[0.5, f64::NAN]);
    assert!(matches!(
        nan,
        Err(RadiationError::Emissivity { row: 1, .. })
    ));
    let mirrors = ExchangeMatrix::new(&[1.0, 1.0], &f, &[0.0, 0.0]);
    assert!(matches!(mirrors, Err(RadiationError::Singular { .. })));
    let area = ExchangeMatrix::new(&[f64::INFINITY, 1.0], &f, &[0.5, 0.5]);
    assert!(matches!(area, Err(RadiationError::Area { row: 0, .. })));
    assert!(matches!(
        ExchangeMatrix::new(&[1.0], &f, &[0.5]),
        Err(RadiationError::Sizes { .. })
    ));
}

/// A closed box: each face sees the opposite one and four sides.
#[test]
fn verify_box_of_rectangles_is_closed() {
    let (a, b, c) = (1.3, 0.7, 0.4);
    let opposite = parallel_rectangles(a, b, c);
    let long = perpendicular_rectangles(a, b, c);
    let short = perpendicular_rectangles(b, a, c);
    assert_relative_eq!(
        opposite + 2.0 * long + 2.0 * short,
        1.0,
        max_relative = 1e-12
    );
    let back = perpendicular_rectangles(a, c, b);
    assert_relative_eq!(b * long, c * back, max_relative = 1e-12);
}

#[test]
fn verify_disc_and_strip_limits() {
    assert_relative_eq!(coaxial_discs(1.0, 1e6, 1.0), 1.0, max_relative = 1e-9);
    let small = coaxial_discs(1e-6, 2.0, 1.0);
    assert_relative_eq!(small, 4.0 / 5.0, max_relative = 1e-9);
    assert_relative_eq!(
        9.0 * coaxial_discs(3.0, 1.0, 2.0),
        coaxial_discs(1.0, 3.0, 2.0),
        max_relative = 1e-12
    );
    let parts = cylinder_to_strip(-1.0, 0.5, 2.0) + cylinder_to_strip(0.5, 3.0, 2.0);
    assert_relative_eq!(
        parts,
        cylinder_to_strip(-1.0, 3.0, 2.0),
        max_relative = 1e-12
    );
}

#[test]
fn verify_layers_and_critical_radius() {
    let (k, h) = (0.1, 10.0);
    let total = |r: f64| {
        conduction::cylinder_resistance_per_length(0.002, r, k)
            + 1.0 / (h * std::f64::consts::TAU * r)
    };
    let r = conduction::critical_radius(k, h);
    assert!(total(r) < total(0.98 * r) && total(r) < total(1.02 * r));
    assert_relative_eq!(
        conduction::plane_resistance(0.003, 0.1, 2.0),
        0.015,
        max_relative = 1e-12
    );
    assert_relative_eq!(
        conduction::contact_resistance(5000.0, 0.002),
        0.1,
        max_relative = 1e-12
    );
}

/// Hagen-Poiseuille: pressure drop of laminar flow is 32 mu L u / D^2.
#[test]
fn verify_laminar_pressure_drop() {
    let (d, l, mu, rho, flow) = (0.02, 1.5, 3e-5, 0.4, 1e-4);
    let u = pipe_flow::speed(flow, rho, std::f64::consts::FRAC_PI_4 * d * d);
    let re = pipe_flow::reynolds_in_pipe(flow, d, mu);
    let dp = pipe_flow::pressure_drop(pipe_flow::friction_pipe(re, 0.0), l, d, 0.0, rho, u);
    assert_relative_eq!(dp, 32.0 * mu * l * u / (d * d), max_relative = 1e-12);
    let back = pipe_flow::pressure_drop(0.02, l, d, 1.0, rho, -u);
    assert!(back < 0.0);
}

#[test]
fn verify_cube_rule() {
    assert_relative_eq!(mixed::combine(3.0, 4.0), 91f64.cbrt(), max_relative = 1e-14);
    assert_relative_eq!(mixed::combine(0.0, 4.0), 4.0, max_relative = 1e-14);
}

#[test]
fn humid_sky_is_warmer_than_dry_sky_and_colder_than_air() {
    let (dry, humid) = (sky_temperature(293.15, 0.2), sky_temperature(293.15, 0.8));
    assert!(dry + 3.0 < humid && humid + 5.0 < 293.15, "{dry} {humid}");
    assert!(black_emissive_power(dry) > 0.0);
}

#[test]
fn fixed_view_factors_stay_and_hopeless_sets_are_named() {
    let areas = [1.0, 2.0, 1.5, 0.5];
    let weights = DMatrix::from_element(4, 4, 1.0);
    let pair = FixedViewFactor {
        from: 0,
        to: 2,
        view_factor: 0.25,
    };
    let f = close(&areas, &weights, &[pair]).unwrap();
    assert_eq!(f[(0, 2)], 0.25);
    check_closed(&areas, &f);
    let big = close(&[5.0, 1.0, 1.0], &DMatrix::from_element(3, 3, 1.0), &[]);
    assert!(matches!(
        big,
        Err(CloseError::SeesTooLittle { surface: 0, .. })
    ));
    let over = [
        pair,
        FixedViewFactor {
            from: 0,
            to: 1,
            view_factor: 0.8,
        },
    ];
    assert!(matches!(
        close(&areas, &weights, &over),
        Err(CloseError::FixedTooLarge { surface: 0, .. })
    ));
    let mut lopsided = weights.clone();
    lopsided[(0, 1)] = 2.0;
    assert!(matches!(
        close(&areas, &lopsided, &[]),
        Err(CloseError::Weight { .. })
    ));
    // Two pairs that can only see across: each side must have the same area in total.
    let across =
        dmatrix![0.0, 0.0, 1.0, 1.0; 0.0, 0.0, 1.0, 1.0; 1.0, 1.0, 0.0, 0.0; 1.0, 1.0, 0.0, 0.0];
    assert!(matches!(
        close(&[1.0, 1.0, 1.0, 0.9], &across, &[]),
        Err(CloseError::NotConverged { .. })
    ));
    check_closed(
        &[1.0, 1.0, 1.2, 0.8],
        &close(&[1.0, 1.0, 1.2, 0.8], &across, &[]).unwrap(),
    );
}

#[test]
fn wide_spread_of_areas_and_weights_still_closes() {
    // One surface nearly as big as the rest together, weights over eight decades, some pairs blind.
    let n = 40;
    let mut areas: Vec<f64> = (0..n)
        .map(|i| 10f64.powf(-3.0 + f64::from((i * 7) % 13) / 4.0))
        .collect();
    areas[0] = 0.97 * areas[1..].iter().sum::<f64>();
    let weights = DMatrix::from_fn(40, 40, |i, j| {
        let (a, b) = (i.min(j), i.max(j));
        let blind = a > 0 && (a * 5 + b * 3) % 4 == 0;
        if blind {
            0.0
        } else {
            10f64.powf(((a * 31 + b * 17) % 9) as f64 - 4.0)
        }
    });
    check_closed(&areas, &close(&areas, &weights, &[]).unwrap());
}

fn check_closed(areas: &[f64], f: &DMatrix<f64>) {
    for i in 0..areas.len() {
        assert!(
            (f.row(i).sum() - 1.0).abs() < 1e-9,
            "row {i} {}",
            f.row(i).sum()
        );
        for j in 0..areas.len() {
            assert!(f[(i, j)] >= 0.0);
            assert!((areas[i] * f[(i, j)] - areas[j] * f[(j, i)]).abs() < 1e-12 * areas[i]);
        }
    }
}

proptest! {
    #[test]
    fn random_enclosures_close_and_exchange_symmetrically(
        areas in prop::collection::vec(0.3f64..1.0, 5..14),
        raw in prop::collection::vec(0.01f64..10.0, 14 * 14),
        emissivities in prop::collection::vec(0.02f64..1.0, 14),
        t in prop::collection::vec(250.0f64..1200.0, 14),
    ) {
        let n = areas.len();
        let weights = DMatrix::from_fn(n, n, |i, j| raw[i.min(j) * 14 + i.max(j)]);
        let f = close(&areas, &weights, &[]).unwrap();
        check_closed(&areas, &f);
        let m = ExchangeMatrix::new(&areas, &f, &emissivities[..n]).unwrap();
        for i in 0..n {
            prop_assert!((m.as_matrix().row(i).sum() - areas[i] * emissivities[i]).abs() < 1e-8);
            for j in 0..n {
                prop_assert_eq!(m.area_factor_m2(i, j), m.area_factor_m2(j, i));
                prop_assert!(m.area_factor_m2(i, j) >= 0.0);
            }
        }
        let q = m.net_heat_w(&t[..n]);
        prop_assert!(q.sum().abs() < 1e-9 * q.amax().max(1.0));
    }
}

/// Incropera & DeWitt, sec. 9.9 (from memory): free and forced convection matter alike where
/// Gr / Re^2 is of the order of one, the free part is negligible far below, the forced far above.
#[test]
fn val_mixed_convection_hands_over_where_grashof_equals_reynolds_squared() {
    let (wall_k, air_k, diameter_m, pr) = (500.0, 300.0, 0.05, 0.69);
    let nu = 2.64e-5;
    let ra = natural::rayleigh(wall_k, air_k, diameter_m, nu, pr);
    let free = natural::nusselt_horizontal_cylinder(ra, pr);
    let forced = |re: f64| crossflow::nusselt_churchill_bernstein(re, pr);
    let re_at = |ratio: f64| (ra / pr / ratio).sqrt();
    // the two are equal at a ratio of order one
    let (mut low, mut high) = (1e-3f64, 1e3f64);
    for _ in 0..60 {
        let middle = (low * high).sqrt();
        if forced(re_at(middle)) > free {
            low = middle;
        } else {
            high = middle;
        }
    }
    assert!((0.3..10.0).contains(&low), "hand-over at Gr/Re2 {low}");
    let mixed = |ratio: f64| mixed::combine(free, forced(re_at(ratio)));
    assert_relative_eq!(mixed(low), free * 2f64.cbrt(), max_relative = 1e-6);
    // three decades off, one of them is all there is, and in between nothing jumps
    assert_relative_eq!(mixed(1e-3), forced(re_at(1e-3)), max_relative = 0.02);
    assert_relative_eq!(mixed(1e5), free, max_relative = 0.02);
    let steps: Vec<f64> = (0..80).map(|i| mixed(1e-3 * 1.2f64.powi(i))).collect();
    assert!(steps.windows(2).all(|w| w[1] < w[0] && w[0] / w[1] < 1.1));
}

/// Both power laws meet at the top of their layers: 27^0.14 there by hand, 0.386 at a car's nose.
#[test]
fn verify_wind_among_buildings_is_a_third_to_a_half_of_the_report() {
    let at = baysoak::physics::atmosphere::wind_among_buildings;
    assert!((at(370.0) - 1.5863).abs() < 1e-3);
    assert!((at(0.6) - 0.386).abs() < 1e-3);
    assert!(at(1.5) > at(0.6) && at(10.0) < 1.0);
}
