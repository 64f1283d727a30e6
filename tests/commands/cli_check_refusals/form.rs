//! What is not the form of a scenario: fields and tables unknown, missing, doubled or of the wrong
//! type, lists without an entry, files that cannot be read.

use std::fs;

use crate::cli_check_refusals::{SOUND, check, refused, refused_at};

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
fn two_descriptions_of_one_thing_are_refused() {
    refused_at(
        "friction = 0.05",
        "surface = \"steel\"\nfriction = 0.05",
        "friction = 0.05",
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
            "[[technique]]",
            "kind = \"push\"",
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
