//! What the engine, the fan, the air and the weather do over one interval of the cycle.
//!
//! Between two points of a cycle everything that drives the network is linear in time. The
//! conditions at both ends are settled once, from the node temperatures at the interval's start,
//! as a control unit does that samples about once a second.

/// Drivers at an instant.
#[derive(Debug, Clone, Default)]
pub struct Conditions {
    /// Plain numbers, interpolated as one.
    pub scalars: Scalars,
    /// Mass flow through each opening [kg/s].
    pub opening_kg_s: Vec<f64>,
    /// Air speed in each zone [m/s].
    pub zone_speed_m_s: Vec<f64>,
    /// Share of the difference between gas and wall that is left behind each exhaust segment [-].
    pub gas_through: Vec<f64>,
    /// The same of the intake air, see [`Route::place`](super::intake::Route::place) [-].
    pub air_through: Vec<f64>,
    /// Each surface in air, in the order of [`LinkPlan::convection`](super::link_plan::LinkPlan::convection) [W/K].
    pub surface_w_k: Vec<f64>,
}

macro_rules! scalars {
    ($($(#[$doc:meta])* $name:ident),* $(,)?) => {
        /// Drivers that are plain numbers.
        #[derive(Debug, Clone, Copy, Default, PartialEq)]
        pub struct Scalars { $($(#[$doc])* pub $name: f64,)* }

        impl Scalars {
            /// Names in order, each with its unit.
            pub const NAMES: &'static [&'static str] = &[$(stringify!($name)),*];

            /// Values in the order of [`Scalars::NAMES`].
            pub fn values(&self) -> Vec<f64> {
                vec![$(self.$name),*]
            }

            /// Linear between two instants, `w` from 0 to 1.
            #[inline]
            pub fn between(a: &Self, b: &Self, w: f64) -> Self {
                Self { $($name: a.$name + w * (b.$name - a.$name),)* }
            }
        }
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

impl Conditions {
    /// Writes the conditions at `w` (0 to 1) between two instants into `self`.
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

fn blend(out: &mut Vec<f64>, a: &[f64], b: &[f64], w: f64) {
    out.resize(a.len(), 0.0);
    for ((out, x), y) in out.iter_mut().zip(a).zip(b) {
        *out = x + w * (y - x);
    }
}
