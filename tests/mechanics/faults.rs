//! Checks of the checks: the program is broken in three ways, and the catalogue has to see each.
//!
//! `cargo test --release --features faults --test mechanics faults:: -- --nocapture`
#![allow(clippy::print_stdout, reason = "the table of checks")]

use bendwise::evidence::{CATALOGUE, Check, Set};
use bendwise::faults::{Fault, inject};

/// Names of the short checks that do not hold.
fn failing() -> Vec<&'static str> {
    let run = |check: &'static Check| {
        let checked = check.run();
        if !checked.holds() {
            println!("FAULT | {} | {}", check.name, checked.fault());
        }
        !checked.holds()
    };
    let short = CATALOGUE.iter().filter(|check| check.set == Set::Short);
    // Trials take long and see what the mechanics do.
    let mechanics = short.filter(|check| check.name != "outcomes");
    mechanics
        .filter(|check| run(check))
        .map(|check| check.name)
        .collect()
}

/// One test, because a fault is that of the whole process.
#[test]
fn each_fault_is_seen_by_the_check_that_should_see_it_and_none_without() {
    inject(None);
    assert_eq!(failing(), [""; 0]);
    for (fault, seen_by, unseen_by) in [
        (Fault::FrictionSign, "bend-with-friction", "cantilever"),
        (Fault::BendingFactor, "cantilever", "capstan"),
        (Fault::CoarseMesh, "bend-without-friction", "cantilever"),
    ] {
        println!("FAULT | {fault:?}");
        inject(Some(fault));
        let failing = failing();
        assert!(failing.contains(&seen_by), "{fault:?}: {failing:?}");
        assert!(!failing.contains(&unseen_by), "{fault:?}: {failing:?}");
    }
    inject(None);
}
