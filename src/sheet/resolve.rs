//! Chooses one value for each number of a sheet, and keeps the books on what was assumed.
//!
//! The same code settles the likely build and every draw, so both have the same defaults. A
//! ranged number is taken as triangular: zero at `low` and `high`, its mode at `likely`.

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};

use super::check::Places;
use super::input::Input;
use super::problem::Problem;
use super::units::{short, to_si};

/// A value that the sheet left out.
#[derive(Debug, Clone, PartialEq)]
pub struct AssumedValue {
    /// Key path.
    pub key: String,
    /// Value taken, in the key's own unit.
    pub value: f64,
    /// Low end of the range.
    pub low: f64,
    /// High end of the range.
    pub high: f64,
    /// Why this value.
    pub basis: String,
}

/// A choice that isn't a number and that the sheet left out, such as a material.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AssumedChoice {
    /// Key path.
    pub key: String,
    /// Taken instead.
    pub value: String,
    /// Why.
    pub basis: String,
}

/// A number with a range, from the sheet or from a default, in the key's own unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Uncertain {
    /// Key path.
    pub key: String,
    /// Low end.
    pub low: f64,
    /// Mode.
    pub likely: f64,
    /// High end.
    pub high: f64,
}

/// How a ranged number becomes one value.
pub enum Chooser<'a> {
    /// The likely value.
    Likely,
    /// The quantile in 0..=1 that the closure gives for the key path.
    Draw(Box<dyn FnMut(&str) -> f64 + 'a>),
    /// Values by key path, in the key's own unit; likely values elsewhere. For fits.
    Given(&'a BTreeMap<String, f64>),
}

/// Quantile of the triangular distribution on `low..=high` with its mode at `likely`.
///
/// Source: inverse of the textbook distribution function, F = (x - low)^2 / ((high - low)
/// (likely - low)) up to the mode.
///
/// - `q`: quantile, clamped to 0..=1 [-]
#[must_use]
pub fn triangular_quantile(low: f64, likely: f64, high: f64, q: f64) -> f64 {
    let width = high - low;
    if width <= 0.0 || !q.is_finite() {
        return likely;
    }
    let q = q.clamp(0.0, 1.0);
    if q * width <= likely - low {
        low + (q * width * (likely - low)).sqrt()
    } else {
        high - ((1.0 - q) * width * (high - likely)).sqrt()
    }
}

/// A default with its range and where it comes from.
#[derive(Debug, Clone)]
pub(crate) struct Guess {
    low: f64,
    likely: f64,
    high: f64,
    basis: Cow<'static, str>,
}

/// A default with its range, in the key's own unit.
pub(crate) fn guess(
    low: f64,
    likely: f64,
    high: f64,
    basis: impl Into<Cow<'static, str>>,
) -> Guess {
    Guess {
        low,
        likely,
        high,
        basis: basis.into(),
    }
}

/// A default without a range.
pub(crate) fn fixed(value: f64, basis: impl Into<Cow<'static, str>>) -> Guess {
    guess(value, value, value, basis)
}

/// A default with a range in proportion.
pub(crate) fn about(
    likely: f64,
    low_factor: f64,
    high_factor: f64,
    basis: impl Into<Cow<'static, str>>,
) -> Guess {
    guess(likely * low_factor, likely, likely * high_factor, basis)
}

impl Guess {
    /// Keeps the range inside what makes sense.
    pub(crate) fn within(mut self, min: f64, max: f64) -> Self {
        self.low = self.low.max(min).min(max);
        self.likely = self.likely.max(min).min(max);
        self.high = self.high.max(min).min(max);
        self
    }
}

/// Reads numbers through a [`Chooser`] and records ranges, assumptions and problems.
pub(crate) struct Taker<'c, 'a> {
    chooser: &'c mut Chooser<'a>,
    places: &'c Places,
    /// Keys that are known to be wrong: what follows from them is no news.
    faulty: BTreeSet<String>,
    /// Assumed numbers.
    pub assumed: Vec<AssumedValue>,
    /// Assumed choices.
    pub choices: Vec<AssumedChoice>,
    /// Ranged numbers.
    pub uncertain: Vec<Uncertain>,
    /// Problems that need more than one key to see.
    pub problems: Vec<Problem>,
}

impl<'c, 'a> Taker<'c, 'a> {
    pub(crate) fn new(chooser: &'c mut Chooser<'a>, places: &'c Places, known: &[Problem]) -> Self {
        Self {
            chooser,
            places,
            faulty: known.iter().map(|p| p.key.clone()).collect(),
            assumed: Vec::new(),
            choices: Vec::new(),
            uncertain: Vec::new(),
            problems: Vec::new(),
        }
    }

    /// A number in the key's own unit.
    pub(crate) fn take(&mut self, key: &str, input: Option<&Input>, default: Guess) -> f64 {
        let range = match input {
            Some(input) => *input,
            None => Input {
                low: default.low,
                likely: default.likely,
                high: default.high,
            },
        };
        let value = self.choose(key, range);
        if input.is_none() {
            self.assumed.push(AssumedValue {
                key: key.to_owned(),
                value,
                low: range.low,
                high: range.high,
                basis: default.basis.into_owned(),
            });
        }
        value
    }

    /// A number that the sheet must have, in the key's own unit.
    pub(crate) fn given(&mut self, key: &str, input: &Input) -> f64 {
        self.choose(key, *input)
    }

    fn choose(&mut self, key: &str, range: Input) -> f64 {
        let Input { low, likely, high } = range;
        if range.is_range() {
            self.uncertain.push(Uncertain {
                key: key.to_owned(),
                low,
                likely,
                high,
            });
        }
        match &mut *self.chooser {
            Chooser::Likely => likely,
            Chooser::Draw(quantile) if range.is_range() => {
                triangular_quantile(low, likely, high, quantile(key))
            }
            Chooser::Draw(_) => likely,
            Chooser::Given(values) => match values.get(key) {
                Some(v) if v.is_finite() => *v,
                Some(v) => {
                    let v = *v;
                    self.problem(key, "is not a finite number", "finite", format!("got {v}"));
                    likely
                }
                None => likely,
            },
        }
    }

    /// [`Self::take`] in SI, by the unit in the key's name.
    pub(crate) fn si(&mut self, key: &str, input: Option<&Input>, default: Guess) -> f64 {
        to_si(key, self.take(key, input, default))
    }

    /// [`Self::given`] in SI.
    pub(crate) fn given_si(&mut self, key: &str, input: &Input) -> f64 {
        to_si(key, self.given(key, input))
    }

    /// A choice that isn't a number.
    pub(crate) fn choice<T>(&mut self, key: &str, given: Option<T>, default: (T, &str, &str)) -> T {
        given.unwrap_or_else(|| {
            self.choices.push(AssumedChoice {
                key: key.to_owned(),
                value: default.1.to_owned(),
                basis: default.2.to_owned(),
            });
            default.0
        })
    }

    /// Whether none of these keys, nor one below them, is known to be wrong by itself.
    pub(crate) fn sound(&self, keys: &[&str]) -> bool {
        let below = |faulty: &str, key: &str| {
            let rest = faulty.strip_prefix(key);
            rest.is_some_and(|r| r.is_empty() || r.starts_with(['.', '[']))
        };
        !self
            .faulty
            .iter()
            .any(|f| keys.iter().any(|key| below(f, key)))
    }

    /// Records a problem at `key`, or at the nearest key above it that the sheet has.
    pub(crate) fn problem(&mut self, key: &str, message: &str, limit: &str, hint: String) {
        if self.faulty.contains(key) {
            return;
        }
        let mut above = key;
        let exact = self.places.get(key);
        let place = loop {
            if let Some(place) = self.places.get(above) {
                break place.clone();
            }
            match above.rfind(['.', '[']) {
                Some(end) => above = &above[..end],
                None => {
                    break super::check::Place {
                        line: 1,
                        column: 1,
                        value: String::new(),
                    };
                }
            }
        };
        self.problems.push(Problem {
            line: place.line,
            column: place.column,
            key: key.to_owned(),
            value: exact.map(|p| p.value.clone()).unwrap_or_default(),
            limit: limit.to_owned(),
            message: message.to_owned(),
            hint,
        });
    }

    /// Refuses `lower` reaching up to `upper` at any end of their ranges.
    pub(crate) fn must_be_below(&mut self, lower: (&str, f64), upper: (&str, f64)) {
        let range = |taker: &Self, (key, value): (&str, f64), high: bool| {
            let found = taker.uncertain.iter().find(|u| u.key == key);
            found.map_or(value, |u| if high { u.high } else { u.low })
        };
        let (a, b) = (range(self, lower, true), range(self, upper, false));
        if a >= b && self.sound(&[lower.0, upper.0]) {
            let name = upper.0.rsplit('.').next().unwrap_or(upper.0);
            let message = format!("must be below {name}, which is {}", short(b));
            let key = if self.places.contains_key(lower.0) {
                lower.0
            } else {
                upper.0
            };
            let message = if key == lower.0 {
                message
            } else {
                let name = lower.0.rsplit('.').next().unwrap_or(lower.0);
                format!("must be above {name}, which is {}", short(a))
            };
            let hint = "compare the far ends of the two ranges, or give both keys".to_owned();
            self.problem(key, &message, &short(b), hint);
        }
    }
}
