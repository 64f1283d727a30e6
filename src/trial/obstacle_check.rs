//! Refuses bodies in the lumen that leave no way to the target, or stand where nothing can.

use super::prepared::Prepared;
use crate::scenario::model::{ObstacleSpec, Place};
use crate::vessel::{Branch, Lumen, obstacle};

/// Why a body in the lumen is refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ObstacleFault {
    /// Its branch does not exist.
    #[error("an obstacle names branch {branch:?}, which is not one; branches are {known}")]
    NoBranch {
        /// The name.
        branch: String,
        /// Names of the branches.
        known: String,
        /// Where the obstacle stands in the scenario.
        place: Place,
    },
    /// It reaches beyond its branch.
    #[error(
        "the obstacle at {station_mm:.1} mm of branch {branch:?} reaches from {from_mm:.1} to {to_mm:.1} mm, but the branch runs from 0 to {length_mm:.1} mm; allowed is one within its branch"
    )]
    OffBranch {
        /// Branch.
        branch: String,
        /// Station of its middle in mm.
        station_mm: f64,
        /// Its near end in mm.
        from_mm: f64,
        /// Its far end in mm.
        to_mm: f64,
        /// Length of the branch in mm.
        length_mm: f64,
        /// Where the obstacle stands in the scenario.
        place: Place,
    },
    /// It lies outside the lumen.
    #[error(
        "the obstacle at {station_mm:.1} mm of branch {branch:?} lies outside the lumen: its axis is {off_axis_mm} mm off the vessel's, whose radius is {lumen_mm:.2} mm there; allowed is off_axis_mm below {allowed_mm:.2} mm"
    )]
    OutsideLumen {
        /// Branch.
        branch: String,
        /// Station of its middle in mm.
        station_mm: f64,
        /// Distance of its axis from the vessel's in mm.
        off_axis_mm: f64,
        /// Radius of the lumen there in mm.
        lumen_mm: f64,
        /// Distance at which it only touches the lumen from outside, in mm.
        allowed_mm: f64,
        /// Where the obstacle stands in the scenario.
        place: Place,
    },
    /// The guide ends in it.
    #[error(
        "the obstacle at {station_mm:.1} mm of branch {branch:?} stands where the guide ends ({distance_mm:.2} mm from its axis); allowed is {allowed_mm:.2} mm or more"
    )]
    AtGuide {
        /// Branch.
        branch: String,
        /// Station of its middle in mm.
        station_mm: f64,
        /// Distance of its surface from the middle of the guide's end in mm; negative inside.
        distance_mm: f64,
        /// Least distance in mm.
        allowed_mm: f64,
        /// Where the obstacle stands in the scenario.
        place: Place,
    },
    /// It leaves no way for a wire to the target.
    #[error(
        "the obstacle at {station_mm:.1} mm of branch {branch:?} stands on the way to the target and leaves {gap_mm:.3} mm between itself and the wall, but wire {wire:?} is {diameter_mm:.3} mm thick; allowed is a gap above that"
    )]
    NoWay {
        /// Branch.
        branch: String,
        /// Station of its middle in mm.
        station_mm: f64,
        /// Widest gap between it and the wall in mm, where that is least; 0 if there is none.
        gap_mm: f64,
        /// Wire.
        wire: String,
        /// Its diameter in mm.
        diameter_mm: f64,
        /// Where the obstacle stands in the scenario.
        place: Place,
    },
}

impl ObstacleFault {
    /// Where the obstacle stands in the scenario.
    #[must_use]
    pub fn place(&self) -> &Place {
        match self {
            Self::NoBranch { place, .. }
            | Self::OffBranch { place, .. }
            | Self::OutsideLumen { place, .. }
            | Self::AtGuide { place, .. }
            | Self::NoWay { place, .. } => place,
        }
    }
}

