//! What a described vessel must fulfil.

mod built;

pub(super) use built::{bends, length, narrowing, points, tightest_for_its_width, total};

use super::error::VesselError;
use crate::scenario::model::{
    AttachmentSpec, BranchSpec, PathSpec, PieceSpec, Place, TAKE_OFF_RAD, VesselSpec,
};
use crate::shown::listed;
use nalgebra::Vector3;

/// Largest coordinate in mm.
const FARTHEST_MM: f64 = 100_000.0;

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
                    .within(TAKE_OFF_RAD.contains(take_off_rad), "0 to pi")?;
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
