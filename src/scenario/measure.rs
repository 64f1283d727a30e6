//! Nominal lengths of branches as described, before any curve is drawn through them: enough to
//! refuse what cannot work.

use std::f64::consts::TAU;

use nalgebra::Vector3;

use super::model::{BranchSpec, PathSpec, PieceSpec, VesselSpec};

/// Length of a path in mm. For points it is the sum of the chords, a little less than the length
/// of the smooth curve through them.
pub(super) fn length_mm(path: &PathSpec) -> f64 {
    match path {
        PathSpec::Pieces { pieces, .. } => pieces.iter().map(piece_length_mm).sum(),
        PathSpec::Points(points) => chord_stations(points).last().copied().unwrap_or(0.0),
    }
}

fn piece_length_mm(piece: &PieceSpec) -> f64 {
    match *piece {
        PieceSpec::Straight { length_mm } => length_mm,
        PieceSpec::Arc {
            radius_mm,
            angle_rad,
            ..
        } => radius_mm * angle_rad,
        PieceSpec::Helix {
            radius_mm,
            pitch_mm,
            turns,
            ..
        } => turns * (TAU * radius_mm).hypot(pitch_mm),
        PieceSpec::SBend {
            radius_mm,
            angle_rad,
            ..
        } => 2.0 * radius_mm * angle_rad,
    }
}

/// Station of every point of a polygon in mm: the sum of the chords before it.
pub(super) fn chord_stations(points: &[Vector3<f64>]) -> Vec<f64> {
    let mut station = 0.0;
    let mut stations = vec![0.0];
    for pair in points.windows(2) {
        station += (pair[1] - pair[0]).norm();
        stations.push(station);
    }
    stations.truncate(points.len());
    stations
}

/// Station of the point of a polygon nearest to `p`, in mm.
fn nearest_station(points: &[Vector3<f64>], p: &Vector3<f64>) -> f64 {
    let stations = chord_stations(points);
    let mut best = (f64::INFINITY, 0.0);
    for (index, pair) in points.windows(2).enumerate() {
        let chord = pair[1] - pair[0];
        let along = ((p - pair[0]).dot(&chord) / chord.norm_squared()).clamp(0.0, 1.0);
        let distance = (p - pair[0] - along * chord).norm();
        if distance < best.0 {
            best = (distance, stations[index] + along * chord.norm());
        }
    }
    best.1
}

/// Station on `parent` where `child` leaves it, in mm.
fn take_off_station(parent: &BranchSpec, child: &BranchSpec) -> f64 {
    let said = child.attached.as_ref().and_then(|at| at.station_mm);
    match (said, &parent.path, &child.path) {
        (Some(station), _, _) => station,
        (None, PathSpec::Points(points), PathSpec::Points(own)) => own
            .first()
            .map_or(0.0, |first| nearest_station(points, first)),
        (None, _, _) => length_mm(&parent.path),
    }
}

/// A stretch of a branch that a wire must pass on its way: two stations in mm.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stretch {
    pub(super) from_mm: f64,
    pub(super) to_mm: f64,
}

/// The way from a station in `guide` to `beyond_mm` inside `target`, branch by branch; `None`
/// if the target does not lie downstream of the guide.
pub(super) fn way(
    vessel: &VesselSpec,
    guide: &str,
    guide_station_mm: f64,
    target: &str,
    beyond_mm: f64,
) -> Option<Vec<Stretch>> {
    let find = |name: &str| vessel.branches.iter().find(|branch| branch.name == name);
    let mut branch = find(target)?;
    let mut to_mm = beyond_mm;
    let mut stretches = Vec::new();
    while branch.name != guide {
        stretches.push(Stretch {
            from_mm: 0.0,
            to_mm,
        });
        let parent = find(&branch.attached.as_ref()?.parent)?;
        to_mm = take_off_station(parent, branch);
        branch = parent;
    }
    stretches.push(Stretch {
        from_mm: guide_station_mm,
        to_mm,
    });
    stretches.reverse();
    Some(stretches)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn a_helix_is_as_long_as_its_unrolled_cylinder() {
        let helix = PieceSpec::Helix {
            radius_mm: 3.0,
            pitch_mm: 8.0,
            turns: 2.0,
            plane_rad: 0.0,
        };
        let unrolled = 2.0 * ((TAU * 3.0).powi(2) + 64.0).sqrt();
        assert_relative_eq!(piece_length_mm(&helix), unrolled, max_relative = 1e-14);
    }

    #[test]
    fn the_nearest_station_lies_square_above_the_chord() {
        let points = [Vector3::zeros(), Vector3::new(10.0, 0.0, 0.0)];
        let station = nearest_station(&points, &Vector3::new(4.0, 3.0, 0.0));
        assert_relative_eq!(station, 4.0, max_relative = 1e-14);
    }
}
