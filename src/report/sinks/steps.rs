//! Files in `shapes/` of a recorded trial, one a recorded step, and the collection that plays them.

use std::path::Path;

use super::{folder_in, trial_name};
use crate::report::vtk::write_collection;
use crate::study::{KeepError, StrategyLabel};

/// What is written of every step, by the name of its files.
pub(super) struct Steps(pub &'static str);

impl Steps {
    fn file(&self, step: usize) -> String {
        format!("{}-{step:04}.vtp", self.0)
    }

    fn collection(&self) -> String {
        format!("{}.pvd", self.0)
    }

    /// The files of so many steps, and of the collection; none without a step.
    pub(super) fn files(&self, strategy: &StrategyLabel, trial: u32, steps: usize) -> Vec<String> {
        let shapes = shapes_of(strategy, trial);
        let collection = (steps > 0).then(|| self.collection());
        let files = (0..steps).map(|step| self.file(step)).chain(collection);
        files.map(|file| format!("{shapes}/{file}")).collect()
    }

    /// Writes a file for each step by `write`, and the collection; nothing without a step.
    ///
    /// # Errors
    /// The failure of a file operation.
    pub(super) fn write<T>(
        &self,
        folder: &Path,
        (strategy, trial): (&StrategyLabel, u32),
        steps: &[T],
        write: impl Fn(&Path, &T) -> Result<(), KeepError>,
    ) -> Result<(), KeepError> {
        if steps.is_empty() {
            return Ok(());
        }
        let name = shapes_of(strategy, trial);
        folder_in(folder, &name)?;
        let shapes = folder.join(name);
        let mut files = Vec::with_capacity(steps.len());
        for (number, step) in steps.iter().enumerate() {
            let file = self.file(number);
            write(&shapes.join(&file), step)?;
            files.push((number as f64, file));
        }
        write_collection(&shapes.join(self.collection()), &files)
    }

    /// Reads back by `read` what was written of all steps.
    ///
    /// # Errors
    /// The failure of a file operation, or a file that cannot be read.
    pub(super) fn recall<T>(
        &self,
        folder: &Path,
        (strategy, trial): (&StrategyLabel, u32),
        read: impl Fn(&Path) -> Result<T, KeepError>,
    ) -> Result<Vec<T>, KeepError> {
        let shapes = folder.join(shapes_of(strategy, trial));
        let files = (0..).map(|step| shapes.join(self.file(step)));
        let kept = files.take_while(|file| file.exists());
        kept.map(|file| read(&file)).collect()
    }
}

fn shapes_of(strategy: &StrategyLabel, trial: u32) -> String {
    format!("shapes/{}", trial_name(strategy, trial))
}
