//! Readings of a claim's words: what is meant, where and how it is measured, and per cent of what.

use std::f64::consts::PI;

use serde::Serialize;

use super::input::{Change, Quantity};
use super::trial::{Numbers, Side, main_layer};
use crate::constants::ZERO_CELSIUS_K;
use crate::engine::power;
use crate::network::link::{Shape, coefficient};
use crate::physics::planck::EIGHT_TO_FOURTEEN_UM;
use crate::sheet::Input;
use crate::study::instruments::{
    AirSensor, FACTORY_EMISSIVITY, HangsIn, InfraredThermometer, PressedOn, Seen,
    SurfaceThermocouple, air_beside_k,
};

/// Key of the band emissivity before.
pub const BAND_BEFORE: &str = "claim.band_emissivity_before";
/// Key of the band emissivity after.
pub const BAND_AFTER: &str = "claim.band_emissivity_after";
/// Share of a bay probe's view that a hot part a hand's breadth away fills (estimate).
pub const PROBE_VIEW: f64 = 0.15;
/// Distance of "beside the part" [m].
pub const BESIDE_M: f64 = 0.01;
/// Conductivity of the metals that a thermocouple is clipped on [W/m/K], middling steel or iron.
const METAL_W_MK: f64 = 25.0;

/// What is looked at, where and how.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum What {
    /// Skin of the part, truly.
    Skin,
    /// Skin as an infrared thermometer shows it.
    SkinByGun,
    /// Skin as a clipped thermocouple shows it.
    SkinByCouple,
    /// Air 10 mm from the skin.
    AirBeside,
    /// All heat that the treated parts give to the bay.
    PartHeat,
    /// Radiated part of it.
    PartRadiated,
    /// Heat into the bay from everything.
    BayHeat,
    /// Air of the zone.
    ZoneAir,
    /// Air of the bay, mean by volume.
    BayMean,
    /// Air of the zone as a probe shows it that sees the part.
    ZoneByProbe,
    /// Intake sensor.
    Sensor,
    /// Charge at the valve.
    Valve,
    /// Air at the pickup.
    Pickup,
    /// Gas into the turbine.
    TurbineIn,
    /// Energy flow into the turbine.
    TurbineEnergy,
    /// Pressure that the exhaust pipes need.
    PressureDrop,
    /// Gas speed in the last pipe.
    GasSpeed,
    /// Power by the exponent of the test standards.
    PowerStandard,
    /// Power by charge density.
    PowerDensity,
    /// Nearby part.
    Neighbour,
}

impl What {
    /// Words for it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Skin => "skin",
            Self::SkinByGun => "skin, by infrared thermometer",
            Self::SkinByCouple => "skin, by clipped thermocouple",
            Self::AirBeside => "air 10 mm from the part",
            Self::PartHeat => "heat the parts give off",
            Self::PartRadiated => "heat they radiate",
            Self::BayHeat => "heat into the bay from all",
            Self::ZoneAir => "air of the zone",
            Self::BayMean => "air of the bay, mean",
            Self::ZoneByProbe => "zone air, by probe in sight of it",
            Self::Sensor => "intake sensor",
            Self::Valve => "charge at the valve",
            Self::Pickup => "air at the pickup",
            Self::TurbineIn => "gas into the turbine",
            Self::TurbineEnergy => "energy flow into the turbine",
            Self::PressureDrop => "pressure that drives the gas",
            Self::GasSpeed => "gas speed in the last pipe",
            Self::PowerStandard => "power, by test standards",
            Self::PowerDensity => "power, by charge density",
            Self::Neighbour => "the nearby part",
        }
    }

    /// Whether it is the thing itself, not what an instrument makes of it or something beside it.
    #[must_use]
    pub fn direct(self) -> bool {
        !matches!(
            self,
            Self::SkinByGun
                | Self::SkinByCouple
                | Self::AirBeside
                | Self::ZoneByProbe
                | Self::GasSpeed
        )
    }

    fn is_temperature(self) -> bool {
        !matches!(
            self,
            Self::PartHeat
                | Self::PartRadiated
                | Self::BayHeat
                | Self::TurbineEnergy
                | Self::PressureDrop
                | Self::GasSpeed
                | Self::PowerStandard
                | Self::PowerDensity
        )
    }
}

