//! The checked scenario: what a scenario file says after validation, in internal units
//! (mm, mN, rad, s) and without any text left to interpret.
//!
//! Nothing here knows how a scenario is simulated. [`crate::device`] turns a [`WireSpec`] into
//! stiffness along the wire, [`crate::vessel`] turns a [`VesselSpec`] into a lumen, and
//! [`crate::hands`] turns a [`TechniqueSpec`] into a plan of hand movements.

use std::sync::Arc;

use nalgebra::Vector3;
use serde::{Deserialize, Serialize};

use super::view::{SightSpec, ViewSpec};
use crate::anatomy::surface::Mesh;

/// Where in the scenario file something was said, for messages that point back at it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Place {
    /// Byte offset of the first character in the file.
    pub start: usize,
    /// Byte offset just behind the last character.
    pub end: usize,
}

/// A complete checked scenario.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Scenario {
    /// Short name; letters, digits and dashes.
    pub name: String,
    /// Where the anatomy comes from: "invented", or the published source.
    pub origin: String,
    /// One or two sentences on what the scenario teaches.
    pub description: String,
    /// How many trials, which seed, what to record.
    pub study: StudySpec,
    /// The vessel tree.
    pub vessel: VesselSpec,
    /// Bodies that stand in the lumen.
    pub obstacles: Vec<ObstacleSpec>,
    /// Where the guiding catheter ends and how firmly it sits.
    pub guide: GuideSpec,
    /// The branch that has to be reached.
    pub target: TargetSpec,
    /// The wires to compare, at least one.
    pub wires: Vec<WireSpec>,
    /// The support catheters that techniques name.
    pub catheters: Vec<CatheterSpec>,
    /// The techniques to compare, at least one.
    pub techniques: Vec<TechniqueSpec>,
    /// How the scene is looked at, if the scenario says so.
    pub view: Option<ViewSpec>,
    /// What varies from trial to trial.
    pub variation: VariationSpec,
    /// Settings of the solver; they must not change an answer.
    pub solver: SolverSpec,
}

/// Size and bookkeeping of a study.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StudySpec {
    /// Trials of each strategy (a technique with a wire); at least 1.
    pub trials: u32,
    /// Seed of the counter-based random numbers.
    pub seed: u64,
    /// How many trials of each strategy leave a trace and shapes.
    pub recorded: u32,
    /// Fed or withdrawn length between two recorded steps, in mm; above 0.
    pub record_every_mm: f64,
}

/// The vessel tree as the scenario describes it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct VesselSpec {
    /// Branches; a branch stands after its parent.
    pub branches: Vec<BranchSpec>,
    /// Local narrowings.
    pub narrowings: Vec<NarrowingSpec>,
    /// Width in mm over which the tubes of two branches blend into each other (rounds the
    /// carina); 0 or more.
    pub carina_blend_mm: f64,
    /// Stiffness of the wall's elastic foundation in mN/mm per mm of wire, that is mN/mm²;
    /// above 0.
    pub wall_stiffness_mn_per_mm2: f64,
    /// The surface that a wire touches, where the vessel comes from one; the branches then name
    /// parts of it and measure progress. `None`: the wall is that of the branches' tubes.
    pub surface: Option<Arc<Mesh>>,
}

/// One branch of the tree.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BranchSpec {
    /// Unique name.
    pub name: String,
    /// How it hangs on its parent; `None` for an inlet.
    pub attached: Option<AttachmentSpec>,
    /// The path of the centreline.
    pub path: PathSpec,
    /// Lumen diameter in mm against station (mm from the start of the branch), in rising
    /// order of station; linear between, constant outside. At least one entry, each above 0.
    pub diameters: Vec<(f64, f64)>,
    /// Where the branch is described.
    pub place: Place,
}

