//! Where results flow: sinks see every trial as it is known and write what they make of it.
//!
//! A sink reads no file back that its own run has written. What an earlier run of the same study left
//! is read by the runner, through [`Sink::recall`], and handed on like a trial that has just ended.
//! Once all trials are known, the points pass through in rising order, each with its rows.

use std::path::Path;

use rayon::prelude::*;

use super::error::KeepError;
use super::journal::PointTrials;
use super::setup::{StrategyLabel, StudySetup};
use super::store::write_file;
use crate::trial::result::{Pressed, TrialRecord, TrialRow};

/// Files that are made before the first of them is written: bounds the memory that they take.
const AT_ONCE: usize = 64;

/// A trial that is known.
#[derive(Debug, Clone, Copy)]
pub struct Trial<'a> {
    /// Number of its strategy.
    pub strategy: usize,
    /// The strategy.
    pub label: &'a StrategyLabel,
    /// What it left behind; steps and shapes only where it is recorded.
    pub record: &'a TrialRecord,
}

impl<'a> Trial<'a> {
    /// A trial of this strategy of a study.
    #[must_use]
    pub fn new(setup: &'a StudySetup, strategy: usize, record: &'a TrialRecord) -> Self {
        Self {
            strategy,
            label: &setup.strategies[strategy],
            record,
        }
    }
}

/// A point of which every trial is known; a study of a scenario as it is has this one alone.
#[derive(Debug, Clone, Copy)]
pub struct Point<'a> {
    /// The folder that is written to.
    pub folder: &'a Path,
    /// What was asked for.
    pub setup: &'a StudySetup,
    /// Number of the point.
    pub number: usize,
    /// Why it could not be built; it has no trials then.
    pub refused: Option<&'a str>,
    /// The rows: a list for each strategy, in order of trial.
    pub rows: &'a [Vec<TrialRow>],
    /// What the trials pressed on: a list for each strategy, in it one for each trial.
    pub pressed: &'a [Vec<Vec<Pressed>>],
}

/// Names and bytes of files that belong together, the names with slashes in the folder.
pub type Files = Vec<(String, Vec<u8>)>;

/// Files that are made at the end, side by side with those of other sinks.
pub type Making = Box<dyn FnOnce() -> Result<Files, KeepError> + Send>;

/// What becomes of results: a table, shapes for a viewer, a figure.
///
/// A trial that is computed is first written, by [`Sink::write`], then seen, by [`Sink::trial`]. Calls
/// come from several threads, one at a time, and the trials in any order: what a sink leaves behind
/// must not depend on it.
pub trait Sink: Send {
    /// Names in the folder, with slashes, of the files that [`Sink::write`] writes for a trial. A
    /// file that is damaged when a study goes on is made again.
    fn files(&self, trial: Trial<'_>) -> Vec<String> {
        let _ = trial;
        Vec::new()
    }

    /// Writes into `folder` what a trial holds beside its row, by [`super::store::create_file`]. A
    /// second call for the same trial, after a run was killed, must leave the same files as the first.
    ///
    /// # Errors
    ///
    /// What could not be written.
    fn write(&self, folder: &Path, trial: Trial<'_>) -> Result<(), KeepError> {
        let _ = (folder, trial);
        Ok(())
    }

    /// Fills into `record`, of which the row is known, what [`Sink::write`] wrote of it in an earlier
    /// run.
    ///
    /// # Errors
    ///
    /// What cannot be read.
    fn recall(
        &self,
        folder: &Path,
        strategy: &StrategyLabel,
        record: &mut TrialRecord,
    ) -> Result<(), KeepError> {
        let _ = (folder, strategy, record);
        Ok(())
    }

    /// Sees a trial. Keep of it only what is needed at the end: there may be a million. A trial that
    /// is recorded after all, see [`Sink::wanted`], is seen a second time with its steps.
    ///
    /// # Errors
    ///
    /// What could not be made of it.
    fn trial(&mut self, trial: Trial<'_>) -> Result<(), KeepError> {
        let _ = trial;
        Ok(())
    }

    /// Trials of a point, by number of strategy and trial, of which a record is wanted beside those
    /// that the setup records, now that all its rows are known; they are computed again.
    fn wanted(&self, setup: &StudySetup, rows: &[Vec<TrialRow>]) -> Vec<(usize, u32)> {
        let _ = (setup, rows);
        Vec::new()
    }

    /// Opens what grows point by point; called once all trials are known, before the first point.
    ///
    /// # Errors
    ///
    /// What could not be created.
    fn begin(&mut self, folder: &Path, setup: &StudySetup) -> Result<(), KeepError> {
        let _ = (folder, setup);
        Ok(())
    }