/// In what the change is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Scale {
    /// Per cent of the degrees Celsius.
    OfCelsius,
    /// Per cent of the degrees Fahrenheit.
    OfFahrenheit,
    /// Per cent of the kelvin.
    OfKelvin,
    /// Per cent of the rise over the bay air around it, or over outside air for air itself.
    OfRise,
    /// Per cent of a flow or a power.
    OfFlow,
    /// Kelvin.
    Kelvin,
    /// The temperature reached [degC].
    Reached,
}

impl Scale {
    /// Words for it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::OfCelsius => "% of degC",
            Self::OfFahrenheit => "% of degF",
            Self::OfKelvin => "% of kelvin",
            Self::OfRise => "% of the rise",
            Self::OfFlow => "%",
            Self::Kelvin => "K",
            Self::Reached => "degC",
        }
    }

    /// Unit of its numbers.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self {
            Self::Kelvin => "K",
            Self::Reached => "degC",
            _ => "%",
        }
    }
}

/// One reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Reading {
    /// What is looked at.
    pub what: What,
    /// In what the change is counted.
    pub scale: Scale,
}

/// Readings of a claim, the plainest first. A service temperature has its own, see `service`.
#[must_use]
pub fn readings(quantity: Quantity, change: Change) -> Vec<Reading> {
    let (whats, scaled): (&[What], usize) = match quantity {
        Quantity::SkinTemperature => (
            &[
                What::Skin,
                What::AirBeside,
                What::SkinByGun,
                What::SkinByCouple,
            ],
            1,
        ),
        Quantity::HeatFlow => (
            &[
                What::PartHeat,
                What::PartRadiated,
                What::BayHeat,
                What::Skin,
            ],
            0,
        ),
        Quantity::BayAir => (
            &[
                What::ZoneAir,
                What::BayMean,
                What::AirBeside,
                What::ZoneByProbe,
            ],
            1,
        ),
        Quantity::IntakeAir => (&[What::Sensor, What::Valve, What::Pickup], 3),
        Quantity::Power => (&[What::PowerStandard, What::PowerDensity], 0),
        Quantity::TurbineInlet => (&[What::TurbineIn], 1),
        Quantity::Spool => (&[What::TurbineEnergy], 0),
        Quantity::GasFlow => (&[What::PressureDrop, What::GasSpeed], 0),
        Quantity::NeighbourTemperature => (&[What::Neighbour], 1),
        Quantity::ServiceTemperature => (&[], 0),
    };
    let percent = |i: usize, what: What| -> &[Scale] {
        match (what.is_temperature(), i < scaled) {
            (false, _) => &[Scale::OfFlow],
            (true, true) => &[
                Scale::OfCelsius,
                Scale::OfRise,
                Scale::OfKelvin,
                Scale::OfFahrenheit,
            ],
            (true, false) => &[Scale::OfCelsius],
        }
    };
    let mut out = Vec::new();
    for (i, &what) in whats.iter().enumerate() {
        let scales = match change {
            Change::Percent(_) => percent(i, what),
            Change::Kelvin(_) => &[Scale::Kelvin],
            Change::Reaches(_) => &[Scale::Reached],
        };
        out.extend(scales.iter().map(|&scale| Reading { what, scale }));
    }
    out
}

/// Whose temperatures and flows are meant, as indices into the build.
#[derive(Debug, Clone, Copy)]
pub struct Whose<'a> {
    /// Treated parts.
    pub parts: &'a [usize],
    /// The part whose skin is meant.
    pub part: usize,
    /// Zone whose air is meant.
    pub zone: usize,
    /// Nearby part that is meant.
    pub neighbour: usize,
}

/// One side of a comparison.
#[derive(Debug, Clone, Copy)]
pub struct Seat<'a> {
    /// Car.
    pub side: &'a Side,
    /// Whose numbers.
    pub whose: Whose<'a>,
    /// Likely or a draw.
    pub numbers: Numbers<'a>,
}

