//! Numbers that the network computes with: one, or several of the same kind side by side.
//!
//! Draws of a build differ in numbers, not in structure. With a number in each lane the same code solves
//! [`LANES`] of them in about the time of one: an operation on all lanes is one instruction on wide registers.
//! What has to be decided for each lane is decided by choosing ([`Number::below`], [`Choice`]), not by branching.

use std::fmt::Debug;
use std::ops::{Add, AddAssign, Div, Mul, MulAssign, Neg, Sub, SubAssign};

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

    /// The same number in every lane.
    fn of(x: f64) -> Self;

    /// The number in a lane.
    fn lane(&self, lane: usize) -> f64;

    /// Puts a number into a lane.
    fn set_lane(&mut self, lane: usize, x: f64);

    /// Difference between 1 and the next number.
    const EPSILON: f64;

    /// Smallest number that functions tell from zero; its cube root's cube is not lost.
    const SMALLEST: f64;

    /// An exponential of more than this may be too large a number, of less than its negative too small a one.
    const LARGEST_EXPONENT: f64;

    /// Terms that a series needs for all digits: of the exponential of up to ln 2 / 2, and of the logarithm of what lies
    /// between sqrt(1/2) and sqrt(2), see [`functions`](crate::physics::functions).
    const TERMS: (usize, usize);

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

    /// Whether a lane is below `low`, or not below `high`.
    fn leaves(&self, low: Self, high: Self) -> bool;

    /// Whether every lane is finite.
    #[inline(always)]
    fn is_finite(&self) -> bool {
        self.abs().below(Self::of(f64::INFINITY)).all()
    }
}

/// Chooses between two numbers, lane by lane.
pub trait Choice<N>: Copy {
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

    const EPSILON: f64 = f64::EPSILON;

    const SMALLEST: f64 = 1e-200;

    const LARGEST_EXPONENT: f64 = 700.0;

    const TERMS: (usize, usize) = (12, 11);

    #[inline(always)]
    fn nearest(self) -> Self {
        bits_of_f64::nearest(self)
    }

    #[inline(always)]
    fn times_two_to(self, whole: Self) -> Self {
        bits_of_f64::times_two_to(self, whole)
    }

    #[inline(always)]
    fn split(self) -> (Self, Self) {
        bits_of_f64::split(self)
    }

