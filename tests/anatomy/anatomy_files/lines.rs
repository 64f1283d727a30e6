//! Centrelines as other programs write them.

use super::write::polydata_with;
use crate::anatomy_common::put;
use bendwise::anatomy::tree::ImportSettings;
use bendwise::anatomy::{AnatomyError, Imported, Unit, import};
use std::fmt::Write as _;

fn settings() -> ImportSettings {
    ImportSettings {
        units: Some(Unit::Millimetre),
        ..ImportSettings::default()
    }
}

fn read(name: &str, content: impl AsRef<[u8]>) -> Result<Imported, Box<AnatomyError>> {
    let folder = tempfile::tempdir().unwrap();
    import(&put(folder.path(), name, content), &settings()).map(|i| i.0)
}

#[track_caller]
fn says(imported: &Imported, text: &str) {
    let notes = imported.changes.notes.join("\n");
    assert!(notes.contains(text), "no {text:?} in:\n{notes}");
}

/// Rows of a straight line.
fn rows(name: &str, from: [f64; 3], to: [f64; 3], r: f64, parent: &str) -> String {
    let mut text = String::new();
    for i in 0..=20 {
        let t = f64::from(i) / 20.0;
        let p: Vec<f64> = (0..3).map(|k| from[k] + (to[k] - from[k]) * t).collect();
        let _ = writeln!(text, "{name},{},{},{},{r},{parent}", p[0], p[1], p[2]);
    }
    text
}

/// A trunk whose tips are wider than its inlet, which only the column tells, and a branch that lies
/// nearer to another than to its parent.
#[test]
fn a_parent_column_decides_where_branches_hang_and_where_the_tree_begins() {
    let table = String::from("branch,x,y,z,r,parent\n")
        + &rows("side", [20.0, 2.5, 0.0], [20.0, 30.0, 0.0], 1.6, "trunk")
        + &rows("trunk", [0.0; 3], [40.0, 0.0, 0.0], 1.2, "")
        + &rows("second", [21.0, 31.0, 0.0], [45.0, 31.0, 0.0], 1.8, "side");
    let imported = read("a.csv", &table).unwrap();
    says(&imported, "2 branches hung by the column parent");
    says(
        &imported,
        "inlet: where the file says that it begins, at (0.0, 0.0, 0.0) mm",
    );
    assert!(imported.branches[0].points[0].norm() < 0.3);
    let last = imported.branches.last().unwrap();
    assert!(last.tip.is_some());
    let unknown = table.replace(",side\n", ",aorta\n");
    let message = read("a.csv", unknown).unwrap_err().to_string();
    assert!(
        message.contains("names neither branches of the table"),
        "{message}"
    );
    assert!(message.contains("\"aorta\""), "{message}");
}

#[test]
fn a_parent_column_of_point_numbers_is_read_as_in_swc() {
    let mut table = String::from("id,x,y,z,radius,parent\n");
    for i in 0..30 {
        let parent = if i == 0 { -1 } else { i - 1 };
        let _ = writeln!(table, "{i},{i},0,0,1.5,{parent}");
    }
    for i in 30..50 {
        let parent = if i == 30 { 15 } else { i - 1 };
        let _ = writeln!(table, "{i},{},{},0,0.9,{parent}", 15 + (i - 29) / 2, i - 29);
    }
    let imported = read("a.csv", table).unwrap();
    assert_eq!(imported.branches.len(), 3);
    assert!(imported.branches[0].points[0].norm() < 0.3);
}

