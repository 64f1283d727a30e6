//! What one trial leaves behind.

use serde::{Deserialize, Serialize};

use super::ending::Ending;
use crate::solve::Ledger;
pub use crate::solve::WireShape;

/// How a trial ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
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
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
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
    /// Length of wire outside the guide at the end, in mm.
    pub fed_mm: f64,
    /// Length fed plus length withdrawn, in mm.
    pub travel_mm: f64,
    /// Sum of all turns of the hand, in degrees.
    pub turned_deg: f64,
    /// Largest force on the wall within the reach of one contact patch, in mN.
    #[serde(rename = "peak_wall_force_mN")]
    pub peak_wall_force_mn: f64,
    /// Largest axial force at the tip, in mN.
    #[serde(rename = "peak_tip_force_mN")]
    pub peak_tip_force_mn: f64,
    /// Largest push force at the hand, in mN.
    #[serde(rename = "peak_push_force_mN")]
    pub peak_push_force_mn: f64,
    /// Largest torque at the hand, in mN mm.
    #[serde(rename = "peak_torque_mN_mm")]
    pub peak_torque_mn_mm: f64,
    /// Deepest deflection of the wall, in mm.
    pub peak_wall_deflection_mm: f64,
    /// Largest bending strain of the core over its limit (above 1: kink risk).
    pub peak_strain_ratio: f64,
    /// Largest axial strain of the rod (a measure of the stretch cap).
    pub peak_axial_strain: f64,
    /// Length of support catheter outside the guide at the end, in mm; 0 without one.
    #[serde(default)]
    pub catheter_fed_mm: f64,
    /// Sum of all turns of the catheter's hub, in degrees.
    #[serde(default)]
    pub catheter_turned_deg: f64,
    /// Largest wall force on the catheter within one contact patch, in mN.
    #[serde(default, rename = "peak_catheter_wall_force_mN")]
    pub peak_catheter_wall_force_mn: f64,
    /// The same while the catheter was turned, in mN.
    #[serde(default, rename = "peak_turning_wall_force_mN")]
    pub peak_turning_wall_force_mn: f64,
    /// Whether the catheter followed the wire beyond the ostium: `followed`, `pulled_out`,
    /// `stayed`; empty where it was not to follow.
    #[serde(default)]
    pub catheter_followed: String,
    /// Roll drawn at the start, in degrees.
    pub roll_deg: f64,
    /// Friction coefficient drawn.
    pub friction: f64,
    /// Factor drawn on every lumen diameter.
    pub diameter_factor: f64,
    /// Factor drawn on the tip's bend angle.
    pub bend_factor: f64,
    /// Accepted steps.
    pub steps: u32,
    /// Newton iterations over all steps.
    pub newton_iterations: u32,
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
    pub(super) fn end(&mut self, ending: Ending) {
        self.outcome = ending.outcome;
        self.reason = ending.reason;
        self.why = ending.why;
    }

    /// Adds the steps of a wire.
    pub(super) fn count(&mut self, ledger: &Ledger) {
        self.steps += ledger.steps;
        self.newton_iterations += ledger.iterations;
    }
}

/// One recorded step: one row of a trace.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[allow(
    missing_docs,
    reason = "column names say quantity and unit; see the README's table"
)]
#[expect(non_snake_case, reason = "units keep their case in column names")]
pub struct TraceRow {
    pub fed_mm: f64,
    pub tip_x_mm: f64,
    pub tip_y_mm: f64,
    pub tip_z_mm: f64,
    pub push_force_mN: f64,
    pub torque_mN_mm: f64,
    pub tip_force_mN: f64,
    pub wall_force_total_mN: f64,
    pub wall_force_max_mN: f64,
    pub bending_energy_mN_mm: f64,
    pub twist_base_deg: f64,
    pub twist_tip_deg: f64,
}

/// What the hands have done up to a recorded step: one row of `hands/`. Lengths and angles are
/// sums since the start of the trial.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct HandRow {
    /// Attempts begun.
    pub attempt: u32,
    /// Wire fed, in mm.
    pub fed_mm: f64,
    /// Wire withdrawn, in mm.
    pub withdrawn_mm: f64,
    /// Turns of the wire's hand either way, in degrees.
    pub turned_deg: f64,
    /// Support catheter fed, in mm.
    pub catheter_fed_mm: f64,
    /// Support catheter withdrawn, in mm.
    pub catheter_withdrawn_mm: f64,
    /// Turns of the catheter's hub either way, in degrees.
    pub catheter_turned_deg: f64,
    /// Changes of the catheter's steered angle either way, in degrees.
    pub steered_deg: f64,
    /// How often the guide was pointed anew.
    pub guide_aims: u32,
    /// How often the wire was changed.
    pub wire_changes: u32,
}

/// Everything that one trial leaves behind.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TrialRecord {
    /// The row of numbers.
    pub row: TrialRow,
    /// Recorded steps; empty for a trial that is not recorded.
    pub trace: Vec<TraceRow>,
    /// What the hands had done at each recorded step; empty for a trial that is not recorded.
    #[serde(default)]
    pub hands: Vec<HandRow>,
    /// Recorded shapes; empty for a trial that is not recorded.
    pub shapes: Vec<WireShape>,
}
