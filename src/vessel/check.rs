//! What a described vessel must fulfil.

use super::centreline::Centreline;
use super::error::VesselError;
use super::path::{SPACING_MM, number};
use super::pieces;
use super::radius::RadiusProfile;
use crate::scenario::model::{
    AttachmentSpec, BranchSpec, NarrowingSpec, PathSpec, PieceSpec, Place, VesselSpec,
};
use crate::shown::listed;
use nalgebra::Vector3;
use std::f64::consts::PI;

/// Longest branch in mm.
const LONGEST_MM: f64 = 10_000.0;
/// Largest coordinate in mm.
const FARTHEST_MM: f64 = 100_000.0;
/// Neighbouring points nearer than this fraction of the smallest lumen radius coincide.
const COINCIDENT: f64 = 1e-6;

/// Shortest narrowing in mm: four samples of its branch see it.
const SHORTEST_NARROWING_MM: f64 = 4.0 * SPACING_MM;
/// Most length of all branches together in mm: 0.25 kB of memory for each sample, 60 MB in all.
const MOST_LENGTH_MM: f64 = 60_000.0;

const ABOVE_ZERO: &str = "any number above 0";

/// A number that has to be finite and in a range.
struct Quantity<'a> {
    branch: &'a str,
    what: &'static str,
    value: f64,
    place: Place,
}

impl Quantity<'_> {
    fn finite(&self) -> Result<(), VesselError> {
        if self.value.is_finite() {
            return Ok(());
        }
        Err(VesselError::NotANumber {
            branch: self.branch.to_owned(),
            what: self.what,
            value: self.value,
            place: self.place.clone(),
        })
    }

    fn within(&self, fine: bool, allowed: &'static str) -> Result<(), VesselError> {
        self.finite()?;
        if fine {
            return Ok(());
        }
        Err(VesselError::OutOfRange {
            branch: self.branch.to_owned(),
            what: self.what,
            value: self.value,
            allowed,
            place: self.place.clone(),
        })
    }

    fn above_zero(&self) -> Result<(), VesselError> {
        self.within(self.value > 0.0, ABOVE_ZERO)
    }
}

fn names(spec: &VesselSpec) -> String {
    let names: Vec<_> = spec.branches.iter().map(|b| b.name.as_str()).collect();
    listed(&names)
}

/// What can be said of the tree before any branch is built.
pub(super) fn tree(spec: &VesselSpec) -> Result<(), VesselError> {
    if spec.branches.is_empty() {
        return Err(VesselError::NoBranch);
    }
    Quantity {
        branch: "",
        what: "carina blend width in mm",
        value: spec.carina_blend_mm,
        place: Place::default(),
    }
    .within(spec.carina_blend_mm >= 0.0, "0 or more")?;
    for (i, branch) in spec.branches.iter().enumerate() {
        if spec.branches[..i].iter().any(|b| b.name == branch.name) {
            return Err(VesselError::DuplicateName {
                branch: branch.name.clone(),
                place: branch.place.clone(),
            });
        }
    }
    for n in &spec.narrowings {
        if spec.branches.iter().all(|b| b.name != n.branch) {
            return Err(VesselError::NarrowingUnknownBranch {
                branch: n.branch.clone(),
                known: names(spec),
                place: n.place.clone(),
            });
        }
        let number = |what, value| Quantity {
            branch: &n.branch,
            what,
            value,
            place: n.place.clone(),
        };
        number("station of a narrowing in mm", n.station_mm).finite()?;
        number("length of a narrowing in mm", n.length_mm).above_zero()?;
        number("diameter of a narrowing in mm", n.diameter_mm).above_zero()?;
    }
    Ok(())
}

/// Diameters and path of a branch: enough of them, finite, in range.
pub(super) fn numbers(branch: &BranchSpec) -> Result<(), VesselError> {
    let number = |what, value| Quantity {
        branch: &branch.name,
        what,
        value,
        place: branch.place.clone(),
    };
    enough(branch, "diameters", branch.diameters.len(), 1)?;
    let mut before = f64::NEG_INFINITY;
    for &(station, diameter) in &branch.diameters {
        number("lumen diameter in mm", diameter).above_zero()?;
        number("station of a diameter in mm", station)
            .within(station > before, "more than the station before")?;
        before = station;
    }
    match &branch.path {
        PathSpec::Points(points) => {
            enough(branch, "points", points.len(), 2)?;
            points.iter().try_for_each(|p| coordinates(branch, p))
        }
        PathSpec::Pieces {
            start_mm,
            direction,
            take_off_rad,
            take_off_plane_rad,
            pieces,
        } => {
            enough(branch, "pieces", pieces.len(), 1)?;
            if branch.attached.is_none() {
                coordinates(branch, start_mm)?;
                number("length of the direction", direction.norm()).above_zero()?;
            } else {
                number("take-off angle in rad", *take_off_rad)
                    .within((0.0..=PI).contains(take_off_rad), "0 to pi")?;
                number("plane of the take-off in rad", *take_off_plane_rad).finite()?;
            }
            pieces.iter().try_for_each(|p| piece(branch, p))
        }
    }
}

