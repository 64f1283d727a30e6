//! How a centreline runs: tortuosity, curvature, torsion.

use nalgebra::Vector3;

use super::centreline::Centreline;
use super::path::{number, whole};

/// Length in mm of the chords whose directions are compared: what turns within less is the trembling
/// of a line that a program found.
const CHORD_MM: f64 = 2.0;
/// Chords in a shorter line, at least.
const LEAST_CHORDS: usize = 4;
/// Turn in rad between two chords below which the plane of a bend is not defined.
const LEAST_TURN: f64 = 0.02;

/// How a centreline runs, as a whole.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Course {
    /// Length over the distance between the ends: 1 where straight.
    pub tortuosity: f64,
    /// All bending together in rad: the turns from chord to chord, and from the directions at the two
    /// ends to the chords there. Where an S-bend changes sides within a chord, its turn in that chord
    /// is lost.
    pub bend_rad: f64,
    /// Mean of the curvature in 1/mm.
    pub curvature_per_mm: f64,
    /// Mean of the torsion's magnitude in 1/mm: how fast the plane of bending turns about the line.
    /// The sudden change of sides in an S-bend is none. Where the line is straight there is no plane,
    /// and it counts as 0.
    pub torsion_per_mm: f64,
}

impl Course {
    /// That of a centreline, from chords of 2 mm at most: the angle between neighbours is the
    /// curvature, that between the normals of neighbouring planes the torsion (Frenet's equations as
    /// differences). An arc turns by half a chord's share between its end and the first chord.
    #[must_use]
    pub fn of(line: &Centreline) -> Self {
        let length = line.length_mm();
        let parts = whole((length / CHORD_MM).ceil()).max(LEAST_CHORDS);
        let points: Vec<Vector3<f64>> = (0..=parts)
            .map(|i| line.position(length * number(i) / number(parts)))
            .collect();
        let chords: Vec<Vector3<f64>> = points.windows(2).map(|p| p[1] - p[0]).collect();
        let ends = [
            (line.tangent(0.0), chords[0]),
            (chords[chords.len() - 1], line.tangent(length)),
        ];
        let mut bend: f64 = ends.iter().map(|(a, b)| a.angle(b)).sum();
        // Half a chord at each end lies in no plane of two chords.
        let compared = length * number(parts - 1) / number(parts);
        let mut torsion = 0.0;
        let mut plane: Option<Vector3<f64>> = None;
        for pair in chords.windows(2) {
            let turn = pair[0].angle(&pair[1]);
            bend += turn;
            let next = pair[0].cross(&pair[1]).try_normalize(0.0);
            let next = next.filter(|_| turn >= LEAST_TURN);
            if let (Some(before), Some(next)) = (plane, next) {
                torsion += before.dot(&next).abs().min(1.0).acos();
            }
            plane = next;
        }
        let chord = (line.position(length) - line.position(0.0)).norm();
        Self {
            tortuosity: length / chord,
            bend_rad: bend,
            curvature_per_mm: bend / length,
            torsion_per_mm: torsion / compared,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::model::{PieceSpec, VesselSpec};
    use crate::vessel::Tree;
    use approx::assert_relative_eq;

    fn course(pieces: Vec<PieceSpec>) -> Course {
        let spec = VesselSpec::single_tube(pieces, 2.0);
        Course::of(&Tree::build(&spec).expect("a tree").branches()[0].centreline)
    }

    /// A helix of radius R that rises by 2 pi c in a turn: curvature R/(R² + c²), torsion
    /// c/(R² + c²).
    #[test]
    fn a_helix_has_its_curvature_and_torsion() {
        let (radius, c) = (6.0, 4.0);
        let found = course(vec![PieceSpec::Helix {
            radius_mm: radius,
            pitch_mm: std::f64::consts::TAU * c,
            turns: 3.0,
            plane_rad: 0.0,
        }]);
        let square: f64 = radius * radius + c * c;
        // A helix from pieces begins and ends with a ramp of its curvature.
        assert_relative_eq!(found.curvature_per_mm, radius / square, max_relative = 0.03);
        assert_relative_eq!(found.torsion_per_mm, c / square, max_relative = 0.05);
    }

    #[test]
    fn a_half_circle_is_longer_than_its_chord_by_half_pi() {
        let found = course(vec![PieceSpec::Arc {
            radius_mm: 10.0,
            angle_rad: std::f64::consts::PI,
            plane_rad: 0.3,
        }]);
        assert_relative_eq!(
            found.tortuosity,
            std::f64::consts::FRAC_PI_2,
            max_relative = 0.02
        );
        assert_relative_eq!(found.bend_rad, std::f64::consts::PI, max_relative = 0.01);
        assert!(found.torsion_per_mm < 1e-4);
    }

    /// Straight ways before and behind a bend add nothing to it.
    #[test]
    fn a_bend_between_straight_parts_turns_by_its_own_angle() {
        let straight = PieceSpec::Straight { length_mm: 20.0 };
        let arc = PieceSpec::Arc {
            radius_mm: 9.0,
            angle_rad: 150_f64.to_radians(),
            plane_rad: 0.0,
        };
        let found = course(vec![straight, arc, straight]);
        assert_relative_eq!(found.bend_rad.to_degrees(), 150.0, max_relative = 1e-3);
        assert_relative_eq!(
            found.curvature_per_mm,
            150_f64.to_radians() / (40.0 + 9.0 * 150_f64.to_radians()),
            max_relative = 1e-3
        );
    }

    #[test]
    fn an_s_bend_in_a_plane_has_no_torsion() {
        let found = course(vec![PieceSpec::SBend {
            radius_mm: 10.0,
            angle_rad: 1.0,
            plane_rad: 0.0,
        }]);
        // A chord that goes over from one arc to the other has lost its turn: 0.2 rad for 2 mm.
        assert!((found.bend_rad - 2.0).abs() < 0.25, "{found:?}");
        assert!(found.torsion_per_mm < 1e-4, "{found:?}");
    }
}
