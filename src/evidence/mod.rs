//! What was checked, and how far the answer to one's own scenario can be trusted.
//!
//! `catalogue` lists the checks against values from outside, each a file in `checks/` with its scene, its
//! source and its limits; the tests run the same list. A scenario is reviewed: `review` says in which ways it
//! is run, `knobs` which settings are made finer, `inputs` by how much its uncertain inputs vary, `findings`
//! what comes of it, `forces` what is said of each force, `paired` by how much draws differ, `convergence` by how
//! much a number of a finite mesh is off, `offers` what a smaller error costs, `hangs_on` what the inputs do, and `applicability` which of
//! its inputs lie in the ranges of the checks. `validation` puts published measurements beside what the program
//! finds.

mod applicability;
mod catalogue;
mod check;
mod checks;
mod convergence;
mod covered;
mod findings;
mod forces;
mod hangs_on;
mod inputs;
mod kept;
mod knobs;
mod offers;
mod own_inputs;
mod paired;
mod readings;
mod review;
pub mod scenes;
mod validation;

pub use applicability::{RangeOf, Scope, Where, scopes};
pub use catalogue::{CATALOGUE, find};
pub use check::{Broken, Check, Checked, MeasuredCheck, Origin, Rests, Set};
pub use convergence::{Estimate, Rule};
pub use covered::{Covered, Input};
pub use findings::{Converged, Flip, HALVED_FROM, PointRows};
pub use forces::{Force, OfForce, OfSetting, Reported};
pub use hangs_on::{Answer, Effect, HangsOn};
pub use inputs::{InputSpread, Uncertain};
pub use kept::KeptChecks;
pub use knobs::{Knob, LEVELS};
pub use offers::Offer;
pub use paired::Paired;
pub use readings::{CheckReading, NumberKind, Readings};
pub use review::{Review, Variant, spreads};
pub use validation::{Compared, EXPERIMENTS, Experiment, Pair, Says, Simulated, Value};
