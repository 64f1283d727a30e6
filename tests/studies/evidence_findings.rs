//! What a review finds in made-up rows whose errors and causes are known.
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

use std::path::Path;

use bendwise::evidence::{
    Answer, Converged, Force, HangsOn, OfForce, PointRows, Review, Rule, Uncertain, Variant,
    spreads,
};
use bendwise::scenario::load;
use bendwise::scenario::model::{Scenario, SolverSpec};
use bendwise::trial::result::{Outcome, TrialRow};

const DRAWS: u32 = 8;

fn review(rows: usize) -> Review {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/side-branch.toml");
    let scenario = load(&path).unwrap().scenario;
    Review::new(&scenario, spreads(&[]), rows)
}

/// Rows of one strategy at every point, each draw made of the scenario there.
fn rows(review: &Review, row: impl Fn(&Scenario, u32) -> TrialRow) -> Vec<PointRows> {
    let at = |point: usize| {
        let scenario = review.scenario_at(point);
        vec![(0..DRAWS).map(|trial| row(&scenario, trial)).collect()]
    };
    (0..review.points()).map(at).collect()
}

/// A push force of 10 mN with an error of `error` that falls with the square of the edge, and a wall force of
/// 5 mN with one of 1 % that falls with the step.
fn of_mesh(scenario: &Scenario, trial: u32, error: f64) -> TrialRow {
    let shipped = SolverSpec::default();
    let edge = scenario.solver.edge_mm / shipped.edge_mm;
    let step = scenario.solver.step_mm / shipped.step_mm;
    TrialRow {
        trial,
        outcome: Outcome::Reached,
        peak_push_force_mn: 10.0 * (1.0 + error * edge * edge),
        peak_wall_force_mn: 5.0 * (1.0 + 0.01 * step),
        newton_iterations: 100,
        ..TrialRow::default()
    }
}

#[test]
fn the_error_of_a_force_is_found_with_its_order_and_its_cause() {
    let review = review(0);
    let points = rows(&review, |scenario, trial| of_mesh(scenario, trial, 0.1));
    let found = Converged::of(&review, &points, 0, "made up", 5.0);
    let push = found
        .forces
        .iter()
        .find(|f| f.force == Force::Push)
        .unwrap();
    let together = push.together.as_ref().unwrap().estimate;
    assert_eq!(together.rule, Rule::Observed);
    assert!((together.order.unwrap() - 2.0).abs() < 1e-9);
    assert!((together.limit - 10.0).abs() < 1e-9);
    // 1.25 times 1 mN over the 11 mN as it is.
    assert!((together.per_cent().unwrap() - 100.0 * 1.25 / 11.0).abs() < 1e-9);
    assert!(!found.is_converged);
    assert!(
        found
            .verdict
            .starts_with("not converged, because the push force may be off by 11.36 %")
    );
    assert!(
        found.verdict.contains("most by edge / 4"),
        "{}",
        found.verdict
    );
    // Half the edge leaves a quarter of the push's error and all of the wall's: only all together halve both.
    let halving = found.halving().unwrap();
    assert!(
        halving
            .setting
            .starts_with("all together (step / 2, edge / 2")
    );
    assert!((halving.error_left - 0.5).abs() < 1e-9 && (halving.cost - 2.0).abs() < 1e-9);
}

#[test]
fn a_small_error_is_converged_unless_outcomes_change() {
    let review = review(0);
    let small = |scenario: &Scenario, trial| of_mesh(scenario, trial, 0.001);
    let found = Converged::of(&review, &rows(&review, small), 0, "made up", 5.0);
    assert!(found.is_converged, "{}", found.verdict);
    // The push is off by a tenth of a per cent: there is nothing to halve.
    assert_eq!(found.to_halve, [Force::Wall]);
    let wide = Converged::of(&review, &rows(&review, small), 0, "made up", 20.0);
    assert!(wide.to_halve.is_empty() && wide.offers.is_empty() && wide.halving().is_none());
    // The wall's 1 %, with the factor of 1.25.
    assert!((found.within_per_cent.unwrap() - 125.0 / 101.0).abs() < 1e-6);
    let changing = |scenario: &Scenario, trial| TrialRow {
        outcome: if trial == 3 && scenario.solver.step_mm < 0.3 * SolverSpec::default().step_mm {
            Outcome::Stalled
        } else {
            Outcome::Reached
        },
        ..small(scenario, trial)
    };
    let found = Converged::of(&review, &rows(&review, changing), 0, "made up", 5.0);
    assert!(!found.is_converged);
    assert!(
        found.verdict.contains("1 of 8 outcomes change"),
        "{}",
        found.verdict
    );
    assert!(
        found
            .flips
            .iter()
            .all(|f| f.trial == 3 && f.finer == Outcome::Stalled)
    );
    assert!(
        found
            .flips
            .iter()
            .any(|f| review.variant(f.point) == Variant::AllFiner(2))
    );
}

