//! From the scenario's description to the branches of a tree.

use super::centreline::Centreline;
use super::check;
use super::error::VesselError;
use super::frame;
use super::path::{Path, SPACING_MM, number, whole};
use super::pieces::{self, Start};
use super::radius::{Narrowing, RadiusProfile};
use super::spline;
use super::tree::Branch;
use crate::scenario::model::{AttachmentSpec, BranchSpec, PathSpec, VesselSpec};
use nalgebra::Vector3;

/// Length of the chords in mm between which the take-off of a branch given as points is
/// measured.
const CHORD_MM: f64 = 5.0;

/// Where a branch is attached to its parent.
#[derive(Clone, Copy)]
struct Joint<'a> {
    attachment: &'a AttachmentSpec,
    index: usize,
    parent: &'a Branch,
}

/// A path with what its attachment made of it.
struct Joined {
    path: Path,
    /// Station on the parent in mm.
    station_mm: f64,
    /// How far the first point was moved, in mm.
    shift_mm: f64,
}

/// Builds all branches.
pub(super) fn branches(spec: &VesselSpec) -> Result<Vec<Branch>, VesselError> {
    check::tree(spec)?;
    let mut done: Vec<Branch> = Vec::with_capacity(spec.branches.len());
    for (i, branch) in spec.branches.iter().enumerate() {
        let built = build(spec, i, branch, &done)?;
        done.push(built);
    }
    Ok(done)
}

/// Builds a branch; those in `done` stand before it.
fn build(
    spec: &VesselSpec,
    i: usize,
    branch: &BranchSpec,
    done: &[Branch],
) -> Result<Branch, VesselError> {
    check::numbers(branch)?;
    let lengths = done.iter().map(|branch| branch.centreline.length_mm());
    let before_mm: f64 = lengths.sum();
    let joint = match &branch.attached {
        Some(attachment) => {
            let index = check::parent(spec, i, branch, attachment)?;
            Some(Joint {
                attachment,
                index,
                parent: &done[index],
            })
        }
        None => None,
    };
    let narrowings = spec.narrowings.iter().filter(|n| n.branch == branch.name);
    let profile = RadiusProfile::new(
        &branch.diameters,
        narrowings
            .clone()
            .map(|n| Narrowing {
                station_mm: n.station_mm,
                length_mm: n.length_mm,
                diameter_mm: n.diameter_mm,
            })
            .collect(),
    );
    let joined = match &branch.path {
        PathSpec::Pieces {
            start_mm,
            direction,
            take_off_rad,
            take_off_plane_rad,
            pieces,
        } => {
            let length_mm = pieces::length(pieces);
            check::length(branch, length_mm)?;
            check::total(branch, before_mm, length_mm)?;
            let (start, station_mm) = match joint {
                Some(joint) => take_off(branch, joint, *take_off_rad, *take_off_plane_rad)?,
                None => (inlet(start_mm, direction), 0.0),
            };
            Joined {
                path: pieces::follow(&start, pieces),
                station_mm,
                shift_mm: 0.0,
            }
        }
        PathSpec::Points(points) => through_points(branch, points, (&profile, before_mm), joint)?,
    };
    for narrowing in narrowings {
        let length = joined.path.spacing_mm * number(joined.path.knots.len() - 1);
        check::narrowing(narrowing, length, &profile)?;
    }
    let centreline = Centreline::new(&joined.path, &profile);
    // Where the wall is a surface, or becomes one because of a fold, the tube is no wall and only
    // measures how far one has come.
    if spec.surface.is_none() && !spec.folds {
        check::bends(branch, &centreline)?;
    }
    hang(branch, centreline, &joined, joint)
}

/// Finds where the branch leaves its parent.
fn hang(
    branch: &BranchSpec,
    centreline: Centreline,
    joined: &Joined,
    joint: Option<Joint<'_>>,
) -> Result<Branch, VesselError> {
    let mut built = Branch {
        name: branch.name.clone(),
        parent: None,
        centreline,
        ostium_mm: 0.0,
        take_off_rad: 0.0,
        root_offset_mm: 0.0,
        shift_mm: joined.shift_mm,
    };
    let Some(joint) = joint else {
        return Ok(built);
    };
    let child = &built.centreline;
    let parent = &joint.parent.centreline;
    let Some(ostium_mm) = ostium(child, parent) else {
        return Err(VesselError::NeverLeaves {
            branch: branch.name.clone(),
            parent: joint.parent.name.clone(),
            depth_mm: -outside(parent, &child.position(child.length_mm())),
            place: branch.place.clone(),
        });
    };
    built.take_off_rad = match branch.path {
        PathSpec::Pieces { take_off_rad, .. } => take_off_rad,
        PathSpec::Points(_) => chord_turn(child, ostium_mm, parent, joined.station_mm),
    };
    built.parent = Some((joint.index, joined.station_mm));
    built.root_offset_mm = joint.parent.root_offset_mm + joined.station_mm;
    built.ostium_mm = ostium_mm;
    Ok(built)
}

