//! What a column of a logger's file is: from its header words, its unit, and what its numbers can be.

use super::types::ZERO_CELSIUS_K;

/// What a column shows.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Role {
    /// Time.
    Time,
    /// Road speed.
    Speed,
    /// Engine speed.
    Rpm,
    /// Engine load, share of full load.
    Load,
    /// Manifold pressure.
    Map,
    /// Air mass flow.
    Flow,
    /// Coolant.
    Coolant,
    /// Outside air.
    Ambient,
    /// Barometer.
    Barometer,
    /// Intake air temperature sensor.
    Sensor,
    /// Oil.
    Oil,
    /// Exhaust gas into a part.
    ExhaustGas(String),
    /// Skin of a part.
    Skin(String),
    /// Air of a zone of the bay.
    Bay(String),
    /// 1 with the engine running.
    EngineOn,
    /// 1 where the intake sensor may be believed.
    SensorValid,
}

/// Physical quantity behind a role.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Quantity {
    Time,
    Speed,
    Rpm,
    Share,
    Pressure,
    Flow,
    Temperature,
    Flag,
}

/// A unit: its words, the factor and the offset to SI.
struct Unit {
    quantity: Quantity,
    words: &'static [&'static str],
    factor: f64,
    offset: f64,
}

const fn unit(
    quantity: Quantity,
    words: &'static [&'static str],
    factor: f64,
    offset: f64,
) -> Unit {
    Unit {
        quantity,
        words,
        factor,
        offset,
    }
}

/// Conversion factors: NIST SP 811 (2008), appendix B; exact, or to the digits given.
const UNITS: [Unit; 25] = [
    unit(Quantity::Time, &["s", "sec", "secs", "seconds"], 1.0, 0.0),
    unit(Quantity::Time, &["ms", "msec", "milliseconds"], 1e-3, 0.0),
    unit(Quantity::Time, &["min", "minutes"], 60.0, 0.0),
    unit(Quantity::Time, &["h", "hours"], 3600.0, 0.0),
    unit(Quantity::Speed, &["kmh", "kph", "kmph"], 1.0 / 3.6, 0.0),
    unit(Quantity::Speed, &["mph"], 0.447_04, 0.0),
    unit(Quantity::Speed, &["ms", "mps"], 1.0, 0.0),
    unit(Quantity::Rpm, &["rpm", "1min", "rev", "minute"], 1.0, 0.0),
    unit(Quantity::Share, &["percent", "pct", "%"], 0.01, 0.0),
    unit(Quantity::Pressure, &["kpa"], 1e3, 0.0),
    unit(Quantity::Pressure, &["psi", "psia"], 6_894.757, 0.0),
    unit(Quantity::Pressure, &["bar"], 1e5, 0.0),
    unit(Quantity::Pressure, &["mbar", "hpa"], 100.0, 0.0),
    unit(Quantity::Pressure, &["inhg"], 3_386.389, 0.0),
    unit(Quantity::Pressure, &["pa"], 1.0, 0.0),
    unit(Quantity::Flow, &["gs", "gsec", "gps"], 1e-3, 0.0),
    unit(Quantity::Flow, &["kgh", "kghr"], 1.0 / 3600.0, 0.0),
    unit(Quantity::Flow, &["lbmin", "lbm"], 0.453_592_37 / 60.0, 0.0),
    unit(Quantity::Flow, &["kgs"], 1.0, 0.0),
    unit(
        Quantity::Temperature,
        &["c", "degc", "celsius"],
        1.0,
        ZERO_CELSIUS_K,
    ),
    unit(
        Quantity::Temperature,
        &["f", "degf", "fahrenheit"],
        1.0 / 1.8,
        ZERO_CELSIUS_K - 32.0 / 1.8,
    ),
    unit(Quantity::Temperature, &["k", "kelvin"], 1.0, 0.0),
    unit(Quantity::Share, &["share", "fraction"], 1.0, 0.0),
    unit(Quantity::Flag, &["flag", "bool", "on"], 1.0, 0.0),
    unit(Quantity::Flow, &["mgs"], 1e-6, 0.0),
];

/// A way to SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scale {
    /// Word of the unit.
    pub(super) word: &'static str,
    factor: f64,
    offset: f64,
}

impl Scale {
    pub(super) fn si(&self, value: f64) -> f64 {
        value * self.factor + self.offset
    }
}

impl Role {
    fn quantity(&self) -> Quantity {
        match self {
            Self::Time => Quantity::Time,
            Self::Speed => Quantity::Speed,
            Self::Rpm => Quantity::Rpm,
            Self::Load => Quantity::Share,
            Self::Map | Self::Barometer => Quantity::Pressure,
            Self::Flow => Quantity::Flow,
            Self::EngineOn | Self::SensorValid => Quantity::Flag,
            Self::Coolant
            | Self::Ambient
            | Self::Sensor
            | Self::Oil
            | Self::ExhaustGas(_)
            | Self::Skin(_)
            | Self::Bay(_) => Quantity::Temperature,
        }
    }

