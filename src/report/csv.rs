//! The series as CSV: `time_s`, then one column per place, unit in the name.

use std::io::Write;

use super::ReportError;
use crate::study::advice::Advice;
use crate::study::compare::Comparison;
use crate::study::findings::Series;
use crate::study::hot_day::HotDay;
use crate::study::soak::Soak;

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

/// Writes the figures of all options to `out`, one row per option and figure: the value with its band,
/// and the difference against the first option with its own.
///
/// # Errors
/// A value that isn't finite, or a failed write.
pub fn write_comparison(comparison: &Comparison, out: impl Write) -> Result<(), ReportError> {
    let mut writer = ::csv::Writer::from_writer(out);
    writer.write_record([
        "option",
        "price_eur",
        "mass_kg",
        "id",
        "where",
        "unit",
        "value",
        "low",
        "high",
        "difference",
        "difference_low",
        "difference_high",
        "sign_chance_percent",
    ])?;
    let mut row = 0;
    for option in &comparison.options {
        for f in &option.figures {
            let same = comparison
                .differences
                .iter()
                .find(|d| d.option == option.name && d.id == f.id && d.place == f.place);
            let cell = |value, column| number_or_blank(value, row, column);
            writer.write_record([
                option.name.clone(),
                number(option.cost.price, row, "price_eur")?,
                number(option.cost.mass_kg, row, "mass_kg")?,
                f.id.clone(),
                f.place.clone(),
                f.unit.clone(),
                number(f.value, row, "value")?,
                cell(f.low, "low")?,
                cell(f.high, "high")?,
                cell(same.map(|d| d.value), "difference")?,
                cell(same.and_then(|d| d.low), "difference_low")?,
                cell(same.and_then(|d| d.high), "difference_high")?,
                cell(
                    same.and_then(|d| d.sign_chance_percent),
                    "sign_chance_percent",
                )?,
            ])?;
            row += 1;
        }
    }
    writer.flush()?;
    Ok(())
}

/// Writes a hot day to `out`, one row per cell and figure: the value with its band, and the difference
/// against the first option with its own.
///
/// # Errors
/// A value that isn't finite, or a failed write.
pub fn write_hot_day(found: &HotDay, out: impl Write) -> Result<(), ReportError> {
    let mut writer = ::csv::Writer::from_writer(out);
    writer.write_record([
        "option",
        "situation",
        "day",
        "sun_w_m2",
        "ambient_c",
        "humidity_percent",
        "altitude_m",
        "pressure_kpa",
        "compressor_limited",
        "id",
        "where",
        "unit",
        "value",
        "low",
        "high",
        "difference",
        "difference_low",
        "difference_high",
    ])?;
    for (row, cell) in found.cells.iter().enumerate() {
        let maybe = |value, column| number_or_blank(value, row, column);
        for f in &cell.figures {
            let same = cell.difference(&f.id, &f.place);
            writer.write_record([
                cell.option.clone(),
                cell.situation.clone(),
                cell.day.clone(),
                number(cell.sun_w_m2, row, "sun_w_m2")?,
                number(cell.ambient_c, row, "ambient_c")?,
                number(cell.humidity_percent, row, "humidity_percent")?,
                maybe(cell.altitude_m, "altitude_m")?,
                number(cell.pressure_kpa, row, "pressure_kpa")?,
                cell.compressor_limited.to_string(),
                f.id.clone(),
                f.place.clone(),
                f.unit.clone(),
                number(f.value, row, "value")?,
                maybe(f.low, "low")?,
                maybe(f.high, "high")?,
                maybe(same.map(|d| d.value), "difference")?,
                maybe(same.and_then(|d| d.low), "difference_low")?,
                maybe(same.and_then(|d| d.high), "difference_high")?,
            ])?;
        }
    }
    writer.flush()?;
    Ok(())
}

/// Writes a soak to `out`: a row for each minute after key-off, a column for each thing.
///
/// # Errors
/// A value that isn't finite, or a failed write.
pub fn write_soak(found: &Soak, out: impl Write) -> Result<(), ReportError> {
    let mut writer = ::csv::Writer::from_writer(out);
    writer.write_field("minutes")?;
    writer.write_record(found.items.iter().map(|i| format!("{}_c", i.name)))?;
    for (row, minutes) in found.minutes.iter().enumerate() {
        writer.write_field(number(*minutes, row, "minutes")?)?;
        for item in &found.items {
            let value = item.temperatures_c.get(row).copied().unwrap_or(f64::NAN);
            writer.write_field(number(value, row, &item.name)?)?;
        }
        writer.write_record(None::<&[u8]>)?;
    }
    writer.flush()?;
    Ok(())
}

/// Writes advice to `out`: a row for each measure, first as it comes out, then against the car as it is.
///
/// # Errors
/// A value that isn't finite, or a failed write.
pub fn write_advice(found: &Advice, out: impl Write) -> Result<(), ReportError> {
    let mut writer = ::csv::Writer::from_writer(out);
    let figures = [
        "power_percent",
        "sensor_rise_k",
        "bearing_c",
        "bearing_peak_min",
        "nearby_k",
    ];
    let mut head = vec!["name".to_owned(), "price_eur".into(), "mass_kg".into()];
    head.extend(figures.map(String::from));
    head.extend(figures.map(|f| format!("change_{f}")));
    head.push("over_a_limit".into());
    writer.write_record(&head)?;
    for (row, b) in found.measures.iter().enumerate() {
        let mut line = vec![
            b.name.clone(),
            number(b.cost.price, row, "price_eur")?,
            number(b.cost.mass_kg, row, "mass_kg")?,
        ];
        for o in [&b.outcome, &b.change] {
            let values = [
                Some(o.power_percent),
                Some(o.sensor_rise_k),
                o.bearing_c,
                o.bearing_peak_min,
                o.nearby_k,
            ];
            for (value, name) in values.into_iter().zip(figures) {
                line.push(number_or_blank(value, row, name)?);
            }
        }
        let over = b.over.iter().any(|o| o.margin_k < 0.0);
        line.push(over.to_string());
        writer.write_record(&line)?;
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

/// The same, or nothing where there is no value.
fn number_or_blank(value: Option<f64>, row: usize, column: &str) -> Result<String, ReportError> {
    value.map_or_else(|| Ok(String::new()), |v| number(v, row, column))
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
