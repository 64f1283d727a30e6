//! `bendwise check` refuses wrong input with exit status 2 and one message that names file, line,
//! field, value and what is allowed.

use assert_cmd::cargo::cargo_bin_cmd;
use std::fs;
use std::path::Path;

/// A scenario in which nothing is wrong.
const SOUND: &str = r#"name = "test"
origin = "invented"
description = "A vessel with one branch."

[study]
trials = 4

[vessel]

[[vessel.branch]]
name = "parent"
diameter_mm = 3.0
pieces = [{ shape = "straight", length_mm = 60 }]

[[vessel.branch]]
name = "side"
parent = "parent"
at_mm = 30
take_off_deg = 90
diameters_mm = [[0, 2.0], [25, 1.5]]
pieces = [{ shape = "arc", radius_mm = 12, angle_deg = 60 }, { shape = "straight", length_mm = 15 }]

[guide]
branch = "parent"

[target]
branch = "side"
max_fed_mm = 80

[[wire]]
name = "soft"
diameter_mm = 0.3556
tip_load_gf = 0.3
core_mm = [[20, 0.06], [200, 0.18]]
friction = 0.05
bend = { length_mm = 2, angle_deg = 45 }

[[technique]]
kind = "push"

[[technique]]
kind = "redirect"
attempts = 5
"#;

/// Exit status and what went to standard error for the scenario file `file` of `folder`.
fn check(folder: &Path, file: &str) -> (i32, String) {
    let output = cargo_bin_cmd!("bendwise")
        .current_dir(folder)
        .args(["check", file])
        .output()
        .unwrap();
    let code = output.status.code().unwrap();
    (code, String::from_utf8(output.stderr).unwrap())
}

/// The sound scenario with `old` replaced by `new` is refused; the message points at the line
/// that holds `at` and contains every text of `says`.
fn refused_at(old: &str, new: &str, at: &str, says: &[&str]) {
    assert_eq!(SOUND.matches(old).count(), 1, "{old} must stand once");
    let text = SOUND.replace(old, new);
    let line = text.lines().position(|line| line.contains(at)).unwrap() + 1;
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("wrong.toml"), text).unwrap();
    let (code, message) = check(folder.path(), "wrong.toml");
    assert_eq!(code, 2, "exit status; message:\n{message}");
    let place = format!("wrong.toml:{line}:");
    assert!(message.contains(&place), "no {place} in:\n{message}");
    for text in says {
        assert!(message.contains(text), "no '{text}' in:\n{message}");
    }
    let errors = message.matches('×').count();
    assert_eq!(errors, 1, "one message, not {errors}:\n{message}");
}

fn refused(old: &str, new: &str, says: &[&str]) {
    refused_at(old, new, new.lines().next().unwrap(), says);
}

#[test]
fn the_sound_scenario_passes() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("sound.toml"), SOUND).unwrap();
    let (code, message) = check(folder.path(), "sound.toml");
    assert_eq!((code, message.as_str()), (0, ""));
}

#[test]
fn an_unknown_field_gets_a_near_name() {
    refused(
        "tip_load_gf = 0.3",
        "tipload_gf = 0.3",
        &[
            "unknown field tipload_gf",
            "[[wire]] \"soft\"",
            "did you mean tip_load_gf?",
        ],
    );
}

#[test]
fn an_unknown_table_gets_a_near_name() {
    refused(
        "[target]",
        "[tarjet]",
        &["unknown field tarjet", "did you mean target?"],
    );
}

#[test]
fn a_missing_field_says_where_and_how_to_add_it() {
    refused_at(
        "diameter_mm = 0.3556\n",
        "",
        "[[wire]]",
        &[
            "missing field diameter_mm in [[wire]] \"soft\"",
            "diameter_mm = 0.3556",
        ],
    );
}

#[test]
fn a_missing_table_says_how_to_add_it() {
    refused_at(
        "[guide]\nbranch = \"parent\"\n",
        "",
        "name = \"test\"",
        &["missing field guide in the scenario", "[guide]\n"],
    );
}

#[test]
fn a_wrong_type_names_what_was_found() {
    refused(
        "diameter_mm = 0.3556",
        "diameter_mm = \"0.3556\"",
        &[
            "diameter_mm in [[wire]] \"soft\" must be a number in mm",
            "\"0.3556\" is a text",
            "0.1 to 1 mm",
        ],
    );
}

#[test]
fn a_fraction_of_a_trial_is_a_wrong_type() {
    refused(
        "trials = 4",
        "trials = 4.5",
        &["trials in [study]", "4.5", "a whole number", "1 to 1000000"],
    );
}

#[test]
fn a_tip_load_of_300_is_suspected_to_be_in_mn() {
    refused(
        "tip_load_gf = 0.3",
        "tip_load_gf = 300",
        &[
            "tip_load_gf in [[wire]] \"soft\" is 300 gf",
            "0.05 to 50 gf",
            "looks like mN?",
        ],
    );
}

#[test]
fn a_wire_of_14_mm_is_suspected_to_be_in_thousandths_of_an_inch() {
    refused(
        "diameter_mm = 0.3556",
        "diameter_mm = 14",
        &[
            "diameter_mm in [[wire]] \"soft\" is 14 mm",
            "0.1 to 1 mm",
            "0.014 inch is 0.3556 mm",
        ],
    );
}

#[test]
fn a_negative_length_is_refused() {
    refused(
        "length_mm = 60",
        "length_mm = -60",
        &[
            "length_mm in piece 1 of [[vessel.branch]] \"parent\" is -60 mm",
            "above 0",
        ],
    );
}