    /// Words for it in reports.
    pub fn label(&self) -> String {
        match self {
            Self::Time => "time".into(),
            Self::Speed => "road speed".into(),
            Self::Rpm => "engine speed".into(),
            Self::Load => "engine load".into(),
            Self::Map => "manifold pressure".into(),
            Self::Flow => "air flow".into(),
            Self::Coolant => "coolant".into(),
            Self::Ambient => "outside air".into(),
            Self::Barometer => "barometer".into(),
            Self::Sensor => "intake sensor".into(),
            Self::Oil => "oil".into(),
            Self::ExhaustGas(part) => format!("gas into {part}"),
            Self::Skin(part) => format!("skin of {part}"),
            Self::Bay(zone) => format!("bay air, {zone}"),
            Self::EngineOn => "engine on".into(),
            Self::SensorValid => "intake sensor valid".into(),
        }
    }

    /// Values outside can't be, in SI. Wide enough for any road car (estimates).
    pub(super) fn plausible(&self) -> (f64, f64) {
        match self {
            Self::Time => (-1e13, 1e13),
            Self::Speed => (0.0, 125.0),
            Self::Rpm => (0.0, 20_000.0),
            Self::Load => (0.0, 1.0),
            Self::Map => (1e4, 6e5),
            Self::Barometer => (5e4, 1.1e5),
            Self::Flow => (0.0, 2.0),
            Self::Coolant => (213.0, 423.0),
            Self::Ambient => (213.0, 333.0),
            Self::Sensor => (213.0, 473.0),
            Self::Oil => (213.0, 473.0),
            Self::Bay(_) => (213.0, 523.0),
            Self::Skin(_) | Self::ExhaustGas(_) => (213.0, 1500.0),
            Self::EngineOn | Self::SensorValid => (0.0, 1.0),
        }
    }

    /// The role that a key of `[log.columns]` names, and the unit at its end.
    ///
    /// `exhaust_gas.NAME`, `skin.NAME` and `bay.NAME` take the name of a part or zone.
    pub fn from_key(key: &str) -> Option<(Self, Option<&'static str>)> {
        if let Some((kind, name)) = key.split_once('.') {
            let (name, unit) = split_unit(name, Quantity::Temperature);
            let role = match kind {
                "exhaust_gas" => Self::ExhaustGas(name.to_owned()),
                "skin" => Self::Skin(name.to_owned()),
                "bay" => Self::Bay(name.to_owned()),
                _ => return None,
            };
            return Some((role, unit));
        }
        let plain = [
            ("time", Self::Time),
            ("speed", Self::Speed),
            ("rpm", Self::Rpm),
            ("load", Self::Load),
            ("map", Self::Map),
            ("flow", Self::Flow),
            ("coolant", Self::Coolant),
            ("ambient", Self::Ambient),
            ("barometer", Self::Barometer),
            ("sensor", Self::Sensor),
            ("oil", Self::Oil),
            ("engine_on", Self::EngineOn),
            ("sensor_valid", Self::SensorValid),
        ];
        plain.into_iter().find_map(|(word, role)| {
            if key == word {
                return Some((role, None));
            }
            let unit = key.strip_prefix(word)?.strip_prefix('_')?;
            let quantity = role.quantity();
            let known = find_unit(quantity, &unit.replace('_', ""))?;
            Some((role, Some(known.words[0])))
        })
    }

    /// The role that header words suggest.
    pub(super) fn guess(header: &str) -> Option<Self> {
        let words = words(header);
        let has = |any: &[&str]| words.iter().any(|w| any.contains(&w.as_str()));
        let intake = has(&["iat", "intake", "inlet", "charge", "manifold"]);
        let warm = has(&["temp", "temperature", "c", "f", "degc", "degf", "k"]);
        if has(&["valid"]) && intake {
            return Some(Self::SensorValid);
        }
        if has(&["engine"]) && has(&["on", "running"]) {
            return Some(Self::EngineOn);
        }
        if has(&["time", "timestamp", "seconds", "elapsed"]) {
            return Some(Self::Time);
        }
        if has(&["rpm"]) || has(&["engine"]) && has(&["speed", "revs"]) {
            return Some(Self::Rpm);
        }
        if has(&["map"]) || has(&["boost"]) || intake && has(&["pressure", "kpa", "psi", "mbar"]) {
            return Some(Self::Map);
        }
        if has(&["maf", "airflow"]) || has(&["air"]) && has(&["flow", "mass"]) {
            return Some(Self::Flow);
        }
        if has(&["baro", "barometric", "barometer"]) {
            return Some(Self::Barometer);
        }
        if has(&["ect", "coolant", "clt"]) {
            return Some(Self::Coolant);
        }
        if has(&["oil"]) && warm {
            return Some(Self::Oil);
        }
        if has(&["ambient", "amb", "outside", "outdoor"]) && !has(&["pressure"]) {
            return Some(Self::Ambient);
        }
        if has(&["iat", "mat", "act"]) || intake && has(&["temp", "temperature", "air"]) {
            return Some(Self::Sensor);
        }
        if has(&["speed", "velocity", "vss", "kmh", "mph", "kph"]) {
            return Some(Self::Speed);
        }
        if has(&["load"]) {
            return Some(Self::Load);
        }
        None
    }

