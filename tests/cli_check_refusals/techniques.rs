//! Techniques that a scenario cannot try: folds, balloons, wires to change to.

use crate::{refused, refused_at};

const REDIRECT: &str = "[[technique]]\nkind = \"redirect\"\nattempts = 5\n";

fn looped_back(more: &str) -> String {
    format!("[[technique]] # tried\nkind = \"looped-back\"\n{more}\n")
}

#[test]
fn a_field_of_another_kind() {
    refused_at(
        "kind = \"push\"",
        "kind = \"push\"\nfold_mm = 30",
        "fold_mm",
        &["kind \"push\" has no use for it", "remove fold_mm"],
    );
}

#[test]
fn a_fold_without_a_free_leg() {
    refused_at(
        REDIRECT,
        &looped_back("fold_mm = 5\nfold_length_mm = 6"),
        "fold_length_mm",
        &["leaves no free leg", "choose fold_length_mm below 5"],
    );
}

#[test]
fn a_fold_longer_than_the_wire_that_may_be_fed() {
    refused(
        REDIRECT,
        &looped_back("fold_mm = 75"),
        &[
            "technique \"looped-back\"",
            "75 mm behind the tip",
            "80 mm of wire",
            "up to 70.0 mm",
        ],
    );
}

#[test]
fn a_fold_in_the_bend_of_the_tip() {
    refused(
        REDIRECT,
        &looped_back("fold_mm = 3\nfold_length_mm = 2.5"),
        &["the fold begins 1.75 mm behind the tip", "wire \"soft\""],
    );
}

#[test]
fn a_guide_narrower_than_any() {
    refused_at(
        "[guide]\nbranch = \"parent\"\n",
        "[guide]\nbranch = \"parent\"\ninner_diameter_mm = 0.4\n",
        "inner_diameter_mm",
        &["allowed is 0.5 to 4 mm"],
    );
}

#[test]
fn a_balloon_beyond_the_end_of_its_vessel() {
    refused_at(
        REDIRECT,
        "[[technique]]\nkind = \"redirect\"\nballoon = { diameter_mm = 3, length_mm = 40 }\n",
        "balloon = ",
        &["reaches to 71.0 mm of branch \"parent\"", "ends at 60.0 mm"],
    );
}

#[test]
fn a_wire_to_change_to_that_is_not_there() {
    refused_at(
        REDIRECT,
        "[[technique]]\nkind = \"redirect\"\nexchange = { wire = \"sofft\" }\n",
        "exchange = ",
        &["did you mean soft?"],
    );
}

#[test]
fn a_guide_that_moves_under_a_free_leg() {
    refused_at(
        REDIRECT,
        &looped_back("guide_aims = [{ tilt_deg = 10 }]"),
        "guide_aims",
        &["may lie back in the guide"],
    );
}