fn enough(
    branch: &BranchSpec,
    what: &'static str,
    found: usize,
    needed: usize,
) -> Result<(), VesselError> {
    if found >= needed {
        return Ok(());
    }
    Err(VesselError::TooFew {
        branch: branch.name.clone(),
        what,
        found,
        needed,
        place: branch.place.clone(),
    })
}

fn coordinates(branch: &BranchSpec, p: &Vector3<f64>) -> Result<(), VesselError> {
    p.iter().try_for_each(|&value| {
        Quantity {
            branch: &branch.name,
            what: "coordinate in mm",
            value,
            place: branch.place.clone(),
        }
        .within(value.abs() <= FARTHEST_MM, "-100000 to 100000")
    })
}

fn piece(branch: &BranchSpec, piece: &PieceSpec) -> Result<(), VesselError> {
    let number = |what, value| Quantity {
        branch: &branch.name,
        what,
        value,
        place: branch.place.clone(),
    };
    match *piece {
        PieceSpec::Straight { length_mm } => {
            number("length of a straight piece in mm", length_mm).above_zero()
        }
        PieceSpec::Arc {
            radius_mm,
            angle_rad,
            plane_rad,
        }
        | PieceSpec::SBend {
            radius_mm,
            angle_rad,
            plane_rad,
        } => {
            number("radius of an arc in mm", radius_mm).above_zero()?;
            number("angle of an arc in rad", angle_rad).above_zero()?;
            number("plane of an arc in rad", plane_rad).finite()
        }
        PieceSpec::Helix {
            radius_mm,
            pitch_mm,
            turns,
            plane_rad,
        } => {
            number("radius of a helix in mm", radius_mm).above_zero()?;
            number("number of turns of a helix", turns).above_zero()?;
            number("pitch of a helix in mm", pitch_mm).finite()?;
            number("plane of a helix in rad", plane_rad).finite()
        }
    }
}

/// The index of the parent, which stands before the branch.
pub(super) fn parent(
    spec: &VesselSpec,
    i: usize,
    branch: &BranchSpec,
    attachment: &AttachmentSpec,
) -> Result<usize, VesselError> {
    let (parent, place) = (attachment.parent.clone(), attachment.place.clone());
    let found = spec.branches.iter().position(|b| b.name == parent);
    match found {
        Some(index) if index < i => Ok(index),
        Some(_) => Err(VesselError::ParentAfterChild {
            branch: branch.name.clone(),
            parent,
            place,
        }),
        None => Err(VesselError::UnknownParent {
            branch: branch.name.clone(),
            parent,
            known: names(spec),
            place,
        }),
    }
}

/// The station of an attachment lies on the parent.
pub(super) fn station(
    branch: &BranchSpec,
    attachment: &AttachmentSpec,
    station_mm: f64,
    length_mm: f64,
) -> Result<(), VesselError> {
    let what = "attachment";
    Quantity {
        branch: &branch.name,
        what: "station of the attachment in mm",
        value: station_mm,
        place: attachment.place.clone(),
    }
    .finite()?;
    if (0.0..=length_mm).contains(&station_mm) {
        return Ok(());
    }
    Err(VesselError::StationOff {
        branch: branch.name.clone(),
        what,
        on: attachment.parent.clone(),
        station_mm,
        length_mm,
        place: attachment.place.clone(),
    })
}

/// The length of the path is bounded.
pub(super) fn length(branch: &BranchSpec, length_mm: f64) -> Result<(), VesselError> {
    Quantity {
        branch: &branch.name,
        what: "length of the path in mm",
        value: length_mm,
        place: branch.place.clone(),
    }
    .within(length_mm <= LONGEST_MM, "up to 10000")
}