impl Prepared {
    /// Refuses obstacles that cannot stand where they are said to.
    pub(super) fn check_obstacles(&self) -> Result<(), ObstacleFault> {
        self.scenario()
            .obstacles
            .iter()
            .try_for_each(|o| self.check_obstacle(o))
    }

    fn check_obstacle(&self, o: &ObstacleSpec) -> Result<(), ObstacleFault> {
        let tree = self.tree();
        let (Some(index), Some(body)) = (tree.branch_index(&o.branch), obstacle(tree, o)) else {
            return Err(ObstacleFault::NoBranch {
                branch: o.branch.clone(),
                known: tree.names(),
                place: o.place.clone(),
            });
        };
        let branch = &tree.branches()[index];
        let length_mm = branch.centreline.length_mm();
        let (from_mm, to_mm) = o.reaches_mm();
        if from_mm < 0.0 || to_mm > length_mm {
            return Err(ObstacleFault::OffBranch {
                branch: o.branch.clone(),
                station_mm: o.station_mm,
                from_mm,
                to_mm,
                length_mm,
                place: o.place.clone(),
            });
        }
        let lumen_mm = branch.centreline.radius(o.station_mm);
        let allowed_mm = lumen_mm + 0.5 * o.diameter_mm;
        if o.off_axis_mm >= allowed_mm {
            return Err(ObstacleFault::OutsideLumen {
                branch: o.branch.clone(),
                station_mm: o.station_mm,
                off_axis_mm: o.off_axis_mm,
                lumen_mm,
                allowed_mm,
                place: o.place.clone(),
            });
        }
        // As a lumen, the space around the body: negative outside it.
        let distance_mm = -body.distance(&self.guide_tip().exit);
        let thickest = self.scenario().wires.iter().map(|w| w.diameter_mm);
        let allowed_mm = 0.5 * thickest.fold(0.0, f64::max);
        if distance_mm < allowed_mm {
            return Err(ObstacleFault::AtGuide {
                branch: o.branch.clone(),
                station_mm: o.station_mm,
                distance_mm,
                allowed_mm,
                place: o.place.clone(),
            });
        }
        if !self.must_pass(index, o) {
            return Ok(());
        }
        let gap_mm = gap_mm(branch, o);
        let mut wires = self.scenario().wires.iter();
        match wires.find(|w| w.diameter_mm >= gap_mm) {
            None => Ok(()),
            Some(wire) => Err(ObstacleFault::NoWay {
                branch: o.branch.clone(),
                station_mm: o.station_mm,
                gap_mm,
                wire: wire.name.clone(),
                diameter_mm: wire.diameter_mm,
                place: o.place.clone(),
            }),
        }
    }

    /// Whether the way from the guide's end to the target leads past an obstacle.
    fn must_pass(&self, index: usize, o: &ObstacleSpec) -> bool {
        let branches = self.tree().branches();
        let scenario = self.scenario();
        let mut at = Some((self.target_branch(), self.reaching().room_mm()));
        while let Some((branch, leave_mm)) = at {
            let has_guide = branches[branch].name == scenario.guide.branch;
            if branch == index {
                let begins_mm = if has_guide {
                    scenario.guide.station_mm
                } else {
                    0.0
                };
                return (begins_mm..leave_mm).contains(&o.station_mm);
            }
            at = branches[branch].parent.filter(|_| !has_guide);
        }
        false
    }
}

/// The widest gap in mm between a body and the wall on the side from which it stands off, where
/// that is least; 0 or more.
fn gap_mm(branch: &Branch, o: &ObstacleSpec) -> f64 {
    const PARTS: u32 = 50;
    let radius = 0.5 * o.diameter_mm;
    let (from_mm, to_mm) = o.reaches_mm();
    let (first, last) = (from_mm + radius, to_mm - radius);
    (0..=PARTS)
        .map(|k| first + (last - first) * f64::from(k) / f64::from(PARTS))
        .map(|station| branch.centreline.radius(station) + o.off_axis_mm - radius)
        .fold(f64::INFINITY, f64::min)
        .max(0.0)
}
