//! Runs one trial: the plan looks and moves, the wire answers, until something is decided.

use std::sync::Arc;

use super::begin::TrialSetup;
use super::ending::{Ended, Ending, Facts};
use super::places::Places;
use super::prepared::{Prepared, Strategy};
use super::reaching::Holding;
use super::recorder::Recorder;
use super::result::{TrialRecord, TrialRow};
use super::route::Route;
use super::screen::Screen;
use super::variation::{HandTurns, Variation};
use super::watch::Watch;
use crate::hands::{CatheterMove, Movement, Plan};
use crate::projection::Roadmap;
use crate::scenario::model::{BendSpec, TechniqueSpec};
use crate::solve::{Assembly, Hands, Unresolved, equal_parts};
use crate::technique::plan;
use crate::vessel::Lumen;

/// Fed length between two looks in mm, the same whatever the solver's step.
const LOOK_EVERY_MM: f64 = 0.4;
/// Turn between two notes of the recorder in rad, and the travel in mm that it counts as.
const TURN_PART_RAD: f64 = 0.175;
const TURN_PART_MM: f64 = 0.2;
/// Time between two notes of the recorder while the hands wait in s, and the travel in mm that it counts as.
const WAIT_PART_S: f64 = 0.05;
const WAIT_PART_MM: f64 = 0.2;

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
    let tree = Arc::new(
        prepared
            .tree()
            .with_diameter_factor(variation.diameter_factor),
    );
    let surface = prepared
        .surface()
        .map(|s| s.with_diameter_factor(variation.diameter_factor));
    let moved = prepared.moved_tree(&tree);
    let lumen: &dyn Lumen = match (&surface, &moved) {
        (Some(surface), _) => surface,
        (None, Some(moved)) => moved,
        (None, None) => &*tree,
    };
    let technique = &scenario.techniques[strategy.technique];
    let friction = variation.friction(prepared.wires()[strategy.wire].friction());

    let route = Route::to(&tree, prepared.target_branch());
    let believed = prepared
        .believed()
        .map(|b| b.with_diameter_factor(variation.diameter_factor));
    let screen = prepared.beam(technique.sight).map(|beam| {
        let believed = believed.as_ref().unwrap_or(&*tree);
        let roadmap = Roadmap::new(believed, beam);
        let bend = scenario.wires[strategy.wire].tip.primary;
        let guide_mm = prepared.guide_progress_mm();
        Screen::new(
            believed,
            &route,
            roadmap,
            bend.map(|b| b.length_mm),
            (guide_mm, prepared.image()),
        )
    });
    let named = technique.aids.anchor.as_ref();
    let anchor = named.and_then(|anchor| tree.branch_index(&anchor.branch));
    let target = prepared.target_branch();
    let guide_radius_mm = 0.5 * scenario.guide.inner_diameter_mm;
    let places = Places::new((&tree, lumen), target, guide_radius_mm);
    let reaching = prepared.reaching().in_tree(&tree, lumen, target);
    let bend = |wire: usize| {
        let spec = scenario.wires[wire].tip.primary?;
        let angle_rad = spec.angle_rad * variation.bend_factor;
        Some(BendSpec { angle_rad, ..spec })
    };
    let mut recorder = Recorder::new(
        places,
        lumen.giving(),
        record.then_some(study.record_every_mm),
    );
    let mut session = Session {
        watch: Watch::new(
            (&tree, lumen),
            &route,
            &scenario.target,
            reaching,
            (screen, prepared.image()),
            anchor,
        ),
        recorder: &mut recorder,
        technique,
        deeper_mm: 0.0,
        turned_rad: 0.0,
        catheter_turned_rad: 0.0,
        force_limit: scenario.target.wall_force_limit_mn,
        back_out_limit: scenario.guide.back_out_limit_mm,
        step_mm: scenario.solver.step_mm,
        earlier_s: 0.0,
    };
    let setup = TrialSetup::new(prepared, technique, variation, &tree, lumen);
    let mut row = TrialRow {
        strategy: strategy.name.clone(),
        trial,
        attempts: 1,
        roll_deg: variation.roll_rad.to_degrees(),
        friction,
        diameter_factor: variation.diameter_factor,
        bend_factor: variation.bend_factor,
        ..TrialRow::default()
    };
    match setup.begin(strategy.wire) {
        Err(unresolved) => {
            row.note = unresolved.to_string();
            row.end(Ending::unresolved(&unresolved));
        }
        Ok(mut wire) => {
            session.watch.know_bend(bend(strategy.wire).as_ref());
            let mut plan = plan(technique);
            let mut turns = HandTurns::new(&scenario.variation, study.seed, trial);
            let (ended, look) = loop {
                let look = session.watch.look(&wire);
                session.recorder.hands.attempt = plan.attempts();
                if let Holding::Held(_) = look.holding {
                    row.catheter_followed = session.follow(&mut wire, plan.as_mut()).to_owned();
                    break (Ok(Ended::Held), look);
                }
                let moved = match plan.next(&look.view, &mut turns) {
                    Movement::ChangeWire => {
                        session.watch.withdrawn();
                        session.recorder.hands.wire_changes += 1;
                        let (first, first_s) = (*wire.balance(), wire.time_s());
                        let other = prepared.exchange(technique);
                        session.watch.know_bend(bend(other).as_ref());
                        setup.exchange(&mut wire, other).map(|held| {
                            if !held {
                                row.count(&first);
                                session.earlier_s += first_s;
                                session.recorder.earlier_s = session.earlier_s;
                            }
                            None
                        })
                    }
                    Movement::AimGuide(which) => session.aim_guide(prepared, which, &mut wire),
                    Movement::Stop => break (Ok(Ended::Stopped), look),
                    movement => session.make(&mut wire, movement),
                };
                match moved {
                    Ok(None) => {}
                    Ok(Some(limit)) => break (Ok(limit), session.watch.look(&wire)),
                    Err(unresolved) => {
                        row.note = unresolved.to_string();
                        break (Err(unresolved), look);
                    }
                }
            };
            session.recorder.end(&wire);
            row.tip_branch = tree.branches()[look.place.branch].name.clone();
            row.attempts = plan.attempts();
            let facts = Facts {
                tree: &tree,
                route: &route,
                look: &look,
                reaching: session.watch.reaching(),
                target,
                max_fed_mm: scenario.target.max_fed_mm,
                fed_mm: wire.outside_mm(),
                attempts: row.attempts,
                contact: wire.contact(),
                push_mn: wire.push_force(),
                body: setup.body_at(&wire.tip()),
            };
            row.end(match ended {
                Ok(ended) => facts.ending(ended),
                Err(unresolved) => Ending::unresolved(&unresolved),
            });
            row.fed_mm = wire.outside_mm();
            row.time_s = session.earlier_s + wire.time_s();
            row.beats = prepared.beats(row.time_s);
            row.turned_deg = session.turned_rad.to_degrees();
            row.catheter_fed_mm = wire.catheter().map_or(0.0, |c| c.outside_mm);
            row.catheter_turned_deg = session.catheter_turned_rad.to_degrees();
            row.count(wire.balance());
            let set = wire.set();
            row.set_deg = set.angle_rad.to_degrees();
            row.set_from_tip_mm = set.from_tip_mm;
        }
    }
    let mut record = recorder.record(row);
    let row = &mut record.row;
    row.vessel_folds = scenario
        .bed
        .as_ref()
        .is_some_and(|bed| row.peak_vessel_compression > bed.fold_strain);
    record
}

