//! Natural and forced convection together.

/// Combines two assisting or crossing Nusselt numbers (or coefficients, same length) by the cube rule.
///
/// Source: Churchill 1977, Nu^3 = Nu_n^3 + Nu_f^3; Incropera & DeWitt, eq. 9.64 with n = 3 (from memory).
#[inline]
pub fn combine(natural: f64, forced: f64) -> f64 {
    (natural * natural * natural + forced * forced * forced).cbrt()
}
