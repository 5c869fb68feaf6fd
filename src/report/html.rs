//! The report as one page that needs nothing else.

use super::ReportError;
use crate::quantity::Units;
use crate::study::compare::Compared;
use crate::study::findings::RunResult;
use crate::study::rank::Ranked;

/// The page of a run.
pub fn run(result: &RunResult, units: Units) -> Result<String, ReportError> {
    let _ = (result, units);
    Ok(String::new())
}

/// The page of a ranking.
pub fn rank(ranked: &Ranked, units: Units) -> Result<String, ReportError> {
    let _ = (ranked, units);
    Ok(String::new())
}

/// The page of a comparison.
pub fn compare(compared: &Compared, units: Units) -> Result<String, ReportError> {
    let _ = (compared, units);
    Ok(String::new())
}
