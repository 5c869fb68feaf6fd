//! What a comparison says: the rows people decide on and the decision in words, shared by screen,
//! page and pictures.

use crate::quantity::{Quantity, Units};
use crate::study::compare::{Comparison, Difference, OptionResult, Over, SIGN_KNOWN_PERCENT};

/// Which way is good.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Good {
    Less,
    More,
    /// Depends on what is asked.
    Either,
}

/// A figure that people decide on.
pub(super) struct Row {
    pub id: &'static str,
    pub place: &'static str,
    pub label: &'static str,
    pub quantity: Quantity,
    /// Its unit in that of the quantity.
    pub scale: f64,
    pub good: Good,
}

const fn row(
    id: &'static str,
    place: &'static str,
    label: &'static str,
    quantity: Quantity,
    good: Good,
) -> Row {
    Row {
        id,
        place,
        label,
        quantity,
        scale: 1.0,
        good,
    }
}

/// The rows, in the order of the page.
pub(super) const ROWS: [Row; 16] = {
    use Good::{Either, Less, More};
    use Quantity::{AirSpeed, Difference, Heat, Minutes, Percent, Pressure, Temperature};
    [
        row(
            "intake_rise_mean_k",
            "sensor",
            "intake rise, mean",
            Difference,
            Less,
        ),
        row(
            "intake_rise_peak_k",
            "sensor",
            "intake rise, peak",
            Difference,
            Less,
        ),
        row("power_kept_percent", "all", "power kept", Percent, More),
        row("heat_to_bay_mean_w", "all", "heat to bay", Heat, Less),
        row(
            "heat_to_bay_convection_mean_w",
            "all",
            "by convection",
            Heat,
            Less,
        ),
        row(
            "heat_to_bay_radiation_mean_w",
            "all",
            "by radiation",
            Heat,
            Less,
        ),
        row(
            "bay_air_hottest_c",
            "all",
            "hottest bay zone",
            Temperature,
            Less,
        ),
        row(
            "neighbour_margin_least_k",
            "all",
            "least room nearby",
            Difference,
            More,
        ),
        row("skin_hottest_c", "all", "hottest skin", Temperature, Less),
        row("metal_hottest_c", "all", "hottest metal", Temperature, Less),
        row(
            "metal_margin_least_k",
            "all",
            "least room of metal",
            Difference,
            More,
        ),
        row(
            "turbine_inlet_mean_c",
            "turbine",
            "gas into turbine",
            Temperature,
            Either,
        ),
        Row {
            scale: 1e3,
            ..row(
                "turbine_enthalpy_mean_kw",
                "turbine",
                "turbine gas enthalpy",
                Heat,
                More,
            )
        },
        row(
            "gas_speed_fastest_m_s",
            "all",
            "gas speed, peak",
            AirSpeed,
            Either,
        ),
        row(
            "pressure_drop_all_kpa",
            "all",
            "pressure drop, peak",
            Pressure,
            Less,
        ),
        row(
            "time_to_touch_longest_min",
            "all",
            "until touchable",
            Minutes,
            Less,
        ),
    ]
};

/// A small measure of the same thing in each unit: what is smaller is not worth words.
fn least_worth_saying(unit: &str) -> f64 {
    match unit {
        "W" => 5.0,
        "%" => 0.05,
        _ => 0.1,
    }
}

impl Row {
    /// The quantity of a difference: one of temperatures has no offset.
    pub(super) fn of_difference(&self) -> Quantity {
        match self.quantity {
            Quantity::Temperature => Quantity::Difference,
            other => other,
        }
    }

    pub(super) fn value(&self, option: &OptionResult) -> Option<f64> {
        let found = option.figures.iter();
        let mut found = found.filter(|f| f.id == self.id && f.place == self.place);
        found.next().map(|f| f.value * self.scale)
    }

    /// The band of the value itself.
    pub(super) fn band(&self, option: &OptionResult) -> Option<(f64, f64)> {
        let found = option.figures.iter();
        let mut found = found.filter(|f| f.id == self.id && f.place == self.place);
        let figure = found.next()?;
        Some((figure.low? * self.scale, figure.high? * self.scale))
    }

