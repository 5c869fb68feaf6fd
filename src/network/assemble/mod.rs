//! A settled build becomes a network.

mod exhaust;
mod finish;
mod intake;
mod outer;

use std::f64::consts::PI;

use super::enclosure::{self, EnclosureError, Surface};
use super::exhaust::Segment;
use super::intake::{CoolerElement, DuctElement, Route};
use super::ledger::{Channel, Ledger};
use super::link::{AirSpeed, Law, Link, Pump, Shape};
pub use exhaust::segment_share;

use super::node::{Boundary, Node, NodeIndex, NodeKind, Storage};
use super::radiation_links::RadiationLinks;
use super::rates::{LinkBooks, Network, Slots};
use super::roles::{Brick, CoolerCooling, Pickup, RadiatorElement, Roles, SensorLink};
use crate::materials::{self, Metal};
use crate::sheet::build::{
    Build, CoolerKind, ExhaustKind, ExhaustPart, OpeningRole, PanelSide, Turbo,
};

/// Water-glycol half and half near 90 degC: density [kg/m3] and specific heat [J/kg/K]
/// (from memory of ASHRAE Fundamentals tables).
const COOLANT: (f64, f64) = (1030.0, 3650.0);
/// Share of the coolant that stands in the radiator (estimate).
const RADIATOR_SHARE: f64 = 0.3;
/// Metal of a radiator [J/K]: 4 kg of aluminium (estimate).
const RADIATOR_METAL_J_K: f64 = 3600.0;
/// Engine oil near 100 degC (from memory of Incropera table A.5).
const OIL: (f64, f64) = (840.0, 2220.0);
/// Length of the block's faces for convection [m].
const BLOCK_FACE_M: f64 = 0.4;

/// Options of assembly.
#[derive(Debug, Clone, Copy)]
pub struct Detail {
    /// Segments per exhaust part (catalysts stay whole). Ten, shorter towards the flanges, are
    /// within 1 K of twenty on every part.
    pub segments: usize,
}

impl Default for Detail {
    fn default() -> Self {
        Self { segments: 10 }
    }
}

/// Why a build has no network.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum AssembleError {
    /// The bay's surfaces can't be closed to an enclosure.
    #[error(transparent)]
    Enclosure(#[from] EnclosureError),
    /// No radiator path among the openings.
    #[error("bay.opening: no opening has the role radiator")]
    NoRadiatorPath,
    /// A built-in material is missing.
    #[error(transparent)]
    Material(#[from] materials::UnknownName),
}

/// Builds the network.
///
/// # Errors
/// When view factors can't be closed or the bay has no radiator path.
pub fn assemble(build: &Build, detail: Detail) -> Result<Network, AssembleError> {
    let mut a = Assembly::new(build);
    a.zones();
    a.engine();
    a.exhaust(detail.segments.max(1));
    a.turbo();
    a.panels();
    let route_cooler = a.intake()?;
    a.neighbours();
    let sensor = a.sensor();
    a.windows();
    let bay = a.enclose()?;
    a.finish(route_cooler, sensor, &bay)
}

struct Assembly<'a> {
    build: &'a Build,
    nodes: Vec<Node>,
    links: Vec<(Link, LinkBooks)>,
    surfaces: Vec<(Surface, Option<usize>)>,
    segments: Vec<Segment>,
    bodies: Vec<String>,
    ledger: Ledger,
    slots: Slots,
    /// Boundary links wait for the final node count: (link, boundary).
    outside: Vec<(NodeIndex, Boundary, Law, LinkBooks)>,
    block: NodeIndex,
    coolant: NodeIndex,
    radiator: NodeIndex,
    oil: NodeIndex,
    /// Rear end of the turbine: node, resistance from its middle to its end [K/W].
    turbine_end: Option<(NodeIndex, f64)>,
    bearing: Option<NodeIndex>,
    compressor: Option<NodeIndex>,
    bricks: Vec<Brick>,
    duct_walls: Vec<NodeIndex>,
    core: Vec<NodeIndex>,
    water: Option<NodeIndex>,
    sun: Vec<(NodeIndex, f64)>,
}

