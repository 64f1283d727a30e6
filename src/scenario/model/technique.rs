//! Techniques of a checked scenario.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{BendSpec, Place};
use crate::scenario::view::SightSpec;
use crate::units::degrees;

/// A technique with its settings.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TechniqueSpec {
    /// Unique name.
    pub name: String,
    /// What the hands do.
    pub plan: PlanSpec,
    /// What it brings along.
    pub aids: AidsSpec,
    /// What it may see.
    pub sight: SightSpec,
    /// Where it is described.
    pub place: Place,
}

/// What a technique brings along beside the plan.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct AidsSpec {
    /// A balloon that blocks the vessel which goes straight on.
    pub balloon: Option<BalloonSpec>,
    /// Another wire to go on with.
    pub exchange: Option<ExchangeSpec>,
    /// How the guide is pointed before the second attempt, the third and so on, over and over;
    /// empty for a guide that stays.
    pub guide_aims: Vec<GuideAimSpec>,
    /// The branch that holds the tip while a loop forms; for [`PlanSpec::LoopInVessel`].
    pub anchor: Option<AnchorSpec>,
}

/// A branch that holds the tip of the wire for a while.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AnchorSpec {
    /// Name of the branch.
    pub branch: String,
    /// Where it is named.
    pub place: Place,
}

/// An occluding balloon in the vessel that goes straight on where the target leaves.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BalloonSpec {
    /// Diameter to which it is inflated in mm, above 0.
    pub diameter_mm: f64,
    /// Length in mm, above 0.
    pub length_mm: f64,
    /// How far its near end lies beyond the branching, in mm; 0 or more.
    pub beyond_mm: f64,
    /// Stiffness of its foundation in mN/mm², above 0; small for a soft balloon.
    pub stiffness_mn_per_mm2: f64,
    /// Its shaft, where that shares the lumen with the wire.
    pub shaft: Option<ShaftSpec>,
    /// Where it is described.
    pub place: Place,
}

/// The shaft of a balloon, from the guide to the balloon: it lies where the wire over which the
/// balloon was brought comes to lie when it is fed there.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ShaftSpec {
    /// Diameter in mm, above 0.
    pub diameter_mm: f64,
    /// Index of the wire over which the balloon was brought.
    pub wire: usize,
}

/// A change of wire.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ExchangeSpec {
    /// Attempts with the first wire, at least 1.
    pub after: u32,
    /// Name of the wire to go on with.
    pub wire: String,
    /// Where it is described.
    pub place: Place,
}

/// How the guide is pointed, relative to how the scenario has it.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct GuideAimSpec {
    /// Angle of its direction off the vessel's.
    #[serde(rename = "tilt_deg", with = "degrees")]
    #[schemars(with = "f64", range(min = 0, max = 60), extend("x-example" = "10"))]
    pub tilt_rad: f64,
    /// Plane of the tilt, counted about the vessel's tangent from its running normal.
    #[serde(rename = "plane_deg", with = "degrees")]
    #[schemars(with = "f64", range(min = -360, max = 360), extend("x-example" = "0"))]
    pub plane_rad: f64,
    /// How much deeper it stands.
    #[schemars(range(min = 0, max = 50), extend("x-example" = "0"))]
    pub deeper_mm: f64,
}

/// A dual-lumen catheter on a first wire, out of whose side port the wire comes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct CarrierSpec {
    /// Index of the catheter, which has a side port.
    pub catheter: usize,
    /// Index of the wire over which it rides.
    pub first_wire: usize,
    /// How far past the branching the tip of that wire lies, in the vessel that goes on, in mm;
    /// above 0.
    pub first_wire_past_mm: f64,
}

