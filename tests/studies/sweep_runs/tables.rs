//! What the tables of a sweep hold.

use std::fs;

use bendwise::scenario::sweep::model::DesignKind;
use bendwise::study::Part;
use parquet::file::reader::{FileReader, SerializedFileReader};
use parquet::record::RowAccessor;

use super::{grid, run_part, written};
use crate::sweep_common::{listed, row, setup};

#[test]
fn the_parquet_file_holds_what_the_csv_file_holds() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    run_part(&Part::whole(grid()), &out, 1, None).unwrap();
    let mut csv = csv::Reader::from_path(out.join("trials.csv")).unwrap();
    let head = csv.headers().unwrap().clone();
    let rows: Vec<csv::StringRecord> = csv.records().map(Result::unwrap).collect();
    let file = fs::File::open(out.join("trials.parquet")).unwrap();
    let reader = SerializedFileReader::new(file).unwrap();
    let fields = reader.metadata().file_metadata().schema_descr();
    let name = |column| fields.column(column).name().to_owned();
    let names: Vec<String> = (0..fields.num_columns()).map(name).collect();
    assert_eq!(head.iter().collect::<Vec<_>>(), names);
    let mut count = 0;
    for (record, row) in rows.iter().zip(reader.get_row_iter(None).unwrap()) {
        let row = row.unwrap();
        let column = |name: &str| head.iter().position(|n| n == name).unwrap();
        let fed = column("fed_mm");
        let parsed: f64 = record[fed].parse().unwrap();
        assert_eq!(row.get_double(fed).unwrap().to_bits(), parsed.to_bits());
        let branch = column("tip_branch");
        assert_eq!(row.get_string(branch).unwrap(), &record[branch]);
        let reached = column("reached");
        assert_eq!(row.get_long(reached).unwrap().to_string(), record[reached]);
        count += 1;
    }
    assert_eq!(count, 25);
}

/// Each point has trials with forces 1 to 5 mN; of two the force is not a number or not finite.
#[test]
fn missing_numbers_are_empty_and_enter_no_median() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    let setup = setup(
        DesignKind::Grid,
        vec![listed("length_mm", &[1.0, 2.0])],
        7,
        3,
    );
    let summary = written(&setup, &out, |_, trial| {
        let mut row = row(trial, trial < 3);
        row.peak_wall_force_mn = match trial {
            5 => f64::NAN,
            6 => f64::INFINITY,
            _ => f64::from(trial) + 1.0,
        };
        row
    });
    let mut points = csv::Reader::from_path(out.join("points.csv")).unwrap();
    let head = points.headers().unwrap().clone();
    let column = |name: &str| head.iter().position(|n| n == name).unwrap();
    for point in points.records() {
        let point = point.unwrap();
        // The middle of 1 to 5, and 1 + 0.95 · 4; zeros in place of the two would make it 2.
        assert_eq!(&point[column("peak_wall_force_median_mN")], "3");
        assert_eq!(&point[column("peak_wall_force_p95_mN")], "4.8");
        assert_eq!(&point[column("outcome_unresolved")], "2");
    }
    let mut trials = csv::Reader::from_path(out.join("trials.csv")).unwrap();
    let head = trials.headers().unwrap().clone();
    let force = head.iter().position(|n| n == "peak_wall_force_mN").unwrap();
    let forces: Vec<String> = (trials.records())
        .map(|record| record.unwrap()[force].to_owned())
        .collect();
    assert_eq!(forces, [["1", "2", "3", "4", "5", "", ""]; 2].concat());
    let file = fs::File::open(out.join("trials.parquet")).unwrap();
    let reader = SerializedFileReader::new(file).unwrap();
    let nulls = reader.get_row_iter(None).unwrap();
    let nulls = nulls.filter(|row| row.as_ref().unwrap().get_double(force).is_err());
    assert_eq!(nulls.count(), 4);
    assert_eq!(summary.unresolved_in_all, 4);
}
