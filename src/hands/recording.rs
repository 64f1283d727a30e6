//! A file of movements that a person made: text, a line a movement, which grows while it is worked.
//!
//! The first lines say in which scene the movements were made. Going back to an earlier moment is a
//! line of its own, so that nothing that was written is ever changed.
//!
//! ```text
//! recording,1
//! scenario,side-branch
//! scene,5f3a...            (SHA-256 of what acts in a trial)
//! seed,7
//! trial,0
//! technique,redirect
//! wire,workhorse 1 gf
//! feed
//! turn_deg,5
//! back_to,1
//! ```

use serde::{Deserialize, Serialize};
use thiserror::Error;

use super::{CatheterMove, Movement};

/// Version of the format.
const VERSION: &str = "1";
/// Most lines of movements in a file.
pub const MOST_LINES: usize = 200_000;
/// Longest line in bytes.
const LONGEST_LINE: usize = 400;
/// Largest turn of one line in degrees.
const LARGEST_TURN_DEG: f64 = 180.0;
/// Longest wait of one line in s.
const LONGEST_WAIT_S: f64 = 10.0;

/// In which scene movements were made.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Made {
    /// Name of the scenario.
    pub scenario: String,
    /// SHA-256, in hexadecimal, of what acts in the trial.
    pub scene: String,
    /// Seed of the study.
    pub seed: u64,
    /// Number of the trial whose draw was worked.
    pub trial: u32,
    /// Name of the technique whose devices were used.
    pub technique: String,
    /// Name of the wire with which the trial began.
    pub wire: String,
}

/// A line below the first ones.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Entry {
    /// A movement, never [`Movement::Stop`].
    Move(Movement),
    /// All movements but the first so many are taken back.
    BackTo(usize),
}

/// Movements with the scene in which they were made.
#[derive(Debug, Clone, PartialEq)]
pub struct Recording {
    /// The scene.
    pub made: Made,
    /// The movements that were not taken back, in their order.
    pub movements: Vec<Movement>,
    /// Lines of movements in the file, those that were taken back included.
    pub lines: usize,
    /// How often the person went back to an earlier moment.
    pub went_back: usize,
}

/// Why a file is no recording.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("line {line}: {reason}")]
pub struct RecordingFault {
    /// Line, counted from 1.
    pub line: usize,
    /// What is wrong there, and what is allowed.
    pub reason: String,
}

const FIRST: [&str; 7] = [
    "recording",
    "scenario",
    "scene",
    "seed",
    "trial",
    "technique",
    "wire",
];

impl Made {
    /// The first lines of a file.
    #[must_use]
    pub fn lines(&self) -> String {
        let values = [
            VERSION,
            &self.scenario,
            &self.scene,
            &self.seed.to_string(),
            &self.trial.to_string(),
            &self.technique,
            &self.wire,
        ];
        let lines = FIRST.iter().zip(values);
        lines
            .map(|(key, value)| format!("{key},{value}\n"))
            .collect()
    }
}

impl Entry {
    /// Reads a line without its end.
    ///
    /// # Errors
    /// What is wrong, and what is allowed.
    pub fn read(line: &str) -> Result<Self, String> {
        let (word, value) = match line.split_once(',') {
            Some((word, value)) => (word, Some(value)),
            None => (line, None),
        };
        let angle = || number(word, value, LARGEST_TURN_DEG).map(f64::to_radians);
        let catheter = |movement| Self::Move(Movement::Catheter(movement));
        let entry = match word {
            "feed" => Self::Move(Movement::Feed),
            "withdraw" => Self::Move(Movement::Withdraw),
            "turn_deg" => return Ok(Self::Move(Movement::Turn(angle()?))),
            "wait_s" => {
                let wait_s = number(word, value, LONGEST_WAIT_S)?;
                if wait_s <= 0.0 {
                    return Err("a wait takes more than 0 s".to_owned());
                }
                return Ok(Self::Move(Movement::Wait(wait_s)));
            }
            "catheter_feed" => catheter(CatheterMove::Feed),
            "catheter_withdraw" => catheter(CatheterMove::Withdraw),
            "both_feed" => catheter(CatheterMove::FeedBoth),
            "both_withdraw" => catheter(CatheterMove::WithdrawBoth),
            "catheter_turn_deg" => return Ok(catheter(CatheterMove::Turn(angle()?))),
            "steer_deg" => return Ok(catheter(CatheterMove::Steer(angle()?))),
            "inflate" => Self::Move(Movement::Inflate),
            "deflate" => Self::Move(Movement::Deflate),
            "change_wire" => Self::Move(Movement::ChangeWire),
            "point_guide" => {
                let way = count(word, value)?;
                let from_0 = way
                    .checked_sub(1)
                    .ok_or("ways to point the guide are counted from 1")?;
                return Ok(Self::Move(Movement::AimGuide(from_0)));
            }
            "back_to" => return Ok(Self::BackTo(count(word, value)?)),
            _ => {
                return Err(format!(
                    "\"{}\" is no movement; allowed are feed, withdraw, turn_deg, wait_s, catheter_feed, \
                     catheter_withdraw, both_feed, both_withdraw, catheter_turn_deg, steer_deg, inflate, \
                     deflate, change_wire, point_guide and back_to",
                    crate::shown::cut(word)
                ));
            }
        };
        match value {
            None => Ok(entry),
            Some(_) => Err(format!("{word} stands alone in its line")),
        }
    }
}

