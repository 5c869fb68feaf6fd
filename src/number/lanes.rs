//! A number in each lane, in single precision.

use std::ops::{Add, AddAssign, Div, Mul, MulAssign, Neg, Sub, SubAssign};

use super::bits::of_f32;
use super::{Choice, LANES, Number};

/// A number in each of [`LANES`] lanes, in single precision: a temperature to 1e-4 K, which is far more than is known of a
/// draw, in half the time.
#[derive(Debug, Clone, Copy, PartialEq)]
#[repr(C, align(32))]
pub struct Lanes([f32; LANES]);

/// A comparison in each lane: all bits set where it holds, as processors compare, so that no lane has to be looked at alone.
#[derive(Debug, Clone, Copy)]
#[repr(C, align(32))]
pub struct LaneChoice([u32; LANES]);

impl LaneChoice {
    #[inline(always)]
    fn of(holds: impl Fn(usize) -> bool) -> Self {
        Self(std::array::from_fn(|i| if holds(i) { u32::MAX } else { 0 }))
    }
}

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

#[expect(
    clippy::redundant_closure,
    reason = "a function handed on by its name may not be inlined"
)]
impl Number for Lanes {
    type Choice = LaneChoice;

    const LANES: usize = LANES;

    const EPSILON: f64 = f32::EPSILON as f64;

    const SMALLEST: f64 = 1e-30;

    const LARGEST_EXPONENT: f64 = 80.0;

    const SINGLE: bool = true;

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

    #[inline(always)]
    fn nearest(self) -> Self {
        self.map(
            #[inline(always)]
            |x| of_f32::nearest(x),
        )
    }

    #[inline(always)]
    fn times_two_to(self, whole: Self) -> Self {
        self.zip(
            whole,
            #[inline(always)]
            |x, whole| of_f32::times_two_to(x, whole),
        )
    }

    #[inline(always)]
    fn split(self) -> (Self, Self) {
        (
            self.map(
                #[inline(always)]
                |x| of_f32::split(x).0,
            ),
            self.map(
                #[inline(always)]
                |x| of_f32::split(x).1,
            ),
        )
    }

    #[inline(always)]
    fn about_cube_root(self) -> Self {
        self.map(
            #[inline(always)]
            |x| of_f32::about_cube_root(x),
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

    // by numbers rather than by bits: an instruction of its own
    #[inline(always)]
    fn max(self, other: Self) -> Self {
        self.zip(other, |x, y| if y < x { x } else { y })
    }

    #[inline(always)]
    fn min(self, other: Self) -> Self {
        self.zip(other, |x, y| if x < y { x } else { y })
    }

    #[inline(always)]
    fn below(self, other: Self) -> LaneChoice {
        LaneChoice::of(|i| self.0[i] < other.0[i])
    }

    #[inline(always)]
    fn not_above(self, other: Self) -> LaneChoice {
        LaneChoice::of(|i| self.0[i] <= other.0[i])
    }
}

impl Choice<Lanes> for LaneChoice {
    const NEVER: Self = Self([0; LANES]);

    #[inline(always)]
    fn choose(self, yes: Lanes, no: Lanes) -> Lanes {
        let pick = |i: usize| {
            let (yes, no) = (yes.0[i].to_bits(), no.0[i].to_bits());
            f32::from_bits((yes & self.0[i]) | (no & !self.0[i]))
        };
        Lanes(std::array::from_fn(pick))
    }

    #[inline(always)]
    fn or(self, other: Self) -> Self {
        Self(std::array::from_fn(|i| self.0[i] | other.0[i]))
    }

    #[inline(always)]
    fn any(self) -> bool {
        self.0.iter().fold(0, |any, one| any | one) != 0
    }

    #[inline(always)]
    fn all(self) -> bool {
        self.0.iter().fold(u32::MAX, |all, one| all & one) != 0
    }
}
