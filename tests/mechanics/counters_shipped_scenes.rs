//! The work of the solver on shipped scenes, pinned: a change that makes it slower without changing an
//! outcome fails here.
//!
//! One trial of every second strategy: accepted steps, Newton iterations, and active contacts at the ends of
//! the steps added up. A change of the solver that is meant to change them writes the printed ones here.

#![allow(clippy::print_stdout, reason = "the numbers to be pinned")]

use std::path::Path;

use bendwise::scenario::load;
use bendwise::trial::{Prepared, run_trial, strategies};
use rayon::prelude::*;

/// Scene, accepted steps, Newton iterations, active contacts.
const PINNED: [(&str, [u64; 3]); 6] = [
    ("collateral-loop", [505, 2333, 20_359]),
    ("dual-lumen", [4308, 15_480, 31_461]),
    ("prolapse", [501, 2431, 10_236]),
    ("published-tree-m1", [724, 2150, 1998]),
    ("side-branch", [411, 1401, 1846]),
    ("support-catheters", [976, 4883, 5018]),
];

fn counters(scene: &str) -> [u64; 3] {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("scenarios/{scene}.toml"));
    let scenario = load(&path).expect("a shipped scenario").scenario;
    let prepared = Prepared::new(&scenario).expect("a shipped scenario");
    let all = strategies(&scenario);
    let every_second: Vec<_> = all.iter().step_by(2).collect();
    every_second
        .into_par_iter()
        .map(|strategy| {
            let row = run_trial(&prepared, strategy, 0, false).row;
            [
                u64::from(row.steps),
                u64::from(row.newton_iterations),
                row.active_contacts,
            ]
        })
        .reduce(|| [0; 3], |a, b| [0, 1, 2].map(|k| a[k] + b[k]))
}

#[test]
fn steps_iterations_and_contacts_are_those_of_this_version() {
    let found = PINNED.map(|(scene, _)| (scene, counters(scene)));
    for (scene, counters) in found {
        println!("    (\"{scene}\", {counters:?}),");
    }
    assert_eq!(found, PINNED);
}
