//! Real anatomy: a patient's coronary trees from CT angiography (centrelines with radius) and a
//! heart reference's coronary surfaces, which are not part of the project. Sources, licences and
//! caveats stand beside the data in `SOURCE.md`. Without the data the tests say that they skip.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "where a helper fails the test has failed; measured values are printed"
)]

use crate::anatomy_common::{every_technique, outcomes, put, real_data, scenario};
use bendwise::anatomy::tree::{ImportSettings, ImportedBranch, Which, take_off};
use bendwise::anatomy::{Frame, Imported, Unit, import};
use bendwise::scenario::Loaded;
use bendwise::vessel::Lumen;
use std::path::Path;

/// Figures of `SOURCE.md` are met within this share.
const SHARE: f64 = 0.03;

/// Largest take-off angles of the two trees in degrees, over depths of 5 to 10 mm, as measured.
const LARGEST_LCA: f64 = 44.3;
const LARGEST_RCA: f64 = 39.9;

fn length(branch: &ImportedBranch) -> f64 {
    let pairs = branch.points.windows(2);
    pairs.map(|p| (p[1] - p[0]).norm()).sum()
}

fn longest_path(branches: &[ImportedBranch]) -> f64 {
    let mut reach: Vec<f64> = Vec::new();
    for branch in branches {
        let before = branch.parent.map_or(0.0, |p| reach[p]);
        reach.push(before + length(branch));
    }
    reach.iter().copied().fold(0.0, f64::max)
}

fn tips(branches: &[ImportedBranch]) -> usize {
    branches.iter().filter(|b| b.tip.is_some()).count()
}

fn ct(folder: &Path, name: &str, cut: f64) -> Imported {
    let settings = ImportSettings {
        units: Some(Unit::Millimetre),
        frame: Some(Frame::LeftPosteriorSuperior),
        cut_radius_mm: Some(cut),
        ..ImportSettings::default()
    };
    import(&folder.join(name), &settings).unwrap().0
}

#[track_caller]
fn close(what: &str, found: f64, source: f64) {
    println!("{what}: {found:.2}, source {source}");
    assert!(
        (found / source - 1.0).abs() < SHARE,
        "{what}: {found} {source}"
    );
}

/// Branches, tips and lengths of `SOURCE.md`. It gives largest take-off angles of 59 and 47 degrees
/// without saying what they are angles between; ours are those of the published atlas, between
/// chords from the branch point to depths of 5 to 10 mm. The angle depends on the definition:
/// between the parent's chord from 5 to 1 mm before the branch point and the branch's from 2 to 6 mm
/// behind it the largest are 58 and 47 degrees, but that pair of chords was found by trying, and one
/// in ten of a hundred others meets both figures too, so it says nothing about the definition. The
/// values here are those of the atlas's definition, pinned as measured.
#[test]
fn figures_of_the_ct_trees_agree_with_their_source() {
    let Some(folder) = real_data("ct-coronary-tree") else {
        return;
    };
    for (name, cut, branches, tip_count, longest, total, (largest, source)) in [
        ("lca_cl.vtp", 2.5, 9, 5, 171.0, 379.0, (LARGEST_LCA, 59.0)),
        ("rca_cl.vtp", 1.7, 7, 4, 159.0, 241.0, (LARGEST_RCA, 47.0)),
    ] {
        let imported = ct(&folder, name, cut);
        let all = &imported.branches;
        assert_eq!(all.len(), branches, "{name}");
        assert_eq!(tips(all), tip_count, "{name}");
        close(
            &format!("{name}, longest path, mm"),
            longest_path(all),
            longest,
        );
        close(
            &format!("{name}, total, mm"),
            all.iter().map(length).sum(),
            total,
        );
        let angles = (0..all.len()).filter_map(|i| take_off(all, i));
        let found = angles.fold(0.0, f64::max).to_degrees();
        println!("{name}, largest take-off over 5 to 10 mm: {found:.1} deg, source {source}");
        assert!((found - largest).abs() < 0.5, "{name}: {found} {largest}");
        assert!(found < source, "{name}");
    }
}

#[test]
fn wires_run_into_side_branches_of_the_ct_tree_by_both_techniques() {
    let Some(folder) = real_data("ct-coronary-tree") else {
        return;
    };
    let here = tempfile::tempdir().unwrap();
    let file = folder.join("lca_cl.vtp").canonicalize().unwrap();
    // Named by tips: the LAD ends in tip 1, its side branch in tip 2, those of the LCx in 4 and 5.
    for (target, branch) in [("tip = 2", "diagonal"), ("tip = 5", "marginal")] {
        let vessel = format!(
            "file = {:?}\nunits = \"mm\"\nframe = \"LPS\"\ncut_inlet_radius_mm = 2.5\n\
             [[vessel.name]]\ntip = 2\nname = \"diagonal\"\n[[vessel.name]]\ntip = 5\n\
             name = \"marginal\"\n[[vessel.narrowing]]\nbranch = \"branch-1.1\"\nat_mm = 12\n\
             length_mm = 6\ndiameter_mm = 2",
            file.display().to_string()
        );
        let (text, loaded) = loaded(here.path(), &vessel, target);
        runs(here.path(), &text, &loaded, branch);
    }
}

