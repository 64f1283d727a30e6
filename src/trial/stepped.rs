//! One trial, a movement at a time: who makes the movements, a plan or a person, makes no difference.

use super::begin::TrialSetup;
use super::drawn::DrawnTrial;
use super::ending::{Ended, Ending, Facts};
use super::first_wire::GivenUp;
use super::reaching::Holding;
use super::recorder::Recorder;
use super::result::{Outcome, TrialRecord, TrialRow};
use super::watch::{Look, Watch};
use crate::hands::{CatheterMove, FEED_MM, INFLATED_MM, INFLATED_S, Movement, View};
use crate::solve::{Assembly, Hands, equal_parts};
use crate::vessel::InflatableBalloon;

/// Turn between two notes of the recorder in rad, and the travel in mm that it counts as.
const TURN_PART_RAD: f64 = 0.175;
const TURN_PART_MM: f64 = 0.2;
/// Time between two notes of the recorder while the hands wait in s, and the travel in mm that it counts as.
const WAIT_PART_S: f64 = 0.05;
const WAIT_PART_MM: f64 = 0.2;

/// Change of a balloon's diameter between two equilibria, in mm.
const BALLOON_PART_MM: f64 = 0.02;

/// A trial that is under way. Look, make a movement, look again, until [`look`](Self::look) gives
/// nothing more; then [`record`](Self::record) says how it ended.
///
/// ```
/// # use bendwise::hands::Movement;
/// # use bendwise::trial::{DrawnTrial, Prepared, SteppedTrial, strategies};
/// # let path = concat!(env!("CARGO_MANIFEST_DIR"), "/scenarios/side-branch.toml");
/// let scenario = bendwise::scenario::load(path.as_ref())?.scenario;
/// let prepared = Prepared::new(&scenario)?;
/// let strategies = strategies(&scenario);
/// let drawn = DrawnTrial::new(&prepared, &strategies[0], 0);
/// let setup = drawn.setup();
/// let mut trial = SteppedTrial::begin(&drawn, &setup, false);
/// for _ in 0..10 {
///     assert!(trial.look().is_some());
///     trial.make(Movement::Feed);
/// }
/// let push_mn = trial.devices().map_or(0.0, |wire| wire.push_force());
/// assert!(push_mn.is_finite());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub struct SteppedTrial<'s> {
    drawn: &'s DrawnTrial<'s>,
    setup: &'s TrialSetup<'s>,
    /// The devices; none where they found no equilibrium at the guide's end.
    wire: Option<Assembly<'s>>,
    watch: Watch<'s>,
    recorder: Recorder<'s>,
    row: TrialRow,
    phase: Phase,
    /// The last look from which the end is told.
    look: Option<Look>,
    /// How much deeper than at the beginning the guide stands, in mm.
    deeper_mm: f64,
    turned_rad: f64,
    catheter_turned_rad: f64,
    /// Time in s that passed with wires that were taken out.
    earlier_s: f64,
}

/// How far a trial has come.
enum Phase {
    /// The target is not reached.
    Working,
    /// It is reached, and the catheter may follow; what is seen, and whether it has begun.
    Following { seen: Option<View>, begun: bool },
    /// Nothing more can be done.
    Over(Result<Ended, GivenUp>),
}

impl<'s> SteppedTrial<'s> {
    /// Brings the devices to the guide's end. `record`: steps are kept for traces and shapes, not
    /// their peaks alone.
    #[must_use]
    pub fn begin(drawn: &'s DrawnTrial<'s>, setup: &'s TrialSetup<'s>, record: bool) -> Self {
        let variation = drawn.variation;
        let wire = drawn.strategy.wire;
        let mut trial = Self {
            drawn,
            setup,
            wire: None,
            watch: drawn.watch(),
            recorder: drawn.recorder(record),
            row: TrialRow {
                strategy: drawn.strategy.name.clone(),
                trial: drawn.trial,
                attempts: 1,
                roll_deg: variation.roll_rad.to_degrees(),
                friction: variation.friction(drawn.prepared.wires()[wire].friction()),
                diameter_factor: variation.diameter_factor,
                bend_factor: variation.bend_factor,
                ..TrialRow::default()
            },
            phase: Phase::Working,
            look: None,
            deeper_mm: 0.0,
            turned_rad: 0.0,
            catheter_turned_rad: 0.0,
            earlier_s: 0.0,
        };
        match setup.begin(wire) {
            Err(missed) => trial.miss(missed),
            Ok(devices) => {
                trial.watch.know_bend(drawn.bend(wire).as_ref());
                let balloon = setup.balloon();
                trial.recorder.hands.balloon_mm =
                    balloon.map_or(0.0, InflatableBalloon::diameter_mm);
                trial.wire = Some(devices);
            }
        }
        trial
    }

