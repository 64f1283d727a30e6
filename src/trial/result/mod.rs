//! What one trial leaves behind.

mod steps;

use serde::{Deserialize, Serialize};

use crate::solve::EnergyBalance;
pub use crate::solve::WireShape;
use crate::trial::ending::Ending;
pub use steps::{HandRow, MovedAxes, Pressed, TraceRow};

/// How a trial ended.
#[derive(
    Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// The tip lay in the target and outside every other vessel, the stated distance beyond the
    /// whole mouth, and went deeper when it was fed further.
    Reached,
    /// The tip lies in another vessel and the plan is at its end.
    WrongBranch,
    /// Another point of the wire leads the tip by more than the stated length; wins over
    /// [`Outcome::WrongBranch`].
    Prolapsed,
    /// Wire was fed but the tip stayed, or did not hold.
    Stalled,
    /// All the wire that may be fed is outside the guide.
    OutOfWire,
    /// The guiding catheter was pushed back beyond its limit.
    BackedOut,
    /// The force on the wall exceeded the stated limit.
    OverForceLimit,
    /// The solver found no equilibrium.
    #[default]
    Unresolved,
}

impl Outcome {
    /// All outcomes in the order in which tables list them.
    pub const ALL: [Self; 8] = [
        Self::Reached,
        Self::WrongBranch,
        Self::Prolapsed,
        Self::Stalled,
        Self::OutOfWire,
        Self::BackedOut,
        Self::OverForceLimit,
        Self::Unresolved,
    ];

    /// Key used in tables and files.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Self::Reached => "reached",
            Self::WrongBranch => "wrong_branch",
            Self::Prolapsed => "prolapsed",
            Self::Stalled => "stalled",
            Self::OutOfWire => "out_of_wire",
            Self::BackedOut => "backed_out",
            Self::OverForceLimit => "over_force_limit",
            Self::Unresolved => "unresolved",
        }
    }

    /// Words used in figures.
    #[must_use]
    pub fn label(self) -> &'static str {
        match self {
            Self::Reached => "reached",
            Self::WrongBranch => "wrong branch",
            Self::Prolapsed => "prolapsed",
            Self::Stalled => "stalled",
            Self::OutOfWire => "out of wire",
            Self::BackedOut => "backed out",
            Self::OverForceLimit => "over force limit",
            Self::Unresolved => "unresolved",
        }
    }
}