#[test]
fn the_input_that_makes_the_answer_has_the_whole_variance() {
    let review = review(64);
    let friction = review.scenario().wires[0].friction;
    let row = |scenario: &Scenario, trial| TrialRow {
        trial,
        peak_push_force_mn: 10.0 * scenario.wires[0].friction / friction,
        ..TrialRow::default()
    };
    let points = rows(&review, row);
    let push = Answer::Force(Force::Push);
    let found = HangsOn::of(&review, &points, 0, "made up", push).unwrap();
    let usual = Uncertain::Friction.usual();
    let first = &found.effects[0];
    assert_eq!(first.input, Uncertain::Friction.words());
    assert!((first.low.unwrap() - 10.0 * usual.low).abs() < 1e-9);
    assert!((first.high.unwrap() - 10.0 * usual.high).abs() < 1e-9);
    let [alone, total] = first.shares.unwrap();
    assert!((alone.value - 1.0).abs() < 0.05 && (total.value - 1.0).abs() < 0.05);
    for other in &found.effects[1..] {
        assert!(other.swing(found.stated).abs() < 1e-9);
        assert!(other.shares.unwrap()[1].value.abs() < 1e-9);
    }
    // Nothing reaches: a rate of 0 does not vary.
    let rate = HangsOn::of(&review, &points, 0, "made up", Answer::Rate).unwrap();
    assert!(rate.effects.iter().all(|e| e.shares.is_none()));
}

#[test]
fn a_point_that_could_not_be_built_leaves_a_gap_and_no_panic() {
    let review = review(2);
    let mut points = rows(&review, |scenario, trial| of_mesh(scenario, trial, 0.01));
    points[review.at_end(0, true)] = PointRows::new();
    points[review.first_drawn()] = PointRows::new();
    let push = Answer::Force(Force::Push);
    let found = HangsOn::of(&review, &points, 0, "made up", push).unwrap();
    let gaps = found.effects.iter().filter(|e| e.high.is_none()).count();
    assert_eq!(gaps, 1);
    points[0] = PointRows::new();
    let found = Converged::of(&review, &points, 0, "made up", 5.0);
    assert!(found.verdict.contains("no trial was run"));
}

fn push(found: &Converged) -> &OfForce {
    let mut forces = found.forces.iter();
    forces.find(|of| of.force == Force::Push).unwrap()
}

/// Draws of two kinds, 10 and 1000 mN: their median jumps from one to the other where one draw goes, their
/// differences do not.
#[test]
fn draws_far_apart_have_the_error_of_their_meshes() {
    let review = review(0);
    let row = |scenario: &Scenario, trial: u32| {
        let row = of_mesh(scenario, trial, 0.01);
        let times = if trial < 4 { 1.0 } else { 100.0 };
        TrialRow {
            peak_push_force_mn: times * row.peak_push_force_mn,
            ..row
        }
    };
    let points = rows(&review, row);
    let found = Converged::of(&review, &points, 0, "made up", 5.0);
    let reported = push(&found).reported.unwrap();
    // As summary.json of a run has it: the middle of 10.1 and 1010.
    assert!((reported.median_mn - 0.5 * (10.1 + 1010.0)).abs() < 1e-9);
    let together = push(&found).together.as_ref().unwrap();
    let [low, high] = together.paired.interval_per_cent.unwrap();
    let exact = 100.0 * (10.0 * (1.0 + 0.01 / 16.0) / 10.1 - 1.0);
    assert!((low - exact).abs() < 1e-9 && (high - exact).abs() < 1e-9);
    assert!((together.estimate.per_cent().unwrap() - 125.0 / 101.0).abs() < 1e-6);
    assert!(found.is_converged, "{}", found.verdict);
}

#[test]
fn draws_that_scatter_leave_the_force_open_though_their_meshes_agree() {
    let review = review(0);
    // One draw of eight goes up by a fifth with finer edges, another down.
    let row = |scenario: &Scenario, trial: u32| {
        let row = of_mesh(scenario, trial, 0.0);
        let is_finer = scenario.solver.edge_mm < SolverSpec::default().edge_mm;
        let times = match (is_finer, trial) {
            (true, 0) => 1.2,
            (true, 1) => 0.8,
            _ => 1.0,
        };
        TrialRow {
            peak_push_force_mn: times * row.peak_push_force_mn,
            ..row
        }
    };
    let found = Converged::of(&review, &rows(&review, row), 0, "made up", 5.0);
    assert!(!found.is_converged);
    assert!(
        found
            .verdict
            .contains("8 draws leave 20.00 % of the push force open"),
        "{}",
        found.verdict
    );
}

#[test]
fn few_draws_that_end_alike_are_said_to_be_too_few() {
    let review = review(0);
    let row = |scenario: &Scenario, trial: u32| TrialRow {
        outcome: if trial < 4 && scenario.solver.step_mm < SolverSpec::default().step_mm {
            Outcome::Stalled
        } else {
            Outcome::Reached
        },
        ..of_mesh(scenario, trial, 0.001)
    };
    let found = Converged::of(&review, &rows(&review, row), 0, "made up", 5.0);
    let together = push(&found).together.as_ref().unwrap();
    assert_eq!(
        (together.draws, together.paired.interval_per_cent),
        (4, None)
    );
    assert!(
        found
            .verdict
            .contains("4 draws end alike, too few for an interval"),
        "{}",
        found.verdict
    );
    // Nor do four draws count as converged whose forces agree.
    let mut few = rows(&review, |scenario, trial| of_mesh(scenario, trial, 0.001));
    few.iter_mut().for_each(|point| point[0].truncate(4));
    let few = Converged::of(&review, &few, 0, "made up", 5.0);
    assert!(
        few.verdict
            .starts_with("median forces converged within 1.24 %"),
        "{}",
        few.verdict
    );
    assert!(!few.is_converged);
    // All draws count in what is reported, and those that reach stand apart.
    assert_eq!(push(&found).reported.unwrap().reached, 8);
}