impl<'a> Assembly<'a> {
    fn new(build: &'a Build) -> Self {
        let mut ledger = Ledger::default();
        let slots = Slots::new(&mut ledger);
        for i in 0..build.intake.ducts.len() {
            ledger.index(Channel::DuctToCharge(i));
        }
        for i in 0..build.exhaust.len() {
            ledger.index(Channel::GasToPart(i));
        }
        Self {
            build,
            nodes: Vec::new(),
            links: Vec::new(),
            surfaces: Vec::new(),
            segments: Vec::new(),
            bodies: Vec::new(),
            ledger,
            slots,
            outside: Vec::new(),
            block: 0,
            coolant: 0,
            radiator: 0,
            oil: 0,
            turbine_end: None,
            bearing: None,
            compressor: None,
            bricks: Vec::new(),
            duct_walls: Vec::new(),
            core: Vec::new(),
            water: None,
            sun: Vec::new(),
        }
    }

    fn node(&mut self, name: String, kind: NodeKind, storage: Storage) -> NodeIndex {
        self.nodes.push(Node {
            name,
            kind,
            storage,
        });
        self.nodes.len() - 1
    }

    fn link(&mut self, from: NodeIndex, to: NodeIndex, law: Law) {
        self.links.push((Link { from, to, law }, LinkBooks::new()));
    }

    /// A body that heats the bay; its convection and radiation are booked.
    fn body(&mut self, name: &str) -> usize {
        if let Some(i) = self.bodies.iter().position(|b| b == name) {
            return i;
        }
        self.bodies.push(name.to_owned());
        let i = self.bodies.len() - 1;
        self.ledger.index(Channel::BodyConvection(i));
        self.ledger.index(Channel::BodyRadiation(i));
        i
    }

    /// Convection from a surface to its zone, booked to a body.
    fn link_to_zone(&mut self, node: NodeIndex, zone: usize, law: Law, body: Option<usize>) {
        let slot = body.map(|b| self.ledger.index(Channel::BodyConvection(b)));
        let books = slot.into_iter().map(|slot| (slot, 1.0)).collect();
        self.links.push((
            Link {
                from: node,
                to: zone,
                law,
            },
            books,
        ));
    }

    fn surface(&mut self, surface: Surface, body: Option<usize>) {
        self.surfaces.push((surface, body));
    }

    fn zones(&mut self) {
        let density =
            crate::physics::air::density(self.build.day.ambient_k, self.build.day.pressure_pa);
        for zone in &self.build.bay.zones {
            let storage = Storage::Air(zone.volume_m3 * density);
            self.node(format!("air:{}", zone.name), NodeKind::Air, storage);
        }
    }

    fn engine(&mut self) {
        let e = &self.build.engine;
        let constant = |mass: f64, aluminium: f64| {
            // iron 460, aluminium 900 J/kg/K near 90 degC (Incropera table A.1, from memory)
            mass * (aluminium * 900.0 + (1.0 - aluminium) * 460.0)
        };
        let block = Storage::Constant(constant(e.block_mass_kg, e.block_aluminium_share));
        self.block = self.node("engine:block".into(), NodeKind::Engine, block);
        let litres = |share: f64| share * e.coolant_m3 * COOLANT.0 * COOLANT.1;
        let coolant = Storage::Constant(litres(1.0 - RADIATOR_SHARE));
        self.coolant = self.node("engine:coolant".into(), NodeKind::Engine, coolant);
        let core = Storage::Constant(litres(RADIATOR_SHARE) + RADIATOR_METAL_J_K);
        self.radiator = self.node("engine:radiator".into(), NodeKind::Engine, core);
        let oil = Storage::Constant(e.oil_m3 * OIL.0 * OIL.1);
        self.oil = self.node("engine:oil".into(), NodeKind::Engine, oil);
        // still water in the jacket keeps about 5 % of the pumped conductance (estimate)
        self.pumped(
            self.block,
            self.coolant,
            e.coolant_block_w_k,
            0.05,
            Pump::Coolant,
        );
        self.pumped(self.block, self.oil, e.oil_block_w_k, 0.15, Pump::Oil);
        if e.oil_coolant_w_k > 0.0 {
            self.pumped(self.oil, self.coolant, e.oil_coolant_w_k, 0.02, Pump::Oil);
        }
        let body = self.body("engine block");
        for (zone, share) in self.build.bay.block_share.iter().enumerate() {
            if *share <= 0.0 {
                continue;
            }
            let area_m2 = share * e.block_area_m2;
            let law = Law::Convection {
                shape: Shape::Plate(BLOCK_FACE_M),
                area_m2,
                speed: AirSpeed::Zone(zone, 1.0),
            };
            self.link_to_zone(self.block, zone, law, Some(body));
            let surface = Surface {
                name: "engine block".into(),
                node: self.block,
                area_m2,
                emissivity: e.block_emissivity,
                zone,
                sees: Vec::new(),
            };
            self.surface(surface, Some(body));
        }
    }

