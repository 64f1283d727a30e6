//! What a movement does to the devices of a trial: made in parts, noted part by part, and watched for
//! the limits at which a trial ends.

use super::SteppedTrial;
use crate::hands::{CatheterMove, FEED_MM, INFLATED_MM, INFLATED_S, Movement};
use crate::solve::{Assembly, Hands, equal_parts};
use crate::trial::ending::Ended;
use crate::trial::first_wire::GivenUp;

/// Turn between two notes of the recorder in rad, and the travel in mm that it counts as.
const TURN_PART_RAD: f64 = 0.175;
const TURN_PART_MM: f64 = 0.2;
/// Time between two notes of the recorder while the hands wait in s, and the travel in mm that it counts as.
const WAIT_PART_S: f64 = 0.05;
const WAIT_PART_MM: f64 = 0.2;

/// Change of a balloon's diameter between two equilibria, in mm.
const BALLOON_PART_MM: f64 = 0.02;

impl SteppedTrial<'_> {
    /// Makes a movement; gives the limit that is passed, if one is.
    pub(super) fn moved(&mut self, movement: Movement) -> Result<Option<Ended>, GivenUp> {
        match movement {
            Movement::Stop => Ok(None),
            Movement::ChangeWire => self.change_wire().map(|()| None),
            Movement::AimGuide(which) => self.aim_guide(which),
            Movement::Inflate => self.change_balloon(INFLATED_MM),
            Movement::Deflate => self.change_balloon(-INFLATED_MM),
            Movement::Wait(wait_s) => self.move_hands(Hands::wait(wait_s)),
            Movement::Feed => self.move_hands(Hands::feed(FEED_MM)),
            Movement::Withdraw => self.move_hands(Hands::feed(-FEED_MM)),
            Movement::Turn(turn_rad) => self.move_hands(Hands::turn(turn_rad)),
            Movement::Catheter(catheter) => self.move_hands(match catheter {
                CatheterMove::Feed => Hands {
                    feed_catheter: FEED_MM,
                    ..Hands::default()
                },
                CatheterMove::Withdraw => Hands {
                    feed_catheter: -FEED_MM,
                    ..Hands::default()
                },
                CatheterMove::FeedBoth => Hands::together(FEED_MM),
                CatheterMove::WithdrawBoth => Hands::together(-FEED_MM),
                CatheterMove::Turn(turn_catheter) => Hands {
                    turn_catheter,
                    ..Hands::default()
                },
                CatheterMove::Steer(steer) => Hands {
                    steer,
                    ..Hands::default()
                },
            }),
        }
    }

    /// Moves the hands, watched for limits step by step.
    fn move_hands(&mut self, hands: Hands) -> Result<Option<Ended>, GivenUp> {
        let length = hands.feed_wire.abs().max(hands.feed_catheter.abs());
        let angle = hands.turn_wire.abs() + hands.turn_catheter.abs() + hands.steer.abs();
        if hands.feed_wire < 0.0 {
            self.watch.withdrawn();
        } else if angle > 0.0 || hands.feed_catheter < 0.0 {
            self.watch.turned();
        }
        let scenario = self.drawn.prepared.scenario();
        let largest = if length > 0.0 {
            scenario.solver.step_mm / length
        } else if angle > 0.0 {
            TURN_PART_RAD / angle
        } else {
            WAIT_PART_S / hands.wait_s
        };
        // The devices go into the loop and come back after it, so that a note can be taken of both.
        let Some(mut devices) = self.devices.take() else {
            return Ok(None);
        };
        let mut moved = Ok(None);
        for share in equal_parts(1.0, largest) {
            let mut limit = None;
            let stepped = devices.move_hands_and(hands.times(share), &mut |devices, step| {
                self.note(devices, &step);
                limit = limit.take().or_else(|| self.over_limit(devices));
            });
            moved = stepped.map(|()| limit);
            if !matches!(moved, Ok(None)) {
                break;
            }
        }
        self.devices = Some(devices);
        Ok(moved?)
    }

    /// Takes note of a step.
    fn note(&mut self, devices: &Assembly<'_>, step: &Hands) {
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
        self.recorder.note(devices, moved_mm, turning);
    }

    /// Takes the wire out and goes on with the technique's other one.
    fn change_wire(&mut self) -> Result<(), GivenUp> {
        let Some(devices) = &mut self.devices else {
            return Ok(());
        };
        self.watch.withdrawn();
        self.recorder.hands.wire_changes += 1;
        let (first, first_s) = (*devices.balance(), devices.time_s());
        let other = self.drawn.prepared.exchange(self.setup.technique);
        self.watch.know_bend(self.drawn.devices.bend(other));
        if !self.setup.exchange(devices, other)? {
            self.row.count(&first);
            self.earlier_s += first_s;
            self.recorder.earlier_s = self.earlier_s;
        }
        Ok(())
    }

    /// Changes the balloon's diameter by a length in mm, part by part; after each the devices are in equilibrium.
    fn change_balloon(&mut self, by_mm: f64) -> Result<Option<Ended>, GivenUp> {
        let Some(balloon) = self.setup.balloon() else {
            return Ok(None);
        };
        let mut limit = Ok(None);
        for share in equal_parts(1.0, BALLOON_PART_MM / by_mm.abs()) {
            balloon.set(balloon.diameter_mm() + share * by_mm);
            self.recorder.hands.balloon_mm = balloon.diameter_mm();
            limit = self.move_hands(Hands::wait(share * INFLATED_S));
            if !matches!(limit, Ok(None)) {
                break;
            }
        }
        balloon.rest();
        limit
    }

    /// Points the guide in way number `which` of the technique.
    fn aim_guide(&mut self, which: usize) -> Result<Option<Ended>, GivenUp> {
        let Some(devices) = &mut self.devices else {
            return Ok(None);
        };
        self.watch.withdrawn();
        self.recorder.hands.guide_aims += 1;
        let aim = &self.setup.technique.aids.guide_aims[which];
        let guide_tip = self.drawn.prepared.aimed_guide_tip(aim);
        let deeper_mm = aim.deeper_mm - self.deeper_mm;
        devices.aim_guide(guide_tip.exit, guide_tip.axis, deeper_mm)?;
        self.deeper_mm = aim.deeper_mm;
        self.recorder.note(devices, deeper_mm.abs(), false);
        Ok(self
            .devices
            .as_ref()
            .and_then(|devices| self.over_limit(devices)))
    }

    /// The limit that is passed, if one is. That of the wall force holds at every place, leaving the
    /// guide included: a wall is a wall.
    fn over_limit(&self, devices: &Assembly<'_>) -> Option<Ended> {
        let scenario = self.drawn.prepared.scenario();
        let back_out_mm = scenario.guide.back_out_limit_mm;
        let (force_mn, by_mm) = (devices.contact().largest_force, devices.backed_out_mm());
        match scenario.target.wall_force_limit_mn {
            Some(limit_mn) if force_mn > limit_mn => Some(Ended::OverForce { force_mn, limit_mn }),
            _ => (by_mm > back_out_mm).then_some(Ended::BackedOut {
                by_mm,
                limit_mm: back_out_mm,
            }),
        }
    }
}
