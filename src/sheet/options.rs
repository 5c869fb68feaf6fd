//! Options: what could be done to the car, to be compared with what it is.

use std::collections::BTreeMap;
use std::ops::Range;

use schemars::JsonSchema;
use serde::Deserialize;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::check::place_in;
use super::cost::{Cost, Fitted, Price};
use super::input::Input;
use super::measures::{Measure, measure, measures};
use super::patch;
use super::problem::{Problem, mean_or_list};
use super::raw::Age;

/// Name of the option that changes nothing.
pub const AS_IT_IS: &str = "as it is";

/// One thing to do, or several together, `[[option]]`.
///
/// ```
/// use baysoak::sheet::{Chooser, OptionSpec, builtin};
///
/// let sheet = builtin("demo")?;
/// let wrapped = OptionSpec::treating("wrap", [("downpipe", "glass-wrap-2-turns")]);
/// let settled = sheet.with_option(&wrapped)?.settle(&mut Chooser::Likely)?;
/// assert!(settled.cost.price.likely > 0.0);
/// assert!(settled.cautions.iter().any(|c| c.contains("Fibres")));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Default, PartialEq, Deserialize, JsonSchema)]
pub struct OptionSpec {
    /// Name, used in reports.
    pub name: String,
    /// Exhaust part = treatment; `bare` takes off what is on it.
    #[serde(default)]
    pub treat: BTreeMap<String, String>,
    /// How long those have been in use.
    pub treatment_age: Option<Age>,
    /// Measures by name.
    #[serde(default)]
    pub measures: Vec<String>,
    /// Key path of the sheet = new value.
    #[serde(default)]
    #[schemars(with = "BTreeMap<String, serde_json::Value>")]
    pub set: BTreeMap<String, toml::Value>,
    /// Price of it all, where it is known [EUR, as an example].
    #[schemars(extend("minimum" = 0, "maximum" = 1_000_000))]
    pub price: Option<Input>,
    /// Mass that it all adds, where it is known [kg].
    #[schemars(extend("minimum" = -200, "maximum" = 200))]
    pub mass_kg: Option<Input>,
}

impl OptionSpec {
    /// An option that puts treatments on parts.
    pub fn treating<P, T>(name: &str, treat: impl IntoIterator<Item = (P, T)>) -> Self
    where
        P: Into<String>,
        T: Into<String>,
    {
        let pairs = treat.into_iter().map(|(p, t)| (p.into(), t.into()));
        Self {
            name: name.to_owned(),
            treat: pairs.collect(),
            ..Self::default()
        }
    }

    /// Whether it changes nothing.
    #[must_use]
    pub fn changes_nothing(&self) -> bool {
        self.treat.is_empty() && self.measures.is_empty() && self.set.is_empty()
    }

    fn chosen(&self) -> impl Iterator<Item = &'static Measure> {
        self.measures.iter().filter_map(|id| measure(id))
    }

    /// Dangers of its measures.
    pub(super) fn hazards(&self) -> Vec<String> {
        let all = self.chosen().flat_map(|m| &m.hazards);
        all.cloned().collect()
    }

    /// What it costs and weighs: as stated, else the sum of treatments that are new and measures.
    pub(super) fn cost(&self, fitted: &[Fitted], new_parts: &[String]) -> Cost {
        let new = || fitted.iter().filter(|f| new_parts.contains(&f.part));
        let prices = new().map(|f| f.price);
        let prices = prices.chain(self.chosen().map(|m| Price::from(&m.price_eur)));
        let masses = new().map(|f| f.mass_kg);
        let masses = masses.chain(self.chosen().map(|m| m.mass_kg.likely));
        Cost {
            price: self
                .price
                .map_or_else(|| prices.fold(Price::default(), Price::plus), Price::from),
            mass_kg: self.mass_kg.map_or_else(|| masses.sum(), |m| m.likely),
        }
    }
}

/// The sheet's options, one that changes nothing first.
pub(super) fn ordered(listed: &[OptionSpec]) -> Vec<OptionSpec> {
    let mut all = listed.to_vec();
    match all.iter().position(OptionSpec::changes_nothing) {
        Some(i) => all[..=i].rotate_right(1),
        None => all.insert(
            0,
            OptionSpec {
                name: AS_IT_IS.to_owned(),
                ..OptionSpec::default()
            },
        ),
    }
    all
}

/// Where an option and its keys stand in the text.
struct Own<'t> {
    table: Option<DeTable<'t>>,
    span: Range<usize>,
}

impl<'t> Own<'t> {
    fn find(sheet: &DeTable<'t>, name: &str) -> Self {
        let list = sheet.get("option").and_then(|v| v.get_ref().as_array());
        let entry = list.into_iter().flat_map(|l| l.iter()).find(|item| {
            let own = item.get_ref().get("name").map(Spanned::get_ref);
            own.and_then(DeValue::as_str) == Some(name)
        });
        Self {
            span: entry.map_or(0..0, Spanned::span),
            table: entry.and_then(|e| e.get_ref().as_table()).cloned(),
        }
    }

    /// Place of a key, or of one inside it.
    fn span(&self, key: &str, inner: &str) -> Range<usize> {
        let Some(value) = self.table.as_ref().and_then(|t| t.get(key)) else {
            return self.span.clone();
        };
        let inside = match value.get_ref() {
            DeValue::Table(t) => t.get(inner).map(Spanned::span),
            DeValue::Array(list) => list
                .iter()
                .find(|v| v.get_ref().as_str() == Some(inner))
                .map(Spanned::span),
            _ => None,
        };
        inside.unwrap_or_else(|| value.span())
    }
}

