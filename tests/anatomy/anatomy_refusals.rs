//! Files that cannot become a scene are refused: exit status 2, one message with the file, the
//! place and what is wrong, no panic.
#![allow(clippy::cast_possible_truncation, reason = "meshes of tests are small")]
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

use crate::anatomy_common::{bent_tube, cone, obj, put, scenario, stl, torus};
use assert_cmd::cargo::cargo_bin_cmd;
use bendwise::anatomy::surface::Mesh;
use nalgebra::Vector3;
use std::fmt::Write as _;
use std::fs;
use std::path::Path;

const REST: (&str, &str) = ("branch = \"branch-1\"", "tip = 2\nhold_mm = 2");
const PLAIN: &str = "units = \"mm\"\nframe = \"scene\"";

/// Exit status and standard error of `check` for a scenario whose vessel is `content` in a file
/// `name`, with the further lines `options` in `[vessel]`.
fn check(name: &str, content: impl AsRef<[u8]>, options: &str) -> (i32, String) {
    let folder = tempfile::tempdir().unwrap();
    put(folder.path(), name, content);
    check_in(folder.path(), name, options)
}

fn check_in(folder: &Path, name: &str, options: &str) -> (i32, String) {
    let vessel = format!("file = \"{name}\"\n{options}");
    put(
        folder,
        "scene.toml",
        scenario(&vessel, REST.0, REST.1, 100.0),
    );
    let output = cargo_bin_cmd!("bendwise")
        .current_dir(folder)
        .args(["check", "scene.toml"])
        .output()
        .unwrap();
    let code = output.status.code().expect("ended by itself");
    (code, String::from_utf8(output.stderr).unwrap())
}

/// The file is refused, and the message names it and holds all of `says`.
#[track_caller]
fn refused(name: &str, content: impl AsRef<[u8]>, options: &str, says: &[&str]) {
    let (code, message) = check(name, content, options);
    assert_eq!(code, 2, "{message}");
    for text in [&[name, "scene.toml:"], says].concat() {
        assert!(message.contains(text), "no {text:?} in:\n{message}");
    }
}

fn stored(name: &str) -> Vec<u8> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/anatomy");
    fs::read(folder.join(name)).unwrap()
}

fn tube() -> Mesh {
    cone(30.0, 1.5, 1.2, 30, 16)
}

#[test]
fn truncated_files_say_what_is_missing() {
    for name in [
        "lines-appended-raw.vtp",
        "lines-appended-raw-zlib.vtp",
        "lines-appended-base64.vtp",
        "lines-appended-base64-zlib.vtp",
        "lines-legacy5-binary.vtk",
        "ball-binary.stl",
        "ball-binary.ply",
    ] {
        let whole = stored(name);
        let (code, message) = check(name, &whole[..whole.len() - whole.len() / 4], PLAIN);
        assert_eq!(code, 2, "{name}: {message}");
        assert!(message.contains(name), "{message}");
    }
    let swc = "1 0 0 0 0 1.5 -1\n2 0 5 0";
    refused("a.swc", swc, PLAIN, &["line 2", "7 columns"]);
    let text = stl(&tube());
    refused(
        "a.stl",
        &text[..text.len() - 40],
        PLAIN,
        &["ends too early"],
    );
    refused("a.vtp", "", PLAIN, &["it is empty"]);
}

#[test]
fn a_file_of_another_kind_than_its_ending_says_is_refused() {
    let stl = stl(&tube());
    refused("a.vtp", &stl, PLAIN, &["is not VTK XML"]);
    refused("a.vtk", &stl, PLAIN, &["is not a legacy VTK file"]);
    refused("a.ply", &stl, PLAIN, &["is not a PLY surface"]);
    refused("a.obj", &stl, PLAIN, &["is not an OBJ surface"]);
    refused("a.stl", stored("lines-ascii.vtp"), PLAIN, &["a.stl"]);
    refused("a.swc", &stl, PLAIN, &["line 1"]);
    refused("a.csv", &stl, PLAIN, &["no column is called x"]);
    refused("a.nii", &stl, PLAIN, &["allowed are vtp, vtk, swc, csv"]);
}

