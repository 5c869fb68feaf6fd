//! Reads `data/reference/*.toml` and compares.

use serde::Deserialize;
use std::collections::BTreeMap;

/// An input of a check: a number or a name.
#[derive(Debug, Clone, Deserialize)]
#[serde(untagged)]
enum Input {
    Number(f64),
    Name(String),
}

/// One published value.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Check {
    pub call: String,
    inputs: BTreeMap<String, Input>,
    value: String,
    unit: String,
    source: String,
    tolerance_percent: Option<f64>,
    why: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    check: Vec<Check>,
}

impl Check {
    pub fn number(&self, name: &str) -> f64 {
        match self.inputs.get(name) {
            Some(Input::Number(x)) => *x,
            other => panic!("{}: input {name} is {other:?}", self.call),
        }
    }

    pub fn name(&self, name: &str) -> &str {
        match self.inputs.get(name) {
            Some(Input::Name(x)) => x,
            other => panic!("{}: input {name} is {other:?}", self.call),
        }
    }

    /// Absolute tolerance: the entry's own, or half of the last printed digit.
    fn tolerance(&self) -> Result<f64, String> {
        let value: f64 = self
            .value
            .parse()
            .map_err(|e| format!("{}: {e}", self.value))?;
        let tolerance = match (self.tolerance_percent, &self.why) {
            (Some(percent), Some(_)) => percent / 100.0 * value.abs(),
            (None, None) => half_last_digit(&self.value)?,
            _ => return Err("tolerance_percent and why go together".to_owned()),
        };
        // Half the value is already far from letting 0 or twice the value through.
        if tolerance.is_nan() || tolerance <= 0.0 || tolerance >= 0.5 * value.abs() {
            return Err(format!("tolerance {tolerance} of {value} checks nothing"));
        }
        if self.source.trim().is_empty() || self.unit.is_empty() {
            return Err("no source or unit".to_owned());
        }
        Ok(tolerance)
    }

    fn compare(&self, got: f64) -> Result<(), String> {
        let tolerance = self.tolerance()?;
        let value: f64 = self.value.parse().map_err(|e| format!("{e}"))?;
        // The slack covers the rounding of the decimal fraction itself.
        if (got - value).abs() <= tolerance * (1.0 + 1e-9) {
            Ok(())
        } else {
            Err(format!(
                "{} {:?}: got {got}, published {} {} within {tolerance} ({})",
                self.call, self.inputs, self.value, self.unit, self.source
            ))
        }
    }
}

fn half_last_digit(printed: &str) -> Result<f64, String> {
    let (mantissa, exponent) = match printed.split_once(['e', 'E']) {
        Some((m, e)) => (m, e.parse::<i32>().map_err(|e| format!("{printed}: {e}"))?),
        None => (printed, 0),
    };
    let decimals = mantissa.split_once('.').map_or(0, |(_, d)| d.len()) as i32;
    let digits = mantissa
        .chars()
        .filter(char::is_ascii_digit)
        .skip_while(|&c| c == '0')
        .count();
    if digits < 2 {
        return Err(format!("{printed}: fewer than two significant digits"));
    }
    Ok(0.5 * 10f64.powi(exponent - decimals))
}

/// Runs every check of a file through `evaluate` and reports all misses together.
pub fn run(file: &str, evaluate: impl Fn(&Check) -> f64) {
    let path = format!("{}/data/reference/{file}", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{file}: {e}"));
    let file: File = toml::from_str(&text).unwrap_or_else(|e| panic!("{file}: {e}"));
    assert!(!file.check.is_empty());
    let misses: Vec<String> = file
        .check
        .iter()
        .filter_map(|c| c.compare(evaluate(c)).err())
        .collect();
    assert!(misses.is_empty(), "{}", misses.join("\n"));
}

fn entry(value: &str, tolerance_percent: Option<f64>) -> Check {
    Check {
        call: "f".to_owned(),
        inputs: BTreeMap::new(),
        value: value.to_owned(),
        unit: "-".to_owned(),
        source: "test".to_owned(),
        tolerance_percent,
        why: tolerance_percent.map(|_| "test".to_owned()),
    }
}

#[test]
fn tolerance_comes_from_the_printed_digits() {
    assert!(entry("40.6", None).compare(40.649).is_ok());
    assert!(entry("40.6", None).compare(40.651).is_err());
    assert!(entry("1.20e-5", None).compare(1.2049e-5).is_ok());
    assert!(entry("1.20e-5", None).compare(1.2051e-5).is_err());
    assert!(entry("36744", None).compare(f64::NAN).is_err());
}

#[test]
fn a_tolerance_that_checks_nothing_is_refused() {
    for bad in [
        entry("5.0", Some(100.0)),
        entry("5.0", Some(60.0)),
        entry("5", None),
        entry("0.0", None),
        entry("0.00", Some(1.0)),
    ] {
        assert!(bad.compare(5.0).is_err(), "{bad:?}");
    }
    let mut silent = entry("5.0", Some(1.0));
    silent.why = None;
    assert!(silent.compare(5.0).is_err());
}