    pub(super) fn difference<'c>(
        &self,
        comparison: &'c Comparison,
        option: &str,
    ) -> Option<&'c Difference> {
        let mut found = comparison.differences.iter();
        found.find(|d| d.option == option && d.id == self.id && d.place == self.place)
    }

    /// Label with unit.
    pub(super) fn title(&self, units: Units) -> String {
        format!("{}, {}", self.label, self.quantity.unit(units))
    }

    /// A difference with its sign.
    pub(super) fn signed(&self, value: f64, units: Units) -> String {
        signed(self.of_difference(), value * self.scale, units)
    }

    /// A band of a difference.
    pub(super) fn span(&self, low: f64, high: f64, units: Units) -> String {
        let q = self.of_difference();
        let number = |v: f64| q.number(v * self.scale, units);
        format!("{} to {}", number(low), number(high))
    }
}

/// A number with its sign, nothing without one.
fn signed(quantity: Quantity, value: f64, units: Units) -> String {
    let text = quantity.number(value, units);
    if value > 0.0 && !is_nothing(&text) {
        format!("+{text}")
    } else {
        text
    }
}

/// Whether rounding has left nothing of a number, or of both ends of a band.
pub(super) fn is_nothing(text: &str) -> bool {
    !text.bytes().any(|b| b.is_ascii_digit() && b != b'0')
}

/// The likely price.
pub(super) fn price(option: &OptionResult) -> String {
    let c = &option.cost;
    if c.price_high <= 0.0 {
        "0".into()
    } else {
        format!("{:.0}", c.price)
    }
}

/// An excess in words.
pub(super) fn excess(over: &Over, units: Units) -> String {
    let temp = |c| Quantity::Temperature.show(c, units);
    let chance = over.chance_percent;
    let chance = chance.map_or_else(String::new, |c| format!(", in {c:.0} % of draws"));
    format!(
        "{} {} ({}): {} where {} is the limit{chance}",
        over.part,
        over.verdict.words(),
        over.what,
        temp(over.peak_c),
        temp(over.limit_c)
    )
}

/// What an option costs and does, in a few words.
fn gain(row: &Row, d: &Difference, option: &OptionResult, units: Units) -> String {
    let unit = row.of_difference().unit(units);
    let band = match (d.low, d.high) {
        (Some(low), Some(high)) => format!(" ({})", row.span(low, high, units)),
        _ => String::new(),
    };
    let sure = match d.sign_chance_percent {
        Some(c) if c < SIGN_KNOWN_PERCENT => ", but the draws don't agree on the sign",
        _ => "",
    };
    format!(
        "{}: {} {unit}{band}, {} EUR{sure}",
        option.name,
        row.signed(d.value, units),
        price(option)
    )
}

/// The option that does most for a row without pushing anything over a limit.
fn best<'c>(row: &Row, comparison: &'c Comparison) -> Option<(&'c OptionResult, &'c Difference)> {
    let better = |d: &Difference| {
        if row.good == Good::More {
            d.value
        } else {
            -d.value
        }
    };
    let others = comparison.options.iter().skip(1);
    others
        .filter(|o| o.over.iter().all(|over| !over.verdict.is_harm()))
        .filter_map(|o| Some((o, row.difference(comparison, &o.name)?)))
        .filter(|(_, d)| better(d) > least_worth_saying(&d.unit))
        .max_by(|a, b| better(a.1).total_cmp(&better(b.1)))
}

/// The decision: for each question the option that does most without harm.
pub(super) fn decision(comparison: &Comparison, units: Units) -> Vec<(&'static str, String)> {
    [
        ("intake", "intake_rise_mean_k"),
        ("power", "power_kept_percent"),
        ("bay", "heat_to_bay_mean_w"),
        ("nearby", "neighbour_margin_least_k"),
        ("spool", "turbine_enthalpy_mean_kw"),
    ]
    .into_iter()
    .filter_map(|(word, id)| {
        let row = ROWS.iter().find(|r| r.id == id)?;
        comparison.options[0].figures.iter().find(|f| f.id == id)?;
        let text = match best(row, comparison) {
            Some((option, d)) => gain(row, d, option, units),
            None => "no option helps without pushing something over its limit".into(),
        };
        Some((word, text))
    })
    .collect()
}

/// Harm that options do: (option, excess), and what stays over whatever is done.
pub(super) fn harms(comparison: &Comparison) -> Vec<(&str, &Over)> {
    let options = comparison.options.iter().skip(1);
    options
        .flat_map(|o| o.over.iter().map(move |over| (o.name.as_str(), over)))
        .filter(|(_, over)| over.verdict.is_harm())
        .collect()
}
