//! Intake ducts, charge cooler core and sensor as nodes and links.

use super::*;

/// Heat capacity of a sensor bead [J/K]: small enough not to cool the air it reads.
const SENSOR_J_K: f64 = 0.5;
/// Heat capacity of a sensor's body [J/K]: 10 g of plastic and brass (estimate).
const SENSOR_BODY_J_K: f64 = 10.0;
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

    /// Sensor: a tip in the air, in a body that the duct holds and the bay's air meets. Returns the
    /// tip and its exchange.
    pub(super) fn sensor(&mut self) -> (NodeIndex, SensorLink) {
        let sensor = &self.build.intake.sensor;
        let (wall, zone) = match (sensor.after_duct, &self.build.intake.cooler) {
            (Some(d), _) => (self.duct_walls[d], self.build.intake.ducts[d].zone),
            (None, Some(cooler)) => {
                let core = self.core.last().copied();
                (core.unwrap_or(self.duct_walls[0]), cooler.zone)
            }
            (None, None) => (self.duct_walls[0], self.build.intake.ducts[0].zone),
        };
        let node = self.node(
            "sensor".into(),
            NodeKind::Sensor,
            Storage::Constant(SENSOR_J_K),
        );
        let body = self.node(
            "sensor:body".into(),
            NodeKind::Sensor,
            Storage::Constant(SENSOR_BODY_J_K),
        );
        let total = SENSOR_J_K / sensor.time_constant_s;
        let mount_w_k = total * sensor.mount_share;
        self.link(node, body, Law::Conductance(mount_w_k));
        let held = SENSOR_BODY_J_K / sensor.body_time_constant_s;
        let to_bay = held * sensor.body_bay_share;
        self.link(body, zone, Law::Conductance(to_bay));
        self.link(body, wall, Law::Conductance(held - to_bay));
        (
            node,
            SensorLink {
                air_w_k: total * (1.0 - sensor.mount_share),
                mount_w_k,
                body,
                film_w: total * sensor.film_k,
                wall,
            },
        )
    }
}
