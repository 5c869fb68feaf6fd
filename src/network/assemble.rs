//! A settled build becomes a network.

use std::f64::consts::PI;

use super::enclosure::{self, EnclosureError, Surface};
use super::exhaust::Segment;
use super::intake::{CoolerElement, DuctElement, Route};
use super::ledger::{Channel, Ledger};
use super::link::{AirSpeed, Law, Link, Pump, Shape};
use super::node::{Boundary, Node, NodeIndex, NodeKind, Storage};
use super::radiation_links::RadiationLinks;
use super::rates::{
    Brick, CoolerCooling, LinkBooks, Network, Pickup, RadiatorElement, Roles, SensorLink, Slots,
};
use crate::materials::{self, Metal};
use crate::sheet::build::{
    Build, CoolerKind, ExhaustKind, ExhaustPart, OpeningRole, PanelSide, Turbo,
};

/// Water-glycol half and half near 90 degC: density [kg/m3] and specific heat [J/kg/K]
/// (from memory of ASHRAE Fundamentals tables).
const COOLANT: (f64, f64) = (1030.0, 3650.0);
/// Engine oil near 100 degC (from memory of Incropera table A.5).
const OIL: (f64, f64) = (840.0, 2220.0);
/// Emissivity of a cast, oily aluminium or painted housing (estimate).
const HOUSING_EMISSIVITY: f64 = 0.5;
/// Share of outside speed at pipes under the floor (estimate).
const UNDERFLOOR_SPEED: f64 = 0.4;
/// Share of a flange's solid cross-section that conducts across a gasket (estimate).
const FLANGE_CONTACT: f64 = 0.3;
/// Heat capacity of a sensor bead [J/K]: small enough not to cool the air it reads.
const SENSOR_J_K: f64 = 0.5;
/// Core segments of a charge cooler: crossflow with the charge mixed in each.
const CORE_SEGMENTS: usize = 3;
/// Length of the block's faces for convection [m].
const BLOCK_FACE_M: f64 = 0.4;

/// Options of assembly.
#[derive(Debug, Clone, Copy)]
pub struct Detail {
    /// Segments per exhaust part (catalysts stay whole).
    pub segments: usize,
}

