//! Where a wire enters, how it begins, and how steps are taken.

use nalgebra::{Matrix3, Vector3};

use super::search::NewtonOptions;
use crate::contact::{Surface, Wall};
use crate::device::{HELD_BEHIND_TIP_MM, Wire, buckling_load};
use crate::scenario::model::{EndCondition, SolverSpec};

/// The end of a guiding catheter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GuideTip {
    /// Where the guide ends, in mm.
    pub exit: Vector3<f64>,
    /// Direction of the guide there, into the vessel; a unit vector.
    pub axis: Vector3<f64>,
    /// Stiffness against backing out along its axis in mN/mm; `None` holds.
    pub backup: Option<f64>,
}

impl GuideTip {
    /// Stiffness in mN/mm of the guide's end: `backup` along its axis, and stiff against every
    /// device across it.
    pub(super) fn backup_matrix(&self, backup: f64) -> Matrix3<f64> {
        const SIDEWAYS: f64 = 1e4;
        let along = self.axis * self.axis.transpose();
        along * backup + (Matrix3::identity() - along) * SIDEWAYS
    }

    /// How far a guide whose end lies at `end` (mm) has backed out, in mm.
    pub(super) fn backed_out_mm(&self, end: &Vector3<f64>) -> f64 {
        -(end - self.exit).dot(&self.axis)
    }

    /// Energy in mN mm that it holds against backing out there.
    pub(super) fn stored(&self, end: &Vector3<f64>) -> f64 {
        let backed_out_mm = self.backed_out_mm(end);
        self.backup.map_or(0.0, |k| 0.5 * k * backed_out_mm.powi(2))
    }

    /// Parts in which a guide is pointed anew.
    pub(super) const PARTS: u32 = 20;

    /// The guide on its way to another end and direction (a unit vector), part by part.
    pub(super) fn on_the_way_to(
        self,
        exit: Vector3<f64>,
        axis: Vector3<f64>,
    ) -> impl Iterator<Item = Self> {
        (1..=Self::PARTS).map(move |part| {
            let share = f64::from(part) / f64::from(Self::PARTS);
            Self {
                exit: self.exit.lerp(&exit, share),
                axis: self.axis.lerp(&axis, share).normalize(),
                ..self
            }
        })
    }

    /// A fixed direction, not along the axis, from which rolls are counted.
    pub(super) fn reference(&self) -> Vector3<f64> {
        if self.axis.y.abs() < 0.94 {
            Vector3::y()
        } else {
            Vector3::z()
        }
    }
}

/// How fast a hand turns, in rad/s: half a turn in a second.
pub(super) const TURN_RAD_PER_S: f64 = std::f64::consts::PI;

/// What is asked of a step.
#[derive(Debug, Clone, Copy)]
pub(super) struct Demands {
    /// Whether it is followed in time where no equilibrium is found.
    pub follows_in_time: bool,
    /// Largest distance in mm of a node from where it was expected.
    pub most_off_mm: f64,
}

impl Demands {
    /// The same where steps are off by so many mm as a rule.
    pub fn beside(self, usual_off_mm: f64) -> Self {
        Self {
            most_off_mm: self.most_off_mm + usual_off_mm,
            ..self
        }
    }
}

/// Settings of the steps.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StepSettings {
    /// Largest fed length in one step in mm, above 0.
    pub feed_mm: f64,
    /// Largest turn in one step in rad, above 0.
    pub turn_rad: f64,
    /// Edge length at the tip in mm, above 0.
    pub edge_mm: f64,
    /// Largest spacing of contact points in mm, above 0, where edges are not shorter and the wall asks
    /// for no more of them.
    pub spacing_mm: f64,
    /// Tolerance on the residual as a fraction of the buckling load of the tip.
    pub tolerance: f64,
    /// Feed speed in mm/s.
    pub speed_mm_per_s: f64,
    /// Drag per mm of wire in mN s/mm².
    pub drag: f64,
    /// How often a step may be halved before it counts as unresolved.
    pub halvings: u32,
}

impl StepSettings {
    /// How often a step is halved before a wire that finds no equilibrium is followed in time.
    const HALVED_BEFORE_RELEASE: u32 = 3;