/// The numbers of one trial: one row of `trials.csv`.
///
/// A peak is the largest value over all steps of the hands. What has a sign has three columns:
/// largest in the one sense, largest in the other (both as positive numbers, 0 where it never
/// acted in that sense), and largest magnitude, which is the larger of the two.
///
/// A wall force is the sum of the normal forces of wire and catheter within one millimetre of
/// them. Its four places are those of [`WallPlace`](crate::trial::WallPlace); a place on which
/// nothing pressed has 0.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct TrialRow {
    /// Strategy: technique and wire.
    pub strategy: String,
    /// Trial number, from 0.
    pub trial: u32,
    /// How it ended.
    pub outcome: Outcome,
    /// Branch in which the tip lay at the end.
    pub tip_branch: String,
    /// Attempts made.
    pub attempts: u32,
    /// Length of wire outside the guide at the end, in mm. The wire begins with some 3 mm outside,
    /// which are placed and not fed: they count here and not in [`TrialRow::travel_mm`].
    #[serde(rename = "fed_mm")]
    pub outside_mm: f64,
    /// Length fed plus length withdrawn by the hand, in mm.
    pub travel_mm: f64,
    /// Sum of all turns of the hand, in degrees.
    pub turned_deg: f64,
    /// Duration of the movements in s, at the hands' speeds.
    #[serde(default)]
    pub time_s: f64,
    /// Beats of the heart in that time; 0 where none beats.
    #[serde(default)]
    pub beats: f64,
    /// Largest wall force on the way, at the target's mouth or beyond it, in mN; that of leaving
    /// the guide does not count.
    #[serde(rename = "peak_wall_force_mN")]
    pub peak_wall_force_mn: f64,
    /// Largest wall force in the guide or near its end, in mN.
    #[serde(default, rename = "peak_wall_force_leaving_guide_mN")]
    pub peak_wall_force_leaving_guide_mn: f64,
    /// Largest wall force on the way to the target or past it, in mN.
    #[serde(default, rename = "peak_wall_force_on_the_way_mN")]
    pub peak_wall_force_on_the_way_mn: f64,
    /// Largest wall force at the target's mouth, in mN.
    #[serde(default, rename = "peak_wall_force_at_mouth_mN")]
    pub peak_wall_force_at_mouth_mn: f64,
    /// Largest wall force in the target beyond its mouth, in mN.
    #[serde(default, rename = "peak_wall_force_beyond_mN")]
    pub peak_wall_force_beyond_mn: f64,
    /// Largest magnitude of the axial force of the wall on the last millimetre of the tip, in mN.
    #[serde(rename = "peak_tip_force_mN")]
    pub peak_tip_force_mn: f64,
    /// Largest such force that pushes the tip back, in mN.
    #[serde(default, rename = "peak_tip_force_backward_mN")]
    pub peak_tip_force_backward_mn: f64,
    /// Largest such force that draws the tip forward, as friction does on the way back, in mN.
    #[serde(default, rename = "peak_tip_force_forward_mN")]
    pub peak_tip_force_forward_mn: f64,
    /// Largest force with which the hand pushes the wire, in mN.
    #[serde(rename = "peak_push_force_mN")]
    pub peak_push_force_mn: f64,
    /// Largest force with which the hand pulls the wire, in mN.
    #[serde(default, rename = "peak_pull_force_mN")]
    pub peak_pull_force_mn: f64,
    /// Largest magnitude of the force of the hand along the wire, in mN.
    #[serde(default, rename = "peak_push_or_pull_mN")]
    pub peak_push_or_pull_mn: f64,
    /// Largest magnitude of the torque of the hand on the wire, in mN mm.
    #[serde(rename = "peak_torque_mN_mm")]
    pub peak_torque_mn_mm: f64,
    /// Largest torque of the hand on the wire in the sense in which it is turned forward, in mN mm.
    #[serde(default, rename = "peak_torque_forward_mN_mm")]
    pub peak_torque_forward_mn_mm: f64,
    /// Largest torque of the hand on the wire in the other sense, in mN mm.
    #[serde(default, rename = "peak_torque_backward_mN_mm")]
    pub peak_torque_backward_mn_mm: f64,
    /// Deepest deflection of the wall, in mm.
    pub peak_wall_deflection_mm: f64,
    /// Largest bending strain of the core over its limit; above 1 the core yields.
    pub peak_strain_ratio: f64,
    /// Largest axial strain of the rod (a measure of the stretch cap).
    pub peak_axial_strain: f64,
    /// Largest friction force at any contact over the Coulomb limit `mu N` of the same state: 1 where
    /// a contact slides, never above 1.001.
    #[serde(default)]
    pub peak_friction_ratio: f64,
    /// Farthest that the axis of a vessel was moved, in mm; 0 in one that does not give way.
    #[serde(default)]
    pub peak_vessel_moved_mm: f64,
    /// Largest loss of turning within 10 mm of a vessel, in degrees.
    #[serde(default)]
    pub peak_vessel_straightened_deg: f64,
    /// Largest compression of a vessel's wall along it.
    #[serde(default)]
    pub peak_vessel_compression: f64,
    /// Whether that is more than the wall takes without folds, as the scenario says.
    #[serde(default)]
    pub vessel_folds: bool,
    /// Set that the core of the wire keeps at the end: the angle that all its turns beyond its given
    /// shape add up to without load, in degrees.
    #[serde(default)]
    pub set_deg: f64,
    /// Where that set is most curved, in mm from the tip; 0 where there is none.
    #[serde(default)]
    pub set_from_tip_mm: f64,
    /// Length of support catheter outside the guide at the end, in mm; 0 without one.
    #[serde(default)]
    pub catheter_fed_mm: f64,
    /// Sum of all turns of the catheter's hub, in degrees.
    #[serde(default)]
    pub catheter_turned_deg: f64,
    /// Largest wall force of the catheter alone, at any place, in mN.
    #[serde(default, rename = "peak_catheter_wall_force_mN")]
    pub peak_catheter_wall_force_mn: f64,
    /// The same while the catheter was turned, in mN.
    #[serde(default, rename = "peak_turning_wall_force_mN")]
    pub peak_turning_wall_force_mn: f64,
    /// Largest force with which the catheter's hub is pushed, in mN; 0 without one.
    #[serde(default, rename = "peak_catheter_push_force_mN")]
    pub peak_catheter_push_force_mn: f64,
    /// Largest force with which the catheter's hub is pulled, in mN.
    #[serde(default, rename = "peak_catheter_pull_force_mN")]
    pub peak_catheter_pull_force_mn: f64,
    /// Largest magnitude of the force along the catheter at its hub, in mN.
    #[serde(default, rename = "peak_catheter_push_or_pull_mN")]
    pub peak_catheter_push_or_pull_mn: f64,
    /// Largest magnitude of the torque at the catheter's hub, in mN mm.
    #[serde(default, rename = "peak_catheter_torque_mN_mm")]
    pub peak_catheter_torque_mn_mm: f64,
    /// Largest torque at the catheter's hub in the sense in which it is turned forward, in mN mm.
    #[serde(default, rename = "peak_catheter_torque_forward_mN_mm")]
    pub peak_catheter_torque_forward_mn_mm: f64,
    /// Largest torque at the catheter's hub in the other sense, in mN mm.
    #[serde(default, rename = "peak_catheter_torque_backward_mN_mm")]
    pub peak_catheter_torque_backward_mn_mm: f64,
    /// Whether the catheter followed the wire beyond the ostium: `followed`, `pulled_out`,
    /// `stayed`; empty where it was not to follow.
    #[serde(default)]
    pub catheter_followed: String,
    /// Roll drawn at the start, in degrees.
    pub roll_deg: f64,
    /// Friction coefficient drawn, of the wire with which the trial began.
    pub friction: f64,
    /// Factor drawn on every lumen diameter.
    pub diameter_factor: f64,
    /// Factor drawn on the angles of the wire's bends.
    pub bend_factor: f64,
    /// Accepted steps.
    pub steps: u32,
    /// Newton iterations over all steps.
    pub newton_iterations: u32,
    /// Active contacts at the end of every step, added up; kept in no file.
    #[serde(skip)]
    pub active_contacts: u64,
    /// Why an unresolved trial could not go on; empty otherwise.
    pub note: String,
    /// Why the target was not reached, in few words that can be counted; empty where it was.
    #[serde(default)]
    pub reason: String,
    /// The same with places, lengths and forces.
    #[serde(default)]
    pub why: String,
}

