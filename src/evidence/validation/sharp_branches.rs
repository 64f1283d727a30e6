//! A bench phantom of sharp branches: up to which angle plain wiring reaches, and whether a folded wire does
//! beyond it.

use std::path::Path;

use rayon::prelude::*;

use super::{Experiment, Pair, Value};
use crate::evidence::{Broken, Covered, Input};
use crate::scenario::load_text;
use crate::scenario::model::{PathSpec, Scenario};
use crate::study::statistics::wilson_interval;
use crate::trial::result::Outcome;
use crate::trial::{Prepared, run_trial, strategies};

pub const EXPERIMENT: Experiment = Experiment {
    name: "sharp-branches",
    question: "Up to which angle does a wire reach a branch that leaves backwards?",
    source: "Watanabe 2013, EuroIntervention 9, DOI 10.4244/EIJV9I7A141 (abstract): phantom with branches at 90 to \
             165 degrees in steps of 15, three operators; plain wiring impossible from 150 degrees on, up to 135 \
             possible (implied); a reversed wire with a microcatheter crossed beyond 150 with every wire",
    scene: "scenarios/angle-phantom.toml with its workhorse wire (5 mm tip bent by 75 degrees), six draws an angle: \
            redirected, and folded back",
    uncertainty: "possible is taken as half of the attempts or more, impossible as a third at most, which three \
                  operators without success do not exclude; the simulated rate has its 95 % interval (Wilson)",
    unknown: &[
        "the diameters of the phantom",
        "friction in its tubes",
        "how often each operator tried",
    ],
    says_little: "",
    covers: || vec![Covered::over(Input::TakeOff, &CELLS.map(|cell| cell.0))],
    compare,
};

const PHANTOM: &str = include_str!("../../../scenarios/angle-phantom.toml");
const DRAWS: u32 = 6;
const REDIRECT: &str = "redirect, workhorse 1 gf";
const FOLDED: &str = "looped-back, round, workhorse 1 gf";
/// Angle in degrees, strategy, and whether the publication calls it possible.
const CELLS: [(f64, &str, bool); 8] = [
    (90.0, REDIRECT, true),
    (105.0, REDIRECT, true),
    (120.0, REDIRECT, true),
    (135.0, REDIRECT, true),
    (150.0, REDIRECT, false),
    (165.0, REDIRECT, false),
    (150.0, FOLDED, true),
    (165.0, FOLDED, true),
];

fn compare() -> Result<Vec<Pair>, Broken> {
    let phantom = load_text(Path::new("angle-phantom.toml"), PHANTOM.to_owned())?.scenario;
    CELLS.iter().map(|cell| of_cell(&phantom, cell)).collect()
}

fn of_cell(
    phantom: &Scenario,
    &(degrees, name, possible): &(f64, &str, bool),
) -> Result<Pair, Broken> {
    let mut scenario = phantom.clone();
    let target = scenario.target.branch.clone();
    for branch in scenario
        .vessel
        .branches
        .iter_mut()
        .filter(|b| b.name == target)
    {
        if let PathSpec::Pieces { take_off_rad, .. } = &mut branch.path {
            *take_off_rad = degrees.to_radians();
        }
    }
    let prepared = Prepared::new(&scenario)?;
    let all = strategies(&scenario);
    let strategy = all.iter().find(|s| s.name == name);
    let strategy = strategy.ok_or_else(|| Broken(format!("there is no strategy {name}")))?;
    let reached: u32 = (0..DRAWS)
        .into_par_iter()
        .map(|trial| {
            let row = run_trial(&prepared, strategy, trial, false).row;
            u32::from(row.outcome == Outcome::Reached)
        })
        .sum();
    let what = format!("{degrees} degrees, {name}: share that reaches");
    Ok(pair(&what, DRAWS, reached, possible))
}

/// Holds the draws that reach against what the publication calls possible or not.
pub(super) fn pair(what: &str, draws: u32, reached: u32, possible: bool) -> Pair {
    let published = if possible {
        Value::between(0.5, 1.0).said("possible")
    } else {
        Value::between(0.0, 1.0 / 3.0).said("impossible")
    };
    let (low, high) = wilson_interval(reached, draws, 0.95);
    let simulated = Value {
        words: format!("{reached} of {draws} draws"),
        value: f64::from(reached) / f64::from(draws),
        low,
        high,
    };
    Pair::new(what, published, simulated)
}