/// Station in mm at which `child` first leaves the tube of `parent`, if it does.
pub(super) fn ostium(child: &Centreline, parent: &Centreline) -> Option<f64> {
    let at = |station: f64| outside(parent, &child.position(station));
    let steps = whole((child.length_mm() / SPACING_MM).ceil());
    let mut low = 0.0;
    for i in 0..=steps {
        let mut high = (number(i) * SPACING_MM).min(child.length_mm());
        if at(high) > 0.0 {
            for _ in 0..50 {
                let middle = 0.5 * (low + high);
                if at(middle) > 0.0 {
                    high = middle;
                } else {
                    low = middle;
                }
            }
            return Some(high);
        }
        low = high;
    }
    None
}

/// Signed distance of `p` to the tube around `centreline` in mm.
fn outside(centreline: &Centreline, p: &Vector3<f64>) -> f64 {
    let foot = centreline.curve().foot(p);
    foot.rho - centreline.radius(foot.station)
}

/// Angle between the parent's chord before the attachment and the child's chord across its
/// ostium.
fn chord_turn(child: &Centreline, ostium_mm: f64, parent: &Centreline, station_mm: f64) -> f64 {
    let incoming = if station_mm > 0.0 {
        parent.position(station_mm) - parent.position(station_mm - CHORD_MM)
    } else {
        parent.tangent(0.0)
    };
    let outgoing = child.position(ostium_mm + CHORD_MM) - child.position(0.0);
    incoming.angle(&outgoing)
}

/// The start of an inlet built from pieces.
fn inlet(start_mm: &Vector3<f64>, direction: &Vector3<f64>) -> Start {
    let tangent = direction.normalize();
    Start {
        position: *start_mm,
        tangent,
        normal: frame::start_normal(&tangent),
    }
}

/// The start of a branch built from pieces on its parent, and the station on the parent.
fn take_off(
    branch: &BranchSpec,
    joint: Joint<'_>,
    angle_rad: f64,
    plane_rad: f64,
) -> Result<(Start, f64), VesselError> {
    let parent = &joint.parent.centreline;
    let Some(station) = joint.attachment.station_mm else {
        return Err(VesselError::StationMissing {
            branch: branch.name.clone(),
            parent: joint.parent.name.clone(),
            parent_length_mm: parent.length_mm(),
            place: joint.attachment.place.clone(),
        });
    };
    check::station(branch, joint.attachment, station, parent.length_mm())?;
    let tangent = parent.tangent(station);
    let side = frame::around(&tangent, &parent.normal(station), plane_rad);
    let (sin, cos) = angle_rad.sin_cos();
    let start = Start {
        position: parent.position(station),
        tangent: tangent * cos + side * sin,
        normal: side * cos - tangent * sin,
    };
    Ok((start, station))
}

/// The spline through the points; with a parent it starts on the parent's centreline.
///
/// All points are moved by what brings the first one onto the parent's centreline (its nearest
/// point, or the stated station), fading linearly along the branch to nothing at the last one,
/// so that the branch keeps the direction in which it leaves. A first point from which the two
/// tubes do not touch is refused.
fn through_points(
    branch: &BranchSpec,
    points: &[Vector3<f64>],
    (profile, before_mm): (&RadiusProfile, f64),
    joint: Option<Joint<'_>>,
) -> Result<Joined, VesselError> {
    let length_mm = check::points(branch, points)?;
    check::total(branch, before_mm, length_mm)?;
    let Some(joint) = joint else {
        return Ok(Joined {
            path: spline::through(points),
            station_mm: 0.0,
            shift_mm: 0.0,
        });
    };
    let parent = &joint.parent.centreline;
    let first = points[0];
    let station_mm = match joint.attachment.station_mm {
        Some(station) => {
            check::station(branch, joint.attachment, station, parent.length_mm())?;
            station
        }
        None => parent.curve().foot(&first).station,
    };
    let start = parent.position(station_mm);
    let shift_mm = (first - start).norm();
    let allowed_mm = parent.radius(station_mm) + profile.at(0.0).0;
    if shift_mm > allowed_mm {
        return Err(VesselError::NotAttached {
            branch: branch.name.clone(),
            parent: joint.parent.name.clone(),
            distance_mm: shift_mm,
            allowed_mm,
            gap_mm: shift_mm - allowed_mm,
            place: joint.attachment.place.clone(),
        });
    }
    let moved = moved(points, start - first);
    check::points(branch, &moved)?;
    Ok(Joined {
        path: spline::through(&moved),
        station_mm,
        shift_mm,
    })
}

/// The points moved by `shift`, fading to nothing at the last one.
fn moved(points: &[Vector3<f64>], shift: Vector3<f64>) -> Vec<Vector3<f64>> {
    let mut way = vec![0.0];
    let mut length = 0.0;
    for pair in points.windows(2) {
        length += (pair[1] - pair[0]).norm();
        way.push(length);
    }
    let fade = |done: f64| 1.0 - done / length;
    points
        .iter()
        .zip(way)
        .map(|(p, done)| p + shift * fade(done))
        .collect()
}
