//! `shapes/`: the wire of a recorded trial at each recorded step, for a viewer.

use std::path::Path;

use super::{folder_in, numbered, trial_name};
use crate::report::vtk::{read_wire, write_collection, write_wire};
use crate::study::{KeepError, Sink, StrategyLabel, Trial};
use crate::trial::result::TrialRecord;

/// Shapes of recorded trials.
pub(super) struct Shapes;

pub(super) fn shapes_of(strategy: &StrategyLabel, trial: u32) -> String {
    format!("shapes/{}", trial_name(strategy, trial))
}

fn wire_file(step: usize) -> String {
    format!("wire-{step:04}.vtp")
}

impl Sink for Shapes {
    fn files(&self, Trial { label, record, .. }: Trial<'_>) -> Vec<String> {
        let shapes = shapes_of(label, record.row.trial);
        let files = numbered(record.shapes.len(), wire_file, "wire.pvd");
        files.map(|file| format!("{shapes}/{file}")).collect()
    }

    fn write(
        &self,
        folder: &Path,
        Trial { label, record, .. }: Trial<'_>,
    ) -> Result<(), KeepError> {
        if record.shapes.is_empty() {
            return Ok(());
        }
        let name = shapes_of(label, record.row.trial);
        folder_in(folder, &name)?;
        let shapes = folder.join(name);
        let mut files = Vec::with_capacity(record.shapes.len());
        for (step, shape) in record.shapes.iter().enumerate() {
            let file = wire_file(step);
            write_wire(&shapes.join(&file), shape)?;
            files.push((step as f64, file));
        }
        write_collection(&shapes.join("wire.pvd"), &files)
    }

    fn recall(
        &self,
        folder: &Path,
        strategy: &StrategyLabel,
        record: &mut TrialRecord,
    ) -> Result<(), KeepError> {
        let shapes = folder.join(shapes_of(strategy, record.row.trial));
        let files = (0..).map(|step| shapes.join(wire_file(step)));
        let kept = files.take_while(|file| file.exists());
        record.shapes = kept
            .map(|file| read_wire(&file))
            .collect::<Result<_, _>>()?;
        Ok(())
    }
}
