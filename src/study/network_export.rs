//! Writes down a network and its drivers along a cycle, for others to integrate.

use std::collections::BTreeMap;

use super::findings::Program;
use super::network_shape::{
    BrickExport, Constants, CoolerExport, DriversExport, DuctExport, EngineExport, ExchangeExport,
    ExhaustExport, GasExport, IntakeExport, LawExport, LinkExport, MixingExport, NETWORK_SCHEMA,
    NetworkFile, NodeExport, OpeningExport, RadiatorExport, Sample, SegmentExport,
};
use super::recording::{Drive, Recording, record};
use super::run::{RunError, RunOptions};
use crate::constants::{
    DRY_AIR_GAS_CONSTANT_J_KG_K, GRAVITY_M_S2, REFERENCE_TEMPERATURE_K, STEFAN_BOLTZMANN_W_M2_K4,
};
use crate::cycle::Cycle;
use crate::network::conditions::{Conditions, Scalars};
use crate::network::exhaust::Segment;
use crate::network::link::{AirSpeed, Law, Link, Pump, Shape};
use crate::network::node::{Boundary, Node, NodeIndex, Storage};
use crate::network::plant::Plant;
use crate::network::rates::Network;
use crate::physics::air;
use crate::physics::convection::{annulus, crossflow, natural, plate};
use crate::physics::exhaust_gas::ExhaustGas;
use crate::sheet::build::{CoolerKind, IntakePlace};
use crate::sheet::{Chooser, Sheet};
use crate::solve::System;
/// States at which rates are written down for whoever rebuilds them.
const SAMPLES: usize = 24;

/// Settles a sheet at its likely values, runs it over a cycle, and writes down network and drivers.
///
/// # Errors
/// When the sheet is bad, can't become a network, or the solver gives up.
pub fn network_file(
    sheet: &Sheet,
    cycle: &Cycle,
    options: &RunOptions,
) -> Result<NetworkFile, RunError> {
    let settled = sheet.settle(&mut Chooser::Likely)?;
    let recording = record(&settled.build, cycle, options)?;
    Ok(NetworkFile::new(sheet.title(), &cycle.name, &recording))
}

impl NetworkFile {
    /// Writes down a recording.
    pub fn new(sheet: &str, cycle: &str, recording: &Recording) -> Self {
        let network = &recording.network;
        let lambda = |lambda| ExhaustGas::new(network.circuit.fuel, lambda).fits();
        Self {
            network_schema: NETWORK_SCHEMA,
            program: Program::this(),
            sheet: sheet.to_owned(),
            cycle: cycle.to_owned(),
            pressure_pa: network.circuit.pressure_pa,
            constants: Constants {
                stefan_boltzmann_w_m2_k4: STEFAN_BOLTZMANN_W_M2_K4,
                gravity_m_s2: GRAVITY_M_S2,
                dry_air_gas_constant_j_kg_k: DRY_AIR_GAS_CONSTANT_J_KG_K,
                reference_temperature_k: REFERENCE_TEMPERATURE_K,
            },
            air: air::fits(),
            exhaust_gas: GasExport {
                stoichiometric_ratio: network.circuit.fuel.stoichiometric_ratio(),
                products: lambda(1.0),
                air: lambda(f64::INFINITY),
            },
            materials: materials(network),
            nodes: network.nodes.iter().map(NodeExport::from).collect(),
            boundaries: Boundary::ALL.map(|b| b.name().to_owned()).to_vec(),
            links: network.links.iter().filter_map(LinkExport::of).collect(),
            radiation: radiation(network),
            openings: openings(network),
            mixing: MixingExport {
                openings: network.circuit.mixing.iter().map(|m| m.opening).collect(),
                share: network.circuit.mixing_speed.0,
                still_m_s: network.circuit.mixing_speed.1,
            },
            radiator: RadiatorExport {
                opening: network.circuit.radiator.opening,
                coolant: network.circuit.roles.coolant,
                core: network.circuit.roles.radiator,
                conductance_w_k: network.circuit.radiator.conductance_w_k,
                thermostat_k: network.circuit.radiator.thermostat_k,
            },
            intake: intake(network),
            exhaust: exhaust(network),
            engine: EngineExport {
                block: network.circuit.roles.block,
                oil: network.circuit.roles.oil,
            },
            sun_w: network.circuit.sun.clone(),
            start_k: recording.states[0][..network.nodes.len()].to_vec(),
            drivers: drivers(network, &recording.drives),
            samples: samples(recording),
        }
    }
}

