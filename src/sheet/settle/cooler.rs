//! Charge cooler.

use crate::sheet::build::{ChargeCooler, CoolerKind, Engine, Zone};
use crate::sheet::raw::{CoolerName, CoolerSheet};
use crate::sheet::resolve::{Taker, about, fixed, guess};

use super::zone_index;

/// Settles `[intake.cooler]`; none without a turbocharger.
pub(super) fn cooler(
    s: Option<&CoolerSheet>,
    engine: &Engine,
    turbo: bool,
    zones: &[Zone],
    t: &mut Taker<'_, '_>,
) -> Option<ChargeCooler> {
    if !turbo {
        if let Some(s) = s
            && s.kind != CoolerName::None
        {
            let hint = "add a [turbocharger] section, or drop the cooler".to_owned();
            t.problem(
                "intake.cooler",
                "a charge cooler without [turbocharger]",
                "",
                hint,
            );
        }
        return None;
    }
    let blank = CoolerSheet::default();
    let basis = "usual with a turbocharger; write kind = \"none\" for none";
    let kind = t.choice(
        "intake.cooler.kind",
        s.map(|s| s.kind),
        (CoolerName::Front, "front", basis),
    );
    let s = s.unwrap_or(&blank);
    let (kind, usual_zone) = match kind {
        CoolerName::Front => (CoolerKind::Front, "nose"),
        CoolerName::Top => (CoolerKind::Top, "upper"),
        CoolerName::Water => (CoolerKind::Water, "upper"),
        CoolerName::None => return None,
    };
    let key = |name: &str| format!("intake.cooler.{name}");
    let (top, water) = (kind == CoolerKind::Top, kind == CoolerKind::Water);
    for (name, given) in [
        ("water_l", s.water_l),
        ("water_radiator_w_k", s.water_radiator_w_k),
    ] {
        if !water && given.is_some() {
            let hint = "drop it, or write kind = \"water\"".to_owned();
            t.problem(&key(name), "only a water cooled one has this", "", hint);
        }
    }
    let zone = t.choice(
        &key("zone"),
        s.zone.clone(),
        (usual_zone.into(), usual_zone, "usual for this kind"),
    );
    // Coolers grow with air flow, so with power.
    let size = engine.power_w / 130e3;
    let small = if top { 0.75 } else { 1.0 };
    let scaled = |likely: f64| {
        about(
            likely * size * small,
            0.65,
            1.5,
            "usual at 130 kW, scaled by power; estimate",
        )
    };
    let water_only = |guess| {
        if water {
            guess
        } else {
            fixed(0.0, "air cooled")
        }
    };
    Some(ChargeCooler {
        kind,
        core_mass_kg: t.si(&key("core_mass_kg"), s.core_mass_kg.as_ref(), scaled(5.0)),
        charge_w_k: t.si(&key("charge_w_k"), s.charge_w_k.as_ref(), scaled(220.0)),
        air_w_k: t.si(&key("air_w_k"), s.air_w_k.as_ref(), scaled(450.0)),
        face_m2: t.si(&key("face_cm2"), s.face_cm2.as_ref(), scaled(900.0)),
        ram_share: t.take(
            &key("ram_share"),
            s.ram_share.as_ref(),
            guess(0.1, 0.2, 0.3, "behind grille or scoop; estimate"),
        ),
        still_air_m_s: t.si(
            &key("still_air_m_s"),
            s.still_air_m_s.as_ref(),
            if top {
                guess(0.1, 0.3, 0.6, "buoyancy only; estimate")
            } else {
                guess(0.3, 0.6, 1.2, "fan draw; estimate")
            },
        ),
        bay_air_share: t.take(
            &key("bay_air_share"),
            s.bay_air_share.as_ref(),
            if top {
                guess(
                    0.3,
                    0.6,
                    0.9,
                    "duct leaks and reverse flow when standing; estimate",
                )
            } else {
                fixed(0.0, "not in the bay")
            },
        ),
        water_m3: t.si(
            &key("water_l"),
            s.water_l.as_ref(),
            water_only(guess(1.5, 2.5, 4.0, "pump, hoses and radiator; estimate")),
        ),
        water_radiator_w_k: t.si(
            &key("water_radiator_w_k"),
            s.water_radiator_w_k.as_ref(),
            water_only(about(450.0 * size, 0.65, 1.5, "usual at 130 kW; estimate")),
        ),
        pressure_loss_pa: t.si(
            &key("pressure_loss_kpa"),
            s.pressure_loss_kpa.as_ref(),
            guess(4.0, 8.0, 15.0, "core and tanks at rated flow; estimate"),
        ),
        zone: zone_index(zones, &zone, &key("zone"), t),
    })
}
