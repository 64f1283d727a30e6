//! Branches that are allowed but that hardly anybody means.

use crate::scenario::Warning;
use crate::scenario::model::{BranchSpec, PathSpec};

/// A take-off below this, in degrees, is more often an angle in rad: the largest is 3.14.
const NEARLY_STRAIGHT_DEG: f64 = 4.0;

/// A branch this many times as wide as its parent is told; a collateral may be narrower than the
/// vessel that it feeds.
const WIDER: f64 = 1.2;

/// A branch that leaves its parent almost straight on.
pub(super) fn straight_on(branch: &BranchSpec) -> Option<Warning> {
    let PathSpec::Pieces { take_off_rad, .. } = branch.path else {
        return None;
    };
    // As written, without what the way to rad and back adds.
    let degrees = (take_off_rad.to_degrees() * 1e9).round() / 1e9;
    if degrees <= 0.0 || degrees >= NEARLY_STRAIGHT_DEG {
        return None;
    }
    let of_rad = degrees.to_degrees();
    let meant = if of_rad <= 180.0 {
        format!("; {degrees} rad would be {of_rad:.1} deg")
    } else {
        String::new()
    };
    Some(Warning {
        message: format!(
            "take_off_deg of branch \"{}\": {degrees} degrees is almost straight on; angles are in \
             degrees{meant}",
            branch.name
        ),
        place: branch.place.field("take_off_deg"),
    })
}

/// A branch that is everywhere clearly wider than its parent is up to the place where it leaves.
pub(super) fn wider(branch: &BranchSpec, earlier: &[BranchSpec]) -> Option<Warning> {
    let attached = branch.attached.as_ref()?;
    let parent = earlier.iter().find(|other| other.name == attached.parent)?;
    let least = branch.diameters.iter().map(|d| d.1);
    let least = least.fold(f64::INFINITY, f64::min);
    let station = attached.station_mm.unwrap_or(f64::INFINITY);
    // A diameter holds up to the next station at which one stands, or changes on the way there.
    let behind = parent.diameters.partition_point(|d| d.0 <= station);
    let before = &parent.diameters[..(behind + 1).min(parent.diameters.len())];
    let widest = before.iter().map(|d| d.1).fold(0.0, f64::max);
    (least > WIDER * widest).then(|| Warning {
        message: format!(
            "branch \"{}\" is wider than its parent \"{}\": {least} mm against {widest} mm; a vessel \
             seldom is, so look whether diameters are meant, not radii, and of which branch",
            branch.name, parent.name
        ),
        place: branch.place.clone(),
    })
}
