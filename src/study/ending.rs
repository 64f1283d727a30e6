//! The end of a run, once every trial is known: what earlier runs left is shown to the sinks, what
//! is damaged or wanted is computed again, and the points pass on in rising order.

use std::sync::{Mutex, PoisonError};

use rayon::prelude::*;

use super::error::KeepError;
use super::journal::{Finished, Journal, KeptPoint};
use super::progress::note;
use super::row::reject_non_finite;
use super::runner::{Prepare, write};
use super::schedule::Task;
use super::setup::StudySetup;
use super::sink::{Handed, Handing, Sinks, Trial};
use super::store::Folders;
use crate::trial::result::TrialRecord;

/// What the end of a run needs beside journal and sinks.
pub struct HandOver<'a, 'p> {
    pub folders: &'a Folders,
    pub setup: &'a StudySetup,
    pub prepare: &'a Prepare<'p>,
}

impl HandOver<'_, '_> {
    /// Hands all points of a journal on to sinks.
    ///
    /// # Errors
    ///
    /// What could not be read, made or written.
    pub fn hand_on(&self, journal: &Journal, sinks: Sinks<'_>) -> Result<Handed, KeepError> {
        let mut handing = Handing::begin(self.folders.partial(), self.setup, sinks)?;
        for point in journal.in_order() {
            let (number, kept) = point?;
            let mut again = self.recall(&kept, &mut handing.sinks)?;
            let trials = kept.into_trials(self.setup.strategies.len());
            for sink in &handing.sinks {
                again.extend(sink.wanted(self.setup, &trials.rows));
            }
            self.compute_again(number, again, &mut handing.sinks)?;
            handing.point(number, &trials)?;
        }
        handing.finish()
    }

    /// Shows the trials of a point that earlier runs computed to the sinks; returns those of which
    /// a file is damaged.
    fn recall(
        &self,
        kept: &KeptPoint,
        sinks: &mut Sinks<'_>,
    ) -> Result<Vec<(usize, u32)>, KeepError> {
        let damaged = self.damaged(kept)?;
        let earlier = kept.trials.iter().filter(|(_, trial)| trial.is_earlier);
        for (&(strategy, _), trial) in earlier.filter(|(key, _)| !damaged.contains(key)) {
            let record = self.recalled(strategy, trial, sinks)?;
            self.show(sinks, strategy, &record)?;
        }
        Ok(damaged)
    }

    /// Computes trials with their records and shows them to the sinks.
    fn compute_again(
        &self,
        point: usize,
        mut trials: Vec<(usize, u32)>,
        sinks: &mut Sinks<'_>,
    ) -> Result<(), KeepError> {
        trials.sort_unstable();
        trials.dedup();
        if trials.is_empty() {
            return Ok(());
        }
        let run_trial = (self.prepare)(point).map_err(|reason| KeepError::Output {
            what: format!("cannot compute trials of point {point} again"),
            reason,
        })?;
        let sinks = Mutex::new(sinks);
        let each = trials.par_iter().with_max_len(1);
        each.try_for_each(|&(strategy, trial)| {
            let task = Task {
                point,
                strategy,
                trial,
            };
            let mut record = run_trial(task, true);
            reject_non_finite(&mut record);
            let mut sinks = sinks.lock().unwrap_or_else(PoisonError::into_inner);
            let trial = Trial::new(self.setup, strategy, &record);
            write(self.folders, &sinks, trial)?;
            self.show(&mut sinks, strategy, &record)
        })
    }

    /// A trial of an earlier run with what is in its files.
    fn recalled(
        &self,
        strategy: usize,
        trial: &Finished,
        sinks: &Sinks<'_>,
    ) -> Result<TrialRecord, KeepError> {
        let mut record = TrialRecord {
            row: trial.row.clone(),
            pressed: trial.pressed.clone(),
            ..TrialRecord::default()
        };
        let label = &self.setup.strategies[strategy];
        for sink in sinks.iter().filter(|_| !trial.files.is_empty()) {
            sink.recall(self.folders.partial(), label, &mut record)?;
        }
        Ok(record)
    }

    /// Shows a trial to every sink.
    fn show(
        &self,
        sinks: &mut Sinks<'_>,
        strategy: usize,
        record: &TrialRecord,
    ) -> Result<(), KeepError> {
        let trial = Trial::new(self.setup, strategy, record);
        sinks.iter_mut().try_for_each(|sink| sink.trial(trial))
    }

    /// Trials of earlier runs with a file that is not as it was written: torn by a power cut, or
    /// changed.
    fn damaged(&self, kept: &KeptPoint) -> Result<Vec<(usize, u32)>, KeepError> {
        let (disk, partial) = (self.folders.disk(), self.folders.partial());
        let mut damaged = Vec::new();
        for (&key, trial) in kept.trials.iter().filter(|(_, trial)| trial.is_earlier) {
            let mut whole = true;
            for mark in &trial.files {
                let path = partial.join(&mark.path);
                whole &= mark.holds(disk, partial).map_err(KeepError::at(&path))?;
            }
            if !whole {
                damaged.push(key);
            }
        }
        if !damaged.is_empty() {
            note(&format!(
                "warning: files of {} finished trials in {} are damaged or gone; they are made again",
                damaged.len(),
                partial.display()
            ));
        }
        Ok(damaged)
    }
}
