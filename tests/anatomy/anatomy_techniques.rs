//! Every technique on a tree and on a surface from a file, and bodies that stand in the lumen.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "where a helper fails the test has failed; outcomes are printed"
)]

use crate::anatomy_common::{every_technique, obj, outcomes, put, scenario};
use bendwise::anatomy::surface::Mesh;
use bendwise::report::read_wire;
use bendwise::trial::Prepared;
use bendwise::vessel::{Lumen, obstacle};
use bendwise::vessel::{Spacing, net};
use nalgebra::Vector3;
use std::fmt::Write as _;
use std::fs;
use std::path::Path;

/// Lines of a trunk along x that goes on beyond a fork at 20 mm, and of a side branch that leaves it
/// at 60 degrees.
fn tree() -> String {
    let mut text = String::from("branch,x,y,z,radius\n");
    for x in 0..=45 {
        let _ = writeln!(text, "main,{x},0,0,1.5");
    }
    for s in 0..=20 {
        let (x, y) = (20.0 + 0.5 * f64::from(s), 0.866 * f64::from(s));
        let _ = writeln!(text, "side,{x},{y},0,1.1");
    }
    text
}

fn vessel(file: &str) -> String {
    format!("file = \"{file}\"\nunits = \"mm\"\nframe = \"scene\"")
}

fn every_technique_ends(folder: &Path, file: &str, options: &str) {
    let vessel = format!("{}\n{options}", vessel(file));
    let text = every_technique(&vessel, "branch = \"branch-1\"", "tip = 2", 60.0);
    let found = outcomes(folder, &text);
    assert_eq!(found.len(), 16);
    for (name, strategy) in &found {
        println!("{file}: {name}: {}", strategy["outcomes"]);
        assert_eq!(strategy["outcomes"]["unresolved"], 0, "{file}: {name}");
    }
    // Some technique reaches a branch that leaves at 60 degrees.
    assert!(found.iter().any(|(_, s)| s["reached"] == 1));
}

#[test]
fn every_technique_ends_on_a_tree_and_on_a_surface_from_a_file() {
    let here = tempfile::tempdir().unwrap();
    put(here.path(), "tree.csv", tree());
    every_technique_ends(here.path(), "tree.csv", "");
    // The wall of that tree as a surface.
    let text = scenario(
        &vessel("tree.csv"),
        "branch = \"branch-1\"",
        "tip = 2",
        60.0,
    );
    let loaded = bendwise::scenario::load(&put(here.path(), "tree.toml", text)).unwrap();
    let prepared = Prepared::new(&loaded.scenario).unwrap();
    let net = net(prepared.tree(), None, &Spacing { cell_mm: 0.4 }).unwrap();
    let mesh = Mesh {
        points: net.points,
        triangles: net.triangles,
    };
    put(here.path(), "wall.obj", obj(&mesh));
    // Both ends of the trunk are as wide, so the inlet has to be said.
    every_technique_ends(here.path(), "wall.obj", "inlet_mm = [0, 0, 0]");
    // The guide points along the vessel, which decides where the wire goes.
    let loaded = bendwise::scenario::load(&here.path().join("scene.toml")).unwrap();
    let prepared = Prepared::new(&loaded.scenario).unwrap();
    let off = prepared.guide_tip().axis.angle(&Vector3::x()).to_degrees();
    println!("guide on the surface {off:.2} deg off the axis");
    assert!(off < 0.3, "{off}");
    // The result holds the surface itself, with the number of a branch at each triangle.
    let written = fs::read(here.path().join("out/vessel.vtp")).unwrap();
    let written = bendwise::anatomy::parse("vtp", &written, &Default::default()).unwrap();
    let bendwise::anatomy::Content::Surface(written) = written else {
        panic!("a surface")
    };
    // Points are numbered anew, triangles stay in order.
    let corners = |triangles: &[[u32; 3]], points: &[Vector3<f64>]| -> Vec<Vector3<f64>> {
        let all = triangles.iter().flatten();
        all.map(|i| points[*i as usize]).collect()
    };
    let found = corners(&written.triangles, &written.points);
    let expected = corners(&mesh.triangles, &mesh.points);
    assert_eq!(found.len(), expected.len());
    let apart = found.iter().zip(&expected).map(|(a, b)| (a - b).norm());
    assert!(apart.fold(0.0, f64::max) < 1e-6);
}