impl Recording {
    /// Reads a whole file.
    ///
    /// # Errors
    /// The first line that is wrong: one that is missing, is no movement or out of its range, is cut off,
    /// or is one too many.
    pub fn read(text: &str) -> Result<Self, RecordingFault> {
        let fault = |line: usize, reason: String| RecordingFault { line, reason };
        if !text.is_empty() && !text.ends_with('\n') {
            let reason =
                "it is cut off in the middle; delete it, or go on with the session, which does so";
            return Err(fault(text.lines().count(), reason.to_owned()));
        }
        let mut lines = text.lines().enumerate();
        let mut first = Vec::with_capacity(FIRST.len());
        for (index, key) in FIRST.iter().enumerate() {
            let line = lines.next().map_or("", |(_, line)| line);
            let said = line.split_once(',').filter(|(word, _)| word == key);
            match said {
                Some((_, value)) if index == 0 && value != VERSION => {
                    let reason = format!("only version {VERSION} of recordings can be read");
                    return Err(fault(1, reason));
                }
                Some((_, value)) if line.len() <= LONGEST_LINE => first.push(value),
                _ => {
                    let reason = format!("a recording has \"{key},...\" here");
                    return Err(fault(index + 1, reason));
                }
            }
        }
        let whole = |line: usize, text: &str| -> Result<u64, RecordingFault> {
            text.parse()
                .map_err(|_| fault(line, "a whole number of at least 0 stands here".to_owned()))
        };
        let seed = whole(4, first[3])?;
        let trial = u32::try_from(whole(5, first[4])?)
            .map_err(|_| fault(5, format!("trials are numbered up to {}", u32::MAX)))?;
        let made = Made {
            scenario: first[1].to_owned(),
            scene: first[2].to_owned(),
            seed,
            trial,
            technique: first[5].to_owned(),
            wire: first[6].to_owned(),
        };
        let mut recording = Self {
            made,
            movements: Vec::new(),
            lines: 0,
            went_back: 0,
        };
        for (index, line) in lines {
            recording
                .take(line)
                .map_err(|reason| fault(index + 1, reason))?;
        }
        Ok(recording)
    }

    /// Takes one more line.
    fn take(&mut self, line: &str) -> Result<(), String> {
        if self.lines == MOST_LINES {
            return Err(format!("a recording has up to {MOST_LINES} movements"));
        }
        if line.len() > LONGEST_LINE {
            return Err(format!("a line has up to {LONGEST_LINE} bytes"));
        }
        self.add(Entry::read(line)?)
    }

    /// Adds a line that was made.
    ///
    /// # Errors
    /// A way back to a moment that has not been.
    pub fn add(&mut self, entry: Entry) -> Result<(), String> {
        match entry {
            Entry::Move(movement) => self.movements.push(movement),
            Entry::BackTo(kept) if kept > self.movements.len() => {
                return Err(format!(
                    "there are {} movements to go back in, not {kept}",
                    self.movements.len()
                ));
            }
            Entry::BackTo(kept) => {
                self.movements.truncate(kept);
                self.went_back += 1;
            }
        }
        self.lines += 1;
        Ok(())
    }
}

/// A number of up to `most` either way.
///
/// # Errors
/// That it is none, or a larger one.
fn number(word: &str, value: Option<&str>, most: f64) -> Result<f64, String> {
    let number = value.and_then(|value| value.parse::<f64>().ok());
    number
        .filter(|n| n.abs() <= most)
        .ok_or_else(|| format!("{word} has a number of up to {most} behind its comma"))
}

