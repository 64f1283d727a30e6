//! From centrelines to a tree: cut, resampled, smoothed, put together, cut at its forks, named.
//!
//! 1. `tracks`: single lines from the `inlet` on, put together where they go on as others
//!    (`through`), the part before the vessel cut off, resampled and smoothed (`ease`);
//! 2. `grow`: each line hangs where it parts from those that are there already;
//! 3. `forks`: cut into branches that run from one fork to the next or to a tip;
//! 4. `name`: ordered from the inlet, named, tips numbered;
//! 5. `plausible`: what no vessel for a wire has is refused;
//! 6. `other_inlet`: where the inlet was chosen by width, whether another end is more likely.
//!
//! A point by which a person points at an end or a branch may lie only so far off (`pointed`).
//!
//! [`Changes`] says with numbers what was changed.
mod angles;
mod changes;
mod ease;
mod forks;
mod grow;
mod inlet;
mod name;
mod near;
mod other_inlet;
mod plausible;
mod pointed;
mod polyline;
mod through;
mod tracks;

use std::path::PathBuf;

use nalgebra::Vector3;

use super::error::{Checked, Fault, whole};
use super::frame::{Frame, Unit, Written};
use super::read::{Arrays, Lines};

pub use angles::{spread, take_off};
pub use changes::{Changes, Inlet};
pub(super) use name::{find, nearest};
pub(super) use pointed::on_branch;
pub use pointed::written_out;
pub(super) use polyline::Polyline;

/// How a file is made into a tree.
#[derive(Debug, Clone, PartialEq)]
pub struct ImportSettings {
    /// Names of arrays of the file that are not the usual ones.
    pub arrays: Arrays,
    /// Unit of the file, if stated.
    pub units: Option<Unit>,
    /// Frame of the file, if stated.
    pub frame: Option<Frame>,
    /// Whether the unit, if not stated, is taken as the most plausible one, and not refused where
    /// several are possible.
    pub guess_units: bool,
    /// Whether a frame that nobody states is refused.
    pub frame_needed: bool,
    /// Where the tree begins, in the scene's frame in mm; else the root that the file names, or
    /// the widest end.
    pub inlet: Option<Vector3<f64>>,
    /// Length in mm that is cut off every line that begins at the inlet.
    pub cut_mm: f64,
    /// A line that begins at the inlet is cut off up to where, behind its widest point, its
    /// radius in mm first falls below this.
    pub cut_radius_mm: Option<f64>,
    /// Distance in mm from which on two lines are two vessels.
    pub split_mm: f64,
    /// Largest distance in mm from its parent at which a branch may begin.
    pub join_mm: f64,
    /// Whether a branch may begin farther off if its lumen runs into that of its parent.
    pub join_lumens: bool,
    /// Distance from the inlet in mm at which a vessel without forks is divided in two branches.
    pub divide_mm: Option<f64>,
    /// Side branches shorter than this, in mm, are dropped.
    pub stub_mm: f64,
    /// Scale of smoothing in mm.
    pub smooth_mm: f64,
    /// Whether that scale is raised where the lumen radius would be more than 0.7 of that of a bend.
    pub smooth_more: bool,
    /// Distance between the points of the result in mm.
    pub spacing_mm: f64,
    /// Whether the holes of a surface are open ends (the lumen goes on) or closed flat.
    pub open_ends: bool,
    /// Names that a file of names gives, then those that the scenario gives.
    pub names: Vec<Naming>,
}

impl Default for ImportSettings {
    fn default() -> Self {
        Self {
            arrays: Arrays::default(),
            units: None,
            frame: None,
            guess_units: false,
            frame_needed: false,
            inlet: None,
            cut_mm: 0.0,
            cut_radius_mm: None,
            split_mm: 0.2,
            join_mm: 2.0,
            join_lumens: true,
            divide_mm: None,
            stub_mm: 3.0,
            smooth_mm: 1.0,
            smooth_more: true,
            spacing_mm: 0.5,
            open_ends: true,
            names: Vec::new(),
        }
    }
}

/// A name for a branch.
#[derive(Debug, Clone, PartialEq)]
pub struct Naming {
    /// Which branch.
    pub which: Which,
    /// Its name.
    pub name: String,
    /// File and line that say it; `None` if the scenario does.
    pub said: Option<(PathBuf, usize)>,
}

/// A branch as a person points at it.
#[derive(Debug, Clone, PartialEq)]
pub enum Which {
    /// By its name, or its name by order.
    Branch(String),
    /// By the number of its tip, from 1.
    Tip(usize),
    /// The one nearest to a point of the scene in mm.
    Near(Vector3<f64>),
}

