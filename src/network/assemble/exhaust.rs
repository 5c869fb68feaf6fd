//! Exhaust parts and turbocharger housings as nodes and links.

use super::outer::Place;
use super::*;

/// Emissivity of a cast, oily aluminium or painted housing (estimate).
const HOUSING_EMISSIVITY: f64 = 0.5;
/// Mean temperature of a lining for its conductivity: between hot gas and hot metal [K].
const LINING_K: f64 = 900.0;
/// Contact conductance of a bolted flange with gasket [W/m2/K] (estimate, 2000 to 6000).
const GASKET_W_M2K: f64 = 3000.0;
/// Flange face over the pipe's solid cross-section (estimate).
const FLANGE_AREA: f64 = 4.0;

impl Assembly<'_> {
    pub(super) fn exhaust(&mut self, segments: usize) {
        // the end of the last part of each branch: node, resistance from its middle to its end
        let mut ends: [Option<(NodeIndex, f64)>; 3] = [None; 3];
        for (index, part) in self.build.exhaust.iter().enumerate() {
            let count = if part.kind == ExhaustKind::Catalyst {
                1
            } else {
                segments
            };
            let body = part.zone.map(|_| self.body(&part.name));
            let gasket = 1.0 / (GASKET_W_M2K * FLANGE_AREA * cross_section(part));
            let b = usize::from(part.branch);
            let mut previous = if b == 0 && joins(&ends) {
                ends[1]
            } else {
                ends[b].or(ends[0])
            };
            let beside = if b == 0 && joins(&ends) {
                ends[2]
            } else {
                None
            };
            for i in 0..count {
                let metal = self.exhaust_segment(index, part, i, count, body);
                let half = half_resistance(part, segment_share(i, count));
                if let (0, Some((before, other_half))) = (i, beside) {
                    // the second of two branches that end here
                    let g = 1.0 / (half + other_half + gasket);
                    self.link(before, metal, Law::Conductance(g));
                }
                if let Some((before, other_half)) = previous {
                    let joint = if i == 0 { gasket } else { 0.0 };
                    let g = 1.0 / (half + other_half + joint);
                    self.link(before, metal, Law::Conductance(g));
                } else if part.flange_w_k > 0.0 {
                    let g = 1.0 / (1.0 / part.flange_w_k + half);
                    self.link(metal, self.block, Law::Conductance(g));
                }
                previous = Some((metal, half));
            }
            if part.branch == 0 {
                ends = [previous; 3];
            } else {
                ends[b] = previous;
            }
            if part.kind == ExhaustKind::Turbine {
                self.turbine_end = previous;
            }
        }
    }

    /// One segment: metal (and brick, skin) nodes, outer surface, gas element. Returns the metal.
    pub(super) fn exhaust_segment(
        &mut self,
        index: usize,
        part: &ExhaustPart,
        i: usize,
        count: usize,
        body: Option<usize>,
    ) -> NodeIndex {
        let share = segment_share(i, count);
        let pipes = f64::from(part.count);
        let length = part.length_m * share * pipes;
        let outer_m = part.bore_m + 2.0 * part.wall_m;
        let storage = Storage::Solid(vec![(part.mass_kg * share, part.metal)], 0.0);
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
        let place = Place {
            part,
            tag: &tag,
            metal,
            length_m: length,
            outer_m,
            body,
        };
        self.outer_faces(&place);
        self.line(&place);
        let lining_m2k_w = part
            .treatment
            .as_ref()
            .map_or(0.0, |t| t.lining_m2k_w(LINING_K));
        let wall = if part.kind == ExhaustKind::Catalyst {
            let brick = self.node(
                format!("brick:{}", part.name),
                NodeKind::Metal,
                // cordierite or thin steel foil near 500 degC, from memory
                Storage::Constant(part.brick_mass_kg * 1000.0),
            );
            let lining = lining_m2k_w / (PI * part.bore_m * length);
            let g = 1.0 / (1.0 / part.brick_shell_w_k + lining);
            self.link(brick, metal, Law::Conductance(g));
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
            lining_m2k_w,
            last: i + 1 == count,
        });
        metal
    }

    pub(super) fn turbo(&mut self) {
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
        if let Some((wall, half)) = self.turbine_end {
            let g = 1.0 / (1.0 / turbo.turbine_bearing_w_k + half);
            self.link(wall, bearing, Law::Conductance(g));
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

    pub(super) fn housing(&mut self, turbo: &Turbo, name: &str, node: NodeIndex, area_m2: f64) {
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
}

/// Metal cross-section of all pipes of a part [m2].
fn cross_section(part: &ExhaustPart) -> f64 {
    PI * (part.bore_m + part.wall_m) * part.wall_m * f64::from(part.count)
}

/// Share of a part's length in a segment: short at the flanged ends, where temperature bends over
/// a few centimetres, long in the middle (spacing of Chebyshev points).
pub fn segment_share(i: usize, count: usize) -> f64 {
    let edge = |k: usize| 0.5 * (1.0 - (PI * k as f64 / count as f64).cos());
    edge(i + 1) - edge(i)
}

/// Resistance from the middle of a segment to its end [K/W].
fn half_resistance(part: &ExhaustPart, share: f64) -> f64 {
    // conductivity hardly moves the answer; taken at a middling 700 K
    let conductivity = part.metal.conductivity(700.0);
    0.5 * part.length_m * share / (conductivity * cross_section(part))
}

/// Whether two branches are open that the next part joins.
fn joins(ends: &[Option<(NodeIndex, f64)>; 3]) -> bool {
    let node = |end: Option<(NodeIndex, f64)>| end.map(|e| e.0);
    ends[1].is_some() && ends[2].is_some() && node(ends[1]) != node(ends[2])
}
