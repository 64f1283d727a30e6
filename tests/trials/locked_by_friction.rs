//! A wire whose friction takes up all push stalls, and says why, whatever the mesh and the step.

#![allow(clippy::print_stdout, reason = "the table of checks")]

use std::path::Path;

use bendwise::scenario::{holds_wires_alone, load};
use bendwise::trial::result::Outcome;
use bendwise::trial::{Prepared, Strategy, run_trial, strategies};
use rayon::prelude::*;

/// Coefficient of dry steel on tissue at the upper end of what a scenario may say.
const FRICTION: f64 = 1.0;

#[test]
fn a_wire_that_locks_stalls() {
    stalls_where_it_locks(2.0);
}

/// `cargo test --release --test trials a_wire_that_locks -- --ignored --nocapture`.
#[test]
#[ignore = "a minute of processor time"]
fn a_wire_that_locks_stalls_at_every_step_and_edge() {
    [1.0, 0.5, 0.25]
        .into_par_iter()
        .for_each(stalls_where_it_locks);
}

/// Runs a trial in which the wire locks, with that part of the shipped step and edge.
fn stalls_where_it_locks(part: f64) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/collateral-loop.toml");
    let mut scenario = load(&path).expect("a shipped scenario").scenario;
    scenario.variation.friction_cv = 0.0;
    scenario.wires.truncate(1);
    scenario.wires[0].friction = FRICTION;
    scenario.solver.step_mm *= part;
    scenario.solver.edge_mm *= part;
    let prepared = Prepared::new(&scenario).expect("a shipped scenario");
    let strategy = &strategies(&scenario)[0];
    let row = run_trial(&prepared, strategy, 0, false).row;
    println!(
        "CHECK | step and edge times {part}: {:?}, {}; push up to {:.0} mN, tip {:.1} mN",
        row.outcome, row.why, row.peak_push_force_mn, row.peak_tip_force_mn
    );
    assert_eq!(row.outcome, Outcome::Stalled, "{}", row.why);
    assert_eq!(row.reason, "locked by friction", "{}", row.why);
    assert!(
        row.peak_friction_ratio <= 1.001,
        "{}",
        row.peak_friction_ratio
    );
}

/// Before friction and its tangent took the limit of the present state, 7 of 16 trials of
/// collateral-loop ended unresolved at a friction of 0.6, and 22 of 32 of graft-entry at 1.
#[test]
fn strong_friction_leaves_no_trial_unresolved() {
    for (name, friction) in [("collateral-loop", 0.6), ("graft-entry", 1.0)] {
        let file = format!("scenarios/{name}.toml");
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(file);
        let mut scenario = load(&path).expect("a shipped scenario").scenario;
        scenario.variation.friction_cv = 0.0;
        for wire in &mut scenario.wires {
            wire.friction = friction;
        }
        let prepared = Prepared::new(&scenario).expect("a shipped scenario");
        strategies(&scenario).par_iter().for_each(|strategy| {
            let row = run_trial(&prepared, strategy, 0, false).row;
            println!(
                "CHECK | {name}, friction {friction}, {}: {:?}, {}",
                strategy.name, row.outcome, row.why
            );
            assert_ne!(row.outcome, Outcome::Unresolved, "{}", row.why);
        });
    }
}

/// Two draws of every strategy of every shipped scenario, with that friction everywhere; at most the
/// share `may_be` of all trials ends unresolved.
/// `cargo test --release --test trials locked_by_friction -- --ignored --nocapture`; with the variable
/// `BENDWISE_SCENARIOS` (names with commas between them) on those scenarios alone.
fn friction_in_every_shipped_scenario(friction: f64, may_be: f64) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios");
    let files = std::fs::read_dir(folder).expect("scenarios");
    let mut files: Vec<_> = files.map(|f| f.expect("a file").path()).collect();
    files.retain(|f| f.extension().is_some_and(|e| e == "toml") && !holds_wires_alone(f));
    files.sort();
    assert!(files.len() > 10, "shipped scenarios");
    if let Ok(names) = std::env::var("BENDWISE_SCENARIOS") {
        let names: Vec<&str> = names.split(',').collect();
        files.retain(|f| {
            names
                .iter()
                .any(|name| f.file_stem() == Some(name.as_ref()))
        });
        assert_eq!(files.len(), names.len(), "scenarios of BENDWISE_SCENARIOS");
    }
    let (mut trials, mut unresolved) = (0, 0);
    for file in &files {
        let mut scenario = load(file).expect("a shipped scenario").scenario;
        scenario.variation.friction_cv = 0.0;
        for wire in &mut scenario.wires {
            wire.friction = friction;
        }
        let prepared = Prepared::new(&scenario).expect("a shipped scenario");
        let all = strategies(&scenario);
        let pairs: Vec<_> = all.iter().flat_map(|s| [(s, 0), (s, 1)]).collect();
        let run = |&(strategy, trial): &(&Strategy, u32)| {
            run_trial(&prepared, strategy, trial, false).row
        };
        let rows: Vec<_> = pairs.par_iter().map(run).collect();
        let open = rows.iter().filter(|r| r.outcome == Outcome::Unresolved);
        let open: Vec<_> = open.map(|r| (&r.strategy, r.trial, &r.why)).collect();
        let name = file.file_stem().unwrap_or_default().to_string_lossy();
        println!(
            "TABLE | {friction} | {name} | {} of {} | {open:?}",
            open.len(),
            rows.len()
        );
        trials += rows.len();
        unresolved += open.len();
    }
    println!("TABLE | {friction} | all | {unresolved} of {trials} |");
    assert!(unresolved as f64 <= may_be * trials as f64);
}

