//! What can be said of a branch once its path is built: its length, its narrowings, its bends.

use nalgebra::Vector3;

use super::Quantity;
use crate::scenario::model::{BranchSpec, NarrowingSpec, PathSpec, Place};
use crate::vessel::centreline::Centreline;
use crate::vessel::error::VesselError;
use crate::vessel::path::{SPACING_MM, number};
use crate::vessel::pieces;
use crate::vessel::radius::RadiusProfile;

/// Longest branch in mm.
const LONGEST_MM: f64 = 10_000.0;
/// Most length of all branches together in mm: 0.25 kB of memory for each sample, 60 MB in all.
const MOST_LENGTH_MM: f64 = 60_000.0;
/// Neighbouring points nearer than this fraction of the smallest lumen radius coincide.
const COINCIDENT: f64 = 1e-6;
/// Shortest narrowing in mm: four samples of its branch see it.
const SHORTEST_NARROWING_MM: f64 = 4.0 * SPACING_MM;

/// The length of the path is bounded.
pub(in crate::vessel) fn length(branch: &BranchSpec, length_mm: f64) -> Result<(), VesselError> {
    Quantity {
        branch: &branch.name,
        what: "length of the path in mm",
        value: length_mm,
        place: branch.place.clone(),
    }
    .within(length_mm <= LONGEST_MM, "up to 10000")
}

/// The branches together are not too long; `before_mm` is the length of those before this one.
pub(in crate::vessel) fn total(
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
pub(in crate::vessel) fn points(
    branch: &BranchSpec,
    points: &[Vector3<f64>],
) -> Result<f64, VesselError> {
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
pub(in crate::vessel) fn narrowing(
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
pub(in crate::vessel) struct Bend {
    /// Lumen radius over bend radius.
    pub tightness: f64,
    pub station_mm: f64,
    pub bend_mm: f64,
    pub lumen_mm: f64,
}

/// The bend of a branch that is tightest for the width of its lumen.
pub(in crate::vessel) fn tightest_for_its_width(centreline: &Centreline) -> Bend {
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
pub(in crate::vessel) fn bends(
    branch: &BranchSpec,
    centreline: &Centreline,
) -> Result<(), VesselError> {
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
