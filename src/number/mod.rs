//! Numbers that the network computes with: one, or several of the same kind side by side.
//!
//! Draws of a build differ in numbers, not in structure. With a number in each lane the same code solves
//! [`LANES`] of them in about the time of one: an operation on all lanes is one instruction on wide registers.
//! What has to be decided for each lane is decided by choosing ([`Number::below`], [`Choice`]), not by branching.

mod bits;
mod lanes;
mod side_by_side;

use std::fmt::Debug;
use std::ops::{Add, AddAssign, Div, Mul, MulAssign, Neg, Sub, SubAssign};

pub use lanes::{LaneChoice, Lanes};
pub(crate) use side_by_side::side_by_side;
pub use side_by_side::{SideBySide, alike};

/// Draws that are solved side by side.
pub const LANES: usize = 8;

/// A real number, or one in each lane.
pub trait Number:
    Copy
    + Debug
    + Default
    + PartialEq
    + Send
    + Sync
    + 'static
    + Neg<Output = Self>
    + Add<Output = Self>
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
    + Add<f64, Output = Self>
    + Sub<f64, Output = Self>
    + Mul<f64, Output = Self>
    + Div<f64, Output = Self>
    + AddAssign
    + SubAssign
    + MulAssign
{
    /// The outcome of a comparison.
    type Choice: Choice<Self>;

    /// Number of lanes.
    const LANES: usize;

    /// Difference between 1 and the next number.
    const EPSILON: f64;

    /// Smallest number that functions tell from zero; its cube root's cube is not lost.
    const SMALLEST: f64;

    /// An exponential of more than this may be too large a number, of less than its negative too small a one.
    const LARGEST_EXPONENT: f64;

    /// Whether it has single precision: a series then needs fewer terms, see [`functions`](crate::physics::functions).
    const SINGLE: bool;

    /// The same number in every lane.
    fn of(x: f64) -> Self;

    /// The number in a lane.
    fn lane(&self, lane: usize) -> f64;

    /// Puts a number into a lane.
    fn set_lane(&mut self, lane: usize, x: f64);

    /// The nearest whole number, below 2^22 in size.
    fn nearest(self) -> Self;

    /// Times 2 to a whole power.
    fn times_two_to(self, whole: Self) -> Self;

    /// For a normal number above 0 the whole power of 2 that leaves a number between sqrt(1/2) and sqrt(2), and that number.
    fn split(self) -> (Self, Self);

    /// About the cube root of a number above 0, 5 bits right: a third of the exponent bits (as in FreeBSD's `cbrt`).
    fn about_cube_root(self) -> Self;

    /// Square root.
    fn sqrt(self) -> Self;

    /// Absolute value.
    fn abs(self) -> Self;

    /// Whether it is below another; never for what is no number.
    fn below(self, other: Self) -> Self::Choice;

    /// Whether it is below another or equal; never for what is no number.
    fn not_above(self, other: Self) -> Self::Choice;

    /// The larger of both; `other` in place of what is no number.
    #[inline(always)]
    fn max(self, other: Self) -> Self {
        other.below(self).choose(self, other)
    }

    /// The smaller of both; `other` in place of what is no number.
    #[inline(always)]
    fn min(self, other: Self) -> Self {
        self.below(other).choose(self, other)
    }

    /// Held between two bounds; what is no number stays so.
    #[inline(always)]
    fn clamp(self, low: f64, high: f64) -> Self {
        let (low, high) = (Self::of(low), Self::of(high));
        let held = self.below(low).choose(low, self);
        high.below(held).choose(high, held)
    }

    /// The largest lane; not a number if one lane is none.
    #[inline(always)]
    fn largest(self) -> f64 {
        (1..Self::LANES).fold(self.lane(0), |worst, lane| {
            let x = self.lane(lane);
            if x > worst || x.is_nan() { x } else { worst }
        })
    }

    /// Whether a lane is above or below that of another.
    #[inline(always)]
    fn differs(self, other: Self) -> bool {
        self.below(other).or(other.below(self)).any()
    }

    /// Whether it is below `low`, or not below `high`.
    #[inline(always)]
    fn leaves(self, low: Self, high: Self) -> Self::Choice {
        self.below(low).or(high.not_above(self))
    }

    /// Whether every lane is finite.
    #[inline(always)]
    fn is_finite(&self) -> bool {
        self.abs().below(Self::of(f64::INFINITY)).all()
    }
}