/// A test for each friction, so that one can be run alone.
macro_rules! shipped_scenarios_with {
    ($($name:ident: $friction:expr, $may_be:expr;)*) => {
        $(
            #[test]
            #[ignore = "minutes of processor time"]
            fn $name() {
                friction_in_every_shipped_scenario($friction, $may_be);
            }
        )*
    };
}

shipped_scenarios_with! {
    friction_of_0_3_leaves_below_1_percent_unresolved: 0.3, 0.01;
    friction_of_0_6_leaves_below_1_percent_unresolved: 0.6, 0.01;
    friction_of_1_leaves_below_1_percent_unresolved: 1.0, 0.01;
    friction_of_2_leaves_below_5_percent_unresolved: 2.0, 0.05;
}

/// A planar S of two square bends of 7 mm radius, and a dry wire of B = 30 mN mm² with friction 0.6.
/// Behind the bends a branch leaves square to their plane: a wire without a bend passes it.
const PLANAR_S: &str = r#"
name = "planar-s"
origin = "invented"
description = "Two opposite bends of 90 degrees."
[study]
trials = 1
seed = 1
[vessel]
carina_blend_mm = 0.5
wall_stiffness_mN_per_mm2 = 300
[[vessel.branch]]
name = "parent"
start_mm = [0, 0, 0]
direction = [1, 0, 0]
diameter_mm = 3.0
pieces = [
    { shape = "straight", length_mm = 10 },
    { shape = "s-bend", radius_mm = 7, angle_deg = 90, plane_deg = 0 },
    { shape = "straight", length_mm = 25 },
]
[[vessel.branch]]
name = "side"
parent = "parent"
at_mm = 40
take_off_deg = 90
plane_deg = 90
diameter_mm = 2.0
pieces = [{ shape = "straight", length_mm = 25 }]
[guide]
branch = "parent"
at_mm = 0
[target]
branch = "side"
beyond_ostium_mm = 5
astray_mm = 8
max_fed_mm = 60
[[wire]]
name = "B 30"
diameter_mm = 0.36
stiffness_N_mm2 = [[0, 0.03], [250, 0.03]]
friction = 0.6
[[technique]]
kind = "push"
"#;

#[test]
fn whether_a_dry_wire_passes_two_square_bends_does_not_depend_on_the_step() {
    let path = Path::new("planar-s.toml");
    let scenario = bendwise::scenario::load_text(path, PLANAR_S.to_owned());
    let mut scenario = scenario.expect("a scenario").scenario;
    let (step_mm, edge_mm) = (scenario.solver.step_mm, scenario.solver.edge_mm);
    for (step, edge) in [
        (1.0, 1.0),
        (0.5, 1.0),
        (0.25, 1.0),
        (0.5, 0.5),
        (0.25, 0.25),
    ] {
        scenario.solver.step_mm = step * step_mm;
        scenario.solver.edge_mm = edge * edge_mm;
        let prepared = Prepared::new(&scenario).expect("a scenario");
        let row = run_trial(&prepared, &strategies(&scenario)[0], 0, false).row;
        println!(
            "CHECK | step times {step}, edge times {edge}: {:?}, {}; push up to {:.0} mN",
            row.outcome, row.why, row.peak_push_force_mn
        );
        assert_eq!(row.outcome, Outcome::WrongBranch, "{}", row.why);
        assert!(row.peak_friction_ratio <= 1.001);
    }
}
