//! How much heat streams take up and leave, and surfaces give to the air around them: settled at
//! both ends of an interval, with the other drivers, and straight between.
//!
//! Number of transfer units and conductances follow the flow, and the temperatures only slightly
//! (to a power of 0.2); within an interval of a few seconds only the flow counts.

use super::conditions::Conditions;
use super::exhaust::{GasDrive, STILL_KG_S};
use super::intake::AirDrive;
use super::link::pump_factor;
use super::rates::{Circuit, Scratch};
use crate::constants::DRY_AIR_GAS_CONSTANT_J_KG_K;
use crate::number::{Choice, Number, turn_by_turn, widest};
use crate::physics::air;
use crate::physics::exhaust_gas::ExhaustGas;
use crate::physics::functions::{exponential, power};
use crate::sheet::build::CoolerKind;

/// Gas that moves by less between two passes leaves its films as they are [K]: they follow it to the power of 0.2.
const GAS_SETTLED_K: f64 = 1.0;
const MOST_GAS_PASSES: usize = 8;
/// Share of the radiator's face speed that the fan draws through a cooler in front of it (estimate).
const FAN_DRAW: f64 = 0.7;
/// Road speed over which bay air fades from a top-mounted cooler's supply [m/s] (estimate).
const SCOOP_FADE_M_S: f64 = 4.0;
/// Exponent of the flow in an air-side conductance of finned cores (common practice, no source).
const AIR_SIDE_EXPONENT: f64 = 0.6;

impl<N: Number> Circuit<N> {
    /// Settles what depends on flows: conditions `c` must hold all flows already, and `s` the temperatures, see
    /// [`Circuit::load`], and the intake air as [`Circuit::charge_at_valve`] leaves it.
    pub fn settle_transfer(&self, c: &mut Conditions<N>, s: &mut Scratch<N>) {
        c.scalars.pump = pump_factor(c.scalars.rpm);
        widest(
            #[inline(always)]
            || self.settle_cooling(c, s),
        );
        self.surfaces
            .settle(c, self.pressure_pa, &s.node_k, &mut s.surfaces);
        c.air_through.clone_from(&s.air_through);
        widest(
            #[inline(always)]
            || {
                self.settle_gas(c, s);
                // what stands has its wall's temperature
                let still = c.scalars.air_kg_s.below(N::of(STILL_KG_S));
                for left in c.air_through.iter_mut() {
                    turn_by_turn::<N>();
                    *left = still.choose(N::default(), *left);
                }
                let still = c.scalars.exhaust_kg_s.below(N::of(STILL_KG_S));
                for left in c.gas_through.iter_mut() {
                    turn_by_turn::<N>();
                    *left = still.choose(N::default(), *left);
                }
            },
        );
    }

    /// Marches the intake only: for the charge temperature before the flow is known.
    pub fn charge_at_valve(&self, c: &Conditions<N>, s: &mut Scratch<N>) -> N {
        widest(
            #[inline(always)]
            || self.settle_air(c, s),
        );
        s.air.valve_k
    }

    #[inline(always)]
    fn settle_air(&self, c: &Conditions<N>, s: &mut Scratch<N>) {
        let pickup_k = self.pickup(c, s);
        let drive = self.air_drive(c, pickup_k);
        s.air_through.resize(self.route.places(), N::default());
        s.air_through.fill(N::default());
        let (found, route) = (&mut s.air_through, &self.route);
        let conductances = route.conductances(drive.flow_kg_s);
        route.march(
            &s.node_k,
            drive,
            &mut s.air,
            #[inline(always)]
            |passage, t_in, wall_k| {
                let through = route.through(passage, &conductances, drive.flow_kg_s, t_in, wall_k);
                found[route.place(passage)] = through;
                through
            },
        );
    }

