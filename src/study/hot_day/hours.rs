//! A day by the hour: from a weather file, or a clear sky built from place and date.

use crate::cycle::Hour;
use crate::physics::atmosphere::wind_among_buildings;
use crate::physics::{humid_air, solar};
use crate::quantity::kelvin;
use crate::sheet::{DaySheet, Input};

/// Hour of the highest temperature, solar time: the ground lags the sun (estimate, 14 to 16 h).
const WARMEST_H: f64 = 15.0;
/// Road over ambient for each W/m2 of sun [K m2/W]: as on the built-in hot day (estimate).
const ROAD_K_M2_W: f64 = 15.0 / 850.0;
/// Height at which wind meets the grille [m].
const NOSE_HEIGHT_M: f64 = 0.6;

/// Place and date of a clear day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClearDay {
    /// Latitude, north positive [deg].
    pub latitude_deg: f64,
    /// Year, month, day.
    pub date: (i32, u32, u32),
    /// Highest temperature [degC].
    pub warmest_c: f64,
    /// Lowest temperature [degC].
    pub coolest_c: f64,
    /// Relative humidity at the highest temperature [%].
    pub humidity_percent: f64,
}

impl ClearDay {
    /// The 24 hours, in solar time.
    ///
    /// Sun: position after the Astronomical Almanac's short formula, clear sky after Haurwitz
    /// ([`solar`]). Temperature: a cosine over the day (estimate). Water in the air stays the same
    /// all day, up to saturation.
    pub fn hours(&self) -> Vec<Hour> {
        let (year, month, day) = self.date;
        let declination = solar::declination(solar::days_from_j2000(year, month, day));
        let latitude = self.latitude_deg.to_radians();
        let mean = 0.5 * (self.warmest_c + self.coolest_c);
        let swing = 0.5 * (self.warmest_c - self.coolest_c);
        let share = self.humidity_percent / 100.0;
        let vapour_pa = humid_air::vapour_pressure(kelvin(self.warmest_c), share);
        (0..24)
            .map(|i| {
                let hour = f64::from(i);
                let phase = std::f64::consts::TAU * (hour - WARMEST_H) / 24.0;
                let ambient_c = mean + swing * phase.cos();
                let saturated_pa = humid_air::saturation_pressure(kelvin(ambient_c));
                let up = solar::zenith_cosine(latitude, declination, hour);
                Hour {
                    hour,
                    ambient_c,
                    humidity_percent: (100.0 * vapour_pa / saturated_pa).min(100.0),
                    sun_w_m2: Some(solar::clear_sky(up)),
                    ..Hour::default()
                }
            })
            .collect()
    }
}

/// Name of an hour.
pub(super) fn name(hour: f64) -> String {
    let day = (hour / 24.0).floor();
    let minutes = ((hour - 24.0 * day) * 60.0).round();
    let clock = format!("{:02.0}:{:02.0}", (minutes / 60.0).floor(), minutes % 60.0);
    if day > 0.0 {
        format!("day {:.0} {clock}", day + 1.0)
    } else {
        clock
    }
}

/// An hour as a day of its own; what it leaves out is that of the sheet's day.
pub(super) fn as_day(hour: &Hour, own: &DaySheet) -> DaySheet {
    let point = |v: f64| Some(Input::point(v));
    let pressure = hour.pressure_kpa.map(Input::point);
    DaySheet {
        name: Some(name(hour.hour)),
        ambient_c: point(hour.ambient_c),
        humidity_percent: point(hour.humidity_percent),
        altitude_m: own.altitude_m.filter(|_| pressure.is_none()),
        pressure_kpa: pressure.or(own.pressure_kpa),
        sun_w_m2: hour.sun_w_m2.map(Input::point).or(own.sun_w_m2),
        wind_m_s: hour
            .wind_m_s
            .map(|v| Input::point(v * wind_among_buildings(NOSE_HEIGHT_M)))
            .or(own.wind_m_s),
        road_over_ambient_k: match hour.sun_w_m2 {
            Some(sun) => point(ROAD_K_M2_W * sun),
            None => own.road_over_ambient_k,
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clear_summer_day_is_bright_at_noon_and_hottest_at_three() {
        let day = ClearDay {
            latitude_deg: 45.0,
            date: (2026, 7, 21),
            warmest_c: 36.0,
            coolest_c: 22.0,
            humidity_percent: 30.0,
        };
        let hours = day.hours();
        assert_eq!(hours.len(), 24);
        assert!((hours[15].ambient_c - 36.0).abs() < 1e-9);
        assert!((hours[3].ambient_c - 22.0).abs() < 1e-9);
        let sun: Vec<f64> = hours.iter().map(|h| h.sun_w_m2.unwrap()).collect();
        assert_eq!(sun[0], 0.0);
        assert!(sun.iter().all(|s| *s <= sun[12]) && (850.0..950.0).contains(&sun[12]));
        // sunrise near 04:30 solar time at 45 degrees north in July
        assert_eq!(sun[4], 0.0);
        assert!(sun[5] > 0.0);
        assert!((hours[15].humidity_percent - 30.0).abs() < 1e-9);
        assert!(hours[3].humidity_percent > 60.0);
    }

    #[test]
    fn hours_have_names() {
        assert_eq!(name(0.0), "00:00");
        assert_eq!(name(14.5), "14:30");
        assert_eq!(name(26.0), "day 2 02:00");
    }
}
