//! Values that do not go together: names of nothing, and a vessel in which the way to the target is
//! no way.

use std::fs;

use crate::cli_check_refusals::{SOUND, check, refused, refused_at};

#[test]
fn a_target_that_is_no_branch_gets_a_near_name() {
    refused(
        "branch = \"side\"",
        "branch = \"sidee\"",
        &[
            "branch in [target] is \"sidee\"",
            "not the name of a branch",
            "did you mean side?",
            "parent, side",
        ],
    );
}

#[test]
fn an_unknown_technique_gets_a_near_name() {
    refused(
        "kind = \"redirect\"",
        "kind = \"redirct\"",
        &[
            "kind in [[technique]] number 2 is \"redirct\"",
            "did you mean redirect?",
            "push, redirect",
        ],
    );
}

#[test]
fn an_unknown_surface_names_those_allowed() {
    refused(
        "friction = 0.05",
        "surface = \"teflon\"",
        &[
            "surface in [[wire]] \"soft\" is \"teflon\"",
            "hydrophilic, PTFE, steel",
        ],
    );
}

#[test]
fn a_name_given_twice_is_refused() {
    refused_at(
        "kind = \"redirect\"",
        "kind = \"redirect\"\nname = \"Push\"",
        "name = \"Push\"",
        &[
            "name in [[technique]] \"Push\" is \"Push\"",
            "the name \"push\" stands before it",
        ],
    );
}

#[test]
fn a_parent_that_is_no_branch_gets_a_near_name() {
    refused(
        "parent = \"parent\"",
        "parent = \"Parent\"",
        &[
            "parent in [[vessel.branch]] \"side\"",
            "did you mean parent?",
        ],
    );
}

#[test]
fn a_target_in_the_guides_own_branch_is_refused() {
    refused(
        "branch = \"side\"",
        "branch = 'parent'",
        &[
            "branch in [target] is \"parent\"",
            "the guide ends in the same branch",
        ],
    );
}

/// The lumen is the one that is built: corners of the given diameters are rounded over a lumen
/// radius, which here leaves 0.3006 mm a little beyond the given 0.3 mm at 2 mm.
#[test]
fn a_wire_thicker_than_the_lumen_is_refused() {
    refused_at(
        "[[0, 2.0], [25, 1.5]]",
        "[[0, 2.0], [2, 0.3], [25, 1.5]]",
        "[[wire]]",
        &[
            "diameter_mm of wire \"soft\" is 0.3556 mm",
            "0.2996 mm wide at 2.1 mm in branch \"side\"",
            "allowed is below 0.2996 mm",
            "take a thinner wire or a wider vessel",
        ],
    );
}

/// Only the way from the guide's end to where the target counts as reached has to be wide enough.
#[test]
fn a_wire_thicker_than_a_lumen_off_its_way_passes() {
    let far = SOUND.replace("[25, 1.5]", "[20, 1.5], [25, 0.3]");
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("far.toml"), far).unwrap();
    assert_eq!(check(folder.path(), "far.toml"), (0, String::new()));
}

#[test]
fn a_core_thicker_than_its_wire_is_refused() {
    refused(
        "[200, 0.18]",
        "[200, 0.5]",
        &["core_mm", "0.5 mm thick at 200 mm", "up to 0.3556 mm"],
    );
}

#[test]
fn a_station_off_its_branch_is_refused() {
    refused(
        "at_mm = 30",
        "at_mm = 61",
        &[
            "at_mm in [[vessel.branch]] \"side\" is 61",
            "allowed is 0 to 60.0 mm",
        ],
    );
}

#[test]
fn too_little_wire_for_the_way_is_refused() {
    refused(
        "max_fed_mm = 80",
        "max_fed_mm = 30",
        &["max_fed_mm in [target] is 30", "allowed is above 35.0 mm"],
    );
}

#[test]
fn a_bend_tighter_than_its_lumen_is_refused_at_its_piece() {
    refused(
        "radius_mm = 12,",
        "radius_mm = 0.5,",
        &[
            "branch `side`",
            "tighter than its lumen radius",
            "allowed is more than",
        ],
    );
}

#[test]
fn a_wall_of_two_laws_is_refused() {
    refused_at(
        "[vessel]\n",
        "[vessel]\nwall_stiffness_mN_per_mm2 = 100\nwall = { law = \"stiffening\", doubles_at_mm = 0.05 }\n",
        "wall = {",
        &["wall", "wall_stiffness_mN_per_mm2"],
    );
}

#[test]
fn an_unknown_law_of_the_wall_gets_a_near_name() {
    refused_at(
        "[vessel]\n",
        "[vessel]\nwall = { law = \"stifening\", doubles_at_mm = 0.05 }\n",
        "wall = {",
        &[
            "law in wall of [vessel] is \"stifening\"",
            "did you mean stiffening?",
            "linear, ",
            ", stiffening",
        ],
    );
}

#[test]
fn a_value_of_another_law_of_the_wall_is_refused() {
    refused_at(
        "[vessel]\n",
        "[vessel]\nwall = { law = \"linear\", doubles_at_mm = 0.05 }\n",
        "wall = {",
        &["doubles_at_mm", "choose another law"],
    );
}
