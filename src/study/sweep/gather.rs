//! Shares of a sweep: written by each process, joined by one.

use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{self, BufRead, BufReader, BufWriter, Read, Write};
use std::iter::Peekable;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::input;
use crate::study::journal::{Entry, KeptPoint};
use crate::study::store::{create_file, record, write_file};
use crate::study::{
    Handed, Handing, KeepError, Making, Part, Point, Shard, Sink, Sinks, StudySetup, Task,
};
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
    /// Checksum of the rest and seed of the checksums of the rows.
    checksum: String,
    #[serde(flatten)]
    part: Part,
}

/// Why shares cannot be joined.
#[derive(Debug, Error)]
pub enum GatherError {
    /// No folder was named.
    #[error("there is nothing to gather; name the folders that bendwise sweep --shard wrote")]
    Nothing,
    /// A folder holds no share.
    #[error("{} holds no share of a sweep ({reason}); name folders that bendwise sweep --shard wrote{hint}", .folder.display())]
    NoShare {
        /// The folder.
        folder: PathBuf,
        /// What is missing or wrong.
        reason: String,
        /// What may help.
        hint: &'static str,
    },
    /// Two shares belong to different sweeps.
    #[error("{} and {} do not belong together: {differences}; gather shares that one version computed from one sweep with one seed", .first.display(), .second.display())]
    Mixed {
        /// A folder.
        first: PathBuf,
        /// Another.
        second: PathBuf,
        /// What differs.
        differences: String,
    },
    /// A share is there twice.
    #[error("share {number}/{of} stands in both {} and {}; name each share once", .first.display(), .second.display())]
    Overlap {
        /// Number of the share.
        number: usize,
        /// Number of shares.
        of: usize,
        /// A folder.
        first: PathBuf,
        /// Another.
        second: PathBuf,
    },
    /// The result would replace a share.
    #[error("{} is one of the shares, which the result would replace; choose another --out", .folder.display())]
    OntoShare {
        /// The share.
        folder: PathBuf,
    },
    /// Shares are missing.
    #[error(
        "of {of} shares these are missing: {missing}; compute them with --shard and name their folders too"
    )]
    Missing {
        /// Number of shares.
        of: usize,
        /// Numbers of those missing, in words.
        missing: String,
    },
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

/// Shares that belong together and are all there.
#[derive(Debug)]
pub struct Shares {
    setup: StudySetup,
    /// Folders in the order of the shares.
    folders: Vec<PathBuf>,
}

/// The rows of a share, in their order.
type Rows = Peekable<Box<dyn Iterator<Item = Result<Entry, KeepError>>>>;

impl Shares {
    /// Opens the shares in these folders.
    ///
    /// # Errors
    ///
    /// [`GatherError`].
    pub fn open(folders: &[PathBuf]) -> Result<Self, GatherError> {
        let headers = folders
            .iter()
            .map(|folder| header(folder))
            .collect::<Result<Vec<_>, _>>()?;
        let (Some(first), Some(first_folder)) = (headers.first(), folders.first()) else {
            return Err(GatherError::Nothing);
        };
        let of = first.shard.of;
        let mut places: Vec<Option<&PathBuf>> = vec![None; of];
        for (header, folder) in headers.iter().zip(folders) {
            let mut differences = first.setup.differences(&header.setup);
            if differences.is_empty() && header.shard.of != of {
                let counts = [of, header.shard.of].map(|of| of.to_string());
                let [first, second] = counts;
                differences.push(["number of shares".to_owned(), first, second]);
            }
            if !differences.is_empty() {
                let said =
                    |[field, one, other]: &[String; 3]| format!("{field}: {one} and {other}");
                let differences: Vec<String> = differences.iter().map(said).collect();
                return Err(GatherError::Mixed {
                    first: first_folder.clone(),
                    second: folder.clone(),
                    differences: differences.join("; "),
                });
            }
            let number = header.shard.number;
            let place = number
                .checked_sub(1)
                .and_then(|index| places.get_mut(index));
            match place {
                Some(place @ None) => *place = Some(folder),
                Some(Some(other)) => {
                    return Err(GatherError::Overlap {
                        number,
                        of,
                        first: (*other).clone(),
                        second: folder.clone(),
                    });
                }
                None => {
                    return Err(GatherError::NoShare {
                        folder: folder.clone(),
                        reason: format!("it says it is share {number} of {of}"),
                        hint: "",
                    });
                }
            }
        }
        let missing: BTreeSet<usize> = (1..=of).filter(|n| places[n - 1].is_none()).collect();
        if !missing.is_empty() {
            let words: Vec<String> = missing.iter().take(20).map(usize::to_string).collect();
            return Err(GatherError::Missing {
                of,
                missing: words.join(", ") + if missing.len() > 20 { ", ..." } else { "" },
            });
        }
        Ok(Self {
            setup: first.setup.clone(),
            folders: places.into_iter().flatten().cloned().collect(),
        })
    }

