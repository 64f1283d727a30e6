//! What most programs need, for `use bendwise::prelude::*`.
//!
//! | to | use |
//! |---|---|
//! | describe a wire and a vessel | [`WireBuilder`], [`VesselBuilder`] |
//! | push, turn and read | [`Vessel::insert`], then [`Assembly`] |
//! | load a scenario | [`load`], [`Prepared`], [`strategies`] |
//! | run a trial and read it | [`run_trial`], [`TrialRecord`] |

pub use crate::builder::{Vessel, VesselBuilder, WireBuilder};
pub use crate::device::{DeviceError, Wire};
pub use crate::scenario::model::{CoreLawSpec, EndCondition, PieceSpec};
pub use crate::scenario::{Scenario, load};
pub use crate::solve::{Assembly, Start, StepSettings, Unresolved};
pub use crate::trial::result::{HandRow, Outcome, TraceRow, TrialRecord, TrialRow};
pub use crate::trial::{Prepared, SetupError, Strategy, run_trial, strategies};
pub use crate::vessel::{Lumen, Tree, VesselError};
