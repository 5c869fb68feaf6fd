//! Putting things of one structure side by side, lane by lane.

use super::{LANES, Lanes};

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
        Some(Lanes::from_lanes(each.map(|x| *x)))
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