    /// Looks: what the hands see before their next movement; `None` once nothing more can be done. It
    /// is to be called once before each movement.
    pub fn look(&mut self) -> Option<View> {
        let wire = self.wire.as_ref()?;
        if let Phase::Working = self.phase {
            let mut look = self.watch.look(wire);
            look.view.balloon = self.setup.balloon_view(wire);
            let (view, holding) = (look.view, look.holding);
            self.look = Some(look);
            if !matches!(holding, Holding::Held(_)) {
                return Some(view);
            }
            self.phase = Phase::Following {
                seen: None,
                begun: false,
            };
        }
        let Phase::Following { seen, begun } = &mut self.phase else {
            return None;
        };
        let look = self.watch.look(wire);
        if *begun && look.off_route() {
            self.stop_following("pulled_out");
            return None;
        }
        *seen = Some(look.view);
        Some(look.view)
    }

    /// Takes note of the attempts begun so far, at least 1.
    pub fn count_attempts(&mut self, attempts: u32) {
        self.recorder.hands.attempt = attempts;
    }

    /// Whether the target is reached. What is done after that changes nothing of the outcome.
    #[must_use]
    pub fn has_reached(&self) -> bool {
        matches!(
            self.phase,
            Phase::Following { .. } | Phase::Over(Ok(Ended::Held))
        )
    }

    /// Whether nothing more can be done.
    #[must_use]
    pub fn is_over(&self) -> bool {
        matches!(self.phase, Phase::Over(_))
    }

