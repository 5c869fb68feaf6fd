//! Units as people read them. Inside, everything is SI; results carry degC, K, W, mm, km/h and kPa
//! in their ids, and only what is shown to people is converted, here.

/// Joules in an International Table Btu (NIST SP 811, 2008, app. B.8).
const BTU_J: f64 = 1_055.055_852_62;
/// Millimetres in an inch, exact (NIST SP 811, 2008, app. B.8).
const INCH_MM: f64 = 25.4;
/// Kilometres in a mile, exact (NIST SP 811, 2008, app. B.8).
const MILE_KM: f64 = 1.609_344;
/// Kilopascals in a pound-force per square inch (NIST SP 811, 2008, app. B.8).
const PSI_KPA: f64 = 6.894_757;
/// Metres in a foot, exact (NIST SP 811, 2008, app. B.8).
const FOOT_M: f64 = 0.3048;

/// Kelvin at 0 degC, exact (BIPM SI brochure, 9th ed., 2019, 2.3.1).
const ZERO_CELSIUS_K: f64 = 273.15;

/// Temperature in degC from kelvin.
///
/// ```
/// assert_eq!(baysoak::quantity::celsius(273.15), 0.0);
/// ```
pub fn celsius(temp_k: f64) -> f64 {
    temp_k - ZERO_CELSIUS_K
}

/// Temperature in kelvin from degC.
///
/// ```
/// assert_eq!(baysoak::quantity::kelvin(100.0), 373.15);
/// ```
pub fn kelvin(temp_c: f64) -> f64 {
    temp_c + ZERO_CELSIUS_K
}

/// System of units for display.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Units {
    /// degC, W, mm, km/h.
    #[default]
    Metric,
    /// degF, Btu/h, in, mph.
    Imperial,
}

/// What a number is, so that it can be shown in either system.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quantity {
    /// Temperature, given in degC.
    Temperature,
    /// Temperature difference, given in K: converted without the offset.
    Difference,
    /// Heat flow, given in W.
    Heat,
    /// Length, given in mm.
    Length,
    /// Road speed, given in km/h.
    RoadSpeed,
    /// Air or gas speed, given in m/s.
    AirSpeed,
    /// Pressure, given in kPa.
    Pressure,
    /// Share, given in %.
    Percent,
    /// Time, given in min.
    Minutes,
}

impl Quantity {
    /// Every quantity, for loops over all of them.
    pub const ALL: [Self; 9] = [
        Self::Temperature,
        Self::Difference,
        Self::Heat,
        Self::Length,
        Self::RoadSpeed,
        Self::AirSpeed,
        Self::Pressure,
        Self::Percent,
        Self::Minutes,
    ];

