//! Time and memory of `check`.

use std::fmt::Write as _;
use std::fs;
use std::process::Command;

use crate::hostile_input::{SCENARIO, bounded, checked, folder_with, refused, said, scenario};

const PARENT: &str = "diameter_mm = 3\npieces = [{ shape = \"straight\", length_mm = 40 }]";

/// The scene's line of the parent: lumen at the start, at the end, and least, in mm.
fn lumen_of_parent(text: &str) -> [f64; 3] {
    let line = text
        .lines()
        .find(|l| l.trim_start().starts_with("parent "))
        .unwrap();
    let words: Vec<&str> = line.split_whitespace().collect();
    [4, 5, 6].map(|i| words[i].parse().unwrap())
}

#[test]
fn two_stations_that_nearly_coincide_stay_within_their_diameters() {
    let table = "diameters_mm = [[20, 2], [20.001, 1.9]]\npieces = [{ shape = \"straight\", length_mm = 40 }]";
    let narrow = (
        "parent = \"parent\"\nat_mm = 20",
        "parent = \"parent\"\nat_mm = 10",
    );
    let side = (
        "take_off_deg = 60\ndiameter_mm = 2",
        "take_off_deg = 60\ndiameter_mm = 1",
    );
    let (code, text) = checked(scenario(&[(PARENT, table), narrow, side]));
    assert_eq!(code, Some(0), "{text}");
    let [start, end, least] = lumen_of_parent(&text);
    for (found, expected) in [(start, 2.0), (end, 1.9), (least, 1.9)] {
        assert!((found - expected).abs() < 0.006, "{found}, not {expected}");
    }
}

#[test]
fn a_vessel_of_ten_metres_and_forty_millimetres_is_checked_within_the_bounds() {
    let long = "diameter_mm = 40\npieces = [{ shape = \"straight\", length_mm = 10000 }]";
    let side = "length_mm = 20 }]\n\n[guide]";
    let longer = "length_mm = 80 }]\n\n[guide]";
    let fed = ("max_fed_mm = 60", "max_fed_mm = 200");
    let (code, text) = checked(scenario(&[(PARENT, long), (side, longer), fed]));
    assert_eq!(code, Some(0), "{text}");
}

/// Side branches on a long parent.
fn branches(count: usize, apart_mm: f64, piece: &str) -> String {
    let mut text = String::new();
    for i in 0..count {
        let at = 25.0 + apart_mm * i as f64;
        let _ = write!(
            text,
            "[[vessel.branch]]\nname = \"b{i}\"\nparent = \"parent\"\nat_mm = {at}\ntake_off_deg = 60\n\
             plane_deg = {}\ndiameter_mm = 1\npieces = [{piece}]\n",
            i * 37 % 360
        );
    }
    let parent = format!(
        "diameter_mm = 3\npieces = [{{ shape = \"straight\", length_mm = {} }}]",
        30.0 + apart_mm * count as f64
    );
    scenario(&[
        (PARENT, &parent),
        ("\n[guide]", &format!("\n{text}\n[guide]")),
    ])
}

#[test]
fn nineteen_hundred_branches_are_checked_within_the_bounds() {
    let straight = "{ shape = \"straight\", length_mm = 20 }";
    let (code, text) = checked(branches(1900, 4.0, straight));
    assert_eq!(code, Some(0), "{text}");
    assert!(text.contains("of 1902 branches, mouths are listed for those that lead to the target"));
}

#[test]
fn more_than_memory_or_time_is_set_aside_for_is_refused_with_its_reason() {
    let straight = "{ shape = \"straight\", length_mm = 20 }";
    refused(
        branches(1900, 0.01, straight),
        &["branches pass near", "lay them apart"],
    );
    refused(
        branches(2600, 2.0, straight),
        &["[[vessel.branch]] are 2602, allowed are up to 2500"],
    );
    let (before, wires) = scenario(&[])
        .split_once("[[wire]]")
        .map(|(a, b)| (a.to_owned(), b.to_owned()))
        .unwrap();
    let (wire, rest) = wires.split_once("[[technique]]").unwrap();
    let many: String = (0..2000)
        .map(|i| format!("[[wire]]{}", wire.replace("soft", &format!("w{i}"))))
        .collect();
    refused(
        format!("{before}{many}[[technique]]{rest}"),
        &["[[wire]] are 2000, allowed are up to 500"],
    );
    let long = "{ shape = \"straight\", length_mm = 10000 }";
    refused(
        branches(9, 4.0, long),
        &["more than 60000 mm long together", "a.toml:"],
    );
    let coil = "{ shape = \"arc\", radius_mm = 1, angle_deg = 1000 }, { shape = \"straight\", length_mm = 9 }";
    refused(branches(1900, 1.0, coil), &["entries, allowed are up to"]);
    let steep = "diameters_mm = [[0, 40], [20, 40], [20.001, 0.4]]\npieces = [{ shape = \"straight\", length_mm = 400 }]";
    let narrow = (
        "take_off_deg = 60\ndiameter_mm = 2",
        "take_off_deg = 60\ndiameter_mm = 0.3",
    );
    checked(scenario(&[(PARENT, steep), narrow]));
}

