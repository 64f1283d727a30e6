//! Messages stay readable whatever stands in the file.

use std::fs;

use crate::hostile_input::{SCENARIO, bounded, checked, folder_with, refused, said, scenario};

/// The printer of messages counts columns in 16 bits; a line may be longer.
#[test]
fn a_fault_beyond_column_65535_is_shown_around_its_place() {
    let long = "a".repeat(70_000);
    refused(
        scenario(&[("name = \"small\"", &format!("name = \"{long}\" x"))]),
        &["not valid TOML", "a.toml:1:70011", "aaaa\" x"],
    );
    let pieces = "{ shape = \"straight\", length_mm = 1 }, ".repeat(3000);
    let wrong = format!("pieces = [{pieces}{{ shape = \"straigt\", length_mm = 1 }}]");
    refused(
        scenario(&[(
            "pieces = [{ shape = \"straight\", length_mm = 40 }]",
            &wrong,
        )]),
        &["piece 3001", "did you mean straight?", "a.toml:13:"],
    );
    // A fault that the vessel finds, after the scenario was read.
    let table = "diameters_mm = [".to_owned() + &"[0, 3], ".repeat(20_000) + "]";
    refused(
        scenario(&[("diameter_mm = 3", &table)]),
        &["does not lie beyond 0 mm before it"],
    );
}

/// A long value at any place of any type is cut, and so are names, keys, paths and lists of names.
#[test]
fn long_values_are_cut_wherever_they_stand() {
    let long = "b".repeat(200_000);
    let digits = "9".repeat(200_000);
    let text = format!("\"{long}\"");
    let mut tried = 0;
    for line in SCENARIO.lines().filter(|line| line.contains(" = ")) {
        let field = line.split_once(" = ").unwrap().0;
        for value in [
            &text,
            &digits,
            &format!("[{text}]"),
            &format!("-{digits}.5"),
        ] {
            checked(scenario(&[(line, &format!("{field} = {value}"))]));
            tried += 1;
        }
        checked(scenario(&[(line, &format!("{long} = 1"))]));
        checked(scenario(&[(
            line,
            &format!("{line}\n{long} = {{ {long} = {text} }}"),
        )]));
    }
    assert!(tried > 80, "{tried}");
    refused(
        scenario(&[("trials = 2", &format!("trials = \"{long}\""))]),
        &["bbb… (200002 characters)"],
    );
    checked(scenario(&[(
        "[vessel]\n",
        &format!("[vessel]\ntree = {text}\n"),
    )]));
    checked(scenario(&[(
        "[vessel]\n",
        &format!("[vessel]\nfile = \"{long}.csv\"\nunits = \"mm\"\n"),
    )]));
    checked(scenario(&[(
        "[[vessel.branch]]",
        &format!("[[vessel.{long}]]"),
    )]));
}

/// Values of a file of anatomy are cut as well.
#[test]
fn long_words_of_an_anatomy_are_cut() {
    let long = "c".repeat(200_000);
    for (name, text) in [
        ("t.csv", format!("branch,x,y,z,{long}\na,0,0,0,1\n")),
        ("t.csv", format!("branch,x,y,z,r\na,0,0,0,{long}\n")),
        (
            "t.csv",
            format!("branch,x,y,z,r\n{long},0,0,0,1\nb,0,0,0,1\n{long},1,0,0,1\n"),
        ),
        ("t.swc", format!("1 0 0 0 0 {long} -1\n")),
        ("t.vtk", format!("# vtk DataFile Version 3.0\nx\n{long}\n")),
        ("t.obj", format!("v 0 0 0\nf {long} 2 3\n")),
        ("t.ply", format!("ply\nformat {long} 1.0\n")),
        ("t.stl", format!("solid a\n{long}\n")),
        ("t.vtp", format!("<{long}/>")),
    ] {
        let folder = folder_with(name, &text);
        let (head, rest) = SCENARIO.split_once("[vessel]").unwrap();
        let rest = rest.split_once("[guide]").unwrap().1;
        let scene = format!(
            "{head}[vessel]\nfile = \"{name}\"\nunits = \"mm\"\nframe = \"scene\"\n[guide]{rest}"
        );
        fs::write(folder.path().join("a.toml"), scene).unwrap();
        let (code, said) = said(&bounded(folder.path(), &["check", "a.toml"]));
        assert_eq!(code, Some(2), "{said}");
        assert!(said.len() < 5000, "{name}: {} bytes", said.len());
    }
}

/// What would steer a terminal is not passed on to it.
#[test]
fn control_characters_of_a_file_are_not_printed() {
    let (code, said) = checked("name = \"a\u{1b}[31m\n");
    assert_eq!(code, Some(2));
    assert!(!said.contains('\u{1b}'), "{said:?}");
}

#[test]
fn a_straight_tip_has_no_radius_of_bend() {
    let (code, text) = checked(scenario(&[("angle_deg = 60", "angle_deg = 0")]));
    assert_eq!(code, Some(0), "{text}");
    assert!(!text.contains("inf"), "{text}");
    let line = text.lines().find(|line| line.contains("primary")).unwrap();
    assert!(line.ends_with("straight"), "{line}");
}