    /// Films follow the gas and the gas follows the films: from the films found last, in turn until the gas stays.
    #[inline(always)]
    fn settle_gas(&self, c: &mut Conditions<N>, s: &mut Scratch<N>) {
        let n = self.segments.len();
        c.gas_through.resize(n, N::default());
        if c.scalars.exhaust_kg_s.largest() <= STILL_KG_S {
            // standing gas has its wall's temperature
            c.gas_through.fill(N::default());
            return;
        }
        let (gas, drive) = self.gas_drive(c, s);
        let films = &mut s.films;
        films.units.resize(n, N::default());
        films.gas_k.resize(n, N::default());
        films.wall_k.clear();
        let walls = self.gas_way.walls.iter();
        films.wall_k.extend(walls.map(|&wall| s.node_k[wall]));
        // films grow with the flow to the power of 0.75
        let least = N::of(STILL_KG_S);
        let before = films.flow_kg_s.max(least) / drive.flow_kg_s.max(least);
        let mut scale = before.sqrt().sqrt();
        for pass in 0..MOST_GAS_PASSES {
            let (path, left) = (&mut s.gas, &mut c.gas_through);
            for (left, &units) in left.iter_mut().zip(&films.units) {
                turn_by_turn::<N>();
                *left = exponential(-units * scale);
            }
            path.find_temperatures((&self.gas_way, &s.node_k), &gas, drive, left);
            let mut moved = N::default();
            for (&a, &b) in films.gas_k.iter().zip(&path.in_k) {
                turn_by_turn::<N>();
                moved = moved.max((a - b).abs());
            }
            if pass > 0 && moved.largest() <= GAS_SETTLED_K {
                break;
            }
            films.gas_k.clone_from(&path.in_k);
            self.gas_films.transfer_units(drive.flow_kg_s, &gas, films);
            scale = N::of(1.0);
        }
    }

    /// Marches the exhaust gas, of whose distance from the walls `left` remains behind each segment.
    #[inline(always)]
    pub(super) fn march_gas(
        &self,
        c: &Conditions<N>,
        s: &mut Scratch<N>,
        left: &[N],
    ) -> (ExhaustGas<N>, GasDrive<N>) {
        let (gas, drive) = self.gas_drive(c, s);
        s.gas.march(&self.gas_way, &s.node_k, &gas, drive, left);
        (gas, drive)
    }

    /// The exhaust gas and what drives it.
    #[inline(always)]
    fn gas_drive(&self, c: &Conditions<N>, s: &mut Scratch<N>) -> (ExhaustGas<N>, GasDrive<N>) {
        let gas = self.gas(c);
        s.port_k = self.port_temperature(c, &gas, s);
        let drive = GasDrive {
            flow_kg_s: c.scalars.exhaust_kg_s,
            port_k: s.port_k,
            turbine_w: self.turbine_work(s),
        };
        (gas, drive)
    }

    /// Radiator, and cooling side of the charge cooler: all of its core, or its water radiator, to air [W/K].
    #[inline(always)]
    fn settle_cooling(&self, c: &mut Conditions<N>, s: &Scratch<N>) {
        let (zone0, ambient_k) = (self.roles.first_zone, c.scalars.ambient_k);
        let drawn = c.opening_kg_s[self.radiator.opening];
        let way = &self.ways[self.radiator.opening];
        let air_of = |zone: Option<usize>| zone.map_or(ambient_k, |z| s.node_k[zone0 + z]);
        let back = drawn.below(N::default());
        let air_k = back.choose(air_of(way.to), air_of(way.from));
        c.scalars.radiator_w_k = air_side(drawn.abs(), self.radiator.conductance_w_k, air_k);
        let Some(cooling) = &self.cooling else {
            c.scalars.cooler_w_k = N::default();
            return;
        };
        let share = c.scalars.cooler_bay_share;
        let air_k = share * s.node_k[zone0 + cooling.from_zone] + (N::of(1.0) - share) * ambient_k;
        let at_1_kg_s = if cooling.kind == CoolerKind::Water && self.roles.cooler_water.is_some() {
            cooling.water_radiator_w_k * pumped_share(c)
        } else {
            cooling.air_w_k
        };
        c.scalars.cooler_w_k = air_side(c.scalars.cooler_air_kg_s, at_1_kg_s, air_k);
    }

