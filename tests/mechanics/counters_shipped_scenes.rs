//! The work of the solver on shipped scenes, pinned: a change that makes it slower without changing an
//! outcome fails here.
//!
//! Two trials of every strategy: accepted steps, Newton iterations, and active contacts at the ends of
//! the steps added up. A change of the solver that is meant to change them writes the printed ones here.

#![allow(clippy::print_stdout, reason = "the numbers to be pinned")]

use std::path::Path;

use bendwise::scenario::load;
use bendwise::trial::{Prepared, run_trial, strategies};
use rayon::prelude::*;

const TRIALS: u32 = 2;

/// Scene, accepted steps, Newton iterations, active contacts.
const PINNED: [(&str, [u64; 3]); 6] = [
    ("collateral-loop", [2692, 10_704, 118_886]),
    ("dual-lumen", [19_875, 82_863, 194_128]),
    ("prolapse", [2901, 11_560, 69_164]),
    ("published-tree-m1", [6051, 18_963, 25_052]),
    ("side-branch", [2522, 10_304, 13_288]),
    ("support-catheters", [4933, 20_666, 17_267]),
];

fn counters(scene: &str) -> [u64; 3] {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("scenarios/{scene}.toml"));
    let scenario = load(&path).expect("a shipped scenario").scenario;
    let prepared = Prepared::new(&scenario).expect("a shipped scenario");
    let trials: Vec<_> = strategies(&scenario)
        .into_iter()
        .flat_map(|strategy| (0..TRIALS).map(move |trial| (strategy.clone(), trial)))
        .collect();
    trials
        .par_iter()
        .map(|(strategy, trial)| {
            let row = run_trial(&prepared, strategy, *trial, false).row;
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
