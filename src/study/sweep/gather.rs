//! Shares of a sweep: written by each process, joined by one.

use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

use thiserror::Error;

use super::plan::{Shard, SweepPlan};
use super::schedule::Task;
use super::store::{Entry, Kept, SweepHeader, add, entries, finished};
use crate::study::KeepError;

/// Name of a share's description.
const SHARE: &str = "share.json";
/// Name of a share's rows.
const ROWS: &str = "rows.jsonl";

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
    let file = File::create(&path).map_err(KeepError::at(&path))?;
    let mut writer = BufWriter::new(file);
    let mut write = |entry: &Entry| -> std::io::Result<()> {
        serde_json::to_writer(&mut writer, entry)?;
        writer.write_all(b"\n")
    };
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
    let header = SweepHeader {
        plan: header.0.clone(),
        shard: header.1,
    };
    let text = serde_json::to_string_pretty(&header)
        .map_err(|error| KeepError::at(&path)(error.into()))?;
    fs::write(&path, text + "\n").map_err(KeepError::at(&path))
}

/// Shares that belong together and are all there.
#[derive(Debug)]
pub struct Shares {
    plan: SweepPlan,
    /// Folders in the order of the shares.
    folders: Vec<PathBuf>,
}

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

    /// Rows of all points in rising order.
    ///
    /// # Errors
    ///
    /// Where the rows of a share cannot be opened; the items, where they cannot be read or are
    /// not all there.
    pub fn in_order(
        &self,
    ) -> Result<impl Iterator<Item = Result<(usize, Kept), KeepError>> + '_, KeepError> {
        let paths: Vec<PathBuf> = self.folders.iter().map(|f| f.join(ROWS)).collect();
        let mut readers = Vec::new();
        for path in &paths {
            let file = File::open(path).map_err(KeepError::at(path))?;
            readers.push(entries(file, path.clone()).peekable());
        }
        let plan = &self.plan;
        Ok((0..plan.points).map(move |point| {
            let of = readers.len();
            let reader = &mut readers[point % of];
            let mut kept = Kept::default();
            loop {
                match reader.peek() {
                    Some(Ok(entry)) if entry.point() == point => {
                        if let Some(Ok(entry)) = reader.next() {
                            add(&mut kept, entry);
                        }
                    }
                    Some(Err(_)) => {
                        if let Some(Err(error)) = reader.next() {
                            return Err(error);
                        }
                    }
                    _ => break,
                }
            }
            let least = plan.strategies.len() * plan.trials as usize;
            if kept.refused.is_none() && kept.rows.len() < least {
                return Err(KeepError::Output {
                    what: format!("cannot gather {}", paths[point % of].display()),
                    reason: format!(
                        "point {point} has {} of {least} trials; the file was changed from outside",
                        kept.rows.len()
                    ),
                });
            }
            Ok((point, kept))
        }))
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
    let text = fs::read_to_string(folder.join(SHARE))
        .map_err(|error| refuse(format!("{SHARE} cannot be read: {error}")))?;
    let header: SweepHeader = serde_json::from_str(&text)
        .map_err(|error| refuse(format!("{SHARE} does not read: {error}")))?;
    let Shard { number, of } = header.shard;
    if !(1..=Shard::MOST).contains(&of) || !(1..=of).contains(&number) {
        return Err(refuse(format!("{SHARE} says share {number} of {of}")));
    }
    Ok(header)
}
