//! Claims judged on the demonstration build.

use baysoak::sheet::{Sheet, builtin};
use baysoak::study::claim::needs::{Property, Reach};
use baysoak::study::claim::point::At;
use baysoak::study::claim::readings::{Reading, Scale, Seat, What, Whose};
use baysoak::study::claim::trial::{Numbers, Other, Side, Trials};
use baysoak::study::claim::*;

fn demo() -> Sheet {
    builtin("demo").unwrap()
}

fn claim(text: &str) -> Claim {
    ClaimSheet::parse(text, "claim.toml", &build_of(&demo()).unwrap()).unwrap()
}

const DRAWS: ClaimOptions = ClaimOptions { draws: 10, seed: 3 };

fn judged(text: &str) -> ClaimReport {
    judge_claim(&demo(), &claim(text), DRAWS, &|_| true).unwrap()
}

/// A wrap on the downpipe, bare and treated, at likely values.
struct Bench {
    trials: Trials,
    bare: Side,
    treated: Side,
    part: usize,
}

impl Bench {
    fn new(text: &str) -> Self {
        let trials = Trials::new(&demo(), &claim(text)).unwrap();
        let bare = trials.bare(At::Motorway, Numbers::Likely, None).unwrap();
        let treated = trials
            .treated(
                At::Motorway,
                Numbers::Likely,
                Other::default(),
                &bare.warmth,
            )
            .unwrap();
        let part = trials.parts[0];
        Self {
            trials,
            bare,
            treated,
            part,
        }
    }

    fn whose(&self) -> Whose<'_> {
        Whose {
            parts: &self.trials.parts,
            part: self.part,
            zone: self.bare.build.exhaust[self.part].zone.unwrap(),
            neighbour: 0,
        }
    }

    fn value(&self, reading: Reading, treated: &Side) -> f64 {
        let seat = |side| Seat {
            side,
            whose: self.whose(),
            numbers: Numbers::Likely,
        };
        reading.value(&seat(&self.bare), &seat(treated))
    }
}

const WRAP: &str = "quantity = \"skin-temperature\"\nchange_percent = -30\npart = \"downpipe\"\nat = \"motorway\"\n\
     [treatment]\nthickness_mm = 3\nconductivity_w_mk = 0.15\nemissivity = 0.85\n";

/// Heat through the wrap is `2 pi k L dT / ln(ro / ri)` (Incropera & DeWitt, eq. 3.27), and what goes in comes out.
#[test]
fn verify_the_drop_across_a_layer_carries_the_heat() {
    let bench = Bench::new(WRAP);
    let part = &bench.treated.build.exhaust[bench.part];
    let state = &bench.treated.state.parts[bench.part];
    let inner_m = 0.5 * part.bore_m + part.wall_m;
    let w_k = std::f64::consts::TAU * 0.15 * part.length_m / ((inner_m + 3e-3) / inner_m).ln();
    let through_w = w_k * (state.metal_k - state.skin_k);
    assert!(
        (through_w / state.to_bay_w() - 1.0).abs() < 0.01,
        "{through_w} {}",
        state.to_bay_w()
    );
    assert!(state.metal_k > bench.bare.state.parts[bench.part].metal_k + 20.0);
}

/// Per cent of Celsius, kelvin and rise are one change over three bases.
#[test]
fn verify_scales_share_the_change() {
    let bench = Bench::new(WRAP);
    let of = |scale| {
        bench.value(
            Reading {
                what: What::Skin,
                scale,
            },
            &bench.treated,
        )
    };
    let before_k = bench.bare.state.parts[bench.part].skin_k;
    let change_k = of(Scale::Kelvin);
    assert!(change_k < -40.0, "{change_k}");
    assert!((of(Scale::OfCelsius) / 100.0 * (before_k - 273.15) - change_k).abs() < 1e-9);
    assert!((of(Scale::OfKelvin) / 100.0 * before_k - change_k).abs() < 1e-9);
    let fahrenheit = (before_k - 273.15) * 1.8 + 32.0;
    assert!((of(Scale::OfFahrenheit) / 100.0 * fahrenheit - 1.8 * change_k).abs() < 1e-9);
    assert!(of(Scale::OfRise) < of(Scale::OfCelsius));
}

