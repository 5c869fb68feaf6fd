//! Convection, exchangers, radiation.

use crate::reference::run;
use baysoak::physics::convection::{crossflow, internal, natural, plate};
use baysoak::physics::exchanger::FlowArrangement;
use baysoak::physics::{conduction, pipe_flow, radiation, view_factors};

#[test]
fn val_ht_and_textbook_convection() {
    run("convection.toml", |c| {
        let n = |name| c.number(name);
        match c.call.as_str() {
            "churchill_bernstein" => crossflow::nusselt_churchill_bernstein(n("re"), n("pr")),
            "zukauskas" => crossflow::nusselt_zukauskas(n("re"), n("pr"), n("pr_wall")),
            "churchill_chu_cylinder" => natural::nusselt_horizontal_cylinder(n("ra"), n("pr")),
            "churchill_chu_plate" => natural::nusselt_vertical_plate(n("ra"), n("pr")),
            "gnielinski" => internal::nusselt_gnielinski(n("re"), n("pr"), n("friction")),
            "dittus_boelter" => internal::nusselt_dittus_boelter_cooling(n("re"), n("pr")),
            "hausen" => internal::nusselt_hausen(n("re"), n("pr"), n("diameter_over_length")),
            "laminar" => internal::nusselt_laminar_wall_temperature(),
            "haaland" => pipe_flow::friction_haaland(n("re"), n("roughness")),
            "plate_turbulent" => plate::nusselt_turbulent(n("re"), n("pr")),
            "plate_laminar" => plate::nusselt_laminar(n("re"), n("pr")),
            "pulsating" => internal::nusselt_pulsating_exhaust(n("re")),
            other => panic!("no function {other}"),
        }
    });
}

#[test]
fn val_ht_and_textbook_exchangers() {
    run("exchanger.toml", |c| {
        let arrangement = match c.name("arrangement") {
            "counterflow" => FlowArrangement::Counterflow,
            "parallel" => FlowArrangement::Parallel,
            "crossflow-unmixed" => FlowArrangement::CrossflowUnmixed,
            "crossflow-cmin-mixed" => FlowArrangement::CrossflowCminMixed,
            "crossflow-cmax-mixed" => FlowArrangement::CrossflowCmaxMixed,
            "single-stream" => FlowArrangement::SingleStream,
            other => panic!("no arrangement {other}"),
        };
        match c.call.as_str() {
            "effectiveness" => arrangement.effectiveness(c.number("ntu"), c.number("cr")),
            "ntu" => arrangement
                .ntu(c.number("effectiveness"), c.number("cr"))
                .unwrap(),
            other => panic!("no function {other}"),
        }
    });
}

#[test]
fn val_radiation_and_view_factors() {
    run("radiation.toml", |c| {
        let n = |name| c.number(name);
        match c.call.as_str() {
            "parallel_rectangles" => {
                view_factors::parallel_rectangles(n("width"), n("depth"), n("distance"))
            }
            "perpendicular_rectangles" => {
                view_factors::perpendicular_rectangles(n("edge"), n("depth_1"), n("depth_2"))
            }
            "coaxial_discs" => {
                view_factors::coaxial_discs(n("radius_1"), n("radius_2"), n("distance"))
            }
            "concentric_outer_to_inner" => {
                view_factors::concentric_cylinders(n("inner"), n("outer")).outer_to_inner
            }
            "cylinder_to_strip" => {
                view_factors::cylinder_to_strip(n("from"), n("to"), n("distance"))
            }
            "concentric_flux" => radiation::concentric_cylinder_flux(
                n("inner_m"),
                n("inner_emissivity"),
                n("inner_k"),
                n("outer_m"),
                n("outer_emissivity"),
                n("outer_k"),
            ),
            "emissive_power_difference" => {
                radiation::parallel_plate_flux(1.0, n("hot_k"), 1.0, n("cold_k"))
            }
            "sky_swinbank" => radiation::sky_temperature_swinbank(n("air_k")),
            "cylinder_resistance" => {
                conduction::cylinder_resistance_per_length(n("inner_m"), n("outer_m"), n("k"))
            }
            other => panic!("no function {other}"),
        }
    });
}

