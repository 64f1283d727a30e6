//! Outcomes in a vessel that gives way, and in one that beats as well, stay with half the step, half the edges
//! and half the distance of the axes' control values.
//!
//! The table of DEVELOPERS.md: `cargo test --release --test trials giving_refined -- --ignored --nocapture`.
#![allow(clippy::print_stdout, reason = "the table of checks")]

use std::path::Path;

use bendwise::scenario::load;
use bendwise::scenario::model::Scenario;
use bendwise::trial::result::Outcome;
use bendwise::trial::{Prepared, run_trial, strategies};
use rayon::prelude::*;

fn outcomes(scenario: &Scenario, strategy: &str, draws: u32) -> Vec<(Outcome, f64)> {
    let prepared = Prepared::new(scenario).expect("a shipped scenario");
    let all = strategies(scenario);
    let strategy = all.iter().find(|s| s.name == strategy);
    let strategy = strategy.expect("a shipped strategy");
    (0..draws)
        .into_par_iter()
        .map(|trial| run_trial(&prepared, strategy, trial, false).row)
        .map(|row| (row.outcome, row.peak_wall_force_mn))
        .collect()
}

fn median(of: &[(Outcome, f64)]) -> f64 {
    let mut values: Vec<f64> = of.iter().map(|(_, force)| *force).collect();
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

/// Outcomes of so many draws with finer settings; at most `may_change` of them change: those of trials that lie
/// on the edge between two.
fn check(file: &str, strategy: &str, draws: u32, may_change: usize) {
    type Change = fn(&mut Scenario);
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios");
    let base = load(&path.join(file)).expect("a shipped scenario").scenario;
    let settings: [(&str, Change); 3] = [
        ("step halved", |s| s.solver.step_mm *= 0.5),
        ("edges halved", |s| s.solver.edge_mm *= 0.5),
        ("control values twice as close", |s| {
            s.bed.as_mut().expect("a bed").spacing_factor *= 0.5;
        }),
    ];
    let before = outcomes(&base, strategy, draws);
    assert!(before.iter().all(|(o, _)| *o != Outcome::Unresolved));
    for (name, change) in settings {
        let mut scenario = base.clone();
        change(&mut scenario);
        let after = outcomes(&scenario, strategy, draws);
        let pairs = before.iter().zip(&after);
        let changed = pairs.filter(|(a, b)| a.0 != b.0).count();
        let (was, is) = (median(&before), median(&after));
        println!(
            "TABLE | {file}, {strategy} | {name} | {changed} of {draws} | {was:.2} | {is:.2} |"
        );
        assert!(
            changed <= may_change,
            "{name}: {changed} change: {before:?} {after:?}"
        );
    }
}

#[test]
fn outcomes_in_a_vessel_that_gives_way_stay_with_finer_settings() {
    check("soft-tip-tracks.toml", "redirect, stiff shaft", 1, 0);
}

#[test]
#[ignore = "minutes of processor time"]
fn of_a_stiff_shaft_in_a_free_loop() {
    check("soft-tip-tracks.toml", "redirect, stiff shaft", 100, 1);
}

#[test]
#[ignore = "six minutes of processor time"]
fn of_a_vessel_that_beats_seen_from_where_recommended() {
    let strategy = "turned in the recommended view, workhorse 1 gf";
    check("beating-tree.toml", strategy, 100, 1);
}

#[test]
#[ignore = "a quarter of an hour of processor time"]
fn of_a_vessel_that_beats_turned_blindly() {
    check(
        "beating-tree.toml",
        "turned blindly, workhorse 1 gf",
        100,
        1,
    );
}
