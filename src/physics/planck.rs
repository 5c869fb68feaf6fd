//! Black-body radiation within a band of wavelengths: what an infrared thermometer sees.

use std::f64::consts::PI;

use super::radiation::black_emissive_power;
use crate::constants::SECOND_RADIATION_CONSTANT_M_K;

/// From this c2 / (lambda T) on, the exponential series is used; below it, the power series.
const SERIES_SWITCH: f64 = 1.0;

/// Share [-] of a black body's emissive power below the wavelength `lambda_m` [m] at `t_k` [K].
///
/// `F = 15/pi^4 sum e^(-n x)/n (x^3 + 3 x^2/n + 6 x/n^2 + 6/n^3)` with `x = c2 / (lambda T)`; for long waves
/// `F = 1 - 15/pi^4 x^3 (1/3 - x/8 + x^2/60 - x^4/5040 + x^6/272160 - x^8/13305600 + x^10/622702080)`.
///
/// Source: Siegel & Howell, Thermal Radiation Heat Transfer, section 1.5 (from memory); the powers are the Taylor series
/// of Planck's integral. Good to 1e-10. Zero where the wavelength or the temperature is not positive.
#[must_use]
pub fn fraction_below(lambda_m: f64, t_k: f64) -> f64 {
    let product = lambda_m * t_k;
    if product.is_nan() || product <= 0.0 {
        return 0.0;
    }
    let x = SECOND_RADIATION_CONSTANT_M_K / product;
    let scale = 15.0 / PI.powi(4);
    if x < SERIES_SWITCH {
        let x2 = x * x;
        let tail = 1.0 / 272_160.0 - x2 * (1.0 / 13_305_600.0 - x2 / 622_702_080.0);
        let even = 1.0 / 60.0 - x2 * (1.0 / 5_040.0 - x2 * tail);
        return 1.0 - scale * x * x2 * (1.0 / 3.0 - x / 8.0 + x2 * even);
    }
    let mut sum = 0.0;
    for n in 1..=40 {
        let n = f64::from(n);
        let term = (-n * x).exp() / n
            * (x * x * x + 3.0 * x * x / n + 6.0 * x / (n * n) + 6.0 / (n * n * n));
        sum += term;
        if term < 1e-16 * sum {
            break;
        }
    }
    scale * sum
}

/// A band of wavelengths.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// Shortest wavelength [m].
    pub from_m: f64,
    /// Longest wavelength [m].
    pub to_m: f64,
}

/// The band of ordinary infrared thermometers, 8 to 14 um: a window of the air (common practice, no source).
pub const EIGHT_TO_FOURTEEN_UM: Band = Band {
    from_m: 8e-6,
    to_m: 14e-6,
};

impl Band {
    /// Share [-] of a black body's emissive power within the band at `t_k` [K].
    #[must_use]
    pub fn fraction(&self, t_k: f64) -> f64 {
        fraction_below(self.to_m, t_k) - fraction_below(self.from_m, t_k)
    }

    /// A black body's emissive power within the band [W/m2] at `t_k` [K].
    #[must_use]
    pub fn emissive_power(&self, t_k: f64) -> f64 {
        self.fraction(t_k) * black_emissive_power(t_k)
    }

    /// Temperature [K] of the black body with this emissive power [W/m2] within the band, between `coldest_k` and
    /// `hottest_k` [K]; outside, the nearer end. Found by halving: the power rises with temperature in every band.
    #[must_use]
    pub fn temperature(&self, power_w_m2: f64, coldest_k: f64, hottest_k: f64) -> f64 {
        let (mut low, mut high) = (coldest_k, hottest_k);
        while high - low > 1e-7 {
            let middle = 0.5 * (low + high);
            if self.emissive_power(middle) < power_w_m2 {
                low = middle;
            } else {
                high = middle;
            }
        }
        0.5 * (low + high)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Incropera & DeWitt, table 12.1, black-body radiation functions (from memory); its c2 is 14 388 um K and its last
    /// digits are off by up to 1e-4 of the value against an integration of Planck's law with scipy 1.17.
    #[test]
    fn val_incropera_table_12_1() {
        for (product_um_k, printed) in [
            (1000.0, 0.000321),
            (1600.0, 0.019718),
            (2000.0, 0.066728),
            (3000.0, 0.273232),
            (4000.0, 0.480877),
            (6000.0, 0.737818),
            (8000.0, 0.856288),
            (10000.0, 0.914199),
            (20000.0, 0.985602),
        ] {
            let got = fraction_below(product_um_k * 1e-6, 1.0);
            assert!(
                (got - printed).abs() < 1e-4 * printed + 6e-7,
                "{product_um_k}: {got}"
            );
        }
    }

    /// Planck's law integrated with scipy 1.17 (quad, 1e-12), CODATA constants.
    #[test]
    fn val_integrated_numerically() {
        for (product_m_k, want) in [
            (0.001, 0.00032076978404488966),
            (0.002898, 0.2501062936572949),
            (0.010, 0.9141569709280156),
            (0.020, 0.9855538386660656),
        ] {
            let got = fraction_below(product_m_k, 1.0);
            assert!((got - want).abs() < 1e-9, "{product_m_k}: {got}");
        }
        for (t_k, want_w_m2) in [
            (300.0, 172.57855869773826),
            (773.15, 3569.212061420887),
            (1300.0, 9634.956976624077),
        ] {
            let got = EIGHT_TO_FOURTEEN_UM.emissive_power(t_k);
            assert!((got / want_w_m2 - 1.0).abs() < 1e-8, "{t_k}: {got}");
        }
    }

    #[test]
    fn verify_the_two_series_meet_and_all_bands_make_the_whole() {
        let at = SECOND_RADIATION_CONSTANT_M_K / SERIES_SWITCH;
        let jump = fraction_below(at * (1.0 + 1e-9), 1.0) - fraction_below(at * (1.0 - 1e-9), 1.0);
        assert!(jump.abs() < 1e-9, "{jump}");
        assert!((fraction_below(1.0, 1000.0) - 1.0).abs() < 1e-9);
        assert_eq!(fraction_below(0.0, 1000.0), 0.0);
        assert_eq!(fraction_below(f64::NAN, 1000.0), 0.0);
    }

    #[test]
    fn verify_the_temperature_comes_back() {
        for t_k in [250.0, 400.0, 973.0, 1500.0] {
            let back = EIGHT_TO_FOURTEEN_UM.temperature(
                EIGHT_TO_FOURTEEN_UM.emissive_power(t_k),
                150.0,
                3000.0,
            );
            assert!((back - t_k).abs() < 1e-6, "{t_k}: {back}");
        }
    }
}
