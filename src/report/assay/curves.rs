//! Curves as CSV, one file a test.

use std::io;
use std::path::Path;

use crate::assay::{Measured, Test};
use crate::study::KeepError;
use crate::study::store::create;

/// Head of a column: what, and the unit in letters that every program reads.
fn head((name, unit): (&str, &str)) -> String {
    let unit = unit.replace('²', "2").replace(' ', "_");
    if unit.is_empty() {
        name.to_owned()
    } else {
        format!("{name}_{unit}")
    }
}

/// A value; one that is not there is an empty cell.
fn cell(value: f64) -> String {
    if value.is_finite() {
        value.to_string()
    } else {
        String::new()
    }
}

/// Writes the curves of a test: a row a point, with wire and condition before the test's columns.
///
/// # Errors
///
/// The failure of a file operation.
pub fn write_curve(
    path: &Path,
    test: Test,
    wires: &[String],
    measured: &[Measured],
) -> Result<(), KeepError> {
    let write = || -> csv::Result<()> {
        let mut writer = csv::Writer::from_writer(create(path)?);
        let heads = test.columns().iter().map(|&column| head(column));
        let all = ["wire", "condition"].map(str::to_owned).into_iter();
        writer.write_record(all.chain(heads))?;
        for (wire, of_wire) in wires.iter().zip(measured) {
            for series in &of_wire.series {
                for point in &series.points {
                    let values = point.iter().map(|value| cell(*value));
                    let row = [wire.clone(), series.condition.clone()];
                    writer.write_record(row.into_iter().chain(values))?;
                }
            }
        }
        writer.flush()?;
        Ok(())
    };
    write().map_err(|e| KeepError::at(path)(io::Error::from(e)))
}