    /// The sweep.
    #[must_use]
    pub fn setup(&self) -> &StudySetup {
        &self.setup
    }

    /// Refuses a folder for the result that is one of the shares, which it would replace.
    ///
    /// # Errors
    ///
    /// [`GatherError::OntoShare`].
    pub fn refuse_as_target(&self, target: &Path) -> Result<(), GatherError> {
        let Ok(target) = fs::canonicalize(target) else {
            return Ok(());
        };
        let is_target = |share: &&PathBuf| fs::canonicalize(share).is_ok_and(|s| s == target);
        match self.folders.iter().find(is_target) {
            None => Ok(()),
            Some(share) => Err(GatherError::OntoShare {
                folder: share.clone(),
            }),
        }
    }

    /// Hands all points on to sinks that write into `folder`.
    ///
    /// # Errors
    ///
    /// What could not be read, made or written.
    pub fn hand_on(&self, folder: &Path, sinks: Sinks<'_>) -> Result<Handed, KeepError> {
        let mut handing = Handing::begin(folder, &self.setup, sinks)?;
        for point in self.in_order()? {
            let (number, kept) = point?;
            handing.point(number, &kept.into_trials(self.setup.strategies.len()))?;
        }
        handing.finish()
    }

    /// What is kept of all points in rising order.
    ///
    /// # Errors
    ///
    /// Where the rows of a share cannot be opened; the items, where they cannot be read or are
    /// not all there.
    pub fn in_order(
        &self,
    ) -> Result<impl Iterator<Item = Result<(usize, KeptPoint), KeepError>> + '_, KeepError> {
        let setup = &self.setup;
        let of = self.folders.len();
        let mut shares = Vec::new();
        for (index, folder) in self.folders.iter().enumerate() {
            let shard = Shard {
                number: index + 1,
                of,
            };
            let path = folder.join(ROWS);
            let rows = rows(&path, setup, shard)?;
            shares.push((path, rows));
        }
        let last = setup.points;
        Ok((0..=last).filter_map(move |point| {
            if point < last {
                let (path, rows) = &mut shares[point % of];
                return Some(one_point(point, path, rows, setup).map(|kept| (point, kept)));
            }
            let left = shares
                .iter_mut()
                .find_map(|(path, rows)| rows.next().map(|row| (path, row)))?;
            Some(Err(match left {
                (_, Err(error)) => error,
                (path, Ok(entry)) => {
                    let point = entry.point();
                    changed(
                        path,
                        &format!("rows of point {point} stand there out of turn"),
                    )
                }
            }))
        }))
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
fn rows(path: &Path, setup: &StudySetup, shard: Shard) -> Result<Rows, KeepError> {
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

/// All trials of a point, which come next in the rows of its share.
fn one_point(
    point: usize,
    path: &Path,
    rows: &mut Rows,
    setup: &StudySetup,
) -> Result<KeptPoint, KeepError> {
    let mut kept = KeptPoint::default();
    while let Some(entry) = rows.next_if(|row| match row {
        Ok(entry) => entry.point() == point,
        Err(_) => true,
    }) {
        if !kept.add(entry?, false) {
            let reason = format!("a trial of point {point} stands there twice");
            return Err(changed(path, &reason));
        }
    }
    let least = setup.strategies.len() * setup.trials as usize;
    let found = kept.trials.len();
    if kept.refused.is_none() && found < least {
        let reason = format!("point {point} has {found} of {least} trials");
        return Err(changed(path, &reason));
    }
    Ok(kept)
}

/// The rows of a share are not those that were written.
fn changed(path: &Path, reason: &str) -> KeepError {
    let reason = format!("{reason}; the file was changed from outside");
    cannot_gather(&path.display().to_string(), reason)
}

fn cannot_gather(what: &str, reason: String) -> KeepError {
    KeepError::Output {
        what: format!("cannot gather {what}"),
        reason,
    }
}

fn header(folder: &Path) -> Result<Part, GatherError> {
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
