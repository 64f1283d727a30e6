//! The checked scenario: what a scenario file says after validation, in internal units
//! (mm, mN, rad, s) and without any text left to interpret.
//!
//! Nothing here knows how a scenario is simulated. [`crate::device`] turns a [`WireSpec`] into
//! stiffness along the wire, [`crate::vessel`] turns a [`VesselSpec`] into a lumen, and
//! [`crate::technique`] turns a [`TechniqueSpec`] into a plan of hand movements.

mod bed;
mod device;
mod motion;
mod technique;
mod vessel;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::view::ViewSpec;
pub use crate::schema::Place;
pub use crate::technique::PlanSpec;
use crate::units::degrees;

pub use bed::{BedSpec, Tissue};
pub use device::{
    BendSpec, CatheterSpec, CatheterTipSpec, CoreLawSpec, EndCondition, HELD_BEHIND_TIP_MM,
    SidePortSpec, StiffnessSpec, TipSpec, WIRE_DIAMETER_MM, WireSpec, round_core_torsion_ratio,
    steel,
};
pub use motion::{BreathSpec, HeartCourse, HeartSpec, MotionSpec};
pub use technique::{
    AidsSpec, AnchorSpec, BalloonSpec, CarrierSpec, ExchangeSpec, GuideAimSpec, ShaftSpec,
    TechniqueSpec,
};
pub use vessel::{
    AttachmentSpec, BranchSpec, NarrowingSpec, ObstacleSpec, PathSpec, PieceSpec, TAKE_OFF_RAD,
    VesselSpec,
};

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
    /// What holds the vessel, if it gives way.
    pub bed: Option<BedSpec>,
    /// How it moves by itself, if it does.
    pub motion: Option<MotionSpec>,
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
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct StudySpec {
    /// Trials of each strategy (a technique with a wire).
    #[schemars(range(min = 1, max = 1_000_000), extend("x-unit" = "trials", "x-example" = "32"))]
    pub trials: u32,
    /// Seed of the counter-based random numbers.
    #[schemars(range(min = 0, max = 9_223_372_036_854_775_807_u64), extend("x-example" = "1"))]
    pub seed: u64,
    /// How many trials of each strategy leave a trace and shapes.
    #[schemars(range(min = 0, max = 1000), extend("x-unit" = "trials", "x-example" = "2"))]
    pub recorded: u32,
    /// Fed or withdrawn length between two recorded steps.
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "1.0"))]
    pub record_every_mm: f64,
}

impl Default for StudySpec {
    fn default() -> Self {
        Self {
            trials: 32,
            seed: 1,
            recorded: 2,
            record_every_mm: 1.0,
        }
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
    /// How far beyond its whole mouth the tip must lie, in mm; above 0.
    pub beyond_ostium_mm: f64,
    /// Length in mm by which a tip that lies there is fed further, above 0; `None` for two
    /// diameters of the branch, and 5 mm beyond the mouth at the least.
    pub hold_mm: Option<f64>,
    /// Share of that length by which it then has to go deeper, above 0, at most 1.
    pub hold_share: f64,
    /// Length in mm by which another point of the wire must lead the tip for a prolapse, above 0;
    /// what the bend of the tip itself leads is added.
    pub prolapse_lead_mm: f64,
    /// How far past the ostium, in a vessel that is not the target, the tip has gone astray, in
    /// mm; above 0.
    pub astray_mm: f64,
    /// Total length of wire that may be outside the guide, in mm; above 0.
    pub max_fed_mm: f64,
    /// Largest force on one millimetre of the wall in mN, if limited; at every place, leaving the
    /// guide included.
    pub wall_force_limit_mn: Option<f64>,
    /// Where it is described.
    pub place: Place,
}

/// What varies from trial to trial. What is left out does not, except the roll: any is as likely.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct VariationSpec {
    /// Half-width of the uniform draw of the roll at the start; 180 degrees (pi) for any roll.
    #[serde(rename = "roll_half_width_deg", with = "degrees")]
    #[schemars(with = "f64", range(min = 0, max = 180), extend("x-example" = "180"))]
    pub roll_half_width_rad: f64,
    /// Middle of the draw of the roll.
    #[serde(rename = "roll_middle_deg", with = "degrees")]
    #[schemars(with = "f64", range(min = -360, max = 360), extend("x-example" = "0"))]
    pub roll_middle_rad: f64,
    /// Coefficient of variation of the friction coefficient (log-normal).
    #[schemars(range(min = 0, max = 1), extend("x-suspect" = "percent", "x-example" = "0.2"))]
    pub friction_cv: f64,
    /// Standard deviation of the hand's turns.
    #[serde(rename = "turn_sd_deg", with = "degrees")]
    #[schemars(with = "f64", range(min = 0, max = 90), extend("x-example" = "5"))]
    pub turn_sd_rad: f64,
    /// Coefficient of variation of every lumen diameter, one factor for the whole tree (log-normal).
    #[schemars(range(min = 0, max = 1), extend("x-suspect" = "percent", "x-example" = "0.05"))]
    pub diameter_cv: f64,
    /// Coefficient of variation of the tip's bend angle (normal).
    #[schemars(range(min = 0, max = 1), extend("x-suspect" = "percent", "x-example" = "0.1"))]
    pub bend_cv: f64,
}

impl Default for VariationSpec {
    fn default() -> Self {
        Self {
            roll_half_width_rad: std::f64::consts::PI,
            roll_middle_rad: 0.0,
            friction_cv: 0.0,
            turn_sd_rad: 0.0,
            diameter_cv: 0.0,
            bend_cv: 0.0,
        }
    }
}

/// Settings of the solver; they must not change an answer.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct SolverSpec {
    /// Largest fed length in one step.
    #[schemars(range(min = 0.001, max = 2), extend("x-example" = "0.4"))]
    pub step_mm: f64,
    /// Edge length at the tip.
    #[schemars(range(min = 0.02, max = 5), extend("x-example" = "0.25"))]
    pub edge_mm: f64,
    /// Largest distance of two contact points where edges are not shorter; the wall may ask for a smaller one.
    #[schemars(range(min = 0.005, max = 2), extend("x-example" = "0.25"))]
    pub contact_spacing_mm: f64,
    /// Spacing of the points by which the axes of a vessel that gives way are described, over the usual one.
    #[schemars(range(min = 0.05, max = 2), extend("x-unit" = "", "x-example" = "1"))]
    pub axis_spacing: f64,
    /// Tolerance on the residual, as a fraction of the force scale.
    #[schemars(range(min = 1e-12, max = 0.1), extend("x-example" = "1e-4"))]
    pub tolerance: f64,
    /// Feed speed; sets the time that damping sees.
    #[schemars(range(min = 0.1, max = 1000), extend("x-example" = "10"))]
    pub feed_speed_mm_per_s: f64,
}

impl Default for SolverSpec {
    /// The one place of these values; the solver's own settings begin here too. Peak forces at a side
    /// branch of 60 and 90 degrees stay within 3 % where edges and steps are made finer
    /// (`tests/trials/settings_convergence.rs`).
    fn default() -> Self {
        Self {
            step_mm: 0.4,
            edge_mm: 0.25,
            contact_spacing_mm: 0.25,
            axis_spacing: 1.0,
            tolerance: 1e-4,
            feed_speed_mm_per_s: 10.0,
        }
    }
}
