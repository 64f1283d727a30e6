//! From the path of a file to a tree.

use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};

use nalgebra::Vector3;
use sha2::{Digest, Sha256};

use super::Imported;
use super::error::{AnatomyError, Checked, Fault};
use super::frame::{self, Frame, Size, Written};
use super::read::{self, Arrays, Content, Lines, RawSurface};
use super::surface::{self, Found, Mesh};
use super::tree::{self, Changes, ImportSettings};

/// Reads the file at `path` and makes a tree of it; also gives the file's bytes, for its hash.
///
/// # Errors
/// The first thing found wrong, with its place in the file.
pub fn import(
    path: &Path,
    settings: &ImportSettings,
) -> Result<(Imported, Vec<u8>), Box<AnatomyError>> {
    Importer::default().import(path, settings)
}

/// Reads files of anatomy.
///
/// It keeps the last tree, and the last surface and its centrelines, which take much longer to find than a
/// tree takes to be made of them: the same file is wanted again with another cut, for another target, and
/// for every point of a sweep.
#[derive(Debug, Default)]
pub struct Importer {
    last: Mutex<Option<Arc<ReadSurface>>>,
    made: Mutex<Option<Made>>,
}

/// What is asked of a file, as far as what is read of it and the centrelines of a surface depend on it,
/// besides unit, frame and inlet.
#[derive(Debug, Clone, PartialEq)]
struct Asked {
    sha256: [u8; 32],
    ending: String,
    arrays: Arrays,
    open_ends: bool,
}

/// A tree that was made.
#[derive(Debug)]
struct Made {
    asked: Asked,
    settings: ImportSettings,
    imported: Imported,
}

/// A surface that was read, in mm and in the scene's frame, with its centrelines.
#[derive(Debug)]
struct ReadSurface {
    asked: Asked,
    /// Size of what the file holds, and the frame that it states.
    size: Size,
    in_file: Option<Frame>,
    /// Unit and frame as they were taken.
    written: Written,
    /// Where the tree was said to begin.
    inlet: Option<Vector3<f64>>,
    found: Found,
    /// What was changed until the centrelines were found.
    changes: Changes,
}

impl ReadSurface {
    /// Whether the same would be found again, if unit and frame are the same.
    fn is_for(&self, asked: &Asked, settings: &ImportSettings) -> bool {
        let begins = match (&self.inlet, &settings.inlet) {
            (None, None) => true,
            (Some(_), None) => false,
            (_, Some(p)) => self.found.begins_near(p),
        };
        begins && self.asked == *asked
    }
}

impl Importer {
    /// As [`import`].
    ///
    /// # Errors
    /// As [`import`].
    pub fn import(
        &self,
        path: &Path,
        settings: &ImportSettings,
    ) -> Result<(Imported, Vec<u8>), Box<AnatomyError>> {
        let bytes = read::bytes(path)?;
        let asked = Asked {
            sha256: Sha256::digest(&bytes).into(),
            ending: read::ending(path),
            arrays: settings.arrays.clone(),
            open_ends: settings.open_ends,
        };
        let made = || self.made.lock().unwrap_or_else(PoisonError::into_inner);
        let same = |made: &&Made| made.asked == asked && made.settings == *settings;
        let again = made()
            .as_ref()
            .filter(same)
            .map(|made| made.imported.clone());
        if let Some(imported) = again {
            return Ok((imported, bytes));
        }
        match self.make(&asked, &bytes, settings) {
            Ok(imported) => {
                *made() = Some(Made {
                    asked,
                    settings: settings.clone(),
                    imported: imported.clone(),
                });
                Ok((imported, bytes))
            }
            Err((at, fault)) => Err(fault.at(path, at)),
        }
    }

