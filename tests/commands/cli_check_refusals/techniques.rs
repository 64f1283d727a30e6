//! Techniques that a scenario cannot try: folds, balloons, wires to change to.

use crate::cli_check_refusals::{refused, refused_at};

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
        &[
            "ends 41.0 mm beyond the branching",
            "(parent) is 30.0 mm long",
        ],
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

const DUAL: &str = "[[catheter]]\nname = \"dual\"\nouter_diameter_mm = 0.9\ninner_diameter_mm = 0.45\nstiffness_N_mm2 = [[0, 0.5]]\nfriction = 0.03\n";

fn dual(more_catheter: &str, technique: &str) -> String {
    format!(
        "[[technique]] # tried\nkind = \"dual-lumen\"\n{technique}\ncatheter = \"dual\"\n{DUAL}{more_catheter}\n"
    )
}

#[test]
fn a_side_port_beyond_the_catheter() {
    refused_at(
        REDIRECT,
        &dual(
            "length_mm = 900\nside_port = { behind_tip_mm = 1000 }",
            "first_wire = \"soft\"",
        ),
        "behind_tip_mm",
        &["the catheter is 900 mm long", "behind_tip_mm below 900"],
    );
}

#[test]
fn a_catheter_without_a_side_port() {
    refused_at(
        REDIRECT,
        &dual("", "first_wire = \"soft\""),
        "catheter = \"dual\"",
        &["has no side port", "give that catheter a side_port"],
    );
}

#[test]
fn a_first_wire_that_is_not_there_or_does_not_reach() {
    let port = "side_port = { behind_tip_mm = 8 }";
    refused_at(
        REDIRECT,
        &dual(port, "first_wire = \"sofd\""),
        "sofd",
        &["the name of a wire", "did you mean", "soft"],
    );
    refused(
        REDIRECT,
        &dual(port, "first_wire = \"soft\"\nfirst_wire_past_mm = 7"),
        &[
            "the catheter's tip comes to 6.0 mm past",
            "only 7.0 mm past",
            "8.0 mm or more",
        ],
    );
    refused(
        REDIRECT,
        &dual(port, "first_wire = \"soft\"\nfirst_wire_past_mm = 200"),
        &["the first wire would lie 200.0 mm beyond the branching"],
    );
}

#[test]
fn an_anchor_that_cannot_hold_the_tip() {
    let text = dual(
        "side_port = { behind_tip_mm = 8 }",
        "first_wire = \"soft\"\nanchor = \"side\"",
    );
    refused(
        REDIRECT,
        &text.replace("kind = \"dual-lumen\"", "kind = \"loop-in-vessel\""),
        &["the anchor \"side\" cannot hold the tip"],
    );
}

#[test]
fn a_shaft_without_a_thickness() {
    refused_at(
        REDIRECT,
        "[[technique]]\nkind = \"redirect\"\nballoon = { diameter_mm = 3, length_mm = 8, shaft_wire = \"soft\" }\n",
        "shaft_wire",
        &["has no shaft in the lumen", "add shaft_diameter_mm"],
    );
}
