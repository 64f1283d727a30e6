//! How a vessel moves by itself, of a checked scenario.

use nalgebra::Vector3;
use serde::{Deserialize, Serialize};

use super::Place;

/// Movement with the heart and with the breath; either may be missing.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MotionSpec {
    /// The heart, if it beats.
    pub heart: Option<HeartSpec>,
    /// The breath, if there is one.
    pub breath: Option<BreathSpec>,
    /// Where it is described.
    pub place: Place,
}

/// A beating heart.
///
/// Between end diastole and end systole vessels over contracting muscle (LAD, diagonals, marginals,
/// posterior descending) gain 0.33 ± 0.04 per cm of curvature (+38 %), bent at 2.40 ± 0.23 places of a
/// vessel; those in the groove between atria and ventricles (LCx, RCA) change by -0.02 ± 0.03 per cm, which
/// is none. Source: "Four-dimensional analysis of cyclic changes in coronary artery shape", Catheter
/// Cardiovasc. Interv. 2002 (abstract; 21 arteries).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HeartSpec {
    /// Duration of a beat in s, above 0.
    pub period_s: f64,
    /// How the vessels move.
    pub course: HeartCourse,
    /// Where it is described.
    pub place: Place,
}

/// How a heart moves the vessels.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum HeartCourse {
    /// By the kind of each vessel; what is named in neither list moves with its parent.
    ByKind {
        /// Numbers of the branches over contracting muscle.
        over_muscle: Vec<usize>,
        /// Gain of mean curvature there from end diastole to end systole, in 1/mm; 0 or more.
        curvature_per_mm: f64,
        /// Length of vessel between two places at which it is bent in systole, in mm; above 0.
        bends_every_mm: f64,
        /// Numbers of the branches in the groove between atria and ventricles.
        in_groove: Vec<usize>,
        /// How far the farthest part of such a branch goes, in mm; 0 or more.
        groove_mm: f64,
        /// Direction in which it goes, a unit vector.
        towards: Vector3<f64>,
    },
    /// As in files with the axes of the same tree at further phases at equal times, the first of which is
    /// the vessel itself at end diastole: for each phase points in mm along each branch.
    Phases(Vec<Vec<Vec<Vector3<f64>>>>),
}

/// A breath: the heart with all that hangs on it moves as one.
///
/// On breathing in it goes 4.9 ± 1.9 mm towards the feet and turns by 1.5 ± 0.9 degrees. Source:
/// Shechter et al., IEEE Trans. Med. Imaging 2004;23:1046-1056.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BreathSpec {
    /// Duration of a breath in s, above 0.
    pub period_s: f64,
    /// Way from breathed out to breathed in, in mm.
    pub way_mm: Vector3<f64>,
    /// Turn on that way about the guide's end in rad, along its axis.
    pub turn_rad: Vector3<f64>,
    /// Whether the operator lays the still roadmap on the guide's end as he sees that move.
    pub roadmap_follows: bool,
    /// Where it is described.
    pub place: Place,
}