/// Two centrelines cut into three tracts each, the first two of both in common, out of order, with
/// a gap of 0.5 mm where a tool left one out.
#[test]
fn tracts_are_put_together_by_the_numbers_that_the_file_holds() {
    let piece = |from: [f64; 3], to: [f64; 3]| -> Vec<[f64; 4]> {
        (0..=20)
            .map(|i| {
                let t = f64::from(i) / 20.0;
                let at = |k: usize| from[k] + (to[k] - from[k]) * t;
                [at(0), at(1), at(2), 1.5]
            })
            .collect()
    };
    let trunk = piece([0.0; 3], [20.0, 0.0, 0.0]);
    let fork = piece([20.0, 0.0, 0.0], [23.0, 0.0, 0.0]);
    let on = piece([23.5, 0.0, 0.0], [50.0, 0.0, 0.0]);
    let side = piece([23.0, 0.5, 0.0], [40.0, 18.0, 0.0]);
    let lines = [&on, &trunk, &side, &fork, &trunk, &fork];
    let centreline = [0, 0, 1, 0, 1, 1];
    let tract = [2, 0, 2, 1, 0, 1];
    let arrays: [(&str, &[i32]); 2] = [("CenterlineIds", &centreline), ("TractIds", &tract)];
    let bytes = polydata_with(&lines, &arrays);
    let imported = read("a.vtp", bytes).unwrap();
    says(&imported, "6 tracts put together to 2 lines");
    says(&imported, "the largest gap between two is 0.500");
    says(&imported, "inlet: where all lines of the file start");
    assert_eq!(imported.branches.len(), 3);
    assert!(imported.branches[0].points[0].norm() < 0.5);
}

/// Three lines from one start, of which one ends in a wide bulge: before, the tree began there.
#[test]
fn lines_that_share_their_start_begin_there_and_the_wider_end_is_named() {
    let mut table = String::from("branch,x,y,z,r,parent\n");
    for (name, to) in [
        ("a", [60.0, 0.0, 0.0]),
        ("b", [50.0, 25.0, 0.0]),
        ("c", [50.0, -25.0, 0.0]),
    ] {
        table += &rows(name, [0.0; 3], [25.0, 0.0, 0.0], 1.5, "");
        let wide = if name == "a" { 2.6 } else { 1.2 };
        let on = rows(name, [25.0, 0.0, 0.0], to, wide, "");
        table += on.split_once('\n').unwrap().1;
    }
    let table = table.replace(",parent", "").replace(",\n", "\n");
    let imported = read("a.csv", table).unwrap();
    assert!(imported.branches[0].points[0].norm() < 0.5);
    says(
        &imported,
        "inlet: where all lines of the file start, at (0.0, 0.0, 0.0) mm, diameter 3.00",
    );
    says(&imported, "is wider (5.20 mm): inlet_mm");
}

/// A branch that begins 2.6 mm off the axis of a trunk of 1.8 mm radius, its own being 1.2 mm: the
/// lumens run into each other. One that begins 5 mm off does not, and neither does another.
#[test]
fn a_branch_whose_lumen_runs_into_its_parents_is_joined_and_all_others_are_named_at_once() {
    let head = "branch,x,y,z,r,parent\n";
    let trunk = rows("trunk", [0.0; 3], [40.0, 0.0, 0.0], 1.8, "");
    let near = rows("near", [20.0, 2.6, 0.0], [20.0, 30.0, 0.0], 1.2, "");
    let strip = |text: String| text.replace(",parent", "").replace(",\n", "\n");
    let imported = read("a.csv", strip(format!("{head}{trunk}{near}"))).unwrap();
    assert_eq!(imported.branches.len(), 3);
    says(
        &imported,
        "begins 2.60 mm off the tree, joined because the lumens run into each other",
    );
    let far = rows("far", [10.0, 5.0, 0.0], [10.0, 30.0, 0.0], 1.2, "");
    let away = rows("away", [30.0, 9.0, 0.0], [30.0, 30.0, 0.0], 1.2, "");
    let error = read("a.csv", strip(format!("{head}{trunk}{far}{away}"))).unwrap_err();
    let message = error.to_string();
    for text in ["\"far\"", "5.00 mm", "\"away\"", "9.00 mm"] {
        assert!(message.contains(text), "no {text} in {message}");
    }
    assert!(
        error.fault.help().contains("join_mm = 9.1"),
        "{}",
        error.fault.help()
    );
}

