//! Units in key names: what `_mm` means in SI, and the slips people make with it.

/// A unit that a key name ends with.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Unit {
    suffix: &'static str,
    /// Symbol for messages.
    pub symbol: &'static str,
    /// SI value = factor * (value + offset).
    factor: f64,
    offset: f64,
    slips: &'static [Slip],
}

/// A foreign unit: name, scale and shift that turn it into the key's unit.
type Slip = (&'static str, f64, f64);

const fn unit(suffix: &'static str, symbol: &'static str) -> Unit {
    Unit {
        suffix,
        symbol,
        factor: 1.0,
        offset: 0.0,
        slips: &[],
    }
}

const fn scaled(
    suffix: &'static str,
    symbol: &'static str,
    factor: f64,
    slips: &'static [Slip],
) -> Unit {
    Unit {
        suffix,
        symbol,
        factor,
        offset: 0.0,
        slips,
    }
}

const PERCENT: Slip = ("percent", 0.01, 0.0);

/// Longest suffix first, so that `_m3_s` isn't taken for `_s`.
const UNITS: &[Unit] = &[
    scaled(
        "kmh_per_1000_rpm",
        "km/h",
        1.0 / 3600.0,
        &[("mph", 1.609_344, 0.0)],
    ),
    scaled("_percent", "%", 0.01, &[("a share", 100.0, 0.0)]),
    unit("_w_mk2", "W/m/K2"),
    unit("_w_m2k", "W/m2/K"),
    unit("_j_kgk", "J/kg/K"),
    scaled("_kg_m3", "kg/m3", 1.0, &[("g/cm3", 1000.0, 0.0)]),
    scaled("_m3_s", "m3/s", 1.0, &[("m3/h", 1.0 / 3600.0, 0.0)]),
    unit("_w_mk", "W/m/K"),
    unit("_w_m2", "W/m2"),
    unit("_w_k", "W/K"),
    scaled("_m_s", "m/s", 1.0, &[("km/h", 1.0 / 3.6, 0.0)]),
    scaled("_g_s", "g/s", 1e-3, &[("kg/s", 1000.0, 0.0)]),
    scaled("_cm2", "cm2", 1e-4, &[("m2", 1e4, 0.0), ("mm2", 0.01, 0.0)]),
    scaled(
        "_kpa",
        "kPa",
        1e3,
        &[
            ("bar", 100.0, 0.0),
            ("psi", 6.894_757, 0.0),
            ("pa", 1e-3, 0.0),
        ],
    ),
    scaled("_rpm", "rpm", 1.0, &[("thousands", 1000.0, 0.0)]),
    scaled(
        "_mm",
        "mm",
        1e-3,
        &[("m", 1000.0, 0.0), ("cm", 10.0, 0.0), ("in", 25.4, 0.0)],
    ),
    scaled("_m2", "m2", 1.0, &[("cm2", 1e-4, 0.0)]),
    scaled(
        "_kg",
        "kg",
        1.0,
        &[("g", 1e-3, 0.0), ("lb", 0.453_592_37, 0.0)],
    ),
    scaled(
        "_kw",
        "kW",
        1e3,
        &[("w", 1e-3, 0.0), ("hp", 0.745_7, 0.0), ("ps", 0.735_5, 0.0)],
    ),
    scaled("_nm", "N m", 1.0, &[("lbft", 1.355_818, 0.0)]),
    scaled("_pa", "Pa", 1.0, &[("kpa", 1000.0, 0.0)]),
    unit("_w", "W"),
    scaled("_l", "l", 1e-3, &[("cc", 1e-3, 0.0), ("m3", 1000.0, 0.0)]),
    unit("_s", "s"),
    unit("_k", "K"),
    Unit {
        suffix: "_c",
        symbol: "C",
        factor: 1.0,
        offset: 273.15,
        slips: &[("k", 1.0, -273.15), ("f", 1.0 / 1.8, -32.0 / 1.8)],
    },
];

const SHARE: Unit = Unit {
    suffix: "",
    symbol: "",
    factor: 1.0,
    offset: 0.0,
    slips: &[PERCENT],
};

/// The unit that the last part of a key path names; a key without one is a plain ratio.
pub(crate) fn unit_of(key: &str) -> Unit {
    let last = key.rsplit('.').next().unwrap_or(key);
    let last = last.split('[').next().unwrap_or(last);
    UNITS
        .iter()
        .find(|u| last.ends_with(u.suffix))
        .copied()
        .unwrap_or(SHARE)
}

/// A value in the unit of its key, in SI.
pub(crate) fn to_si(key: &str, value: f64) -> f64 {
    let unit = unit_of(key);
    unit.factor * (value + unit.offset)
}

/// Four significant digits are enough to recognise one's own number.
pub(crate) fn short(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return format!("{value}");
    }
    // Beyond 300 digits the scale itself would not be finite.
    let digits = (3 - value.abs().log10().floor() as i32).clamp(-300, 300);
    let scale = 10f64.powi(digits);
    format!("{}", (value * scale).round() / scale)
}

/// A hint for a value outside its limits that fits if it was written in another unit.
pub(crate) fn slip_hint(key: &str, value: f64, min: f64, max: f64) -> Option<String> {
    let unit = unit_of(key);
    // Plain counts have no unit either, but are never percentages.
    let slips = if unit.suffix.is_empty() && max > 1.0 {
        &[]
    } else {
        unit.slips
    };
    slips.iter().find_map(|(foreign, scale, shift)| {
        let meant = value * scale + shift;
        (min..=max).contains(&meant).then(|| {
            let (meant, space) = (short(meant), if unit.symbol.is_empty() { "" } else { " " });
            let written = short(value);
            format!(
                "{meant}{space}{}? (if {written} is in {foreign})",
                unit.symbol
            )
        })
    })
}

/// For an unknown key with a foreign unit or none, such as `bore_m`, `power_hp` or `humidity`: the
/// known key that has the right unit, and the factor and shift from one to the other.
pub(crate) fn foreign_key<'a>(
    written: &str,
    mut known: impl Iterator<Item = &'a str>,
) -> Option<(&'a str, f64, f64)> {
    known.find_map(|key| {
        let unit = unit_of(key);
        let stem = key.strip_suffix(unit.suffix)?;
        let end = written.strip_prefix(stem)?;
        if end.is_empty() {
            return Some((key, 1.0, 0.0));
        }
        let end = end.strip_prefix('_')?;
        let same = |name: &str| {
            name == end
                || (name == "in" && (end == "inch" || end == "inches"))
                || (name == "lb" && end == "lbs")
                || (name == "lbft" && end == "ft_lb")
                || (name == "cc" && end == "cm3")
        };
        let slip = unit.slips.iter().find(|(name, _, _)| same(name))?;
        Some((key, slip.1, slip.2))
    })
}
