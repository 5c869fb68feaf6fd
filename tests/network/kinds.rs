//! Kinds of cars that no built-in sheet is.

use super::*;
use baysoak::study::findings::Findings;

const FRONT: (&str, &str) = (
    "kind = \"front\"                 # front, top, water or none\nface_cm2 = 950",
    "kind = \"water\"",
);

fn findings(sheet: &Sheet) -> Findings {
    baysoak::study::run::run(sheet, &every_kind(), &RunOptions::default(), &mut |_| {})
        .expect("a good run")
        .findings
}

fn value(f: &Findings, id: &str, place: &str) -> f64 {
    let figure = f.figures.iter().find(|x| x.id == id && x.place == place);
    figure.unwrap_or_else(|| panic!("no {id} of {place}")).value
}

#[test]
fn a_water_charge_cooler_cools() {
    let water = findings(&edited(&[FRONT]));
    let front = findings(&edited(&[]));
    let rise = |f| value(f, "intake_rise_mean_k", "sensor");
    assert!(water.audit.residual_percent < 0.1);
    // as good as the front one within a few kelvin, and neither colder than outside
    assert!(
        (rise(&water) - rise(&front)).abs() < 8.0,
        "{} {}",
        rise(&water),
        rise(&front)
    );
    assert!(rise(&water) > 0.0);
}

#[test]
fn two_scrolls_join_at_the_turbine() {
    let second = "[[exhaust]]\nname = \"runners 2\"\nkind = \"runner\"\nbranch = 2\nmetal = \"cast-iron-simo\"\n\
                  count = 2\nbore_mm = 34\nwall_mm = 4.5\nlength_mm = 130\nzone = \"hot\"\n";
    let collector = "[[exhaust]]\nname = \"collector\"\nkind = \"collector\"\nmetal = \"cast-iron-simo\"\n\
                     bore_mm = 46\nwall_mm = 5\nlength_mm = 110\n";
    // they name the collector that is no longer there
    let options = text("demo").split_once("\n[[option]]").unwrap().1;
    let options = &format!("\n[[option]]{options}");
    let twin = findings(&edited(&[
        ("kind = \"runner\"\n", "kind = \"runner\"\nbranch = 1\n"),
        ("count = 4 ", "count = 2 "),
        (collector, second),
        (options, ""),
    ]));
    assert!(twin.audit.residual_percent < 0.1);
    // the halves are alike, so their metal is
    let metal = |place| value(&twin, "metal_peak_c", place);
    assert!((metal("runners") - metal("runners 2")).abs() < 25.0);
    assert!(value(&twin, "turbine_inlet_mean_c", "turbine") > 200.0);
}

#[test]
fn height_takes_pressure_by_the_standard_atmosphere() {
    let high = edited(&[("pressure_kpa = 100", "altitude_m = 1500")]);
    let pressure_pa = settled(&high).build.day.pressure_pa;
    // US Standard Atmosphere 1976 at 1500 m
    assert!((pressure_pa - 84_559.7).abs() < 5.0, "{pressure_pa}");
}

#[test]
fn altitude_and_pressure_together_are_refused() {
    let text = text("demo").replace(
        "pressure_kpa = 100",
        "pressure_kpa = 100\naltitude_m = 1500",
    );
    let error = Sheet::parse(&text, "both.toml")
        .expect_err("refused")
        .to_string();
    assert!(
        error.contains("altitude and pressure both given"),
        "{error}"
    );
}

#[test]
fn retard_costs_power_only_when_switched_on() {
    let on = findings(&edited(&[(
        "redline_rpm = 6400",
        "redline_rpm = 6400\nretard_percent_per_k = 0.2\nretard_above_c = 30",
    )]));
    assert!(value(&on, "power_loss_percent", "retard") > 0.1);
    let off = findings(&edited(&[]));
    assert!(!off.figures.iter().any(|f| f.place == "retard"));
}
