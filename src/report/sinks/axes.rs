//! `shapes/`: the axes of a vessel that gives way or moves at each recorded step, for a viewer and the film.

use std::path::Path;
use std::sync::Arc;

use super::shapes::shapes_of;
use super::{folder_in, numbered};
use crate::report::export::ExportedBranch;
use crate::report::outline::SceneOutline;
use crate::report::setting::Setting;
use crate::report::vtk::{read_lines, write_centrelines, write_collection};
use crate::study::{KeepError, Sink, StrategyLabel, Trial};
use crate::trial::result::{MovedAxes, TrialRecord};

/// Axes of recorded trials.
pub(super) struct Axes(pub Arc<Setting>);

fn axes_file(step: usize) -> String {
    format!("vessel-{step:04}.vtp")
}

impl Sink for Axes {
    fn files(&self, Trial { label, record, .. }: Trial<'_>) -> Vec<String> {
        let shapes = shapes_of(label, record.row.trial);
        let files = numbered(record.axes.len(), axes_file, "vessel.pvd");
        files.map(|file| format!("{shapes}/{file}")).collect()
    }

    fn write(
        &self,
        folder: &Path,
        Trial { label, record, .. }: Trial<'_>,
    ) -> Result<(), KeepError> {
        if record.axes.is_empty() {
            return Ok(());
        }
        let name = shapes_of(label, record.row.trial);
        folder_in(folder, &name)?;
        let shapes = folder.join(name);
        let mut files = Vec::with_capacity(record.axes.len());
        for (step, axes) in record.axes.iter().enumerate() {
            let moved = self.0.outline.moved(axes);
            let (file, factor) = (axes_file(step), record.row.diameter_factor);
            write_centrelines(&shapes.join(&file), "the scene's", &lines(&moved, factor))?;
            files.push((step as f64, file));
        }
        write_collection(&shapes.join("vessel.pvd"), &files)
    }

    fn recall(
        &self,
        folder: &Path,
        strategy: &StrategyLabel,
        record: &mut TrialRecord,
    ) -> Result<(), KeepError> {
        let shapes = folder.join(shapes_of(strategy, record.row.trial));
        let files = (0..).map(|step| shapes.join(axes_file(step)));
        let axes = files.take_while(|file| file.exists()).map(|file| {
            let branches_mm = read_lines(&file)?;
            Ok(MovedAxes { branches_mm })
        });
        record.axes = axes.collect::<Result<_, KeepError>>()?;
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
