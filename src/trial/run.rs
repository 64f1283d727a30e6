//! Runs one trial: the plan looks and moves, the wire answers, until something is decided.

use super::prepared::{Prepared, Strategy};
use super::recorder::Recorder;
use super::result::{Outcome, TrialRecord, TrialRow};
use super::route::Route;
use super::screen::Screen;
use super::variation::{HandTurns, Variation};
use super::watch::{LEAST_OUTSIDE_MM, Look, Watch};
use crate::device::Wire;
use crate::hands::{CatheterMove, Movement, Plan, plan};
use crate::projection::Roadmap;
use crate::scenario::model::{BendSpec, PlanSpec};
use crate::solve::{
    Fold, Hands, Insertion, PairStart, Rig, Start, Telescope, Unresolved, equal_parts,
};
use crate::vessel::{Lumen, WithGuide};

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
    let technique = &scenario.techniques[strategy.technique];
    let wire = &prepared.wires()[strategy.wire];
    let friction = wire.friction() * variation.friction_factor;
    let folded = technique.plan.fold().map(|fold| wire.with_fold(fold));
    let wire = folded
        .as_ref()
        .unwrap_or(wire)
        .with_bend_factor(variation.bend_factor)
        .with_friction(friction);

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
        turned_rad: 0.0,
        catheter_turned_rad: 0.0,
        force_limit: scenario.target.wall_force_limit_mn,
        back_out_limit: scenario.guide.back_out_limit_mm,
        step_mm: scenario.solver.step_mm,
    };
    let with_guide = prepared.with_guide(&tree);
    let began = begin(
        prepared,
        &wire,
        &technique.plan,
        (&tree, &with_guide),
        &variation,
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
        catheter_fed_mm: 0.0,
        catheter_turned_deg: 0.0,
        peak_catheter_wall_force_mn: 0.0,
        peak_turning_wall_force_mn: 0.0,
        catheter_followed: String::new(),
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
            let mut plan = plan(technique);
            let mut turns = HandTurns::new(&scenario.variation, study.seed, trial);
            let wire = wire.as_mut();
            let (outcome, look) = loop {
                let look = session.watch.look(wire);
                if look.reached {
                    row.catheter_followed = session.follow(wire, plan.as_mut()).to_owned();
                    break (Outcome::Reached, look);
                }
                let moved = match plan.next(&look.view, &mut turns) {
                    Movement::Stop => break (failure(&look), look),
                    movement => session.make(wire, movement),
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
            row.catheter_fed_mm = wire.catheter().map_or(0.0, |c| c.outside_mm);
            row.catheter_turned_deg = session.catheter_turned_rad.to_degrees();
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
    row.peak_catheter_wall_force_mn = peaks.catheter_wall_force;
    row.peak_turning_wall_force_mn = peaks.turning_wall_force;
    TrialRecord {
        row,
        trace: recorder.trace,
        shapes: recorder.shapes,
    }
}

/// Edge length in mm that a fold needs at most, to lie bent in a guide.
const FOLD_EDGE_MM: f64 = 0.3;
/// How far the fold of a wire stands out of the guide at the beginning, in mm: far enough to open.
const FOLD_AHEAD_MM: f64 = 6.0;
/// Play in mm between the legs of a folded wire and the guide's wall at the beginning.
const LEG_PLAY_MM: f64 = 0.02;

/// Length of wire in front of a straight catheter's tip at the beginning, in mm.
const LEAD_MM: f64 = 5.0;

/// The devices as they stand in the guide at the beginning: a wire alone, folded or not, or in a
/// catheter.
fn begin<'a>(
    prepared: &Prepared,
    wire: &Wire,
    plan: &PlanSpec,
    (tree, with_guide): (&'a dyn Lumen, &'a WithGuide<'a>),
    variation: &Variation,
) -> Result<Box<dyn Rig + 'a>, Unresolved> {
    let Some(catheter) = plan.catheter().map(|index| &prepared.catheters()[index]) else {
        let alone = begin_alone(
            prepared,
            wire,
            plan.fold(),
            (tree, with_guide),
            variation.roll_rad,
        )?;
        return Ok(Box::new(alone));
    };
    let scenario = prepared.scenario();
    let lead_mm = match plan {
        PlanSpec::AngledSupport { lead_mm, .. } => *lead_mm,
        _ => LEAD_MM,
    };
    let catheter = catheter.with_friction(catheter.friction() * variation.friction_factor);
    let start = PairStart {
        wire_mm: LEAST_OUTSIDE_MM + lead_mm,
        catheter_mm: LEAST_OUTSIDE_MM,
        longest_mm: scenario.target.max_fed_mm + 2.0,
        wire_roll_rad: variation.roll_rad,
        catheter_roll_rad: variation.catheter_roll_rad,
    };
    let pair = Telescope::new(
        (wire, &catheter),
        tree,
        scenario.vessel.wall_stiffness_mn_per_mm2,
        prepared.channel(),
        prepared.step_settings(),
        start,
    )?;
    Ok(Box::new(pair))
}

/// The wire alone as it stands in the guide at the beginning, folded or not.
fn begin_alone<'a>(
    prepared: &Prepared,
    wire: &Wire,
    fold: Option<&BendSpec>,
    (tree, with_guide): (&'a dyn Lumen, &'a WithGuide<'a>),
    roll_rad: f64,
) -> Result<Insertion<'a>, Unresolved> {
    let scenario = prepared.scenario();
    let wall = scenario.vessel.wall_stiffness_mn_per_mm2;
    let channel = prepared.channel();
    let mut settings = prepared.step_settings();
    let longest_mm = scenario.target.max_fed_mm + 2.0;
    let Some(fold) = fold else {
        let start = Start {
            outside_mm: LEAST_OUTSIDE_MM,
            longest_mm,
            roll_rad,
        };
        return Insertion::new(wire, tree, wall, channel, settings, start);
    };
    settings.edge_mm = settings.edge_mm.min(FOLD_EDGE_MM);
    let fold = Fold {
        from_tip_mm: fold.from_tip_mm + 0.5 * fold.length_mm,
        legs_apart_mm: 0.5 * scenario.guide.inner_diameter_mm - wire.radius_mm() - LEG_PLAY_MM,
        ahead_mm: FOLD_AHEAD_MM,
        longest_mm,
        roll_rad,
    };
    Insertion::folded(wire, with_guide, wall, channel, settings, fold)
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
    turned_rad: f64,
    catheter_turned_rad: f64,
    force_limit: Option<f64>,
    back_out_limit: f64,
    step_mm: f64,
}