/// A branch of an imported tree.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ImportedBranch {
    /// Unique name.
    pub name: String,
    /// Name by order, such as `branch-1.2`.
    pub by_order: String,
    /// Name of its line, or of most of its points, in the file.
    pub in_file: Option<String>,
    /// Number of the branch on which its first point lies, mostly on its end; `None` for the
    /// inlet. A branch stands behind its parent.
    pub parent: Option<usize>,
    /// Number of its tip from 1, if it ends in one.
    pub tip: Option<usize>,
    /// Points along it in mm, the first one on the parent.
    pub points: Vec<Vector3<f64>>,
    /// Lumen radius at each in mm.
    pub radii: Vec<f64>,
}

/// Largest turn in rad, and largest change of the radius as a share of it, with which a vessel
/// that was cut at a fork goes on.
const SAME_VESSEL: (f64, f64) = (0.35, 0.02);

impl ImportedBranch {
    /// Angle in rad by which `next` turns away, if it is the same vessel beyond a fork: it begins at
    /// this one's end, in about the same direction and as wide.
    #[must_use]
    pub fn turn_into(&self, next: &Self) -> Option<f64> {
        let n = self.points.len();
        if n < 2 || next.points.len() < 2 {
            return None;
        }
        let (end, radius) = (self.points[n - 1], self.radii[n - 1]);
        let (before, after) = (end - self.points[n - 2], next.points[1] - next.points[0]);
        let turn = before.angle(&after);
        let same = (next.points[0] - end).norm() <= 1e-6
            && turn <= SAME_VESSEL.0
            && (next.radii[0] - radius).abs() <= SAME_VESSEL.1 * radius;
        same.then_some(turn)
    }
}

/// Makes the tree of centrelines that are already in mm and in the scene's frame.
///
/// # Errors
/// Pieces that hang on nothing, loops, and settings that do not go with the lines.
pub(super) fn tree(
    lines: &Lines,
    settings: &ImportSettings,
    written: Written,
    changes: &mut Changes,
) -> Checked<Vec<ImportedBranch>> {
    changes.points_read = lines.points.len();
    changes.items_read = lines.lines.len();
    changes.notes.extend(lines.notes.iter().cloned());
    let tracks = tracks::tracks(lines, settings, written, changes)?;
    if tracks.is_empty() {
        return whole(Fault::Empty {
            what: "line that reaches beyond the part cut off",
        });
    }
    let placed = grow::grow(tracks, settings, changes)?;
    let mut segments = forks::segments(&placed, settings.stub_mm, changes);
    if let Some(at_mm) = settings.divide_mm {
        forks::divide(&mut segments, at_mm)?;
    }
    compare(&segments, changes);
    let order = name::order(&segments);
    let mut place = vec![0; segments.len()];
    for (new, old) in order.iter().enumerate() {
        place[*old] = new;
    }
    let mut branches: Vec<ImportedBranch> = order
        .iter()
        .map(|old| {
            let segment = &segments[*old];
            let line = segment.line.at_even_distances(settings.spacing_mm);
            ImportedBranch {
                in_file: segment.name.clone(),
                parent: segment.parent.map(|p| place[p]),
                points: line.points,
                radii: line.radii,
                ..ImportedBranch::default()
            }
        })
        .collect();
    if lines.labels.is_empty() && changes.lines_went_through {
        let labels = labels_of_lines(lines);
        name::by_points(&mut branches, lines, &labels, changes);
    } else {
        name::by_points(&mut branches, lines, &lines.labels, changes);
    }
    name::name(&mut branches, settings, written, changes)?;
    plausible::check(&branches)?;
    if changes.inlet.is_guess {
        changes.inlet.doubt = other_inlet::doubt(&branches);
    }
    Ok(branches)
}

/// The name of its line for each point of the file.
fn labels_of_lines(lines: &Lines) -> Vec<String> {
    let mut labels = vec![String::new(); lines.points.len()];
    for line in &lines.lines {
        for i in &line.points {
            labels[*i] = line.name.clone().unwrap_or_default();
        }
    }
    labels
}

/// Shifts, bends and narrowest places before and after smoothing.
fn compare(segments: &[forks::Segment], changes: &mut Changes) {
    changes.tightest_before.0 = f64::INFINITY;
    changes.tightest_after.0 = f64::INFINITY;
    changes.narrowest_mm = (f64::INFINITY, f64::INFINITY);
    for segment in segments {
        for (a, b) in segment.raw.points.iter().zip(&segment.line.points) {
            let shift = (a - b).norm();
            if shift > changes.largest_shift.0 {
                changes.largest_shift = (shift, *a);
            }
        }
        let tighter = |line: &Polyline, known: &mut (f64, Vector3<f64>)| {
            let (radius, at) = line.tightest_bend();
            if radius < known.0 {
                *known = (radius, line.points[at]);
            }
        };
        tighter(&segment.raw, &mut changes.tightest_before);
        tighter(&segment.line, &mut changes.tightest_after);
        let narrowest = &mut changes.narrowest_mm;
        narrowest.0 = narrowest.0.min(segment.raw.narrowest());
        narrowest.1 = narrowest.1.min(segment.line.narrowest());
    }
}
