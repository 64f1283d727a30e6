//! The journal of a batch: a header line, then one line per finished trial, appended as it
//! finishes, so that a killed run loses the trials in flight and nothing else. A damaged line costs
//! the trial in it, which is computed again.

use std::io;
use std::path::Path;

use serde::{Deserialize, Serialize};

use super::error::{KeepError, StudyError};
use super::missing;
use super::store::header::{self, Asked};
use super::store::record;
use super::store::records::{Records, replace};
use super::store::{Disk, FileMark, Folders, JOURNAL};
use crate::trial::result::{Pressed, TrialRow};

/// First line of a journal: what must be the same for a batch to go on from it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Header {
    /// Version of the program.
    pub version: String,
    /// Fingerprint of the executable, see [`super::build_fingerprint`].
    pub build: String,
    /// Name of the scenario.
    pub scenario: String,
    /// Hash of what the scenario says.
    pub content_hash: String,
    /// Seed of the random draws.
    pub seed: u64,
    /// Trials of each strategy.
    pub trials: u32,
    /// Recorded trials of each strategy.
    pub recorded: u32,
    /// Names of the strategies.
    pub strategies: Vec<String>,
}

impl Header {
    /// What differs between this header (kept) and `asked`, in words; empty for equal headers.
    #[must_use]
    pub fn differences(&self, asked: &Self) -> String {
        let pairs = [
            ("version", self.version.clone(), asked.version.clone()),
            ("build", self.build.clone(), asked.build.clone()),
            ("scenario", self.scenario.clone(), asked.scenario.clone()),
            (
                "scenario content",
                self.content_hash.clone(),
                asked.content_hash.clone(),
            ),
            ("seed", self.seed.to_string(), asked.seed.to_string()),
            ("trials", self.trials.to_string(), asked.trials.to_string()),
            (
                "recorded trials",
                self.recorded.to_string(),
                asked.recorded.to_string(),
            ),
            (
                "strategies",
                self.strategies.join(", "),
                asked.strategies.join(", "),
            ),
        ];
        let texts: Vec<String> = pairs
            .into_iter()
            .filter(|(_, kept, asked)| kept != asked)
            .map(|(field, kept, asked)| format!("{field}: kept '{kept}', asked for '{asked}'"))
            .collect();
        texts.join("; ")
    }
}

/// Work that this journal keeps.
const WORK: &str = "run";

/// A line of the journal behind the header.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Entry {
    /// Strategy.
    pub strategy: usize,
    /// The numbers.
    #[serde(deserialize_with = "missing::row")]
    pub row: TrialRow,
    /// Where the trial pressed on the wall.
    pub pressed: Vec<Pressed>,
    /// Files of the trial as they were written.
    pub files: Vec<FileMark>,
}

/// An open journal.
#[derive(Debug)]
pub struct Journal {
    records: Records,
}

impl Journal {
    /// Opens the journal in a work folder for the batch that `header` describes, creating it where
    /// there is none, and returns it with the finished trials in it.
    ///
    /// A last line without its end, left by a killed run, is cut off; so are lines whose checksum
    /// does not match, which is told.
    ///
    /// # Errors
    ///
    /// [`StudyError::OtherRun`] where it belongs to other work, [`StudyError::DamagedJournal`]
    /// where nothing tells to what it belongs, or the failure of a file operation.
    pub fn open(folders: &Folders, header: &Header) -> Result<(Self, Vec<Entry>), StudyError> {
        let path = folders.journal();
        let failed =
            |e: io::Error| KeepError::at(&path)(e).into_study_error(folders.partial(), 0, 0);
        let trusted = |seed: u32, rest: &[u8]| {
            let lines = record::lines(seed, rest, 2);
            Ok(!lines.good.is_empty())
        };
        let asked = Asked {
            work: WORK,
            header,
            differences: &|kept: &Header| kept.differences(header),
            trusted: &trusted,
        };
        let opened = header::open(folders, &asked)?;
        let mut lines = record::lines(opened.seed, &opened.rest, 2);
        let (mut entries, mut bytes) = (Vec::new(), opened.first.clone());
        for &(number, text) in &lines.good {
            match entry(text, header) {
                Some(entry) => {
                    bytes.extend(record::line_of(opened.seed, text));
                    entries.push(entry);
                }
                None => lines.damaged.push(number),
            }
        }
        tell_damage(folders.disk(), &path, &lines.damaged);
        if opened.is_damaged || lines.torn || !lines.damaged.is_empty() {
            replace(folders.disk(), folders.partial(), JOURNAL, &bytes).map_err(failed)?;
        }
        let records = Records::open(
            folders.disk(),
            &path,
            opened.seed,
            bytes.len() as u64,
            folders.sync_interval(),
        );
        let records = records.map_err(failed)?;
        Ok((Self { records }, entries))
    }

    /// Appends one finished trial.
    ///
    /// # Errors
    ///
    /// The failure of the write; a half-written line is cut off as far as the system lets it.
    pub fn append(&mut self, entry: &Entry) -> Result<(), KeepError> {
        self.records.append(entry)
    }
}

/// A trial of this batch.
fn entry(record: &[u8], header: &Header) -> Option<Entry> {
    let entry: Entry = serde_json::from_slice(record).ok()?;
    let is_asked = entry.strategy < header.strategies.len() && entry.row.trial < header.trials;
    is_asked.then_some(entry)
}

/// Says which lines of a journal are lost.
pub(super) fn tell_damage(disk: &dyn Disk, path: &Path, lines: &[usize]) {
    if !lines.is_empty() {
        disk.tell(&format!(
            "warning: {}, {}: damaged; what stood there is computed again",
            path.display(),
            record::numbers(lines)
        ));
    }
}