impl Seat<'_> {
    fn zone_of_part(&self) -> (f64, f64) {
        let state = &self.side.state;
        match self.side.build.exhaust[self.whose.part].zone {
            Some(z) => (state.zones_k[z], state.zone_speed_m_s[z]),
            None => (state.car.ambient_k, 0.0),
        }
    }

    /// Emissivity of the skin, total, and of the band that an infrared thermometer sees.
    ///
    /// Oxides and binders are black at 8 to 14 um even where they are bright in the visible: 0.85 to 0.95 (tables of makers
    /// of such thermometers, from memory). Metals, bare or in a finish, keep their own within a tenth.
    fn emissivities(&self) -> (f64, f64) {
        let part = &self.side.build.exhaust[self.whose.part];
        let (key, total, layer) = match &part.treatment {
            None => (BAND_BEFORE, part.emissivity, None),
            Some(t) => {
                let face = t.outside.last();
                let own = face.map_or(t.finish.unwrap_or(part.emissivity), |l| l.emissivity);
                (BAND_AFTER, own, face)
            }
        };
        let ceramic = layer.is_some_and(|l| l.conductivity_w_mk < 4.0 && total > 0.5);
        let band = if ceramic {
            Input {
                low: 0.85,
                likely: 0.92,
                high: 0.96,
            }
        } else {
            Input {
                low: (total - 0.1).max(0.02),
                likely: total,
                high: (total + 0.1).min(0.98),
            }
        };
        (total, self.numbers.pick(key, band))
    }

    /// Outer diameter of the part with what is on it [m].
    fn diameter_m(&self) -> f64 {
        let part = &self.side.build.exhaust[self.whose.part];
        let on_it = part.treatment.iter().flat_map(|t| t.shells().last());
        let outer: f64 = on_it
            .map(|(l, from_metal_m)| from_metal_m + l.thickness_m)
            .sum();
        part.bore_m + 2.0 * (part.wall_m + outer)
    }

    /// Outer area of the part [m2].
    #[must_use]
    pub fn area_m2(&self) -> f64 {
        let part = &self.side.build.exhaust[self.whose.part];
        PI * self.diameter_m() * part.length_m * f64::from(part.count)
    }

    fn by_gun_k(&self) -> f64 {
        let (air_k, _) = self.zone_of_part();
        let gun = InfraredThermometer {
            band: EIGHT_TO_FOURTEEN_UM,
            emissivity_set: FACTORY_EMISSIVITY,
            assumed_reflected_k: air_k.min(310.0),
        };
        gun.reading_k(&Seen {
            surface_k: self.side.state.parts[self.whose.part].skin_k,
            emissivity: self.emissivities().1,
            reflected_k: air_k,
            fill: 1.0,
            behind_k: air_k,
        })
    }

    fn by_couple_k(&self) -> f64 {
        let part = &self.side.build.exhaust[self.whose.part];
        let layer = part
            .treatment
            .as_ref()
            .filter(|t| !t.outside.is_empty())
            .and_then(main_layer);
        let (top_w_mk, top_m) = layer.map_or((METAL_W_MK, part.wall_m), |l| {
            (l.conductivity(500.0), l.thickness_m)
        });
        SurfaceThermocouple::clipped().reading_k(&PressedOn {
            surface_k: self.side.state.parts[self.whose.part].skin_k,
            air_k: self.zone_of_part().0,
            top_w_mk,
            top_m,
            under_w_mk: METAL_W_MK,
        })
    }

    fn beside_k(&self) -> f64 {
        let skin_k = self.side.state.parts[self.whose.part].skin_k;
        let (air_k, speed) = self.zone_of_part();
        let build = &self.side.build;
        let speed = speed * build.exhaust[self.whose.part].air_speed_factor;
        let h = coefficient(
            Shape::Cylinder(self.diameter_m()),
            skin_k,
            air_k,
            speed,
            build.day.pressure_pa,
        );
        air_beside_k(skin_k, air_k, h, BESIDE_M)
    }

    fn by_probe_k(&self) -> f64 {
        let state = &self.side.state;
        let air_k = state.zones_k[self.whose.zone];
        AirSensor::bare_probe().reading_k(&HangsIn {
            air_k,
            speed_m_s: state.zone_speed_m_s[self.whose.zone],
            pressure_pa: self.side.build.day.pressure_pa,
            hot_k: state.parts[self.whose.part].skin_k,
            hot_share: PROBE_VIEW,
            rest_k: air_k,
        })
    }

    /// The number itself, in SI.
    #[must_use]
    pub fn value(&self, what: What) -> f64 {
        let state = &self.side.state;
        let car = &state.car;
        let build = &self.side.build;
        let treated = || self.whose.parts.iter().map(|&i| &state.parts[i]);
        match what {
            What::Skin => state.parts[self.whose.part].skin_k,
            What::SkinByGun => self.by_gun_k(),
            What::SkinByCouple => self.by_couple_k(),
            What::AirBeside => self.beside_k(),
            What::PartHeat => treated().map(super::point::PartState::to_bay_w).sum(),
            What::PartRadiated => treated().map(|p| p.radiated_w).sum(),
            What::BayHeat => car.bay_heat_w,
            What::ZoneAir => state.zones_k[self.whose.zone],
            What::BayMean => {
                let zones = build.bay.zones.iter().zip(&state.zones_k);
                let volume: f64 = build.bay.zones.iter().map(|z| z.volume_m3).sum();
                zones.map(|(z, k)| z.volume_m3 * k).sum::<f64>() / volume
            }
            What::ZoneByProbe => self.by_probe_k(),
            What::Sensor => car.sensor_k,
            What::Valve => car.valve_k,
            What::Pickup => car.pickup_k,
            What::TurbineIn => car.turbine_in_k,
            What::TurbineEnergy => car.turbine_in_w,
            What::PressureDrop => state.parts.iter().map(|p| p.drop_pa).sum(),
            What::GasSpeed => state.parts.last().map_or(0.0, |p| p.gas_speed_m_s),
            // relative to an engine that breathes outside air: only ratios count
            What::PowerStandard => {
                (car.ambient_k / car.valve_k).powf(power::standard_exponent(build.engine.diesel))
            }
            What::PowerDensity => car.ambient_k / car.valve_k,
            What::Neighbour => state
                .neighbours_k
                .get(self.whose.neighbour)
                .copied()
                .unwrap_or(car.ambient_k),
        }
    }

    /// What a rise is counted from [K].
    fn base_k(&self, what: What) -> f64 {
        match what {
            What::Skin | What::SkinByGun | What::SkinByCouple | What::AirBeside => {
                self.zone_of_part().0
            }
            _ => self.side.state.car.ambient_k,
        }
    }
}