fn materials(network: &Network) -> BTreeMap<String, Vec<(f64, f64)>> {
    let mut out = BTreeMap::new();
    for node in &network.nodes {
        if let Storage::Solid(parts, _) = &node.storage {
            for (_, metal) in parts {
                let points = metal.specific_heat_j_kg_k.points().to_vec();
                out.insert(metal.id.clone(), points);
            }
        }
    }
    out
}

impl From<&Node> for NodeExport {
    fn from(node: &Node) -> Self {
        let (solids, constant_j_k, air_kg) = match &node.storage {
            Storage::Solid(parts, extra) => {
                let solids = parts.iter().map(|(kg, metal)| (*kg, metal.id.clone()));
                (solids.collect(), *extra, 0.0)
            }
            Storage::Constant(j_k) => (Vec::new(), *j_k, 0.0),
            Storage::Air(kg) => (Vec::new(), 0.0, *kg),
        };
        Self {
            name: node.name.clone(),
            solids,
            constant_j_k,
            air_kg,
        }
    }
}

/// Radiation as the rates sum it.
fn radiation(network: &Network) -> Vec<ExchangeExport> {
    let mut pairs = BTreeMap::new();
    let mut add = |a: NodeIndex, b: NodeIndex, w_k4: f64| {
        if a != b && w_k4 != 0.0 {
            *pairs.entry((a.min(b), a.max(b))).or_insert(0.0) += w_k4 / STEFAN_BOLTZMANN_W_M2_K4;
        }
    };
    network.circuit.faces.pairs(&mut add);
    network.circuit.radiation.pairs(&mut add);
    pairs
        .into_iter()
        .map(|((from, to), area_m2)| ExchangeExport { from, to, area_m2 })
        .collect()
}

impl LinkExport {
    /// Any link but radiation.
    fn of(link: &Link) -> Option<Self> {
        let mut correlations = Vec::new();
        let law = match &link.law {
            Law::Conductance(w_k) => LawExport::Conductance { w_k: *w_k },
            Law::Layer { shape_m, k0, k1 } => LawExport::Layer {
                shape_m: *shape_m,
                k0_w_m_k: *k0,
                k1_w_m_k2: *k1,
            },
            Law::Convection {
                shape,
                area_m2,
                speed,
            } => {
                let (shape, length_m, ranges) = match shape {
                    Shape::Cylinder(d) => (
                        "cylinder",
                        *d,
                        vec![
                            &natural::HORIZONTAL_CYLINDER_RANGE,
                            &crossflow::CROSSFLOW_GAS_RANGE,
                        ],
                    ),
                    Shape::Plate(l) => (
                        "plate",
                        *l,
                        vec![
                            &natural::VERTICAL_PLATE_RANGE,
                            &plate::PLATE_LAMINAR_RANGE,
                            &plate::PLATE_MIXED_RANGE,
                        ],
                    ),
                };
                correlations.extend(ranges.iter().map(|r| r.name));
                let (zone, speed_factor) = match speed {
                    AirSpeed::Zone(zone, factor) => (Some(*zone), *factor),
                    AirSpeed::Outside(factor) => (None, *factor),
                };
                LawExport::Convection {
                    shape,
                    length_m,
                    area_m2: *area_m2,
                    zone,
                    speed_factor,
                }
            }
            Law::Gap {
                effective_m,
                shape_m,
            } => {
                correlations.push(annulus::ANNULUS_RANGE.name);
                LawExport::Gap {
                    effective_m: *effective_m,
                    shape_m: *shape_m,
                }
            }
            Law::Radiation { .. } => return None,
            Law::Pumped {
                running_w_k,
                still_w_k,
                pump,
            } => LawExport::Pumped {
                running_w_k: *running_w_k,
                still_w_k: *still_w_k,
                pump: match pump {
                    Pump::Coolant => "coolant",
                    Pump::Oil => "oil",
                },
            },
        };
        Some(Self {
            from: link.from,
            to: link.to,
            cause: link.cause().name(),
            law,
            correlations,
        })
    }
}

fn openings(network: &Network) -> Vec<OpeningExport> {
    let each = network.openings.iter().map(|o| OpeningExport {
        name: o.name.clone(),
        from_zone: o.from,
        to_zone: o.to,
        area_m2: o.area_m2,
        pressure_coefficient: o.pressure_coefficient,
    });
    each.collect()
}

