//! Natural and forced convection together.

use crate::number::Number;
use crate::physics::functions::cube_root_of_one_plus;

/// Combines two assisting or crossing Nusselt numbers (or coefficients, same length) by the cube rule.
///
/// Source: Churchill 1977, Nu^3 = Nu_n^3 + Nu_f^3; Incropera & DeWitt, eq. 9.64 with n = 3 (from memory).
#[inline(always)]
pub fn combine<N: Number>(natural: N, forced: N) -> N {
    let more = natural.max(forced);
    // both nothing: nothing over nothing must not come up
    let ratio = natural.min(forced) / more.max(N::of(f64::MIN_POSITIVE));
    more * cube_root_of_one_plus(ratio * ratio * ratio)
}