#[test]
fn figures_of_the_surfaces_agree_with_their_source_and_wires_run_inside_them() {
    let Some(folder) = real_data("surface-coronary") else {
        return;
    };
    let here = tempfile::tempdir().unwrap();
    for (name, longest, total) in [
        ("VHF_left_coronary_mm.ply", 140.0, 281.0),
        ("VHF_right_coronary_mm.ply", 239.0, 401.0),
    ] {
        let file = folder.join(name).canonicalize().unwrap();
        let vessel = format!(
            "file = {:?}\nunits = \"mm\"\nframe = \"scene\"",
            file.display().to_string()
        );
        let (text, loaded) = loaded(here.path(), &vessel, "tip = 2");
        let imported = loaded.imported.as_ref().unwrap();
        let all = &imported.branches;
        for (i, b) in all.iter().enumerate() {
            println!(
                "{name}: {} {:.1} mm, radius {:.2} to {:.2} mm, take-off {:.0} deg",
                b.name,
                length(b),
                b.radii[0],
                b.radii[b.radii.len() - 1],
                take_off(all, i).unwrap_or(0.0).to_degrees()
            );
        }
        assert_eq!((all.len(), tips(all)), (7, 4), "{name}");
        close(
            &format!("{name}, longest path, mm"),
            longest_path(all),
            longest,
        );
        // The source ends its axes elsewhere at forks and ends; the total is for comparison.
        let sum: f64 = all.iter().map(length).sum();
        println!("{name}, total, mm: {sum:.1}, source {total}");
        assert!((sum / total - 1.0).abs() < 0.06);
        let side = imported.find(&Which::Tip(2)).unwrap().0.name.clone();
        runs(here.path(), &text, &loaded, &side);
    }
}

/// Every technique with every aid on the CT tree (a side branch of the LAD, one of the LCx) and on
/// the heart's surface: each runs, and hardly one is unresolved.
#[test]
fn every_technique_runs_on_real_anatomy() {
    let here = tempfile::tempdir().unwrap();
    let mut scenes = Vec::new();
    if let Some(folder) = real_data("ct-coronary-tree") {
        put(
            here.path(),
            "names.csv",
            "tip,name\n2,diagonal\n5,marginal\n",
        );
        let file = folder.join("lca_cl.vtp").canonicalize().unwrap();
        let vessel = format!(
            "file = {:?}\nunits = \"mm\"\nframe = \"LPS\"\ncut_inlet_radius_mm = 2.5\n\
             names_file = \"names.csv\"",
            file.display().to_string()
        );
        for (target, fed, trials) in [("diagonal", 120.0, 2), ("marginal", 160.0, 1)] {
            scenes.push((
                vessel.clone(),
                format!("branch = \"{target}\""),
                fed,
                trials,
            ));
        }
    }
    if let Some(folder) = real_data("surface-coronary") {
        let file = folder
            .join("VHF_left_coronary_mm.ply")
            .canonicalize()
            .unwrap();
        let file = file.display().to_string();
        let vessel = format!("file = {file:?}\nunits = \"mm\"\nframe = \"scene\"");
        scenes.push((vessel, "tip = 2".to_owned(), 120.0, 1));
    }
    let (mut all, mut unresolved) = (0, 0);
    for (vessel, target, fed, trials) in scenes {
        // Three trials of 64 may be unresolved. A surface takes ten times as long as a tree.
        let text = every_technique(&vessel, "branch = \"branch-1\"", &target, fed)
            .replace("trials = 1", &format!("trials = {trials}"));
        let found = outcomes(here.path(), &text);
        assert_eq!(found.len(), 16);
        for (name, strategy) in found {
            println!("{target}: {name}: {}", strategy["outcomes"]);
            all += strategy["trials"].as_u64().unwrap();
            unresolved += strategy["outcomes"]["unresolved"].as_u64().unwrap();
        }
    }
    println!("{unresolved} of {all} unresolved");
    assert!(20 * unresolved <= all, "{unresolved} of {all}");
}

/// The text of a scenario with that vessel and target, and what it holds.
fn loaded(folder: &Path, vessel: &str, target: &str) -> (String, Loaded) {
    let text = scenario(vessel, "branch = \"branch-1\"", target, 250.0);
    let path = put(folder, "scene.toml", &text);
    let loaded = bendwise::scenario::load(&path).unwrap();
    (text, loaded)
}

/// Runs the main job and looks at its results.
fn runs(folder: &Path, text: &str, loaded: &Loaded, branch: &str) {
    assert_eq!(loaded.scenario.target.branch, branch);
    let prepared = bendwise::trial::Prepared::new(&loaded.scenario).unwrap();
    if let Some(surface) = prepared.surface() {
        // The centrelines lie inside the surface.
        for b in prepared.tree().branches() {
            for k in 0..=50 {
                let p = b
                    .centreline
                    .position(b.centreline.length_mm() * f64::from(k) / 50.0);
                assert!(surface.distance(&p) < -0.1, "{} {k}", b.name);
            }
        }
    }
    for (_, strategy) in outcomes(folder, text) {
        println!("{branch}: {} {}", strategy["name"], strategy["outcomes"]);
        let unresolved = strategy["outcomes"]["unresolved"].as_u64().unwrap_or(0);
        assert_eq!(unresolved, 0, "{strategy}");
        assert!(strategy["peak_wall_force_mN"]["median"].as_f64().unwrap() > 0.0);
    }
}