    /// The devices as they stand; `None` where they found no equilibrium at the guide's end.
    #[must_use]
    pub fn devices(&self) -> Option<&Assembly<'s>> {
        self.wire.as_ref()
    }

    /// Diameter in mm of the technique's balloon, where it has one.
    #[must_use]
    pub fn balloon_mm(&self) -> Option<f64> {
        self.setup.balloon().map(InflatableBalloon::diameter_mm)
    }

    /// Time in s since the beginning, at the hands' speeds.
    #[must_use]
    pub fn time_s(&self) -> f64 {
        self.earlier_s + self.wire.as_ref().map_or(0.0, Assembly::time_s)
    }

    /// Makes a movement; nothing where the trial is over.
    pub fn make(&mut self, movement: Movement) {
        match (&mut self.phase, movement) {
            (Phase::Over(_), _) => {}
            (Phase::Working, Movement::Stop) => self.phase = Phase::Over(Ok(Ended::Stopped)),
            (Phase::Working, _) => match self.moved(movement) {
                Ok(None) => {}
                Ok(Some(limit)) => {
                    self.phase = Phase::Over(Ok(limit));
                    self.look = self.wire.as_ref().map(|wire| self.watch.look(wire));
                }
                Err(missed) => self.miss(missed),
            },
            (Phase::Following { seen, begun }, Movement::Stop) => {
                let catheter = seen.and_then(|view| view.catheter);
                let stopped = catheter.is_none_or(|c| c.stopped || c.bare_mm <= 0.0);
                let went = match (*begun, stopped) {
                    (false, _) => "",
                    (true, true) => "stayed",
                    (true, false) => "followed",
                };
                self.stop_following(went);
            }
            (Phase::Following { begun, .. }, _) => {
                *begun = true;
                if !matches!(self.moved(movement), Ok(None)) {
                    self.stop_following("stayed");
                }
            }
        }
    }

    /// Outcome and reason in words if the hands stopped here; `attempts` were begun. It is that of the
    /// trial once it is over. `None` before the first look.
    #[must_use]
    pub fn outcome(&self, attempts: u32) -> Option<(Outcome, String)> {
        let ending = self.ending(attempts)?;
        Some((ending.outcome, ending.why))
    }

    /// What the trial leaves behind; a trial that is not over is taken as stopped.
    #[must_use]
    pub fn record(mut self, attempts: u32) -> TrialRecord {
        let ending = self.ending(attempts);
        if let (Some(wire), Some(look)) = (&self.wire, &self.look) {
            self.recorder.end(wire);
            let row = &mut self.row;
            let (prepared, tree) = (self.drawn.prepared, &self.drawn.tree);
            row.tip_branch = tree.branches()[look.place.branch].name.clone();
            row.attempts = attempts;
            row.outside_mm = wire.outside_mm();
            row.time_s = self.earlier_s + wire.time_s();
            row.beats = prepared.beats(row.time_s);
            row.turned_deg = self.turned_rad.to_degrees();
            row.catheter_fed_mm = wire.catheter().map_or(0.0, |c| c.outside_mm);
            row.catheter_turned_deg = self.catheter_turned_rad.to_degrees();
            row.count(wire.balance());
            let set = wire.set();
            row.set_deg = set.angle_rad.to_degrees();
            row.set_from_tip_mm = set.from_tip_mm;
        }
        if let Some(ending) = ending {
            self.row.end(ending);
        }
        let mut record = self.recorder.record(self.row);
        let bed = self.drawn.prepared.scenario().bed.as_ref();
        let row = &mut record.row;
        row.vessel_folds = bed.is_some_and(|bed| row.peak_vessel_compression > bed.fold_strain);
        record
    }

    fn ending(&self, attempts: u32) -> Option<Ending> {
        let ended = match &self.phase {
            Phase::Over(Err(missed)) => return Some(Ending::given_up(missed, &self.drawn.tree)),
            Phase::Over(Ok(ended)) => *ended,
            Phase::Following { .. } => Ended::Held,
            Phase::Working => Ended::Stopped,
        };
        let (wire, look) = (self.wire.as_ref()?, self.look.as_ref()?);
        let scenario = self.drawn.prepared.scenario();
        let facts = Facts {
            tree: &self.drawn.tree,
            route: &self.drawn.route,
            look,
            reaching: self.watch.reaching(),
            target: self.drawn.prepared.target_branch(),
            max_fed_mm: scenario.target.max_fed_mm,
            fed_mm: wire.outside_mm(),
            attempts,
            contact: wire.contact(),
            push_mn: wire.push_force(),
            body: self.setup.body_at(&wire.tip()),
        };
        Some(facts.ending(ended))
    }

    fn miss(&mut self, missed: GivenUp) {
        if let GivenUp::Unresolved(unresolved) = &missed {
            self.row.note = unresolved.to_string();
        }
        self.phase = Phase::Over(Err(missed));
    }

    fn stop_following(&mut self, went: &str) {
        went.clone_into(&mut self.row.catheter_followed);
        self.phase = Phase::Over(Ok(Ended::Held));
    }

    /// Makes a movement; gives the limit that is passed, if one is.
    fn moved(&mut self, movement: Movement) -> Result<Option<Ended>, GivenUp> {
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
        let Some(mut wire) = self.wire.take() else {
            return Ok(None);
        };
        let mut moved = Ok(None);
        for share in equal_parts(1.0, largest) {
            let mut limit = None;
            let stepped = wire.move_hands_and(hands.times(share), &mut |wire, step| {
                self.note(wire, &step);
                limit = limit.take().or_else(|| self.over_limit(wire));
            });
            moved = stepped.map(|()| limit);
            if !matches!(moved, Ok(None)) {
                break;
            }
        }
        self.wire = Some(wire);
        Ok(moved?)
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

    /// Takes the wire out and goes on with the technique's other one.
    fn change_wire(&mut self) -> Result<(), GivenUp> {
        let Some(wire) = &mut self.wire else {
            return Ok(());
        };
        self.watch.withdrawn();
        self.recorder.hands.wire_changes += 1;
        let (first, first_s) = (*wire.balance(), wire.time_s());
        let other = self.drawn.prepared.exchange(self.setup.technique);
        self.watch.know_bend(self.drawn.bend(other).as_ref());
        if !self.setup.exchange(wire, other)? {
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
        let Some(wire) = &mut self.wire else {
            return Ok(None);
        };
        self.watch.withdrawn();
        self.recorder.hands.guide_aims += 1;
        let aim = &self.setup.technique.aids.guide_aims[which];
        let guide_tip = self.drawn.prepared.aimed_guide_tip(aim);
        let deeper_mm = aim.deeper_mm - self.deeper_mm;
        wire.aim_guide(guide_tip.exit, guide_tip.axis, deeper_mm)?;
        self.deeper_mm = aim.deeper_mm;
        self.recorder.note(wire, deeper_mm.abs(), false);
        Ok(self.wire.as_ref().and_then(|wire| self.over_limit(wire)))
    }

    /// The limit that is passed, if one is. That of the wall force holds at every place, leaving the
    /// guide included: a wall is a wall.
    fn over_limit(&self, wire: &Assembly<'_>) -> Option<Ended> {
        let scenario = self.drawn.prepared.scenario();
        let back_out_mm = scenario.guide.back_out_limit_mm;
        let (force_mn, by_mm) = (wire.contact().largest_force, wire.backed_out_mm());
        match scenario.target.wall_force_limit_mn {
            Some(limit_mn) if force_mn > limit_mn => Some(Ended::OverForce { force_mn, limit_mn }),
            _ => (by_mm > back_out_mm).then_some(Ended::BackedOut {
                by_mm,
                limit_mm: back_out_mm,
            }),
        }
    }
}