#[test]
fn a_length_of_zero_is_refused() {
    refused(
        "length_mm = 2,",
        "length_mm = 0,",
        &["length_mm in bend of [[wire]] \"soft\" is 0 mm", "above 0"],
    );
}

#[test]
fn a_lumen_of_zero_is_refused() {
    refused(
        "diameter_mm = 3.0",
        "diameter_mm = 0",
        &[
            "diameter_mm in [[vessel.branch]] \"parent\" is 0 mm",
            "above 0",
        ],
    );
}

#[test]
fn friction_below_0_and_above_2_is_refused() {
    refused(
        "friction = 0.05",
        "friction = -0.1",
        &["friction in [[wire]] \"soft\" is -0.1", "0 to 2"],
    );
    refused(
        "friction = 0.05",
        "friction = 2.5",
        &["friction in [[wire]] \"soft\" is 2.5", "0 to 2"],
    );
}

#[test]
fn numbers_that_are_not_finite_are_refused() {
    refused(
        "friction = 0.05",
        "friction = nan",
        &["friction in [[wire]] \"soft\" is NaN", "0 to 2"],
    );
    refused(
        "at_mm = 30",
        "at_mm = inf",
        &[
            "at_mm in [[vessel.branch]] \"side\" is inf",
            "0 to 10000 mm",
        ],
    );
}

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

#[test]
fn a_wire_thicker_than_the_lumen_is_refused() {
    refused_at(
        "[25, 1.5]",
        "[2, 0.3], [25, 1.5]",
        "diameter_mm = 0.3556",
        &[
            "diameter_mm in [[wire]] \"soft\" is 0.3556",
            "0.3 mm wide at 2.0 mm in branch \"side\"",
            "below 0.3 mm",
        ],
    );
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
fn an_empty_list_of_techniques_is_refused() {
    let techniques =
        "[[technique]]\nkind = \"push\"\n\n[[technique]]\nkind = \"redirect\"\nattempts = 5\n";
    refused_at(
        techniques,
        "",
        "name = \"test\"",
        &[
            "missing field technique in the scenario",
            "[[technique]]\nkind = \"push\"",
        ],
    );
}

#[test]
fn an_empty_list_of_wires_is_refused() {
    let end = SOUND.find("[[technique]]").unwrap();
    let start = SOUND.find("[[wire]]").unwrap();
    let wires = &SOUND[start..end];
    let text = SOUND.replace(wires, "");
    let text = text.replace("name = \"test\"", "name = \"test\"\nwire = []");
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("wrong.toml"), text).unwrap();
    let (code, message) = check(folder.path(), "wrong.toml");
    assert_eq!(code, 2);
    for says in [
        "wrong.toml:2:",
        "wire in the scenario has 0 entries",
        "allowed is 1 or more",
    ] {
        assert!(message.contains(says), "no '{says}' in:\n{message}");
    }
}

#[test]
fn zero_trials_are_refused() {
    refused(
        "trials = 4",
        "trials = 0",
        &["trials in [study] is 0 trials", "1 to 1000000"],
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
fn a_list_that_does_not_rise_is_refused() {
    refused(
        "[25, 1.5]",
        "[0, 1.5]",
        &[
            "diameters_mm entry 2 in [[vessel.branch]] \"side\"",
            "0 mm does not lie beyond 0 mm",
        ],
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
fn two_descriptions_of_one_thing_are_refused() {
    refused(
        "friction = 0.05",
        "surface = \"steel\"\nfriction = 0.05",
        &[
            "friction in [[wire]] \"soft\" is 0.05",
            "surface says the same already",
        ],
    );
}

#[test]
fn text_that_is_not_toml_is_refused_at_its_line() {
    refused("at_mm = 30", "at_mm = = 30", &["not valid TOML"]);
}

#[test]
fn a_bend_tighter_than_its_lumen_is_refused_at_its_branch() {
    refused_at(
        "radius_mm = 12,",
        "radius_mm = 0.5,",
        "name = \"side\"",
        &[
            "branch `side`",
            "tighter than its lumen radius",
            "allowed is more than",
        ],
    );
}

#[test]
fn a_file_that_is_not_there_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let (code, message) = check(folder.path(), "nothing.toml");
    assert_eq!(code, 2);
    assert!(
        message.contains("cannot read the scenario nothing.toml"),
        "{message}"
    );
}

#[test]
fn a_fault_in_the_tree_file_points_into_it() {
    let folder = tempfile::tempdir().unwrap();
    let start = SOUND.find("[[vessel.branch]]").unwrap();
    let end = SOUND.find("[guide]").unwrap();
    let tree = SOUND[start..end].replace("vessel.branch", "branch");
    let scenario = SOUND.replace(&SOUND[start..end], "tree = \"tree.toml\"\n\n");
    fs::write(folder.path().join("scenario.toml"), scenario).unwrap();
    fs::write(folder.path().join("tree.toml"), &tree).unwrap();
    assert_eq!(check(folder.path(), "scenario.toml"), (0, String::new()));

    fs::write(
        folder.path().join("tree.toml"),
        tree.replace("at_mm = 30", "at_mm = -30"),
    )
    .unwrap();
    let (code, message) = check(folder.path(), "scenario.toml");
    assert_eq!(code, 2);
    for says in ["tree.toml:9:", "at_mm in [[branch]] \"side\" is -30 mm"] {
        assert!(message.contains(says), "no '{says}' in:\n{message}");
    }
}