#[test]
fn a_missing_radius_names_the_arrays_that_are_there() {
    let text = String::from_utf8(stored("lines-ascii.vtp")).unwrap();
    let text = text.replace("MaximumInscribedSphereRadius", "Thickness");
    refused("a.vtp", &text, PLAIN, &["\"Thickness\"", "\"Abscissas\""]);
    let stated = format!("{PLAIN}\nradius_array = \"Thickness\"");
    let (code, message) = check("a.vtp", &text, &stated);
    assert_eq!(code, 0, "{message}");
}

#[test]
fn zero_negative_and_missing_numbers_are_refused_with_their_place() {
    let table = |r: &str| format!("x,y,z,r\n0,0,0,2\n10,0,0,{r}\n20,0,0,2\n30,0,0,2\n");
    for r in ["0", "-1", "nan"] {
        refused("a.csv", table(r), PLAIN, &["line 3", "radius of point 1"]);
    }
    refused(
        "a.csv",
        table("wide"),
        PLAIN,
        &["line 3", "must be a number"],
    );
    let far = "x,y,z,r\n0,0,0,2\ninf,0,0,2\n20,0,0,2\n";
    refused("a.csv", far, PLAIN, &["not a finite number"]);
}

#[test]
fn pieces_and_loops_are_refused_with_their_place() {
    let mut table = String::from("branch,x,y,z,r\n");
    for (name, y) in [("a", 0.0), ("b", 30.0)] {
        for i in 0..10 {
            let _ = writeln!(table, "{name},{},{y},0,1.5", 4 * i);
        }
    }
    refused(
        "a.csv",
        &table,
        PLAIN,
        &["\"b\"", "30.00 mm", "from the rest"],
    );
    let swc = "1 0 0 0 0 1.5 3\n2 0 9 0 0 1.5 1\n3 0 20 5 0 1.5 2\n";
    refused("a.swc", swc, PLAIN, &["line", "no loops"]);
    let mut two = tube();
    let other = tube();
    let shift = two.points.len() as u32;
    two.points
        .extend(other.points.iter().map(|p| p + Vector3::y() * 20.0));
    two.triangles
        .extend(other.triangles.iter().map(|t| t.map(|i| i + shift)));
    refused("a.obj", obj(&two), PLAIN, &["it is 2 pieces", "near ("]);
}

#[test]
fn surfaces_that_enclose_no_lumen_are_refused_with_their_place() {
    let mut finned = tube();
    let [a, b, _] = finned.triangles[100];
    let tip = finned.points.len() as u32;
    finned.points.push(finned.points[a as usize] * 2.0);
    finned.triangles.push([a, b, tip]);
    refused(
        "a.stl",
        stl(&finned),
        PLAIN,
        &["meet at one edge", "near ("],
    );

    let ring = torus(8.0, 1.5, 60, 12);
    refused("a.obj", obj(&ring), PLAIN, &["runs in a closed way"]);

    // More than a whole turn in one plane: the tube passes through its own start.
    let knot = bent_tube(12.0, 6.0, 1.6 * std::f64::consts::PI, 1.5, 90, 12);
    refused(
        "a.obj",
        obj(&knot),
        PLAIN,
        &["passes through itself", "near ("],
    );
}

#[test]
fn metres_taken_for_millimetres_and_contradicting_frames_are_refused() {
    let mut small = tube();
    for p in &mut small.points {
        *p /= 1000.0;
    }
    refused("a.obj", obj(&small), PLAIN, &["cannot be mm", "fits m"]);
    let table = "x,y,z,r\n0,0,0,0.0015\n0.01,0,0,0.0015\n0.03,0,0,0.0015\n";
    refused("a.csv", table, PLAIN, &["cannot be mm", "fits m"]);
    let said = format!("# SPACE=RAS\n{}", obj(&tube()));
    let lps = "units = \"mm\"\nframe = \"LPS\"";
    refused("a.obj", said, lps, &["right-anterior-superior"]);
}

#[test]
fn a_path_that_does_not_exist_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let (code, message) = check_in(folder.path(), "none.vtp", PLAIN);
    assert_eq!(code, 2, "{message}");
    assert!(message.contains("none.vtp: cannot be read"), "{message}");
}

