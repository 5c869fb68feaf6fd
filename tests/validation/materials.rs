//! Metals against handbooks.

use crate::reference::run;
use baysoak::materials::{Finish, metal, metals};
use std::cell::RefCell;
use std::collections::BTreeSet;

#[test]
fn val_handbook_conductivity_and_specific_heat_of_every_material() {
    let seen = RefCell::new(BTreeSet::new());
    run("metals.toml", |c| {
        let m = metal(c.name("id")).unwrap();
        let t = c.number("t_k");
        seen.borrow_mut().insert((m.id.clone(), c.call.clone()));
        match c.call.as_str() {
            "conductivity" => m.conductivity(t),
            "specific_heat" => m.specific_heat(t),
            other => panic!("no function {other}"),
        }
    });
    assert_eq!(seen.borrow().len(), 2 * metals().len());
}

#[test]
fn oxidised_is_duller_than_polished_for_every_metal() {
    for m in metals() {
        if let (Some(dull), Some(bright)) = (
            m.emissivity(Finish::Oxidised),
            m.emissivity(Finish::Polished),
        ) {
            assert!(dull.likely > bright.likely, "{}", m.id);
        }
    }
    assert_eq!(
        metals()
            .iter()
            .filter(|m| m.emissivity(Finish::Oxidised).is_some())
            .count(),
        12
    );
}
