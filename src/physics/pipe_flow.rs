//! Pressure drop by wall friction in pipes.

use super::convection::internal::friction_smooth;

/// Pressure drop by wall friction [Pa]: `f L/D rho v^2 / 2` (Darcy-Weisbach).
///
/// `re`: Reynolds number on the bore.
pub fn pressure_drop(
    re: f64,
    density_kg_m3: f64,
    speed_m_s: f64,
    length_m: f64,
    bore_m: f64,
) -> f64 {
    friction_smooth(re) * length_m / bore_m * 0.5 * density_kg_m3 * speed_m_s * speed_m_s
}
