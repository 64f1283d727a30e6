//! Real anatomy: a file of centrelines or of a lumen surface, in an open format, becomes the
//! branches of a scene.
//!
//! [`import`] reads a file (`read`), brings it into mm and into the scene's frame (`frame`) and
//! makes a tree of it ([`tree`]); from a surface the centrelines are found first (`surface`). This
//! room knows nothing of scenarios; the scenario reader turns what comes out into a
//! [`VesselSpec`](crate::scenario::model::VesselSpec).
mod error;
mod frame;
mod names;
mod read;
pub mod surface;
pub mod tree;

use std::path::Path;
use std::sync::Arc;

use nalgebra::Vector3;

pub use error::{AnatomyError, At, Fault};
pub use frame::{Frame, Unit, Written};
pub use names::names;
pub use read::{Arrays, Content, Line, Lines, RawSurface, parse};

use crate::shown::without_controls;
use frame::Size;
use surface::Mesh;
use tree::{Changes, ImportedBranch, Settings, Which};

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

/// Reads the file at `path` and makes a tree of it; also gives the file's bytes, for its hash.
///
/// # Errors
/// The first thing found wrong, with its place in the file.
pub fn import(path: &Path, settings: &Settings) -> Result<(Imported, Vec<u8>), Box<AnatomyError>> {
    let (content, bytes) = read::read(path, &settings.arrays).map_err(|mut error| {
        if matches!(error.fault, Fault::NoRadius { .. })
            && settings.units.is_none()
            && !settings.guess_units
        {
            let reason = "units are not stated, and without a radius no size speaks for one".into();
            error.fault = Fault::Several(vec![error.fault, Fault::Units { reason }]);
        }
        error
    })?;
    let made = match content {
        Content::Lines(lines) => from_lines(lines, settings),
        Content::Surface(surface) => from_surface(surface, settings),
    };
    let imported = made.map_err(|(at, fault)| fault.at(path, at))?;
    Ok((imported, bytes))
}

/// Brings centrelines into mm and the scene's frame, and makes a tree of them.
fn from_lines(mut lines: Lines, settings: &Settings) -> error::Checked<Imported> {
    let mut radii = lines.radii.clone();
    radii.sort_by(f64::total_cmp);
    let size = Size {
        radius: radii[radii.len() / 2],
        extent: extent(&lines.points),
    };
    let mut changes = Changes::default();
    let placed = placed(
        &mut lines.points,
        &size,
        lines.frame,
        settings,
        &mut changes,
    )?;
    for r in &mut lines.radii {
        *r *= placed.written.unit.in_mm();
    }
    let branches = tree::tree(&lines, settings, placed.written, &mut changes)?;
    let mut warnings = placed.warnings;
    warnings.extend(changes.inlet.doubt.clone());
    Ok(Imported {
        branches,
        surface: None,
        changes,
        warnings,
        unit: placed.written.unit,
        frame: placed.written.frame,
    })
}

/// Brings a surface into mm and the scene's frame, checks it, and makes a tree of its
/// centrelines.
fn from_surface(raw: RawSurface, settings: &Settings) -> error::Checked<Imported> {
    let mut mesh = Mesh {
        points: raw.points,
        triangles: raw.triangles,
    };
    let area = mesh.area();
    let size = Size {
        // Twice volume over area is the mean radius of a tube.
        radius: if area > 0.0 {
            2.0 * mesh.volume().abs() / area
        } else {
            0.0
        },
        extent: extent(&mesh.points),
    };
    let mut changes = Changes::default();
    let placed = placed(&mut mesh.points, &size, raw.frame, settings, &mut changes)?;
    let found = surface::lumen(mesh, settings, &mut changes)?;
    let (points, faces) = (changes.points_read, changes.items_read);
    let branches = tree::tree(&found.lines, settings, placed.written, &mut changes)?;
    (changes.points_read, changes.items_read) = (points, faces);
    let mut warnings = placed.warnings;
    warnings.extend(found.warnings);
    warnings.extend(changes.inlet.doubt.clone());
    Ok(Imported {
        branches,
        surface: Some(Arc::new(found.mesh)),
        changes,
        warnings,
        unit: placed.written.unit,
        frame: placed.written.frame,
    })
}

/// How points were brought into the scene.
struct Placed {
    written: Written,
    warnings: Vec<String>,
}

fn placed(
    points: &mut [Vector3<f64>],
    size: &Size,
    in_file: Option<Frame>,
    settings: &Settings,
    changes: &mut Changes,
) -> error::Checked<Placed> {
    let unit = if settings.units.is_none() && settings.guess_units {
        let (unit, how) = frame::most_plausible(size);
        Ok((unit, Some(how)))
    } else {
        frame::unit(settings.units, size)
    };
    let frame = frame::frame(settings.frame, in_file, settings.frame_needed);
    let ((unit, of_unit), (frame, of_frame)) = both(unit, frame)?;
    let written = Written { unit, frame };
    frame::convert(points, written);
    let note = format!("units {}, frame {}", unit.sign(), frame.name());
    changes.notes.push(note);
    Ok(Placed {
        written,
        warnings: of_unit.into_iter().chain(of_frame).collect(),
    })
}

/// Two results, or the faults of both.
fn both<A, B>(a: error::Checked<A>, b: error::Checked<B>) -> error::Checked<(A, B)> {
    match (a, b) {
        (Ok(a), Ok(b)) => Ok((a, b)),
        (Err((at, a)), Err((_, b))) => Err((at, Fault::Several(vec![a, b]))),
        (Err(fault), _) | (_, Err(fault)) => Err(fault),
    }
}

/// Longest side of the box around points.
fn extent(points: &[Vector3<f64>]) -> f64 {
    let first = points.first().copied().unwrap_or_default();
    let (low, high) = points
        .iter()
        .fold((first, first), |(l, h), p| (l.inf(p), h.sup(p)));
    (high - low).max()
}
