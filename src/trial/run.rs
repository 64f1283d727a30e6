//! Runs one trial: the plan looks and moves, the wire answers, until something is decided.

use super::begin::Ground;
use super::prepared::{Prepared, Strategy};
use super::recorder::Recorder;
use super::result::{Outcome, TrialRecord, TrialRow};
use super::route::Route;
use super::screen::Screen;
use super::variation::{HandTurns, Variation};
use super::watch::{Look, Watch};
use crate::hands::{Movement, plan};
use crate::projection::Roadmap;
use crate::scenario::model::TechniqueSpec;
use crate::solve::{Insertion, Unresolved, equal_parts};
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
    let technique = &scenario.techniques[strategy.technique];
    let friction = prepared.wires()[strategy.wire].friction() * variation.friction_factor;

    let route = Route::to(&tree, prepared.target_branch());
    let believed = prepared
        .believed()
        .map(|b| b.with_diameter_factor(variation.diameter_factor));
    let screen = prepared.beam(technique.sight).map(|beam| {
        let believed = believed.as_ref().unwrap_or(&tree);
        let roadmap = Roadmap::new(believed, beam);
        let bend = scenario.wires[strategy.wire].tip.primary;
        let guide_mm = prepared.guide_progress_mm();
        Screen::new(
            believed,
            &route,
            roadmap,
            bend.map(|b| b.length_mm),
            guide_mm,
        )
    });
    let mut recorder = Recorder::new(record.then_some(study.record_every_mm));
    let mut session = Session {
        watch: Watch::new(&tree, &route, &scenario.target, screen),
        recorder: &mut recorder,
        technique,
        deeper_mm: 0.0,
        turned_rad: 0.0,
        force_limit: scenario.target.wall_force_limit_mn,
        back_out_limit: scenario.guide.back_out_limit_mm,
        step_mm: scenario.solver.step_mm,
    };
    let ground = Ground::new(prepared, technique, variation, &tree, lumen);
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
    match ground.begin(strategy.wire) {
        Err(unresolved) => row.note = unresolved.to_string(),
        Ok(mut wire) => {
            let mut plan = plan(technique);
            let mut turns = HandTurns::new(&scenario.variation, study.seed, trial);
            let (outcome, look) = loop {
                let look = session.watch.look(&wire);
                if look.reached {
                    break (Outcome::Reached, look);
                }
                let moved = match plan.next(&look.view, &mut turns) {
                    Movement::Feed => session.feed(&mut wire, LOOK_EVERY_MM),
                    Movement::Withdraw => session.feed(&mut wire, -LOOK_EVERY_MM),
                    Movement::Turn(angle) => session.turn(&mut wire, angle),
                    Movement::ChangeWire => {
                        row.count(wire.ledger());
                        session.watch.forget();
                        ground.begin(prepared.exchange(technique)).map(|other| {
                            wire = other;
                            None
                        })
                    }
                    Movement::AimGuide(which) => session.aim_guide(prepared, which, &mut wire),
                    Movement::Stop => break (failure(&look), look),
                };
                match moved {
                    Ok(None) => {}
                    Ok(Some(outcome)) => break (outcome, look),
                    Err(unresolved) => {
                        row.note = unresolved.to_string();
                        break (Outcome::Unresolved, look);
                    }
                }
            };
            row.outcome = outcome;
            row.tip_branch = tree.branches()[look.place.branch].name.clone();
            row.attempts = plan.attempts();
            row.fed_mm = wire.outside_mm();
            row.turned_deg = session.turned_rad.to_degrees();
            row.count(wire.ledger());
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
fn failure(look: &Look) -> Outcome {
    if look.looped {
        Outcome::Prolapsed
    } else if look.off_route {
        Outcome::WrongBranch
    } else {
        Outcome::Stalled
    }
}

/// The movements of one trial, watched for limits.
struct Session<'a, 'r> {
    watch: Watch<'a>,
    recorder: &'r mut Recorder,
    technique: &'a TechniqueSpec,
    /// How much deeper than at the beginning the guide stands, in mm.
    deeper_mm: f64,
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

    /// Points the guide in way number `which` of the technique.
    fn aim_guide(
        &mut self,
        prepared: &Prepared,
        which: usize,
        wire: &mut Insertion<'_>,
    ) -> Result<Option<Outcome>, Unresolved> {
        self.watch.forget();
        let aim = &self.technique.aids.guide_aims[which];
        let channel = prepared.aimed_channel(aim);
        let deeper_mm = aim.deeper_mm - self.deeper_mm;
        wire.aim_guide(channel.exit, channel.axis, deeper_mm)?;
        self.deeper_mm = aim.deeper_mm;
        self.recorder.note(wire, deeper_mm.abs());
        Ok(self.over_limit(wire))
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