impl TrialRow {
    /// Takes down how the trial ended.
    pub(in crate::trial) fn end(&mut self, ending: Ending) {
        self.outcome = ending.outcome;
        self.reason = ending.reason;
        self.why = ending.why;
    }

    /// Adds the steps of a wire.
    pub(in crate::trial) fn count(&mut self, balance: &EnergyBalance) {
        self.steps += balance.steps;
        self.newton_iterations += balance.iterations;
        self.active_contacts += balance.contacts;
    }
}

/// Everything that one trial leaves behind.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct TrialRecord {
    /// The row of numbers.
    pub row: TrialRow,
    /// Where it pressed on the vessel's wall, by branch and stretch; no more entries than the
    /// branches have stretches.
    #[serde(default)]
    pub pressed: Vec<Pressed>,
    /// Recorded steps; empty for a trial that is not recorded.
    pub trace: Vec<TraceRow>,
    /// What the hands had done at each recorded step; empty for a trial that is not recorded.
    #[serde(default)]
    pub hands: Vec<HandRow>,
    /// Recorded shapes; empty for a trial that is not recorded.
    pub shapes: Vec<WireShape>,
    /// The vessel at each recorded step; empty where it neither gives way nor moves.
    #[serde(default)]
    pub axes: Vec<MovedAxes>,
}
