//! Where results flow: sinks see every trial as it is known and write what they make of it.
//!
//! A sink reads no file back that its own run has written. What an earlier run of the same batch left
//! is read by the batch, through [`Sink::recall`], and handed on like a trial that has just ended.

use std::path::Path;

use rayon::prelude::*;

use super::error::KeepError;
use super::plan::{Plan, StrategyLabel};
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

/// A batch of which every trial is known.
#[derive(Debug, Clone, Copy)]
pub struct Study<'a> {
    /// The folder that is written to.
    pub folder: &'a Path,
    /// What was asked for.
    pub plan: &'a Plan,
    /// The rows: a list for each strategy, in order of trial.
    pub rows: &'a [Vec<TrialRow>],
    /// What the trials pressed on: a list for each strategy, in it one for each trial.
    pub pressed: &'a [Vec<Vec<Pressed>>],
}

/// Names and bytes of files that belong together, the names with slashes in the folder.
pub type Files = Vec<(String, Vec<u8>)>;

/// Files that are made when the study is finished, side by side with those of other sinks.
pub type Making = Box<dyn FnOnce() -> Result<Files, KeepError> + Send>;

/// What becomes of results: a table, shapes for a viewer, a figure.
///
/// A trial that is computed is first written, by [`Sink::write`], then seen, by [`Sink::trial`]. Calls
/// come from several threads, one at a time, and the trials in any order: what a sink leaves behind
/// must not depend on it.
pub trait Sink: Send {
    /// Names in the folder, with slashes, of the files that [`Sink::write`] writes for a trial. A
    /// file that is damaged when a batch goes on is made again.
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

    /// Trials, by number of strategy and trial, of which a record is wanted beside those that the
    /// plan records, now that all rows are known; they are computed again.
    fn wanted(&self, plan: &Plan, rows: &[Vec<TrialRow>]) -> Vec<(usize, u32)> {
        let _ = (plan, rows);
        Vec::new()
    }

    /// Writes what needs all trials, and returns what takes time to make: it is made on all threads
    /// and written in the order of the sinks.
    ///
    /// # Errors
    ///
    /// What could not be made or written.
    fn finish(&mut self, study: &Study<'_>) -> Result<Vec<Making>, KeepError>;
}

/// The sinks of a batch, in the order in which they write.
pub type Sinks<'a> = Vec<Box<dyn Sink + 'a>>;

/// Makes files on all threads of the pool around and writes them into `folder` in their order, so
/// that nothing depends on the number of threads.
///
/// # Errors
///
/// What could not be made or written.
pub fn make(folder: &Path, makings: Vec<Making>) -> Result<(), KeepError> {
    let mut left = makings.into_iter();
    loop {
        let some: Vec<Making> = left.by_ref().take(AT_ONCE).collect();
        if some.is_empty() {
            return Ok(());
        }
        let made: Vec<_> = some.into_par_iter().map(|making| making()).collect();
        for files in made {
            for (name, bytes) in files? {
                write_file(&folder.join(name), bytes)?;
            }
        }
    }
}
