//! Findings as JSON: the same bytes for the same findings.

use serde::Serialize;

use super::ReportError;
use super::finite::check_finite;

/// `results` as indented JSON with a line end. Units are those in the ids, whatever is shown elsewhere.
///
/// # Errors
/// [`ReportError::NotFinite`] with the path of the first value that is NaN or infinite: JSON has no
/// such numbers, and null would pass for "not asked".
pub fn to_json<T: Serialize>(results: &T) -> Result<String, ReportError> {
    check_finite(results)?;
    let mut text = serde_json::to_string_pretty(results)?;
    text.push('\n');
    Ok(text)
}

/// Refuses what [`to_json`] refuses, without making the text.
///
/// # Errors
/// [`ReportError::NotFinite`] as there.
pub fn check<T: Serialize>(results: &T) -> Result<(), ReportError> {
    check_finite(results)
}

/// As [`to_json`], on one line: for what only programs read.
///
/// # Errors
/// As [`to_json`].
pub fn to_compact_json<T: Serialize>(results: &T) -> Result<String, ReportError> {
    check_finite(results)?;
    let mut text = serde_json::to_string(results)?;
    text.push('\n');
    Ok(text)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::sample::run_result;

    #[test]
    fn null_only_where_there_is_no_value() {
        let text = to_json(&run_result().findings).unwrap();
        let back: serde_json::Value = serde_json::from_str(&text).unwrap();
        assert_eq!(back["schema"], 1);
        assert!(back["figures"][0]["low"].is_null());
        assert_eq!(back["figures"][0]["where"], "pickup");
        assert!(text.ends_with("}\n"));
    }

    #[test]
    fn a_value_that_is_not_finite_is_named() {
        for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            let mut findings = run_result().findings;
            findings.phases[1].valve_rise_mean_k = Some(bad);
            let error = to_json(&findings).unwrap_err().to_string();
            assert!(error.contains("phases[1].valve_rise_mean_k"), "{error}");
        }
    }
}