impl Default for Detail {
    fn default() -> Self {
        Self { segments: 2 }
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
    a.enclose()?;
    a.finish(route_cooler, sensor)
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
    oil: NodeIndex,
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
            oil: 0,
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
        self.links.push((Link { from, to, law }, Vec::new()));
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
        let books = body.map_or_else(Vec::new, |b| {
            vec![(self.ledger.index(Channel::BodyConvection(b)), 1.0)]
        });
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
        let coolant = Storage::Constant(e.coolant_m3 * COOLANT.0 * COOLANT.1);
        self.coolant = self.node("engine:coolant".into(), NodeKind::Engine, coolant);
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

    fn exhaust(&mut self, segments: usize) {
        let mut last_of_branch: [Option<(NodeIndex, f64)>; 3] = [None; 3];
        for (index, part) in self.build.exhaust.iter().enumerate() {
            let count = if part.kind == ExhaustKind::Catalyst {
                1
            } else {
                segments
            };
            let body = part.zone.map(|_| self.body(&part.name));
            let half = part.metal.conductivity(700.0) * cross_section(part)
                / (0.5 * part.length_m / count as f64);
            let b = usize::from(part.branch);
            let mut previous = last_of_branch[b].or(last_of_branch[0]);
            for i in 0..count {
                let metal = self.exhaust_segment(index, part, i, count, body);
                if let Some((before, other_half)) = previous {
                    let contact = if i == 0 { FLANGE_CONTACT } else { 1.0 };
                    let g = contact / (1.0 / half + 1.0 / other_half);
                    self.link(before, metal, Law::Conductance(g));
                } else if part.flange_w_k > 0.0 {
                    self.link(metal, self.block, Law::Conductance(part.flange_w_k));
                }
                previous = Some((metal, half));
            }
            if part.branch == 0 {
                last_of_branch = [previous; 3];
            } else {
                last_of_branch[b] = previous;
            }
        }
    }

    /// One segment: metal (and brick, skin) nodes, outer surface, gas element. Returns the metal.
    fn exhaust_segment(
        &mut self,
        index: usize,
        part: &ExhaustPart,
        i: usize,
        count: usize,
        body: Option<usize>,
    ) -> NodeIndex {
        let share = 1.0 / count as f64;
        let pipes = f64::from(part.count);
        let length = part.length_m * share * pipes;
        let outer_m = part.bore_m + 2.0 * part.wall_m;
        let layer_j_k = part.layer.as_ref().map_or(0.0, |l| {
            let r = 0.5 * outer_m;
            let volume = PI * ((r + l.thickness_m).powi(2) - r * r) * length;
            volume * l.density_kg_m3 * l.specific_heat_j_kgk
        });
        let storage = Storage::Solid(vec![(part.mass_kg * share, part.metal)], 0.5 * layer_j_k);
        let tag = if count > 1 {
            format!("/{}", i + 1)
        } else {
            String::new()
        };
        let metal = self.node(
            format!("metal:{}{tag}", part.name),
            NodeKind::Metal,
            storage,
        );
        let (skin, skin_d, emissivity) = match &part.layer {
            None => (metal, outer_m, part.emissivity),
            Some(layer) => {
                let skin = self.node(
                    format!("skin:{}{tag}", part.name),
                    NodeKind::Skin,
                    Storage::Constant(0.5 * layer_j_k),
                );
                let d = outer_m + 2.0 * layer.thickness_m;
                let law = Law::Layer {
                    shape_m: 2.0 * PI * length / (d / outer_m).ln(),
                    k0: layer.conductivity_w_mk,
                    k1: layer.conductivity_slope,
                };
                self.link(metal, skin, law);
                (skin, d, layer.emissivity)
            }
        };
        let area_m2 = PI * skin_d * length;
        self.exhaust_outside(part, skin, skin_d, area_m2, emissivity, body);
        let wall = if part.kind == ExhaustKind::Catalyst {
            let brick = self.node(
                format!("brick:{}", part.name),
                NodeKind::Metal,
                // cordierite or thin steel foil near 500 degC, from memory
                Storage::Constant(part.brick_mass_kg * 1000.0),
            );
            self.link(brick, metal, Law::Conductance(part.brick_shell_w_k));
            let (conversion, branch) = (part.conversion, part.branch);
            self.bricks.push(Brick {
                node: brick,
                conversion,
                branch,
            });
            brick
        } else {
            metal
        };
        self.segments.push(Segment {
            part: index,
            kind: part.kind,
            branch: part.branch,
            wall,
            count: pipes,
            bore_m: part.bore_m,
            area_m2: PI * part.bore_m * length,
            gas_factor: part.gas_factor,
            last: i + 1 == count,
        });
        metal
    }

    fn exhaust_outside(
        &mut self,
        part: &ExhaustPart,
        skin: NodeIndex,
        diameter_m: f64,
        area_m2: f64,
        emissivity: f64,
        body: Option<usize>,
    ) {
        let shape = Shape::Cylinder(diameter_m);
        match part.zone {
            Some(zone) => {
                let speed = AirSpeed::Zone(zone, part.air_speed_factor);
                self.link_to_zone(
                    skin,
                    zone,
                    Law::Convection {
                        shape,
                        area_m2,
                        speed,
                    },
                    body,
                );
                let surface = Surface {
                    name: part.name.clone(),
                    node: skin,
                    area_m2,
                    emissivity,
                    zone,
                    sees: part.sees.clone(),
                };
                self.surface(surface, body);
            }
            None => {
                let speed = AirSpeed::Outside(UNDERFLOOR_SPEED);
                let law = Law::Convection {
                    shape,
                    area_m2,
                    speed,
                };
                self.outside
                    .push((skin, Boundary::Ambient, law, Vec::new()));
                let law = Law::Radiation {
                    area_m2: area_m2 * emissivity,
                };
                self.outside.push((skin, Boundary::Road, law, Vec::new()));
            }
        }
    }

    fn turbo(&mut self) {
        let Some(turbo) = &self.build.turbo else {
            return;
        };
        let iron = |mass: f64| Storage::Constant(mass * 520.0);
        let bearing = self.node(
            "housing:bearing".into(),
            NodeKind::Housing,
            iron(turbo.bearing_mass_kg),
        );
        let alu = Storage::Constant(turbo.compressor_mass_kg * 920.0);
        let compressor = self.node("housing:compressor".into(), NodeKind::Housing, alu);
        let turbine = self
            .segments
            .iter()
            .rev()
            .find(|s| s.kind == ExhaustKind::Turbine);
        if let Some(wall) = turbine.map(|s| s.wall) {
            self.link(wall, bearing, Law::Conductance(turbo.turbine_bearing_w_k));
        }
        self.link(
            bearing,
            compressor,
            Law::Conductance(turbo.bearing_compressor_w_k),
        );
        // drained oil leaves little behind; water keeps siphoning for a while (estimates)
        self.pumped(bearing, self.oil, turbo.bearing_oil_w_k, 0.03, Pump::Oil);
        if turbo.bearing_water_w_k > 0.0 {
            self.pumped(
                bearing,
                self.coolant,
                turbo.bearing_water_w_k,
                0.15,
                Pump::Coolant,
            );
        }
        self.housing(turbo, "bearing housing", bearing, turbo.bearing_area_m2);
        self.housing(
            turbo,
            "compressor housing",
            compressor,
            turbo.compressor_area_m2,
        );
        self.bearing = Some(bearing);
        self.compressor = Some(compressor);
    }

    fn housing(&mut self, turbo: &Turbo, name: &str, node: NodeIndex, area_m2: f64) {
        let body = self.body(name);
        let law = Law::Convection {
            shape: Shape::Cylinder(0.1),
            area_m2,
            speed: AirSpeed::Zone(turbo.zone, 1.0),
        };
        self.link_to_zone(node, turbo.zone, law, Some(body));
        let surface = Surface {
            name: name.into(),
            node,
            area_m2,
            emissivity: HOUSING_EMISSIVITY,
            zone: turbo.zone,
            sees: Vec::new(),
        };
        self.surface(surface, Some(body));
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
                    self.outside.push((node, Boundary::Cabin, law, Vec::new()));
                    continue;
                }
            };
            let law = Law::Convection {
                shape,
                area_m2,
                speed: AirSpeed::Outside(1.0),
            };
            self.outside
                .push((node, Boundary::Ambient, law, Vec::new()));
            let law = Law::Radiation {
                area_m2: area_m2 * panel.emissivity_out,
            };
            self.outside.push((node, far, law, Vec::new()));
            if panel.side == PanelSide::Sky {
                let watts = panel.sun_absorptivity * area_m2 * self.build.day.sun_w_m2;
                self.sun.push((node, watts));
            }
        }
    }

    fn intake(&mut self) -> Result<Option<CoolerElement>, AssembleError> {
        for duct in &self.build.intake.ducts {
            let node = self.node(
                format!("duct:{}", duct.name),
                NodeKind::Intake,
                Storage::Solid(vec![(duct.mass_kg, duct.metal)], 0.0),
            );
            self.duct_walls.push(node);
            let law = Law::Convection {
                shape: Shape::Cylinder(duct.bore_m + 2.0 * duct.wall_m),
                area_m2: duct.outer_area_m2,
                speed: AirSpeed::Zone(duct.zone, 1.0),
            };
            self.link_to_zone(node, duct.zone, law, None);
            if duct.block_w_k > 0.0 {
                self.link(self.block, node, Law::Conductance(duct.block_w_k));
            }
            let surface = Surface {
                name: duct.name.clone(),
                node,
                area_m2: duct.outer_area_m2,
                emissivity: duct.emissivity,
                zone: duct.zone,
                sees: Vec::new(),
            };
            self.surface(surface, None);
        }
        let Some(cooler) = &self.build.intake.cooler else {
            return Ok(None);
        };
        let aluminium: &'static Metal = materials::metal("aluminium-sheet")?;
        for i in 0..CORE_SEGMENTS {
            let mass = cooler.core_mass_kg / CORE_SEGMENTS as f64;
            let storage = Storage::Solid(vec![(mass, aluminium)], 0.0);
            let node = self.node(format!("cooler:core/{}", i + 1), NodeKind::Intake, storage);
            self.core.push(node);
        }
        if cooler.kind == CoolerKind::Water {
            let storage = Storage::Constant(cooler.water_m3 * COOLANT.0 * COOLANT.1);
            self.water = Some(self.node("cooler:water".into(), NodeKind::Intake, storage));
        }
        Ok(Some(CoolerElement {
            core: self.core.clone(),
            charge_w_k: cooler.charge_w_k,
        }))
    }

    /// Sensor bead between the air and its mounting. Returns its node and its exchange.
    fn sensor(&mut self) -> (NodeIndex, SensorLink) {
        let sensor = &self.build.intake.sensor;
        let wall = match sensor.after_duct {
            Some(d) => self.duct_walls[d],
            None => self.core.last().copied().unwrap_or(self.duct_walls[0]),
        };
        let node = self.node(
            "sensor".into(),
            NodeKind::Sensor,
            Storage::Constant(SENSOR_J_K),
        );
        let total = SENSOR_J_K / sensor.time_constant_s;
        self.link(node, wall, Law::Conductance(total * sensor.mount_share));
        (
            node,
            SensorLink {
                air_w_k: total * (1.0 - sensor.mount_share),
                wall,
            },
        )
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

    /// Openings to the outside are black windows at ambient temperature.
    fn windows(&mut self) {
        for zone in 0..self.build.bay.zones.len() {
            let gaps = self
                .build
                .bay
                .openings
                .iter()
                .filter(|o| o.role == OpeningRole::Gap);
            let area_m2: f64 = gaps
                .filter(
                    |o| matches!((o.from, o.to), (Some(z), None) | (None, Some(z)) if z == zone),
                )
                .map(|o| o.area_m2)
                .sum();
            if area_m2 > 0.0 {
                let surface = Surface {
                    name: "outside".into(),
                    node: usize::MAX,
                    area_m2,
                    emissivity: 1.0,
                    zone,
                    sees: Vec::new(),
                };
                self.surface(surface, None);
            }
        }
    }

    fn enclose(&mut self) -> Result<(), AssembleError> {
        let openings = &self.build.bay.openings;
        let adjacent = |a: usize, b: usize| {
            openings.iter().any(|o| {
                (o.from, o.to) == (Some(a), Some(b)) || (o.from, o.to) == (Some(b), Some(a))
            })
        };
        let surfaces: Vec<Surface> = self.surfaces.iter().map(|(s, _)| s.clone()).collect();
        let exchanges = enclosure::exchanges(&surfaces, adjacent)?;
        let ambient = self.nodes.len() + Boundary::Ambient as usize;
        for e in exchanges {
            let (a, body_a) = &self.surfaces[e.a];
            let (b, body_b) = &self.surfaces[e.b];
            let mut books = Vec::new();
            if body_a != body_b {
                if let Some(i) = body_a.and_then(|x| self.ledger.find(Channel::BodyRadiation(x))) {
                    books.push((i, 1.0));
                }
                if let Some(i) = body_b.and_then(|x| self.ledger.find(Channel::BodyRadiation(x))) {
                    books.push((i, -1.0));
                }
            }
            let at = |node: NodeIndex| if node == usize::MAX { ambient } else { node };
            let link = Link {
                from: at(a.node),
                to: at(b.node),
                law: Law::Radiation { area_m2: e.area_m2 },
            };
            self.links.push((link, books));
        }
        Ok(())
    }

    fn finish(
        mut self,
        cooler: Option<CoolerElement>,
        (sensor, sensor_link): (NodeIndex, SensorLink),
    ) -> Result<Network, AssembleError> {
        let build = self.build;
        let n = self.nodes.len();
        for (node, boundary, law, books) in std::mem::take(&mut self.outside) {
            self.links.push((
                Link {
                    from: node,
                    to: n + boundary as usize,
                    law,
                },
                books,
            ));
        }
        let openings = build.bay.openings.clone();
        let radiator = openings
            .iter()
            .position(|o| o.role == OpeningRole::Radiator)
            .ok_or(AssembleError::NoRadiatorPath)?;
        let behind = openings[radiator]
            .to
            .or(openings[radiator].from)
            .unwrap_or(0);
        let cooling = build.intake.cooler.as_ref().map(|c| CoolerCooling {
            kind: c.kind,
            air_w_k: c.air_w_k,
            water_radiator_w_k: c.water_radiator_w_k,
            from_zone: if c.kind == CoolerKind::Top {
                c.zone
            } else {
                nose(&openings[radiator], c.zone)
            },
            to_zone: if c.kind == CoolerKind::Top {
                c.zone
            } else {
                behind
            },
        });
        let gaps = openings
            .iter()
            .enumerate()
            .filter(|(_, o)| o.role == OpeningRole::Gap);
        let mixing = gaps
            .filter_map(|(i, o)| o.from.zip(o.to).map(|_| i))
            .collect();
        let ducts = build
            .intake
            .ducts
            .iter()
            .zip(&self.duct_walls)
            .map(|(d, &wall)| DuctElement {
                place: d.place,
                wall,
                bore_m: d.bore_m,
                area_m2: d.inner_area_m2,
                factor: d.inner_factor,
            })
            .collect();
        let compressor = self
            .compressor
            .zip(build.turbo.as_ref())
            .map(|(node, t)| (node, t.compressor_charge_w_k));
        let (links, link_books): (Vec<Link>, Vec<LinkBooks>) = self.links.into_iter().unzip();
        let radiation = RadiationLinks::new(&links, &link_books, self.nodes.len());
        Ok(Network {
            nodes: self.nodes,
            links,
            link_books,
            radiation,
            segments: self.segments,
            route: Route {
                ducts,
                compressor,
                cooler,
                port: (self.block, build.intake.port_w_k),
                sensor_after: build.intake.sensor.after_duct,
            },
            mixing,
            mixing_speed: (build.bay.mixing_share, build.bay.mixing_still_m_s),
            radiator: RadiatorElement {
                opening: radiator,
                conductance_w_k: build.bay.radiator.conductance_w_k,
                thermostat_k: (
                    build.engine.thermostat_open_k,
                    build.engine.thermostat_full_k,
                ),
                cabin_w_k: build.engine.cabin_heater_w_k,
            },
            openings,
            cooling,
            pickup: Pickup {
                outside: build.intake.pickup_outside,
                zones: build.intake.pickup_zones.clone(),
                standing_zone: build.intake.standing_zone,
            },
            sensor: sensor_link,
            sun: self.sun,
            roles: Roles {
                block: self.block,
                coolant: self.coolant,
                oil: self.oil,
                first_zone: 0,
                zones: build.bay.zones.len(),
                sensor,
                bearing: self.bearing,
                cooler_water: self.water,
                bricks: self.bricks,
            },
            fuel: build.engine.fuel,
            pressure_pa: build.day.pressure_pa,
            mechanical_efficiency: build.turbo.as_ref().map(|t| t.mechanical_efficiency),
            bodies: self.bodies,
            ledger: self.ledger,
            slots: self.slots,
        })
    }
}

/// Zone ahead of the radiator, or the cooler's own when the radiator takes outside air.
fn nose(radiator: &crate::sheet::build::Opening, own: usize) -> usize {
    radiator.from.unwrap_or(own)
}

/// Metal cross-section of all pipes of a part [m2].
fn cross_section(part: &ExhaustPart) -> f64 {
    PI * (part.bore_m + part.wall_m) * part.wall_m * f64::from(part.count)
}
