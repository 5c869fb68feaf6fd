//! Panels around the bay.

use crate::materials::Finish;
use crate::sheet::build::{Panel, PanelSide, Zone};
use crate::sheet::raw::{PanelSheet, SideName};
use crate::sheet::resolve::{Taker, about, fixed, guess};

use super::layout::Size;
use super::{find_metal, zone_index};

/// A usual panel: name, area [m2] from the bay's size, thickness [mm], material, zone, side.
struct UsualPanel {
    name: &'static str,
    area: fn(Size) -> f64,
    thickness_mm: f64,
    metal: &'static str,
    zone: &'static str,
    side: SideName,
}

const PANELS: [UsualPanel; 4] = [
    UsualPanel {
        name: "bonnet",
        area: |b| 1.15 * b.length_m * b.width_m,
        thickness_mm: 0.8,
        metal: super::SHEET_STEEL,
        zone: "upper",
        side: SideName::Sky,
    },
    UsualPanel {
        name: "bulkhead",
        area: |b| 0.8 * b.width_m * b.height_m,
        thickness_mm: 1.0,
        metal: super::SHEET_STEEL,
        zone: "hot",
        side: SideName::Cabin,
    },
    UsualPanel {
        name: "undertray",
        area: |b| 0.6 * b.length_m * b.width_m,
        thickness_mm: 3.0,
        metal: super::PLASTIC,
        zone: "low",
        side: SideName::Road,
    },
    UsualPanel {
        name: "inner wings",
        area: |b| 1.2 * b.length_m * b.height_m,
        thickness_mm: 0.8,
        metal: super::SHEET_STEEL,
        zone: "upper",
        side: SideName::Side,
    },
];

pub(super) fn panels(
    given: &[PanelSheet],
    size: Size,
    zones: &[Zone],
    t: &mut Taker<'_, '_>,
) -> Vec<Panel> {
    let mut panels = Vec::new();
    for usual in &PANELS {
        panels.extend(panel(
            given.iter().find(|p| p.name == usual.name),
            usual,
            size,
            zones,
            t,
        ));
    }
    for s in given
        .iter()
        .filter(|p| PANELS.iter().all(|u| u.name != p.name))
    {
        if s.area_m2.is_none() || s.zone.is_none() {
            let names: Vec<&str> = PANELS.iter().map(|u| u.name).collect();
            let hint = format!("or adjust a default one: {}", names.join(", "));
            let path = format!("bay.panel[{}]", s.name);
            t.problem(&path, "a new panel needs area_m2 and zone", "", hint);
            continue;
        }
        let spare = UsualPanel {
            name: "",
            area: |_| 0.1,
            ..PANELS[3]
        };
        panels.extend(panel(Some(s), &spare, size, zones, t));
    }
    panels
}

fn panel(
    s: Option<&PanelSheet>,
    usual: &UsualPanel,
    size: Size,
    zones: &[Zone],
    t: &mut Taker<'_, '_>,
) -> Option<Panel> {
    let blank = PanelSheet {
        name: usual.name.to_owned(),
        ..PanelSheet::default()
    };
    let s = s.unwrap_or(&blank);
    let path = format!("bay.panel[{}]", s.name);
    let key = |name: &str| format!("{path}.{name}");
    let basis = "usual for this panel";
    let id = t.choice(
        &key("metal"),
        s.metal.clone(),
        (usual.metal.into(), usual.metal, basis),
    );
    let metal = find_metal(&id, &key("metal"), t);
    let zone = t.choice(
        &key("zone"),
        s.zone.clone(),
        (usual.zone.into(), usual.zone, basis),
    );
    let zone = zone_index(zones, &zone, &key("zone"), t);
    let metal = metal?;
    let side = s.side.unwrap_or(usual.side);
    let painted = super::emissivity(metal, Finish::from(super::PAINTED));
    let paint = || {
        guess(
            painted.low,
            painted.likely,
            painted.high,
            "painted or plastic surface",
        )
    };
    let cabin = if side == SideName::Cabin {
        guess(
            1.0,
            2.5,
            6.0,
            "sound insulation on the cabin side; estimate",
        )
    } else {
        fixed(0.0, "no insulation")
    };
    Some(Panel {
        name: s.name.clone(),
        area_m2: t.si(
            &key("area_m2"),
            s.area_m2.as_ref(),
            about(
                (usual.area)(size),
                0.8,
                1.2,
                "from the bay's size; estimate",
            ),
        ),
        thickness_m: t.si(
            &key("thickness_mm"),
            s.thickness_mm.as_ref(),
            about(usual.thickness_mm, 0.85, 1.25, "common practice, no source"),
        ),
        metal,
        emissivity_in: t.take(&key("emissivity_in"), s.emissivity_in.as_ref(), paint()),
        emissivity_out: t.take(&key("emissivity_out"), s.emissivity_out.as_ref(), paint()),
        sun_absorptivity: t.take(
            &key("sun_absorptivity"),
            s.sun_absorptivity.as_ref(),
            guess(0.3, 0.7, 0.95, "white to black paint; estimate"),
        ),
        zone,
        side: match side {
            SideName::Sky => PanelSide::Sky,
            SideName::Road => PanelSide::Road,
            SideName::Side => PanelSide::Side,
            SideName::Cabin => PanelSide::Cabin,
        },
        cabin_w_m2k: t.si(&key("cabin_w_m2k"), s.cabin_w_m2k.as_ref(), cabin),
    })
}