/// Attachment of a branch to its parent.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AttachmentSpec {
    /// Name of the parent branch.
    pub parent: String,
    /// Station on the parent in mm from its start; `None` means "the parent's nearest point to
    /// the first point of this branch" (only for branches given as points).
    pub station_mm: Option<f64>,
    /// Where the attachment is described.
    pub place: Place,
}

/// The path of a branch's centreline.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum PathSpec {
    /// Built from pieces, one behind the other, each starting where the last one ended with the
    /// same tangent.
    Pieces {
        /// Start of an inlet in mm; ignored for a branch with a parent.
        start_mm: Vector3<f64>,
        /// Direction of an inlet at its start (any length above 0); ignored for a branch with a
        /// parent.
        direction: Vector3<f64>,
        /// Take-off angle in rad for a branch with a parent: the turn a wire must make, 0
        /// straight on, pi/2 square, above that backwards; 0 to pi.
        take_off_rad: f64,
        /// Plane of the take-off in rad, counted about the parent's tangent from its normal
        /// direction (see [`crate::vessel`]).
        take_off_plane_rad: f64,
        /// The pieces, at least one.
        pieces: Vec<PieceSpec>,
    },
    /// A smooth curve through points in mm, at least two.
    Points(Vec<Vector3<f64>>),
}

/// One piece of a parametric path.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum PieceSpec {
    /// Straight on.
    Straight {
        /// Length in mm, above 0.
        length_mm: f64,
    },
    /// A circular arc.
    Arc {
        /// Radius of the centreline in mm, above 0.
        radius_mm: f64,
        /// Turn in rad, above 0.
        angle_rad: f64,
        /// Direction of the turn in rad about the tangent, counted from the running normal.
        plane_rad: f64,
    },
    /// A helix of constant curvature and torsion, starting along the tangent.
    Helix {
        /// Radius of the helix's cylinder in mm, above 0.
        radius_mm: f64,
        /// Rise in one turn in mm; its sign is the handedness (positive: right-handed).
        pitch_mm: f64,
        /// Number of turns, above 0.
        turns: f64,
        /// Direction of the first turn in rad about the tangent, counted from the running normal.
        plane_rad: f64,
    },
    /// Two arcs of the same radius and turn in opposite directions.
    SBend {
        /// Radius of the centreline in mm, above 0.
        radius_mm: f64,
        /// Turn of each of the two arcs in rad, above 0.
        angle_rad: f64,
        /// Direction of the first turn in rad about the tangent, counted from the running normal.
        plane_rad: f64,
    },
}

/// A local narrowing: the diameter falls smoothly (cosine) to a smallest value and rises again.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NarrowingSpec {
    /// Branch that is narrowed.
    pub branch: String,
    /// Station of its middle in mm from the start of the branch.
    pub station_mm: f64,
    /// Whole length in mm, above 0.
    pub length_mm: f64,
    /// Smallest diameter in mm, above 0.
    pub diameter_mm: f64,
    /// Where it is described.
    pub place: Place,
}

/// A body in the lumen that wire and catheter cannot enter: a plug, a nodule of the wall, an
/// inflated balloon. It is round, of one diameter, with round ends, and follows the centreline.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ObstacleSpec {
    /// Branch in which it stands.
    pub branch: String,
    /// Station of its middle in mm from the start of the branch.
    pub station_mm: f64,
    /// Whole length in mm, above 0; one shorter than it is wide is a ball.
    pub length_mm: f64,
    /// Its diameter in mm, above 0.
    pub diameter_mm: f64,
    /// How far its axis lies off the centreline in mm; 0 or more.
    pub off_axis_mm: f64,
    /// Direction to which it does, in rad about the centreline's tangent from its running normal.
    pub plane_rad: f64,
    /// Stiffness of its foundation in mN/mm², above 0; small for a soft body.
    pub stiffness_mn_per_mm2: f64,
    /// Where it is described.
    pub place: Place,
}

