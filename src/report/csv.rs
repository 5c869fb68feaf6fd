//! The series as CSV: `time_s`, then one column per place, unit in the name.

use std::io::Write;

use super::ReportError;
use crate::study::findings::Series;

/// Writes `series` to `out`, always in the units that the names carry.
///
/// # Errors
/// A value that isn't finite, a row of the wrong length, or a failed write.
pub fn write_csv(series: &Series, out: impl Write) -> Result<(), ReportError> {
    let mut writer = ::csv::Writer::from_writer(out);
    writer.write_field("time_s")?;
    writer.write_record(&series.names)?;
    for (row, (time, values)) in series.time_s.iter().zip(&series.rows).enumerate() {
        if values.len() != series.names.len() {
            return Err(ReportError::Ragged {
                row,
                got: values.len(),
                want: series.names.len(),
            });
        }
        writer.write_field(number(*time, row, "time_s")?)?;
        for (value, name) in values.iter().zip(&series.names) {
            writer.write_field(number(*value, row, name)?)?;
        }
        writer.write_record(None::<&[u8]>)?;
    }
    writer.flush()?;
    Ok(())
}

/// Four decimals: a tenth of a millikelvin is below any solver tolerance used here.
fn number(value: f64, row: usize, name: &str) -> Result<String, ReportError> {
    if !value.is_finite() {
        return Err(ReportError::NotFinite {
            place: format!("series row {row}, column {name}"),
            value,
        });
    }
    let text = format!("{value:.4}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    Ok(if text == "-0" { "0" } else { text }.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::sample::run_result;

    #[test]
    fn reads_back_what_was_written() {
        let series = run_result().series;
        let mut bytes = Vec::new();
        write_csv(&series, &mut bytes).unwrap();
        let mut reader = ::csv::Reader::from_reader(bytes.as_slice());
        let header: Vec<String> = reader.headers().unwrap().iter().map(String::from).collect();
        assert_eq!(header[0], "time_s");
        assert_eq!(header[1..], series.names);
        let rows: Vec<Vec<f64>> = reader
            .records()
            .map(|r| r.unwrap().iter().map(|v| v.parse().unwrap()).collect())
            .collect();
        assert_eq!(rows.len(), series.time_s.len());
        for (i, row) in rows.iter().enumerate() {
            assert!((row[0] - series.time_s[i]).abs() < 1e-4);
            for (got, want) in row[1..].iter().zip(&series.rows[i]) {
                assert!((got - want).abs() < 1e-4);
            }
        }
    }

    #[test]
    fn refuses_what_is_not_a_number_and_ragged_rows() {
        let mut series = run_result().series;
        series.rows[3][2] = f64::NAN;
        let error = write_csv(&series, Vec::new()).unwrap_err().to_string();
        assert!(
            error.contains("row 3") && error.contains(&series.names[2]),
            "{error}"
        );
        series.rows[3].pop();
        let error = write_csv(&series, Vec::new()).unwrap_err();
        assert!(
            matches!(error, ReportError::Ragged { row: 3, .. }),
            "{error}"
        );
    }
}