    /// Unit that a value of this quantity is shown in.
    ///
    /// ```
    /// use baysoak::quantity::{Quantity, Units};
    /// assert_eq!(Quantity::Difference.unit(Units::Metric), "K");
    /// assert_eq!(Quantity::Difference.unit(Units::Imperial), "F deg");
    /// ```
    pub fn unit(self, units: Units) -> &'static str {
        match (self, units) {
            (Self::Temperature, Units::Metric) => "degC",
            (Self::Temperature, Units::Imperial) => "degF",
            (Self::Difference, Units::Metric) => "K",
            (Self::Difference, Units::Imperial) => "F deg",
            (Self::Heat, Units::Metric) => "W",
            (Self::Heat, Units::Imperial) => "Btu/h",
            (Self::Length, Units::Metric) => "mm",
            (Self::Length, Units::Imperial) => "in",
            (Self::RoadSpeed, Units::Metric) => "km/h",
            (Self::RoadSpeed, Units::Imperial) => "mph",
            (Self::AirSpeed, Units::Metric) => "m/s",
            (Self::AirSpeed, Units::Imperial) => "ft/s",
            (Self::Pressure, Units::Metric) => "kPa",
            (Self::Pressure, Units::Imperial) => "psi",
            (Self::Percent, _) => "%",
            (Self::Minutes, _) => "min",
        }
    }

    /// `value`, in the metric unit of this quantity, as the number to show.
    ///
    /// ```
    /// use baysoak::quantity::{Quantity, Units};
    /// assert_eq!(Quantity::Temperature.convert(100.0, Units::Imperial), 212.0);
    /// assert_eq!(Quantity::Difference.convert(100.0, Units::Imperial), 180.0);
    /// ```
    pub fn convert(self, value: f64, units: Units) -> f64 {
        if units == Units::Metric {
            return value;
        }
        match self {
            Self::Temperature => value * 1.8 + 32.0,
            Self::Difference => value * 1.8,
            Self::Heat => value * 3600.0 / BTU_J,
            Self::Length => value / INCH_MM,
            Self::RoadSpeed => value / MILE_KM,
            Self::AirSpeed => value / FOOT_M,
            Self::Pressure => value / PSI_KPA,
            Self::Percent | Self::Minutes => value,
        }
    }

    /// Decimals worth showing: a model of this kind doesn't know more.
    fn decimals(self, units: Units) -> usize {
        match (self, units) {
            (Self::Length, Units::Imperial) => 3,
            (Self::Length, Units::Metric) => 2,
            (Self::Pressure, Units::Imperial) => 2,
            (Self::Difference | Self::Pressure | Self::Percent | Self::Minutes, _) => 1,
            _ => 0,
        }
    }

    /// The number alone, converted and rounded for reading.
    pub fn number(self, value: f64, units: Units) -> String {
        let text = format!("{:.*}", self.decimals(units), self.convert(value, units));
        // a rounded small negative reads "-0.0"
        match text.strip_prefix('-') {
            Some(rest) if rest.bytes().all(|b| b == b'0' || b == b'.') => rest.to_owned(),
            _ => text,
        }
    }

    /// The number with its unit.
    ///
    /// ```
    /// use baysoak::quantity::{Quantity, Units};
    /// assert_eq!(Quantity::Difference.show(14.21, Units::Metric), "14.2 K");
    /// assert_eq!(Quantity::Temperature.show(20.0, Units::Imperial), "68 degF");
    /// ```
    pub fn show(self, value: f64, units: Units) -> String {
        format!("{} {}", self.number(value, units), self.unit(units))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn val_nist_sp811_conversions() {
        let close = |q: Quantity, v: f64, want: f64| {
            let got = q.convert(v, Units::Imperial);
            assert!((got - want).abs() < 1e-6 * want.abs(), "{q:?}: {got}");
        };
        // NIST SP 811 (2008), app. B.8: Btu_IT/h to W 2.930711e-01, inch 2.54e-02 m,
        // mi/h to km/h 1.609344, psi to kPa 6.894757, foot 3.048e-01 m
        close(Quantity::Heat, 0.293_071_1, 1.0);
        close(Quantity::Length, 25.4, 1.0);
        close(Quantity::RoadSpeed, 1.609_344, 1.0);
        close(Quantity::Pressure, 6.894_757, 1.0);
        close(Quantity::AirSpeed, 0.3048, 1.0);
        close(Quantity::Temperature, 37.0, 98.6);
    }

    #[test]
    fn a_difference_converts_without_the_offset() {
        let two = Quantity::Temperature.convert(55.0, Units::Imperial)
            - Quantity::Temperature.convert(25.0, Units::Imperial);
        let one = Quantity::Difference.convert(30.0, Units::Imperial);
        assert!((two - one).abs() < 1e-9);
    }

    #[test]
    fn metric_is_left_alone() {
        for q in Quantity::ALL {
            assert_eq!(q.convert(123.4, Units::Metric), 123.4, "{q:?}");
        }
    }

    #[test]
    fn rounded_negative_zero_loses_its_sign() {
        assert_eq!(Quantity::Difference.number(-0.01, Units::Metric), "0.0");
        assert_eq!(Quantity::Difference.number(-0.06, Units::Metric), "-0.1");
        assert_eq!(Quantity::Heat.number(-0.2, Units::Metric), "0");
    }
}
