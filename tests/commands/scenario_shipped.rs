//! The scenarios that come with the program load, and the published tree says what its source
//! says.
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

use approx::assert_relative_eq;
use bendwise::scenario::model::{PathSpec, StiffnessSpec};
use bendwise::scenario::{Loaded, holds_wires_alone, load};
use bendwise::vessel::Tree;
use nalgebra::Vector3;
use std::fs;
use std::path::{Path, PathBuf};

fn scenarios() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios")
}

fn shipped(name: &str) -> Loaded {
    load(&scenarios().join(name)).unwrap_or_else(|error| panic!("{:?}", miette::Report::new(error)))
}

/// Points of a branch in mm.
fn points(loaded: &Loaded, branch: &str) -> Vec<Vector3<f64>> {
    let branches = &loaded.scenario.vessel.branches;
    let found = branches.iter().find(|known| known.name == branch).unwrap();
    match &found.path {
        PathSpec::Points(points) => points.clone(),
        PathSpec::Pieces { .. } => panic!("{branch} is built from pieces"),
    }
}

#[test]
fn every_scenario_loads_and_its_vessel_can_be_built() {
    let mut found = 0;
    for entry in fs::read_dir(scenarios()).unwrap() {
        let path = entry.unwrap().path();
        if path
            .extension()
            .is_some_and(|extension| extension == "toml")
        {
            if holds_wires_alone(&path) {
                continue;
            }
            let loaded = load(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
            let scenario = &loaded.scenario;
            assert_eq!(
                path.file_stem().unwrap().to_str(),
                Some(scenario.name.as_str())
            );
            assert!(loaded.warnings.is_empty(), "{:?}", loaded.warnings);
            assert!(scenario.wires.len() * scenario.techniques.len() >= 4);
            Tree::build(&scenario.vessel).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
            // The first line names the schema.
            let text = loaded.source.text.lines().nth(1).unwrap();
            assert!(text.starts_with("# Invented:") || text.starts_with("# Published:"));
            found += 1;
        }
    }
    assert_eq!(found, 16);
}

/// Cartesian points in mm computed by an independent program from the same published polar
/// means (Dodge 1988 and 1992), to 0.1 mm: distal left main, apex, distal C1, second third of R2
/// and of R4, middle of D1, origin of M1.
#[test]
fn the_published_tree_has_its_points_where_the_source_has_them() {
    let loaded = shipped("published-tree-m1.toml");
    for (branch, index, expected) in [
        ("LM", 3, [10.8, 0.0, 2.1]),
        ("LAD", 10, [44.9, -87.8, 71.9]),
        ("LCx", 3, [18.4, -11.3, -3.9]),
        ("LCx", 9, [19.0, -44.8, -23.5]),
        ("RCA", 5, [-43.7, -48.6, 40.4]),
        ("RCA", 9, [-14.8, -71.1, 5.7]),
        ("D1", 2, [49.9, -24.2, 27.7]),
        ("M1", 0, [18.4, -11.3, -3.9]),
    ] {
        let point = points(&loaded, branch)[index];
        assert_relative_eq!(point, Vector3::from(expected), epsilon = 0.1);
    }
}

/// Dodge 1992, abstract: proximal LAD 3.7, proximal RCA 3.9 (right-dominant) and 2.8
/// (left-dominant), LCx 3.4 and 4.2 mm; each within the last digit of the mean over its thirds.
#[test]
fn the_diameters_of_each_dominance_agree_with_the_abstract_of_their_source() {
    let text = fs::read_to_string(scenarios().join("published-tree-m1.toml")).unwrap();
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join("trees")).unwrap();
    let tree = "trees/published-tree.toml";
    fs::copy(scenarios().join(tree), folder.path().join(tree)).unwrap();
    for (set, lcx, rca, lcx_points, rca_points) in [
        ("right-dominant", 3.4, 3.9, 10, 11),
        ("left-dominant", 4.2, 2.8, 12, 9),
    ] {
        let path = folder.path().join("scenario.toml");
        let chosen = format!("diameter_set = \"{set}\"");
        fs::write(
            &path,
            text.replace("diameter_set = \"right-dominant\"", &chosen),
        )
        .unwrap();
        let loaded = load(&path).unwrap();
        let thirds = |branch: &str| {
            let branches = &loaded.scenario.vessel.branches;
            let found = branches.iter().find(|known| known.name == branch).unwrap();
            found.diameters[1..4].iter().map(|at| at.1).sum::<f64>() / 3.0
        };
        assert_relative_eq!(thirds("LCx"), lcx, epsilon = 0.1);
        assert_relative_eq!(thirds("RCA"), rca, epsilon = 0.1);
        assert_eq!(points(&loaded, "LCx").len(), lcx_points);
        assert_eq!(points(&loaded, "RCA").len(), rca_points);
    }
}

#[test]
fn catalogue_units_become_internal_units() {
    let loaded = shipped("side-branch.toml");
    let wire = &loaded.scenario.wires[0];
    let StiffnessSpec::TipLoad {
        tip_load_mn,
        modulus_mn_per_mm2,
        ..
    } = &wire.stiffness
    else {
        panic!("the first wire has a tip load");
    };
    assert_relative_eq!(*tip_load_mn, 0.3 * 9.806_65, max_relative = 1e-12);
    assert_relative_eq!(*modulus_mn_per_mm2, 2e8, max_relative = 1e-12);
    let bend = wire.tip.primary.unwrap();
    assert_relative_eq!(bend.angle_rad, 75f64.to_radians(), max_relative = 1e-12);
    assert_relative_eq!(wire.torsion_ratio, 1.0 / 1.3, max_relative = 1e-12);
}

#[test]
fn the_content_hash_sees_both_files_and_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let copy = |to: &str| {
        let folder = folder.path().join(to);
        fs::create_dir_all(folder.join("trees")).unwrap();
        for name in ["published-tree-m1.toml", "trees/published-tree.toml"] {
            fs::copy(scenarios().join(name), folder.join(name)).unwrap();
        }
        folder
    };
    let hash = |folder: &Path| {
        load(&folder.join("published-tree-m1.toml"))
            .unwrap()
            .content_hash
    };
    let (one, two) = (copy("one"), copy("two"));
    assert_eq!(hash(&one), hash(&two));
    let tree = two.join("trees/published-tree.toml");
    let text = fs::read_to_string(&tree).unwrap();
    fs::write(&tree, text + "# a remark\n").unwrap();
    assert_ne!(hash(&one), hash(&two));
}

#[test]
fn a_checked_scenario_survives_serialisation() {
    let scenario = shipped("full-loop.toml").scenario;
    let text = serde_json::to_string(&scenario).unwrap();
    let back: bendwise::scenario::Scenario = serde_json::from_str(&text).unwrap();
    assert_eq!(back, scenario);
}
