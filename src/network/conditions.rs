//! What the engine, the fan, the air and the weather do over one interval of the cycle.
//!
//! Between two points of a cycle everything that drives the network is linear in time. The
//! conditions at both ends are settled once, from the node temperatures at the interval's start,
//! as a control unit does that samples about once a second.

use crate::number::{Number, side_by_side};

/// Drivers at an instant.
#[derive(Debug, Clone, Default)]
pub struct Conditions<N = f64> {
    /// Plain numbers, interpolated as one.
    pub scalars: Scalars<N>,
    /// Mass flow through each opening [kg/s].
    pub opening_kg_s: Vec<N>,
    /// Air speed in each zone [m/s].
    pub zone_speed_m_s: Vec<N>,
    /// Share of the difference between gas and wall that is left behind each exhaust segment [-].
    pub gas_through: Vec<N>,
    /// The same of the intake air, see [`Route::place`](super::intake::Route::place) [-].
    pub air_through: Vec<N>,
    /// Each surface in air, in the order of [`SurfacesInAir::links`](super::surfaces::SurfacesInAir::links) [W/K].
    pub surface_w_k: Vec<N>,
}

macro_rules! scalars {
    ($($(#[$doc:meta])* $name:ident),* $(,)?) => {
        /// Drivers that are plain numbers.
        #[derive(Debug, Clone, Copy, Default, PartialEq)]
        pub struct Scalars<N = f64> { $($(#[$doc])* pub $name: N,)* }

        impl Scalars {
            /// Names in order, each with its unit.
            pub const NAMES: &'static [&'static str] = &[$(stringify!($name)),*];

            /// Values in the order of [`Scalars::NAMES`].
            pub fn values(&self) -> Vec<f64> {
                vec![$(self.$name),*]
            }
        }

        impl<N: Number> Scalars<N> {
            /// Puts the drivers of one lane into it.
            #[inline]
            pub fn set_lane(&mut self, lane: usize, of: &Scalars) {
                $(self.$name.set_lane(lane, of.$name);)*
            }

            /// The drivers of one lane.
            #[inline]
            pub fn lane(&self, lane: usize) -> Scalars {
                Scalars { $($name: self.$name.lane(lane),)* }
            }

            /// Linear between two instants, `w` from 0 to 1.
            #[inline(always)]
            pub fn between(a: &Self, b: &Self, w: f64) -> Self {
                Self { $($name: a.$name + (b.$name - a.$name) * w,)* }
            }
        }

        side_by_side!(Scalars { numbers: [$($name),*], same: [] });
    };
}

scalars! {
    /// Road speed [m/s].
    speed_m_s,
    /// Wind [m/s].
    wind_m_s,
    /// Ambient air [K].
    ambient_k,
    /// Effective sky [K].
    sky_k,
    /// Road surface [K].
    road_k,
    /// Cabin [K].
    cabin_k,
    /// Engine speed [rpm], 0 when off.
    rpm,
    /// 1 with the engine running, else 0.
    running,
    /// Intake air flow [kg/s].
    air_kg_s,
    /// Exhaust flow [kg/s].
    exhaust_kg_s,
    /// Fuel-air equivalence ratio (1 / lambda) [-].
    phi,
    /// Fuel power [W].
    fuel_w,
    /// Brake power delivered, accessories included, not below zero [W].
    brake_w,
    /// Power fed in by the car on overrun [W].
    motoring_w,
    /// Cylinder heat [W].
    cylinder_heat_w,
    /// Friction heat [W].
    friction_w,
    /// Chemical energy leaving unburnt [W].
    unburnt_w,
    /// Heat in the gas over the charge's own enthalpy [W].
    gas_heat_w,
    /// Compressor temperature rise over inlet temperature [-].
    compression_rise,
    /// Change of the pressure between compressor and throttle over the interval [Pa/s].
    boost_rate_pa_s,
    /// Change of the pressure in the plenum over the interval [Pa/s].
    plenum_rate_pa_s,
    /// Share of the exhaust's oxygen that lets a catalyst burn the rest [-].
    catalyst_burn,
    /// Cooling air through the charge cooler [kg/s].
    cooler_air_kg_s,
    /// Share of bay air in the charge cooler's cooling air [-].
    cooler_bay_share,
    /// Water pump of a water charge cooler [-].
    cooler_pump,
    /// Share of recirculated bay air in what enters at the grille [-].
    recirculation,
    /// Share of standing-zone air in the pickup [-].
    pickup_standing,
    /// Fan share [-].
    fan,
    /// Pumped conductances over their value at 2000 rpm [-].
    pump,
    /// Coolant to the air that heats the cabin, as it comes from outside [W/K].
    cabin_heater_w_k,
    /// Radiator core to the air that passes it [W/K].
    radiator_w_k,
    /// Charge cooler, or its water radiator, to its cooling air [W/K].
    cooler_w_k,
}

side_by_side!(Conditions {
    numbers: [
        scalars,
        opening_kg_s,
        zone_speed_m_s,
        gas_through,
        air_through,
        surface_w_k
    ],
    same: [],
});

impl<N: Number> Conditions<N> {
    /// Writes the conditions at `w` (0 to 1) between two instants into `self`.
    #[inline(always)]
    pub fn set_between(&mut self, a: &Self, b: &Self, w: f64) {
        self.scalars = Scalars::between(&a.scalars, &b.scalars, w);
        blend(&mut self.opening_kg_s, &a.opening_kg_s, &b.opening_kg_s, w);
        blend(
            &mut self.zone_speed_m_s,
            &a.zone_speed_m_s,
            &b.zone_speed_m_s,
            w,
        );
        blend(&mut self.gas_through, &a.gas_through, &b.gas_through, w);
        blend(&mut self.air_through, &a.air_through, &b.air_through, w);
        blend(&mut self.surface_w_k, &a.surface_w_k, &b.surface_w_k, w);
    }
}

#[inline(always)]
fn blend<N: Number>(out: &mut Vec<N>, a: &[N], b: &[N], w: f64) {
    out.resize(a.len(), N::default());
    for ((out, &x), &y) in out.iter_mut().zip(a).zip(b) {
        *out = x + (y - x) * w;
    }
}
