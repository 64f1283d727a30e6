//! A number that a trial does not have.

use bendwise::report::write_trials;
use bendwise::study::{Task, summarise};
use bendwise::trial::result::Outcome;

use super::{TRIALS, compute, made_up, one_point, trial};
use crate::sweep_common::{Seen, quietly};

/// In memory not-a-number, in the journal null, in the table an empty field, in summaries left out.
#[test]
fn a_missing_number_stays_missing_through_journal_table_and_summary() {
    let folder = tempfile::tempdir().unwrap();
    let broken = |task: Task, recorded| {
        let mut record = made_up(task, recorded);
        let trial = task.trial;
        if task.strategy == 0 && trial.is_multiple_of(3) {
            record.row.peak_wall_force_mn = [f64::NAN, f64::INFINITY][trial as usize % 2];
            record.row.peak_strain_ratio = f64::NAN;
            record.pressed[0].force_mn = f64::NAN;
        }
        record
    };
    let (out, part) = (folder.path().join("gaps"), one_point(7));
    compute(&part, &quietly(&out, 1, Some(30)), &broken, Vec::new()).unwrap();
    let seen = Seen::default();
    let done = compute(&part, &quietly(&out, 1, None), &broken, seen.sinks()).unwrap();
    assert_eq!(done.resumed, 30);
    let rows = &seen.points()[0].2[0];
    let missing: Vec<u32> = (rows.iter())
        .filter(|row| row.peak_wall_force_mn.is_nan())
        .map(|row| row.trial)
        .collect();
    assert_eq!(missing, [0, 3, 6, 9]);
    assert_eq!(rows[3].outcome, Outcome::Unresolved);
    assert_eq!(
        rows[3].note,
        "peak_wall_force_mN was inf; peak_strain_ratio was NaN"
    );

    let summary = summarise(&part.setup.strategies[0], rows);
    let mut forces: Vec<f64> = (0..TRIALS)
        .filter(|t| !t.is_multiple_of(3))
        .map(|t| trial(0, t).row.peak_wall_force_mn)
        .collect();
    forces.sort_by(f64::total_cmp);
    let middle = f64::midpoint(forces[3], forces[4]);
    assert!((summary.peak_wall_force_mn.median - middle).abs() < 1e-15);
    let largest = trial(0, 11).row.peak_strain_ratio;
    assert!((summary.largest_strain_ratio - largest).abs() < 1e-15);
    let before = (0..TRIALS).filter(|&t| {
        let gap = t.is_multiple_of(3);
        gap || trial(0, t).row.outcome == Outcome::Unresolved
    });
    assert_eq!(summary.unresolved as usize, before.count());

    let table = folder.path().join("trials.csv");
    write_trials(&table, rows).unwrap();
    let mut reader = csv::Reader::from_path(&table).unwrap();
    let head = reader.headers().unwrap().clone();
    let column = |name: &str| head.iter().position(|n| n == name).unwrap();
    for (row, record) in rows.iter().zip(reader.records()) {
        let record = record.unwrap();
        let is_missing = row.trial.is_multiple_of(3);
        let field = &record[column("peak_wall_force_mN")];
        let expected = (!is_missing).then_some(row.peak_wall_force_mn);
        assert_eq!(field.parse::<f64>().ok(), expected, "{field}");
        assert_eq!(field.is_empty(), is_missing);
        assert_eq!(&record[column("tip_branch")], "main, \"quoted\"");
    }
}
