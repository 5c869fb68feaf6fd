//! Flow along a flat plate.

use crate::physics::range::Range;

/// Where [`nusselt_plate`] holds, as Re.
pub const PLATE_FLOW_RANGE: Range = Range {
    name: "flat plate flow",
    quantity: "Re",
    min: 0.0,
    max: 1e7,
    source: "VDI Heat Atlas G4, from memory",
};

/// Mean Nusselt number of a laminar plate: `0.664 Re^(1/2) Pr^(1/3)` (Pohlhausen 1921; Incropera
/// 6th ed., eq. 7.30).
#[inline]
pub fn nusselt_laminar(re: f64, pr: f64) -> f64 {
    0.664 * re.sqrt() * pr.cbrt()
}

/// Mean Nusselt number of a turbulent plate:
/// `0.037 Re^0.8 Pr / [1 + 2.443 Re^-0.1 (Pr^(2/3) - 1)]` (Petukhov and Popov 1963 form in
/// Schlichting and the VDI Heat Atlas).
#[inline]
pub fn nusselt_turbulent(re: f64, pr: f64) -> f64 {
    if re <= 0.0 {
        return 0.0;
    }
    0.037 * re.powf(0.8) * pr / (1.0 + 2.443 * re.powf(-0.1) * (pr.powf(2.0 / 3.0) - 1.0))
}

/// Mean Nusselt number over laminar and turbulent parts: root of the sum of squares
/// (Gnielinski 1975, VDI Heat Atlas G4), for a plate with a rough leading edge.
///
/// # Valid for
/// [`PLATE_FLOW_RANGE`], Pr 0.6 to 2000.
#[inline]
pub fn nusselt_plate(re: f64, pr: f64) -> f64 {
    nusselt_laminar(re, pr).hypot(nusselt_turbulent(re, pr))
}
