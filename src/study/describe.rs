//! What a sheet becomes: parts, nodes, links and what was assumed, without running it.

use super::doubts::doubts;
use super::findings::Assumed;
use super::run::RunError;
use super::summarise::assumed;
use crate::network::assemble::{Detail, assemble};
use crate::network::node::Boundary;
use crate::sheet::{Chooser, Sheet};

/// A described sheet.
#[derive(Debug, Clone)]
pub struct Description {
    /// Parts: name, kind, material, size.
    pub parts: Vec<[String; 4]>,
    /// Nodes: name, heat capacity at 300 K [J/K].
    pub nodes: Vec<(String, f64)>,
    /// Links: from, to, cause.
    pub links: Vec<(String, String, String)>,
    /// What was assumed.
    pub assumed: Vec<Assumed>,
    /// What may not hang together.
    pub warnings: Vec<String>,
}

/// Describes a sheet.
///
/// # Errors
/// When the sheet is bad or can't become a network.
pub fn describe(sheet: &Sheet) -> Result<Description, RunError> {
    let settled = sheet.settle(&mut Chooser::Likely)?;
    let build = &settled.build;
    let network = assemble(build, Detail::default())?;
    let mut parts: Vec<[String; 4]> = build
        .exhaust
        .iter()
        .map(|p| {
            let size = format!(
                "{} x {:.0} mm bore, {:.0} mm long, {:.2} kg",
                p.count,
                p.bore_m * 1e3,
                p.length_m * 1e3,
                p.mass_kg
            );
            [
                p.name.clone(),
                p.kind.name().into(),
                p.metal.name.clone(),
                size,
            ]
        })
        .collect();
    parts.extend(build.intake.ducts.iter().map(|d| {
        let size = format!("{:.0} mm bore, {:.2} kg", d.bore_m * 1e3, d.mass_kg);
        [d.name.clone(), "intake".into(), d.metal.name.clone(), size]
    }));
    parts.extend(build.neighbours.iter().map(|n| {
        let size = format!("{:.2} kg, limit {:.0} degC", n.mass_kg, n.limit_k - 273.15);
        [n.name.clone(), "nearby part".into(), String::new(), size]
    }));
    let name = |i: usize| {
        network.nodes.get(i).map_or_else(
            || Boundary::ALL[i - network.nodes.len()].name().to_owned(),
            |n| n.name.clone(),
        )
    };
    Ok(Description {
        parts,
        nodes: network
            .nodes
            .iter()
            .map(|n| (n.name.clone(), n.storage.capacity(300.0)))
            .collect(),
        links: network
            .links
            .iter()
            .map(|l| (name(l.from), name(l.to), l.cause().name().to_owned()))
            .collect(),
        assumed: assumed(&settled),
        warnings: doubts(build),
    })
}
