//! What is looked at: a branching with its three limbs, or a stretch of one vessel, and all the
//! other vessels that may lie in front of it or behind.

use nalgebra::Vector3;
use thiserror::Error;

use crate::vessel::{Branch, Tree};

/// Largest distance between two points of a limb in mm.
const LIMB_SPACING_MM: f64 = 0.5;
/// Largest distance between two points of another vessel in mm.
const OTHER_SPACING_MM: f64 = 1.0;
/// Length of the chords between which take-off angles are measured, in mm.
const CHORD_MM: f64 = 5.0;
/// A parent that goes on for less than this beyond a branching, in mm, ends there.
const ENDS_MM: f64 = 1.0;

/// Why a place cannot be looked at.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum SiteError {
    /// No such branch.
    #[error("there is no branch {name:?} in the vessel; branches are {known}")]
    UnknownBranch {
        /// Name that was given.
        name: String,
        /// Names there are.
        known: String,
    },
    /// A branch without parent has no branching.
    #[error(
        "branch {name:?} is an inlet, so there is no branching to look at; name a branch that leaves another, or look at a stretch of it"
    )]
    Inlet {
        /// Name that was given.
        name: String,
    },
    /// A stretch off the branch.
    #[error(
        "the stretch from {from_mm} to {to_mm} mm does not lie on branch {name:?}, which runs from 0 to {length_mm:.1} mm; give two stations on it, the smaller first"
    )]
    OffBranch {
        /// Branch.
        name: String,
        /// Start that was given, in mm.
        from_mm: f64,
        /// End that was given, in mm.
        to_mm: f64,
        /// Length of the branch in mm.
        length_mm: f64,
    },
}

/// What to look at.
#[derive(Debug, Clone, PartialEq)]
pub enum Subject {
    /// The branching at which a branch leaves its parent.
    Branching {
        /// The branch.
        branch: String,
    },
    /// A stretch of one vessel.
    Segment {
        /// The branch.
        branch: String,
        /// Start in mm from the branch's start.
        from_mm: f64,
        /// End in mm; above `from_mm`.
        to_mm: f64,
    },
}

/// A short piece of a limb.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LimbSegment {
    /// Middle in mm.
    pub position: Vector3<f64>,
    /// Unit direction, downstream.
    pub tangent: Vector3<f64>,
    /// Length in mm.
    pub length_mm: f64,
    /// Lumen radius in mm.
    pub radius_mm: f64,
}

/// One end of a piece of another vessel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cover {
    /// Position in mm.
    pub position: Vector3<f64>,
    /// Lumen radius in mm.
    pub radius_mm: f64,
    /// Whether the vessel goes on from here to the next point of the list.
    pub goes_on: bool,
}

/// The mouth of a branch, seen from its parent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SiteOstium {
    /// Where the branch's centreline leaves the parent's tube, in mm.
    pub ostium: Vector3<f64>,
    /// Unit direction of the parent where the branch leaves.
    pub axis: Vector3<f64>,
    /// Unit direction square to the parent's in which the ostium lies from its axis.
    pub towards: Vector3<f64>,
    /// Chord of the parent over the 5 mm before the branching, unit length.
    pub parent_chord: Vector3<f64>,
    /// Chord of the branch from its start to 5 mm beyond its ostium, unit length.
    pub branch_chord: Vector3<f64>,
}

/// A place that is looked at.
#[derive(Debug, Clone, PartialEq)]
pub struct Site {
    /// Name for tables, such as "LCx-M1".
    pub name: String,
    /// The same for file names.
    pub slug: String,
    /// The branch, or the vessel of the stretch.
    pub branch: usize,
    /// The parent, before the branching; empty for a stretch.
    pub parent: Vec<LimbSegment>,
    /// The vessel that goes on: the parent behind the branching or, where it ends there, the
    /// other daughter that goes most nearly straight on. Empty for a stretch.
    pub main: Vec<LimbSegment>,
    /// The branch from its ostium on, or the stretch: the target.
    pub target: Vec<LimbSegment>,
    /// Every other vessel, and the target's own vessel beyond the stretch left out.
    pub others: Vec<Cover>,
    /// The mouth of the branch; `None` for a stretch.
    pub mouth: Option<SiteOstium>,
    /// Point about which the C-arm turns: the branching, or the middle of the stretch, in mm.
    pub isocentre: Vector3<f64>,
}

impl Site {
    /// The place in `tree`; parent, main and branch count for `near_mm` from the branching.
    ///
    /// # Errors
    /// A [`SiteError`] where the tree has no such place.
    pub fn new(tree: &Tree, subject: &Subject, near_mm: f64) -> Result<Self, SiteError> {
        match subject {
            Subject::Branching { branch } => Self::branching(tree, find(tree, branch)?, near_mm),
            Subject::Segment {
                branch,
                from_mm,
                to_mm,
            } => Self::segment(tree, find(tree, branch)?, *from_mm, *to_mm),
        }
    }