    /// Settles the air that cools the charge cooler: ram air and what the fan draws through the radiator behind it.
    pub fn draw_cooling_air(&self, c: &mut Conditions<N>) {
        let Some(cooling) = &self.cooling else {
            return;
        };
        let sc = &mut c.scalars;
        let density = self.pressure_pa / (sc.ambient_k * DRY_AIR_GAS_CONSTANT_J_KG_K);
        let drawn = c.opening_kg_s[self.radiator.opening].max(N::default());
        let fan = match cooling.kind {
            CoolerKind::Top => N::default(),
            CoolerKind::Front | CoolerKind::Water => {
                sc.fan * drawn / (density * self.radiator.face_m2) * FAN_DRAW
            }
        };
        let ram = cooling.face_speed.0 * sc.speed_m_s;
        let still = cooling.face_speed.1;
        let face_m_s = (ram * ram + fan * fan + still * still).sqrt();
        sc.cooler_air_kg_s = density * cooling.face_m2 * face_m_s;
        sc.cooler_bay_share = match cooling.kind {
            CoolerKind::Top => cooling.bay_air_share * exponential(-sc.speed_m_s / SCOOP_FADE_M_S),
            CoolerKind::Front | CoolerKind::Water => N::of(1.0),
        };
        sc.cooler_pump = sc.running;
    }

    /// What drives the intake air under conditions `c`.
    #[inline(always)]
    pub(super) fn air_drive(&self, c: &Conditions<N>, pickup_k: N) -> AirDrive<N> {
        AirDrive {
            flow_kg_s: c.scalars.air_kg_s,
            pickup_k,
            compression_rise: c.scalars.compression_rise,
            boost_rate_pa_s: c.scalars.boost_rate_pa_s,
            plenum_rate_pa_s: c.scalars.plenum_rate_pa_s,
        }
    }

    /// Exhaust gas under conditions `c`.
    #[inline(always)]
    pub fn gas(&self, c: &Conditions<N>) -> ExhaustGas<N> {
        ExhaustGas::new(self.fuel, N::of(1.0) / c.scalars.phi.max(N::of(1e-6)))
    }

    /// Gas temperature at the ports [K].
    #[inline(always)]
    fn port_temperature(&self, c: &Conditions<N>, gas: &ExhaustGas<N>, s: &Scratch<N>) -> N {
        let (sc, still_kg_s) = (&c.scalars, N::of(STILL_KG_S));
        let block_k = s.node_k[self.roles.block];
        if sc.exhaust_kg_s.largest() <= STILL_KG_S {
            return block_k;
        }
        let charge_w = sc.air_kg_s * air::enthalpy(s.air.valve_k);
        let h = (sc.gas_heat_w + charge_w) / sc.exhaust_kg_s.max(still_kg_s);
        let flowing_k = gas.temperature_near(h, s.port_k);
        still_kg_s.below(sc.exhaust_kg_s).choose(flowing_k, block_k)
    }

    /// Work that the turbine takes from the gas [W].
    #[inline(always)]
    fn turbine_work(&self, s: &Scratch<N>) -> N {
        self.mechanical_efficiency
            .map_or(N::default(), |e| s.air.compressor_w / e)
    }
}

/// Conductance of a water-cooled charge cooler against pump on; a little circulates by itself.
#[inline(always)]
pub(super) fn pumped_share<N: Number>(c: &Conditions<N>) -> N {
    c.scalars.cooler_pump * 0.95 + 0.05
}

/// Flow below which air takes nothing [kg/s].
const LEAST_KG_S: f64 = 1e-6;

/// Heat per kelvin [W/K] that a stream of air takes from a surface it passes.
#[inline(always)]
fn air_side<N: Number>(flow_kg_s: N, conductance_at_1_kg_s: N, air_k: N) -> N {
    let least = N::of(LEAST_KG_S);
    let flow = flow_kg_s.max(least);
    let capacity = flow * air::specific_heat(air_k);
    let conductance = conductance_at_1_kg_s * power(flow, AIR_SIDE_EXPONENT);
    let taken = capacity * (N::of(1.0) - exponential(-conductance / capacity));
    flow_kg_s.below(least).choose(N::default(), taken)
}
