//! Shares of a sweep, each computed by a process of its own, joined.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use super::gather_error::{GatherError, cannot_gather};
use super::share::{ROWS, Rows, header, rows};
use crate::study::journal::KeptPoint;
use crate::study::{Handed, Handing, KeepError, Shard, Sinks, StudySetup};

/// Shares that belong together and are all there.
#[derive(Debug)]
pub struct Shares {
    setup: StudySetup,
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
