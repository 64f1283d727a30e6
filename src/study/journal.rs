//! The journal of a batch: a header line, then one line per finished trial, appended as it
//! finishes, so that a killed run loses the trials in flight and nothing else.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::error::{KeepError, StudyError};
use super::missing;
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
}

/// An open journal; holds a lock on its file until dropped.
#[derive(Debug)]
pub struct Journal {
    file: File,
    path: PathBuf,
    length: u64,
}

impl Journal {
    /// Opens the journal at `path` for the batch that `header` describes, creating it where
    /// there is none, and returns it with the finished trials in it.
    ///
    /// A last line without its end, left by a killed run, is cut off.
    ///
    /// # Errors
    ///
    /// [`StudyError::Busy`] where another process holds it, [`StudyError::OtherRun`] where it
    /// belongs to another batch, [`StudyError::DamagedJournal`] where a whole line does not read
    /// as a trial of this batch, or the failure of a file operation.
    pub fn open(path: &Path, header: &Header) -> Result<(Self, Vec<Entry>), StudyError> {
        let folder = path.parent().unwrap_or(Path::new("."));
        let failed = |source| KeepError::at(path)(source).into_study_error(folder, 0, 0);
        let mut file = OpenOptions::new()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(path)
            .map_err(failed)?;
        // A file system without locks is no reason to refuse; a held lock is.
        if matches!(file.try_lock(), Err(TryLockError::WouldBlock)) {
            return Err(StudyError::Busy {
                path: folder.to_owned(),
            });
        }
        let mut bytes = Vec::new();
        file.read_to_end(&mut bytes).map_err(failed)?;
        let length = bytes.iter().rposition(|&b| b == b'\n').map_or(0, |i| i + 1);
        bytes.truncate(length);
        let mut journal = Self {
            file,
            path: path.to_owned(),
            length: length as u64,
        };
        journal.cut_back().map_err(failed)?;
        if bytes.is_empty() {
            journal.write_line(header).map_err(failed)?;
            return Ok((journal, Vec::new()));
        }
        let entries = parse(&bytes, header, path)?;
        Ok((journal, entries))
    }

    /// Appends one finished trial.
    ///
    /// # Errors
    ///
    /// The failure of the write; a half-written line is cut off as far as the system lets it.
    pub fn append(&mut self, entry: &Entry) -> Result<(), KeepError> {
        let written = self.write_line(entry);
        if written.is_err() {
            // The first error is the one to report; the reader copes with a torn last line.
            let _ = self.cut_back();
        }
        written.map_err(KeepError::at(&self.path))
    }

    fn write_line(&mut self, line: &impl Serialize) -> std::io::Result<()> {
        let mut text = serde_json::to_vec(line)?;
        text.push(b'\n');
        self.file.write_all(&text)?;
        self.file.flush()?;
        self.length += text.len() as u64;
        Ok(())
    }

    fn cut_back(&mut self) -> std::io::Result<()> {
        self.file.set_len(self.length)?;
        self.file.seek(SeekFrom::Start(self.length))?;
        Ok(())
    }
}

fn parse(bytes: &[u8], header: &Header, path: &Path) -> Result<Vec<Entry>, StudyError> {
    let damaged = |line: usize, reason: String| StudyError::DamagedJournal {
        path: path.to_owned(),
        line,
        reason,
    };
    let mut lines = bytes.split_inclusive(|&b| b == b'\n');
    let first = lines.next().unwrap_or_default();
    let kept: Header =
        serde_json::from_slice(first).map_err(|e| damaged(1, format!("not a header: {e}")))?;
    let differences = kept.differences(header);
    if !differences.is_empty() {
        return Err(StudyError::OtherRun {
            path: path.parent().unwrap_or(Path::new(".")).to_owned(),
            differences,
        });
    }
    let mut entries = Vec::new();
    for (index, line) in lines.enumerate() {
        let number = index + 2;
        let entry: Entry = serde_json::from_slice(line)
            .map_err(|e| damaged(number, format!("not a trial: {e}")))?;
        if entry.strategy >= header.strategies.len() || entry.row.trial >= header.trials {
            return Err(damaged(
                number,
                format!(
                    "no such trial: strategy {} (of {}), trial {} (of {})",
                    entry.strategy,
                    header.strategies.len(),
                    entry.row.trial,
                    header.trials
                ),
            ));
        }
        entries.push(entry);
    }
    Ok(entries)
}
