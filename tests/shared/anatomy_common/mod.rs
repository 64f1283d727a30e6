//! Meshes of shapes with a closed form, and scenarios around files.
#![allow(
    clippy::cast_possible_truncation,
    reason = "meshes and counts of tests are small"
)]
#![allow(dead_code, reason = "every test file uses a part of this")]
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

#[path = "../skipped.rs"]
mod skipped;

use bendwise::anatomy::surface::Mesh;
use bendwise::scenario::model::*;
use nalgebra::Vector3;
use std::f64::consts::TAU;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

/// A closed tube about a curve: `ring(i)` gives middle, two unit vectors across, and radius; flat
/// ends, or the last ring joined to the first.
pub fn swept(
    rings: usize,
    around: usize,
    joined: bool,
    ring: impl Fn(f64) -> (Vector3<f64>, Vector3<f64>, Vector3<f64>, f64),
) -> Mesh {
    let mut mesh = Mesh::default();
    let last = if joined { rings } else { rings - 1 };
    for i in 0..rings {
        let (middle, u, v, radius) = ring(i as f64 / last as f64);
        for k in 0..around {
            let (sin, cos) = (TAU * k as f64 / around as f64).sin_cos();
            mesh.points.push(middle + (u * cos + v * sin) * radius);
        }
    }
    let id = |i: usize, k: usize| ((i % rings) * around + k % around) as u32;
    for i in 0..last {
        for k in 0..around {
            let (a, b) = (id(i, k), id(i, k + 1));
            let (c, d) = (id(i + 1, k + 1), id(i + 1, k));
            mesh.triangles.extend([[a, b, c], [a, c, d]]);
        }
    }
    if !joined {
        for (i, turned) in [(0, true), (rings - 1, false)] {
            let (middle, ..) = ring(if i == 0 { 0.0 } else { 1.0 });
            let tip = mesh.points.len() as u32;
            mesh.points.push(middle);
            for k in 0..around {
                let (a, b) = (id(i, k), id(i, k + 1));
                mesh.triangles
                    .push(if turned { [b, a, tip] } else { [a, b, tip] });
            }
        }
    }
    if mesh.volume() < 0.0 {
        for t in &mut mesh.triangles {
            t.swap(1, 2);
        }
    }
    mesh
}

/// A cone (or cylinder) along x from 0 to `length`.
pub fn cone(length: f64, from: f64, to: f64, rings: usize, around: usize) -> Mesh {
    swept(rings, around, false, |t| {
        (
            Vector3::x() * (length * t),
            Vector3::y(),
            Vector3::z(),
            from + (to - from) * t,
        )
    })
}

/// A part of a torus in the x-y plane: from the origin along x, bending towards +y with radius
/// `bend` through `angle`, with straight pieces of `lead` before and behind it.
pub fn bent_tube(
    lead: f64,
    bend: f64,
    angle: f64,
    radius: f64,
    rings: usize,
    around: usize,
) -> Mesh {
    let length = 2.0 * lead + bend * angle;
    swept(rings, around, false, |t| {
        let (at, along) = bent_line(lead, bend, angle, length * t);
        (at, along.cross(&Vector3::z()), Vector3::z(), radius)
    })
}

/// Position and direction of that tube's axis at a station.
pub fn bent_line(lead: f64, bend: f64, angle: f64, s: f64) -> (Vector3<f64>, Vector3<f64>) {
    if s <= lead {
        return (Vector3::x() * s, Vector3::x());
    }
    let turned = ((s - lead) / bend).min(angle);
    let (sin, cos) = turned.sin_cos();
    let along = Vector3::new(cos, sin, 0.0);
    let beyond = (s - lead - bend * angle).max(0.0);
    (
        Vector3::new(lead + bend * sin, bend * (1.0 - cos), 0.0) + along * beyond,
        along,
    )
}

/// A whole torus about the z axis.
pub fn torus(bend: f64, radius: f64, rings: usize, around: usize) -> Mesh {
    swept(rings, around, true, |t| {
        let (sin, cos) = (TAU * t).sin_cos();
        let out = Vector3::new(cos, sin, 0.0);
        (out * bend, out, Vector3::z(), radius)
    })
}

/// A vessel whose single branch runs through points, with a surface as its wall.
pub fn with_surface(points: Vec<Vector3<f64>>, radius: f64, mesh: Mesh) -> VesselSpec {
    VesselSpec {
        carina_blend_mm: 0.0,
        surface: Some(std::sync::Arc::new(mesh)),
        ..VesselSpec::new(vec![BranchSpec {
            name: "tube".into(),
            attached: None,
            path: PathSpec::Points(points),
            diameters: vec![(0.0, 2.0 * radius)],
            place: Place::default(),
        }])
    }
}

/// Text of an ASCII STL.
pub fn stl(mesh: &Mesh) -> String {
    let mut text = String::from("solid made by a test\n");
    for t in 0..mesh.triangles.len() {
        text += "facet normal 0 0 0\nouter loop\n";
        for p in mesh.corners(t) {
            let _ = writeln!(text, "vertex {} {} {}", p.x, p.y, p.z);
        }
        text += "endloop\nendfacet\n";
    }
    text + "endsolid\n"
}

