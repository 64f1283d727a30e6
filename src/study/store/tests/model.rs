//! Commands, kills, power cuts and a user in random turns on one folder, against a simple model
//! of what must still be there.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use super::Dice;
use super::fake::World;
use super::process::{Between, Process};
use super::user::user;
use super::work::{Event, Job, TRIALS, What, carry_out, result};
use crate::study::error::StudyError;

pub const BASE: &str = "/w";
pub const TARGET: &str = "/w/out";
pub const PARTIAL: &str = "/w/out.partial";
/// Steps in the shipped test; each is a command, a power cut or something that the user does.
const STEPS: usize = 10_000;
/// Operations of a command at most, so that a kill may come at any of them.
const OPERATIONS: usize = 90;

/// What must still be there.
#[derive(Debug, Default)]
pub struct Model {
    /// The user's files: what is in them, which is never the same, and where they were last.
    pub own: BTreeMap<String, PathBuf>,
    pub written: usize,
    /// Files of the last result that a command said to be complete.
    pub result: BTreeMap<String, Vec<u8>>,
    /// Trials that a run said to be kept, and whether a power cut may lose them.
    pub kept: Option<(u64, BTreeMap<u32, bool>)>,
    /// Whether the user took away or changed what the program wrote since the command began.
    pub disturbed: bool,
    pub locked: bool,
    pub finishing: bool,
}

struct Game {
    world: Arc<World>,
    model: Arc<Mutex<Model>>,
    dice: Dice,
    /// How often each thing happened.
    counts: BTreeMap<&'static str, usize>,
}

