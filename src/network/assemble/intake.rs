//! Intake ducts, charge cooler core and sensor as nodes and links.

use super::*;

/// Heat capacity of a sensor bead [J/K]: small enough not to cool the air it reads.
const SENSOR_J_K: f64 = 0.5;
/// Core segments of a charge cooler: crossflow with the charge mixed in each.
const CORE_SEGMENTS: usize = 3;

impl Assembly<'_> {
    pub(super) fn intake(&mut self) -> Result<Option<CoolerElement>, AssembleError> {
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
    pub(super) fn sensor(&mut self) -> (NodeIndex, SensorLink) {
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
}