/// The branches together are not too long; `before_mm` is the length of those before this one.
pub(super) fn total(
    branch: &BranchSpec,
    before_mm: f64,
    length_mm: f64,
) -> Result<(), VesselError> {
    if before_mm + length_mm <= MOST_LENGTH_MM {
        return Ok(());
    }
    Err(VesselError::TooLarge {
        reason: format!(
            "with branch `{}` the branches are more than {MOST_LENGTH_MM} mm long together",
            branch.name
        ),
        remedy: "leave out branches that no wire can come to",
        place: branch.place.clone(),
    })
}

/// Points: neighbours apart, and not too long a way, whose length in mm is given back.
pub(super) fn points(branch: &BranchSpec, points: &[Vector3<f64>]) -> Result<f64, VesselError> {
    let smallest = branch
        .diameters
        .iter()
        .fold(f64::INFINITY, |m, d| m.min(0.5 * d.1));
    let mut way = 0.0;
    for (i, pair) in points.windows(2).enumerate() {
        let distance_mm = (pair[1] - pair[0]).norm();
        if distance_mm <= COINCIDENT * smallest {
            return Err(VesselError::CoincidentPoints {
                branch: branch.name.clone(),
                first: i + 1,
                distance_mm,
                place: branch.place.clone(),
            });
        }
        way += distance_mm;
    }
    length(branch, way)?;
    Ok(way)
}

/// A narrowing lies on its branch and is narrower.
pub(super) fn narrowing(
    narrowing: &NarrowingSpec,
    length_mm: f64,
    profile: &RadiusProfile,
) -> Result<(), VesselError> {
    let n = narrowing;
    if n.length_mm < SHORTEST_NARROWING_MM {
        return Err(VesselError::NarrowingTooShort {
            branch: n.branch.clone(),
            length_mm: n.length_mm,
            least_mm: SHORTEST_NARROWING_MM,
            place: n.place.clone(),
        });
    }
    if !(0.0..=length_mm).contains(&n.station_mm) {
        return Err(VesselError::StationOff {
            branch: n.branch.clone(),
            what: "narrowing",
            on: n.branch.clone(),
            station_mm: n.station_mm,
            length_mm,
            place: n.place.clone(),
        });
    }
    let lumen_mm = 2.0 * profile.without_narrowings(n.station_mm).0;
    if n.diameter_mm < lumen_mm {
        return Ok(());
    }
    Err(VesselError::NarrowingTooWide {
        branch: n.branch.clone(),
        station_mm: n.station_mm,
        diameter_mm: n.diameter_mm,
        lumen_mm,
        place: n.place.clone(),
    })
}

/// A bend compared with the lumen in it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bend {
    /// Lumen radius over bend radius.
    pub tightness: f64,
    pub station_mm: f64,
    pub bend_mm: f64,
    pub lumen_mm: f64,
}

/// The bend of a branch that is tightest for the width of its lumen.
pub(super) fn tightest_for_its_width(centreline: &Centreline) -> Bend {
    let curve = centreline.curve();
    let mut worst = (0.0, 0.0, 0.0);
    for i in 0..curve.knots.len() {
        let station = number(i) * curve.spacing_mm;
        let curvature = centreline.curvature(station).norm();
        let tightness = curvature * centreline.radius(station);
        if tightness > worst.0 || tightness.is_nan() {
            worst = (tightness, station, curvature);
        }
    }
    Bend {
        tightness: worst.0,
        station_mm: worst.1,
        bend_mm: 1.0 / worst.2,
        lumen_mm: centreline.radius(worst.1),
    }
}

/// No bend is tighter than the lumen radius at the same station; the worst place is reported.
pub(super) fn bends(branch: &BranchSpec, centreline: &Centreline) -> Result<(), VesselError> {
    let worst = tightest_for_its_width(centreline);
    if worst.tightness < 1.0 {
        return Ok(());
    }
    Err(VesselError::BendTooTight {
        branch: branch.name.clone(),
        station_mm: worst.station_mm,
        bend_mm: worst.bend_mm,
        lumen_mm: worst.lumen_mm,
        place: piece_at(branch, worst.station_mm),
    })
}

/// Where the piece at a station stands; the branch, where it is not made of pieces or stands in no
/// file.
fn piece_at(branch: &BranchSpec, station_mm: f64) -> Place {
    let PathSpec::Pieces { pieces, .. } = &branch.path else {
        return branch.place.clone();
    };
    if branch.place == Place::default() {
        return branch.place.clone();
    }
    let ends = |count: usize| pieces::length(&pieces[..count]);
    let piece = (1..=pieces.len()).find(|count| ends(*count) > station_mm);
    let piece = piece.unwrap_or(pieces.len()) - 1;
    branch.place.field("pieces").entry(piece)
}
