//! Why a vessel is refused.

use crate::schema::Place;
use thiserror::Error;

/// A vessel that cannot be built, with the branch, the place in the scenario file, the value and
/// what is allowed.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum VesselError {
    /// The vessel has no branch.
    #[error("the vessel has no branch; describe at least one")]
    NoBranch,
    /// A number is missing its finite value.
    #[error("branch `{branch}`: {what} is not a finite number ({value})")]
    NotANumber {
        /// Branch concerned.
        branch: String,
        /// Which quantity.
        what: &'static str,
        /// Its value.
        value: f64,
        /// Where it stands.
        place: Place,
    },
    /// A number lies outside its range.
    #[error("branch `{branch}`: {what} is {value}, allowed is {allowed}")]
    OutOfRange {
        /// Branch concerned; empty for the tree as a whole.
        branch: String,
        /// Which quantity, with its unit.
        what: &'static str,
        /// Its value.
        value: f64,
        /// What is allowed, in words.
        allowed: &'static str,
        /// Where it stands.
        place: Place,
    },
    /// A narrowing that falls between the samples of its branch.
    #[error(
        "branch `{branch}`: a narrowing of {length_mm} mm length is shorter than what is resolved; \
         allowed is {least_mm} mm or more"
    )]
    NarrowingTooShort {
        /// Branch concerned.
        branch: String,
        /// Its length in mm.
        length_mm: f64,
        /// Least length in mm.
        least_mm: f64,
        /// Where it stands.
        place: Place,
    },
    /// A vessel that would take too much memory or time.
    #[error("the vessel is too large: {reason}; {remedy}")]
    TooLarge {
        /// What there is too much of, with what is allowed.
        reason: String,
        /// What to do.
        remedy: &'static str,
        /// Where the branch stands with which it becomes too large; nowhere for all together.
        place: Place,
    },
    /// Two branches have the same name.
    #[error("branch `{branch}` is described twice; every branch needs a name of its own")]
    DuplicateName {
        /// The name.
        branch: String,
        /// Where the second one stands.
        place: Place,
    },
    /// The parent is not a branch of the vessel.
    #[error(
        "branch `{branch}` is attached to `{parent}`, which is not a branch; branches are {known}"
    )]
    UnknownParent {
        /// Branch concerned.
        branch: String,
        /// The parent's name.
        parent: String,
        /// Names that exist.
        known: String,
        /// Where the attachment stands.
        place: Place,
    },
    /// The parent stands behind the branch.
    #[error("branch `{branch}` stands before its parent `{parent}`; move it behind its parent")]
    ParentAfterChild {
        /// Branch concerned.
        branch: String,
        /// The parent's name.
        parent: String,
        /// Where the attachment stands.
        place: Place,
    },
    /// A branch made of pieces does not say where it leaves its parent.
    #[error(
        "branch `{branch}` is built from pieces and needs the station on `{parent}` at which it leaves, allowed 0 to {parent_length_mm:.3} mm"
    )]
    StationMissing {
        /// Branch concerned.
        branch: String,
        /// The parent's name.
        parent: String,
        /// Length of the parent in mm.
        parent_length_mm: f64,
        /// Where the attachment stands.
        place: Place,
    },
    /// The station lies off the branch on which it should be.
    #[error(
        "branch `{branch}`: {what} at {station_mm} mm lies off `{on}`, allowed 0 to {length_mm:.3} mm"
    )]
    StationOff {
        /// Branch concerned.
        branch: String,
        /// What has the station.
        what: &'static str,
        /// Branch on which the station is counted.
        on: String,
        /// The station in mm.
        station_mm: f64,
        /// Length of that branch in mm.
        length_mm: f64,
        /// Where it stands.
        place: Place,
    },
    /// The first point lies away from the parent's lumen.
    #[error(
        "branch `{branch}` is not attached to `{parent}`: its first point lies {distance_mm:.3} mm from the parent's centreline, allowed is {allowed_mm:.3} mm (both lumen radii together); a gap of {gap_mm:.3} mm remains"
    )]
    NotAttached {
        /// Branch concerned.
        branch: String,
        /// The parent's name.
        parent: String,
        /// Distance of the first point from the parent's centreline in mm.
        distance_mm: f64,
        /// Largest distance at which the two tubes touch, in mm.
        allowed_mm: f64,
        /// Gap between the tubes in mm.
        gap_mm: f64,
        /// Where the attachment stands.
        place: Place,
    },
    /// The branch stays inside its parent.
    #[error(
        "branch `{branch}` never leaves the lumen of `{parent}`: its end lies {depth_mm:.3} mm inside the wall; make it longer or its take-off wider"
    )]
    NeverLeaves {
        /// Branch concerned.
        branch: String,
        /// The parent's name.
        parent: String,
        /// How far its end lies inside the parent's wall, in mm.
        depth_mm: f64,
        /// Where the branch stands.
        place: Place,
    },
    /// The path has too few points or pieces.
    #[error("branch `{branch}` has {found} {what}, at least {needed} needed")]
    TooFew {
        /// Branch concerned.
        branch: String,
        /// Points, pieces or diameters.
        what: &'static str,
        /// How many there are.
        found: usize,
        /// How many it takes.
        needed: usize,
        /// Where the branch stands.
        place: Place,
    },
    /// Two neighbouring points coincide.
    #[error("branch `{branch}`: points {first} and {second} coincide ({distance_mm:e} mm apart); leave one out", second = first + 1)]
    CoincidentPoints {
        /// Branch concerned.
        branch: String,
        /// Number of the first of the two, from 1.
        first: usize,
        /// Their distance in mm.
        distance_mm: f64,
        /// Where the branch stands.
        place: Place,
    },
    /// A bend is tighter than the lumen is wide.
    #[error(
        "branch `{branch}` bends with a radius of {bend_mm:.3} mm at {station_mm:.2} mm, tighter than its lumen radius there; allowed is more than {lumen_mm:.3} mm"
    )]
    BendTooTight {
        /// Branch concerned.
        branch: String,
        /// Station of the bend in mm.
        station_mm: f64,
        /// Radius of curvature in mm.
        bend_mm: f64,
        /// Lumen radius there in mm.
        lumen_mm: f64,
        /// Where the branch stands.
        place: Place,
    },
    /// A narrowing belongs to no branch.
    #[error("a narrowing names the branch `{branch}`, which is not a branch; branches are {known}")]
    NarrowingUnknownBranch {
        /// The name given.
        branch: String,
        /// Names that exist.
        known: String,
        /// Where the narrowing stands.
        place: Place,
    },
    /// A narrowing is wider than the branch.
    #[error(
        "branch `{branch}`: the narrowing at {station_mm} mm has a diameter of {diameter_mm} mm, allowed is less than the lumen's {lumen_mm:.3} mm there"
    )]
    NarrowingTooWide {
        /// Branch concerned.
        branch: String,
        /// Station of the narrowing in mm.
        station_mm: f64,
        /// Its diameter in mm.
        diameter_mm: f64,
        /// Diameter of the branch there in mm.
        lumen_mm: f64,
        /// Where the narrowing stands.
        place: Place,
    },
}

impl VesselError {
    /// Where in the scenario the cause stands.
    #[must_use]
    pub fn place(&self) -> &Place {
        match self {
            Self::NoBranch => Place::whole(),
            Self::NotANumber { place, .. }
            | Self::OutOfRange { place, .. }
            | Self::DuplicateName { place, .. }
            | Self::UnknownParent { place, .. }
            | Self::ParentAfterChild { place, .. }
            | Self::StationMissing { place, .. }
            | Self::StationOff { place, .. }
            | Self::NotAttached { place, .. }
            | Self::NeverLeaves { place, .. }
            | Self::TooFew { place, .. }
            | Self::CoincidentPoints { place, .. }
            | Self::BendTooTight { place, .. }
            | Self::NarrowingUnknownBranch { place, .. }
            | Self::NarrowingTooShort { place, .. }
            | Self::TooLarge { place, .. }
            | Self::NarrowingTooWide { place, .. } => place,
        }
    }
}
