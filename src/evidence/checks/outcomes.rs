//! The answer is mechanics: outcomes stay when the solver's settings change.

use std::path::Path;

use rayon::prelude::*;

use crate::contact::WallSpec;
use crate::evidence::{Broken, Check, Covered, Input, Origin, Readings, Rests, Set};
use crate::scenario::load_text;
use crate::scenario::model::{PathSpec, Scenario};
use crate::study::statistics::wilson_interval;
use crate::trial::result::Outcome;
use crate::trial::{Prepared, run_trial, strategies};

/// The scenario, which comes with the program.
const SIDE_BRANCH: &str = include_str!("../../../scenarios/side-branch.toml");
const STRATEGY: &str = "redirect, workhorse 1 gf";

/// Outcomes that may change with a setting, in 100 draws: trials that lie on the edge between two
/// outcomes. In 10 draws too: where one outcome in a hundred changes, two of ten do in one set of draws
/// out of 230; where one in two changes, in 99 sets out of a hundred.
const MAY_CHANGE: f64 = 1.0;
/// Take-off angles in degrees.
const ANGLES: [f64; 2] = [105.0, 120.0];

const QUESTION: &str =
    "Do the outcomes of trials stay where steps, edges, tolerance and wall are changed?";
const SOURCE: &str = "the same draws with other settings of the solver";

pub const SHORT: Check = Check {
    name: "outcomes",
    question: QUESTION,
    origin: Origin::OwnLaw,
    source: SOURCE,
    scene: "scenarios/side-branch.toml at 105 and 120 degrees, redirected workhorse wire, 10 draws: step halved, \
            edges halved, tolerance a tenth, wall twice as stiff",
    carries: &[Rests::Outcome],
    set: Set::Short,
    covers,
    measure: |readings| measure(readings, 10),
};

pub const LONG: Check = Check {
    name: "outcomes-of-a-hundred",
    scene: "scenarios/side-branch.toml at 105 and 120 degrees, redirected workhorse wire, 100 draws: step halved, \
            edges halved, tolerance a tenth, wall twice as stiff",
    set: Set::Long,
    measure: |readings| measure(readings, 100),
    ..SHORT
};

fn covers() -> Vec<Covered> {
    let wall = WallSpec::DEFAULT_STIFFNESS_MN_PER_MM2;
    vec![
        Covered::over(Input::TakeOff, &ANGLES),
        Covered::over(Input::Wall, &[wall, 2.0 * wall]),
    ]
}

fn side_branch_at(degrees: f64) -> Result<Scenario, Broken> {
    let path = Path::new("side-branch.toml");
    let mut scenario = load_text(path, SIDE_BRANCH.to_owned())?.scenario;
    for branch in &mut scenario.vessel.branches {
        if let (Some(_), PathSpec::Pieces { take_off_rad, .. }) =
            (&branch.attached, &mut branch.path)
        {
            *take_off_rad = degrees.to_radians();
        }
    }
    Ok(scenario)
}

fn outcomes(scenario: &Scenario, trials: u32) -> Result<Vec<Outcome>, Broken> {
    let prepared = Prepared::new(scenario)?;
    let strategies = strategies(scenario);
    let strategy = strategies.iter().find(|s| s.name == STRATEGY);
    let strategy = strategy.ok_or_else(|| Broken("the strategy is not there".into()))?;
    Ok((0..trials)
        .into_par_iter()
        .map(|trial| run_trial(&prepared, strategy, trial, false).row.outcome)
        .collect())
}

fn count(outcomes: &[Outcome], is: impl Fn(&Outcome) -> bool) -> u32 {
    outcomes.iter().map(|outcome| u32::from(is(outcome))).sum()
}

fn measure(readings: &mut Readings, trials: u32) -> Result<(), Broken> {
    type Change = fn(&mut Scenario);
    let settings: [(&str, Change); 4] = [
        ("step halved", |s| s.solver.step_mm *= 0.5),
        ("edges halved", |s| s.solver.edge_mm *= 0.5),
        ("tolerance a tenth", |s| s.solver.tolerance *= 0.1),
        ("wall twice as stiff", |s| {
            s.vessel.wall = (2.0 * WallSpec::DEFAULT_STIFFNESS_MN_PER_MM2).into();
        }),
    ];
    let reached = |outcomes: &[Outcome]| count(outcomes, |o| *o == Outcome::Reached);
    for degrees in ANGLES {
        let base = side_branch_at(degrees)?;
        let before = outcomes(&base, trials)?;
        let lost = count(&before, |o| *o == Outcome::Unresolved);
        let what = format!("{degrees} degrees, unresolved");
        readings.bound(what, f64::from(lost), "trials", 0.0);
        let (low, high) = wilson_interval(reached(&before), trials, 0.95);
        for (name, change) in settings {
            let mut scenario = base.clone();
            change(&mut scenario);
            let after = outcomes(&scenario, trials)?;
            let changed = before.iter().zip(&after).filter(|(a, b)| a != b);
            let what = format!("{degrees} degrees, {name}: outcomes that change of {trials}");
            readings.error(what, changed.count() as f64, "trials", MAY_CHANGE);
            let rate = f64::from(reached(&after)) / f64::from(trials);
            let outside = (low - rate).max(rate - high).max(0.0);
            let what = format!("{degrees} degrees, {name}: success rate outside its interval");
            readings.bound(what, outside, "", 0.0);
        }
    }
    Ok(())
}
