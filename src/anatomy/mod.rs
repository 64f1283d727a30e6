//! Real anatomy: a file of centrelines or of a lumen surface, in an open format, becomes the
//! branches of a scene.
//!
//! [`Importer`] reads a file (`read`), brings it into mm and into the scene's frame (`frame`) and
//! makes a tree of it ([`tree`]); from a surface the centrelines are found first (`surface`). This
//! room knows nothing of scenarios; the scenario reader turns what comes out into a
//! [`VesselSpec`](crate::scenario::model::VesselSpec).
mod error;
mod frame;
mod importer;
mod names;
mod read;
pub mod surface;
pub mod tree;

use std::sync::Arc;

use nalgebra::Vector3;

pub use error::{AnatomyError, At, Fault};
pub use frame::{Frame, Unit, Written};
pub use importer::{Importer, import};
pub use names::names;
pub use read::{Arrays, Content, Line, Lines, RawSurface, parse};

use crate::shown::without_controls;
use surface::Mesh;
use tree::{Changes, ImportedBranch, Which};

/// A tree made from a file.
#[derive(Debug, Clone, PartialEq)]
pub struct Imported {
    /// The branches; a branch stands behind its parent.
    pub branches: Vec<ImportedBranch>,
    /// The lumen surface, if the file holds one.
    pub surface: Option<Arc<Mesh>>,
    /// What was changed on the way.
    pub changes: Changes,
    /// What is allowed but odd.
    pub warnings: Vec<String>,
    /// Unit of the file, as it was taken.
    pub unit: Unit,
    /// Frame of the file, as it was taken.
    pub frame: Frame,
}

/// A branch, and, where a coordinate pointed at it, the station on it and its distance in mm.
pub type Found<'a> = (&'a ImportedBranch, Option<(f64, f64)>);

impl Imported {
    /// The branch that a person points at, and, where a coordinate does so, the station on it and
    /// the distance from it in mm.
    ///
    /// # Errors
    /// A name or a tip that does not exist, and a point that lies too far from every branch.
    pub fn find(&self, which: &Which) -> Result<Found<'_>, Fault> {
        let found = tree::find(&self.branches, which, self.written());
        let branch = found.map_err(|(_, fault)| fault)?;
        let place = match which {
            Which::Near(p) => {
                let (_, station, distance) = tree::nearest(&self.branches, p);
                Some((station, distance))
            }
            Which::Branch(_) | Which::Tip(_) => None,
        };
        Ok((&self.branches[branch], place))
    }

    /// What was guessed, what was changed and what is odd about the file, a line each in words.
    #[must_use]
    pub fn as_read(&self) -> Vec<String> {
        let changes = self.changes.lines().into_iter();
        let changes = changes.map(|(what, how)| match what {
            "note" => how,
            what => format!("{what}: {how}"),
        });
        let warnings = self.warnings.iter().map(|w| format!("warning: {w}"));
        changes
            .chain(warnings)
            .map(|line| without_controls(&line))
            .collect()
    }

    /// Where the place nearest to a point lies, how far from it and how the point is read, in words;
    /// `None` if it lies on another branch than the named one.
    #[must_use]
    pub fn say_near(&self, branch: &str, p: &Vector3<f64>) -> Option<String> {
        let (number, station, distance) = tree::nearest(&self.branches, p);
        let found = &self.branches[number].name;
        (found == branch).then(|| tree::on_branch(found, station, distance))
    }

    /// Unit and frame in which the file is written, as they were taken.
    #[must_use]
    pub fn written(&self) -> Written {
        Written {
            unit: self.unit,
            frame: self.frame,
        }
    }
}