/// The movements of one trial, watched for limits.
struct Session<'a, 'r> {
    watch: Watch<'a>,
    recorder: &'r mut Recorder<'a>,
    technique: &'a TechniqueSpec,
    /// How much deeper than at the beginning the guide stands, in mm.
    deeper_mm: f64,
    turned_rad: f64,
    catheter_turned_rad: f64,
    force_limit: Option<f64>,
    back_out_limit: f64,
    step_mm: f64,
    /// Time in s that passed with wires that were taken out.
    earlier_s: f64,
}

impl Session<'_, '_> {
    /// Makes a movement.
    fn make(
        &mut self,
        wire: &mut Assembly<'_>,
        movement: Movement,
    ) -> Result<Option<Ended>, Unresolved> {
        let hands = match movement {
            Movement::Stop | Movement::ChangeWire | Movement::AimGuide(_) => return Ok(None),
            Movement::Wait(wait_s) => Hands::wait(wait_s),
            Movement::Feed => Hands::feed(LOOK_EVERY_MM),
            Movement::Withdraw => Hands::feed(-LOOK_EVERY_MM),
            Movement::Turn(turn_rad) => Hands::turn(turn_rad),
            Movement::Catheter(CatheterMove::Feed) => Hands {
                feed_catheter: LOOK_EVERY_MM,
                ..Hands::default()
            },
            Movement::Catheter(CatheterMove::FeedBoth) => Hands::together(LOOK_EVERY_MM),
            Movement::Catheter(CatheterMove::WithdrawBoth) => Hands::together(-LOOK_EVERY_MM),
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
        if hands.feed_wire < 0.0 {
            self.watch.withdrawn();
        } else if angle > 0.0 {
            self.watch.turned();
        }
        let largest = if length > 0.0 {
            self.step_mm / length
        } else if angle > 0.0 {
            TURN_PART_RAD / angle
        } else {
            WAIT_PART_S / hands.wait_s
        };
        for share in equal_parts(1.0, largest) {
            let mut limit = None;
            wire.move_hands_and(hands.times(share), &mut |wire, step| {
                self.note(wire, &step);
                limit = limit.take().or_else(|| self.over_limit(wire));
            })?;
            if limit.is_some() {
                return Ok(limit);
            }
        }
        Ok(None)
    }

    /// Takes note of a step.
    fn note(&mut self, wire: &Assembly<'_>, step: &Hands) {
        self.turned_rad += step.turn_wire.abs();
        self.catheter_turned_rad += step.turn_catheter.abs();
        let length = step.feed_wire.abs().max(step.feed_catheter.abs());
        let angle = step.turn_wire.abs() + step.turn_catheter.abs() + step.steer.abs();
        self.recorder.travel += length;
        self.recorder.moved(step);
        let moved_mm = if length > 0.0 {
            length
        } else if angle > 0.0 {
            TURN_PART_MM * angle / TURN_PART_RAD
        } else {
            WAIT_PART_MM * step.wait_s / WAIT_PART_S
        };
        let turning = step.turn_catheter.abs() > 0.0;
        self.recorder.note(wire, moved_mm, turning);
    }

    /// Lets the catheter follow a wire that has reached the target, if the plan wants it to; says
    /// how that went.
    fn follow(&mut self, wire: &mut Assembly<'_>, plan: &mut dyn Plan) -> &'static str {
        let mut went = "";
        loop {
            let look = self.watch.look(wire);
            if !went.is_empty() && look.off_route() {
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

    /// Points the guide in way number `which` of the technique.
    fn aim_guide(
        &mut self,
        prepared: &Prepared,
        which: usize,
        wire: &mut Assembly<'_>,
    ) -> Result<Option<Ended>, Unresolved> {
        self.watch.withdrawn();
        self.recorder.hands.guide_aims += 1;
        let aim = &self.technique.aids.guide_aims[which];
        let guide_tip = prepared.aimed_guide_tip(aim);
        let deeper_mm = aim.deeper_mm - self.deeper_mm;
        wire.aim_guide(guide_tip.exit, guide_tip.axis, deeper_mm)?;
        self.deeper_mm = aim.deeper_mm;
        self.recorder.note(wire, deeper_mm.abs(), false);
        Ok(self.over_limit(wire))
    }

    /// The limit that is passed, if one is. That of the wall force holds at every place, leaving the
    /// guide included: a wall is a wall.
    fn over_limit(&self, wire: &Assembly<'_>) -> Option<Ended> {
        let (force_mn, by_mm) = (wire.contact().largest_force, wire.backed_out_mm());
        match self.force_limit {
            Some(limit_mn) if force_mn > limit_mn => Some(Ended::OverForce { force_mn, limit_mn }),
            _ => (by_mm > self.back_out_limit).then_some(Ended::BackedOut {
                by_mm,
                limit_mm: self.back_out_limit,
            }),
        }
    }
}
