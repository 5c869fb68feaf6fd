//! Treatments in a sheet: the sheet's own, and what is wrong with them.

use baysoak::materials::Family;
use baysoak::sheet::Sheet;

use super::{likely, text_of};

fn with(part_line: &str, end: &str) -> Result<Sheet, String> {
    let part = "name = \"downpipe\"\n";
    let text = text_of("demo").replacen(part, &format!("{part}{part_line}\n"), 1);
    Sheet::parse(&format!("{text}\n{end}"), "mine.toml").map_err(|e| e.to_string())
}

const OWN: &str = "[treatment.mine]\nname = \"felt and foil\"\nfamily = \"jacket\"\nmax_service_c = 700\n\
    coverage = 0.8\nprice_eur_m2 = 100\nhazards = [\"Smells.\"]\n\
    [[treatment.mine.layer]]\nname = \"felt\"\nthickness_mm = { low = 4, likely = 5, high = 6 }\n\
    conductivity_w_mk = 0.05\n\
    [[treatment.mine.layer]]\nmaterial = \"steel-foil\"\nemissivity = 0.25\n\
    [treatment.mine.season]\nnote = \"torn\"\ncoverage = 0.6\n";

#[test]
fn a_treatment_of_ones_own_is_fitted_with_all_that_it_says() {
    let settled = likely(&with("treatment = \"mine\"", OWN).unwrap());
    let part = settled.build.exhaust.iter().find(|p| p.name == "downpipe");
    let t = part.unwrap().treatment.as_ref().unwrap();
    assert_eq!((t.family, t.outside.len()), (Family::Jacket, 2));
    assert!((t.coverage - 0.8).abs() < 1e-12);
    assert!((t.outside[0].thickness_m - 0.005).abs() < 1e-12);
    // the foil is the catalogue's but for what the sheet says
    assert!((t.outside[1].emissivity - 0.25).abs() < 1e-12);
    assert!((t.outside[1].conductivity_w_mk - 17.0).abs() < 1e-9);
    assert!((t.max_service_k.unwrap() - 973.15).abs() < 1e-9);
    let key = "treatment.mine.layer[felt].thickness_mm";
    assert!(settled.uncertain.iter().any(|u| u.key == key));
    // what it leaves out is assumed
    let key = "treatment.mine.layer[felt].density_kg_m3";
    assert!(settled.assumed.iter().any(|a| a.key == key));
    assert!(settled.cautions.contains(&"Smells.".to_owned()));
    assert!(settled.cautions[0].contains("leaves bare"));
    assert!(
        settled
            .cautions
            .iter()
            .any(|c| c.contains("hot long after key-off"))
    );
}

#[test]
fn a_season_wears_a_treatment_of_ones_own() {
    let line = "treatment = \"mine\"\ntreatment_age = \"season\"";
    let settled = likely(&with(line, OWN).unwrap());
    let part = settled.build.exhaust.iter().find(|p| p.name == "downpipe");
    assert!((part.unwrap().treatment.as_ref().unwrap().coverage - 0.6).abs() < 1e-12);
    assert_eq!(settled.fitted[0].wear, "torn");
}

#[test]
fn two_parts_with_one_treatment_share_its_numbers() {
    let text = text_of("demo")
        .replacen(
            "name = \"downpipe\"\n",
            "name = \"downpipe\"\ntreatment = \"mine\"\n",
            1,
        )
        .replacen(
            "name = \"collector\"\n",
            "name = \"collector\"\ntreatment = \"mine\"\n",
            1,
        );
    let settled = likely(&Sheet::parse(&format!("{text}\n{OWN}"), "mine.toml").unwrap());
    let keys: Vec<&String> = settled.uncertain.iter().map(|u| &u.key).collect();
    let mut once = keys.clone();
    once.sort();
    once.dedup();
    assert_eq!(keys.len(), once.len());
    assert_eq!(settled.fitted.len(), 2);
}

#[test]
fn what_is_wrong_with_a_treatment_is_said_with_a_way_out() {
    let layer = "[[treatment.mine.layer]]\n";
    let cases: &[(&str, &str, &str, &str)] = &[
        (
            "treatment = \"glass-wrap-3-turns\"",
            "",
            "no treatment of this name",
            "did you mean glass-wrap-",
        ),
        (
            "treatment = \"mine\"",
            "",
            "no treatment of this name",
            "there is: bare",
        ),
        (
            "treatment_age = \"season\"",
            "",
            "an age without a treatment",
            "name the treatment",
        ),
        (
            "treatment = \"mine\"",
            "[treatment.mine]\nname = \"x\"",
            "has no layer and no emissivity",
            "write [[treatment.NAME.layer]]",
        ),
        (
            "",
            "[treatment.glass-wrap-1-turn]\nemissivity = 0.5",
            "this name is in the catalogue",
            "give yours another name",
        ),
        (
            "",
            &format!("{layer}thickness_mm = 3"),
            "needs thickness_mm and conductivity_w_mk",
            "from what its maker states",
        ),
        (
            "",
            &format!("{layer}material = \"glas-cloth\""),
            "no layer material of this name",
            "did you mean glass-cloth?",
        ),
        (
            "",
            &format!("{layer}material = \"steel-foil\"\nside = \"inside\"\ngap_mm = 5"),
            "a gap inside a pipe",
            "drop gap_mm",
        ),
        (
            "",
            &format!("{layer}material = \"steel-foil\"\nside = \"top\""),
            "not one of the choices",
            "",
        ),
        (
            "",
            &format!("{layer}material = \"steel-foil\"\nturns = 0"),
            "below the limit of 1",
            "",
        ),
        (
            "",
            &format!("{layer}material = \"steel-foil\"\noverlap = 1"),
            "above the limit of 0.8",
            "",
        ),
        (
            "",
            &format!("{layer}thickness_m = 0.003\nconductivity_w_mk = 0.1"),
            "unknown key",
            "did you mean thickness_mm? thickness_mm = 3",
        ),
        (
            "",
            "[treatment.mine]\nemissivity = 1.4",
            "above the limit of 1",
            "",
        ),
        (
            "",
            "[treatment.mine]\nemissivity = inf",
            "is not a finite number",
            "",
        ),
        ("treatment = 3", "", "is a number, not text", ""),
    ];
    for (part, end, message, hint) in cases {
        let told = match with(part, end) {
            Ok(_) => panic!("accepted: {part} {end}"),
            Err(told) => told,
        };
        assert!(told.contains(message), "{part} {end}:\n{told}");
        assert!(told.contains(hint), "{part} {end}:\n{told}");
        assert!(told.starts_with("mine.toml:"), "{told}");
        assert!(!told.starts_with("mine.toml:1:"), "{told}");
    }
}

#[test]
fn a_treatment_that_suits_few_kinds_is_refused_elsewhere() {
    let own = "[treatment.mine]\nemissivity = 0.5\nsuits = [\"turbine\"]";
    let told = with("treatment = \"mine\"", own).unwrap_err();
    assert!(
        told.contains("is not for a part of kind downpipe"),
        "{told}"
    );
}
