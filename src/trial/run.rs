//! Runs one trial: the plan looks and moves, the wire answers, until something is decided.

use super::prepared::{Prepared, Strategy};
use super::recorder::Recorder;
use super::result::{Outcome, TrialRecord, TrialRow};
use super::variation::{HandTurns, Variation};
use super::watch::{LEAST_OUTSIDE_MM, Sight, Watch};
use crate::hands::{Movement, plan};
use crate::solve::{Insertion, Start, Unresolved, equal_parts};
use crate::vessel::Lumen;

/// Fed length between two looks in mm, the same whatever the solver's step.
const LOOK_EVERY_MM: f64 = 0.4;
/// Turn between two notes of the recorder in rad, and the travel in mm that it counts as.
const TURN_PART_RAD: f64 = 0.175;
const TURN_PART_MM: f64 = 0.2;

/// Runs trial number `trial` of a strategy. The result depends on nothing but the scenario, the
/// strategy, the study seed and the number.
#[must_use]
pub fn run_trial(
    prepared: &Prepared,
    strategy: &Strategy,
    trial: u32,
    record: bool,
) -> TrialRecord {
    let scenario = prepared.scenario();
    let study = &scenario.study;
    let variation = Variation::draw(&scenario.variation, study.seed, trial);
    let tree = prepared
        .tree()
        .with_diameter_factor(variation.diameter_factor);
    let surface = prepared
        .surface()
        .map(|s| s.with_diameter_factor(variation.diameter_factor));
    let lumen: &dyn Lumen = match &surface {
        Some(surface) => surface,
        None => &tree,
    };
    let wire = &prepared.wires()[strategy.wire];
    let friction = wire.friction() * variation.friction_factor;
    let wire = wire
        .with_bend_factor(variation.bend_factor)
        .with_friction(friction);

    let mut recorder = Recorder::new(record.then_some(study.record_every_mm));
    let mut session = Session {
        watch: Watch::new(&tree, &scenario.target, prepared.target_branch()),
        recorder: &mut recorder,
        turned_rad: 0.0,
        force_limit: scenario.target.wall_force_limit_mn,
        back_out_limit: scenario.guide.back_out_limit_mm,
        step_mm: scenario.solver.step_mm,
    };
    let start = Start {
        outside_mm: LEAST_OUTSIDE_MM,
        longest_mm: scenario.target.max_fed_mm + 2.0,
        roll_rad: variation.roll_rad,
    };
    let began = Insertion::new(
        &wire,
        lumen,
        scenario.vessel.wall_stiffness_mn_per_mm2,
        prepared.channel(),
        prepared.step_settings(),
        start,
    );
    let mut row = TrialRow {
        strategy: strategy.name.clone(),
        trial,
        outcome: Outcome::Unresolved,
        tip_branch: String::new(),
        attempts: 1,
        fed_mm: 0.0,
        travel_mm: 0.0,
        turned_deg: 0.0,
        peak_wall_force_mn: 0.0,
        peak_tip_force_mn: 0.0,
        peak_push_force_mn: 0.0,
        peak_torque_mn_mm: 0.0,
        peak_wall_deflection_mm: 0.0,
        peak_strain_ratio: 0.0,
        peak_axial_strain: 0.0,
        roll_deg: variation.roll_rad.to_degrees(),
        friction,
        diameter_factor: variation.diameter_factor,
        bend_factor: variation.bend_factor,
        steps: 0,
        newton_iterations: 0,
        note: String::new(),
    };
    match began {
        Err(unresolved) => row.note = unresolved.to_string(),
        Ok(mut wire) => {
            let mut plan = plan(&scenario.techniques[strategy.technique].plan);
            let mut turns = HandTurns::new(&scenario.variation, study.seed, trial);
            let (outcome, sight) = loop {
                let sight = session.watch.look(&wire);
                if sight.reached {
                    break (Outcome::Reached, sight);
                }
                let moved = match plan.next(&sight.view, &mut turns) {
                    Movement::Feed => session.feed(&mut wire, LOOK_EVERY_MM),
                    Movement::Withdraw => session.feed(&mut wire, -LOOK_EVERY_MM),
                    Movement::Turn(angle) => session.turn(&mut wire, angle),
                    Movement::Stop => break (failure(&sight), sight),
                };
                match moved {
                    Ok(None) => {}
                    Ok(Some(outcome)) => break (outcome, sight),
                    Err(unresolved) => {
                        row.note = unresolved.to_string();
                        break (Outcome::Unresolved, sight);
                    }
                }
            };
            row.outcome = outcome;
            row.tip_branch = tree.branches()[sight.place.branch].name.clone();
            row.attempts = plan.attempts();
            row.fed_mm = wire.outside_mm();
            row.turned_deg = session.turned_rad.to_degrees();
            row.steps = wire.ledger().steps;
            row.newton_iterations = wire.ledger().iterations;
        }
    }
    row.travel_mm = recorder.travel;
    let peaks = &recorder.peaks;
    row.peak_wall_force_mn = peaks.wall_force;
    row.peak_tip_force_mn = peaks.tip_force;
    row.peak_push_force_mn = peaks.push_force;
    row.peak_torque_mn_mm = peaks.torque;
    row.peak_wall_deflection_mm = peaks.wall_deflection;
    row.peak_strain_ratio = peaks.strain_ratio;
    row.peak_axial_strain = peaks.axial_strain;
    TrialRecord {
        row,
        trace: recorder.trace,
        shapes: recorder.shapes,
    }
}

/// How a plan that stopped without reaching the target has failed.
fn failure(sight: &Sight) -> Outcome {
    if sight.view.looped {
        Outcome::Prolapsed
    } else if sight.off_route {
        Outcome::WrongBranch
    } else {
        Outcome::Stalled
    }
}

/// The movements of one trial, watched for limits.
struct Session<'a, 'r> {
    watch: Watch<'a>,
    recorder: &'r mut Recorder,
    turned_rad: f64,
    force_limit: Option<f64>,
    back_out_limit: f64,
    step_mm: f64,
}

impl Session<'_, '_> {
    fn feed(
        &mut self,
        wire: &mut Insertion<'_>,
        length_mm: f64,
    ) -> Result<Option<Outcome>, Unresolved> {
        if length_mm < 0.0 {
            self.watch.forget();
        }
        for part in equal_parts(length_mm, self.step_mm) {
            wire.feed(part)?;
            self.recorder.travel += part.abs();
            self.recorder.note(wire, part.abs());
            if let Some(outcome) = self.over_limit(wire) {
                return Ok(Some(outcome));
            }
        }
        Ok(None)
    }

    fn turn(
        &mut self,
        wire: &mut Insertion<'_>,
        angle_rad: f64,
    ) -> Result<Option<Outcome>, Unresolved> {
        self.watch.forget();
        for part in equal_parts(angle_rad, TURN_PART_RAD) {
            wire.turn(part)?;
            self.turned_rad += part.abs();
            self.recorder.note(wire, TURN_PART_MM);
            if let Some(outcome) = self.over_limit(wire) {
                return Ok(Some(outcome));
            }
        }
        Ok(None)
    }

    fn over_limit(&self, wire: &Insertion<'_>) -> Option<Outcome> {
        if self
            .force_limit
            .is_some_and(|limit| wire.contact().largest_force > limit)
        {
            Some(Outcome::OverForceLimit)
        } else if wire.backed_out_mm() > self.back_out_limit {
            Some(Outcome::BackedOut)
        } else {
            None
        }
    }
}
