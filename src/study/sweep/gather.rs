//! Shares of a sweep: written by each process, joined by one.

use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{self, BufRead, BufReader, BufWriter, Read, Write};
use std::iter::Peekable;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use thiserror::Error;

use super::plan::{Shard, SweepPlan};
use super::schedule::Task;
use super::store::{Entry, Kept, SweepHeader, add, finished};
use crate::input;
use crate::study::KeepError;
use crate::study::store::{create_file, record, write_file};

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
    plan: SweepPlan,
    shard: Shard,
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

/// Writes a finished share into `folder`.
///
/// # Errors
///
/// The failure of a file operation.
pub fn write_share(
    folder: &Path,
    header: (&SweepPlan, Shard),
    rows: impl Iterator<Item = Result<(usize, Kept), KeepError>>,
) -> Result<(), KeepError> {
    let path = folder.join(ROWS);
    let header = SweepHeader {
        plan: header.0.clone(),
        shard: header.1,
    };
    let seed = header
        .seed()
        .map_err(|error| KeepError::at(&path)(error.into()))?;
    let mut writer = BufWriter::new(create_file(&path)?);
    let mut write =
        |entry: &Entry| -> io::Result<()> { writer.write_all(&record::line(seed, entry)?) };
    for point in rows {
        let (point, kept) = point?;
        if let Some(refused) = kept.refused {
            write(&Entry::Refused { point, refused }).map_err(KeepError::at(&path))?;
        }
        for ((strategy, trial), row) in kept.rows {
            let task = Task {
                point,
                strategy,
                trial,
            };
            write(&finished(task, row)).map_err(KeepError::at(&path))?;
        }
    }
    writer.flush().map_err(KeepError::at(&path))?;
    let path = folder.join(SHARE);
    let described = Described {
        checksum: format!("{seed:08x}"),
        plan: header.plan,
        shard: header.shard,
    };
    let text = serde_json::to_string_pretty(&described)
        .map_err(|error| KeepError::at(&path)(error.into()))?;
    write_file(&path, text + "\n")
}

/// Shares that belong together and are all there.
#[derive(Debug)]
pub struct Shares {
    plan: SweepPlan,
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
            let mut differences = first.plan.differences(&header.plan);
            if differences.is_empty() && header.shard.of != of {
                differences = format!("number of shares: {of} and {}", header.shard.of);
            }
            if !differences.is_empty() {
                return Err(GatherError::Mixed {
                    first: first_folder.clone(),
                    second: folder.clone(),
                    differences,
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
            plan: first.plan.clone(),
            folders: places.into_iter().flatten().cloned().collect(),
        })
    }

    /// The sweep.
    #[must_use]
    pub fn plan(&self) -> &SweepPlan {
        &self.plan
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

    /// Rows of all points in rising order.
    ///
    /// # Errors
    ///
    /// Where the rows of a share cannot be opened; the items, where they cannot be read or are
    /// not all there.
    pub fn in_order(
        &self,
    ) -> Result<impl Iterator<Item = Result<(usize, Kept), KeepError>> + '_, KeepError> {
        let plan = &self.plan;
        let of = self.folders.len();
        let mut shares = Vec::new();
        for (index, folder) in self.folders.iter().enumerate() {
            let shard = Shard {
                number: index + 1,
                of,
            };
            let path = folder.join(ROWS);
            let rows = rows(&path, plan, shard)?;
            shares.push((path, rows));
        }
        let last = plan.points;
        Ok((0..=last).filter_map(move |point| {
            if point < last {
                let (path, rows) = &mut shares[point % of];
                return Some(one_point(point, path, rows, plan).map(|kept| (point, kept)));
            }
            let left = shares
                .iter_mut()
                .find_map(|(path, rows)| rows.next().map(|row| (path, row)))?;
            Some(Err(match left {
                (_, Err(error)) => error,
                (path, Ok(entry)) => out_of_turn(path, entry.point()),
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
fn rows(path: &Path, plan: &SweepPlan, shard: Shard) -> Result<Rows, KeepError> {
    let file = regular(path).map_err(KeepError::at(path))?;
    let header = SweepHeader {
        plan: plan.clone(),
        shard,
    };
    let seed = header
        .seed()
        .map_err(|error| KeepError::at(path)(error.into()))?;
    let path = path.to_owned();
    let mut file = BufReader::new(file);
    let lines = std::iter::from_fn(move || line(&mut file).transpose()).enumerate();
    let entries = lines.map(move |(index, line)| {
        let line = line.map_err(KeepError::at(&path))?;
        if line.len() > MOST_LINE {
            return Err(KeepError::Output {
                what: format!("cannot gather {}, line {}", path.display(), index + 1),
                reason: format!(
                    "the line is longer than {MOST_LINE} bytes, more than any trial takes; the file was \
                     changed from outside: compute share {}/{} again",
                    shard.number, shard.of
                ),
            });
        }
        let entry = record::record(seed, &line).and_then(|text| serde_json::from_slice(text).ok());
        let entry = entry.filter(|entry| header.has(entry));
        entry.ok_or_else(|| KeepError::Output {
            what: format!("cannot gather {}, line {}", path.display(), index + 1),
            reason: format!(
                "the line is damaged or no trial of this share; compute share {}/{} again",
                shard.number, shard.of
            ),
        })
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
    plan: &SweepPlan,
) -> Result<Kept, KeepError> {
    let mut kept = Kept::default();
    while let Some(entry) = rows.next_if(|row| match row {
        Ok(entry) => entry.point() == point,
        Err(_) => true,
    }) {
        let before = kept.rows.len() + usize::from(kept.refused.is_some());
        add(&mut kept, entry?);
        if kept.rows.len() + usize::from(kept.refused.is_some()) == before {
            return Err(KeepError::Output {
                what: format!("cannot gather {}", path.display()),
                reason: format!(
                    "a trial of point {point} stands there twice; the file was changed from outside"
                ),
            });
        }
    }
    let least = plan.strategies.len() * plan.trials as usize;
    if kept.refused.is_none() && kept.rows.len() < least {
        return Err(KeepError::Output {
            what: format!("cannot gather {}", path.display()),
            reason: format!(
                "point {point} has {} of {least} trials; the file was changed from outside",
                kept.rows.len()
            ),
        });
    }
    Ok(kept)
}

fn out_of_turn(path: &Path, point: usize) -> KeepError {
    KeepError::Output {
        what: format!("cannot gather {}", path.display()),
        reason: format!(
            "rows of point {point} stand there out of turn; the file was changed from outside"
        ),
    }
}

fn header(folder: &Path) -> Result<SweepHeader, GatherError> {
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
    let header = SweepHeader {
        plan: described.plan,
        shard: described.shard,
    };
    let seed = header.seed();
    if !seed.is_ok_and(|seed| format!("{seed:08x}") == described.checksum) {
        return Err(refuse(format!(
            "the checksum in {SHARE} does not match; compute the share again"
        )));
    }
    let Shard { number, of } = header.shard;
    if !(1..=Shard::MOST).contains(&of) || !(1..=of).contains(&number) {
        return Err(refuse(format!("{SHARE} says share {number} of {of}")));
    }
    Ok(header)
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