impl Reading {
    /// Its number from the car before and after, in the unit of its scale.
    #[must_use]
    pub fn value(&self, before: &Seat, after: &Seat) -> f64 {
        let (a, b) = (before.value(self.what), after.value(self.what));
        let of = |base: f64| 100.0 * (b - a) / base;
        match self.scale {
            Scale::OfCelsius => of(a - ZERO_CELSIUS_K),
            Scale::OfFahrenheit => of(a - ZERO_CELSIUS_K + 32.0 / 1.8),
            Scale::OfKelvin | Scale::OfFlow => of(a),
            Scale::OfRise => {
                let (base_a, base_b) = (before.base_k(self.what), after.base_k(self.what));
                100.0 * ((b - base_b) / (a - base_a) - 1.0)
            }
            Scale::Kelvin => b - a,
            Scale::Reached => b - ZERO_CELSIUS_K,
        }
    }

    /// How far the number goes the claim's way: at or above the second, the claim holds.
    #[must_use]
    pub fn reach(&self, value: f64, change: Change) -> (f64, f64) {
        // easier flow is less pressure, yet more speed
        let turned = |v: f64| {
            if self.what == What::PressureDrop {
                -v
            } else {
                v
            }
        };
        match change {
            Change::Percent(claimed) | Change::Kelvin(claimed) => {
                (turned(value) * claimed.signum(), claimed.abs())
            }
            Change::Reaches(claimed) => (-value, -claimed),
        }
    }

    /// Words for it.
    #[must_use]
    pub fn words(&self) -> String {
        self.what.name().to_owned()
    }
}