fn intake(network: &Network) -> IntakeExport {
    let route = &network.circuit.route;
    let ducts = route.ducts.iter().map(|d| DuctExport {
        place: match d.place {
            IntakePlace::BeforeCompressor => "before_compressor",
            IntakePlace::HotSide => "hot_side",
            IntakePlace::ColdSide => "cold_side",
            IntakePlace::Plenum => "plenum",
        },
        wall: d.wall,
        bore_m: d.bore_m,
        area_m2: d.area_m2,
        factor: d.factor,
        volume_m3: d.volume_m3,
    });
    let cooler = route.cooler.as_ref().zip(network.circuit.cooling.as_ref());
    IntakeExport {
        first_zone: network.circuit.roles.first_zone,
        pickup_outside: network.circuit.pickup.outside,
        pickup_zones: network.circuit.pickup.zones.clone(),
        standing_zone: network.circuit.pickup.standing_zone,
        ducts: ducts.collect(),
        compressor: route.compressor,
        cooler: cooler.map(|(element, cooling)| CoolerExport {
            kind: match cooling.kind {
                CoolerKind::Front => "front",
                CoolerKind::Top => "top",
                CoolerKind::Water => "water",
            },
            core: element.core.clone(),
            charge_w_k: element.charge_w_k,
            air_w_k: cooling.air_w_k,
            water_radiator_w_k: cooling.water_radiator_w_k,
            water: network.circuit.roles.cooler_water,
            from_zone: cooling.from_zone,
            to_zone: cooling.to_zone,
        }),
        port: route.port,
        sensor: network.circuit.roles.sensor,
        sensor_after: route.sensor_after,
        sensor_air_w_k: network.circuit.sensor.air_w_k,
        sensor_film_w: network.circuit.sensor.film_w,
        sensor_mount_w_k: network.circuit.sensor.mount_w_k,
        sensor_wall: network.circuit.sensor.wall,
    }
}

fn exhaust(network: &Network) -> ExhaustExport {
    let segment = |s: &Segment| SegmentExport {
        kind: s.kind.name(),
        branch: s.branch,
        wall: s.wall,
        count: s.count,
        bore_m: s.bore_m,
        area_m2: s.area_m2,
        gas_factor: s.gas_factor,
        lining_m2k_w: s.lining_m2k_w,
        last: s.last,
    };
    let bricks = network.circuit.roles.bricks.iter().map(|b| BrickExport {
        node: b.node,
        conversion: b.conversion,
        branch: b.branch,
    });
    ExhaustExport {
        segments: network.circuit.segments.iter().map(segment).collect(),
        bricks: bricks.collect(),
        mechanical_efficiency: network.circuit.mechanical_efficiency,
        bearing: network.circuit.roles.bearing,
    }
}

fn drivers(network: &Network, drives: &[Drive]) -> DriversExport {
    let mut names: Vec<String> = Scalars::NAMES.iter().map(|n| (*n).to_owned()).collect();
    let mut columns =
        |name: &str, count: usize| names.extend((0..count).map(|i| format!("{name}[{i}]")));
    columns("opening_kg_s", network.openings.len());
    columns("zone_speed_m_s", network.circuit.roles.zones);
    columns("gas_through", network.circuit.segments.len());
    columns("air_through", network.circuit.route.places());
    let surfaces = network.circuit.surfaces.by_shape();
    columns("surface_w_k", surfaces.len());
    let values = |c: &Conditions| {
        let mut row = c.scalars.values();
        row.extend(&c.opening_kg_s);
        row.extend(&c.zone_speed_m_s);
        row.extend(&c.gas_through);
        row.extend(&c.air_through);
        row.extend(surfaces.iter().map(|&place| c.surface_w_k[place]));
        row
    };
    DriversExport {
        names,
        spans_s: drives.iter().map(|d| d.span_s).collect(),
        from: drives.iter().map(|d| values(&d.from)).collect(),
        to: drives.iter().map(|d| values(&d.to)).collect(),
    }
}

/// Rates in the middle of spans spread evenly over the cycle.
fn samples(recording: &Recording) -> Vec<Sample> {
    let nodes = recording.network.nodes.len();
    let spans = recording.drives.len();
    let mut plant = Plant::new(&recording.network);
    let mut rates = vec![0.0; recording.network.states()];
    let take = SAMPLES.min(spans);
    let each = (0..take).map(|i| {
        let span = (2 * i + 1) * spans / (2 * take);
        let drive = &recording.drives[span];
        drive.set(&mut plant);
        let time_s = 0.5 * (drive.span_s.0 + drive.span_s.1);
        let state = &recording.states[span];
        plant.rates(time_s, state, &mut rates);
        Sample {
            span,
            time_s,
            node_k: state[..nodes].to_vec(),
            rate_k_s: rates[..nodes].to_vec(),
        }
    });
    each.collect()
}
