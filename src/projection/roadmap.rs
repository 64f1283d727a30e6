//! The roadmap: the centrelines of a tree as one view shows them, without depth.

use nalgebra::{Vector2, Vector3};

use super::beam::Beam;
use crate::vessel::Tree;

/// Largest distance between two points of a course in mm.
const SPACING_MM: f64 = 0.5;
/// How far beyond its ostium a branch must come clear of all other vessels to show its side, in
/// mm.
const CLEAR_WITHIN_MM: f64 = 10.0;

/// A point of a branch's centreline on the roadmap.
#[derive(Debug, Clone, Copy)]
struct Mark {
    at: Vector2<f64>,
    radius: f64,
    station: f64,
}

/// A place on the roadmap that a seen point may have.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RoadmapPoint {
    /// Branch.
    pub branch: usize,
    /// Station on it in mm.
    pub station_mm: f64,
    /// Distance of the point from the branch's seen wall in mm, negative inside its shadow.
    pub outside_mm: f64,
    /// Lumen radius there in mm.
    pub radius_mm: f64,
}

/// The roadmap of one view, as a parallel beam shows it: over some centimetres of depth the
/// perspective of a source at 75 cm shifts a point by a few per cent of its distance from the
/// middle of the image.
#[derive(Debug, Clone)]
pub struct Roadmap {
    beam: Beam,
    courses: Vec<Vec<Mark>>,
}

impl Roadmap {
    /// The roadmap of `tree` along `beam`.
    #[must_use]
    pub fn new(tree: &Tree, beam: Beam) -> Self {
        let course = |branch: &crate::vessel::Branch| {
            let line = &branch.centreline;
            let pieces = (line.length_mm() / SPACING_MM).ceil().max(1.0);
            let mut marks = Vec::new();
            let mut index = 0.0;
            while index <= pieces {
                let station = line.length_mm() * index / pieces;
                marks.push(Mark {
                    at: beam.flat(&line.position(station)),
                    radius: line.radius(station),
                    station,
                });
                index += 1.0;
            }
            marks
        };
        Self {
            beam,
            courses: tree.branches().iter().map(course).collect(),
        }
    }

    /// The view's beam.
    #[must_use]
    pub fn beam(&self) -> &Beam {
        &self.beam
    }

    /// Every place where the seen point `at` may lie: on each branch the points of the seen
    /// centreline that are nearest to it, as far as the lumen's shadow reaches plus `slack_mm`;
    /// or, where no shadow reaches it, the nearest place alone. `out` is cleared first.
    pub fn places(&self, at: &Vector2<f64>, slack_mm: f64, out: &mut Vec<RoadmapPoint>) {
        out.clear();
        let mut nearest: Option<RoadmapPoint> = None;
        for (branch, marks) in self.courses.iter().enumerate() {
            let square = |i: usize| (marks[i].at - at).norm_squared();
            let last = marks.len() - 1;
            let (mut before, mut here) = (f64::INFINITY, square(0));
            for i in 0..=last {
                let after = if i < last {
                    square(i + 1)
                } else {
                    f64::INFINITY
                };
                if here <= before && here <= after {
                    let seen = foot(branch, marks, i, at);
                    if nearest.is_none_or(|n| seen.outside_mm < n.outside_mm) {
                        nearest = Some(seen);
                    }
                    if seen.outside_mm <= slack_mm {
                        out.push(seen);
                    }
                }
                (before, here) = (here, after);
            }
        }
        if out.is_empty() {
            out.extend(nearest);
        }
    }

    /// The side to which branch `child` of `tree` is seen to leave its parent: a unit vector
    /// square to the seen direction of the parent, as far as that is seen at all.
    ///
    /// It points to where the branch's centreline first comes clear of the shadows of all other
    /// vessels, those that leave from the branch left out. `None` where it does not come clear
    /// within 10 mm of its ostium, and for an inlet.
    #[must_use]
    pub fn side(&self, tree: &Tree, child: usize) -> Option<Vector2<f64>> {
        let branch = &tree.branches()[child];
        let (parent, station) = branch.parent?;
        let trunk = &tree.branches()[parent].centreline;
        let from = self.beam.flat(&trunk.position(station));
        let forward = self.beam.flat(&trunk.tangent(station));
        let others: Vec<&Vec<Mark>> = (0..self.courses.len())
            .filter(|&b| !hangs_on(tree, b, child))
            .map(|b| &self.courses[b])
            .collect();
        let clear = self.courses[child]
            .iter()
            .take_while(|m| m.station <= branch.ostium_mm + CLEAR_WITHIN_MM)
            .find(|m| {
                let covers = |o: &&Mark| (o.at - m.at).norm_squared() < o.radius * o.radius;
                !others.iter().any(|marks| marks.iter().any(|o| covers(&o)))
            })?;
        let away = clear.at - from;
        // `forward` is as long as the parent is seen unforeshortened: seen end-on it hides
        // nothing of the direction.
        let side = away - forward * forward.dot(&away);
        let length = side.norm();
        (length > 1e-6 * away.norm()).then(|| side / length)
    }

    /// A point of space on the roadmap.
    #[must_use]
    pub fn flat(&self, p: &Vector3<f64>) -> Vector2<f64> {
        self.beam.flat(p)
    }
}

/// Whether branch `b` is `root` or leaves from it, directly or by way of others.
fn hangs_on(tree: &Tree, mut b: usize, root: usize) -> bool {
    loop {
        if b == root {
            return true;
        }
        match tree.branches()[b].parent {
            Some((parent, _)) => b = parent,
            None => return false,
        }
    }
}

/// The nearest point to `at` on the two pieces of a course around mark `i`.
fn foot(branch: usize, marks: &[Mark], i: usize, at: &Vector2<f64>) -> RoadmapPoint {
    let on_piece = |a: &Mark, b: &Mark| {
        let chord = b.at - a.at;
        let square = chord.norm_squared();
        let share = if square > 0.0 {
            ((at - a.at).dot(&chord) / square).clamp(0.0, 1.0)
        } else {
            0.0
        };
        let radius = a.radius + share * (b.radius - a.radius);
        RoadmapPoint {
            branch,
            station_mm: a.station + share * (b.station - a.station),
            outside_mm: (at - a.at - chord * share).norm() - radius,
            radius_mm: radius,
        }
    };
    let after = (i + 1 < marks.len()).then(|| on_piece(&marks[i], &marks[i + 1]));
    let before = (i > 0).then(|| on_piece(&marks[i - 1], &marks[i]));
    match (before, after) {
        (Some(b), Some(a)) => {
            if b.outside_mm < a.outside_mm {
                b
            } else {
                a
            }
        }
        (Some(only), None) | (None, Some(only)) => only,
        (None, None) => on_piece(&marks[i], &marks[i]),
    }
}