fn count(word: &str, value: Option<&str>) -> Result<usize, String> {
    let count = value.and_then(|value| value.parse().ok());
    count.ok_or_else(|| format!("{word} has a whole number behind its comma"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn made() -> Made {
        Made {
            scenario: "side-branch".to_owned(),
            scene: "abc".to_owned(),
            seed: 7,
            trial: 3,
            technique: "redirect, twice".to_owned(),
            wire: "workhorse 1 gf".to_owned(),
        }
    }

    fn refused(below: &str) -> RecordingFault {
        Recording::read(&(made().lines() + below)).unwrap_err()
    }

    #[test]
    fn every_line_is_the_movement_that_it_names() {
        use CatheterMove::{Feed, FeedBoth, Steer, Turn, Withdraw, WithdrawBoth};
        let angle = 5.0_f64.to_radians();
        for (line, movement) in [
            ("feed", Movement::Feed),
            ("withdraw", Movement::Withdraw),
            ("turn_deg,5", Movement::Turn(angle)),
            ("turn_deg,-5", Movement::Turn(-angle)),
            ("wait_s,0.1", Movement::Wait(0.1)),
            ("catheter_feed", Movement::Catheter(Feed)),
            ("catheter_withdraw", Movement::Catheter(Withdraw)),
            ("both_feed", Movement::Catheter(FeedBoth)),
            ("both_withdraw", Movement::Catheter(WithdrawBoth)),
            ("catheter_turn_deg,5", Movement::Catheter(Turn(angle))),
            ("steer_deg,5", Movement::Catheter(Steer(angle))),
            ("inflate", Movement::Inflate),
            ("deflate", Movement::Deflate),
            ("change_wire", Movement::ChangeWire),
            ("point_guide,2", Movement::AimGuide(1)),
        ] {
            assert_eq!(Entry::read(line), Ok(Entry::Move(movement)), "{line}");
        }
        assert_eq!(Entry::read("back_to,12"), Ok(Entry::BackTo(12)));
    }

    #[test]
    fn a_file_says_its_scene_and_the_movements_that_were_not_taken_back() {
        let text = made().lines() + "feed\nfeed\nturn_deg,5\nback_to,1\nwithdraw\n";
        let recording = Recording::read(&text).unwrap();
        assert_eq!(recording.made, made());
        assert_eq!(recording.movements, [Movement::Feed, Movement::Withdraw]);
        assert_eq!(recording.lines, 5);
    }

    #[test]
    fn what_is_no_recording_is_refused_with_its_line() {
        for (below, line, part) in [
            ("feed\nfee\n", 9, "allowed are feed"),
            ("feed\nfeed", 9, "cut off"),
            ("turn_deg,200\n", 8, "up to 180"),
            ("turn_deg,NaN\n", 8, "up to 180"),
            ("turn_deg\n", 8, "a number"),
            ("feed,1\n", 8, "alone"),
            ("wait_s,0\n", 8, "more than 0"),
            ("back_to,1\n", 8, "0 movements"),
            ("back_to,-1\n", 8, "whole number"),
            ("point_guide,0\n", 8, "from 1"),
            ("\n", 8, "no movement"),
        ] {
            let fault = refused(below);
            assert_eq!(fault.line, line, "{below:?}: {fault}");
            assert!(fault.reason.contains(part), "{below:?}: {fault}");
        }
        let many = "feed\n".repeat(MOST_LINES + 1);
        assert_eq!(refused(&many).line, MOST_LINES + 8);
        let long = format!("turn_deg,{}\n", "0".repeat(500));
        assert!(refused(&long).reason.contains("400 bytes"));
    }

    #[test]
    fn first_lines_that_are_missing_or_wrong_are_refused() {
        let first = made().lines();
        for (text, line) in [
            (String::new(), 1),
            (first.replace("recording,1", "recording,2"), 1),
            (first.replace("seed,7", "seed,-7"), 4),
            (first.replace("trial,3", "trial,99999999999"), 5),
            (first.replace("wire,", "wires,"), 7),
            (first.replace("scene,abc\n", ""), 3),
        ] {
            let fault = Recording::read(&text).unwrap_err();
            assert_eq!(fault.line, line, "{text}: {fault}");
        }
    }
}
