//! The mouth of a branch: the curve in which its lumen and that of the vessel it leaves meet.
//!
//! Around a station of the branch, rays go out square to its axis until they leave the lumen. A ray
//! that comes nearer to another tube's wall than to the branch's own (by the tubes' signed
//! distances) has gone through the mouth. The *whole mouth* ends at the first station, counted from
//! where the axis leaves the parent's tube, around which no ray does. For two tubes without blend
//! that is the farthest point of the intersection curve as seen along the branch; for cylinders of
//! radii R and r whose axes cross at an angle a it lies at (R + r |cos a|) / sin a from the crossing
//! (a point s d + r (cos u e + sin u f) of the branch's wall lies on the parent's where
//! s sin a = sqrt(R² - r² sin² u) - r cos u cos a, which is greatest where |cos u| is 1).
//! The same rays work where the lumen is a surface from a file: it ends them, and the tubes only
//! say to which vessel a point belongs.

use std::cell::Cell;
use std::f64::consts::TAU;

use nalgebra::Vector3;

use super::lumen::Lumen;
use super::path::number;
use super::tree::{Branch, Tree};

/// Rays around a station among which the one nearest to another vessel is sought.
const RAYS: usize = 24;
/// Steps of the golden section between the neighbours of that ray.
const BETWEEN_RAYS: u32 = 20;
/// Distance in mm between stations at which the end of the mouth is looked for.
const STRIDE_MM: f64 = 0.25;
/// Halvings of a stride: the mouth is known to 2e-6 mm.
const HALVINGS: u32 = 17;
/// A ray has left the lumen where the wall is no farther than this, in mm.
const AT_WALL_MM: f64 = 1e-7;
/// Most parts of a ray; near a blunt carina the wall comes nearer by ever smaller parts.
const PARTS: u32 = 60;

/// The mouth of one branch in a lumen.
#[derive(Debug, Clone)]
pub struct Ostium {
    /// Station on the branch in mm at which the whole mouth ends; the branch's length where it
    /// never does.
    pub whole_mm: f64,
    /// Points in mm around the mouth, where the two lumens meet.
    pub curve: Vec<Vector3<f64>>,
}

/// A branch and what it leaves.
struct Rays<'a> {
    tree: &'a Tree,
    lumen: &'a dyn Lumen,
    index: usize,
    branch: &'a Branch,
    /// The parent, and the branches that leave it at the same fork.
    others: Vec<usize>,
    /// Number of the ray that went through the mouth last: it is likely to do so around the next station.
    open_ray: Cell<usize>,
}

/// A station of a branch: its place in mm, and two unit vectors square to the axis and to each other.
struct Section {
    centre: Vector3<f64>,
    normal: Vector3<f64>,
    across: Vector3<f64>,
}

impl Tree {
    /// Station in mm on `branch` at which its whole mouth ends in `lumen`, the wall of this tree or
    /// a surface around it; the branch's length where it never does, 0 for an inlet.
    #[must_use]
    pub fn whole_mouth_mm(&self, lumen: &dyn Lumen, branch: usize) -> f64 {
        Rays::new(self, lumen, branch).map_or(0.0, |rays| rays.whole_mm())
    }

    /// The mouth of `branch` in `lumen`, with `points` points of its curve; `None` for an inlet.
    #[must_use]
    pub fn mouth(&self, lumen: &dyn Lumen, branch: usize, points: usize) -> Option<Ostium> {
        let rays = Rays::new(self, lumen, branch)?;
        let whole_mm = rays.whole_mm();
        let angle = |k: usize| TAU * number(k) / number(points.max(1));
        Some(Ostium {
            whole_mm,
            curve: (0..points).map(|k| rays.met(angle(k), whole_mm)).collect(),
        })
    }
}

