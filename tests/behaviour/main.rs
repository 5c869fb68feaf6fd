//! Everyday states of the built-in builds against logged cars.
//!
//! Bands: statistics over several open logs (turbocharged with charge cooler, naturally aspirated
//! and mixed petrol cars), about 190 h.

use baysoak::sheet::Sheet;

#[path = "../common/behaviour.rs"]
mod behaviour;

/// States outside their band for a reason that README gives.
fn outside(build: &str, cooled: bool) -> Vec<String> {
    behaviour::rows(build, cooled)
        .iter()
        .filter(|row| !row.inside())
        .map(|row| row.state.to_owned())
        .collect()
}

#[test]
fn the_demonstration_build_behaves_like_logged_turbo_cars() {
    assert_eq!(outside("demo", true), Vec::<String>::new());
}

#[test]
fn the_v8_behaves_like_logged_naturally_aspirated_cars_but_for_the_states_named_in_readme() {
    let named = [
        "idle from cold, 5 min",
        "idle from cold, 10 min",
        "idle from cold, 15 min",
    ];
    let outside = outside("v8", false);
    assert!(
        outside.iter().all(|state| named.contains(&state.as_str())),
        "{outside:?}"
    );
}

#[test]
fn the_tow_diesel_departs_from_cars_with_a_front_cooler_only_where_its_top_cooler_says_so() {
    let named = ["steady motorway", "idle, warm, after 60 s"];
    let outside = outside("tow-diesel", true);
    assert!(
        outside.iter().all(|state| named.contains(&state.as_str())),
        "{outside:?}"
    );
}

#[test]
fn readme_holds_the_present_table() {
    assert!(include_str!("../../README.md").contains(&behaviour::table()));
}

/// One car was logged at idle from cold, most likely a small one with its sensor in the plenum: the
/// rise begins in the first minutes, before any air in the bay is warm.
#[test]
fn a_small_car_with_its_sensor_in_the_plenum_idles_from_cold_like_the_logged_one() {
    let text = include_str!("small-petrol.toml");
    let sheet = Sheet::parse(text, "small petrol").expect("a good sheet");
    for row in behaviour::idle_from_cold(&sheet) {
        assert!(row.inside(), "{}: {:.1} K", row.state, row.model);
    }
}