#[test]
fn a_narrowing_that_no_sample_sees_is_refused() {
    let narrowing = "[vessel]\n[[vessel.narrowing]]\nbranch = \"parent\"\nat_mm = 10.1\n\
                     length_mm = 0.01\ndiameter_mm = 0.5\n";
    refused(
        scenario(&[("[vessel]\n", narrowing)]),
        &["a narrowing of 0.01 mm length is shorter than what is resolved; allowed is 1 mm"],
    );
}

/// Megabytes of any one sign, and of lines, keys, tables and points.
#[test]
fn sixteen_megabytes_of_anything_are_refused_within_the_bounds() {
    let most = 16_000_000;
    for part in [
        "[", "]", "{a=", "#\n", "1,", "1 ", "a.", "[[a]]\n", "\n", "\r", "\"", "é", "'''", "a=1\n",
        "\u{0}",
    ] {
        let text = part.repeat(most / part.len());
        let (code, said) = checked(&text);
        assert_eq!(code, Some(2), "{part:?}: {said}");
        let (code, said) = checked(format!("a = [{text}"));
        assert_eq!(code, Some(2), "{part:?} in a list: {said}");
    }
    let points: String = (0..500_000)
        .map(|i| format!("[{}e-3,0,0],", 2 * i))
        .collect();
    let points = format!("diameter_mm = 3\npoints_mm = [{points}]");
    refused(
        scenario(&[(PARENT, &points)]),
        &[
            "allowed are up to 800000",
            "give many points in a file of their own",
        ],
    );
    refused(
        "a".repeat(17 << 20),
        &["17.8 MB long, allowed are up to 16.8 MB"],
    );
}

/// A scenario whose vessel comes from a file.
fn imported(file: &str) -> String {
    let text = scenario(&[]);
    let (head, rest) = text.split_once("[vessel]").unwrap();
    let wires = rest.split_once("[[wire]]").unwrap().1;
    format!(
        "{head}[vessel]\nfile = \"{file}\"\nunits = \"mm\"\nframe = \"scene\"\n[guide]\n\
         branch = \"a\"\n[target]\nbranch = \"b\"\nbeyond_ostium_mm = 4\nmax_fed_mm = 2000\n\
         [[wire]]{wires}"
    )
}

#[test]
fn half_a_million_points_in_a_file_are_checked_within_the_bounds() {
    let mut table = String::from("branch,x,y,z,r\n");
    for i in 0..480_000 {
        let x = 0.002 * f64::from(i);
        let _ = writeln!(table, "a,{x:.3},{:.3},0,2", 5.0 * (0.1 * x).sin());
    }
    for i in 0..20_000 {
        let z = 0.002 * f64::from(i);
        let _ = writeln!(table, "b,400,{:.3},{z:.3},1", 5.0 * 40_f64.sin());
    }
    let folder = folder_with("tree.csv", &table);
    fs::write(folder.path().join("a.toml"), imported("tree.csv")).unwrap();
    let (code, text) = said(&bounded(folder.path(), &["check", "a.toml"]));
    assert_eq!(code, Some(0), "{text}");
}

#[test]
fn counts_that_a_header_announces_are_not_believed() {
    for (name, text) in [
        (
            "a.vtk",
            "# vtk DataFile Version 3.0\nx\nASCII\nDATASET POLYDATA\nPOINTS 4000000000 float\n1 2 3\n",
        ),
        (
            "a.vtk",
            "# vtk DataFile Version 3.0\nx\nBINARY\nDATASET POLYDATA\nPOINTS 18446744073709551615 double\n",
        ),
        (
            "a.ply",
            "ply\nformat ascii 1.0\nelement vertex 4000000000\nproperty float x\nproperty float y\nproperty float z\nend_header\n0 0 0\n",
        ),
        ("a.stl", "solid x\nendsolid x\n"),
        (
            "a.vtp",
            "<VTKFile type=\"PolyData\"><PolyData><Piece NumberOfPoints=\"4000000000\" NumberOfLines=\"4000000000\"></Piece></PolyData></VTKFile>",
        ),
    ] {
        let folder = folder_with(name, text);
        fs::write(folder.path().join("a.toml"), imported(name)).unwrap();
        let (code, said) = said(&bounded(folder.path(), &["check", "a.toml"]));
        assert_eq!(code, Some(2), "{name}: {said}");
        assert!(said.contains(name), "{said}");
    }
}

