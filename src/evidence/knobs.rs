//! Which settings of a scenario are made finer, and how.

use serde::{Deserialize, Serialize};

use super::convergence::RATIO;
use crate::scenario::model::Scenario;

/// A setting that must not decide an answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Knob {
    /// Length fed in one step.
    Step,
    /// Length of an edge at the tip; behind it edges follow.
    Edge,
    /// Distance of contact points.
    Contact,
    /// Tolerance on the residual.
    Tolerance,
    /// Distance of the points that describe the axes of a vessel that gives way.
    Axes,
    /// Stiffness of the wall.
    Wall,
}

/// Times that a setting is made finer, one after the other.
pub const LEVELS: u32 = 2;

/// How much smaller the tolerance becomes with each level.
const TOLERANCE_RATIO: f64 = 10.0;

impl Knob {
    /// The settings of a scenario: those of the axes only where a vessel gives way.
    #[must_use]
    pub fn of(scenario: &Scenario) -> Vec<Self> {
        let all = [
            Self::Step,
            Self::Edge,
            Self::Contact,
            Self::Tolerance,
            Self::Axes,
            Self::Wall,
        ];
        let acts = |knob: &Self| *knob != Self::Axes || scenario.bed.is_some();
        all.into_iter().filter(acts).collect()
    }

    /// Whether a finer one brings the number nearer to that of the equations; a stiffer wall is another wall.
    #[must_use]
    pub fn is_numerical(self) -> bool {
        self != Self::Wall
    }

    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Step => "step",
            Self::Edge => "edge",
            Self::Contact => "contact spacing",
            Self::Tolerance => "tolerance",
            Self::Axes => "axes of the vessel",
            Self::Wall => "wall stiffness",
        }
    }

    /// Makes it finer so many times.
    pub fn refine(self, scenario: &mut Scenario, level: u32) {
        let factor = self.factor(level);
        let solver = &mut scenario.solver;
        match self {
            Self::Step => solver.step_mm /= factor,
            Self::Edge => solver.edge_mm /= factor,
            Self::Contact => solver.contact_spacing_mm /= factor,
            Self::Tolerance => solver.tolerance /= factor,
            Self::Axes => solver.axis_spacing /= factor,
            Self::Wall => scenario.vessel.wall = scenario.vessel.wall.times(factor),
        }
    }

    /// By which factor it is changed at a level.
    #[must_use]
    pub fn factor(self, level: u32) -> f64 {
        let ratio = if self == Self::Tolerance {
            TOLERANCE_RATIO
        } else {
            RATIO
        };
        ratio.powi(level.cast_signed())
    }

    /// What a level of it is, in words.
    #[must_use]
    pub fn at_level(self, level: u32) -> String {
        let factor = self.factor(level);
        match self {
            Self::Wall => format!("{} x {factor}", self.words()),
            _ => format!("{} / {factor}", self.words()),
        }
    }
}
