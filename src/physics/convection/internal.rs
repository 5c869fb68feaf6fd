//! Flow inside pipes.

use crate::physics::range::Range;

/// Where [`nusselt_gnielinski`] holds, as Re.
pub const GNIELINSKI_RANGE: Range = Range {
    name: "Gnielinski pipe flow",
    quantity: "Re",
    min: 3000.0,
    max: 5e6,
    source: "Gnielinski 1976",
};
/// Where [`nusselt_pulsating_exhaust`] holds, as Re: the span of the data behind the fit
/// (from memory).
pub const PULSATING_EXHAUST_RANGE: Range = Range {
    name: "pulsating exhaust pipe fit",
    quantity: "Re",
    min: 1e3,
    max: 1e5,
    source: "Depcik and Assanis 2002",
};

/// Laminar, fully developed, constant wall temperature (Incropera 6th ed., eq. 8.55).
pub const NUSSELT_LAMINAR_WALL_TEMPERATURE: f64 = 3.66;

/// Re at which the blend of [`nusselt_pipe`] leaves the laminar value.
const TRANSITION: f64 = 2300.0;

/// Darcy friction factor of a smooth pipe, laminar and turbulent (Petukhov 1970;
/// Incropera 6th ed., eq. 8.21).
#[inline]
pub fn friction_smooth(re: f64) -> f64 {
    if re < TRANSITION {
        return 64.0 / re.max(1.0);
    }
    (0.790 * re.ln() - 1.64).powi(-2)
}

/// Nusselt number of turbulent pipe flow.
///
/// `(f/8)(Re - 1000) Pr / [1 + 12.7 (f/8)^(1/2) (Pr^(2/3) - 1)]`
///
/// # Source
/// Gnielinski 1976, Int. Chem. Eng. 16, 359; Incropera 6th ed., eq. 8.62.
///
/// # Arguments
/// `re`: Reynolds number on the bore, bulk properties; `pr`: Prandtl number; `friction`: Darcy.
///
/// # Valid for
/// [`GNIELINSKI_RANGE`], Pr 0.5 to 2000.
///
/// # Example
/// ```
/// let nu = baysoak::physics::convection::internal::nusselt_gnielinski(1e4, 0.72, 0.0309);
/// assert!((nu - 29.6285).abs() < 1e-4); // ht 1.2.0
/// ```
#[inline]
pub fn nusselt_gnielinski(re: f64, pr: f64, friction: f64) -> f64 {
    let f8 = friction / 8.0;
    f8 * (re - 1000.0) * pr / (1.0 + 12.7 * f8.sqrt() * (pr.powf(2.0 / 3.0) - 1.0))
}

/// Nusselt number of a smooth pipe at any Re: 3.66, rising through transition to Gnielinski.
///
/// Sixth-power sum of the laminar value and Gnielinski's (Churchill's blending form), continuous
/// and rising everywhere.
#[inline]
pub fn nusselt_pipe(re: f64, pr: f64) -> f64 {
    let laminar = NUSSELT_LAMINAR_WALL_TEMPERATURE;
    if re <= 1000.0 {
        return laminar;
    }
    let turbulent = nusselt_gnielinski(re, pr, (0.790 * re.ln() - 1.64).powi(-2));
    let ratio = turbulent / laminar;
    let cube = ratio * ratio * ratio;
    laminar * (1.0 + cube * cube).sqrt().cbrt()
}

/// Nusselt number of a pulsating exhaust pipe near the engine: `0.07 Re^0.75`.
///
/// # Source
/// Depcik and Assanis 2002, SAE 2002-01-0372: fit over published intake and exhaust data;
/// correlation coefficient 0.80 on the exhaust side, published fits differ by 1.6.
///
/// # Arguments
/// `re`: Reynolds number on the bore with the mean flow.
///
/// # Valid for
/// [`PULSATING_EXHAUST_RANGE`].
#[inline]
pub fn nusselt_pulsating_exhaust(re: f64) -> f64 {
    let root = re.max(0.0).sqrt();
    0.07 * root * root.sqrt()
}

/// Nusselt number of developing laminar flow, constant wall temperature.
///
/// `3.66 + 0.0668 Gz / (1 + 0.04 Gz^(2/3))`, `Gz = Re Pr D/L`
///
/// # Source
/// Hausen 1943; Incropera 6th ed., eq. 8.56.
pub fn nusselt_hausen(re: f64, pr: f64, length_m: f64, bore_m: f64) -> f64 {
    let graetz = re * pr * bore_m / length_m;
    NUSSELT_LAMINAR_WALL_TEMPERATURE + 0.0668 * graetz / (1.0 + 0.04 * graetz.powf(2.0 / 3.0))
}
