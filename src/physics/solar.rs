//! Where the sun stands and what it gives on a clear day.

use super::range::Range;

/// Range of [`clear_sky`], cosine of the zenith angle.
pub const CLEAR_SKY_RANGE: Range = Range {
    name: "Haurwitz clear sky",
    quantity: "cosine of the sun's zenith angle [-]",
    min: 0.0,
    max: 1.0,
    source: "Haurwitz 1945; within about 10 % of clear hours at sites near sea level (Reno, Hansen & Stein 2012)",
};

/// Julian date of the epoch J2000.0 [days].
const J2000: f64 = 2_451_545.0;

/// Days from J2000.0 to noon (universal time) of a date of the Gregorian calendar; months past 12 run on.
///
/// Fliegel & Van Flandern 1968, Communications of the ACM 11, 657 (from memory).
///
/// ```
/// // J2000.0 is noon of 1 January 2000
/// assert_eq!(baysoak::physics::solar::days_from_j2000(2000, 1, 1), 0.0);
/// ```
pub fn days_from_j2000(year: i32, month: u32, day: u32) -> f64 {
    let (y, m, d) = (i64::from(year), i64::from(month), i64::from(day));
    let a = (m - 14) / 12;
    let julian = (1461 * (y + 4800 + a)) / 4 + (367 * (m - 2 - 12 * a)) / 12
        - (3 * ((y + 4900 + a) / 100)) / 4
        + d
        - 32_075;
    julian as f64 - J2000
}

/// Declination of the sun [rad] at `days` from J2000.0, to 0.01 degrees between 1950 and 2050.
///
/// Source: the Astronomical Almanac's short formula, as Michalsky 1988, Solar Energy 40, 227 (from memory).
pub fn declination(days: f64) -> f64 {
    let mean_longitude = 280.460 + 0.985_647_4 * days;
    let anomaly = (357.528 + 0.985_600_3 * days).to_radians();
    let longitude = mean_longitude + 1.915 * anomaly.sin() + 0.020 * (2.0 * anomaly).sin();
    let obliquity = (23.439 - 4e-7 * days).to_radians();
    (obliquity.sin() * longitude.to_radians().sin()).asin()
}

/// Cosine of the sun's zenith angle [-], negative below the horizon; no refraction.
///
/// `latitude` [rad, north positive], `declination` [rad], `solar_hour`: true solar time [h], 12 when the sun is highest.
///
/// Source: spherical astronomy, e.g. Duffie & Beckman, eq. 1.6.5.
///
/// ```
/// use baysoak::physics::solar::zenith_cosine;
/// // at noon the zenith angle is latitude less declination
/// let (latitude, declination) = (0.8_f64, 0.3_f64);
/// assert!((zenith_cosine(latitude, declination, 12.0) - 0.5_f64.cos()).abs() < 1e-12);
/// ```
pub fn zenith_cosine(latitude: f64, declination: f64, solar_hour: f64) -> f64 {
    let hour_angle = (15.0 * (solar_hour - 12.0)).to_radians();
    latitude.sin() * declination.sin() + latitude.cos() * declination.cos() * hour_angle.cos()
}

/// Sun and sky on a horizontal surface under a clear sky [W/m2], from the cosine of the zenith angle; none at night.
///
/// Source: Haurwitz 1945, J. Meteorology 2, 154, with the constants of Reno, Hansen & Stein 2012, SAND2012-2389.
pub fn clear_sky(zenith_cosine: f64) -> f64 {
    if zenith_cosine <= 0.0 {
        return 0.0;
    }
    1098.0 * zenith_cosine * (-0.059 / zenith_cosine).exp()
}