/// What is said to be needed, put back into the model, gives the claim.
#[test]
fn needs_put_back_reproduce_the_claim() {
    let bench = Bench::new(WRAP);
    let reach = Reach::new(
        &bench.trials,
        At::Motorway,
        bench.whose(),
        &bench.bare,
        &bench.treated,
    );
    let reading = Reading {
        what: What::Skin,
        scale: Scale::OfCelsius,
    };
    let mut seen = Vec::new();
    for claimed in [-15.0, -30.0, -45.0] {
        for need in reach.needs(reading, Change::Percent(claimed)) {
            let other = need.property.other(need.value);
            let side = bench
                .trials
                .treated(At::Motorway, Numbers::Likely, other, &bench.treated.warmth)
                .unwrap();
            let got = bench.value(reading, &side);
            assert!(
                (got - claimed).abs() < 0.01 * claimed.abs(),
                "{need:?}: {got} for {claimed}"
            );
            assert_eq!(
                need.at_most,
                need.property == Property::Conductivity,
                "{need:?}"
            );
            seen.push(need.property);
        }
    }
    assert!(
        seen.contains(&Property::Conductivity) && seen.contains(&Property::Thickness),
        "{seen:?}"
    );
}

/// 0.3 mm would need a conductivity far below any solid's: by hand, 33 % of some 390 degC is 130 K; at the 12 kW/m2 that
/// leave the cooler skin and some 200 K below a metal that runs hotter, k = q t / dT = 12e3 * 0.3e-3 / 200 = 0.02 W/m/K.
#[test]
fn a_third_off_the_skin_from_a_third_of_a_millimetre_is_out_of_reach() {
    let report = judged(
        "quantity = \"skin-temperature\"\nchange_percent = -33\npart = \"downpipe\"\nat = \"motorway\"\n\
         [treatment]\nthickness_mm = 0.3\n",
    );
    assert!(!report.can_hold);
    let plain = &report.readings[0];
    assert_eq!((plain.verdict, plain.chance), (Verdict::OutOfReach, 0.0));
    assert!(plain.low > -8.0 && plain.high < 15.0, "{plain:?}");
    assert!(
        plain
            .needs
            .iter()
            .all(|n| n.property == Property::Thickness && n.value > 5e-3)
    );
    // but instruments can show it
    assert!(report.readings.iter().any(|r| !r.direct && r.low < -15.0));
    assert!(report.explained.is_some() && report.taken.len() == 2);
    assert_eq!(report.argument.len(), 2);
}

#[test]
fn a_jackets_drop_of_the_skin_holds() {
    let report = judged(
        "quantity = \"skin-temperature\"\nchange_percent = -40\npart = \"turbine\"\nat = \"motorway\"\n\
         [treatment]\ncatalogue = \"jacket-ceramic-fibre\"\n",
    );
    let skin = &report.readings[0];
    assert_eq!(
        (skin.verdict, skin.direct),
        (Verdict::Holds, true),
        "{skin:?}"
    );
    assert!(report.can_hold);
}

#[test]
fn a_modest_claim_on_a_jacket_holds() {
    let report = judged(
        "quantity = \"heat-flow\"\nchange_percent = -30\npart = \"turbine\"\nat = \"motorway\"\n\
         [treatment]\ncatalogue = \"jacket-ceramic-fibre\"\n",
    );
    assert!(report.can_hold);
    assert_eq!(
        report.readings[0].verdict,
        Verdict::Holds,
        "{:?}",
        report.readings[0]
    );
    assert!(report.readings[0].needs.is_empty());
    // the bay as a whole is another matter, and the metal pays
    let bay = report
        .readings
        .iter()
        .find(|r| r.reading.contains("bay"))
        .unwrap();
    assert_eq!(bay.verdict, Verdict::OutOfReach);
    assert!(
        report
            .side_effects
            .iter()
            .any(|s| s.contains("turbine: metal") && s.contains("hotter"))
    );
}

/// Radiation goes with emissivity: by hand, 25 % less of it from much the same skin, metal bare at some 0.7 to 0.75, is
/// 0.75 * 0.73 = 0.55.
#[test]
fn a_claim_that_hinges_on_emissivity_says_so() {
    let report = judged(
        "quantity = \"heat-flow\"\nchange_percent = -25\npart = \"turbine\"\nat = \"motorway\"\n\
         [treatment]\nthickness_mm = 0.05\n",
    );
    let radiated = &report.readings[1];
    assert_eq!(radiated.verdict, Verdict::Depends, "{radiated:?}");
    assert_eq!(radiated.hinges_on, [Property::Emissivity]);
    assert_eq!(radiated.verdict_words(), "depends on emissivity");
    let need = &radiated.needs[0];
    assert!(
        need.at_most && (0.45..0.65).contains(&need.value),
        "{need:?}"
    );
}

