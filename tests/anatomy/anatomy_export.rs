//! What `export` writes is read back as the same geometry.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "where a helper fails the test has failed; measured values are printed"
)]

use crate::anatomy_common::{cone, put, scenario, stl};
use assert_cmd::cargo::cargo_bin_cmd;
use bendwise::report::export::wall;
use bendwise::scenario::load;
use bendwise::trial::Prepared;
use bendwise::vessel::{Lumen, Tree};
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

/// Largest departure that a round trip may have, in mm.
const LIMIT_MM: f64 = 0.01;

fn export(folder: &Path, scene: &str, out: &str, further: &[&str]) -> (i32, String) {
    let output = cargo_bin_cmd!("bendwise")
        .current_dir(folder)
        .args(["export", scene, "--out", out])
        .args(further)
        .output()
        .unwrap();
    let text = String::from_utf8(output.stderr).unwrap();
    (output.status.code().unwrap(), text)
}

/// A bent trunk with a taper and a narrowing, and a side branch that leaves from its middle.
const VESSEL: &str = r#"
[[vessel.branch]]
name = "trunk"
diameters_mm = [[0, 3.6], [30, 3.0], [50, 2.6]]
pieces = [{ shape = "straight", length_mm = 10 }, { shape = "arc", radius_mm = 12, angle_deg = 90 }, { shape = "straight", length_mm = 20 }]

[[vessel.branch]]
name = "side"
parent = "trunk"
at_mm = 14
take_off_deg = 55
plane_deg = 90
diameter_mm = 2.2
pieces = [{ shape = "arc", radius_mm = 15, angle_deg = 50, plane_deg = 40 }]

[[vessel.narrowing]]
branch = "trunk"
at_mm = 38
length_mm = 8
diameter_mm = 1.8
"#;

fn scene() -> (tempfile::TempDir, Tree) {
    let folder = tempfile::tempdir().unwrap();
    let text = scenario(VESSEL, "branch = \"trunk\"", "branch = \"side\"", 60.0);
    let path = put(folder.path(), "scene.toml", text);
    let tree = Prepared::new(&load(&path).unwrap().scenario)
        .unwrap()
        .tree()
        .clone();
    (folder, tree)
}

/// The tree of a scene whose vessel is a file that was exported.
fn again(folder: &Path, options: &str) -> Prepared {
    let vessel = format!("units = \"mm\"\nframe = \"scene\"\n{options}");
    let text = scenario(&vessel, "branch = \"branch-1\"", "tip = 2", 80.0);
    let path = put(folder, "again.toml", text);
    let loaded = load(&path).unwrap_or_else(|e| panic!("{:?}", miette::Report::new(e)));
    Prepared::new(&loaded.scenario).unwrap()
}

/// Largest distance of the axis of `one` from that of `other`, and difference of the radius there,
/// in mm, leaving out the parts of branches within their parent.
fn departure(one: &Tree, other: &Tree) -> (f64, f64) {
    let mut worst = (0.0_f64, 0.0_f64);
    for branch in one.branches() {
        let line = &branch.centreline;
        for k in 0..=2000 {
            let s = line.length_mm() * f64::from(k) / 2000.0;
            if s < branch.ostium_mm {
                continue;
            }
            let p = line.position(s);
            let nearest = (0..other.branches().len())
                .map(|b| {
                    let station = other.tube(b, &p).station_mm;
                    let there = &other.branches()[b].centreline;
                    let gap = (there.position(station) - p).norm();
                    (gap, (there.radius(station) - line.radius(s)).abs())
                })
                .min_by(|a, b| a.0.total_cmp(&b.0))
                .unwrap();
            worst = (worst.0.max(nearest.0), worst.1.max(nearest.1));
        }
    }
    worst
}

#[test]
fn centrelines_come_back_within_a_hundredth_of_a_millimetre() {
    let (folder, tree) = scene();
    let (code, message) = export(folder.path(), "scene.toml", "out", &["--tolerance", "0.1"]);
    assert_eq!(code, 0, "{message}");
    for file in ["centrelines.vtp", "centrelines.swc"] {
        let options =
            format!("file = \"out/{file}\"\nsmooth_mm = 0\nresample_mm = 0.2\nstub_mm = 0");
        let found = again(folder.path(), &options);
        assert_eq!(found.tree().branches().len(), 3, "{file}");
        for (what, worst) in [
            ("out", departure(&tree, found.tree())),
            ("back", departure(found.tree(), &tree)),
        ] {
            println!(
                "{file}, {what}: axis {:.5} mm, radius {:.5} mm",
                worst.0, worst.1
            );
            assert!(worst.0 < LIMIT_MM, "{file}: axis {}", worst.0);
            assert!(worst.1 < LIMIT_MM, "{file}: radius {}", worst.1);
        }
    }
    let table = fs::read_to_string(folder.path().join("out/branches.csv")).unwrap();
    assert!(table.starts_with("branch,name,parent,at_mm"));
    assert!(table.contains("1,side,trunk,14.0000"), "{table}");
}