/// Text of an OBJ.
pub fn obj(mesh: &Mesh) -> String {
    let mut text = String::new();
    for p in &mesh.points {
        let _ = writeln!(text, "v {} {} {}", p.x, p.y, p.z);
    }
    for [a, b, c] in &mesh.triangles {
        let _ = writeln!(text, "f {} {} {}", a + 1, b + 1, c + 1);
    }
    text
}

/// The rest of a scenario around a `[vessel]` table.
pub fn scenario(vessel: &str, guide: &str, target: &str, max_fed_mm: f64) -> String {
    format!(
        r#"name = "from-a-file"
origin = "made by a test"
description = "A vessel from a file."

[study]
trials = 2
recorded = 0

[vessel]
{vessel}

[guide]
{guide}

[target]
{target}
max_fed_mm = {max_fed_mm}

[[wire]]
name = "soft"
diameter_mm = 0.3556
tip_load_gf = 0.3
core_mm = [[20, 0.06], [200, 0.18]]
surface = "hydrophilic"
bend = {{ length_mm = 5, angle_deg = 60 }}

[[technique]]
kind = "push"

[[technique]]
kind = "redirect"
attempts = 6
turn_deg = 60
"#
    )
}

/// Writes a file into a folder.
pub fn put(folder: &Path, name: &str, content: impl AsRef<[u8]>) -> PathBuf {
    let path = folder.join(name);
    fs::write(&path, content).unwrap();
    path
}

/// A folder of real data that is not part of the project: `shared/data` beside it, or where
/// `BENDWISE_DATA` says. Says so on standard error when it is not there.
pub fn real_data(folder: &str) -> Option<PathBuf> {
    let root = std::env::var_os("BENDWISE_DATA").map_or_else(
        || Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/data"),
        PathBuf::from,
    );
    let path = root.join(folder);
    if path.is_dir() {
        return Some(path);
    }
    skipped::skipped(&format!(
        "{} is not there; set BENDWISE_DATA to run this test on real data",
        path.display()
    ));
    None
}

/// Two wires, two support catheters, and every technique with every aid.
pub const EVERY_TECHNIQUE: &str = r#"
[[wire]]
name = "soft"
diameter_mm = 0.3556
tip_load_gf = 0.5
core_mm = [[20, 0.06], [200, 0.18]]
surface = "hydrophilic"
bend = { length_mm = 4, angle_deg = 60 }

[[wire]]
name = "stiffer"
diameter_mm = 0.3556
tip_load_gf = 1.5
core_mm = [[20, 0.08], [200, 0.18]]
surface = "hydrophilic"
bend = { length_mm = 4, angle_deg = 60 }

[[catheter]]
name = "straight"
outer_diameter_fr = 2
inner_diameter_mm = 0.45
stiffness_N_mm2 = [[0, 0.3], [20, 1], [100, 4]]
surface = "hydrophilic"

[[catheter]]
name = "angled"
outer_diameter_fr = 2
inner_diameter_mm = 0.45
stiffness_N_mm2 = [[0, 0.3], [20, 1], [100, 4]]
surface = "hydrophilic"
tip = { length_mm = 3, angle_deg = 60 }

[[technique]]
kind = "push"

[[technique]]
kind = "redirect"
attempts = 3
turn_deg = 120

[[technique]]
kind = "looped-back"
attempts = 2
turn_deg = 120
fold_length_mm = 3

[[technique]]
kind = "support"
catheter = "straight"
attempts = 2

[[technique]]
kind = "angled-support"
catheter = "angled"
attempts = 2

[[technique]]
name = "balloon"
kind = "redirect"
attempts = 3
turn_deg = 120
balloon = { diameter_mm = 2.6, length_mm = 8, beyond_mm = 1 }

[[technique]]
name = "exchange"
kind = "redirect"
attempts = 3
turn_deg = 120
exchange = { after = 1, wire = "stiffer" }

[[technique]]
name = "guide re-aimed"
kind = "redirect"
attempts = 3
turn_deg = 120
guide_aims = [{ tilt_deg = 8, plane_deg = 90 }, { deeper_mm = 2 }]
"#;

/// A scenario with every technique around a `[vessel]` table.
pub fn every_technique(vessel: &str, guide: &str, target: &str, max_fed_mm: f64) -> String {
    let text = scenario(vessel, guide, target, max_fed_mm).replace("trials = 2", "trials = 1");
    let wires = text.find("[[wire]]").unwrap_or(text.len());
    text[..wires].to_owned() + EVERY_TECHNIQUE
}

/// Runs a scenario by the program in `folder`, and gives its strategies with the counts of their
/// outcomes.
#[track_caller]
pub fn outcomes(folder: &Path, text: &str) -> Vec<(String, serde_json::Value)> {
    put(folder, "scene.toml", text);
    let output = assert_cmd::cargo::cargo_bin_cmd!("bendwise")
        .current_dir(folder)
        .args([
            "run",
            "scene.toml",
            "--out",
            "out",
            "--quiet",
            "--overwrite",
        ])
        .output()
        .unwrap();
    let message = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(0), "{message}");
    let summary = fs::read_to_string(folder.join("out/summary.json")).unwrap();
    let summary: serde_json::Value = serde_json::from_str(&summary).unwrap();
    let strategies = summary["strategies"].as_array().unwrap().iter();
    strategies
        .map(|s| (s["name"].as_str().unwrap().to_owned(), s.clone()))
        .collect()
}
