//! The files of a share of a sweep: its description and its rows, written and read.

use std::fs::{self, File};
use std::io::{self, BufRead, BufReader, BufWriter, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::gather_error::{GatherError, cannot_gather};
use super::share_tally::{Sealed, ShareTally};
use crate::input;
use crate::study::journal::JournalEntry;
use crate::study::store::{create_file, record, write_file};
use crate::study::{KeepError, Making, Part, Point, Shard, Sink, StudySetup, Task};
use crate::trial::result::TrialRecord;

/// Name of a share's description.
const SHARE: &str = "share.json";
/// Name of a share's rows.
const ROWS: &str = "rows.jsonl";
/// Longest line of the rows in bytes: a trial takes some thousand.
const MOST_LINE: usize = 1 << 20;

/// A share's description in its file.
#[derive(Debug, Serialize, Deserialize)]
struct Described {
    /// Checksum of what it is a share of, and seed of the checksums of the rows.
    checksum: String,
    /// How its trials ended; none in shares of older versions.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    tally: Option<Sealed>,
    #[serde(flatten)]
    part: Part,
}

/// What a folder is a share of, and how its trials ended.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct ShareHeader {
    pub(super) part: Part,
    /// Seed of the checksums of its rows.
    pub(super) seed: u32,
    pub(super) tally: Option<ShareTally>,
}

/// The seed of the checksums of a share's rows.
fn seed(part: &Part) -> io::Result<u32> {
    Ok(record::checksum(0, &serde_json::to_vec(part)?))
}

/// Writes a share: its rows, and what it is a share of.
pub struct ShareSink<'a> {
    part: &'a Part,
    /// The rows with their file, and the seed of their checksums.
    rows: Option<(BufWriter<File>, PathBuf, u32)>,
    tally: ShareTally,
}

impl<'a> ShareSink<'a> {
    /// The sink of a share.
    #[must_use]
    pub fn new(part: &'a Part) -> Self {
        let tally = ShareTally::new(part.setup.strategies.len());
        Self {
            part,
            rows: None,
            tally,
        }
    }

    fn write(&mut self, entry: &JournalEntry) -> Result<(), KeepError> {
        let Some((file, path, seed)) = &mut self.rows else {
            return Ok(());
        };
        self.tally.count_entry(entry);
        let line = record::line(*seed, entry).map_err(io::Error::from);
        line.and_then(|line| file.write_all(&line))
            .map_err(KeepError::at(path))
    }
}

impl Sink for ShareSink<'_> {
    fn begin(&mut self, folder: &Path, _: &StudySetup) -> Result<(), KeepError> {
        let path = folder.join(ROWS);
        let seed = seed(self.part).map_err(KeepError::at(&path))?;
        self.rows = Some((BufWriter::new(create_file(&path)?), path, seed));
        Ok(())
    }

    fn point(&mut self, point: &Point<'_>) -> Result<Vec<Making>, KeepError> {
        if let Some(refused) = point.refused {
            self.write(&JournalEntry::Refused {
                point: point.number,
                refused: refused.to_owned(),
            })?;
        }
        for (strategy, rows) in point.rows.iter().enumerate() {
            for row in rows {
                let task = Task {
                    point: point.number,
                    strategy,
                    trial: row.trial,
                };
                let record = TrialRecord {
                    row: row.clone(),
                    ..TrialRecord::default()
                };
                self.write(&JournalEntry::finished(task, record, Vec::new()))?;
            }
        }
        Ok(Vec::new())
    }

    fn finish(&mut self, folder: &Path) -> Result<Vec<Making>, KeepError> {
        let Some((mut file, path, seed)) = self.rows.take() else {
            return Ok(Vec::new());
        };
        file.flush().map_err(KeepError::at(&path))?;
        let path = folder.join(SHARE);
        let text = Sealed::new(seed, self.tally.clone()).and_then(|tally| {
            serde_json::to_string_pretty(&Described {
                checksum: format!("{seed:08x}"),
                tally: Some(tally),
                part: self.part.clone(),
            })
        });
        let text = text.map_err(|error| KeepError::at(&path)(error.into()))?;
        write_file(&path, text + "\n")?;
        Ok(Vec::new())
    }
}

/// Opens a file on a disk; a pipe may never have a beginning.
fn regular(path: &Path) -> io::Result<File> {
    if !fs::metadata(path)?.is_file() {
        return Err(io::Error::other("it is no file on a disk"));
    }
    File::open(path)
}

/// The rows of a share, read in their order. The file may be closed in between, as thousands of shares
/// have more files than a process may have open.
pub(super) struct ShareRows {
    pub(super) path: PathBuf,
    share: Shard,
    seed: u32,
    file: Option<BufReader<File>>,
    /// Bytes and lines that were read.
    read: (u64, usize),
    next: Option<JournalEntry>,
}

impl ShareRows {
    /// The rows of a share in this folder; each has its checksum behind `seed`.
    pub(super) fn new(folder: &Path, share: Shard, seed: u32) -> Self {
        Self {
            path: folder.join(ROWS),
            share,
            seed,
            file: None,
            read: (0, 0),
            next: None,
        }
    }

