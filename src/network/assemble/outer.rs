//! What is between the metal of an exhaust part and the bay: layers, air gaps, faces.
//!
//! Metal, each layer's outer face and each shield are nodes in series. Where a treatment covers a
//! share of the part, the rest stays bare: metal and bare share are one temperature.

use super::*;
use crate::physics::conduction::cylinder_shape_factor;
use crate::physics::convection::annulus;
use crate::sheet::build::{Layer, Treatment};

/// Share of outside speed at pipes under the floor (estimate).
const UNDERFLOOR_SPEED: f64 = 0.4;
/// Resistance below which a layer has no temperature of its own: 0.4 K at 20 kW/m2 [m2 K/W].
const NO_RESISTANCE_M2K_W: f64 = 2e-5;

/// Temperature at which a layer's resistance is compared with that [K].
const NODE_CONDUCTIVITY_K: f64 = 600.0;

/// A segment of a part that gets its outer faces.
pub(super) struct Place<'p> {
    /// Part.
    pub part: &'p ExhaustPart,
    /// What tells the segment's nodes apart.
    pub tag: &'p str,
    /// Metal.
    pub metal: NodeIndex,
    /// Length of all pipes [m].
    pub length_m: f64,
    /// Outer diameter of the metal [m].
    pub outer_m: f64,
    /// Body in the books.
    pub body: Option<usize>,
}

/// A face towards the bay.
struct Face {
    node: NodeIndex,
    diameter_m: f64,
    length_m: f64,
    emissivity: f64,
}

impl Place<'_> {
    fn bare(&self, share: f64, emissivity: f64) -> Face {
        Face {
            node: self.metal,
            diameter_m: self.outer_m,
            length_m: share * self.length_m,
            emissivity,
        }
    }
}