/// Counts that a head announces take no memory before they are compared with what is there.
#[test]
fn announced_sizes_that_are_not_there_are_refused() {
    let mut binary = vec![0_u8; 80];
    binary.extend(u32::MAX.to_le_bytes());
    binary.extend([0_u8; 200]);
    refused("a.stl", binary, PLAIN, &["triangles are announced"]);
    let ply = "ply\nformat ascii 1.0\nelement vertex 4000000000\nproperty float x\n\
               property float y\nproperty float z\nend_header\n0 0 0\n";
    refused("a.ply", ply, PLAIN, &["4000000000 points"]);
    let vtk = "# vtk DataFile Version 4.2\nx\nASCII\nDATASET POLYDATA\nPOINTS 99999999999 double\n";
    refused("a.vtk", vtk, PLAIN, &["99999999999 points"]);
}

/// A thousand megabytes of zeros, compressed to one: refused before they are unpacked.
#[test]
fn a_bomb_of_compressed_zeros_is_refused() {
    use base64::Engine;
    use flate2::Compression;
    use flate2::write::ZlibEncoder;
    use std::io::Write;
    let mut encoder = ZlibEncoder::new(Vec::new(), Compression::best());
    let zeros = vec![0_u8; 1 << 20];
    for _ in 0..1000 {
        encoder.write_all(&zeros).unwrap();
    }
    let packed = encoder.finish().unwrap();
    let file = |blocks: u64, size: u64| {
        let head: Vec<u8> = [blocks, size, 0, packed.len() as u64]
            .iter()
            .flat_map(|n| n.to_le_bytes())
            .collect();
        let code = base64::engine::general_purpose::STANDARD;
        format!(
            "<VTKFile type=\"PolyData\" byte_order=\"LittleEndian\" header_type=\"UInt64\" \
             compressor=\"vtkZLibDataCompressor\"><PolyData><Piece NumberOfPoints=\"10\"><Points>\
             <DataArray type=\"Float64\" NumberOfComponents=\"3\" format=\"binary\">{}{}</DataArray>\
             </Points></Piece></PolyData></VTKFile>",
            code.encode(head),
            code.encode(&packed)
        )
    };
    let honest = file(1, 1000 << 20);
    refused("a.vtp", honest, PLAIN, &["bytes of unpacked data"]);
    // One that announces little.
    let lying = file(1, 240);
    refused("a.vtp", lying, PLAIN, &["unpacks to more bytes"]);
    // One that announces more blocks than there could be.
    let many = file(u64::MAX / 8, 1 << 40);
    refused("a.vtp", many, PLAIN, &["bytes of unpacked data"]);
}

/// A million rows make a tree; a million lines that hang on nothing are refused.
#[test]
fn a_million_rows_are_read_and_a_million_lines_refused_in_bounded_time() {
    let mut table = String::from("x,y,z,r\n");
    for i in 0..1_000_000 {
        let _ = writeln!(table, "{:.5},0,0,1.5", 1e-4 * f64::from(i));
    }
    let begin = std::time::Instant::now();
    let options = format!(
        "{PLAIN}\n[[vessel.branch]]\nname = \"x\"\nparent = \"branch-1\"\nat_mm = 50\ntake_off_deg = 60\ndiameter_mm = 2\npieces = [{{ shape = \"straight\", length_mm = 20 }}]"
    );
    let folder = tempfile::tempdir().unwrap();
    put(folder.path(), "long.csv", &table);
    let vessel = format!("file = \"long.csv\"\n{options}");
    let text = scenario(&vessel, REST.0, "branch = \"x\"", 150.0);
    put(folder.path(), "scene.toml", text);
    let output = cargo_bin_cmd!("bendwise")
        .current_dir(folder.path())
        .args(["check", "scene.toml"])
        .output()
        .unwrap();
    let message = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(0), "{message}");
    let mut vtk = String::from(
        "# vtk DataFile Version 4.2\nx\nASCII\nDATASET POLYDATA\nPOINTS 300000 float\n",
    );
    for i in 0..300_000 {
        let _ = writeln!(vtk, "{i} 0 0");
    }
    let _ = writeln!(vtk, "LINES 100000 400000");
    for i in 0..100_000 {
        let _ = writeln!(vtk, "3 {} {} {}", 3 * i, 3 * i + 1, 3 * i + 2);
    }
    vtk += "POINT_DATA 300000\nSCALARS radius float 1\nLOOKUP_TABLE default\n";
    vtk += &"1.5\n".repeat(300_000);
    refused("many.vtk", vtk, PLAIN, &["100000 lines"]);
    assert!(begin.elapsed().as_secs() < 60, "{:?}", begin.elapsed());
}