    fn pumped(&mut self, from: NodeIndex, to: NodeIndex, w_k: f64, still: f64, pump: Pump) {
        self.link(
            from,
            to,
            Law::Pumped {
                running_w_k: w_k,
                still_w_k: still * w_k,
                pump,
            },
        );
    }

    fn panels(&mut self) {
        for panel in &self.build.bay.panels {
            let mass = panel.area_m2 * panel.thickness_m * panel.metal.density_kg_m3.value;
            let node = self.node(
                format!("panel:{}", panel.name),
                NodeKind::Panel,
                Storage::Solid(vec![(mass, panel.metal)], 0.0),
            );
            let shape = Shape::Plate(panel.area_m2.sqrt());
            let area_m2 = panel.area_m2;
            let speed = AirSpeed::Zone(panel.zone, 1.0);
            self.link_to_zone(
                node,
                panel.zone,
                Law::Convection {
                    shape,
                    area_m2,
                    speed,
                },
                None,
            );
            let surface = Surface {
                name: panel.name.clone(),
                node,
                area_m2,
                emissivity: panel.emissivity_in,
                zone: panel.zone,
                sees: Vec::new(),
            };
            self.surface(surface, None);
            let far = match panel.side {
                PanelSide::Sky => Boundary::Sky,
                PanelSide::Road => Boundary::Road,
                PanelSide::Side => Boundary::Ambient,
                PanelSide::Cabin => {
                    let law = Law::Conductance(panel.cabin_w_m2k * area_m2);
                    self.outside
                        .push((node, Boundary::Cabin, law, LinkBooks::new()));
                    continue;
                }
            };
            let law = Law::Convection {
                shape,
                area_m2,
                speed: AirSpeed::Outside(1.0),
            };
            self.outside
                .push((node, Boundary::Ambient, law, LinkBooks::new()));
            let law = Law::Radiation {
                area_m2: area_m2 * panel.emissivity_out,
            };
            self.outside.push((node, far, law, LinkBooks::new()));
            if panel.side == PanelSide::Sky {
                let watts = panel.sun_absorptivity * area_m2 * self.build.day.sun_w_m2;
                self.sun.push((node, watts));
            }
        }
    }

    fn neighbours(&mut self) {
        for n in &self.build.neighbours {
            let storage = Storage::Constant(n.mass_kg * n.specific_heat_j_kgk);
            let node = self.node(
                format!("neighbour:{}", n.name),
                NodeKind::Neighbour,
                storage,
            );
            let law = Law::Convection {
                shape: Shape::Cylinder(n.size_m),
                area_m2: n.area_m2,
                speed: AirSpeed::Zone(n.zone, 1.0),
            };
            self.link_to_zone(node, n.zone, law, None);
            let surface = Surface {
                name: n.name.clone(),
                node,
                area_m2: n.area_m2,
                emissivity: n.emissivity,
                zone: n.zone,
                sees: n.sees.clone(),
            };
            self.surface(surface, None);
        }
    }
}