    fn make(&self, asked: &Asked, bytes: &[u8], settings: &ImportSettings) -> Checked<Imported> {
        let last = || self.last.lock().unwrap_or_else(PoisonError::into_inner);
        let kept = last().clone().filter(|kept| kept.is_for(asked, settings));
        if let Some(kept) = kept {
            let placed = placed(&mut [], &kept.size, kept.in_file, settings)?;
            if placed.written == kept.written {
                return from_kept(&kept, settings, placed);
            }
        }
        // The one before would lie in memory beside the next.
        *last() = None;
        let content = read::parse(&asked.ending, bytes, &asked.arrays);
        match content.map_err(|(at, fault)| (at, with_units(fault, settings)))? {
            Content::Lines(lines) => from_lines(lines, settings),
            Content::Surface(surface) => {
                let asked = asked.clone();
                let (kept, placed) = found(asked, surface, settings)?;
                let kept = Arc::new(kept);
                *last() = Some(Arc::clone(&kept));
                from_kept(&kept, settings, placed)
            }
        }
    }
}

/// A missing radius with the missing unit, where no size speaks for one.
fn with_units(fault: Fault, settings: &ImportSettings) -> Fault {
    let is_open = settings.units.is_none() && !settings.guess_units;
    if !is_open || !matches!(fault, Fault::NoRadius { .. }) {
        return fault;
    }
    let reason = "units are not stated, and without a radius no size speaks for one".into();
    Fault::Several(vec![fault, Fault::Units { reason }])
}

/// Brings centrelines into mm and the scene's frame, and makes a tree of them.
fn from_lines(mut lines: Lines, settings: &ImportSettings) -> Checked<Imported> {
    let mut radii = lines.radii.clone();
    radii.sort_by(f64::total_cmp);
    let size = Size {
        radius: radii[radii.len() / 2],
        extent: extent(&lines.points),
    };
    let placed = placed(&mut lines.points, &size, lines.frame, settings)?;
    let mut changes = Changes::default();
    changes.notes.push(placed.note);
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

/// Brings a surface into mm and the scene's frame, checks it, and finds its centrelines.
fn found(
    asked: Asked,
    raw: RawSurface,
    settings: &ImportSettings,
) -> Checked<(ReadSurface, Placed)> {
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
    let placed = placed(&mut mesh.points, &size, raw.frame, settings)?;
    let mut changes = Changes::default();
    let found = surface::lumen(mesh, settings, &mut changes)?;
    let kept = ReadSurface {
        asked,
        size,
        in_file: raw.frame,
        written: placed.written,
        inlet: settings.inlet,
        found,
        changes,
    };
    Ok((kept, placed))
}

/// Makes a tree of the centrelines of a surface.
fn from_kept(kept: &ReadSurface, settings: &ImportSettings, placed: Placed) -> Checked<Imported> {
    let mut changes = kept.changes.clone();
    changes.notes.insert(0, placed.note);
    let (points, faces) = (changes.points_read, changes.items_read);
    let branches = tree::tree(&kept.found.lines, settings, placed.written, &mut changes)?;
    (changes.points_read, changes.items_read) = (points, faces);
    let mut warnings = placed.warnings;
    warnings.extend(kept.found.warnings.iter().cloned());
    warnings.extend(changes.inlet.doubt.clone());
    Ok(Imported {
        branches,
        surface: Some(Arc::clone(&kept.found.mesh)),
        changes,
        warnings,
        unit: placed.written.unit,
        frame: placed.written.frame,
    })
}

/// How points were brought into the scene.
struct Placed {
    written: Written,
    /// The same in words.
    note: String,
    warnings: Vec<String>,
}

fn placed(
    points: &mut [Vector3<f64>],
    size: &Size,
    in_file: Option<Frame>,
    settings: &ImportSettings,
) -> Checked<Placed> {
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
    Ok(Placed {
        written,
        note,
        warnings: of_unit.into_iter().chain(of_frame).collect(),
    })
}

/// Two results, or the faults of both.
fn both<A, B>(a: Checked<A>, b: Checked<B>) -> Checked<(A, B)> {
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