#[test]
fn every_exchanger_arrangement_inverts_and_differs_from_the_others() {
    for a in FlowArrangement::ALL {
        for cr in [0.0, 0.3, 0.999_999, 1.0] {
            let mut last = 0.0;
            for ntu in [0.05, 0.5, 1.3, 3.0] {
                let e = a.effectiveness(ntu, cr);
                assert!(e > last && e < 1.0, "{a:?} {ntu} {cr} {e}");
                last = e;
                assert!(
                    (a.ntu(e, cr).unwrap() / ntu - 1.0).abs() < 1e-6,
                    "{a:?} {ntu} {cr}"
                );
            }
        }
        assert_eq!(a.ntu(1.5, 0.5), None);
        assert_eq!(a.ntu(f64::NAN, 0.5), None);
        for b in FlowArrangement::ALL {
            let gap = (a.effectiveness(2.0, 0.7) - b.effectiveness(2.0, 0.7)).abs();
            assert_eq!(gap < 1e-6, a == b, "{a:?} {b:?}");
        }
    }
    assert_eq!(FlowArrangement::Parallel.ntu(0.9, 1.0), None);
}

#[test]
fn every_natural_convection_surface_calls_its_own_correlation() {
    let (ra, pr) = (3e6, 0.71);
    let direct = [
        natural::nusselt_horizontal_cylinder(ra, pr),
        natural::nusselt_vertical_plate(ra, pr),
        natural::nusselt_hot_face_up(ra),
        natural::nusselt_hot_face_down(ra),
    ];
    for (i, a) in natural::Surface::ALL.into_iter().enumerate() {
        assert_eq!(a.nusselt(ra, pr), direct[i]);
        assert!(
            (a.nusselt_gas(ra, pr) / direct[i] - 1.0).abs() < 1e-3,
            "{a:?}"
        );
        assert!(a.range().contains(ra));
        for (j, other) in direct.iter().enumerate() {
            assert_eq!((direct[i] - other).abs() < 1e-6, i == j);
        }
    }
}

#[test]
fn cheap_crossflow_form_follows_the_full_one() {
    let range = crossflow::CROSSFLOW_GAS_RANGE;
    for pr in [0.65, 0.7, 0.74, 0.8] {
        let mut re = range.min;
        while range.contains(re) {
            let full = crossflow::nusselt_churchill_bernstein(re, pr);
            assert!(
                (crossflow::nusselt_gas(re, pr) / full - 1.0).abs() < 1.5e-3,
                "{re} {pr}"
            );
            re *= 1.3;
        }
    }
}

/// A function, the argument where two forms meet, and the largest relative step.
type Join<'a> = (&'a dyn Fn(f64) -> f64, f64, f64);

#[test]
fn joined_correlations_have_no_steps() {
    let pipe = |re: f64| internal::nusselt_pipe(re, 0.7, pipe_flow::friction_pipe(re, 1e-3));
    let up = natural::nusselt_hot_face_up;
    let mixed = |re| plate::nusselt_mixed(re, 0.7);
    let friction = |re| pipe_flow::friction_pipe(re, 1e-3);
    let joins: [Join; 7] = [
        (&pipe, 2300.0, 1e-6),
        (&pipe, 4000.0, 1e-6),
        (&friction, 2300.0, 1e-6),
        (&friction, 4000.0, 1e-6),
        (&up, (0.54f64 / 0.15).powi(12), 1e-6),
        (&mixed, plate::TRANSITION, 2e-3),
        (&pipe, 1e4, 1e-6),
    ];
    for (i, (f, x, limit)) in joins.into_iter().enumerate() {
        let step = f(x * (1.0 + 1e-9)) / f(x * (1.0 - 1e-9)) - 1.0;
        assert!(step.abs() < limit, "join {i}: {step}");
    }
}