impl Assembly<'_> {
    /// Layers and faces of a segment, outside.
    pub(super) fn outer_faces(&mut self, place: &Place<'_>) {
        let bare = place.part.emissivity;
        let Some(treatment) = &place.part.treatment else {
            return self.face(place, &place.bare(1.0, bare));
        };
        let covered = treatment.coverage;
        let skin = self.stack(place, treatment);
        if skin.node == place.metal {
            // one temperature: both shares are one face
            let mean = covered * skin.emissivity + (1.0 - covered) * bare;
            return self.face(place, &place.bare(1.0, mean));
        }
        self.face(place, &skin);
        if covered < 1.0 {
            self.face(place, &place.bare(1.0 - covered, bare));
        }
    }

    /// Heat that the inside layers store, at the metal.
    pub(super) fn line(&mut self, place: &Place<'_>) {
        let inside = place.part.treatment.iter().flat_map(|t| &t.inside);
        let area_m2 = PI * place.part.bore_m * place.length_m;
        let j_k: f64 = inside
            .map(|l| area_m2 * l.thickness_m * l.density_kg_m3 * l.specific_heat_j_kgk)
            .sum();
        self.store(place.metal, j_k);
    }

    fn store(&mut self, node: NodeIndex, j_k: f64) {
        match &mut self.nodes[node].storage {
            Storage::Solid(_, extra) => *extra += j_k,
            Storage::Constant(c) => *c += j_k,
            Storage::Air(_) => {}
        }
    }

    /// Nodes and links of the outside layers; gives the outermost face.
    fn stack(&mut self, place: &Place<'_>, treatment: &Treatment) -> Face {
        let length_m = treatment.coverage * place.length_m;
        let mut under = Face {
            node: place.metal,
            diameter_m: place.outer_m,
            length_m,
            emissivity: treatment.finish.unwrap_or(place.part.emissivity),
        };
        let own_node = |l: &Layer| {
            l.gap.is_some()
                || l.thickness_m / l.conductivity(NODE_CONDUCTIVITY_K) > NO_RESISTANCE_M2K_W
        };
        let last = treatment.outside.iter().rposition(own_node);
        for (i, (layer, inner_m)) in treatment.shells().enumerate() {
            let inner_m = 0.5 * place.outer_m + inner_m;
            let j_k = layer.mass_per_length_kg_m(inner_m) * length_m * layer.specific_heat_j_kgk;
            let node = if own_node(layer) {
                let name = if Some(i) == last {
                    format!("skin:{}{}", place.part.name, place.tag)
                } else {
                    format!("layer:{}:{}{}", place.part.name, layer.name, place.tag)
                };
                self.node(name, NodeKind::Skin, Storage::Constant(0.0))
            } else {
                under.node
            };
            let outer_m = inner_m + layer.thickness_m;
            if layer.gap.is_some() {
                // a sheet is one temperature
                self.store(node, j_k);
                self.gap(place, &under, node, inner_m, layer);
            } else if node != under.node {
                self.store(node, 0.5 * j_k);
                self.store(under.node, 0.5 * j_k);
                let law = Law::Layer {
                    shape_m: cylinder_shape_factor(length_m, inner_m, outer_m),
                    k0: layer.conductivity_w_mk,
                    k1: layer.conductivity_slope,
                };
                self.link(under.node, node, law);
            } else {
                self.store(node, j_k);
            }
            under = Face {
                node,
                diameter_m: 2.0 * outer_m,
                length_m,
                emissivity: layer.emissivity,
            };
        }
        under
    }

    /// Air gap between a face and a sheet around it: radiation, conduction and natural convection,
    /// and the draught through its open edges.
    ///
    /// Radiation between long concentric cylinders: Incropera & DeWitt, eq. 13.20 (from memory).
    fn gap(
        &mut self,
        place: &Place<'_>,
        under: &Face,
        sheet: NodeIndex,
        inner_m: f64,
        layer: &Layer,
    ) {
        let Some(gap) = layer.gap else {
            return;
        };
        let (d1, d2) = (under.diameter_m, 2.0 * inner_m);
        let area_m2 = PI * d1 * under.length_m;
        let back = (1.0 / gap.back_emissivity - 1.0) * d1 / d2;
        let law = Law::Radiation {
            area_m2: area_m2 / (1.0 / under.emissivity + back),
        };
        self.link(under.node, sheet, law);
        let law = Law::Gap {
            effective_m: annulus::effective_length(0.5 * d1, 0.5 * d2),
            shape_m: cylinder_shape_factor((1.0 - gap.vented) * under.length_m, d1, d2),
        };
        self.link(under.node, sheet, law);
        for (node, diameter_m) in [(under.node, d1), (sheet, d2)] {
            let face = Face {
                node,
                diameter_m,
                length_m: gap.vented * under.length_m,
                emissivity: 0.0,
            };
            self.convection(place, &face);
        }
    }

    /// A face to the air and to all that it sees.
    fn face(&mut self, place: &Place<'_>, face: &Face) {
        self.convection(place, face);
        let area_m2 = PI * face.diameter_m * face.length_m;
        match place.part.zone {
            Some(zone) => {
                let surface = Surface {
                    name: place.part.name.clone(),
                    node: face.node,
                    area_m2,
                    emissivity: face.emissivity,
                    zone,
                    sees: place.part.sees.clone(),
                };
                self.surface(surface, place.body);
            }
            None => {
                let law = Law::Radiation {
                    area_m2: area_m2 * face.emissivity,
                };
                self.outside
                    .push((face.node, Boundary::Road, law, LinkBooks::new()));
            }
        }
    }

    fn convection(&mut self, place: &Place<'_>, face: &Face) {
        let area_m2 = PI * face.diameter_m * face.length_m;
        if area_m2 <= 0.0 {
            return;
        }
        let shape = Shape::Cylinder(face.diameter_m);
        let speed = match place.part.zone {
            Some(zone) => AirSpeed::Zone(zone, place.part.air_speed_factor),
            None => AirSpeed::Outside(UNDERFLOOR_SPEED),
        };
        let law = Law::Convection {
            shape,
            area_m2,
            speed,
        };
        match place.part.zone {
            Some(zone) => self.link_to_zone(face.node, zone, law, place.body),
            None => self
                .outside
                .push((face.node, Boundary::Ambient, law, LinkBooks::new())),
        }
    }
}