    #[inline(always)]
    fn about_cube_root(self) -> Self {
        bits_of_f64::about_cube_root(self)
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
    fn leaves(&self, low: Self, high: Self) -> bool {
        (*self < low) | (*self >= high)
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

/// A number in each of [`LANES`] lanes, in single precision: a temperature to 1e-4 K, which is far more than is known of a
/// draw, in half the time.
#[derive(Debug, Clone, Copy, PartialEq)]
#[repr(C, align(32))]
pub struct Lanes([f32; LANES]);

/// A comparison in each lane.
#[derive(Debug, Clone, Copy)]
pub struct LaneChoice([bool; LANES]);

impl Default for Lanes {
    fn default() -> Self {
        Self([0.0; LANES])
    }
}

impl Lanes {
    /// From the numbers of the lanes.
    #[inline]
    pub fn from_lanes(lanes: [f64; LANES]) -> Self {
        Self(lanes.map(|x| x as f32))
    }

    #[inline(always)]
    fn map(self, f: impl Fn(f32) -> f32) -> Self {
        Self(std::array::from_fn(|i| f(self.0[i])))
    }

    #[inline(always)]
    fn zip(self, other: Self, f: impl Fn(f32, f32) -> f32) -> Self {
        Self(std::array::from_fn(|i| f(self.0[i], other.0[i])))
    }
}

macro_rules! operators {
    ($($trait:ident $method:ident $op:tt),*) => { $(
        impl $trait for Lanes {
            type Output = Self;
            #[inline(always)]
            fn $method(self, other: Self) -> Self {
                self.zip(other, |x, y| x $op y)
            }
        }
        impl $trait<f64> for Lanes {
            type Output = Self;
            #[inline(always)]
            fn $method(self, other: f64) -> Self {
                let other = other as f32;
                self.map(|x| x $op other)
            }
        }
    )* };
}
operators!(Add add +, Sub sub -, Mul mul *, Div div /);

macro_rules! assignments {
    ($($trait:ident $method:ident $op:tt),*) => { $(
        impl $trait for Lanes {
            #[inline(always)]
            fn $method(&mut self, other: Self) {
                *self = *self $op other;
            }
        }
    )* };
}
assignments!(AddAssign add_assign +, SubAssign sub_assign -, MulAssign mul_assign *);

impl Neg for Lanes {
    type Output = Self;

    #[inline(always)]
    fn neg(self) -> Self {
        self.map(|x| -x)
    }
}

impl Number for Lanes {
    type Choice = LaneChoice;

    const LANES: usize = LANES;

    #[inline(always)]
    fn of(x: f64) -> Self {
        Self([x as f32; LANES])
    }

    #[inline(always)]
    fn lane(&self, lane: usize) -> f64 {
        f64::from(self.0[lane])
    }

    #[inline(always)]
    fn set_lane(&mut self, lane: usize, x: f64) {
        self.0[lane] = x as f32;
    }

    const EPSILON: f64 = f32::EPSILON as f64;

    const SMALLEST: f64 = 1e-30;

    const LARGEST_EXPONENT: f64 = 80.0;

    const TERMS: (usize, usize) = (7, 5);

    #[inline(always)]
    fn nearest(self) -> Self {
        self.map(
            #[inline(always)]
            |x| bits_of_f32::nearest(x),
        )
    }

    #[inline(always)]
    fn times_two_to(self, whole: Self) -> Self {
        self.zip(
            whole,
            #[inline(always)]
            |x, whole| bits_of_f32::times_two_to(x, whole),
        )
    }

    #[inline(always)]
    fn split(self) -> (Self, Self) {
        (
            self.map(
                #[inline(always)]
                |x| bits_of_f32::split(x).0,
            ),
            self.map(
                #[inline(always)]
                |x| bits_of_f32::split(x).1,
            ),
        )
    }

    #[inline(always)]
    fn about_cube_root(self) -> Self {
        self.map(
            #[inline(always)]
            |x| bits_of_f32::about_cube_root(x),
        )
    }

    #[inline(always)]
    fn sqrt(self) -> Self {
        self.map(f32::sqrt)
    }

    #[inline(always)]
    fn abs(self) -> Self {
        self.map(f32::abs)
    }

    #[inline(always)]
    fn leaves(&self, low: Self, high: Self) -> bool {
        (0..LANES).fold(false, |left, i| {
            left | (self.0[i] < low.0[i]) | (self.0[i] >= high.0[i])
        })
    }

    #[inline(always)]
    fn below(self, other: Self) -> LaneChoice {
        LaneChoice(std::array::from_fn(|i| self.0[i] < other.0[i]))
    }

    #[inline(always)]
    fn not_above(self, other: Self) -> LaneChoice {
        LaneChoice(std::array::from_fn(|i| self.0[i] <= other.0[i]))
    }
}

impl Choice<Lanes> for LaneChoice {
    #[inline(always)]
    fn choose(self, yes: Lanes, no: Lanes) -> Lanes {
        let pick = |i: usize| if self.0[i] { yes.0[i] } else { no.0[i] };
        Lanes(std::array::from_fn(pick))
    }

    #[inline(always)]
    fn or(self, other: Self) -> Self {
        Self(std::array::from_fn(|i| self.0[i] | other.0[i]))
    }

    #[inline(always)]
    fn any(self) -> bool {
        self.0.iter().fold(false, |any, &one| any | one)
    }

    #[inline(always)]
    fn all(self) -> bool {
        self.0.iter().fold(true, |all, &one| all & one)
    }
}

/// What is done with the bits of a number: without calls and branches, so that a compiler takes several at once.
macro_rules! bits {
    ($module:ident, $float:ident, $bits:ident, fraction: $fraction:literal, bias: $bias:literal, third: $third:literal) => {
        mod $module {
            const FRACTION: $bits = (1 << $fraction) - 1;
            /// A number added to it has its whole part in the last bits.
            const WHOLE: $float = (3u64 << ($fraction - 1)) as $float;

            #[inline(always)]
            pub fn nearest(x: $float) -> $float {
                (x + WHOLE) - WHOLE
            }

            #[inline(always)]
            pub fn times_two_to(x: $float, whole: $float) -> $float {
                let exponent = (whole + WHOLE).to_bits().wrapping_add($bias);
                x * $float::from_bits(exponent << $fraction)
            }

            #[inline(always)]
            pub fn split(x: $float) -> ($float, $float) {
                const ROOT: $bits = std::$float::consts::SQRT_2.to_bits() & FRACTION;
                let bits = x.to_bits();
                // one power of two more from sqrt(2) on
                let carry = ((bits & FRACTION) + ((1 << $fraction) - ROOT)) >> $fraction;
                let exponent = (bits >> $fraction).wrapping_add(carry).wrapping_sub($bias);
                let rest = $float::from_bits(bits.wrapping_sub(exponent << $fraction));
                let whole = $float::from_bits(WHOLE.to_bits().wrapping_add(exponent)) - WHOLE;
                (whole, rest)
            }

            #[inline(always)]
            pub fn about_cube_root(x: $float) -> $float {
                // the first 32 bits will do
                let rest = $bits::BITS - 32;
                let third = ((u64::from(x.to_bits() >> rest) * 0x5555_5556) >> 32) as $bits;
                $float::from_bits((third + $third) << rest)
            }
        }
    };
}
bits!(bits_of_f64, f64, u64, fraction: 52, bias: 1023, third: 715_094_163);
bits!(bits_of_f32, f32, u32, fraction: 23, bias: 127, third: 709_958_130);

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

/// Things of one structure put side by side, lane by lane.
pub trait SideBySide: Sized {
    /// The same with a number in each lane.
    type Wide;

    /// Puts them side by side; `None` when they differ in more than numbers.
    fn side_by_side(each: [&Self; LANES]) -> Option<Self::Wide>;
}

impl SideBySide for f64 {
    type Wide = Lanes;

    fn side_by_side(each: [&Self; LANES]) -> Option<Lanes> {
        Some(Lanes(each.map(|x| *x as f32)))
    }
}

/// What has to be the same in every lane; `None` when it isn't.
pub fn alike<T: PartialEq + Clone>(each: [&T; LANES]) -> Option<T> {
    each.iter().all(|x| *x == each[0]).then(|| each[0].clone())
}

impl<T: SideBySide> SideBySide for Vec<T> {
    type Wide = Vec<T::Wide>;

    fn side_by_side(each: [&Self; LANES]) -> Option<Self::Wide> {
        let n = each[0].len();
        if each.iter().any(|v| v.len() != n) {
            return None;
        }
        (0..n)
            .map(|i| T::side_by_side(each.map(|v| &v[i])))
            .collect()
    }
}

impl<T: SideBySide> SideBySide for Option<T> {
    type Wide = Option<T::Wide>;

    fn side_by_side(each: [&Self; LANES]) -> Option<Self::Wide> {
        if each.iter().all(|x| x.is_none()) {
            return Some(None);
        }
        let there: Option<Vec<&T>> = each.iter().map(|x| x.as_ref()).collect();
        T::side_by_side(there?.try_into().ok()?).map(Some)
    }
}

macro_rules! tuples {
    ($($($name:ident $i:tt),+;)*) => { $(
        impl<$($name: SideBySide),+> SideBySide for ($($name,)+) {
            type Wide = ($($name::Wide,)+);

            fn side_by_side(each: [&Self; LANES]) -> Option<Self::Wide> {
                Some(($($name::side_by_side(each.map(|x| &x.$i))?,)+))
            }
        }
    )* };
}

tuples! {
    A 0, B 1;
    A 0, B 1, C 2;
}

macro_rules! same {
    ($($t:ty),*) => { $(
        impl SideBySide for $t {
            type Wide = $t;

            fn side_by_side(each: [&Self; LANES]) -> Option<$t> {
                alike(each)
            }
        }
    )* };
}

same!(usize);

/// Puts a struct side by side, field by field; all fields must be named.
///
/// `numbers` take what their own kind makes of them, `same` must agree in all lanes.
macro_rules! side_by_side {
    ($name:ident { numbers: [$($number:ident),* $(,)?], same: [$($same:ident),* $(,)?] $(,)? }) => {
        impl $crate::number::SideBySide for $name<f64> {
            type Wide = $name<$crate::number::Lanes>;

            fn side_by_side(each: [&Self; $crate::number::LANES]) -> Option<Self::Wide> {
                Some($name {
                    $($number: $crate::number::SideBySide::side_by_side(each.map(|x| &x.$number))?,)*
                    $($same: $crate::number::alike(each.map(|x| &x.$same))?,)*
                })
            }
        }
    };
}
pub(crate) use side_by_side;
