//! Real anatomy: a file of centrelines or of a lumen surface, in an open format, becomes the
//! branches of a scene.
//!
//! [`import`] reads a file (`read`), brings it into mm and into the scene's frame (`frame`) and
//! makes a tree of it ([`tree`]); from a surface the centrelines are found first (`surface`). This
//! room knows nothing of scenarios; the scenario reader turns what comes out into a
//! [`VesselSpec`](crate::scenario::model::VesselSpec).
mod error;
mod frame;
mod read;
pub mod tree;

use std::path::Path;

pub use error::{AnatomyError, At, Fault};
pub use frame::{Frame, Unit};
pub use read::{Content, Line, Lines, RawSurface, parse};

use frame::Size;
use tree::{Changes, ImportedBranch, Settings, Which};

/// A tree made from a file.
#[derive(Debug, Clone, PartialEq)]
pub struct Imported {
    /// The branches; a branch stands behind its parent.
    pub branches: Vec<ImportedBranch>,
    /// What was changed on the way.
    pub changes: Changes,
    /// What is allowed but odd.
    pub warnings: Vec<String>,
}

impl Imported {
    /// The branch that a person points at, and, where a coordinate does so, the station on it and
    /// the distance from it in mm.
    ///
    /// # Errors
    /// A name or a tip that does not exist.
    pub fn find(&self, which: &Which) -> Result<(&ImportedBranch, Option<(f64, f64)>), Fault> {
        if let Which::Near(p) = which {
            let (branch, station, distance) = tree::nearest(&self.branches, p);
            return Ok((&self.branches[branch], Some((station, distance))));
        }
        let branch = tree::find(&self.branches, which).map_err(|(_, fault)| fault)?;
        Ok((&self.branches[branch], None))
    }
}

/// Reads the file at `path` and makes a tree of it; also gives the file's bytes, for its hash.
///
/// # Errors
/// The first thing found wrong, with its place in the file.
pub fn import(
    path: &Path,
    settings: &Settings,
) -> Result<(Imported, Vec<u8>), Box<AnatomyError>> {
    let (content, bytes) = read::read(path, settings.radius_array.as_deref())?;
    let made = match content {
        Content::Lines(lines) => from_lines(lines, settings),
        Content::Surface(_) => Err((
            At::Whole,
            Fault::Empty { what: "centrelines" },
        )),
    };
    let (branches, changes, warnings) = made.map_err(|(at, fault)| fault.at(path, at))?;
    let imported = Imported {
        branches,
        changes,
        warnings,
    };
    Ok((imported, bytes))
}

type Made = (Vec<ImportedBranch>, Changes, Vec<String>);

fn from_lines(mut lines: Lines, settings: &Settings) -> error::Checked<Made> {
    let mut radii = lines.radii.clone();
    radii.sort_by(f64::total_cmp);
    let size = Size {
        radius: radii[radii.len() / 2],
        extent: extent(&lines.points),
    };
    let (unit, warning) = frame::unit(settings.units, &size)?;
    let frame = frame::frame(settings.frame, lines.frame)?;
    frame::convert(&mut lines.points, unit, frame);
    for r in &mut lines.radii {
        *r *= unit.in_mm();
    }
    let mut changes = Changes::default();
    changes.notes.push(format!(
        "units {}, frame {}",
        unit.sign(),
        frame.name()
    ));
    let branches = tree::tree(&lines, settings, &mut changes)?;
    Ok((branches, changes, warning.into_iter().collect()))
}

/// Longest side of the box around points.
fn extent(points: &[nalgebra::Vector3<f64>]) -> f64 {
    let first = points.first().copied().unwrap_or_default();
    let (low, high) = points
        .iter()
        .fold((first, first), |(l, h), p| (l.inf(p), h.sup(p)));
    (high - low).max()
}