fn lock(model: &Mutex<Model>) -> MutexGuard<'_, Model> {
    model.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Game {
    fn new(seed: u64) -> Self {
        Self {
            world: Arc::new(World::with_folder(Path::new(BASE))),
            model: Arc::default(),
            dice: Dice::new(seed),
            counts: BTreeMap::new(),
        }
    }

    fn count(&mut self, what: &'static str) {
        *self.counts.entry(what).or_default() += 1;
    }

    fn job(dice: &mut Dice) -> Job {
        let what = match dice.below(8) {
            0 => What::Export,
            1 => What::Picture,
            n => What::Run(n as u64 % 2),
        };
        Job {
            what,
            overwrite: dice.once_in(2),
            limit: if dice.once_in(2) {
                dice.below(3)
            } else {
                usize::MAX
            },
            syncs: dice.once_in(2),
        }
    }

    fn step(&mut self, text: &str) {
        match self.dice.below(10) {
            0..3 => {
                let done = user(&self.world, &mut lock(&self.model), &mut self.dice, true);
                self.count(done);
            }
            3 if self.dice.once_in(2) => {
                self.cut_power();
                self.count("power cut");
            }
            _ => self.command(text),
        }
        self.check(text);
    }

    fn cut_power(&mut self) {
        self.world.cut_power(&mut self.dice);
        if let Some((_, trials)) = &mut lock(&self.model).kept {
            trials.retain(|_, is_safe| *is_safe);
        }
    }

    fn command(&mut self, text: &str) {
        let job = Self::job(&mut self.dice);
        let is_killed = !self.dice.once_in(3);
        let left = match is_killed {
            true => 1 + self.dice.below(OPERATIONS),
            false => usize::MAX,
        };
        let process = Process::new(&self.world, left);
        let between = self.company(text.to_owned());
        process.between(between);
        lock(&self.model).disturbed = false;
        lock(&self.model).finishing = false;
        let done = perform(&process, &self.model, job, text);
        lock(&self.model).locked = false;
        let text = format!("{text}, {job:?}: {done:?}");
        if process.is_dead() {
            let in_swap = lock(&self.model).finishing;
            self.count(if in_swap {
                "killed in a swap"
            } else {
                "killed"
            });
            // A power cut at the same moment, or the system brings all to the disk in time.
            if self.dice.once_in(3) {
                self.cut_power();
            } else {
                self.world.settle();
            }
            self.after_a_kill(job, &text);
        } else {
            self.after_a_command(job, &done, &text);
        }
    }

    /// What happens while a command works: the user does something, or another command is given.
    fn company(&mut self, text: String) -> Between {
        let model = Arc::clone(&self.model);
        let mut dice = Dice::new(self.dice.below(usize::MAX) as u64);
        Box::new(move |world| {
            if dice.once_in(25) {
                user(world, &mut lock(&model), &mut dice, false);
            }
            if dice.once_in(100) && lock(&model).locked {
                let second = Process::new(world, usize::MAX);
                let job = Self::job(&mut dice);
                let done = carry_out(Arc::new(second), Path::new(TARGET), job, &mut |_| {});
                let is_busy = matches!(done, Err(StudyError::Busy { .. }));
                assert!(is_busy, "{text}: a second command: {done:?}");
            }
        })
    }

    fn after_a_kill(&mut self, job: Job, text: &str) {
        let mut model = lock(&self.model);
        let new = result(job.what);
        let is_there = has_all(&self.world, Path::new(TARGET), &new);
        if model.disturbed {
            model.result.clear();
            model.kept = None;
        } else if is_there && model.finishing {
            // The new result is in place, or the old one was the same.
            if job.what == What::Picture {
                model.result.extend(new);
            } else {
                model.result = new;
                if !self.world.has(Path::new(PARTIAL)) {
                    model.kept = None;
                }
            }
        }
        drop(model);
        self.older_or_newer(text);
    }

    /// The last complete result is there, in the target or, after a kill, beside it; on the way
    /// back into a target that the user made meanwhile, in both.
    fn older_or_newer(&self, text: &str) {
        let model = lock(&self.model);
        let lost = scattered(&self.world, &model.result, &|_| true);
        assert!(lost.is_none(), "{text}: {lost:?} is not there any more");
    }

    fn after_a_command(&mut self, job: Job, done: &Result<bool, StudyError>, text: &str) {
        let target = Path::new(TARGET);
        let mut model = lock(&self.model);
        let what = match done {
            Ok(true) if model.disturbed => {
                model.result.clear();
                if job.what != What::Picture {
                    model.kept = None;
                }
                "completed while the user took away"
            }
            Ok(true) => {
                let new = result(job.what);
                assert!(has_all(&self.world, target, &new), "{text}: not whole");
                if job.what == What::Picture {
                    model.result.extend(new);
                } else {
                    model.result = new;
                    model.kept = None;
                    assert!(!self.world.has(Path::new(PARTIAL)), "{text}");
                }
                "completed"
            }
            Ok(false) => "stopped at its limit",
            Err(StudyError::TargetExists { .. }) => "refused: target exists",
            Err(StudyError::TargetHoldsOthers { .. }) => "refused: target holds others' files",
            Err(StudyError::WorkHoldsOthers { .. }) => "refused: work folder of others",
            Err(StudyError::OtherRun { .. }) => "refused: unfinished work of something else",
            Err(StudyError::Output { .. }) if job.what == What::Picture => "refused: in the way",
            Err(StudyError::File { .. }) if model.disturbed || job.what == What::Picture => {
                "failed in company"
            }
            Err(error) => panic!("{text}: {error}"),
        };
        let is_there = has_all(&self.world, target, &model.result);
        // A user who makes the target in the moment in which it is not there, and puts a file under
        // a name of the result into it, keeps that file; the result's is beside it.
        let users = |path: &Path| {
            let files = self.world.files();
            let text = files.get(path).map(|bytes| String::from_utf8_lossy(bytes));
            text.is_some_and(|text| model.own.contains_key(&*text))
        };
        let lost = scattered(&self.world, &model.result, &users);
        assert!(
            is_there || model.disturbed || lost.is_none(),
            "{text}: {lost:?} is not in its place"
        );
        if !is_there {
            model.result.clear();
        }
        drop(model);
        self.count(what);
    }

    /// Nothing of the user's is lost, and what is not in a folder of the program is where it was.
    fn check(&self, text: &str) {
        let files = self.world.files();
        let model = lock(&self.model);
        for (content, place) in &model.own {
            let found = files
                .iter()
                .find(|(_, bytes)| **bytes == content.as_bytes());
            let Some((found, _)) = found else {
                panic!(
                    "{text}: {content} is lost, last seen at {}",
                    place.display()
                );
            };
            let of_program = [TARGET, PARTIAL, "/w/out.previous-"];
            let place = place.to_string_lossy();
            let is_outside = !of_program.iter().any(|folder| place.starts_with(folder))
                || place.starts_with("/w/out.previous/");
            let stayed = *found == Path::new(&*place);
            assert!(stayed || !is_outside, "{text}: {content} is at {found:?}");
        }
    }
}

