//! What is noted of a trial step by step and place by place.

use nalgebra::Vector3;
use serde::{Deserialize, Serialize};

/// One recorded step: one row of a trace. Steps are recorded after every stated length of travel,
/// and at every peak of the trial's row.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[expect(non_snake_case, reason = "units keep their case in column names")]
pub struct TraceRow {
    /// Length of wire outside the guide, with what was placed there at the beginning.
    #[serde(rename = "fed_mm")]
    pub outside_mm: f64,
    /// Time since the beginning, at the hands' speeds.
    #[serde(default)]
    pub time_s: f64,
    /// Position of the tip, in a vessel that moves against the guide's end.
    pub tip_x_mm: f64,
    /// Position of the tip.
    pub tip_y_mm: f64,
    /// Position of the tip.
    pub tip_z_mm: f64,
    /// Force of the hand along the wire; positive: pushes.
    pub push_force_mN: f64,
    /// Torque of the hand on the wire; positive: in the sense in which it is turned forward.
    pub torque_mN_mm: f64,
    /// Axial force of the wall on the last millimetre of the tip; positive: pushes it back.
    pub tip_force_mN: f64,
    /// Sum of all normal forces on the wall.
    pub wall_force_total_mN: f64,
    /// Largest wall force at any place: normal forces within a millimetre of wire or catheter.
    pub wall_force_max_mN: f64,
    /// Bending energy of all devices outside the guide.
    pub bending_energy_mN_mm: f64,
    /// Angle of the wire's hand.
    pub twist_base_deg: f64,
    /// Angle of the wire's tip.
    pub twist_tip_deg: f64,
    /// Largest wall force in the guide or near its end.
    #[serde(default)]
    pub wall_force_leaving_guide_mN: f64,
    /// Largest wall force on the way.
    #[serde(default)]
    pub wall_force_on_the_way_mN: f64,
    /// Largest wall force at the target's mouth.
    #[serde(default)]
    pub wall_force_at_mouth_mN: f64,
    /// Largest wall force in the target beyond its mouth.
    #[serde(default)]
    pub wall_force_beyond_mN: f64,
    /// Deepest deflection of the wall.
    #[serde(default)]
    pub wall_deflection_max_mm: f64,
    /// Largest bending strain of the core over its limit.
    #[serde(default)]
    pub strain_ratio: f64,
    /// Largest axial strain.
    #[serde(default)]
    pub axial_strain: f64,
    /// Largest friction force over its Coulomb limit.
    pub friction_ratio: f64,
    /// Farthest that the axis of a vessel is moved; 0 in one that does not give way.
    #[serde(default)]
    pub vessel_moved_mm: f64,
    /// Largest loss of turning within 10 mm of a vessel.
    #[serde(default)]
    pub vessel_straightened_deg: f64,
    /// Largest compression of a vessel's wall along it.
    #[serde(default)]
    pub vessel_compression: f64,
    /// Largest wall force of the catheter alone; 0 without one.
    #[serde(default)]
    pub catheter_wall_force_max_mN: f64,
    /// Force along the catheter at its hub; positive: pushed.
    #[serde(default)]
    pub catheter_push_force_mN: f64,
    /// Torque at the catheter's hub; positive: in the sense in which it is turned forward.
    #[serde(default)]
    pub catheter_torque_mN_mm: f64,
}

impl TraceRow {
    /// Largest wall force on the way, at the target's mouth or beyond it, in mN.
    #[must_use]
    pub fn wall_force_on_vessel_mn(&self) -> f64 {
        self.wall_force_on_the_way_mN
            .max(self.wall_force_at_mouth_mN)
            .max(self.wall_force_beyond_mN)
    }
}

/// What the hands have done up to a recorded step: one row of `hands/`. Lengths and angles are
/// sums since the start of the trial.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct HandRow {
    /// Attempts begun.
    pub attempt: u32,
    /// Wire fed, in mm; what was withdrawn is not taken off, as it is in `fed_mm` of a trace.
    pub fed_sum_mm: f64,
    /// Wire withdrawn, in mm.
    pub withdrawn_mm: f64,
    /// Turns of the wire's hand either way, in degrees.
    pub turned_deg: f64,
    /// Support catheter fed, in mm, likewise.
    #[serde(rename = "catheter_fed_sum_mm")]
    pub catheter_fed_mm: f64,
    /// Support catheter withdrawn, in mm.
    pub catheter_withdrawn_mm: f64,
    /// Turns of the catheter's hub either way, in degrees.
    pub catheter_turned_deg: f64,
    /// Changes of the catheter's steered angle either way, in degrees.
    pub steered_deg: f64,
    /// Time for which the hands waited, in s.
    #[serde(default)]
    pub waited_s: f64,
    /// Diameter of the technique's balloon in mm; 0 where it is deflated, or there is none.
    #[serde(default)]
    pub balloon_mm: f64,
    /// How often the guide was pointed anew.
    pub guide_aims: u32,
    /// How often the wire was changed.
    pub wire_changes: u32,
}

/// Largest wall force of one trial on one stretch of a branch.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(from = "(usize, u32, f64)", into = "(usize, u32, f64)")]
pub struct Pressed {
    /// Branch, by number.
    pub branch: usize,
    /// Stretch: number n reaches from n to n + 1 times [`Pressed::STRETCH_MM`].
    pub stretch: u32,
    /// Largest wall force whose place lies there, in mN; above 0.
    pub force_mn: f64,
}

impl Pressed {
    /// Length of a stretch in mm: that over which a wall force is gathered.
    pub const STRETCH_MM: f64 = 1.0;
}

impl From<(usize, u32, f64)> for Pressed {
    fn from((branch, stretch, force_mn): (usize, u32, f64)) -> Self {
        Self {
            branch,
            stretch,
            force_mn,
        }
    }
}

impl From<Pressed> for (usize, u32, f64) {
    fn from(pressed: Pressed) -> Self {
        (pressed.branch, pressed.stretch, pressed.force_mn)
    }
}

/// Where the axes of a vessel that gives way or beats lie.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct MovedAxes {
    /// Points along the axis of each branch in mm, at its stations for drawing
    /// ([`drawn_stations`](crate::vessel::Centreline::drawn_stations)).
    pub branches_mm: Vec<Vec<Vector3<f64>>>,
}
