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
    ("collateral-loop", [2701, 10_874, 98_712]),
    ("dual-lumen", [20_001, 82_372, 202_906]),
    ("prolapse", [2896, 11_580, 68_644]),
    ("published-tree-m1", [6052, 18_900, 25_218]),
    ("side-branch", [2544, 10_564, 12_906]),
    ("support-catheters", [4860, 20_481, 17_341]),
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
