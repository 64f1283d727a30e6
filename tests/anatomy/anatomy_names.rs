//! Branches named by the file itself, by a file of names, and by the scenario.
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

use crate::anatomy_common::{put, scenario};
use std::path::Path;

/// A trunk that forks into two at 20 mm.
const TREE: &str = "branch,segment,x,y,z,radius\n\
    a,trunk,0,0,0,1.5\na,trunk,10,0,0,1.5\na,trunk,19,0,0,1.5\na,onward,30,1,0,1.3\n\
    a,onward,40,3,0,1.2\na,onward,50,6,0,1.2\nb,sideways,20,0,0,1\nb,sideways,25,7,0,1\n\
    b,sideways,28,14,0,0.9\nb,,29,20,0,0.9\n";

/// Names of the branches in order, or the message with which the scenario is refused.
fn names(folder: &Path, file: &str, options: &str) -> Result<Vec<String>, String> {
    let vessel = format!("file = \"{file}\"\nunits = \"mm\"\nframe = \"scene\"\n{options}");
    let text = scenario(&vessel, "branch = \"branch-1\"", "tip = 2", 60.0);
    let path = put(folder, "scene.toml", text);
    match bendwise::scenario::load(&path) {
        Ok(loaded) => {
            let imported = loaded.imported.unwrap();
            Ok(imported.branches.into_iter().map(|b| b.name).collect())
        }
        Err(error) => Err(error.to_string()),
    }
}

#[test]
fn a_column_names_the_branch_in_which_most_of_its_points_lie() {
    let here = tempfile::tempdir().unwrap();
    put(here.path(), "tree.csv", TREE);
    let found = names(here.path(), "tree.csv", "name_array = \"segment\"").unwrap();
    assert_eq!(found, ["trunk", "onward", "sideways"]);
    let wrong = names(here.path(), "tree.csv", "name_array = \"vessel\"").unwrap_err();
    assert!(wrong.contains("no names called \"vessel\""), "{wrong}");
    assert!(
        wrong.contains("branch, segment, x, y, z, radius"),
        "{wrong}"
    );
}

/// The same tree with texts at its points and at its lines, as two arrays.
fn polydata() -> String {
    let rows: Vec<Vec<&str>> = TREE
        .lines()
        .skip(1)
        .map(|l| l.split(',').collect())
        .collect();
    let column = |k: usize| rows.iter().map(|r| r[k]).collect::<Vec<_>>().join("\n");
    let points: Vec<String> = rows.iter().map(|r| r[2..5].join(" ")).collect();
    format!(
        "# vtk DataFile Version 3.0\ntree\nASCII\nDATASET POLYDATA\nPOINTS 10 double\n{}\n\
         LINES 2 12\n6 0 1 2 3 4 5\n4 6 7 8 9\nCELL_DATA 2\nFIELD FieldData 1\n\
         vessel 1 2 string\nmain\nbranch\nPOINT_DATA 10\nFIELD FieldData 2\n\
         radius 1 10 double\n{}\nsegment 1 10 string\n{}\n",
        points.join("\n"),
        column(5),
        column(1)
    )
}

#[test]
fn a_stated_array_of_texts_at_points_or_at_lines_names_the_branches() {
    let here = tempfile::tempdir().unwrap();
    put(here.path(), "tree.vtk", polydata());
    let found = names(here.path(), "tree.vtk", "name_array = \"segment\"").unwrap();
    assert_eq!(found, ["trunk", "onward", "sideways"]);
    let found = names(here.path(), "tree.vtk", "name_array = \"vessel\"").unwrap();
    assert_eq!(found, ["main", "main-2", "branch"]);
    let found = names(here.path(), "tree.vtk", "").unwrap();
    assert_eq!(found, ["branch-1", "branch-1.1", "branch-1.2"]);
    let wrong = names(here.path(), "tree.vtk", "name_array = \"radius\"").unwrap_err();
    assert!(
        wrong.contains("its arrays of text are \"vessel\", \"segment\""),
        "{wrong}"
    );
    put(
        here.path(),
        "tube.stl",
        crate::anatomy_common::stl(&crate::anatomy_common::cone(20.0, 1.0, 1.0, 9, 9)),
    );
    let wrong = names(here.path(), "tube.stl", "name_array = \"segment\"").unwrap_err();
    assert!(wrong.contains("no .stl file carries names"), "{wrong}");
}

#[test]
fn a_file_of_names_points_by_tip_branch_or_place_and_the_scenario_has_the_last_word() {
    let here = tempfile::tempdir().unwrap();
    put(here.path(), "tree.csv", TREE);
    let file = "# names\ntip,branch,x_mm,y_mm,z_mm,name\n1,,,,,LAD\n,branch-1,,,,LM\n\
                ,,28,14,0,D1\n";
    put(here.path(), "names.csv", file);
    let by_file = "names_file = \"names.csv\"";
    assert_eq!(
        names(here.path(), "tree.csv", by_file).unwrap(),
        ["LM", "LAD", "D1"]
    );
    let both = format!("{by_file}\n[[vessel.name]]\nbranch = \"D1\"\nname = \"diagonal\"");
    assert_eq!(
        names(here.path(), "tree.csv", &both).unwrap(),
        ["LM", "LAD", "diagonal"]
    );
}

#[test]
fn a_wrong_file_of_names_is_refused_with_its_line() {
    let here = tempfile::tempdir().unwrap();
    put(here.path(), "tree.csv", TREE);
    let by_file = "names_file = \"names.csv\"";
    for (file, says) in [
        (
            "tip,name\n1,LAD\n7,D1\n",
            &["names.csv, line 3", "no tip 7", "tip 2"] as &[_],
        ),
        (
            "tip,name\none,LAD\n",
            &["names.csv, line 2", "whole number", "\"one\""],
        ),
        (
            "tip,name\n1,LAD\n2,LAD\n",
            &["two branches are called \"LAD\""],
        ),
        (
            "tip,branch,name\n2,,D1\n,b,D2\n",
            &["line 3", "has its name from line 2"],
        ),
        ("tip,name\n1,\n", &["line 2", "1 to 60 characters"]),
        ("tip,name\n,LAD\n", &["line 2", "points at no branch"]),
        (
            "x,y,z,name\n1,2,inf,LAD\n",
            &["line 2", "z must be a number", "\"inf\""],
        ),
        (
            "tip,vessel\n1,LAD\n",
            &["line 1", "columns are tip, vessel"],
        ),
        ("", &["names.csv, line 1: columns are"]),
    ] {
        put(here.path(), "names.csv", file);
        let message = names(here.path(), "tree.csv", by_file).unwrap_err();
        for text in says {
            assert!(message.contains(text), "no {text:?} in {message}");
        }
    }
    std::fs::remove_file(here.path().join("names.csv")).unwrap();
    let message = names(here.path(), "tree.csv", by_file).unwrap_err();
    assert!(message.contains("names.csv: cannot be read"), "{message}");
}
