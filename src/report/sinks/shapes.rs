//! `shapes/`: the wire of a recorded trial at each recorded step, for a viewer.

use std::path::Path;

use super::steps::Steps;
use crate::report::vtk::{read_wire, write_wire};
use crate::study::{KeepError, Sink, StrategyLabel, Trial};
use crate::trial::result::TrialRecord;

const WIRE: Steps = Steps("wire");

/// Shapes of recorded trials.
pub(super) struct Shapes;

impl Sink for Shapes {
    fn files(&self, Trial { label, record, .. }: Trial<'_>) -> Vec<String> {
        WIRE.files(label, record.row.trial, record.shapes.len())
    }

    fn write(
        &self,
        folder: &Path,
        Trial { label, record, .. }: Trial<'_>,
    ) -> Result<(), KeepError> {
        WIRE.write(
            folder,
            (label, record.row.trial),
            &record.shapes,
            write_wire,
        )
    }

    fn recall(
        &self,
        folder: &Path,
        strategy: &StrategyLabel,
        record: &mut TrialRecord,
    ) -> Result<(), KeepError> {
        record.shapes = WIRE.recall(folder, (strategy, record.row.trial), read_wire)?;
        Ok(())
    }
}
