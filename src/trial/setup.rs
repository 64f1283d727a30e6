//! What can keep a scenario from being made ready.

use super::moving::MotionFault;
use super::obstacle_check::ObstacleFault;
use super::reaching::Reaching;
use super::technique_check::TechniqueFault;
use crate::device::DeviceError;
use crate::schema::Place;
use crate::vessel::VesselError;

/// Why a scenario cannot be made ready.
#[derive(Debug, thiserror::Error)]
pub enum SetupError {
    /// The vessel cannot be built.
    #[error(transparent)]
    Vessel(#[from] VesselError),
    /// A wire cannot be built.
    #[error(transparent)]
    Device(#[from] DeviceError),
    /// A branch is named that does not exist.
    #[error("there is no branch {name:?} in the vessel; branches are {known}")]
    NoBranch {
        /// Name that was given.
        name: String,
        /// Branches there are.
        known: String,
        /// Where it was given.
        place: Place,
    },
    /// The guide's end lies off its branch.
    #[error(
        "the guide ends at {station_mm} mm of branch {branch:?}, which runs from 0 to {length_mm:.1} mm; choose a station on it"
    )]
    GuideOffBranch {
        /// Station that was given, in mm.
        station_mm: f64,
        /// Branch.
        branch: String,
        /// Its length in mm.
        length_mm: f64,
        /// Where it was given.
        place: Place,
    },
    /// A support catheter does not fit.
    #[error(
        "the outer diameter of catheter {catheter:?} is {diameter_mm:.3} mm, but the lumen is {lumen_mm:.3} mm wide at {station_mm:.1} mm in branch {branch:?} into which it has to go; allowed is below {lumen_mm:.3} mm"
    )]
    CatheterTooThick {
        /// Catheter.
        catheter: String,
        /// Its outer diameter in mm.
        diameter_mm: f64,
        /// Branch.
        branch: String,
        /// Where the lumen is narrowest, in mm from the start of the branch.
        station_mm: f64,
        /// Lumen diameter there in mm.
        lumen_mm: f64,
        /// Where the catheter was given.
        place: Place,
    },
    /// A body that stands in the lumen does not go with the rest.
    #[error(transparent)]
    Obstacle(#[from] ObstacleFault),
    /// The vessel cannot give way.
    #[error("a vessel with a bed gives way, and {reason}")]
    Bed {
        /// Why it cannot.
        reason: String,
        /// Where the bed was given.
        place: Place,
    },
    /// The vessel cannot move as it is said.
    #[error("{fault}")]
    Motion {
        /// Why it cannot.
        fault: MotionFault,
        /// Where the movement was given.
        place: Place,
    },
    /// The wire does not fit.
    #[error(
        "diameter_mm of wire {wire:?} is {diameter_mm:.4} mm, but the lumen is {lumen_mm:.4} mm wide at {station_mm:.1} mm in branch {branch:?} on the way to the target; allowed is below {lumen_mm:.4} mm"
    )]
    WireTooThick {
        /// Wire.
        wire: String,
        /// Its diameter in mm.
        diameter_mm: f64,
        /// Branch.
        branch: String,
        /// Where the lumen is narrowest, in mm from the start of the branch.
        station_mm: f64,
        /// Lumen diameter there in mm.
        lumen_mm: f64,
        /// Where the wire was given.
        place: Place,
    },
    /// The target ends before a tip in it could count as having reached it.
    #[error(
        "the vessel behind the mouth of branch {branch:?} is too short: it is {length_mm:.1} mm long from the branch's start, its whole mouth ends at {:.1} mm, the tip has to lie {} mm beyond that and is then fed {:.1} mm further; allowed is a vessel of {needed_mm:.1} mm or more",
        reaching.mouth_mm,
        reaching.beyond_mm,
        reaching.hold_mm
    )]
    NoRoom {
        /// Target.
        branch: String,
        /// Length in mm of the target and of what goes straight on behind it.
        length_mm: f64,
        /// What has to be done in it.
        reaching: Reaching,
        /// Length that this needs, in mm.
        needed_mm: f64,
        /// Where the target was given.
        place: Place,
    },
    /// A technique cannot be tried here.
    #[error("technique {technique:?}: {fault}")]
    Technique {
        /// Technique.
        technique: String,
        /// Why not.
        fault: TechniqueFault,
        /// Where it was given.
        place: Place,
    },
}

impl SetupError {
    /// Where in the scenario the cause stands.
    #[must_use]
    pub fn place(&self) -> &Place {
        match self {
            Self::Vessel(e) => e.place(),
            Self::Device(e) => e.place(),
            Self::Obstacle(e) => e.place(),
            Self::NoBranch { place, .. }
            | Self::GuideOffBranch { place, .. }
            | Self::WireTooThick { place, .. }
            | Self::NoRoom { place, .. }
            | Self::Bed { place, .. }
            | Self::Motion { place, .. }
            | Self::CatheterTooThick { place, .. }
            | Self::Technique { place, .. } => place,
        }
    }

    /// What to do about it, in a few words.
    #[must_use]
    pub fn remedy(&self) -> &'static str {
        match self {
            Self::Vessel(_) => "correct this branch, or the one on which it hangs",
            Self::Device(_) => "correct this device",
            Self::Obstacle(_) => "move the obstacle, or make it smaller",
            Self::CatheterTooThick { .. } => "take a thinner catheter or a wider vessel",
            Self::WireTooThick { .. } => "take a thinner wire or a wider vessel",
            Self::Bed { .. } => {
                "leave out [vessel.bed], or what does not go with it; a surface may be given as centrelines"
            }
            Self::Motion { fault, .. } => fault.remedy(),
            Self::NoRoom { .. } => {
                "take a longer branch, or a smaller beyond_ostium_mm or hold_mm of [target]"
            }
            Self::NoBranch { .. } => "name a branch of the vessel",
            Self::Technique { .. } => "change the technique, or the device or vessel it names",
            Self::GuideOffBranch { .. } => "choose a station on the branch",
        }
    }
}
