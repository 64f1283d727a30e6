//! A bent catheter raises the take-off angle that a straight wire can be led into by about as much
//! as it is bent more.
//!
//! Geometry: the wire leaves the catheter in the direction of its tip, and a branch that turns away
//! by more than that direction is missed by the difference. The vessel lets the catheter lean, and
//! the wire bends at the ostium; both add to the reach of every catheter alike.
#![allow(clippy::print_stdout, reason = "the table of checks")]

use crate::common::{at_least, report};
use bendwise::scenario::load;
use bendwise::scenario::model::{CatheterTipSpec, PathSpec, PlanSpec, Scenario};
use bendwise::technique::AngledSupport;
use bendwise::trial::result::Outcome;
use bendwise::trial::{Prepared, run_trial, strategies};
use rayon::prelude::*;
use std::path::Path;

const TRIALS: u32 = 4;

/// The shipped scenario with one straight wire, one catheter bent by `bent` degrees, and the branch
/// at `take_off` degrees.
fn scenario(bent: f64, take_off: f64) -> Scenario {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/support-catheters.toml");
    let mut scenario = load(&path).expect("shipped").scenario;
    scenario.wires.truncate(1);
    scenario.wires[0].tip.primary = None;
    let plan = |p: &PlanSpec| {
        let PlanSpec::AngledSupport(AngledSupport { catheter, .. }) = *p else {
            return false;
        };
        scenario.catheters[catheter]
            .tip
            .is_some_and(|t| t.range_rad.is_none())
    };
    let found = scenario.techniques.iter().position(|t| plan(&t.plan));
    let technique = scenario
        .techniques
        .swap_remove(found.expect("a preformed catheter"));
    let index = technique.plan.catheter().expect("it has one");
    scenario.catheters[index].tip = Some(CatheterTipSpec {
        length_mm: 3.0,
        angle_rad: f64::to_radians(bent),
        range_rad: None,
    });
    scenario.techniques = vec![technique];
    let side = &mut scenario.vessel.branches[1];
    let PathSpec::Pieces { take_off_rad, .. } = &mut side.path else {
        panic!("the branch is built from pieces");
    };
    *take_off_rad = f64::to_radians(take_off);
    scenario
}

/// Take-off angle in degrees up to which at least half of the trials reach the branch: halfway
/// between one at which they do and the next, at which they do not, found by bisection.
fn reach(bent: f64) -> f64 {
    let reached = |take_off: f64| {
        let prepared = Prepared::new(&scenario(bent, take_off)).expect("a scenario");
        let strategy = &strategies(prepared.scenario())[0];
        let is_in = |t| run_trial(&prepared, strategy, t, false).row.outcome == Outcome::Reached;
        let found = at_least(TRIALS / 2, TRIALS, is_in);
        println!("  bent by {bent} deg, take-off {take_off} deg: {found}");
        found.holds
    };
    let angles = [60.0, 75.0, 90.0, 105.0, 120.0, 135.0, 150.0, 165.0];
    // Those before `low` are reached, those from `high` on are not.
    let (mut low, mut high) = (0, angles.len());
    while low < high {
        let middle = usize::midpoint(low, high);
        if reached(angles[middle]) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    angles.get(low).expect("165 degrees is not reached") - 7.5
}

#[test]
fn a_catheter_that_is_bent_more_reaches_branches_that_turn_away_by_as_much_more() {
    check_reach(&[30.0, 90.0]);
}

/// `cargo test --release --test trials angled_catheter_reach -- --ignored --nocapture`.
#[test]
#[ignore = "half a minute of processor time"]
fn so_does_one_that_is_bent_by_something_between() {
    check_reach(&[30.0, 60.0]);
}

fn check_reach(bends: &[f64]) {
    let reaches: Vec<f64> = bends.par_iter().map(|&bent| reach(bent)).collect();
    for (bent, reach) in bends.iter().zip(&reaches).skip(1) {
        let raised = reach - reaches[0];
        // Steps of 15 degrees, at both ends.
        report(
            &format!(
                "reach of a catheter bent by {bent} deg over one bent by 30 deg, less the difference of the bends (deg)"
            ),
            raised - (bent - 30.0),
            15.0,
        );
    }
}
