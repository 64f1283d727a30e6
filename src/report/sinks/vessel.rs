//! `vessel.vtp`: the lumen for a viewer.

use std::sync::Arc;

use crate::report::setting::Setting;
use crate::report::vtk::write_vessel;
use crate::study::{KeepError, Making, Point, Sink};

/// The lumen as a surface.
pub(super) struct Vessel(pub Arc<Setting>);

impl Sink for Vessel {
    fn point(&mut self, point: &Point<'_>) -> Result<Vec<Making>, KeepError> {
        write_vessel(&point.folder.join("vessel.vtp"), &self.0.outline)?;
        Ok(Vec::new())
    }
}
