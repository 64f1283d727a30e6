//! A path built from pieces of known curvature.

use super::frame;
use super::path::{Knot, Path, intervals, number};
use crate::scenario::model::PieceSpec;
use nalgebra::{Vector2, Vector3};
use std::f64::consts::{PI, TAU};

/// Length in mm over which the curvature runs from one piece's value to the next one's, half on
/// either side of the joint (less where a piece is shorter than that).
///
/// The run is a smooth step, antisymmetric about the joint, so the turn of every piece holds; a
/// jump of curvature K moves the path sideways by K times the square of this length over 40
/// (under 0.001 mm for a bend of 10 mm radius).
pub const RAMP_MM: f64 = 0.5;

/// Steps of the integration between two knots.
const SUBSTEPS: usize = 16;

/// A stretch of constant curvature and torsion.
#[derive(Debug, Clone, Copy)]
struct Stretch {
    start_mm: f64,
    length_mm: f64,
    curvature: f64,
    torsion: f64,
    plane_rad: f64,
    /// Half the length of the run of curvature at the end of the stretch, in mm.
    half_ramp_mm: f64,
}

impl Stretch {
    /// Components of the curvature along running normal and binormal, also beyond its ends.
    fn bend(&self, station: f64) -> Vector2<f64> {
        let angle = self.plane_rad + self.torsion * (station - self.start_mm);
        Vector2::new(angle.cos(), angle.sin()) * self.curvature
    }
}

/// Where and how a path begins.
#[derive(Debug, Clone, Copy)]
pub(super) struct Start {
    pub position: Vector3<f64>,
    pub tangent: Vector3<f64>,
    pub normal: Vector3<f64>,
}

/// Length of the pieces together in mm.
pub(super) fn length(pieces: &[PieceSpec]) -> f64 {
    stretches(pieces)
        .last()
        .map_or(0.0, |s| s.start_mm + s.length_mm)
}

/// Mean curvature in 1/mm of the path along `pieces` (at least one, lengths and radii above 0): its
/// turning over its length.
///
/// It lies below the mean of the pieces' own curvatures where one bends back from another, because
/// the curvature runs through zero there over [`RAMP_MM`].
#[must_use]
pub fn mean_curvature(pieces: &[PieceSpec]) -> f64 {
    let stretches = stretches(pieces);
    let (count, spacing_mm) = intervals(length(pieces));
    let count = count * SUBSTEPS;
    let step = spacing_mm / number(SUBSTEPS);
    let middles = (0..count).map(|i| step * (number(i) + 0.5));
    let sum: f64 = middles.map(|at| bend_at(&stretches, at).norm()).sum();
    sum / number(count)
}

/// The path along `pieces` (lengths and radii above 0) from `start`.
///
/// The running frame is integrated exactly over steps of a 64th of a millimetre within which the
/// curvature is constant, so circular arcs come out exact.
pub(super) fn follow(start: &Start, pieces: &[PieceSpec]) -> Path {
    let stretches = stretches(pieces);
    let (count, spacing_mm) = intervals(length(pieces));
    let step = spacing_mm / number(SUBSTEPS);
    let mut at = *start;
    let mut knots = Vec::with_capacity(count + 1);
    for i in 0..=count {
        let station = spacing_mm * number(i);
        let bend = bend_at(&stretches, station);
        let binormal = at.tangent.cross(&at.normal);
        knots.push(Knot {
            position: at.position,
            tangent: at.tangent,
            curvature: at.normal * bend.x + binormal * bend.y,
            normal: at.normal,
        });
        for j in 0..SUBSTEPS {
            advance(&mut at, &stretches, station + step * number(j), step);
        }
        at.tangent.normalize_mut();
        at.normal = frame::square_to(&at.normal, &at.tangent);
    }
    Path { spacing_mm, knots }
}

