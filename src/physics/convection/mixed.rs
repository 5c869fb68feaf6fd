//! Natural and forced convection together.

/// `(n^3 + f^3)^(1/3)`: the sum that most assisting mixed flows follow.
///
/// # Source
/// Churchill 1977, *A comprehensive correlating equation for laminar, assisting, forced and free
/// convection*, AIChE J. 23; exponent 3 recommended in Incropera 6th ed., sec. 9.9.
///
/// # Example
/// ```
/// let nu = baysoak::physics::convection::mixed::combine(10.0, 10.0);
/// assert!((nu - 12.599).abs() < 1e-3);
/// ```
#[inline]
pub fn combine(natural: f64, forced: f64) -> f64 {
    (natural * natural * natural + forced * forced * forced).cbrt()
}