impl ObstacleSpec {
    /// Stations in mm of its two ends.
    #[must_use]
    pub fn reaches_mm(&self) -> (f64, f64) {
        let half = 0.5 * self.length_mm.max(self.diameter_mm);
        (self.station_mm - half, self.station_mm + half)
    }
}

/// The guiding catheter: a channel that ends in a branch.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GuideSpec {
    /// Branch in which the guide ends.
    pub branch: String,
    /// Station of its end in mm from the start of that branch.
    pub station_mm: f64,
    /// Stiffness against backing out along its axis, in mN/mm; `None` for a guide that holds.
    pub backup_stiffness_mn_per_mm: Option<f64>,
    /// Backward movement at which the guide counts as lost, in mm; above 0.
    pub back_out_limit_mm: f64,
    /// Diameter of the guide's own lumen in mm; matters to wire that lies back in it.
    pub inner_diameter_mm: f64,
    /// Where it is described.
    pub place: Place,
}

/// The target and what counts as success.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TargetSpec {
    /// Branch to be reached.
    pub branch: String,
    /// How far beyond its ostium the tip must lie, in mm; above 0.
    pub beyond_ostium_mm: f64,
    /// How far past the ostium, in a vessel that is not the target, the tip has gone astray, in
    /// mm; above 0.
    pub astray_mm: f64,
    /// Total length of wire that may be outside the guide, in mm; above 0.
    pub max_fed_mm: f64,
    /// Largest force on the wall at any one contact point in mN, if limited.
    pub wall_force_limit_mn: Option<f64>,
    /// Where it is described.
    pub place: Place,
}

/// A wire as a catalogue describes it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WireSpec {
    /// Unique name.
    pub name: String,
    /// Outer diameter in mm.
    pub diameter_mm: f64,
    /// Where the bending stiffness comes from.
    pub stiffness: StiffnessSpec,
    /// Ratio of torsional to bending stiffness GJ/EI; 1/(1+nu) for a round core.
    pub torsion_ratio: f64,
    /// Coulomb coefficient against the vessel wall, 0 to 2.
    pub friction: f64,
    /// Shape of the tip.
    pub tip: TipSpec,
    /// Largest bending strain of the core before it keeps a kink; above 0.
    pub strain_limit: f64,
    /// Where it is described.
    pub place: Place,
}

/// A support catheter as a catalogue describes it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CatheterSpec {
    /// Unique name.
    pub name: String,
    /// Outer diameter in mm, above the inner one.
    pub outer_diameter_mm: f64,
    /// Diameter of the lumen for the wire in mm, above 0.
    pub inner_diameter_mm: f64,
    /// (Distance from the tip in mm, bending stiffness in mN mm²) in rising order, at least one.
    pub stiffness: Vec<(f64, f64)>,
    /// Ratio of torsional to bending stiffness GJ/EI.
    pub torsion_ratio: f64,
    /// Coulomb coefficient against the vessel wall, 0 to 2.
    pub friction: f64,
    /// Bend of the tip; `None` for a straight catheter.
    pub tip: Option<CatheterTipSpec>,
    /// Port of a second lumen; `None` for a catheter with one lumen.
    pub side_port: Option<SidePortSpec>,
    /// Where it is described.
    pub place: Place,
}

/// The bent tip of a catheter: a circular arc that ends at the tip.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct CatheterTipSpec {
    /// Length of the bent part in mm, above 0.
    pub length_mm: f64,
    /// Angle turned in rad; of a steerable tip, the angle with which it is put in.
    pub angle_rad: f64,
    /// Smallest and largest angle in rad of a steerable tip; `None` for a preformed one.
    pub range_rad: Option<(f64, f64)>,
}

/// The port through which a wire leaves the second lumen of a catheter.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct SidePortSpec {
    /// Distance behind the catheter's tip in mm, above 0.
    pub behind_tip_mm: f64,
    /// Angle in rad between the catheter's forward direction and the one in which a wire leaves,
    /// 0 to pi/2.
    pub angle_rad: f64,
    /// Side of the catheter in rad, counted about it from the plane in which its tip bends.
    pub plane_rad: f64,
}

