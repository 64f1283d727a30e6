//! Techniques: what the hands do, a file for each.
//!
//! A technique's file holds everything that is its own: the fields that a scenario may say
//! (`Fields`), the checked settings, and as [`Technique`] the devices that it needs, its plan of
//! movements and its words. The registry below names every technique once; the rest of the
//! program meets it as one of [`PlanSpec`] and asks it through [`Technique`].

mod aided;
mod carrier;
mod diastole;
mod fields;
mod needs;
mod registry;
mod words;

mod angled_support;
mod dual_lumen;
mod loop_in_vessel;
mod looped_back;
mod push;
mod recorded;
mod redirect;
mod support;
#[cfg(test)]
mod toy;

pub use self::diastole::Feeds;
pub use self::needs::{Loading, Needs};

pub(crate) use self::fields::{Around, DeviceSpecs, RecordedWith, wire_index};
#[cfg(feature = "program")]
pub(crate) use self::recorded::controls;
#[cfg(feature = "program")]
pub(crate) use self::words::tries;

use self::fields::Fields;
use self::registry::registry;
use crate::hands::Plan;
use crate::scenario::model::{Scenario, TechniqueSpec};
use crate::scenario::view::SightSpec;

registry! {
    "push" => push::{Push, PushFields},
    "redirect" => redirect::{Redirect, RedirectFields},
    "looped-back" => looped_back::{LoopedBack, LoopedBackFields},
    "support" => support::{Support, SupportFields},
    "angled-support" => angled_support::{AngledSupport, AngledSupportFields},
    "dual-lumen" => dual_lumen::{DualLumen, DualLumenFields},
    "loop-in-vessel" => loop_in_vessel::{LoopInVessel, LoopInVesselFields},
    "recorded" => recorded::{Recorded, RecordedFields},
    #[cfg(test)]
    "toy" => toy::{Toy, ToyFields},
}

impl PlanSpec {
    /// Whether a person made its movements.
    #[must_use]
    pub fn is_by_hand(&self) -> bool {
        matches!(self, Self::Recorded(_))
    }
}

/// What the program asks a technique with its checked settings.
pub trait Technique {
    /// The devices and the room that it needs.
    fn needs(&self) -> Needs;

    /// Its movements, chosen by what `sight` shows.
    fn plan(&self, sight: SightSpec) -> Box<dyn Plan>;

    /// What it does, in the words of `bendwise check`; `technique` is the table of `scenario` that
    /// describes it.
    fn words(&self, technique: &TechniqueSpec, scenario: &Scenario) -> String;

    /// Whether its plan takes turns from the hand ([`Turns`](crate::hands::Turns)), so that the noise of
    /// the hand acts on it.
    fn turns(&self) -> bool;

    /// Seconds on one core that a trial takes for every 100 mm of wire that may be fed, at the
    /// default step and edge: measured with the shipped scenarios (main job, angle phantom, side
    /// branch) on the machine of the README.
    fn seconds_per_100_mm(&self) -> f64;
}

/// The movements that a scenario asks for, with what the technique brings along.
#[must_use]
pub fn plan(technique: &TechniqueSpec) -> Box<dyn Plan> {
    let bare = technique.plan.technique().plan(technique.sight);
    Box::new(aided::Aided::new(bare, &technique.aids))
}
