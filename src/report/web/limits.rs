//! The limits that a scenario states, and how each strategy stands against them.

use maud::Markup;

use super::inputs::{Limits, sortable};
use crate::report::page::three_digits;
use crate::study::StrategyLabel;
use crate::trial::result::{Outcome, TrialRow};

/// A row for each strategy and limit.
pub(super) fn limits(
    limits: &Limits,
    strategies: &[StrategyLabel],
    rows: &[Vec<TrialRow>],
) -> Markup {
    let mut table = Vec::new();
    for (label, rows) in strategies.iter().zip(rows) {
        for check in checks(limits) {
            let beyond = rows
                .iter()
                .filter(|row| (check.is_beyond)(limits, row))
                .count();
            let values = rows.iter().map(check.value).filter(|v| v.is_finite());
            let largest = values.fold(0.0, f64::max);
            table.push(vec![
                label.name.clone(),
                check.what.to_owned(),
                check.unit.to_owned(),
                check.limit.clone(),
                three_digits(largest),
                format!("{beyond} of {}", rows.len()),
                if beyond == 0 { "pass" } else { "FAIL" }.to_owned(),
            ]);
        }
    }
    let heads = [
        "strategy",
        "what",
        "unit",
        "limit",
        "largest",
        "trials beyond",
        "verdict",
    ];
    sortable(&heads.map(|head| (head.to_owned(), String::new())), &table)
}

/// A limit and how a trial is held against it.
struct Check {
    what: &'static str,
    unit: &'static str,
    limit: String,
    value: fn(&TrialRow) -> f64,
    is_beyond: fn(&Limits, &TrialRow) -> bool,
}

fn checks(limits: &Limits) -> Vec<Check> {
    let wall = |row: &TrialRow| {
        row.peak_wall_force_mn
            .max(row.peak_wall_force_leaving_guide_mn)
    };
    let mut checks = Vec::new();
    if let Some(limit) = limits.wall_force_mn {
        checks.push(Check {
            what: "wall force on a millimetre, at any place (wall_force_limit_mN of the target)",
            unit: "mN",
            limit: three_digits(limit),
            value: wall,
            is_beyond: |_, row| row.outcome == Outcome::OverForceLimit,
        });
    }
    if let Some(limit) = limits.back_out_mm {
        checks.push(Check {
            what: "guide pushed back (back_out_limit_mm of the guide; the push on the wire is shown)",
            unit: "mN",
            limit: format!("{} mm back", three_digits(limit)),
            value: |row| row.peak_push_force_mn,
            is_beyond: |_, row| row.outcome == Outcome::BackedOut,
        });
    }
    checks.push(Check {
        what: "wire outside the guide (max_fed_mm of the target)",
        unit: "mm",
        limit: three_digits(limits.fed_mm),
        value: |row| row.outside_mm,
        is_beyond: |_, row| row.outcome == Outcome::OutOfWire,
    });
    if let Some(limit) = limits.fold_strain {
        checks.push(Check {
            what: "compression of the vessel's wall (fold_strain of its bed)",
            unit: "1",
            limit: three_digits(limit),
            value: |row| row.peak_vessel_compression,
            is_beyond: |_, row| row.vessel_folds,
        });
    }
    checks.push(Check {
        what: "bending strain of the core over its limit (strain limit of the wire)",
        unit: "1",
        limit: "1".to_owned(),
        value: |row| row.peak_strain_ratio,
        is_beyond: |_, row| row.peak_strain_ratio > 1.0,
    });
    checks
}