/// Keeps a compiler from taking several turns of the loop it stands in at once where a number already fills a register: it
/// would shuffle their lanes (three instructions instead of one in the solver's errors).
#[inline(always)]
pub fn turn_by_turn<N: Number>() {
    if N::LANES > 1 {
        std::hint::black_box(());
    }
}

/// Chooses between two numbers, lane by lane.
pub trait Choice<N>: Copy {
    /// One that holds nowhere.
    const NEVER: Self;

    /// `yes` where it holds, else `no`.
    fn choose(self, yes: N, no: N) -> N;

    /// Where one of both holds.
    fn or(self, other: Self) -> Self;

    /// Whether it holds in any lane.
    fn any(self) -> bool;

    /// Whether it holds in every lane.
    fn all(self) -> bool;
}

impl Number for f64 {
    type Choice = bool;

    const LANES: usize = 1;

    const EPSILON: f64 = f64::EPSILON;

    const SMALLEST: f64 = 1e-200;

    const LARGEST_EXPONENT: f64 = 700.0;

    const SINGLE: bool = false;

    #[inline(always)]
    fn of(x: f64) -> Self {
        x
    }

    #[inline(always)]
    fn lane(&self, _lane: usize) -> f64 {
        *self
    }

    #[inline(always)]
    fn set_lane(&mut self, _lane: usize, x: f64) {
        *self = x;
    }

    #[inline(always)]
    fn nearest(self) -> Self {
        bits::of_f64::nearest(self)
    }

    #[inline(always)]
    fn times_two_to(self, whole: Self) -> Self {
        bits::of_f64::times_two_to(self, whole)
    }

    #[inline(always)]
    fn split(self) -> (Self, Self) {
        bits::of_f64::split(self)
    }

    #[inline(always)]
    fn about_cube_root(self) -> Self {
        bits::of_f64::about_cube_root(self)
    }

    #[inline(always)]
    fn sqrt(self) -> Self {
        self.sqrt()
    }

    #[inline(always)]
    fn abs(self) -> Self {
        self.abs()
    }

    #[inline(always)]
    fn below(self, other: Self) -> bool {
        self < other
    }

    #[inline(always)]
    fn not_above(self, other: Self) -> bool {
        self <= other
    }
}

impl Choice<f64> for bool {
    const NEVER: Self = false;

    #[inline(always)]
    fn choose(self, yes: f64, no: f64) -> f64 {
        if self { yes } else { no }
    }

    #[inline(always)]
    fn or(self, other: Self) -> Self {
        self | other
    }

    #[inline(always)]
    fn any(self) -> bool {
        self
    }

    #[inline(always)]
    fn all(self) -> bool {
        self
    }
}

/// Calls `f` with the widest registers that this machine has, found when the program runs. For that, `f` and all that
/// it calls must be `#[inline(always)]`; no products are fused with sums, so every machine gets the same numbers.
#[inline]
pub fn widest<R>(f: impl FnMut() -> R) -> R {
    on(pulp::Arch::new(), f)
}

/// The same on registers that are named.
#[inline]
pub fn on<R>(registers: pulp::Arch, mut f: impl FnMut() -> R) -> R {
    registers.dispatch(Call(&mut f))
}

/// As a reference, since calling a closure by value goes through a function that is not inlined.
struct Call<'f, F>(&'f mut F);

impl<R, F: FnMut() -> R> pulp::NullaryFnOnce for Call<'_, F> {
    type Output = R;

    #[inline(always)]
    fn call(self) -> R {
        (self.0)()
    }
}
