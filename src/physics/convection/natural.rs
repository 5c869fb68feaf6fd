//! Natural convection from single surfaces. Film properties; lengths: diameter, height, or area over perimeter (flat plates).

use crate::constants::GRAVITY_M_S2;
use crate::number::Number;
use crate::physics::functions::cube_root;
use crate::physics::range::Range;

/// Range of [`nusselt_horizontal_cylinder`].
pub const HORIZONTAL_CYLINDER_RANGE: Range = Range {
    name: "Churchill-Chu horizontal cylinder",
    quantity: "Rayleigh number on diameter [-]",
    min: 0.0,
    max: 1e12,
    source: "Churchill & Chu 1975; Incropera & DeWitt, eq. 9.34 (from memory)",
};

/// Range of [`nusselt_vertical_plate`].
pub const VERTICAL_PLATE_RANGE: Range = Range {
    name: "Churchill-Chu vertical plate",
    quantity: "Rayleigh number on height [-]",
    min: 0.0,
    max: 1e13,
    source: "Churchill & Chu 1975; Incropera & DeWitt, eq. 9.26 (from memory)",
};

/// Range of [`nusselt_hot_face_up`].
pub const HOT_FACE_UP_RANGE: Range = Range {
    name: "horizontal plate, hot face up",
    quantity: "Rayleigh number on area / perimeter [-]",
    min: 1e4,
    max: 1e11,
    source: "Incropera & DeWitt, eq. 9.30 and 9.31 (from memory)",
};

/// Range of [`nusselt_hot_face_down`].
pub const HOT_FACE_DOWN_RANGE: Range = Range {
    name: "horizontal plate, hot face down",
    quantity: "Rayleigh number on area / perimeter [-]",
    min: 1e4,
    max: 1e9,
    source: "Incropera & DeWitt, eq. 9.32, 7th edition (from memory)",
};

/// Surface that heats the air beside it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Surface {
    /// Horizontal cylinder; length is the diameter.
    HorizontalCylinder,
    /// Vertical plate; length is the height.
    VerticalPlate,
    /// Hot face up or cold face down; length is area over perimeter.
    HotFaceUp,
    /// Hot face down or cold face up; length is area over perimeter.
    HotFaceDown,
}

impl Surface {
    /// Every surface.
    pub const ALL: [Self; 4] = [
        Self::HorizontalCylinder,
        Self::VerticalPlate,
        Self::HotFaceUp,
        Self::HotFaceDown,
    ];

    /// Average Nusselt number at Rayleigh number `ra` [-] and Prandtl number `pr` [-].
    #[inline]
    pub fn nusselt(self, ra: f64, pr: f64) -> f64 {
        match self {
            Self::HorizontalCylinder => nusselt_horizontal_cylinder(ra, pr),
            Self::VerticalPlate => nusselt_vertical_plate(ra, pr),
            Self::HotFaceUp => nusselt_hot_face_up(ra),
            Self::HotFaceDown => nusselt_hot_face_down(ra),
        }
    }

    /// The same for gases, cheaper where a cheaper form exists.
    #[inline]
    pub fn nusselt_gas(self, ra: f64, pr: f64) -> f64 {
        match self {
            Self::HorizontalCylinder => nusselt_horizontal_cylinder_gas(ra, pr),
            Self::VerticalPlate => nusselt_vertical_plate_gas(ra, pr),
            Self::HotFaceUp => nusselt_hot_face_up(ra),
            Self::HotFaceDown => nusselt_hot_face_down(ra),
        }
    }

    /// Range of its correlation.
    pub fn range(self) -> &'static Range {
        match self {
            Self::HorizontalCylinder => &HORIZONTAL_CYLINDER_RANGE,
            Self::VerticalPlate => &VERTICAL_PLATE_RANGE,
            Self::HotFaceUp => &HOT_FACE_UP_RANGE,
            Self::HotFaceDown => &HOT_FACE_DOWN_RANGE,
        }
    }
}

/// Rayleigh number [-] of an ideal gas: `g` [m/s2], wall and air temperature [K], `length_m` [m], film values of kinematic viscosity
/// [m2/s] and Prandtl number. Expansion coefficient 1 / film temperature; always positive.
#[inline(always)]
pub fn rayleigh<N: Number>(wall_k: N, air_k: N, length_m: N, kinematic_viscosity: N, pr: N) -> N {
    let film_k = (wall_k + air_k) * 0.5;
    (wall_k - air_k).abs() * GRAVITY_M_S2 * length_m * length_m * length_m * pr
        / (film_k * kinematic_viscosity * kinematic_viscosity)
}

#[inline(always)]
fn sixth_root<N: Number>(ra: N) -> N {
    cube_root(ra.sqrt())
}

/// Horizontal cylinder, all Rayleigh numbers. Source: Churchill & Chu 1975; Incropera & DeWitt, eq. 9.34.
#[inline]
pub fn nusselt_horizontal_cylinder(ra: f64, pr: f64) -> f64 {
    let factor = 0.387 / (1.0 + (0.559 / pr).powf(9.0 / 16.0)).powf(8.0 / 27.0);
    let root = 0.60 + factor * sixth_root(ra);
    root * root
}

/// The same for Pr 0.65-0.80 with the Prandtl factor as a straight line (0.04 % of the factor).
#[inline(always)]
pub fn nusselt_horizontal_cylinder_gas<N: Number>(ra: N, pr: N) -> N {
    let root = (pr * 0.034_386_73 + 0.296_812_23) * sixth_root(ra) + 0.60;
    root * root
}

/// Vertical plate, all Rayleigh numbers. Source: Churchill & Chu 1975; Incropera & DeWitt, eq. 9.26.
#[inline]
pub fn nusselt_vertical_plate(ra: f64, pr: f64) -> f64 {
    let factor = 0.387 / (1.0 + (0.492 / pr).powf(9.0 / 16.0)).powf(8.0 / 27.0);
    let root = 0.825 + factor * sixth_root(ra);
    root * root
}

/// The same for Pr 0.65-0.80 with the Prandtl factor as a straight line (0.04 % of the factor).
#[inline(always)]
pub fn nusselt_vertical_plate_gas<N: Number>(ra: N, pr: N) -> N {
    let root = (pr * 0.033_388_95 + 0.300_664_5) * sixth_root(ra) + 0.825;
    root * root
}

/// Horizontal plate, hot face up (or cold face down).
///
/// Source: McAdams 1954, Lloyd & Moran 1974; Incropera & DeWitt, eq. 9.30 (0.54 Ra^1/4) and 9.31 (0.15 Ra^1/3). The two differ by
/// 6 % where the book joins them, Ra 1e7; here the larger counts, which joins them at Ra 4.7e6 without a step.
#[inline]
pub fn nusselt_hot_face_up(ra: f64) -> f64 {
    (0.54 * ra.sqrt().sqrt()).max(0.15 * ra.cbrt())
}

/// Horizontal plate, hot face down (or cold face up): 0.52 Ra^1/5. Source: Incropera & DeWitt, eq. 9.32, 7th edition.
#[inline]
pub fn nusselt_hot_face_down(ra: f64) -> f64 {
    0.52 * ra.powf(0.2)
}
