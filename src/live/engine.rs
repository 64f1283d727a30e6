//! The thread on which a session is worked: it makes one movement after the other, and goes back by
//! making the earlier ones anew, which comes to the same.

use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread::{self, JoinHandle};
use std::time::Instant;

use serde::Serialize;
use serde_json::json;
use tokio::sync::oneshot;

use super::kept::Moments;
use super::moment::{Felt, Moment};
use super::replay::Replay;
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
    /// To show the moment after so many movements again, or one near it.
    Look(usize),
    /// To take the trial as ended, with its row of numbers.
    Finish,
}

/// An answer to the page, as JSON.
type Answer = String;

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

    /// What a page is told while the movements that the session holds are made again: how many of how many, the
    /// moment that they have come to, and the scene where it is `new` to the page; `None` where that is not under
    /// way.
    pub(super) fn replaying(&self, is_new: bool) -> Option<Answer> {
        self.replay.told(is_new)
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
        self.replay.give_up();
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// A value as JSON: what is told holds text and finite numbers alone, which all have one.
fn text<T: Serialize>(value: &T) -> String {
    serde_json::to_string(value).unwrap_or_default()
}

fn answer(kind: &str, text: &str) -> Answer {
    format!(r#"{{"{kind}":{text}}}"#)
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
    let mut has_ended = false;
    loop {
        let drawn = DrawnTrial::new(&worked.prepared, &worked.strategy, worked.trial);
        let setup = drawn.setup();
        let trial = SteppedTrial::begin(&drawn, &setup, false);
        let mut hand = Hand::new(&drawn, trial, has_ended);
        let movements = session.movements();
        if !movements.is_empty() {
            let opening = hand.told(&worked.prepared, &views, controls, &session);
            replay.begins(movements.len(), opening, &hand.now);
            for movement in movements {
                if replay.is_over() {
                    return;
                }
                hand.make(*movement);
                hand.keep();
                replay.made(&hand.now);
            }
            replay.ends();
        }
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
                    let went_back = session.went_back();
                    let told = json!({ "finished": row, "went_back": went_back });
                    let _ = reply.send(told.to_string());
                    // From the beginning nothing leads back.
                    has_ended = !session.movements().is_empty();
                    break None;
                }
                Ask::Look(at) => {
                    let kept = hand.moments.nearest(at);
                    let _ = reply.send(answer("looked", kept.as_ref().unwrap_or(&hand.now)));
                }
                Ask::Line { line, at } => match hand.take(&line, at, controls, &mut session) {
                    Taken::Made => {
                        let _ = reply.send(answer("moment", &hand.now));
                        // The page does not wait for this.
                        hand.keep();
                    }
                    Taken::Refused(why) => {
                        let _ = reply.send(answer("refused", &text(&why)));
                    }
                    Taken::Back => {
                        has_ended = false;
                        break Some(reply);
                    }
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
    /// The person has ended it: only going back leads on.
    has_ended: bool,
    view: Option<View>,
    /// What was felt after each movement, the beginning first.
    felt: Vec<Felt>,
    took_ms: f64,
    /// The moment, as JSON.
    now: String,
    /// The moments that were.
    moments: Moments,
}

impl<'s> Hand<'s> {
    /// The trial before its first movement.
    fn new(drawn: &'s DrawnTrial<'s>, trial: SteppedTrial<'s>, has_ended: bool) -> Self {
        let mut hand = Self {
            drawn,
            trial,
            has_ended,
            view: None,
            felt: Vec::new(),
            took_ms: 0.0,
            now: String::new(),
            moments: Moments::new(),
        };
        hand.look();
        hand.keep();
        hand
    }

    fn look(&mut self) {
        self.view = self.trial.look();
        self.trial.count_attempts(1);
        self.felt.push(Felt::take(&mut self.trial));
        self.now = text(&self.moment());
    }

    fn make(&mut self, movement: Movement) {
        let begun = Instant::now();
        self.trial.make(movement);
        self.took_ms = begun.elapsed().as_secs_f64() * 1e3;
        self.look();
    }

    /// Keeps the moment, so that it can be shown again.
    fn keep(&mut self) {
        self.moments.add(&self.now);
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
            if self.has_ended {
                return Taken::Refused(
                    "the trial has been ended; go back to an earlier moment to go on from there"
                        .to_owned(),
                );
            }
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
        let felt = self.felt.last().copied().unwrap_or_default();
        Moment::of(
            (self.drawn, &self.trial),
            (self.felt.len() - 1, felt),
            self.view.as_ref(),
            self.took_ms,
        )
    }

    /// Everything: the scene, what was felt, the moment.
    fn told(
        &self,
        prepared: &Prepared,
        views: &ViewsShown,
        controls: Controls,
        session: &Session,
    ) -> String {
        let scene = SceneShown::new(prepared, self.drawn, views, controls, session);
        let (scene, felt, moment) = (text(&scene), text(&self.felt), &self.now);
        let ended = self.has_ended;
        format!(r#"{{"scene":{scene},"felt":{felt},"moment":{moment},"ended":{ended}}}"#)
    }

    fn hello(
        &self,
        prepared: &Prepared,
        views: &ViewsShown,
        controls: Controls,
        session: &Session,
    ) -> Answer {
        answer("hello", &self.told(prepared, views, controls, session))
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
        let told = |answers: &[String]| -> serde_json::Value {
            serde_json::from_str(answers.last().unwrap()).unwrap()
        };
        let (one, other) = (told(&one), told(&other));
        assert_eq!(one["finished"], other["finished"]);
        assert!(one["finished"]["outcome"].is_string());
        assert_eq!(
            (&one["went_back"], &other["went_back"]),
            (&0.into(), &1.into())
        );
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
