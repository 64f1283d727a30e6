//! What a sweep says of its trials: those without a result, too few draws, names, separation.

use std::fs;

use bendwise::scenario::sweep::model::{DesignKind, Values};
use bendwise::study::sweep::Separation;
use bendwise::trial::result::Outcome;

use super::{grid, written};
use crate::sweep_common::{chance, listed, row, setup};

#[test]
fn unresolved_trials_are_counted_everywhere() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    let mut setup = grid();
    setup.trials = 8;
    let summary = written(&setup, &out, |point, trial| {
        let mut row = row(trial, trial.is_multiple_of(2));
        if trial == 7 && point < 4 {
            row.outcome = Outcome::Unresolved;
        }
        row
    });
    assert_eq!(summary.unresolved_in_all, 4);
    assert_eq!(summary.totals[0].unresolved, 4);
    let of_effects: u64 = summary.effects[0]
        .bins
        .iter()
        .map(|bin| bin.unresolved)
        .sum();
    assert_eq!(of_effects, 4);
    let of_fields: u64 = summary
        .fields
        .iter()
        .map(|cell| cell.count.unresolved)
        .sum();
    assert_eq!(of_fields, 4);
    let report = fs::read_to_string(out.join("report.md")).unwrap();
    assert!(
        report.contains("**4 of 48 trials are unresolved**"),
        "{report}"
    );
    assert!(report.contains("They count as trials that did not reach"));
    assert!(report.contains("with 8, a kind that makes up 31 % of all draws is missing"));
    let json = fs::read_to_string(out.join("sweep.json")).unwrap();
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["unresolved_in_all"], 4);
}

#[test]
fn few_draws_are_said_to_carry_no_narrow_interval() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    let mut setup = grid();
    setup.trials = 2;
    let summary = written(&setup, &out, |point, trial| {
        row(trial, (point + trial as usize).is_multiple_of(3))
    });
    assert!((summary.totals[0].effective_trials - 2.0).abs() < 1e-9);
    let report = fs::read_to_string(out.join("report.md")).unwrap();
    assert!(
        report.contains("**2 draws cannot carry a narrow interval.**"),
        "{report}"
    );
}

/// Tip numbers and texts are names: each level against the first, and no number in tables.
#[test]
fn tip_numbers_are_categories() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    let mut tip = listed("tip", &[]);
    tip.targets[0].path = "target.tip".to_owned();
    tip.values = Values::Listed {
        levels: [12, 3, 7].map(toml::Value::Integer).to_vec(),
        weights: vec![1.0 / 3.0; 3],
    };
    let mut setup = setup(
        DesignKind::Grid,
        vec![tip, listed("length_mm", &[1.0, 2.0])],
        24,
        3,
    );
    setup.map = None;
    // Tip 3, the smallest number, is in the middle; as a number it would have no slope.
    let rates = [0.8, 0.5, 0.2];
    let summary = written(&setup, &out, |point, trial| {
        row(
            trial,
            chance(2, point as u64, u64::from(trial)) < rates[point / 2],
        )
    });
    let regression = &summary.regressions[0];
    let names: Vec<&str> = regression
        .over_range
        .iter()
        .map(|o| o.name.as_str())
        .collect();
    assert_eq!(names, ["tip = 3", "tip = 7", "length_mm"]);
    let first = regression.over_range[0].reference.as_deref();
    assert_eq!(first, Some("tip = 12"));
    assert!(regression.over_range[2].reference.is_none());
    // 0.5 against 0.8 and 0.2 against 0.8 are odds ratios of 1/4 and 1/16.
    assert!(regression.over_range[1].odds_ratio < regression.over_range[0].odds_ratio);
    let report = fs::read_to_string(out.join("report.md")).unwrap();
    assert!(report.contains("against tip = 12"), "{report}");
    let note = summary.columns.iter().find(|c| c.name == "tip").unwrap();
    assert_eq!(note.kind, "text");
    assert!(out.join("figures/success-tip.png").exists());
}

/// A level at which nothing was ever reached is said to separate, with a finite odds ratio.
#[test]
fn separation_is_said_in_the_report() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    let setup = grid();
    let summary = written(&setup, &out, |point, trial| {
        row(trial, point.is_multiple_of(2) && trial < 3)
    });
    let fit = summary.regressions[0].fit.as_ref().unwrap();
    assert_eq!(fit.separation, Separation::QuasiComplete);
    assert!(fit.terms[1].unbounded && !fit.terms[0].unbounded);
    assert!(fit.terms.iter().all(|term| term.odds_ratio.is_finite()));
    let report = fs::read_to_string(out.join("report.md")).unwrap();
    assert!(
        report.contains("quasi-complete separation.** angle_deg tells"),
        "{report}"
    );
    assert!(report.contains("angle_deg (separates)"));
    let json = fs::read_to_string(out.join("sweep.json")).unwrap();
    assert!(json.contains("\"separation\": \"quasi_complete\""));
}