#[test]
fn the_lumen_comes_back_within_a_hundredth_of_a_millimetre() {
    let (folder, tree) = scene();
    let (code, message) = export(folder.path(), "scene.toml", "out", &[]);
    assert_eq!(code, 0, "{message}");
    let found = again(folder.path(), "file = \"out/lumen.stl\"");
    assert_eq!(found.tree().branches().len(), 3);
    let surface = found.surface().unwrap();
    let mut worst = (0.0_f64, 0.0_f64);
    let mesh = surface.mesh();
    for p in &mesh.points {
        worst.0 = worst.0.max(tree.distance(p).abs());
    }
    for t in 0..mesh.triangles.len() {
        let [a, b, c] = mesh.corners(t);
        worst.1 = worst.1.max(tree.distance(&((a + b + c) / 3.0)).abs());
    }
    println!(
        "lumen.stl, {} triangles: corners {:.5} mm, middles {:.5} mm from the wall",
        mesh.triangles.len(),
        worst.0,
        worst.1
    );
    assert!(worst.0 < LIMIT_MM && worst.1 < LIMIT_MM, "{worst:?}");
}

/// The branches of the published tree run close together beside their forks. A closed surface
/// without a hole through it has two more corners and triangles than edges for each piece (Euler);
/// the tree has a piece for each inlet.
#[test]
fn the_published_tree_closes_at_any_spacing() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/published-tree-m1.toml");
    let prepared = Prepared::new(&load(&file).unwrap().scenario).unwrap();
    let inlets = prepared.tree().branches().iter();
    let pieces = inlets.filter(|branch| branch.parent.is_none()).count();
    for tolerance_mm in [0.1, 0.05, 0.02, 0.01] {
        let wall = wall(&prepared, tolerance_mm).unwrap();
        let edges: BTreeSet<[u32; 2]> = wall
            .triangles
            .iter()
            .flat_map(|[a, b, c]| [[*a, *b], [*b, *c], [*c, *a]])
            .map(|[a, b]| [a.min(b), a.max(b)])
            .collect();
        let used: BTreeSet<u32> = wall.triangles.iter().flatten().copied().collect();
        let (corners, faces) = (used.len(), wall.triangles.len());
        assert_eq!(2 * edges.len(), 3 * faces, "{tolerance_mm}");
        assert_eq!(corners + faces, edges.len() + 2 * pieces, "{tolerance_mm}");
    }
}

/// A surface goes out as it came in.
#[test]
fn a_surface_goes_out_as_it_came_in() {
    let folder = tempfile::tempdir().unwrap();
    let mesh = cone(30.0, 1.5, 1.2, 30, 16);
    put(folder.path(), "in.stl", stl(&mesh));
    let vessel = "file = \"in.stl\"\nunits = \"mm\"\nframe = \"scene\"\n[[vessel.branch]]\n\
                  name = \"side\"\nparent = \"branch-1\"\nat_mm = 12\ntake_off_deg = 60\n\
                  diameter_mm = 2\npieces = [{ shape = \"straight\", length_mm = 12 }]";
    let text = scenario(vessel, "branch = \"branch-1\"", "branch = \"side\"", 60.0);
    put(folder.path(), "scene.toml", text);
    let (code, message) = export(folder.path(), "scene.toml", "out", &[]);
    assert_eq!(code, 0, "{message}");
    let bytes = fs::read(folder.path().join("out/lumen.stl")).unwrap();
    assert_eq!(bytes.len(), 84 + 50 * mesh.triangles.len());
    let (code, message) = export(folder.path(), "scene.toml", "out", &[]);
    assert_eq!(code, 2, "{message}");
    let (code, message) = export(folder.path(), "scene.toml", "out", &["--overwrite"]);
    assert_eq!(code, 0, "{message}");
}