/// One change that an option asks for.
struct Change {
    /// Key path in the sheet.
    path: String,
    /// New value as TOML; `None` takes the key away.
    value: Option<String>,
    /// Place of what asks for it.
    span: Range<usize>,
    /// Key to name when it can't be done.
    key: String,
    /// Measure that it is part of.
    measure: Option<&'static Measure>,
}

/// The changes that an option asks for, and what is wrong with them.
pub(super) struct Changes {
    list: Vec<Change>,
    problems: Vec<Problem>,
}

impl Changes {
    /// Reads an option against the sheet that it is meant for.
    pub(super) fn of(sheet: &DeTable<'_>, option: &OptionSpec, text: &str) -> Self {
        let own = Own::find(sheet, &option.name);
        let path = format!("option[{}]", option.name);
        let mut out = Self {
            list: Vec::new(),
            problems: Vec::new(),
        };
        for id in &option.measures {
            let (span, key) = (own.span("measures", id), format!("{path}.measures"));
            match measure(id) {
                Some(measure) => out.carry_out(measure, &span, &key),
                None => {
                    let hint = mean_or_list(id, measures().iter().map(|m| m.id.as_str()));
                    out.fault(text, &key, &span, "no measure of this name", hint);
                }
            }
        }
        for (name, value) in &option.set {
            let span = own.span("set", name);
            let mut leaves = Vec::new();
            patch::leaves(name, value, &mut leaves);
            for (target, value) in leaves {
                let key = format!("{path}.set.{target}");
                let section = target.split(['.', '[']).next();
                if matches!(section, Some("option" | "cycle" | "day" | "log")) {
                    let hint = "an option changes the car, not what it is driven over".to_owned();
                    out.fault(text, &key, &span, "can't be set by an option", hint);
                    continue;
                }
                out.list.push(Change {
                    path: target,
                    value: Some(patch::written(value)),
                    span: span.clone(),
                    key,
                    measure: None,
                });
            }
        }
        let parts = names(sheet, "exhaust");
        for (part, treatment) in &option.treat {
            let (span, key) = (own.span("treat", part), format!("{path}.treat.{part}"));
            if !parts.contains(part) {
                let hint = mean_or_list(part, parts.iter().map(String::as_str));
                out.fault(text, &key, &span, "no exhaust part of this name", hint);
                continue;
            }
            let age = option.treatment_age.map(|a| patch::quoted(a.word()));
            let new = [
                ("treatment", Some(patch::quoted(treatment)), span),
                ("treatment_age", age, own.span("treatment_age", "")),
            ];
            out.list.extend(new.map(|(name, value, span)| Change {
                path: format!("exhaust[{part}].{name}"),
                value,
                span,
                key: key.clone(),
                measure: None,
            }));
        }
        out
    }

    fn carry_out(&mut self, measure: &'static Measure, span: &Range<usize>, key: &str) {
        let change = |path: &str, value: Option<String>| Change {
            path: path.to_owned(),
            value,
            span: span.clone(),
            key: key.to_owned(),
            measure: Some(measure),
        };
        self.list
            .extend(measure.clear.iter().map(|path| change(path, None)));
        for (path, value) in &measure.set {
            self.list.push(change(path, Some(patch::written(value))));
        }
    }

    fn fault(&mut self, text: &str, key: &str, span: &Range<usize>, message: &str, hint: String) {
        self.problems.push(problem(text, key, span, message, hint));
    }

    /// Makes the changes; gives all that is wrong with them.
    pub(super) fn apply<'t>(&'t self, sheet: &mut DeTable<'t>, text: &str) -> Vec<Problem> {
        let mut problems = self.problems.clone();
        let mut found: BTreeMap<&str, (usize, &Change)> = BTreeMap::new();
        for change in &self.list {
            let done = patch::put(sheet, &change.path, change.value.as_deref(), &change.span);
            match (done, change.measure) {
                (Ok(n), Some(measure)) => found.entry(&measure.id).or_insert((0, change)).0 += n,
                (Ok(0), None) if change.value.is_some() => {
                    let (message, hint) = ("picks nothing in this sheet", "look at its kinds");
                    let fault = problem(text, &change.key, &change.span, message, hint.to_owned());
                    problems.push(fault);
                }
                (Ok(_), None) => {}
                (Err(astray), _) => problems.push(problem(
                    text,
                    &change.key,
                    &change.span,
                    &astray.message,
                    astray.hint,
                )),
            }
        }
        for (id, (n, change)) in found {
            if n == 0 {
                let message = format!("{id} finds nothing to change in this sheet");
                let hint = change.measure.map_or("", |m| &m.name);
                let hint = format!("it is: {hint}");
                problems.push(problem(text, &change.key, &change.span, &message, hint));
            }
        }
        problems
    }
}

fn problem(text: &str, key: &str, span: &Range<usize>, message: &str, hint: String) -> Problem {
    let place = place_in(text, span);
    Problem {
        line: place.line,
        column: place.column,
        key: key.to_owned(),
        value: place.value,
        limit: String::new(),
        message: message.to_owned(),
        hint,
    }
}

/// Names of the entries of a list.
fn names(sheet: &DeTable<'_>, list: &str) -> Vec<String> {
    let list = sheet.get(list).and_then(|v| v.get_ref().as_array());
    let items = list.into_iter().flat_map(|l| l.iter());
    items
        .filter_map(|item| item.get_ref().get("name")?.get_ref().as_str())
        .map(str::to_owned)
        .collect()
}