    /// The scale that a unit word means for this role.
    pub(super) fn scale(&self, unit: &str) -> Option<Scale> {
        find_unit(self.quantity(), unit).map(|u| scale_of(u, u.words[0]))
    }

    /// Unit from the header's own words.
    pub(super) fn unit_in(&self, header: &str) -> Option<Scale> {
        let words = words(header);
        let joined: Vec<String> = words
            .windows(2)
            .map(|w| format!("{}{}", w[0], w[1]))
            .collect();
        // what stands last names the unit; two words together (km h) before one
        joined
            .iter()
            .rev()
            .chain(words.iter().rev())
            .find_map(|w| self.scale(w))
    }

    /// Unit from the size of the numbers, where that can tell. `quantile(q)` of the values that are there.
    pub(super) fn unit_by_size(&self, quantile: &dyn Fn(f64) -> f64) -> Option<Scale> {
        let low = quantile(0.05);
        let high = quantile(0.98);
        let word = match self.quantity() {
            Quantity::Temperature if *self == Self::Coolant || *self == Self::Oil => match high {
                h if h > 273.0 => "k",
                h if h > 150.0 => "f",
                _ => "c",
            },
            Quantity::Temperature if low > 230.0 && *self != Self::Sensor => "k",
            Quantity::Temperature => "c",
            Quantity::Pressure => match quantile(0.5) {
                m if m > 2e4 => "pa",
                m if m > 600.0 => "mbar",
                m if m > 40.0 => "kpa",
                m if m > 20.0 && high < 33.0 => "inhg",
                m if m > 6.0 => "psi",
                m if m > 0.2 => "bar",
                _ => return None,
            },
            // idle draws 2 to 14 g/s (common practice, no source)
            Quantity::Flow => match low {
                l if l < 1.7 => "lbmin",
                l if l < 14.0 => "gs",
                _ => "kgh",
            },
            Quantity::Time if quantile(1.0) - quantile(0.0) > 1e5 => "ms",
            Quantity::Time => "s",
            Quantity::Speed => "kmh",
            Quantity::Rpm => "rpm",
            Quantity::Share if high > 1.5 => "percent",
            Quantity::Share => "share",
            Quantity::Flag => "flag",
        };
        self.scale(word)
    }

    /// Whether numbers alone settle the unit: pressures and rpm do, speeds don't.
    pub(super) fn size_settles(&self) -> bool {
        matches!(
            self.quantity(),
            Quantity::Pressure | Quantity::Rpm | Quantity::Flag
        )
    }
}

fn scale_of(unit: &Unit, word: &'static str) -> Scale {
    Scale {
        word,
        factor: unit.factor,
        offset: unit.offset,
    }
}

fn find_unit(quantity: Quantity, word: &str) -> Option<&'static Unit> {
    UNITS
        .iter()
        .find(|u| u.quantity == quantity && u.words.contains(&word))
}

fn split_unit(name: &str, quantity: Quantity) -> (&str, Option<&'static str>) {
    match name.rsplit_once('_') {
        Some((head, tail)) => match find_unit(quantity, tail) {
            Some(unit) => (head, Some(unit.words[0])),
            None => (name, None),
        },
        None => (name, None),
    }
}

/// Lower-case words of a header; degree signs and slashes part or vanish so that `km/h` reads `km`, `h`.
fn words(header: &str) -> Vec<String> {
    let header = header
        .replace('\u{b0}', " deg")
        .replace('%', " percent ")
        .to_lowercase();
    let mut out: Vec<String> = Vec::new();
    for word in header.split(|c: char| !c.is_alphanumeric()) {
        match word {
            "" => {}
            // "deg C" is one unit
            "c" | "f" if out.last().is_some_and(|w| w == "deg") => {
                out.pop();
                out.push(format!("deg{word}"));
            }
            _ => out.push(word.to_owned()),
        }
    }
    out
}