/// Lines without a radius and without a unit: both are asked for at once.
#[test]
fn all_that_is_missing_is_asked_for_in_one_go() {
    let bytes = polydata_with(&[&vec![[0.0, 0.0, 0.0, 1.0], [9.0, 0.0, 0.0, 1.0]]], &[]);
    let text = String::from_utf8_lossy(&bytes).replace("Radius", "Wdth__");
    let folder = tempfile::tempdir().unwrap();
    let path = put(folder.path(), "a.vtp", text.as_bytes());
    let error = import(&path, &ImportSettings::default()).unwrap_err();
    let help = error.fault.help();
    assert!(error.to_string().contains("\"Wdth__\""), "{error}");
    assert!(
        help.contains("radius_array = ") && help.contains("units = "),
        "{help}"
    );
    // Units that several sizes fit, and a frame that a view needs.
    let table = "x,y,z,r\n0,0,0,0.5\n30,0,0,0.5\n60,0,0,0.5\n";
    let path = put(folder.path(), "a.csv", table);
    let needed = ImportSettings {
        frame_needed: true,
        ..ImportSettings::default()
    };
    let help = import(&path, &needed).unwrap_err().fault.help();
    assert!(
        help.contains("units = ") && help.contains("frame = "),
        "{help}"
    );
}

/// An arc of 13.9 mm radius, with noise of 0.003 mm, told as one line, and told as two that meet at a
/// fork in its middle: the tightest bend is the same. Before, a line that began at a fork had a kink
/// of one sample there.
#[test]
fn a_line_cut_at_a_fork_bends_no_more_there_than_a_whole_one() {
    let arc = |name: &str, from: u32, to: u32| {
        let mut text = String::new();
        for i in from..=to {
            let a = f64::from(i) * 1.0 / 13.9;
            let noise = 0.003 * (f64::from(i) * 2.3).sin();
            let rho = 13.9 + noise;
            let _ = writeln!(
                text,
                "{name},{},{},{noise},1.5",
                rho * a.sin(),
                rho * a.cos()
            );
        }
        text
    };
    let side = "side,10.6,9,0,0.9\nside,13,14,0,0.9\nside,17,19,0,0.9\nside,24,23,0,0.9\n";
    let middle = arc("x", 12, 12);
    let (_, place) = middle.trim().split_once(',').unwrap();
    let side = format!("side,{}\n{side}", place.replace(",1.5", ",0.9"));
    let head = "branch,x,y,z,r\n";
    let whole = read("a.csv", format!("{head}{}{side}", arc("all", 0, 30))).unwrap();
    let cut = format!(
        "{head}{}{}{side}",
        arc("first", 0, 12),
        arc("second", 12, 30)
    );
    let cut = read("a.csv", cut).unwrap();
    let tightest = |imported: &Imported| {
        let main = imported.branches.iter().filter(|b| b.radii[0] > 1.2);
        main.flat_map(|b| b.points.windows(3))
            .map(|p| {
                let (a, b, c) = (p[1] - p[0], p[2] - p[1], p[2] - p[0]);
                a.norm() * b.norm() * c.norm() / (2.0 * a.cross(&b).norm())
            })
            .fold(f64::INFINITY, f64::min)
    };
    let (of_whole, of_cut) = (tightest(&whole), tightest(&cut));
    println!("tightest bend {of_whole:.1} mm whole, {of_cut:.1} mm cut");
    assert_eq!(whole.branches.len(), cut.branches.len());
    assert!(
        (of_cut / of_whole - 1.0).abs() < 0.01,
        "{of_cut} {of_whole}"
    );
    // Before smoothing the noise adds 0.003 mm times the square of 2.3/mm.
    assert!(of_cut > 1.0 / (1.0 / 13.9 + 0.016), "{of_cut}");
}
