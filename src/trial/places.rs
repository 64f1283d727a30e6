//! At which place a force acts on the wall, decided by where the contact lies in the tree.
//!
//! The vessel is cut into four places:
//!
//! - *Beyond*: in the target, or in a branch of it, past its mouth.
//! - *At the mouth*: no farther from the target's ostium than the mouth reaches, along the
//!   centrelines. It reaches as far as the target's tube runs within its parent's, counted from the
//!   ostium (where the target's centreline leaves the parent's tube), and at least one diameter of
//!   the target. A branch that leaves sharply has a long mouth: `r / sin(angle)` for a tube of
//!   radius `r` on a straight parent.
//! - *Leaving the guide*: in the guide, or within [`LEAVING_GUIDE_MM`] of its end along the
//!   centrelines. Here the guide, which holds the wire in one place and direction, decides the
//!   force, and not the vessel.
//! - *On the way*: everywhere else.
//!
//! Of two that hold, the first counts. A target without a parent has no mouth; it is on the way.

use nalgebra::Vector3;

use crate::solve::GuideTip;
use crate::vessel::{Lumen, Tree, TubePoint};

/// How far from the guide's end along the centrelines the guide decides the force on the wall, in
/// mm. A bend that comes out of the guide is held there like a cantilever, and what presses it from
/// its natural place to the wall falls with the cube of its length outside: a usual bend (5 mm)
/// meets the wall 4 to 5 mm ahead of the guide's end, and at 10 mm less than a tenth is left.
pub const LEAVING_GUIDE_MM: f64 = 10.0;
/// Spacing in mm at which the end of the mouth is looked for.
const PARTING_STEP_MM: f64 = 0.1;

/// A place at which a force acts on the wall.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WallPlace {
    /// In the guide or near its end.
    LeavingGuide,
    /// Neither at the guide nor at the target.
    OnTheWay,
    /// Around the target's ostium.
    AtMouth,
    /// In the target, past its mouth.
    Beyond,
}

/// The target's mouth.
#[derive(Debug, Clone, Copy, PartialEq)]
struct TargetMouth {
    /// Parent of the target, and the station on it that is nearest to the ostium, in mm.
    at: (usize, f64),
    /// How far it reaches from there, in mm.
    reach_mm: f64,
    /// Station on the target at which it ends, in mm.
    end_mm: f64,
}

/// The places of a tree with a target and a guide.
#[derive(Clone, Copy)]
pub struct Places<'a> {
    tree: &'a Tree,
    lumen: &'a dyn Lumen,
    target: usize,
    mouth: Option<TargetMouth>,
    guide_radius_mm: f64,
}

impl<'a> Places<'a> {
    /// The places of `tree`, whose wall is that of a lumen, for a target, by number, and a guide with a lumen of `guide_radius_mm`.
    #[must_use]
    pub fn new(
        (tree, lumen): (&'a Tree, &'a dyn Lumen),
        target: usize,
        guide_radius_mm: f64,
    ) -> Self {
        Self {
            tree,
            lumen,
            target,
            mouth: TargetMouth::of(tree, target),
            guide_radius_mm,
        }
    }

    /// Branch that holds `p` (mm) best and the station there in mm; `near` is memory to work in.
    #[must_use]
    pub fn locate(&self, p: &Vector3<f64>, near: &mut Vec<(usize, TubePoint)>) -> (usize, f64) {
        let (branch, seen) = self.tree.nearest_tube(&self.lumen.at_rest(p), near);
        (branch, seen.station_mm)
    }

    /// Whether `p` (mm) lies in the guide, which is straight behind its end.
    #[must_use]
    pub fn in_guide(&self, p: &Vector3<f64>, guide: &GuideTip) -> bool {
        let offset = p - guide.exit;
        let along = offset.dot(&guide.axis);
        along < 0.0 && (offset - guide.axis * along).norm() <= self.guide_radius_mm
    }

    /// The place of a station of a branch, for a guide that ends at another station; both as branch
    /// and station in mm.
    #[must_use]
    pub fn of(&self, at: (usize, f64), guide_end: (usize, f64)) -> WallPlace {
        if let Some(mouth) = &self.mouth {
            if let Some(station_mm) = self.on_branch(self.target, at) {
                return if station_mm > mouth.end_mm {
                    WallPlace::Beyond
                } else {
                    WallPlace::AtMouth
                };
            }
            if self.path_mm(at, mouth.at) <= mouth.reach_mm {
                return WallPlace::AtMouth;
            }
        }
        if self.path_mm(at, guide_end) <= LEAVING_GUIDE_MM {
            WallPlace::LeavingGuide
        } else {
            WallPlace::OnTheWay
        }
    }

    /// Station in mm on `branch` of what lies there or in something that leaves it.
    fn on_branch(&self, branch: usize, mut at: (usize, f64)) -> Option<f64> {
        // A branch stands after its parent.
        while at.0 > branch {
            at = self.tree.branches()[at.0].parent?;
        }
        (at.0 == branch).then_some(at.1)
    }

    /// Distance in mm along the centrelines; infinite between vessels with inlets of their own.
    fn path_mm(&self, mut a: (usize, f64), mut b: (usize, f64)) -> f64 {
        let mut length = 0.0;
        while a.0 != b.0 {
            // A branch stands after its parent, so the later of the two is not the other's parent.
            let later = if a.0 > b.0 { &mut a } else { &mut b };
            match self.tree.branches()[later.0].parent {
                Some(parent) => {
                    length += later.1;
                    *later = parent;
                }
                None => return f64::INFINITY,
            }
        }
        length + (a.1 - b.1).abs()
    }
}

impl TargetMouth {
    fn of(tree: &Tree, target: usize) -> Option<Self> {
        let branch = &tree.branches()[target];
        let (parent, _) = branch.parent?;
        let line = &branch.centreline;
        let ostium_mm = branch.ostium_mm;
        let mut parted_mm = ostium_mm;
        while parted_mm < line.length_mm()
            && tree.tube(parent, &line.position(parted_mm)).distance_mm < line.radius(parted_mm)
        {
            parted_mm += PARTING_STEP_MM;
        }
        let reach_mm = (parted_mm - ostium_mm).max(2.0 * line.radius(ostium_mm));
        let foot = tree.tube(parent, &line.position(ostium_mm));
        Some(Self {
            at: (parent, foot.station_mm),
            reach_mm,
            end_mm: ostium_mm + reach_mm,
        })
    }
}