    /// Sees a point, after all of its trials; writes what needs no other point, and returns what takes
    /// time to make: once all points have passed it is made on all threads and written in the order of
    /// the points, at each in that of the sinks. What it holds stays in memory until then.
    ///
    /// # Errors
    ///
    /// What could not be made or written.
    fn point(&mut self, point: &Point<'_>) -> Result<Vec<Making>, KeepError> {
        let _ = point;
        Ok(Vec::new())
    }

    /// Writes what needs all points, and returns what takes time to make.
    ///
    /// # Errors
    ///
    /// What could not be made or written.
    fn finish(&mut self, folder: &Path) -> Result<Vec<Making>, KeepError> {
        let _ = folder;
        Ok(Vec::new())
    }

    /// Sees a file that was made at the end by any sink, in the order in which they are written.
    fn made(&mut self, name: &str, bytes: &[u8]) {
        let _ = (name, bytes);
    }

    /// Files that show what others have made; called once all of those have been seen.
    ///
    /// # Errors
    ///
    /// What could not be made.
    fn close(&mut self) -> Result<Files, KeepError> {
        Ok(Vec::new())
    }

    /// What is to be printed of the finished study, if this sink has that.
    fn page(&mut self) -> Option<String> {
        None
    }
}

/// The sinks of a study, in the order in which they write.
pub type Sinks<'a> = Vec<Box<dyn Sink + 'a>>;

/// What came of handing all points on.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Handed {
    /// Points that could not be built.
    pub refused: usize,
    /// What is to be printed; empty where no sink has anything.
    pub page: String,
}

/// Hands the points of a study on to sinks.
pub struct Handing<'a, 's> {
    folder: &'a Path,
    setup: &'a StudySetup,
    /// The sinks.
    pub sinks: Sinks<'s>,
    makings: Vec<Making>,
    handed: Handed,
}

impl<'a, 's> Handing<'a, 's> {
    /// Begins to write into `folder`.
    ///
    /// # Errors
    ///
    /// What a sink could not create.
    pub fn begin(
        folder: &'a Path,
        setup: &'a StudySetup,
        mut sinks: Sinks<'s>,
    ) -> Result<Self, KeepError> {
        for sink in &mut sinks {
            sink.begin(folder, setup)?;
        }
        Ok(Self {
            folder,
            setup,
            sinks,
            makings: Vec::new(),
            handed: Handed::default(),
        })
    }

    /// Hands a point on, after all those with smaller numbers.
    ///
    /// # Errors
    ///
    /// What a sink could not make or write.
    pub fn point(&mut self, number: usize, trials: &PointTrials) -> Result<(), KeepError> {
        self.handed.refused += usize::from(trials.refused.is_some());
        let point = Point {
            folder: self.folder,
            setup: self.setup,
            number,
            refused: trials.refused.as_deref(),
            rows: &trials.rows,
            pressed: &trials.pressed,
        };
        for sink in &mut self.sinks {
            self.makings.extend(sink.point(&point)?);
        }
        Ok(())
    }

    /// Lets the sinks write what needs all points.
    ///
    /// # Errors
    ///
    /// What could not be made or written.
    pub fn finish(mut self) -> Result<Handed, KeepError> {
        for sink in &mut self.sinks {
            self.makings.extend(sink.finish(self.folder)?);
        }
        let sinks = &mut self.sinks;
        make(self.folder, self.makings, |name, bytes| {
            sinks.iter_mut().for_each(|sink| sink.made(name, bytes));
        })?;
        for sink in &mut self.sinks {
            for (name, bytes) in sink.close()? {
                write_file(&self.folder.join(name), bytes)?;
            }
        }
        self.handed.page = self.sinks.iter_mut().filter_map(|s| s.page()).collect();
        Ok(self.handed)
    }
}

/// Makes files on all threads of the pool around and writes them into `folder` in their order, so
/// that nothing depends on the number of threads; `seen` is shown each one, in the same order.
///
/// # Errors
///
/// What could not be made or written.
pub fn make(
    folder: &Path,
    makings: Vec<Making>,
    mut seen: impl FnMut(&str, &[u8]),
) -> Result<(), KeepError> {
    let mut left = makings.into_iter();
    loop {
        let some: Vec<Making> = left.by_ref().take(AT_ONCE).collect();
        if some.is_empty() {
            return Ok(());
        }
        let made: Vec<_> = some.into_par_iter().map(|making| making()).collect();
        for files in made {
            for (name, bytes) in files? {
                seen(&name, &bytes);
                write_file(&folder.join(name), bytes)?;
            }
        }
    }
}