    /// Whether the file is open.
    pub(super) fn is_open(&self) -> bool {
        self.file.is_some()
    }

    /// Closes the file until it is read again.
    pub(super) fn close(&mut self) {
        self.file = None;
    }

    /// The next row, left where it is; `None` at the end.
    pub(super) fn peek(&mut self) -> Result<Option<&JournalEntry>, KeepError> {
        if self.next.is_none() {
            self.next = self.read()?;
        }
        Ok(self.next.as_ref())
    }

    /// The next row if it is of that point.
    pub(super) fn next_of(&mut self, point: usize) -> Result<Option<JournalEntry>, KeepError> {
        let is_of = self.peek()?.is_some_and(|entry| entry.point() == point);
        Ok(self.next.take_if(|_| is_of))
    }

    fn read(&mut self) -> Result<Option<JournalEntry>, KeepError> {
        let open = || -> io::Result<BufReader<File>> {
            let mut file = regular(&self.path)?;
            file.seek(SeekFrom::Start(self.read.0))?;
            Ok(BufReader::new(file))
        };
        let file = match self.file.take() {
            Some(file) => file,
            None => open().map_err(KeepError::at(&self.path))?,
        };
        let file = self.file.insert(file);
        let (line, bytes) = line(file).map_err(KeepError::at(&self.path))?;
        let Some(line) = line else {
            return Ok(None);
        };
        self.read.0 += bytes;
        self.read.1 += 1;
        if line.len() > MOST_LINE {
            return Err(self.cannot(&format!(
                "the line is longer than {MOST_LINE} bytes, more than any trial takes; the file was \
                 changed from outside:"
            )));
        }
        let entry = record::record(self.seed, &line);
        let entry = entry.and_then(|text| serde_json::from_slice(text).ok());
        entry.map(Some).ok_or_else(|| self.no_trial())
    }

    /// The line read last is no row of the share.
    pub(super) fn no_trial(&self) -> KeepError {
        self.cannot("the line is damaged or no trial of this share;")
    }

    fn cannot(&self, reason: &str) -> KeepError {
        let what = format!("{}, line {}", self.path.display(), self.read.1);
        cannot_gather(
            &what,
            format!("{reason} compute share {} again", self.share),
        )
    }
}

/// The next line without its end, cut one byte behind the longest that is taken, and the bytes that were
/// read; no line at the end.
fn line(file: &mut impl BufRead) -> io::Result<(Option<Vec<u8>>, u64)> {
    let mut line = Vec::new();
    let read = file
        .by_ref()
        .take(MOST_LINE as u64 + 1)
        .read_until(b'\n', &mut line)?;
    if line.is_empty() {
        return Ok((None, 0));
    }
    if line.last() == Some(&b'\n') {
        line.pop();
    }
    Ok((Some(line), read as u64))
}

/// Whether the folder holds the finished share that this part is.
#[must_use]
pub fn is_finished(folder: &Path, part: &Part) -> bool {
    header(folder).is_ok_and(|header| part.differences(&header.part).is_empty())
}

/// Reads and checks what a folder is a share of.
pub(super) fn header(folder: &Path) -> Result<ShareHeader, GatherError> {
    let refuse = |reason: String| GatherError::NoShare {
        folder: folder.to_owned(),
        reason,
        hint: if folder.is_file() {
            "; this is a file"
        } else if folder.join("sweep.json").exists() {
            "; this folder holds a whole sweep already"
        } else {
            ""
        },
    };
    let text = input::text(&folder.join(SHARE))
        .map_err(|error| refuse(format!("{SHARE} cannot be read: {error}")))?;
    let described: Described = serde_json::from_str(&text)
        .map_err(|error| refuse(format!("{SHARE} does not read: {error}")))?;
    let part = described.part;
    let wrong = || {
        refuse(format!(
            "the checksum in {SHARE} does not match; compute the share again"
        ))
    };
    let seed = seed(&part).map_err(|_| wrong())?;
    let tally_is_right = described.tally.as_ref().is_none_or(|sealed| {
        Sealed::new(seed, sealed.tally.clone()).is_ok_and(|anew| anew.crc32 == sealed.crc32)
    });
    if format!("{seed:08x}") != described.checksum || !tally_is_right {
        return Err(wrong());
    }
    let Shard { number, of } = part.shard;
    if !(1..=Shard::MOST).contains(&of) || !(1..=of).contains(&number) {
        return Err(refuse(format!("{SHARE} says share {number} of {of}")));
    }
    let tally = described.tally.map(|sealed| sealed.tally);
    Ok(ShareHeader { part, seed, tally })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_without_an_end_takes_no_more_memory_than_the_longest() {
        let mut text = b"one\n\ntwo\n".to_vec();
        text.extend(vec![b'x'; 3 * MOST_LINE]);
        let mut file = text.as_slice();
        let mut lengths = Vec::new();
        while let Ok((Some(line), _)) = line(&mut file) {
            lengths.push(line.len());
        }
        assert_eq!(lengths[..3], [3, 0, 3]);
        assert_eq!(lengths[3], MOST_LINE + 1);
    }
}
