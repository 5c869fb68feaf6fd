//! Figures over all parts at once: what people decide on, made from the figures part by part.

use super::findings::{Figure, Margin};

/// What a margin of an exhaust part's own metal is called.
pub(super) const METAL: &str = "metal, scaling in air";
/// What a margin of a part near the heat is called.
pub(super) const NEARBY: &str = "nearby part";
/// Where of these figures.
pub const EVERYWHERE: &str = "all";

/// How values become one.
enum Of {
    Largest,
    Sum,
}

/// Id, label, unit, id of the figures it is made from, how.
const FROM_FIGURES: [(&str, &str, &str, &str, Of); 6] = [
    (
        "bay_air_hottest_c",
        "bay air, hottest zone, peak",
        "degC",
        "bay_air_peak_c",
        Of::Largest,
    ),
    (
        "skin_hottest_c",
        "skin, hottest part, peak",
        "degC",
        "skin_peak_c",
        Of::Largest,
    ),
    (
        "metal_hottest_c",
        "metal, hottest spot of all parts, peak",
        "degC",
        "metal_hot_spot_c",
        Of::Largest,
    ),
    (
        "gas_speed_fastest_m_s",
        "gas speed, fastest part, peak",
        "m/s",
        "gas_speed_peak_m_s",
        Of::Largest,
    ),
    (
        "pressure_drop_all_kpa",
        "gas pressure drop by wall friction, all parts, peak",
        "kPa",
        "pressure_drop_peak_kpa",
        Of::Sum,
    ),
    (
        "time_to_touch_longest_min",
        "from key-off until every skin can be touched",
        "min",
        "time_to_touch_min",
        Of::Largest,
    ),
];

/// The figures over all parts.
pub(super) fn overview(figures: &[Figure], margins: &[Margin]) -> Vec<Figure> {
    let mut out = Vec::new();
    let mut add = |id: &str, label: &str, unit: &str, value: f64| {
        out.push(Figure {
            id: id.into(),
            label: label.into(),
            place: EVERYWHERE.into(),
            unit: unit.into(),
            value,
            low: None,
            high: None,
            median: None,
        });
    };
    let lost = figures
        .iter()
        .find(|f| f.id == "power_loss_percent" && f.place == "density");
    if let Some(lost) = lost {
        let label = "power kept of what outside air would give, by density, mean, engine on";
        add("power_kept_percent", label, "%", 100.0 - lost.value);
    }
    for (id, label, unit, from, of) in FROM_FIGURES {
        let values = figures.iter().filter(|f| f.id == from).map(|f| f.value);
        let value = match of {
            Of::Largest => values.reduce(f64::max),
            Of::Sum => values.reduce(|a, b| a + b),
        };
        if let Some(value) = value {
            add(id, label, unit, value);
        }
    }
    for (id, label, what) in [
        (
            "neighbour_margin_least_k",
            "least room of the nearby parts",
            NEARBY,
        ),
        (
            "metal_margin_least_k",
            "least room of the exhaust's metals",
            METAL,
        ),
    ] {
        let own = margins.iter().filter(|m| m.what == what);
        if let Some(least) = own.map(|m| m.margin_k).reduce(f64::min) {
            add(id, label, "K", least);
        }
    }
    out
}