/// Devices without end, pipes that nobody writes to, and folders, wherever a file may be named.
#[test]
fn what_is_no_file_on_a_disk_is_refused_at_once() {
    let folder = folder_with("good.toml", scenario(&[]));
    let at = |name: &str| folder.path().join(name);
    fs::create_dir(at("folder.csv")).unwrap();
    let made = Command::new("mkfifo").arg(at("pipe.csv")).status();
    assert!(made.unwrap().success());
    let sweep = "name = \"s\"\ndescription = \"s\"\nscenario = \"NAME\"\n[design]\nkind = \"grid\"\n\
                 [[parameter]]\npath = 'wire.soft.tip_load_gf'\nlevels = [1]\n";
    let spread = format!(
        "{}[anatomy.spread]\nfile = \"NAME\"\n",
        sweep.replace("NAME", "good.toml")
    );
    let tree = scenario(&[("[vessel]\n", "[vessel]\ntree = \"NAME\"\n")]);
    let names = imported("tree.csv").replace("[guide]", "names_file = \"NAME\"\n[guide]");
    let bench = "name = \"b\"\n[[wire]]\nname = \"soft\"\ndiameter_mm = 0.3556\nstiffness_N_mm2 = [[0, 1]]\nfriction = 0.1\n\
                 [[assay.fit]]\nname = \"f\"\nwire = \"soft\"\ncurve = \"NAME\"\ntest = \"three-point\"\n\
                 knots_mm = [20, 60]\n";
    for name in ["/dev/zero", "pipe.csv", "folder.csv"] {
        let word = match name {
            "folder.csv" => "it is a folder, not a file",
            _ => "it is a pipe or a device",
        };
        let mut texts = vec![imported(name), names.clone(), tree.clone()];
        texts.extend([sweep.to_owned(), spread.clone(), bench.to_owned()]);
        for (i, text) in texts.into_iter().enumerate() {
            fs::write(at("a.toml"), text.replace("NAME", name)).unwrap();
            let (code, said) = said(&bounded(folder.path(), &["check", "a.toml"]));
            // A file without the wanted ending may be refused for that.
            let refused = code == Some(2) && (said.contains(word) || said.contains("the ending"));
            assert!(refused, "{name} in text {i}: {code:?} {said}");
        }
        for args in [
            &["check", name][..],
            &["run", name, "--out", "o"],
            &["export", name, "--out", "o"],
            &["sweep", name, "--out", "o"],
            &["view", name, "--out", "o"],
            &["assay", name, "--out", "o"],
        ] {
            let (code, said) = said(&bounded(folder.path(), args));
            assert_eq!(code, Some(2), "{args:?}: {said}");
            assert!(said.contains(word), "{args:?}: {said}");
        }
    }
}

/// Found among damaged files: a lumen from 0.07 to 2.5 mm of radius with a bend tighter than that, whose
/// wall was made a net three times, each time as fine as its narrowest place.
#[test]
fn a_wall_whose_net_does_not_close_is_refused_within_the_bounds() {
    let file = include_bytes!("../../fuzz/seeds/vtk/open-net.vtk");
    let folder = folder_with("tree.vtk", file);
    let vessel = SCENARIO.find("[vessel]").unwrap();
    let devices = SCENARIO.find("[[wire]]").unwrap();
    let text = format!(
        "{}[vessel]\nfile = \"tree.vtk\"\nunits = \"mm\"\nframe = \"scene\"\n\n\
         [guide]\nbranch = \"branch-1\"\n\n[target]\ntip = 1\nmax_fed_mm = 60\n\n{}",
        &SCENARIO[..vessel],
        &SCENARIO[devices..]
    );
    fs::write(folder.path().join("scene.toml"), text).unwrap();
    let (code, text) = said(&bounded(folder.path(), &["check", "scene.toml"]));
    assert_eq!(code, Some(2), "{text}");
    assert!(text.contains("bends with a radius of 0.170 mm"), "{text}");
}
