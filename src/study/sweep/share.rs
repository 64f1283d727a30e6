//! The files of a share of a sweep: its description and its rows, written and read.

use std::fs::{self, File};
use std::io::{self, BufRead, BufReader, BufWriter, Read, Write};
use std::iter::Peekable;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::gather_error::{GatherError, cannot_gather};
use crate::input;
use crate::study::journal::Entry;
use crate::study::store::{create_file, record, write_file};
use crate::study::{KeepError, Making, Part, Point, Shard, Sink, StudySetup, Task};
use crate::trial::result::TrialRecord;

/// Name of a share's description.
const SHARE: &str = "share.json";
/// Name of a share's rows.
pub(super) const ROWS: &str = "rows.jsonl";
/// Longest line of the rows in bytes: a trial takes some thousand.
const MOST_LINE: usize = 1 << 20;

/// A share's description in its file.
#[derive(Debug, Serialize, Deserialize)]
struct Described {
    /// Checksum of the rest and seed of the checksums of the rows.
    checksum: String,
    #[serde(flatten)]
    part: Part,
}

/// The rows of a share, in their order.
pub(super) type Rows = Peekable<Box<dyn Iterator<Item = Result<Entry, KeepError>>>>;

/// The seed of the checksums of a share's rows.
fn seed(part: &Part) -> io::Result<u32> {
    Ok(record::checksum(0, &serde_json::to_vec(part)?))
}

/// Writes a share: its rows, and what it is a share of.
pub struct ShareSink<'a> {
    part: &'a Part,
    /// The rows with their file, and the seed of their checksums.
    rows: Option<(BufWriter<File>, PathBuf, u32)>,
}

impl<'a> ShareSink<'a> {
    /// The sink of a share.
    #[must_use]
    pub fn new(part: &'a Part) -> Self {
        Self { part, rows: None }
    }

    fn write(&mut self, entry: &Entry) -> Result<(), KeepError> {
        let Some((file, path, seed)) = &mut self.rows else {
            return Ok(());
        };
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
            self.write(&Entry::Refused {
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
                self.write(&Entry::finished(task, record, Vec::new()))?;
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
        let described = Described {
            checksum: format!("{seed:08x}"),
            part: self.part.clone(),
        };
        let text = serde_json::to_string_pretty(&described)
            .map_err(|error| KeepError::at(&path)(error.into()))?;
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

/// Opens the rows of a share; each has its checksum and names a trial of that share.
pub(super) fn rows(path: &Path, setup: &StudySetup, shard: Shard) -> Result<Rows, KeepError> {
    let file = regular(path).map_err(KeepError::at(path))?;
    let part = Part {
        setup: setup.clone(),
        shard,
    };
    let seed = seed(&part).map_err(KeepError::at(path))?;
    let path = path.to_owned();
    let mut file = BufReader::new(file);
    let lines = std::iter::from_fn(move || line(&mut file).transpose()).enumerate();
    let entries = lines.map(move |(index, line)| {
        let line = line.map_err(KeepError::at(&path))?;
        let cannot = |reason: String| {
            let what = format!("{}, line {}", path.display(), index + 1);
            cannot_gather(&what, format!("{reason} compute share {shard} again"))
        };
        if line.len() > MOST_LINE {
            return Err(cannot(format!(
                "the line is longer than {MOST_LINE} bytes, more than any trial takes; the file was \
                 changed from outside:"
            )));
        }
        let entry = record::record(seed, &line).and_then(|text| serde_json::from_slice(text).ok());
        let entry = entry.filter(|entry| part.has(entry));
        entry.ok_or_else(|| cannot("the line is damaged or no trial of this share;".to_owned()))
    });
    let entries: Box<dyn Iterator<Item = _>> = Box::new(entries);
    Ok(entries.peekable())
}

/// The next line without its end, cut one byte behind the longest that is taken; `None` at the end.
fn line(file: &mut impl BufRead) -> io::Result<Option<Vec<u8>>> {
    let mut line = Vec::new();
    file.by_ref()
        .take(MOST_LINE as u64 + 1)
        .read_until(b'\n', &mut line)?;
    if line.is_empty() {
        return Ok(None);
    }
    if line.last() == Some(&b'\n') {
        line.pop();
    }
    Ok(Some(line))
}

/// Reads and checks what a folder is a share of.
pub(super) fn header(folder: &Path) -> Result<Part, GatherError> {
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
    if !seed(&part).is_ok_and(|seed| format!("{seed:08x}") == described.checksum) {
        return Err(refuse(format!(
            "the checksum in {SHARE} does not match; compute the share again"
        )));
    }
    let Shard { number, of } = part.shard;
    if !(1..=Shard::MOST).contains(&of) || !(1..=of).contains(&number) {
        return Err(refuse(format!("{SHARE} says share {number} of {of}")));
    }
    Ok(part)
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
        while let Ok(Some(line)) = line(&mut file) {
            lengths.push(line.len());
        }
        assert_eq!(lengths[..3], [3, 0, 3]);
        assert_eq!(lengths[3], MOST_LINE + 1);
    }
}
