//! A technique that sees one projection: it finds a branch that lies in the plane of the image at
//! once, one that lies in front of its parent or behind by chance alone, and does not know the
//! one from the other.
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

use bendwise::scenario::load;
use bendwise::scenario::model::{PathSpec, PlanSpec, Scenario};
use bendwise::scenario::view::{SightSpec, ViewAngles};
use bendwise::trial::result::{Outcome, TrialRecord, TrialRow};
use bendwise::trial::{Prepared, run_trial, strategies};
use std::path::Path;

const TRIALS: u32 = 12;

/// The straight vessel of the shipped scenario from head to feet, with its branch in the plane
/// `plane_deg`: 90 to the patient's right, 180 to the back.
fn scenario(plane_deg: f64) -> Scenario {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/wrong-course.toml");
    let mut scenario = load(&path).unwrap().scenario;
    let side = scenario
        .vessel
        .branches
        .iter_mut()
        .find(|b| b.name == "side");
    match &mut side.unwrap().path {
        PathSpec::Pieces {
            take_off_plane_rad, ..
        } => *take_off_plane_rad = plane_deg.to_radians(),
        PathSpec::Points(_) => panic!("the branch is built from pieces"),
    }
    scenario.view.as_mut().unwrap().beliefs.clear();
    scenario
        .techniques
        .retain(|t| matches!(t.plan, PlanSpec::Redirect(_)));
    scenario.wires.truncate(1);
    scenario
}

/// A trial seen from `view`, of which every step is recorded.
fn record(mut scenario: Scenario, view: &str, trial: u32) -> TrialRecord {
    scenario.study.record_every_mm = 1e-6;
    scenario.techniques[0].sight = SightSpec::Projected(ViewAngles::parse(view).unwrap());
    let prepared = Prepared::new(&scenario).unwrap();
    run_trial(&prepared, &strategies(&scenario)[0], trial, true)
}

/// Trials of `scenario` seen from `view`.
fn trials(scenario: &Scenario, view: &str) -> Vec<TrialRow> {
    (0..TRIALS)
        .map(|trial| record(scenario.clone(), view, trial).row)
        .collect()
}

fn mean_attempts(rows: &[TrialRow]) -> f64 {
    rows.iter().map(|r| f64::from(r.attempts)).sum::<f64>() / f64::from(TRIALS)
}

fn reached(rows: &[TrialRow]) -> usize {
    rows.iter()
        .filter(|r| r.outcome == Outcome::Reached)
        .count()
}

#[test]
fn a_branch_in_the_plane_of_the_image_is_reached_at_once_and_one_behind_its_parent_is_not() {
    let profile = trials(&scenario(180.0), "LAO 90");
    let hidden = trials(&scenario(180.0), "AP");
    println!(
        "in profile {} of {TRIALS}, {:.1} attempts; hidden {} of {TRIALS}, {:.1} attempts",
        reached(&profile),
        mean_attempts(&profile),
        reached(&hidden),
        mean_attempts(&hidden)
    );
    assert_eq!(reached(&profile), TRIALS as usize);
    assert!(mean_attempts(&profile) < 1.5);
    assert!(mean_attempts(&hidden) > mean_attempts(&profile) + 0.5);
}

/// Front and back look the same from the front: as long as the tip has not come to the branch,
/// the hand makes the same movements for a branch and for its mirror image in depth.
#[test]
fn a_branch_and_its_mirror_image_in_depth_are_aimed_at_alike() {
    // The branch leaves at 30 mm.
    const BEFORE_BRANCH_MM: f64 = 28.0;
    let mut aims = 0;
    for trial in 0..TRIALS {
        let [front, back] = [40.0, 140.0].map(|plane| {
            let trace = record(scenario(plane), "AP", trial).trace;
            let before = trace
                .into_iter()
                .take_while(|row| 30.0 - row.tip_y_mm < BEFORE_BRANCH_MM);
            before
                .map(|row| (row.outside_mm, row.twist_base_deg))
                .collect::<Vec<_>>()
        });
        assert_eq!(front.len(), back.len());
        for (a, b) in front.iter().zip(&back) {
            assert!((a.0 - b.0).abs() < 1e-9 && (a.1 - b.1).abs() < 1e-9);
        }
        aims += usize::from(front.iter().any(|row| row.1.abs() > 20.0));
    }
    assert!(aims > 0, "no trial of the test has aimed");
}