#[test]
fn fields_that_go_with_a_file_and_pointers_are_checked() {
    let folder = tempfile::tempdir().unwrap();
    let text = scenario(
        "smooth_mm = 1\n[[vessel.branch]]\nname = \"a\"\ndiameter_mm = 3\npoints_mm = [[0,0,0],[9,0,0]]",
        "branch = \"a\"",
        "branch = \"a\"",
        50.0,
    );
    put(folder.path(), "scene.toml", text);
    let output = cargo_bin_cmd!("bendwise")
        .current_dir(folder.path())
        .args(["check", "scene.toml"])
        .output()
        .unwrap();
    let message = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(message.contains("it goes with file"), "{message}");

    let lines = String::from_utf8(stored("lines-ascii.vtp")).unwrap();
    let folder = tempfile::tempdir().unwrap();
    put(folder.path(), "a.vtp", lines);
    for (target, says) in [
        ("tip = 9", "there is no tip 9"),
        ("branch = \"sid\"", "did you mean side?"),
        (
            "branch = \"side\"\ntip = 1",
            "branch says the branch already",
        ),
    ] {
        let vessel = format!("file = \"a.vtp\"\n{PLAIN}");
        let text = scenario(&vessel, "near_mm = [1, 0, 0]", target, 100.0);
        put(folder.path(), "scene.toml", text);
        let output = cargo_bin_cmd!("bendwise")
            .current_dir(folder.path())
            .args(["check", "scene.toml"])
            .output()
            .unwrap();
        let message = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(2), "{message}");
        assert!(message.contains(says), "no {says} in {message}");
    }
}

/// Found by damaged files: one radius of 255 mm took 11 GB.
#[test]
fn radii_that_no_vessel_has_are_refused_before_a_lumen_is_made_of_them() {
    let swc = |radius: &str| {
        format!(
            "1 0 0 0 0 1.5 -1\n2 0 5 0 0 1.4 1\n3 0 10 0 0 1.3 2\n4 0 15 0 0 {radius} 3\n\
             5 0 12 4 0 0.9 3\n6 0 14 8 0 0.8 5\n7 0 16 12 0 0.8 6\n"
        )
    };
    refused(
        "wide.swc",
        swc("255"),
        PLAIN,
        &[
            "the lumen radius of",
            "allowed is up to 20 mm",
            "cut_inlet_radius_mm",
        ],
    );
    refused(
        "steep.swc",
        swc("19.5"),
        "units = \"mm\"\nframe = \"scene\"\nsmooth_mm = 0",
        &["allowed is a change of 3 mm for each mm"],
    );
}

/// A ball of eight triangles one of whose corners is turned through the others: what counts against the
/// rest leaves a volume of almost nothing, and voxels were as small as that is.
#[test]
fn a_surface_of_which_a_part_is_inside_out_is_taken_or_refused_in_bounded_time() {
    let text = "v 3 2 3\nv -1 2 3\nf 2 4 5\nv 1 0 3.0\nv 1 2 5\nv 1 2 1\nf 1 3 5\nf 3 2 5\n\
                v 1 4 3\nf 4 1 5\nf 3 1 6\nf 2 3 6\nf 4 2 6\nf 1 4 6\n";
    let begin = std::time::Instant::now();
    let (code, message) = check("ball.obj", text, PLAIN);
    assert!(code == 0 || code == 2, "{code}: {message}");
    assert!(begin.elapsed().as_secs() < 300, "{:?}", begin.elapsed());
}

/// A ball of metres, smoothed to a scale of millimetres: its line was smoothed for half a minute before its
/// radius was refused.
#[test]
fn a_lumen_of_metres_is_refused_before_it_is_smoothed() {
    let text = "v 2 0 0\nv -2 0 0\nv 0 2 0\nv 0 -2 0\nv 0 0 5\nv 0 0 -5\nf 1 3 5\nf 3 2 5\nf 2 4 5\nf 4 1 5\n\
                f 3 1 6\nf 2 3 6\nf 4 2 6\nf 1 4 6\n";
    let fields = "units = \"m\"\nframe = \"scene\"\nsmooth_mm = 10";
    let (code, message) = check("ball.obj", text, fields);
    assert_eq!(code, 2, "{message}");
    assert!(
        message.contains("the lumen radius of a line is ")
            && message.contains("allowed is up to 20 mm"),
        "{message}"
    );
}