/// Moves the frame by `step`, with the curvature's mean over the step (two Gauss points).
fn advance(at: &mut Start, stretches: &[Stretch], station: f64, step: f64) {
    let gauss = 0.5 / 3.0_f64.sqrt();
    let bend = (bend_at(stretches, station + (0.5 - gauss) * step)
        + bend_at(stretches, station + (0.5 + gauss) * step))
        * 0.5;
    let curvature = bend.norm();
    let angle = curvature * step;
    if angle < 1e-14 {
        at.position += at.tangent * step;
        return;
    }
    let binormal = at.tangent.cross(&at.normal);
    let towards = (at.normal * bend.x + binormal * bend.y) / curvature;
    let (sin, cos) = angle.sin_cos();
    let half = (0.5 * angle).sin();
    at.position += (at.tangent * sin + towards * (2.0 * half * half)) / curvature;
    let along = at.normal.dot(&towards);
    at.normal += (towards * (cos - 1.0) - at.tangent * sin) * along;
    at.tangent = at.tangent * cos + towards * sin;
}

/// Curvature components at `station`, run smoothly over the joints.
fn bend_at(stretches: &[Stretch], station: f64) -> Vector2<f64> {
    let i = stretches
        .partition_point(|s| s.start_mm <= station)
        .saturating_sub(1);
    let here = &stretches[i];
    let from_end = here.start_mm + here.length_mm - station;
    if i + 1 < stretches.len() && from_end < here.half_ramp_mm {
        return across(here, &stretches[i + 1], station);
    }
    if i > 0 && station - here.start_mm < stretches[i - 1].half_ramp_mm {
        return across(&stretches[i - 1], here, station);
    }
    here.bend(station)
}

/// Curvature components near the joint of two stretches.
fn across(before: &Stretch, after: &Stretch, station: f64) -> Vector2<f64> {
    let half = before.half_ramp_mm;
    let x = ((station - after.start_mm + half) / (2.0 * half)).clamp(0.0, 1.0);
    let share = x * x * (3.0 - 2.0 * x);
    before.bend(station) * (1.0 - share) + after.bend(station) * share
}

/// The pieces as stretches of constant curvature and torsion.
///
/// A helix of cylinder radius a and rise p in a turn has curvature a/(a² + c²) and torsion
/// c/(a² + c²) with c = p/(2 pi), and its length in a turn is 2 pi sqrt(a² + c²).
fn stretches(pieces: &[PieceSpec]) -> Vec<Stretch> {
    let mut list: Vec<Stretch> = Vec::with_capacity(pieces.len() + 1);
    let mut add = |length_mm: f64, curvature: f64, torsion: f64, plane_rad: f64| {
        let start_mm = list.last().map_or(0.0, |s| s.start_mm + s.length_mm);
        list.push(Stretch {
            start_mm,
            length_mm,
            curvature,
            torsion,
            plane_rad,
            half_ramp_mm: 0.0,
        });
    };
    for piece in pieces {
        match *piece {
            PieceSpec::Straight { length_mm } => add(length_mm, 0.0, 0.0, 0.0),
            PieceSpec::Arc {
                radius_mm,
                angle_rad,
                plane_rad,
            } => add(radius_mm * angle_rad, 1.0 / radius_mm, 0.0, plane_rad),
            PieceSpec::Helix {
                radius_mm,
                pitch_mm,
                turns,
                plane_rad,
            } => {
                let rise = pitch_mm / TAU;
                let square = radius_mm * radius_mm + rise * rise;
                add(
                    TAU * turns * square.sqrt(),
                    radius_mm / square,
                    rise / square,
                    plane_rad,
                );
            }
            PieceSpec::SBend {
                radius_mm,
                angle_rad,
                plane_rad,
            } => {
                add(radius_mm * angle_rad, 1.0 / radius_mm, 0.0, plane_rad);
                add(radius_mm * angle_rad, 1.0 / radius_mm, 0.0, plane_rad + PI);
            }
        }
    }
    for i in 1..list.len() {
        let shorter = list[i - 1].length_mm.min(list[i].length_mm);
        list[i - 1].half_ramp_mm = 0.5 * RAMP_MM.min(shorter);
    }
    list
}