/// A file of a result that is neither in the target, nor in an older one beside it while its place
/// in the target is as `given_up` says.
fn scattered(
    world: &World,
    result: &BTreeMap<String, Vec<u8>>,
    given_up: &dyn Fn(&Path) -> bool,
) -> Option<String> {
    let files = world.files();
    let is_older =
        |path: &Path| path.starts_with(BASE) && path.to_string_lossy().contains(".previous-");
    let is_there = |name: &str, bytes: &Vec<u8>| {
        let place = Path::new(TARGET).join(name);
        files.get(&place) == Some(bytes)
            || given_up(&place)
                && files
                    .iter()
                    .any(|(path, found)| is_older(path) && path.ends_with(name) && found == bytes)
    };
    let mut lost = result.iter().filter(|(name, bytes)| !is_there(name, bytes));
    lost.next().map(|(name, _)| name.clone())
}

pub fn has_all(world: &World, folder: &Path, wanted: &BTreeMap<String, Vec<u8>>) -> bool {
    let files = world.files();
    let mut wanted = wanted.iter();
    wanted.all(|(name, bytes)| files.get(&folder.join(name)) == Some(bytes))
}

/// Carries a command out and takes note in the model of what it says to be kept.
fn perform(
    process: &Process,
    model: &Mutex<Model>,
    job: Job,
    text: &str,
) -> Result<bool, StudyError> {
    let mut tell = |event: Event<'_>| {
        let mut model = lock(model);
        match event {
            Event::Locked => {
                model.locked = true;
                // Leave is given to remove unfinished work of something else.
                let is_other = match (job.what, &model.kept) {
                    (What::Run(seed), Some((kept, _))) => seed != *kept,
                    (What::Export, Some(_)) => true,
                    _ => false,
                };
                if job.overwrite && is_other {
                    model.kept = None;
                }
            }
            Event::Opened(trials) => {
                let What::Run(seed) = job.what else { return };
                if let Some((of, kept)) = &model.kept {
                    let all = kept.keys().all(|trial| trials.contains(trial));
                    assert!(*of == seed && all, "{text}: {kept:?} became {trials:?}");
                }
                let known = model.kept.take().map(|(_, kept)| kept).unwrap_or_default();
                let again = trials.iter().map(|&t| (t, known.get(&t) == Some(&true)));
                model.kept = Some((seed, again.collect()));
            }
            Event::Kept(trial) => {
                assert!(trial < TRIALS);
                if let Some((_, kept)) = &mut model.kept {
                    kept.insert(trial, job.syncs);
                }
            }
            Event::Finishing => model.finishing = true,
            Event::Unlocking => model.locked = false,
        }
    };
    carry_out(Arc::new(process.clone()), Path::new(TARGET), job, &mut tell)
}

fn play(seed: u64, steps: usize) -> BTreeMap<&'static str, usize> {
    let mut counts: BTreeMap<&'static str, usize> = BTreeMap::new();
    // A new game from time to time, so that what users leave lying about does not end all work.
    for game in 0..steps.div_ceil(100) {
        let mut one = Game::new(seed.wrapping_add(game as u64));
        for step in 0..100 {
            one.step(&format!(
                "seed {}, step {step}",
                seed.wrapping_add(game as u64)
            ));
        }
        for (what, times) in one.counts {
            *counts.entry(what).or_default() += times;
        }
    }
    counts
}

#[test]
fn nothing_is_lost_in_ten_thousand_random_turns() {
    let counts = play(1, STEPS);
    eprintln!("{counts:#?}");
    for what in [
        "killed",
        "killed in a swap",
        "power cut",
        "completed",
        "stopped at its limit",
        "refused: target exists",
        "refused: target holds others' files",
        "refused: unfinished work of something else",
    ] {
        let times = counts.get(what).copied().unwrap_or(0);
        assert!(times > 50, "{what}: {times} times are too few to tell");
    }
}

/// The same for a million turns, from the seed that `BENDWISE_SEED` gives.
#[test]
#[ignore = "takes minutes"]
fn nothing_is_lost_in_a_million_random_turns() {
    let seed = std::env::var("BENDWISE_SEED").map_or(1_000_000, |seed| seed.parse().unwrap());
    eprintln!("BENDWISE_SEED={seed}");
    play(seed, 1_000_000);
}
