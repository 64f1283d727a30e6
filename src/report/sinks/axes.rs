//! `shapes/`: the axes of a vessel that gives way or moves at each recorded step, for a viewer and the film.

use std::path::Path;

use super::steps::Steps;
use crate::report::export::ExportedBranch;
use crate::report::outline::SceneOutline;
use crate::report::setting::Settings;
use crate::report::vtk::{read_lines, write_centrelines};
use crate::study::{KeepError, Sink, StrategyLabel, Trial};
use crate::trial::result::{MovedAxes, TrialRecord};

const VESSEL: Steps = Steps("vessel");

/// Axes of recorded trials.
pub(super) struct Axes(pub Settings);

impl Sink for Axes {
    fn files(&self, Trial { label, record, .. }: Trial<'_>) -> Vec<String> {
        VESSEL.files(label, record.row.trial, record.axes.len())
    }

    fn write(&self, folder: &Path, trial: Trial<'_>) -> Result<(), KeepError> {
        let (label, record) = (trial.label, trial.record);
        let outline = &self.0.of(trial.strategy).outline;
        let row = &record.row;
        VESSEL.write(folder, (label, row.trial), &record.axes, |path, axes| {
            let moved = outline.moved(axes);
            write_centrelines(path, "the scene's", &lines(&moved, row.diameter_factor))
        })
    }

    fn recall(
        &self,
        folder: &Path,
        strategy: &StrategyLabel,
        record: &mut TrialRecord,
    ) -> Result<(), KeepError> {
        record.axes = VESSEL.recall(folder, (strategy, record.row.trial), |path| {
            read_lines(path).map(|branches_mm| MovedAxes { branches_mm })
        })?;
        Ok(())
    }
}

/// The branches of an outline with the diameters that a trial drew.
fn lines(outline: &SceneOutline, diameter_factor: f64) -> Vec<ExportedBranch> {
    let branches = outline.branches.iter().map(|branch| ExportedBranch {
        name: branch.name.clone(),
        parent: None,
        points: branch.points.iter().map(|p| p.position_mm).collect(),
        radii: (branch.points.iter())
            .map(|p| p.radius_mm * diameter_factor)
            .collect(),
    });
    branches.collect()
}
