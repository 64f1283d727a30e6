//! Shares of a sweep, each computed by a process of its own, joined.

use std::collections::{BTreeMap, VecDeque};
use std::fs;
use std::path::{Path, PathBuf};

use super::array::ArrayPlan;
use super::gather_error::{GatherError, cannot_gather, ranges};
use super::share::{ShareRows, header};
use crate::study::journal::{JournalEntry, KeptPoint};
use crate::study::{Deal, Handed, Handing, KeepError, Shard, Sinks, StudyOf, StudySetup};

/// Files of rows that are open at one time.
const MOST_OPEN: usize = 200;

/// Shares that belong together: all of a sweep, or what there is of them so far.
#[derive(Debug)]
pub struct Shares {
    setup: StudySetup,
    deal: Option<Deal>,
    /// In the order of the shares.
    places: Vec<Held>,
}

/// What there is of a share.
#[derive(Debug)]
enum Held {
    /// A finished share in this folder, and the seed of the checksums of its rows.
    Whole(PathBuf, u32),
    /// What is kept of an unfinished one; points without all of their trials too.
    Some(BTreeMap<usize, KeptPoint>),
}

impl Shares {
    /// Opens the shares in these folders; a single folder may be that of an array.
    ///
    /// # Errors
    ///
    /// [`GatherError`].
    pub fn open(folders: &[PathBuf]) -> Result<Self, GatherError> {
        if let [folder] = folders
            && let Some(plan) = ArrayPlan::read(folder)?
        {
            return Self::of_array(folder, &plan, false);
        }
        let headers = folders
            .iter()
            .map(|folder| header(folder))
            .collect::<Result<Vec<_>, _>>()?;
        let (Some(first), Some(first_folder)) = (headers.first(), folders.first()) else {
            return Err(GatherError::Nothing);
        };
        let first = &first.part;
        if first.deal.is_some() {
            return Err(GatherError::Dealt {
                folder: first_folder.clone(),
            });
        }
        let of = first.shard.of;
        let mut places: Vec<Option<(&PathBuf, u32)>> = vec![None; of];
        for (header, folder) in headers.iter().zip(folders) {
            let part = &header.part;
            let mut differences = first.setup.differences(&part.setup);
            if differences.is_empty() && part.shard.of != of {
                let counts = [of, part.shard.of].map(|of| of.to_string());
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
            let number = part.shard.number;
            let place = number
                .checked_sub(1)
                .and_then(|index| places.get_mut(index));
            match place {
                Some(place @ None) => *place = Some((folder, header.seed)),
                Some(Some((other, _))) => {
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
        let missing: Vec<usize> = (1..=of).filter(|n| places[n - 1].is_none()).collect();
        if !missing.is_empty() {
            return Err(GatherError::Missing {
                of,
                count: missing.len(),
                missing: ranges(&missing),
            });
        }
        let whole = places.into_iter().flatten();
        let whole = whole.map(|(folder, seed)| Held::Whole(folder.clone(), seed));
        Ok(Self {
            setup: first.setup.clone(),
            deal: None,
            places: whole.collect(),
        })
    }

    /// Opens the shares of the array in `folder`: all of them, or with `so_far` what there is.
    ///
    /// # Errors
    ///
    /// [`GatherError`]; [`GatherError::Unfinished`] where shares are not finished and all are wanted.
    pub fn of_array(folder: &Path, plan: &ArrayPlan, so_far: bool) -> Result<Self, GatherError> {
        let mut places = Vec::with_capacity(plan.of);
        let (mut missing, mut begun) = (Vec::new(), Vec::new());
        for number in 1..=plan.of {
            if let Some((seed, _)) = plan.finished(folder, number)? {
                let share = ArrayPlan::share_folder(folder, number);
                places.push(Held::Whole(share, seed));
                continue;
            }
            let kept = plan.kept(folder, number);
            match kept.values().map(|point| point.trials.len()).sum() {
                0 if kept.is_empty() => missing.push(number),
                trials => begun.push((number, trials)),
            }
            // Where all are wanted this is refused below.
            places.push(Held::Some(if so_far { kept } else { BTreeMap::new() }));
        }
        let open = missing.len() + begun.len();
        if open > 0 && !so_far {
            return Err(GatherError::Unfinished {
                folder: folder.to_owned(),
                of: plan.of,
                missing,
                begun,
            });
        }
        let mut setup = plan.setup.clone();
        if open > 0 {
            let shares = format!("{} of {} shares", plan.of - open, plan.of);
            setup.description = format!(
                "**SO FAR: {shares} are finished.** Of the others, points are in that have all of their \
                 trials.\n\n{}",
                setup.description
            );
            setup.of = StudyOf::SoFar {
                name: format!("{} (so far: {shares})", setup.of.name()),
                shares,
            };
        }
        Ok(Self {
            setup,
            deal: Some(plan.deal.clone()),
            places,
        })
    }

    /// The sweep; of what there is so far its name and description say so.
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
        let is_target = |held: &&Held| match held {
            Held::Whole(share, _) => fs::canonicalize(share).is_ok_and(|s| s == target),
            Held::Some(_) => false,
        };
        match self.places.iter().find(is_target) {
            Some(Held::Whole(share, _)) => Err(GatherError::OntoShare {
                folder: share.clone(),
            }),
            _ => Ok(()),
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
        let mut reading = ShareReading::new(self);
        let last = self.setup.points;
        Ok((0..=last).filter_map(move |point| {
            if point < last {
                return Some(reading.point(point).map(|kept| (point, kept)));
            }
            reading.left_over().map(Err)
        }))
    }

    /// The place, from 0, of the share that has a point.
    fn place_of(&self, point: usize) -> usize {
        match &self.deal {
            None => point % self.places.len(),
            Some(deal) => deal.share_of(point).map_or(0, |number| number - 1),
        }
    }

    /// Whether a row may stand in the share at `place`.
    fn has(&self, place: usize, entry: &JournalEntry) -> bool {
        let point = entry.point();
        point < self.setup.points && self.place_of(point) == place && self.setup.has_trial(entry)
    }
}

/// The rows of all shares while they are read.
struct ShareReading<'s> {
    shares: &'s Shares,
    rows: Vec<Option<ShareRows>>,
    /// Places whose files are open, the latest at the end.
    open: VecDeque<usize>,
}

impl<'s> ShareReading<'s> {
    fn new(shares: &'s Shares) -> Self {
        let of = shares.places.len();
        let places = shares.places.iter().zip(1..);
        let rows = places.map(|(held, number)| match held {
            Held::Whole(folder, seed) => Some(ShareRows::new(folder, Shard { number, of }, *seed)),
            Held::Some(_) => None,
        });
        Self {
            shares,
            rows: rows.collect(),
            open: VecDeque::new(),
        }
    }

    /// All trials of a point, which come next in the rows of its share.
    fn point(&mut self, point: usize) -> Result<KeptPoint, KeepError> {
        let place = self.shares.place_of(point);
        let setup = &self.shares.setup;
        let least = setup.strategies.len() * setup.trials as usize;
        let is_whole = |kept: &KeptPoint| kept.refused.is_some() || kept.trials.len() >= least;
        if let Held::Some(kept) = &self.shares.places[place] {
            return Ok(match kept.get(&point).filter(|kept| is_whole(kept)) {
                Some(kept) => kept.clone(),
                None => KeptPoint {
                    refused: Some(format!(
                        "not computed yet; it belongs to share {} of {}",
                        place + 1,
                        self.shares.places.len()
                    )),
                    ..KeptPoint::default()
                },
            });
        }
        self.make_room(place);
        let Some(rows) = &mut self.rows[place] else {
            return Ok(KeptPoint::default());
        };
        let mut kept = KeptPoint::default();
        while let Some(entry) = rows.next_of(point)? {
            if !self.shares.has(place, &entry) {
                return Err(rows.no_trial());
            }
            if !kept.add(entry, false) {
                let reason = format!("a trial of point {point} stands there twice");
                return Err(changed(&rows.path, &reason));
            }
        }
        if !is_whole(&kept) {
            let found = kept.trials.len();
            let reason = format!("point {point} has {found} of {least} trials");
            return Err(changed(&rows.path, &reason));
        }
        Ok(kept)
    }

    /// Closes the file that was not read for longest, where one more would be too many.
    fn make_room(&mut self, place: usize) {
        if self.rows[place].as_ref().is_some_and(ShareRows::is_open) {
            return;
        }
        if self.open.len() >= MOST_OPEN
            && let Some(rows) = self.open.pop_front().and_then(|p| self.rows[p].as_mut())
        {
            rows.close();
        }
        self.open.push_back(place);
    }

    /// What is wrong with rows behind the last point.
    fn left_over(&mut self) -> Option<KeepError> {
        for place in 0..self.rows.len() {
            self.make_room(place);
            let rows = self.rows[place].as_mut()?;
            match rows.peek() {
                Ok(None) => rows.close(),
                Err(error) => return Some(error),
                Ok(Some(entry)) if !self.shares.has(place, entry) => return Some(rows.no_trial()),
                Ok(Some(entry)) => {
                    let reason = format!("rows of point {} stand there out of turn", entry.point());
                    return Some(changed(&rows.path, &reason));
                }
            }
        }
        None
    }
}

/// The rows of a share are not those that were written.
fn changed(path: &Path, reason: &str) -> KeepError {
    let reason = format!("{reason}; the file was changed from outside");
    cannot_gather(&path.display().to_string(), reason)
}