    fn branching(tree: &Tree, index: usize, near_mm: f64) -> Result<Self, SiteError> {
        let branch = &tree.branches()[index];
        let Some((parent, station)) = branch.parent else {
            return Err(SiteError::Inlet {
                name: branch.name.clone(),
            });
        };
        let trunk = &tree.branches()[parent];
        let line = &branch.centreline;
        let (main, main_from) = going_on(tree, index, parent, station);
        let main = main.map_or_else(Vec::new, |m| {
            limb(&tree.branches()[m], main_from, main_from + near_mm)
        });
        let target = limb(branch, branch.ostium_mm, branch.ostium_mm + near_mm);
        let axis = trunk.centreline.tangent(station);
        let from = trunk.centreline.position(station);
        let ostium = line.position(branch.ostium_mm);
        let away = ostium - from;
        let towards = (away - axis * axis.dot(&away)).normalize();
        let parent_chord = from - trunk.centreline.position((station - CHORD_MM).max(0.0));
        let branch_chord = line.position(branch.ostium_mm + CHORD_MM) - line.position(0.0);
        Ok(Self {
            name: format!("{}-{}", trunk.name, branch.name),
            slug: slug(&format!("{}-{}", trunk.name, branch.name)),
            branch: index,
            parent: limb(trunk, station - near_mm, station),
            main,
            others: others(tree, index, &target),
            target,
            mouth: Some(SiteOstium {
                ostium,
                axis,
                towards,
                parent_chord: parent_chord.normalize(),
                branch_chord: branch_chord.normalize(),
            }),
            isocentre: from,
        })
    }

    fn segment(tree: &Tree, index: usize, from_mm: f64, to_mm: f64) -> Result<Self, SiteError> {
        let branch = &tree.branches()[index];
        let length_mm = branch.centreline.length_mm();
        let lies = from_mm >= 0.0 && from_mm < to_mm && to_mm <= length_mm + 1e-9;
        if !lies {
            return Err(SiteError::OffBranch {
                name: branch.name.clone(),
                from_mm,
                to_mm,
                length_mm,
            });
        }
        let target = limb(branch, from_mm, to_mm);
        let name = format!("{} {from_mm} to {to_mm} mm", branch.name);
        Ok(Self {
            slug: slug(&name),
            name,
            branch: index,
            parent: Vec::new(),
            main: Vec::new(),
            others: others(tree, index, &target),
            target,
            mouth: None,
            isocentre: branch.centreline.position(0.5 * (from_mm + to_mm)),
        })
    }

    /// Largest distance of any vessel from the isocentre in mm.
    #[must_use]
    pub fn reach_mm(&self) -> f64 {
        let points = self.others.iter().map(|c| (c.position, c.radius_mm));
        let own = self.target.iter().map(|p| (p.position, p.radius_mm));
        points
            .chain(own)
            .map(|(p, r)| (p - self.isocentre).norm() + r)
            .fold(0.0, f64::max)
    }
}

fn find(tree: &Tree, name: &str) -> Result<usize, SiteError> {
    tree.branch_index(name)
        .ok_or_else(|| SiteError::UnknownBranch {
            name: name.to_owned(),
            known: tree.names(),
        })
}

fn slug(name: &str) -> String {
    let plain = |c: char| if c.is_ascii_alphanumeric() { c } else { '-' };
    name.chars()
        .map(|c| plain(c).to_ascii_lowercase())
        .collect()
}

/// The vessel that goes on at the branching of `child`, and the station at which it begins.
fn going_on(tree: &Tree, child: usize, parent: usize, station: f64) -> (Option<usize>, f64) {
    let branches = tree.branches();
    if branches[parent].centreline.length_mm() - station >= ENDS_MM {
        return (Some(parent), station);
    }
    let others = (0..branches.len()).filter(|&b| {
        let leaves = |&(p, s): &(usize, f64)| p == parent && (s - station).abs() < ENDS_MM;
        b != child && branches[b].parent.as_ref().is_some_and(leaves)
    });
    let straightest = others.min_by(|&a, &b| {
        let (a, b) = (branches[a].take_off_rad, branches[b].take_off_rad);
        a.total_cmp(&b)
    });
    (
        straightest,
        straightest.map_or(0.0, |b| branches[b].ostium_mm),
    )
}

/// The pieces of a branch between two stations, as far as they lie on it.
fn limb(branch: &Branch, from_mm: f64, to_mm: f64) -> Vec<LimbSegment> {
    let line = &branch.centreline;
    let from = from_mm.max(0.0);
    let length = to_mm.min(line.length_mm()) - from;
    if length <= 0.0 {
        return Vec::new();
    }
    let count = (length / LIMB_SPACING_MM).ceil();
    let mut pieces = Vec::new();
    let mut index = 0.0;
    while index < count {
        let at = from + length * (index + 0.5) / count;
        pieces.push(LimbSegment {
            position: line.position(at),
            tangent: line.tangent(at),
            length_mm: length / count,
            radius_mm: line.radius(at),
        });
        index += 1.0;
    }
    pieces
}

/// All vessels but the target's own, as far as they lie outside the target.
fn others(tree: &Tree, own: usize, target: &[LimbSegment]) -> Vec<Cover> {
    let inside = |p: &Vector3<f64>| {
        target
            .iter()
            .any(|t| (t.position - p).norm_squared() < t.radius_mm * t.radius_mm)
    };
    let mut covers: Vec<Cover> = Vec::new();
    let others = tree.branches().iter().enumerate();
    for (_, branch) in others.filter(|(b, _)| *b != own) {
        let line = &branch.centreline;
        let count = (line.length_mm() / OTHER_SPACING_MM).ceil().max(1.0);
        let mut index = 0.0;
        while index <= count {
            let at = line.length_mm() * index / count;
            covers.push(Cover {
                position: line.position(at),
                radius_mm: line.radius(at),
                goes_on: index < count,
            });
            index += 1.0;
        }
    }
    for i in 0..covers.len().saturating_sub(1) {
        let both = inside(&covers[i].position) && inside(&covers[i + 1].position);
        covers[i].goes_on = covers[i].goes_on && !both;
    }
    covers
}
