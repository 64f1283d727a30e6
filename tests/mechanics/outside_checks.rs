//! The catalogue of checks against values from outside (`src/evidence`), each a test.
//!
//! `cargo test --release --test mechanics outside_checks::NAME -- --nocapture` prints what one of them measures.
#![allow(clippy::print_stdout, reason = "the table of checks")]

use std::fs;
use std::path::Path;

use bendwise::evidence::{CATALOGUE, Checked, Set, find};
use bendwise::report::evidence::markdown_row;

/// Texts with rows of the table that the command writes.
const TEXTS: [&str; 2] = ["README.md", "src/guide/trust.md"];

/// Carries a check out, prints its readings and fails where one is beyond its limit, or where a text says
/// otherwise.
fn holds(name: &str) {
    let check = find(name).expect("a check of the catalogue");
    let checked = check.run();
    for reading in checked.readings() {
        println!("CHECK | {name} | {reading}");
    }
    assert!(checked.holds(), "{name}: {}", checked.fault());
    stands_in_texts(&checked);
}

/// Every row of a text that names the check has to be the one that the command writes; the guide has to have it.
fn stands_in_texts(checked: &Checked) {
    let row = markdown_row(checked);
    for name in TEXTS {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(name);
        let text = fs::read_to_string(path).expect("a text of the project");
        let end = format!("| `{}` |", checked.name);
        let own: Vec<&str> = text.lines().filter(|line| line.ends_with(&end)).collect();
        assert!(
            name == "README.md" || own.len() == 1,
            "{name}: the row of {} is missing:\n{row}",
            checked.name
        );
        for line in own {
            assert_eq!(line, row, "{name} says otherwise than the command");
        }
    }
}

/// A test for each check, and the list of their names.
macro_rules! checks {
    ($($test:ident $name:literal $(#[$long:meta])?),+ $(,)?) => {
        $(
            #[test]
            $(#[$long])?
            fn $test() {
                holds($name);
            }
        )+
        const TESTED: &[&str] = &[$($name),+];
    };
}

checks! {
    cantilever "cantilever",
    circle "circle",
    column "column",
    tip_load "tip-load",
    curved_cantilever "curved-cantilever",
    taper "taper",
    helix "helix",
    ring "ring",
    core "core",
    plastic_cantilever "plastic-cantilever",
    bend_without_friction "bend-without-friction",
    bend_with_friction "bend-with-friction",
    interval "interval",
    capstan "capstan",
    surfaces "surfaces",
    torque_at_rest "torque-at-rest",
    precurved_wire "precurved-wire",
    wire_in_catheter "wire-in-catheter",
    two_bent_devices "two-bent-devices",
    bed "bed",
    outcomes "outcomes",
    outcomes_of_a_hundred "outcomes-of-a-hundred" #[ignore = "minutes of processor time"],
}

#[test]
fn every_check_of_the_catalogue_is_a_test_and_has_all_its_words() {
    let names: Vec<&str> = CATALOGUE.iter().map(|check| check.name).collect();
    assert_eq!(names, TESTED);
    for check in CATALOGUE {
        assert!(check.question.ends_with('?'), "{}", check.name);
        assert!(!check.source.is_empty() && !check.scene.is_empty() && !check.carries.is_empty());
        for covered in (check.covers)() {
            assert!(
                covered.low <= covered.high && covered.high.is_finite(),
                "{covered:?}"
            );
        }
    }
    assert!(CATALOGUE.iter().any(|check| check.set == Set::Long));
}