/// The plans of hand movements.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum PlanSpec {
    /// Feed at the drawn roll until something is decided.
    Push,
    /// Feed; when the tip is astray or stopped, withdraw to before the ostium, turn, feed again.
    Redirect {
        /// Attempts in all, at least 1.
        attempts: u32,
        /// How far before the ostium the tip is withdrawn, in mm; above 0.
        withdraw_to_mm: f64,
        /// Turn of the hand between attempts in rad; `None` draws it from the whole circle. With a
        /// projected sight: how far beyond the aim each further attempt turns, alternately to
        /// either side; `None` for [`crate::hands::BEYOND_AIM_RAD`].
        turn_rad: Option<f64>,
        /// Turn of the hand to and fro while it feeds, to either side, in rad; 0 for none.
        rock_rad: f64,
    },
    /// Fold the wire back on itself; feed the fold ahead until the tip has passed the branch;
    /// withdraw, so that the free leg drops into it; feed on. When it does not, turn and try
    /// again.
    LoopedBack {
        /// The fold.
        fold: BendSpec,
        /// How far past the branching the tip is fed, in mm; above 0.
        past_mm: f64,
        /// Attempts in all, at least 1.
        attempts: u32,
        /// Turn of the hand between attempts in rad; `None` draws it from the whole circle.
        turn_rad: Option<f64>,
        /// The catheter out of whose side port the main leg comes; `None` for a wire that is
        /// loaded through the guide alone.
        carrier: Option<CarrierSpec>,
    },
    /// A straight support catheter follows the wire, which is redirected as by
    /// [`PlanSpec::Redirect`]; wire and catheter advance in turn.
    Support {
        /// Index of the catheter.
        catheter: usize,
        /// Length of wire in front of the catheter's tip when that has followed, in mm; above 0.
        behind_tip_mm: f64,
        /// How much further the wire goes before the catheter follows, in mm; above 0.
        stride_mm: f64,
        /// How far before the ostium the catheter stays, in mm.
        before_ostium_mm: f64,
        /// Attempts in all, at least 1.
        attempts: u32,
        /// How far before the ostium the wire's tip is withdrawn, in mm; above 0.
        withdraw_to_mm: f64,
        /// Turn of the wire between attempts in rad; `None` draws it from the whole circle.
        turn_rad: Option<f64>,
        /// How far beyond the ostium the catheter is to follow once the wire is there, in mm;
        /// `None` ends the trial when the wire is.
        follow_mm: Option<f64>,
    },
    /// A bent support catheter is brought to the ostium over the wire, the wire drawn back into
    /// it, the bend aimed by turning the catheter at its hub, and the wire fed through it; when
    /// that fails the wire is drawn back and the bend aimed again, a little to one side.
    AngledSupport {
        /// Index of the catheter.
        catheter: usize,
        /// How far before the ostium the catheter's tip is brought, in mm.
        before_ostium_mm: f64,
        /// Length of wire in front of the catheter's tip on the way there, in mm; above 0.
        lead_mm: f64,
        /// Angle to which a steerable tip is bent there, in rad; `None` for a preformed one.
        steer_rad: Option<f64>,
        /// Attempts in all, at least 1.
        attempts: u32,
        /// How far beyond the aim each further attempt turns, alternately to either side, in rad.
        beyond_rad: f64,
        /// As in [`PlanSpec::Support`].
        follow_mm: Option<f64>,
    },
    /// A dual-lumen catheter is brought over its first wire until its side port lies before the
    /// ostium, the port aimed by turning the catheter, and the wire fed out of it; when that fails
    /// the wire is drawn back and the port aimed again, a little to one side.
    DualLumen {
        /// The catheter.
        carrier: CarrierSpec,
        /// How far before the ostium the port is brought, in mm.
        before_ostium_mm: f64,
        /// Attempts in all, at least 1.
        attempts: u32,
        /// As in [`PlanSpec::AngledSupport`].
        beyond_rad: f64,
    },
    /// The wire is fed out of a side port into another branch (the anchor); the catheter goes on
    /// over its first wire, so that the wire, held in that branch, lays itself into a loop, until
    /// its tip has come out and past the target's branching; then all is withdrawn, so that the
    /// free leg drops into the target; the wire is fed on.
    LoopInVessel {
        /// The catheter.
        carrier: CarrierSpec,
        /// How far before the anchor's ostium the port is brought, in mm.
        before_ostium_mm: f64,
        /// How deep the tip is fed into the anchor, in mm; above 0.
        hold_mm: f64,
        /// Wire paid out while the loop forms beyond what the catheter takes along, in mm; 0 or
        /// more.
        slack_mm: f64,
        /// How far past the branching the tip is brought, in mm; above 0.
        past_mm: f64,
        /// Attempts in all to enter the anchor, at least 1.
        attempts: u32,
        /// As in [`PlanSpec::AngledSupport`].
        beyond_rad: f64,
    },
}

impl PlanSpec {
    /// Index of the support catheter that the technique uses.
    #[must_use]
    pub fn catheter(&self) -> Option<usize> {
        match *self {
            Self::Support { catheter, .. } | Self::AngledSupport { catheter, .. } => Some(catheter),
            _ => self.carrier().map(|carrier| carrier.catheter),
        }
    }

    /// The dual-lumen catheter out of whose side port the wire comes.
    #[must_use]
    pub fn carrier(&self) -> Option<&CarrierSpec> {
        match self {
            Self::DualLumen { carrier, .. } | Self::LoopInVessel { carrier, .. } => Some(carrier),
            Self::LoopedBack { carrier, .. } => carrier.as_ref(),
            _ => None,
        }
    }

    /// The fold that the technique sets into the wire.
    #[must_use]
    pub fn fold(&self) -> Option<&BendSpec> {
        match self {
            Self::LoopedBack { fold, .. } => Some(fold),
            _ => None,
        }
    }
}
