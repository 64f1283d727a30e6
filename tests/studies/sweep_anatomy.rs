//! Are drawn vessels what the sweep file says: curvature, branching, spread?
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

use std::fs;
use std::path::{Path, PathBuf};

use bendwise::scenario::sweep::model::{BranchingLaw, number};
use bendwise::scenario::sweep::{LoadedSweep, load_sweep};
use bendwise::study::sweep::{Base, Design, behind};
use bendwise::vessel::Tree;

fn shipped_path(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("scenarios/sweeps")
        .join(name)
}

fn shipped(name: &str) -> (LoadedSweep, Base, Design) {
    read(&shipped_path(name))
}

fn read(path: &Path) -> (LoadedSweep, Base, Design) {
    let sweep = load_sweep(path).unwrap();
    let base = Base::read(&sweep).unwrap();
    let design = Design {
        kind: sweep.spec.design,
        seed: base.seed(),
        parameters: sweep.spec.parameters.clone(),
    };
    (sweep, base, design)
}

fn value(sweep: &LoadedSweep, design: &Design, point: usize, column: &str) -> f64 {
    let index = sweep
        .spec
        .parameters
        .iter()
        .position(|p| p.column == column)
        .unwrap();
    number(&design.point(point)[index]).unwrap()
}

/// Turning angle over length of the centreline that is built, against the mean curvature that was
/// drawn, for long and for short bends. The centreline's samples, at most 0.25 mm apart, miss a part
/// of where the curvature turns round between two bends.
#[test]
fn drawn_vessels_have_the_stated_mean_curvature() {
    const LIMIT: f64 = 0.005;
    let folder = tempfile::tempdir().unwrap();
    let base = shipped_path("../side-branch.toml");
    let text = fs::read_to_string(shipped_path("drawn-vessels.toml")).unwrap();
    let text = text.replace("../side-branch.toml", base.to_str().unwrap());
    for bend_mm in ["12", "5", "2"] {
        let path = folder.path().join("drawn.toml");
        assert!(text.contains("bend_mm = 12"));
        fs::write(
            &path,
            text.replace("bend_mm = 12", &format!("bend_mm = {bend_mm}")),
        )
        .unwrap();
        let (sweep, base, design) = read(&path);
        let mut worst = 0.0_f64;
        for point in 0..25 {
            let scenario = base.scenario_at(&design.point(point), point).unwrap();
            let tree = Tree::build(&scenario.vessel).unwrap();
            let centreline = &tree.branches()[tree.branch_index("parent").unwrap()].centreline;
            let length = centreline.length_mm();
            let pieces = 8000;
            let tangent = |k: i32| centreline.tangent(length * f64::from(k) / f64::from(pieces));
            let turned: f64 = (0..pieces).map(|k| tangent(k).angle(&tangent(k + 1))).sum();
            let stated = value(&sweep, &design, point, "curvature_per_mm");
            assert!((0.050..=0.066).contains(&stated));
            worst = worst.max((turned / length / stated - 1.0).abs());
        }
        println!(
            "bends of {bend_mm} mm: largest difference from the stated mean curvature {:.2} %",
            100.0 * worst
        );
        assert!(worst < LIMIT, "bends of {bend_mm} mm: {worst}");
    }
}

/// The diameters that are built obey the law of Huo and Kassab far from the branching.
#[test]
fn drawn_diameters_obey_the_branching_law() {
    let (sweep, base, design) = shipped("drawn-vessels.toml");
    for point in 0..25 {
        let scenario = base.scenario_at(&design.point(point), point).unwrap();
        let tree = Tree::build(&scenario.vessel).unwrap();
        let radius = |name: &str, station: f64| {
            tree.branches()[tree.branch_index(name).unwrap()]
                .centreline
                .radius(station)
        };
        let before = value(&sweep, &design, point, "trunk_diameter_mm");
        let side = value(&sweep, &design, point, "branch_diameter_mm");
        let after = behind(BranchingLaw::HuoKassab, before, side).unwrap();
        assert!((2.0 * radius("parent", 2.0) - before).abs() < 1e-6);
        assert!((2.0 * radius("parent", 50.0) - after).abs() < 1e-6);
        let sum = after.powf(7.0 / 3.0) + side.powf(7.0 / 3.0);
        assert!((sum / before.powf(7.0 / 3.0) - 1.0).abs() < 1e-9);
    }
}

/// A drawn heart keeps its branches on their trunks and differs from the mean.
#[test]
fn drawn_hearts_hold_together() {
    let (_, base, design) = shipped("tree-spread.toml");
    let mut built = 0;
    for point in 0..40 {
        let Ok(scenario) = base.scenario_at(&design.point(point), point) else {
            continue;
        };
        let Ok(tree) = Tree::build(&scenario.vessel) else {
            continue;
        };
        built += 1;
        for branch in tree.branches() {
            if let Some((parent, at_mm)) = branch.parent {
                let trunk = &tree.branches()[parent].centreline;
                let gap = (branch.centreline.position(0.0) - trunk.position(at_mm)).norm();
                // Mean origins lie beside the mean trunk; moved with it they stay within the
                // trunk's neighbourhood.
                assert!(gap < 12.0, "{} of point {point}: {gap} mm", branch.name);
            }
        }
    }
    println!("{built} of 40 hearts with half the spread can be built");
    assert!(built >= 20);
}