/// End conditions under which a tip load was measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum EndCondition {
    /// Held at one end, the tip pressed against a plate on which it cannot slide.
    FixedPinned,
    /// Held at one end, the tip free to move sideways.
    FixedFree,
}

/// Bending stiffness along the wire, from its tip.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum StiffnessSpec {
    /// Tip load (buckling load of the last 10 mm) with a core that grows thicker behind it.
    TipLoad {
        /// Tip load in mN, above 0.
        tip_load_mn: f64,
        /// End condition of the tip-load test.
        end_condition: EndCondition,
        /// Core behind the tip: (distance from tip in mm, core diameter in mm) in rising order,
        /// from 10 mm on; the stiffness runs smoothly from the tip's value to the core's.
        /// Empty for a wire of the tip's stiffness throughout.
        grind: Vec<(f64, f64)>,
        /// Young's modulus of the core in mN/mm².
        modulus_mn_per_mm2: f64,
    },
    /// A core-grind profile alone.
    Grind {
        /// (Distance from tip in mm, core diameter in mm) in rising order, at least one.
        grind: Vec<(f64, f64)>,
        /// Young's modulus of the core in mN/mm².
        modulus_mn_per_mm2: f64,
    },
    /// Bending stiffness said directly.
    List {
        /// (Distance from tip in mm, bending stiffness in mN mm²) in rising order, at least one.
        values: Vec<(f64, f64)>,
        /// Young's modulus used to derive the core diameter for the strain check, in mN/mm².
        modulus_mn_per_mm2: f64,
    },
}

/// Shape set into the tip.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct TipSpec {
    /// Primary bend: an arc that ends at the tip.
    pub primary: Option<BendSpec>,
    /// Secondary bend further back.
    pub secondary: Option<BendSpec>,
}

/// One bend shaped into the wire: a circular arc.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct BendSpec {
    /// Distance of the bend's distal end from the tip in mm; 0 or more.
    pub from_tip_mm: f64,
    /// Length of the bent part in mm, above 0.
    pub length_mm: f64,
    /// Angle turned in rad.
    pub angle_rad: f64,
    /// Direction of the bend about the wire's axis in rad.
    pub plane_rad: f64,
}

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
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
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
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct GuideAimSpec {
    /// Angle of its direction off the vessel's, in rad.
    pub tilt_rad: f64,
    /// Plane of the tilt in rad, counted about the vessel's tangent from its running normal.
    pub plane_rad: f64,
    /// How much deeper it stands, in mm; 0 or more.
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

/// What varies from trial to trial.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct VariationSpec {
    /// Half-width of the uniform draw of the roll at the start, in rad (pi: any roll).
    pub roll_half_width_rad: f64,
    /// Middle of the draw of the roll, in rad.
    pub roll_middle_rad: f64,
    /// Coefficient of variation of the friction coefficient (log-normal), 0 or more.
    pub friction_cv: f64,
    /// Standard deviation of the hand's turns in rad, 0 or more.
    pub turn_sd_rad: f64,
    /// Coefficient of variation of every lumen diameter, one factor for the whole tree
    /// (log-normal), 0 or more.
    pub diameter_cv: f64,
    /// Coefficient of variation of the tip's bend angle (normal), 0 or more.
    pub bend_cv: f64,
}

/// Settings of the solver; defaults are in [`crate::scenario`].
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct SolverSpec {
    /// Fed length in one step in mm, above 0.
    pub step_mm: f64,
    /// Edge length at the tip in mm, above 0.
    pub edge_mm: f64,
    /// Tolerance on the residual, as a fraction of the force scale; above 0.
    pub tolerance: f64,
    /// Feed speed in mm/s, above 0; sets the time that damping sees.
    pub feed_speed_mm_per_s: f64,
}
