//! The last steps: windows, radiation exchange, and the finished network.

use super::*;
use crate::network::airflow::{Mixing, Way};
use crate::network::enclosure::Grouped;
use crate::network::exhaust::GasWay;
use crate::network::faces::{Carrier, Faces};
use crate::network::gas_films::GasFilms;
use crate::network::heat_store::HeatStores;
use crate::network::link_plan::LinkPlan;
use crate::network::rates::Circuit;
use crate::network::surfaces::SurfacesInAir;

/// Radiation exchange in the bay.
pub(super) struct Bay {
    grouped: Grouped,
    /// What each surface is.
    carriers: Vec<Carrier>,
    /// Its links.
    links: std::ops::Range<usize>,
}

impl Assembly<'_> {
    /// Openings to the outside are black windows at ambient temperature.
    pub(super) fn windows(&mut self) {
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

    pub(super) fn enclose(&mut self) -> Result<Bay, AssembleError> {
        let openings = &self.build.bay.openings;
        let adjacent = |a: usize, b: usize| {
            openings.iter().any(|o| {
                (o.from, o.to) == (Some(a), Some(b)) || (o.from, o.to) == (Some(b), Some(a))
            })
        };
        let surfaces: Vec<Surface> = self.surfaces.iter().map(|(s, _)| s.clone()).collect();
        let (exchanges, grouped) = enclosure::exchanges(&surfaces, adjacent)?;
        let ambient = self.nodes.len() + Boundary::Ambient as usize;
        let at = |node: NodeIndex| if node == usize::MAX { ambient } else { node };
        let first = self.links.len();
        let carriers = self.surfaces.iter().map(|(s, body)| Carrier {
            node: at(s.node),
            air: s.zone,
            slot: body.and_then(|x| self.ledger.find(Channel::BodyRadiation(x))),
        });
        let carriers: Vec<Carrier> = carriers.collect();
        for e in exchanges {
            let (a, b) = (carriers[e.a], carriers[e.b]);
            let mut books = LinkBooks::new();
            if self.surfaces[e.a].1 != self.surfaces[e.b].1 {
                books.extend(a.slot.map(|slot| (slot, 1.0)));
                books.extend(b.slot.map(|slot| (slot, -1.0)));
            }
            let link = Link {
                from: a.node,
                to: b.node,
                law: Law::Radiation { area_m2: e.area_m2 },
            };
            self.links.push((link, books));
        }
        Ok(Bay {
            grouped,
            carriers,
            links: first..self.links.len(),
        })
    }

    pub(super) fn finish(
        mut self,
        cooler: Option<CoolerElement>,
        (sensor, sensor_link): (NodeIndex, SensorLink),
        bay: &Bay,
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
            face_m2: c.face_m2,
            face_speed: (c.ram_share, c.still_air_m_s),
            bay_air_share: c.bay_air_share,
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
            .filter_map(|(opening, o)| {
                Some(Mixing {
                    opening,
                    zones: o.from.zip(o.to)?,
                    area_m2: o.area_m2,
                })
            })
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
                volume_m3: 0.25 * PI * d.bore_m * d.bore_m * d.length_m,
            })
            .collect();
        let compressor = self
            .compressor
            .zip(build.turbo.as_ref())
            .map(|(node, t)| (node, t.compressor_charge_w_k));
        let (links, link_books): (Vec<Link>, Vec<LinkBooks>) = self.links.into_iter().unzip();
        let radiation = RadiationLinks::new(
            &links,
            &link_books,
            bay.links.clone(),
            (&bay.grouped.rest, &bay.carriers),
            self.nodes.len(),
        );
        let faces = Faces::new((&bay.grouped, &bay.carriers), (&links, &link_books));
        let plan = LinkPlan::new(&links, &link_books, faces.links());
        let surfaces = SurfacesInAir::new(&links, plan.surfaces_in_air());
        let circuit = Circuit {
            nodes: n,
            channels: self.ledger.len(),
            stores: HeatStores::new(&self.nodes),
            faces,
            plan,
            surfaces,
            radiation,
            gas_way: GasWay::new(&self.segments),
            gas_films: GasFilms::new(&self.segments),
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
                face_m2: build.bay.radiator.face_m2,
                thermostat_k: (
                    build.engine.thermostat_open_k,
                    build.engine.thermostat_full_k,
                ),
            },
            ways: openings.iter().map(Way::new).collect(),
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
                radiator: self.radiator,
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
            slots: self.slots,
        };
        Ok(Network {
            nodes: self.nodes,
            links,
            link_books,
            openings,
            bodies: self.bodies,
            ledger: self.ledger,
            circuit,
        })
    }
}

/// Zone ahead of the radiator, or the cooler's own when the radiator takes outside air.
fn nose(radiator: &crate::sheet::build::Opening, own: usize) -> usize {
    radiator.from.unwrap_or(own)
}