/// A wire that is pushed past a body never comes into it by more than the body yields, and it is
/// pushed aside: without the body it comes there.
#[test]
fn a_body_in_the_lumen_keeps_the_wire_out() {
    let here = tempfile::tempdir().unwrap();
    put(here.path(), "tree.csv", tree());
    let body = "[[vessel.obstacle]]\nbranch = \"branch-1\"\nat_mm = 10\nlength_mm = 4\n\
                diameter_mm = 1.6\noff_axis_mm = 0.6\nplane_deg = 40";
    let run = |body: &str| {
        let vessel = format!("{}\n{body}", vessel("tree.csv"));
        let text = scenario(&vessel, "branch = \"branch-1\"", "tip = 2", 60.0)
            .replace("recorded = 0", "recorded = 2\nrecord_every_mm = 0.5");
        outcomes(here.path(), &text);
        let mut nodes: Vec<Vector3<f64>> = Vec::new();
        for trial in fs::read_dir(here.path().join("out/shapes")).unwrap() {
            for file in fs::read_dir(trial.unwrap().path()).unwrap() {
                let path = file.unwrap().path();
                if path.extension().is_some_and(|e| e == "vtp") {
                    nodes.extend(read_wire(&path).unwrap().nodes_mm);
                }
            }
        }
        assert!(nodes.len() > 1000);
        nodes
    };
    let with = run(body);
    let loaded = bendwise::scenario::load(&here.path().join("scene.toml")).unwrap();
    let prepared = Prepared::new(&loaded.scenario).unwrap();
    let body = obstacle(prepared.tree(), &loaded.scenario.obstacles[0]).unwrap();
    // Depth of the wire's axis below the distance that its radius keeps from the body.
    let deepest = |nodes: &[Vector3<f64>]| {
        let depths = nodes.iter().map(|p| body.distance(p) + 0.5 * 0.3556);
        depths.fold(f64::NEG_INFINITY, f64::max)
    };
    let (kept, through) = (deepest(&with), deepest(&run("")));
    println!("deepest with the body {kept:.3} mm, without {through:.3} mm");
    assert!(
        kept > -0.2 && kept < 0.1,
        "touched, and not entered: {kept}"
    );
    assert!(through > 0.3, "{through}");
}

#[test]
fn a_body_that_cannot_stand_there_is_refused() {
    let here = tempfile::tempdir().unwrap();
    put(here.path(), "tree.csv", tree());
    let check = |body: &str| {
        let vessel = format!("{}\n[[vessel.obstacle]]\n{body}", vessel("tree.csv"));
        let text = scenario(&vessel, "branch = \"branch-1\"", "tip = 2", 60.0);
        put(here.path(), "scene.toml", text);
        let output = assert_cmd::cargo::cargo_bin_cmd!("bendwise")
            .current_dir(here.path())
            .args(["check", "scene.toml"])
            .output()
            .unwrap();
        let text = [output.stdout, output.stderr].concat();
        let text = String::from_utf8(text).unwrap().replace(['\n', '│'], " ");
        let words: Vec<&str> = text.split_whitespace().collect();
        (output.status.code().unwrap(), words.join(" "))
    };
    let (code, text) =
        check("branch = \"branch-1\"\nat_mm = 10\nlength_mm = 4\ndiameter_mm = 1\noff_axis_mm = 1");
    assert_eq!(code, 0, "{text}");
    let line = "obstacle main at 10.0 mm: 4 mm long, 1 mm wide, 1 mm off the axis towards 0 deg";
    assert!(text.contains(line), "{text}");
    for (body, says) in [
        (
            "branch = \"branch-1\"\nat_mm = 10\nlength_mm = 4\ndiameter_mm = 2.8",
            "leaves 0.1",
        ),
        (
            "branch = \"branch-1\"\nat_mm = 1\nlength_mm = 4\ndiameter_mm = 1",
            "reaches from -1.0 to 3.0",
        ),
        (
            "branch = \"branch-1\"\nat_mm = 0.6\nlength_mm = 1\ndiameter_mm = 1",
            "where the guide ends",
        ),
        (
            "branch = \"branch-1\"\nat_mm = 9\nlength_mm = 2\ndiameter_mm = 1\noff_axis_mm = 2.1",
            "outside the lumen",
        ),
        (
            "branch = \"LAD\"\nat_mm = 9\nlength_mm = 2\ndiameter_mm = 1",
            "not the name of a branch",
        ),
        (
            "branch = \"branch-1\"\nlength_mm = 2\ndiameter_mm = 1",
            "missing field at_mm",
        ),
        (
            "tip = 9\nat_mm = 9\nlength_mm = 2\ndiameter_mm = 1",
            "there is no tip 9",
        ),
        (
            "near_mm = [9, 0, 0]\nlength_mm = 2\ndiameter_mm = 0",
            "diameter_mm",
        ),
    ] {
        let (code, text) = check(body);
        assert_eq!(code, 2, "{text}");
        assert!(text.contains(says), "no {says:?} in {text}");
    }
    // The branch beside the way may be closed altogether.
    let (code, text) = check("tip = 1\nat_mm = 8\nlength_mm = 5\ndiameter_mm = 3");
    assert_eq!(code, 0, "{text}");
}