impl Session<'_, '_> {
    /// Makes a movement.
    fn make(
        &mut self,
        wire: &mut dyn Rig,
        movement: Movement,
    ) -> Result<Option<Outcome>, Unresolved> {
        let hands = match movement {
            Movement::Stop => return Ok(None),
            Movement::Feed => Hands {
                feed_wire: LOOK_EVERY_MM,
                ..Hands::default()
            },
            Movement::Withdraw => Hands {
                feed_wire: -LOOK_EVERY_MM,
                ..Hands::default()
            },
            Movement::Turn(turn_wire) => Hands {
                turn_wire,
                ..Hands::default()
            },
            Movement::Catheter(CatheterMove::Feed) => Hands {
                feed_catheter: LOOK_EVERY_MM,
                ..Hands::default()
            },
            Movement::Catheter(CatheterMove::FeedBoth) => Hands {
                feed_wire: LOOK_EVERY_MM,
                feed_catheter: LOOK_EVERY_MM,
                ..Hands::default()
            },
            Movement::Catheter(CatheterMove::WithdrawBoth) => Hands {
                feed_wire: -LOOK_EVERY_MM,
                feed_catheter: -LOOK_EVERY_MM,
                ..Hands::default()
            },
            Movement::Catheter(CatheterMove::Turn(turn_catheter)) => Hands {
                turn_catheter,
                ..Hands::default()
            },
            Movement::Catheter(CatheterMove::Steer(steer)) => Hands {
                steer,
                ..Hands::default()
            },
        };
        let length = hands.feed_wire.abs().max(hands.feed_catheter.abs());
        let angle = hands.turn_wire.abs() + hands.turn_catheter.abs() + hands.steer.abs();
        if angle > 0.0 || hands.feed_wire < 0.0 {
            self.watch.forget();
        }
        let largest = if length > 0.0 {
            self.step_mm / length
        } else {
            TURN_PART_RAD / angle
        };
        for share in equal_parts(1.0, largest) {
            let part = hands.times(share);
            wire.move_hands(part)?;
            self.turned_rad += part.turn_wire.abs();
            self.catheter_turned_rad += part.turn_catheter.abs();
            let way = share * length;
            self.recorder.travel += way;
            if part.turn_catheter.abs() > 0.0 {
                self.recorder.note_turning(wire);
            }
            self.recorder
                .note(wire, if length > 0.0 { way } else { TURN_PART_MM });
            if let Some(outcome) = self.over_limit(wire) {
                return Ok(Some(outcome));
            }
        }
        Ok(None)
    }

    /// Lets the catheter follow a wire that has reached the target, if the plan wants it to; says
    /// how that went.
    fn follow(&mut self, wire: &mut dyn Rig, plan: &mut dyn Plan) -> &'static str {
        let mut went = "";
        loop {
            let look = self.watch.look(wire);
            if !went.is_empty() && look.off_route {
                return "pulled_out";
            }
            let Some(movement) = plan.after_reaching(&look.view) else {
                let stopped = look
                    .view
                    .catheter
                    .is_none_or(|c| c.stopped || c.bare_mm <= 0.0);
                return match went {
                    "" => "",
                    _ if stopped => "stayed",
                    _ => "followed",
                };
            };
            went = "begun";
            if !matches!(self.make(wire, movement), Ok(None)) {
                return "stayed";
            }
        }
    }

    fn over_limit(&self, wire: &dyn Rig) -> Option<Outcome> {
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