impl<'a> Rays<'a> {
    fn new(tree: &'a Tree, lumen: &'a dyn Lumen, index: usize) -> Option<Self> {
        let branch = &tree.branches()[index];
        let (parent, at_mm) = branch.parent?;
        let line = &tree.branches()[parent].centreline;
        let fork_mm = line.radius(at_mm);
        let leaves_here = |(other, b): &(usize, &Branch)| {
            *other != index
                && b.parent
                    .is_some_and(|(p, at)| p == parent && (at - at_mm).abs() <= fork_mm)
        };
        let siblings = tree.branches().iter().enumerate().filter(leaves_here);
        Some(Self {
            tree,
            lumen,
            index,
            branch,
            others: std::iter::once(parent)
                .chain(siblings.map(|(other, _)| other))
                .collect(),
            open_ray: Cell::new(0),
        })
    }

    /// First station behind the ostium around which the branch is closed.
    fn whole_mm(&self) -> f64 {
        let length_mm = self.branch.centreline.length_mm();
        let mut open = self.branch.ostium_mm;
        if self.is_closed(open) {
            return open;
        }
        while open < length_mm {
            let next = (open + STRIDE_MM).min(length_mm);
            if self.is_closed(next) {
                return halved(open, next, |at| !self.is_closed(at));
            }
            open = next;
        }
        length_mm
    }

    /// No ray around a station goes through the mouth.
    fn is_closed(&self, station_mm: f64) -> bool {
        let section = self.section(station_mm);
        let step = TAU / number(RAYS);
        let angle_of = |ray: usize| step * number(ray);
        if self.margin(&section, angle_of(self.open_ray.get())).1 < 0.0 {
            return false;
        }
        let mut best = (f64::INFINITY, 0.0);
        for ray in 0..RAYS {
            let angle = angle_of(ray);
            let margin = self.margin(&section, angle).1;
            if margin < 0.0 {
                self.open_ray.set(ray);
                return false;
            }
            if margin < best.0 {
                best = (margin, angle);
            }
        }
        // Golden section between the neighbours.
        let share = 0.5 * (5.0_f64.sqrt() - 1.0);
        let (mut low, mut high) = (best.1 - step, best.1 + step);
        for _ in 0..BETWEEN_RAYS {
            let (a, b) = (high - share * (high - low), low + share * (high - low));
            let (at_a, at_b) = (self.margin(&section, a).1, self.margin(&section, b).1);
            if at_a.min(at_b) < 0.0 {
                return false;
            }
            if at_a < at_b {
                high = b;
            } else {
                low = a;
            }
        }
        true
    }

    /// The branch at a station in mm.
    fn section(&self, station_mm: f64) -> Section {
        let line = &self.branch.centreline;
        let (normal, tangent) = (line.normal(station_mm), line.tangent(station_mm));
        Section {
            centre: line.position(station_mm),
            normal,
            across: tangent.cross(&normal),
        }
    }

    /// Follows a ray to where it leaves the lumen or comes nearer to another vessel; the point, and
    /// how much nearer it lies to the branch's own wall than to any other, in mm.
    fn margin(&self, section: &Section, angle: f64) -> (Vector3<f64>, f64) {
        let out = section.normal * angle.cos() + section.across * angle.sin();
        let mut p = section.centre;
        let mut part = 0;
        loop {
            let own = self.tree.tube(self.index, &p).distance_mm;
            let others = self.others.iter();
            let margin = others
                .map(|&other| self.tree.tube(other, &p).distance_mm - own)
                .fold(f64::INFINITY, f64::min);
            let inside = -self.lumen.distance(&p);
            if margin < 0.0 || inside <= AT_WALL_MM || part == PARTS {
                return (p, margin);
            }
            p += out * inside;
            part += 1;
        }
    }

    /// Where the rays of one direction first stay in the branch: a point of the mouth's curve.
    fn met(&self, angle: f64, whole_mm: f64) -> Vector3<f64> {
        let is_open = |at: f64| self.margin(&self.section(at), angle).1 < 0.0;
        let mut open = 0.0;
        let mut at = 0.0;
        while at < whole_mm {
            if is_open(at) {
                open = at;
            }
            at += STRIDE_MM;
        }
        let end = halved(open, (open + STRIDE_MM).min(whole_mm), is_open);
        self.margin(&self.section(end), angle).0
    }
}

/// The upper end of a stretch, halved often, at whose lower end something is so and at whose upper
/// end not.
fn halved(mut low: f64, mut high: f64, is_so: impl Fn(f64) -> bool) -> f64 {
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if is_so(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    high
}
