//! The thread on which a session is worked: it makes one movement after the other, and goes back by
//! making the earlier ones anew, which comes to the same.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread::{self, JoinHandle};
use std::time::Instant;

use serde::Serialize;
use serde_json::json;
use tokio::sync::oneshot;

use super::moment::{Felt, Moment};
use super::scene::{SceneShown, ViewsShown};
use super::session::Session;
use crate::hands::{Controls, Entry, Movement, View};
use crate::technique::controls;
use crate::trial::{DrawnTrial, Prepared, SteppedTrial, Strategy};

/// What is worked: a strategy of a scenario on one draw.
#[derive(Debug, Clone)]
pub struct Worked {
    /// The scenario.
    pub prepared: Arc<Prepared>,
    /// Technique and wire with which the session begins.
    pub strategy: Strategy,
    /// Number of the trial whose draw is worked.
    pub trial: u32,
}

/// What the page asks.
#[derive(Debug)]
pub(super) enum Ask {
    /// Everything, for a page that has just been opened.
    Hello,
    /// To make the movement of a line of a recording, or to go back, at a moment with so many movements.
    Line { line: String, at: usize },
    /// To take the trial as ended, with its row of numbers.
    Finish,
}

/// An answer to the page, as JSON.
type Answer = String;

/// How far the movements that a session holds have been made again.
#[derive(Debug, Default)]
struct Replay {
    done: AtomicUsize,
    /// How many there are; 0 while none are made again.
    of: AtomicUsize,
}

/// The thread that works.
pub(super) struct Engine {
    replay: Arc<Replay>,
    asks: Option<Sender<(Ask, oneshot::Sender<Answer>)>>,
    thread: Option<JoinHandle<()>>,
}

impl Engine {
    /// Begins to work a session: the movements that it holds are made first.
    ///
    /// # Errors
    /// Where the system gives no thread.
    pub(super) fn start(worked: Worked, session: Session) -> std::io::Result<Self> {
        let (sender, asks) = channel();
        let replay = Arc::new(Replay::default());
        let told = Arc::clone(&replay);
        let thread = thread::Builder::new()
            .name("hand".to_owned())
            .spawn(move || work(&worked, session, &asks, &told))?;
        Ok(Self {
            replay,
            asks: Some(sender),
            thread: Some(thread),
        })
    }

    /// How many of the movements that the session holds have been made again, and of how many; `None` where that
    /// is not under way.
    pub(super) fn replayed(&self) -> Option<(usize, usize)> {
        let [done, of] = [&self.replay.done, &self.replay.of].map(|n| n.load(Ordering::Relaxed));
        (of > 0).then_some((done, of))
    }

    /// Asks, and waits for the answer; `None` where the thread has ended.
    pub(super) async fn ask(&self, ask: Ask) -> Option<Answer> {
        let (reply, answer) = oneshot::channel();
        self.asks.as_ref()?.send((ask, reply)).ok()?;
        answer.await.ok()
    }
}

impl Drop for Engine {
    fn drop(&mut self) {
        self.asks = None;
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

fn answer<T: Serialize>(kind: &str, value: &T) -> Answer {
    json!({ kind: value }).to_string()
}

/// Works until nobody asks any more.
fn work(
    worked: &Worked,
    mut session: Session,
    asks: &Receiver<(Ask, oneshot::Sender<Answer>)>,
    replay: &Replay,
) {
    let technique = &worked.prepared.scenario().techniques[worked.strategy.technique];
    let controls = controls(technique, &worked.prepared.scenario().catheters);
    let views = ViewsShown::new(&worked.prepared, technique);
    let mut waits: Option<oneshot::Sender<Answer>> = None;
    loop {
        let drawn = DrawnTrial::new(&worked.prepared, &worked.strategy, worked.trial);
        let setup = drawn.setup();
        let trial = SteppedTrial::begin(&drawn, &setup, true);
        let mut hand = Hand::again(&drawn, trial, session.movements(), replay);
        if let Some(reply) = waits.take() {
            let _ = reply.send(hand.hello(&worked.prepared, &views, controls, &session));
        }
        let again = loop {
            let Ok((ask, reply)) = asks.recv() else {
                return;
            };
            match ask {
                Ask::Hello => {
                    let _ = reply.send(hand.hello(&worked.prepared, &views, controls, &session));
                }
                Ask::Finish => {
                    hand.trial.make(Movement::Stop);
                    let row = hand.trial.record(1).row;
                    let _ = reply.send(answer("finished", &row));
                    break None;
                }
                Ask::Line { line, at } => match hand.take(&line, at, controls, &mut session) {
                    Taken::Made => {
                        let _ = reply.send(answer("moment", &hand.moment()));
                    }
                    Taken::Refused(why) => {
                        let _ = reply.send(answer("refused", &why));
                    }
                    Taken::Back => break Some(reply),
                },
            }
        };
        waits = again;
    }
}

/// What became of a line.
enum Taken {
    Made,
    Back,
    Refused(String),
}

/// A trial in a person's hand.
struct Hand<'s> {
    drawn: &'s DrawnTrial<'s>,
    trial: SteppedTrial<'s>,
    view: Option<View>,
    /// What was felt after each movement, the beginning first.
    felt: Vec<Felt>,
    took_ms: f64,
}

impl<'s> Hand<'s> {
    /// The trial after movements that were made before.
    fn again(
        drawn: &'s DrawnTrial<'s>,
        trial: SteppedTrial<'s>,
        movements: &[Movement],
        replay: &Replay,
    ) -> Self {
        replay.done.store(0, Ordering::Relaxed);
        replay.of.store(movements.len(), Ordering::Relaxed);
        let mut hand = Self {
            drawn,
            trial,
            view: None,
            felt: Vec::with_capacity(movements.len() + 1),
            took_ms: 0.0,
        };
        hand.look();
        for movement in movements {
            hand.make(*movement);
            replay.done.fetch_add(1, Ordering::Relaxed);
        }
        replay.of.store(0, Ordering::Relaxed);
        hand
    }