    /// Whether a step that can be halved so many times more is followed in time where it finds no
    /// equilibrium.
    fn follows_in_time(&self, halvings: u32) -> bool {
        halvings == 0 || halvings + Self::HALVED_BEFORE_RELEASE == self.halvings
    }

    /// How often a step is halved because it ended elsewhere than expected. Below a hundredth of the
    /// shipped step nothing changes any more where a tip catches on the edge of a branching.
    const HALVED_FOR_SURPRISE: u32 = 7;

    /// Largest distance in mm of a node from where it was expected, in a step that is taken as it is: a
    /// seventh of a wire's diameter, a tenth of the radius to which
    /// the edge of a branching is rounded. A tip that catches there, or slides off, is followed; with twice
    /// this distance a third of the force by which it is caught is missed.
    pub(super) const SURPRISE_MM: f64 = 0.05;

    /// What is asked of a step that can be halved so many times more.
    pub(super) fn demands(&self, halvings: u32) -> Demands {
        let is_followed = halvings > 0 && halvings + Self::HALVED_FOR_SURPRISE > self.halvings;
        Demands {
            follows_in_time: self.follows_in_time(halvings),
            most_off_mm: if is_followed {
                Self::SURPRISE_MM
            } else {
                f64::INFINITY
            },
        }
    }

    /// Drag of blood on a thin wire in a vessel, in mN s/mm²: `2 pi eta / ln(R/r)` for an annulus
    /// with viscosity `eta` = 3.5 mPa s and a radius ratio of 4 gives 1.6e-5. It catches sudden
    /// releases and is far below all other forces while the wire moves with the hand.
    pub const BLOOD_DRAG: f64 = 1.6e-5;

    /// What a wire brings to a wall of that kind.
    pub(super) fn surface(&self, wire: &Wire, wall: Wall) -> Surface {
        Surface {
            radius: wire.radius_mm(),
            friction: wire.friction(),
            wall,
            spacing: self.edge_mm.min(self.spacing_mm),
        }
    }

    /// When a wire counts as in equilibrium: the tolerance as a share of the buckling load of a
    /// wire as stiff as its tip, moments at its radius.
    pub(super) fn newton(&self, wire: &Wire) -> NewtonOptions {
        self.newton_of(wire.bending_stiffness(0.0), wire.radius_mm())
    }

    /// The same for a device whose tip has that bending stiffness (mN mm²), and that radius (mm).
    pub(super) fn newton_of(&self, stiffness: f64, radius: f64) -> NewtonOptions {
        let load = buckling_load(stiffness, HELD_BEHIND_TIP_MM, EndCondition::FixedPinned);
        NewtonOptions {
            arm: radius,
            ..NewtonOptions::with_tolerance(self.tolerance * load)
        }
    }
}

impl From<&SolverSpec> for StepSettings {
    /// What a scenario says, with the settings that it does not.
    fn from(solver: &SolverSpec) -> Self {
        Self {
            feed_mm: solver.step_mm,
            turn_rad: 10f64.to_radians(),
            edge_mm: solver.edge_mm,
            spacing_mm: solver.contact_spacing_mm,
            tolerance: solver.tolerance,
            speed_mm_per_s: solver.feed_speed_mm_per_s,
            drag: Self::BLOOD_DRAG,
            halvings: 8,
        }
    }
}

impl Default for StepSettings {
    /// Those of a scenario that says nothing about the solver.
    fn default() -> Self {
        Self::from(&SolverSpec::default())
    }
}

/// How a wire stands in its guide at the beginning.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Start {
    /// Length outside the guide in mm; at least two edges are taken.
    pub outside_mm: f64,
    /// Greatest length that will ever be outside, in mm.
    pub longest_mm: f64,
    /// Roll of the wire in rad, positive right-handed about the forward direction.
    pub roll_rad: f64,
}

/// `amount` in the least number of equal parts that are no larger than `largest` (above 0), but
/// for rounding; at least one.
pub fn equal_parts(amount: f64, largest: f64) -> impl Iterator<Item = f64> {
    let parts = (amount.abs() / largest - 1e-9).ceil().max(1.0);
    // A number of steps that could be taken fits; more would be cut, and is not reached.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a positive whole number of steps"
    )]
    let count = parts as usize;
    std::iter::repeat_n(amount / parts, count)
}
