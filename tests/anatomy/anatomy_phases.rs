//! A vessel that moves as files at further phases of a beat say.
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

use crate::anatomy_common::{put, scenario};
use bendwise::scenario::model::HeartCourse;
use bendwise::scenario::{Loaded, ScenarioError, load_text};
use bendwise::trial::Prepared;
use bendwise::vessel::{Beat, GivingVessel, Lumen, MovedTree};
use nalgebra::Vector3;
use std::fmt::Write as _;
use std::path::Path;
use std::sync::Arc;

const PHASES: i32 = 4;

/// How far the beat has moved what lies at `x` (mm), at phase `k`.
fn lifted(x: f64, k: i32) -> f64 {
    let share = f64::from(k) / f64::from(PHASES);
    let systole = 0.5 - 0.5 * (std::f64::consts::TAU * share).cos();
    4.0 * systole * (x / 45.0).powi(2)
}

/// A trunk along x with a side branch at 20 mm, at phase `k`.
fn tree(k: i32, side: &str) -> String {
    let mut text = String::from("branch,x,y,z,radius\n");
    for x in 0..=45 {
        let _ = writeln!(text, "main,{x},0,{},1.5", lifted(f64::from(x), k));
    }
    for s in 0..=20 {
        let (x, y) = (20.0 + 0.5 * f64::from(s), 0.866 * f64::from(s));
        let _ = writeln!(text, "{side},{x},{y},{},1.1", lifted(x, k));
    }
    text
}

/// A scenario in that tree whose heart says `heart`.
fn loaded(folder: &Path, heart: &str) -> Result<Loaded, ScenarioError> {
    let vessel = "file = \"0.csv\"\nunits = \"mm\"\nframe = \"scene\"\nname_array = \"branch\"\n";
    let motion = format!("[vessel.motion.heart]\nbeats_per_minute = 60\n{heart}");
    let text = scenario(
        &format!("{vessel}\n{motion}"),
        "branch = \"branch-1\"",
        "tip = 2",
        60.0,
    );
    load_text(&folder.join("scenario.toml"), text)
}

fn files(folder: &Path) {
    for k in 0..PHASES {
        put(folder, &format!("{k}.csv"), tree(k, "side"));
    }
}

const ALL: &str = "phases = [\"1.csv\", \"2.csv\", \"3.csv\"]";

#[test]
fn the_axes_pass_the_places_of_the_files_at_their_times_and_run_smoothly_in_between() {
    let here = tempfile::tempdir().unwrap();
    files(here.path());
    let loaded = loaded(here.path(), ALL).unwrap();
    let prepared = Prepared::new(&loaded.scenario).unwrap();
    let heart = loaded.scenario.motion.unwrap().heart.unwrap();
    assert!(matches!(&heart.course, HeartCourse::Phases(phases) if phases.len() == 3));
    let tree = Arc::new(prepared.tree().clone());
    let vessel = GivingVessel::carried(&tree);
    let beat = Beat::of(&heart, &tree, vessel.knots(), (0, 0.0)).unwrap();
    let lumen = MovedTree::new(
        Arc::clone(&tree),
        Arc::new(vessel.with_motion(beat.motion.clone())),
    );
    let mut moved = vec![Vector3::zeros(); lumen.vessel().controls()];
    for k in 0..8 {
        let time_s = f64::from(k) / 8.0;
        beat.motion.at(time_s, &mut moved);
        lumen.set(&moved);
        for (number, branch) in tree.branches().iter().enumerate() {
            let length = branch.centreline.length_mm();
            for part in 0..=10 {
                let at = lumen.position(number, length * f64::from(part) / 10.0);
                // Between the phases a sine is met by a cubic spline through four of its points.
                let share = 0.5 - 0.5 * (std::f64::consts::TAU * time_s).cos();
                let expected = 4.0 * share * (at.x / 45.0).powi(2);
                let allowed = if k % 2 == 0 { 0.03 } else { 0.12 };
                assert!((at.z - expected).abs() < allowed, "{k}: {at} {expected}");
                assert!(lumen.distance(&at) < -0.9);
            }
        }
    }
    // The guide's end is that of the inlet, which stands.
    assert!(lumen.displacement(0, 0.0).norm() < 1e-9);
}

/// The message of a scenario that is refused.
fn refused(folder: &Path, heart: &str) -> String {
    let error = loaded(folder, heart).unwrap_err();
    let message = format!("{:?}", miette::Report::new(error));
    // As it is wrapped.
    let words = message.split_whitespace().filter(|word| *word != "│");
    words.collect::<Vec<_>>().join(" ")
}

#[test]
fn phases_with_other_branches_or_names_are_refused_at_their_line() {
    let here = tempfile::tempdir().unwrap();
    files(here.path());
    put(here.path(), "other.csv", tree(2, "aside"));
    let message = refused(here.path(), "phases = [\"1.csv\", \"other.csv\"]");
    for text in [
        "other.csv",
        "it has other branches than the vessel",
        "aside",
        "same names",
    ] {
        assert!(message.contains(text), "no {text} in {message}");
    }
    let without: String = tree(2, "side")
        .lines()
        .filter(|l| !l.starts_with("side"))
        .fold(String::new(), |text, line| text + line + "\n");
    put(here.path(), "fewer.csv", without);
    let message = refused(here.path(), "phases = [\"fewer.csv\"]");
    assert!(
        message.contains("other branches than the vessel"),
        "{message}"
    );
    let message = refused(here.path(), "phases = [\"none.csv\"]");
    assert!(message.contains("none.csv"), "{message}");
}

#[test]
fn a_phase_that_folds_a_branch_is_refused() {
    let here = tempfile::tempdir().unwrap();
    files(here.path());
    // A hairpin of 1 mm radius in a lumen of 1.5 mm.
    let mut text = String::from("branch,x,y,z,radius\n");
    for x in 0..=22 {
        let _ = writeln!(text, "main,{x},0,0,1.5");
    }
    for k in 1..=8 {
        let angle = std::f64::consts::PI * f64::from(k) / 8.0;
        let (x, z) = (22.0 + angle.sin(), 1.0 - angle.cos());
        let _ = writeln!(text, "main,{x},0,{z},1.5");
    }
    for x in 1..=20 {
        let _ = writeln!(text, "main,{},0,2,1.5", 22 - x);
    }
    for s in 0..=20 {
        let (x, y) = (20.0 + 0.5 * f64::from(s), 0.866 * f64::from(s));
        let _ = writeln!(text, "side,{x},{y},0,1.1");
    }
    put(here.path(), "hairpin.csv", text);
    let loaded = loaded(here.path(), "phases = [\"hairpin.csv\"]").unwrap();
    let error = Prepared::new(&loaded.scenario).unwrap_err();
    let message = error.to_string();
    assert!(message.contains("would be folded"), "{message}");
    assert_eq!(error.place().to_string(), "vessel.motion.heart");
}
