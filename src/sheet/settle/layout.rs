//! Size of the bay and its air zones.

use crate::sheet::build::Zone;
use crate::sheet::raw::{BaySheet, ZoneSheet};
use crate::sheet::resolve::{Taker, about, guess};

use super::OUTSIDE;

/// Outer size of the bay [m].
#[derive(Debug, Clone, Copy)]
pub(super) struct Size {
    /// Grille to bulkhead.
    pub length_m: f64,
    /// Between the inner wings.
    pub width_m: f64,
    /// Undertray to bonnet.
    pub height_m: f64,
}

/// A usual zone: shares of the bay's box that give its size. All estimates.
struct Usual {
    name: &'static str,
    /// Free volume over the bay's box.
    volume_share: f64,
    /// Flow cross-section over the bay's width times height.
    area_share: f64,
    /// Height over the bay's height.
    height_share: f64,
}

/// Free air is about a quarter of the box behind the radiator; the nose lies before it.
const USUAL: [Usual; 5] = [
    Usual {
        name: "nose",
        volume_share: 0.08,
        area_share: 0.35,
        height_share: 0.45,
    },
    Usual {
        name: "front",
        volume_share: 0.05,
        area_share: 0.30,
        height_share: 0.50,
    },
    Usual {
        name: "upper",
        volume_share: 0.09,
        area_share: 0.18,
        height_share: 0.85,
    },
    Usual {
        name: "hot",
        volume_share: 0.06,
        area_share: 0.14,
        height_share: 0.50,
    },
    Usual {
        name: "low",
        volume_share: 0.05,
        area_share: 0.18,
        height_share: 0.15,
    },
];

/// Height of the undertray above the road [m]; estimate.
pub(super) const CLEARANCE_M: f64 = 0.2;

/// Settles the size of the bay.
pub(super) fn size(s: Option<&BaySheet>, t: &mut Taker<'_, '_>) -> Size {
    let basis = "usual car; measure it, many areas scale with it";
    let length = guess(600.0, 700.0, 850.0, basis);
    let width = guess(1150.0, 1300.0, 1450.0, basis);
    let height = guess(550.0, 650.0, 750.0, basis);
    Size {
        length_m: t.si(
            "bay.length_mm",
            s.and_then(|s| s.length_mm.as_ref()),
            length,
        ),
        width_m: t.si("bay.width_mm", s.and_then(|s| s.width_mm.as_ref()), width),
        height_m: t.si(
            "bay.height_mm",
            s.and_then(|s| s.height_mm.as_ref()),
            height,
        ),
    }
}

/// The five usual zones, adjusted and added to by the sheet.
pub(super) fn zones(s: Option<&BaySheet>, size: Size, t: &mut Taker<'_, '_>) -> Vec<Zone> {
    let given: &[ZoneSheet] = s.map_or(&[], |s| &s.zone);
    let added = given
        .iter()
        .filter(|z| USUAL.iter().all(|u| u.name != z.name));
    let names = USUAL
        .iter()
        .map(|u| u.name)
        .chain(added.map(|z| z.name.as_str()));
    names
        .map(|name| zone(name, given.iter().find(|z| z.name == name), size, t))
        .collect()
}

fn zone(name: &str, given: Option<&ZoneSheet>, size: Size, t: &mut Taker<'_, '_>) -> Zone {
    let path = format!("bay.zone[{name}]");
    let key = |name: &str| format!("{path}.{name}");
    if name == OUTSIDE {
        let hint = "`outside` is the air around the car; choose another name".to_owned();
        t.problem(&key("name"), "reserved name", "", hint);
    }
    let Size {
        length_m,
        width_m,
        height_m,
    } = size;
    let spare = Usual {
        name: "",
        volume_share: 0.05,
        area_share: 0.15,
        height_share: 0.5,
    };
    let usual = USUAL.iter().find(|u| u.name == name).unwrap_or(&spare);
    let volume = 1e3 * usual.volume_share * length_m * width_m * height_m;
    let area = 1e4 * usual.area_share * width_m * height_m;
    let height = 1e3 * (CLEARANCE_M + usual.height_share * height_m);
    let share = "share of the bay's box; estimate";
    Zone {
        name: name.to_owned(),
        volume_m3: t.si(
            &key("volume_l"),
            given.and_then(|z| z.volume_l.as_ref()),
            about(volume, 0.55, 1.8, share),
        ),
        flow_area_m2: t.si(
            &key("flow_area_cm2"),
            given.and_then(|z| z.flow_area_cm2.as_ref()),
            about(area, 0.6, 1.6, share),
        ),
        height_m: t.si(
            &key("height_mm"),
            given.and_then(|z| z.height_mm.as_ref()),
            about(height, 0.9, 1.1, share),
        ),
    }
}