#[test]
fn more_power_without_a_number_is_looked_at_as_the_least_that_shows() {
    let report = judged(
        "text = \"more power\"\nquantity = \"power\"\nchange = \"more\"\nat = \"full-load\"\npart = \"runners\"\n",
    );
    assert!(
        report.text.contains("no number claimed: 1 %"),
        "{}",
        report.text
    );
    assert_eq!(report.change, Change::Percent(1.0));
    assert!(
        report
            .readings
            .iter()
            .all(|r| r.verdict == Verdict::OutOfReach)
    );
    let cooler = claim("quantity = \"bay-air\"\nchange = \"less\"\n");
    assert_eq!(cooler.change, Change::Kelvin(-1.0));
}

#[test]
fn no_treatment_cools_the_bay_by_more_than_its_parts_warm_it() {
    let report = judged(
        "quantity = \"bay-air\"\nchange_k = -50\nat = \"motorway\"\n[treatment]\ncatalogue = \"coat-ceramic-outside\"\n",
    );
    assert!(!report.can_hold);
    let air = &report.readings[0];
    let (most, _) = air.physics.unwrap();
    assert!((-15.0..-0.5).contains(&most), "{air:?}");
    assert!(air.low >= most, "{air:?}");
    assert!(
        report
            .measuring
            .iter()
            .any(|e| e.name.contains("sees the hot part") && e.low < -5.0)
    );
}

#[test]
fn a_hotter_gas_does_not_flow_more_easily() {
    let report = judged(
        "quantity = \"gas-flow\"\nchange_percent = 2\nat = \"hill\"\n[treatment]\ncatalogue = \"glass-wrap-2-turns\"\n",
    );
    let [pressure, speed] = &report.readings[..] else {
        panic!("{:?}", report.readings);
    };
    assert!(pressure.middle > 0.3 && speed.middle > 0.3, "{pressure:?}");
    assert!(pressure.direct && pressure.chance == 0.0 && !report.can_hold);
}

#[test]
fn a_service_temperature_is_held_against_layer_metal_and_gas() {
    let report = judged(
        "quantity = \"service-temperature\"\nreaches_c = 1400\npart = \"runners\"\nat = \"hill\"\n\
         [treatment]\ncatalogue = \"coat-ceramic-outside\"\n",
    );
    let verdicts: Vec<_> = report.readings.iter().map(|r| r.verdict).collect();
    assert_eq!(
        verdicts,
        [
            Verdict::OutOfReach,
            Verdict::Holds,
            Verdict::Holds,
            Verdict::Holds
        ]
    );
}

#[test]
fn the_same_seed_gives_the_same_report() {
    let text = "quantity = \"power\"\nchange_percent = 5\nat = \"full-load\"\n[treatment]\nthickness_mm = 0.5\n";
    let one = judged(text);
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(1)
        .build()
        .unwrap();
    let two = pool.install(|| judged(text));
    assert_eq!(one.readings, two.readings);
    assert!(
        one.readings.iter().all(|r| r.chance == 0.0),
        "{:?}",
        one.readings
    );
}

#[test]
fn faults_of_a_claim_come_all_at_once_with_their_places() {
    let text = "quantity = \"power\"\nchange_k = -5\nchange_percent = 3\npart = \"dwnpipe\"\nzone = \"attic\"\n\
                [treatment]\nmaterial = \"unobtainium\"\nemissivity = 3\n";
    let error = ClaimSheet::parse(text, "c.toml", &build_of(&demo()).unwrap()).unwrap_err();
    let told = error.to_string();
    for part in [
        "c.toml:2: change_k",
        "2 changes are given",
        "c.toml:8: treatment.emissivity",
        "did you mean downpipe?",
        "zone = \"attic\"",
        "treatment.material",
    ] {
        assert!(told.contains(part), "{part} not in\n{told}");
    }
    for (text, part) in [
        ("change_k = -5\n", "quantity"),
        ("quantity = \"bay-air\"\n", "no change is given"),
        ("quantity = \"bay-air\"\nchange_k = nan\n", "change_k"),
        ("quantity = \"bay-air\"\nchange_k = 0\n", "no change at all"),
        (
            "quantity = \"bay-air\"\nchange_k = -5\nspeed = 3\n",
            "speed",
        ),
        (
            "quantity = \"neighbour-temperature\"\nchange_k = -5\n",
            "neighbour",
        ),
        (
            "quantity = \"bay-air\"\nchange_k = -5\n[treatment]\ncatalogue = \"wrapp\"\nthickness_mm = 2\n",
            "stands beside",
        ),
        (
            "quantity = \"bay-air\"\nchange_k = -5\n[treatment]\nthickness_mm = -2\n",
            "thickness_mm",
        ),
    ] {
        let told = ClaimSheet::parse(text, "c.toml", &build_of(&demo()).unwrap())
            .unwrap_err()
            .to_string();
        assert!(told.contains(part), "{part} not in\n{told}");
    }
}
