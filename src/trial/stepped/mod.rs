//! One trial, a movement at a time: who makes the movements, a plan or a person, makes no difference.

mod movements;

use super::begin::TrialSetup;
use super::drawn::DrawnTrial;
use super::ending::{Ended, Ending, Facts};
use super::first_wire::GivenUp;
use super::reaching::{Holding, ToGo};
use super::recorder::{Largest, Recorder};
use super::result::{Outcome, TrialRecord, TrialRow};
use super::watch::{Look, Watch};
use crate::hands::{Movement, View};
use crate::solve::Assembly;
use crate::vessel::InflatableBalloon;

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
/// let push_mn = trial.devices().map_or(0.0, |devices| devices.push_force());
/// assert!(push_mn.is_finite());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub struct SteppedTrial<'s> {
    drawn: &'s DrawnTrial<'s>,
    setup: &'s TrialSetup<'s>,
    /// The devices; none where they found no equilibrium at the guide's end.
    devices: Option<Assembly<'s>>,
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
            devices: None,
            watch: drawn.watch(),
            recorder: drawn.recorder(record),
            row: TrialRow {
                strategy: drawn.strategy.name.clone(),
                trial: drawn.trial,
                attempts: 1,
                roll_deg: variation.roll_rad.to_degrees(),
                friction: drawn.devices.wire(wire).friction(),
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
                trial.watch.know_bend(drawn.devices.bend(wire));
                let balloon = setup.balloon();
                trial.recorder.hands.balloon_mm =
                    balloon.map_or(0.0, InflatableBalloon::diameter_mm);
                trial.devices = Some(devices);
            }
        }
        trial
    }

    /// Looks: what the hands see before their next movement; `None` once nothing more can be done. It
    /// is to be called once before each movement.
    pub fn look(&mut self) -> Option<View> {
        let devices = self.devices.as_ref()?;
        if let Phase::Working = self.phase {
            let mut look = self.watch.look(devices);
            look.view.balloon = self.setup.balloon_view(devices);
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
        let look = self.watch.look(devices);
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
        self.devices.as_ref()
    }

    /// What is left to do until the target counts as reached, as seen last; `None` where the tip does not lie
    /// in it.
    #[must_use]
    pub fn to_go(&self) -> Option<ToGo> {
        self.look.as_ref().and_then(|look| look.to_go)
    }

    /// The largest forces of all steps since they were asked for last.
    pub fn take_largest(&mut self) -> Largest {
        self.recorder.take_largest()
    }

    /// Diameter in mm of the technique's balloon, where it has one.
    #[must_use]
    pub fn balloon_mm(&self) -> Option<f64> {
        self.setup.balloon().map(InflatableBalloon::diameter_mm)
    }

    /// Time in s since the beginning, at the hands' speeds.
    #[must_use]
    pub fn time_s(&self) -> f64 {
        self.earlier_s + self.devices.as_ref().map_or(0.0, Assembly::time_s)
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
                    self.look = self
                        .devices
                        .as_ref()
                        .map(|devices| self.watch.look(devices));
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
        if let (Some(devices), Some(look)) = (&self.devices, &self.look) {
            self.recorder.end(devices);
            let row = &mut self.row;
            let (prepared, tree) = (self.drawn.prepared, &self.drawn.tree);
            row.tip_branch = tree.branches()[look.place.branch].name.clone();
            row.attempts = attempts;
            row.outside_mm = devices.outside_mm();
            row.time_s = self.earlier_s + devices.time_s();
            row.beats = prepared.beats(row.time_s);
            row.turned_deg = self.turned_rad.to_degrees();
            row.catheter_fed_mm = devices.catheter().map_or(0.0, |c| c.outside_mm);
            row.catheter_turned_deg = self.catheter_turned_rad.to_degrees();
            row.count(devices.balance());
            let set = devices.set();
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
        let (devices, look) = (self.devices.as_ref()?, self.look.as_ref()?);
        let scenario = self.drawn.prepared.scenario();
        let facts = Facts {
            tree: &self.drawn.tree,
            route: &self.drawn.route,
            look,
            reaching: self.watch.reaching(),
            target: self.drawn.prepared.target_branch(),
            max_fed_mm: scenario.target.max_fed_mm,
            fed_mm: devices.outside_mm(),
            attempts,
            contact: devices.contact(),
            push_mn: devices.push_force(),
            body: self.setup.body_at(&devices.tip()),
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
}