    fn look(&mut self) {
        self.view = self.trial.look();
        self.trial.count_attempts(1);
        self.felt.push(Felt::of(&self.trial));
    }

    fn make(&mut self, movement: Movement) {
        let begun = Instant::now();
        self.trial.make(movement);
        self.look();
        self.took_ms = begun.elapsed().as_secs_f64() * 1e3;
    }

    /// Takes a line of the page: keeps it, then makes it.
    fn take(&mut self, line: &str, at: usize, controls: Controls, session: &mut Session) -> Taken {
        let now = session.movements().len();
        let entry = match Entry::read(line) {
            Ok(entry) => entry,
            Err(why) => return Taken::Refused(why),
        };
        if at != now {
            return Taken::Refused(format!("the page is at moment {at}, the session at {now}"));
        }
        if let Entry::Move(movement) = entry {
            let Some(view) = self.view.as_ref().filter(|_| !self.trial.is_over()) else {
                return Taken::Refused(
                    "the trial is over; go back to an earlier moment".to_owned(),
                );
            };
            if let Some(why) = controls.refusal(movement, view, self.trial.has_reached()) {
                return Taken::Refused(why.to_owned());
            }
        }
        if let Err(why) = session.add(line, entry) {
            return Taken::Refused(why);
        }
        match entry {
            Entry::BackTo(_) => Taken::Back,
            Entry::Move(movement) => {
                self.make(movement);
                Taken::Made
            }
        }
    }

    fn moment(&self) -> Moment {
        Moment::of(
            (self.drawn, &self.trial),
            self.felt.len() - 1,
            self.view.as_ref(),
            self.took_ms,
        )
    }

    fn hello(
        &self,
        prepared: &Prepared,
        views: &ViewsShown,
        controls: Controls,
        session: &Session,
    ) -> Answer {
        let scene = SceneShown::new(prepared, self.drawn, views, controls, session.made());
        json!({ "hello": { "scene": scene, "felt": self.felt, "moment": self.moment() } })
            .to_string()
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::hands::Made;
    use crate::trial::strategies;

    /// Works `lines` on the shipped side branch, in a folder.
    fn work_lines(folder: &Path, lines: &[&str]) -> Vec<Answer> {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/side-branch.toml");
        let scenario = crate::scenario::load(&path).unwrap().scenario;
        let made = Made {
            scenario: scenario.name.clone(),
            scene: scenario.acting_hash(&scenario.techniques[0]),
            seed: scenario.study.seed,
            trial: 0,
            technique: scenario.techniques[0].name.clone(),
            wire: scenario.wires[0].name.clone(),
        };
        let worked = Worked {
            prepared: Arc::new(Prepared::new(&scenario).unwrap()),
            strategy: strategies(&scenario).remove(0),
            trial: 0,
        };
        let session = Session::open(folder, &made).unwrap();
        let engine = Engine::start(worked, session).unwrap();
        let ask = |ask| {
            let (reply, answer) = oneshot::channel();
            engine.asks.as_ref().unwrap().send((ask, reply)).unwrap();
            answer.blocking_recv().unwrap()
        };
        let mut at = 0;
        let mut answers = vec![ask(Ask::Hello)];
        let first: serde_json::Value = serde_json::from_str(&answers[0]).unwrap();
        let number = |value: &serde_json::Value| usize::try_from(value.as_u64()?).ok();
        at += number(&first["hello"]["moment"]["at"]).unwrap();
        for line in lines {
            let line = (*line).to_owned();
            answers.push(ask(Ask::Line { line, at }));
            let last: serde_json::Value = serde_json::from_str(answers.last().unwrap()).unwrap();
            let moment = if last["hello"].is_null() {
                &last["moment"]
            } else {
                &last["hello"]["moment"]
            };
            at = number(&moment["at"]).unwrap_or(at);
        }
        answers.push(ask(Ask::Finish));
        answers
    }

    #[test]
    fn going_back_and_going_on_after_a_stop_come_to_the_same_state() {
        let straight = tempfile::tempdir().unwrap();
        let plain = ["feed", "feed", "turn_deg,5", "feed", "withdraw"];
        let one = work_lines(straight.path(), &plain);
        let back = tempfile::tempdir().unwrap();
        work_lines(back.path(), &["feed", "feed", "feed", "turn_deg,-5"]);
        let other = work_lines(
            back.path(),
            &["back_to,2", "turn_deg,5", "feed", "withdraw"],
        );
        assert_eq!(one.last(), other.last());
        assert!(one.last().unwrap().contains("\"outcome\""));
    }

    #[test]
    fn what_hands_cannot_do_is_refused_and_not_kept() {
        let folder = tempfile::tempdir().unwrap();
        let answers = work_lines(
            folder.path(),
            &["catheter_feed", "fly", "change_wire", "withdraw"],
        );
        for (answer, why) in
            answers[1..]
                .iter()
                .zip(["no catheter", "no movement", "no other wire", "guide"])
        {
            assert!(
                answer.contains("refused") && answer.contains(why),
                "{answer}"
            );
        }
        let kept = std::fs::read_to_string(folder.path().join("session.csv")).unwrap();
        assert_eq!(kept.lines().count(), 7);
    }
}
